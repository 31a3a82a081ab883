//! Following a subject from its marks through the pictures.
//!
//! Each mark starts a [`Tracker`] both ways ([`follow_marks`]). From frame to frame, points inside the box tell
//! how it moves and stretches, each axis by itself, where they go otherwise than the background does
//! (`points`, `flow`, `motion`); a correlation filter over orientations and colours, kept to the cells whose
//! colours are the subject's (`filter`, `features`, `mask`, `colour`), holds the box to what the subject
//! looks like, and tells with the colours how likely the box still is the subject's (`cues`). What both ways
//! make of a frame is decided in `fuse`. Nothing here was learnt beforehand but the three numbers of
//! [`Cues::confidence`].
//!
//! There is no filter for the size: the points' stretch knows width and height apart, and a published filter for
//! one factor was not tried.

use crate::geometry::Region;

mod colour;
mod cues;
mod features;
mod filter;
mod flow;
mod follow;
mod followed;
mod fourier;
mod frame;
mod fuse;
mod mask;
mod motion;
mod points;
mod pursuit;
mod seen;
#[cfg(test)]
mod tests;
mod ways;
mod whole;

pub use cues::Cues;
pub use follow::{FollowError, analysis_side_px, follow_marks};
pub use followed::{Followed, WeakStretch};
pub use seen::{Seen, Tracker};

/// What two boxes share over what they cover together, 0 to 1.
#[must_use]
pub fn overlap(one: &Region, other: &Region) -> f64 {
    let across = (one.right().min(other.right()) - one.left().max(other.left())).max(0.0);
    let down = (one.bottom().min(other.bottom()) - one.top().max(other.top())).max(0.0);
    let shared = across * down;
    shared / (one.width() * one.height() + other.width() * other.height() - shared)
}
