//! lib
#![cfg_attr(
    test,
    allow(clippy::float_cmp, reason = "tests compare with values worked out by hand")
)]

pub mod clip;
pub mod delivery;
pub mod geometry;
pub mod keyframe;
pub mod pan;
pub mod picture;
pub mod sharpness;
pub mod subject;
pub mod timecode;
