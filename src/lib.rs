#![doc = include_str!("../README.md")]
//!
//! # Rooms
//!
//! One module a matter, each using only those on lower floors; `DEVELOPERS.md` has the table.
#![cfg_attr(
    test,
    allow(clippy::float_cmp, reason = "tests compare with values worked out by hand")
)]

pub mod action;
pub mod brief;
pub mod capture;
pub mod clip;
pub mod delivery;
pub mod draw;
pub mod geometry;
pub mod handoff;
pub mod keyframe;
pub mod lens;
pub mod media;
pub mod mount;
pub mod page;
pub mod pan;
pub mod picture;
pub mod plan;
pub mod process;
pub mod sharpness;
pub mod shoot;
pub mod subject;
pub mod tasks;
pub mod timecode;
