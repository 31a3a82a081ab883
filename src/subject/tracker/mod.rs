//! Scratch.
#![allow(missing_docs, dead_code)]
mod colour;
mod features;
mod filter;
mod flow;
mod fourier;
mod frame;
mod motion;
mod pursuit;
pub use pursuit::*;
