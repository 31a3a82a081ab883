//! What a job asks of a capture mode before anything is mounted, and which modes of a kit give it.
//!
//! A brief has deliverables and must-haves. Every mode is held against all of them both ways up: what the largest centred
//! window of each shape would be enlarged, what room it leaves, how slow the mode can be played, and whether a shaking
//! mount leaves the window its room. A must-have that cannot be judged for want of a figure is neither met nor missed.

mod compare;
mod figures;
mod must;
mod verdict;

pub use compare::{Answer, Asked, Comparison, Held, HeldMode};
pub use figures::{ShapeFigures, recording};
pub use must::{Ask, Must};
pub use verdict::Verdict;

#[cfg(test)]
mod tests;
