//! From a window a frame to few keys: straight lines or one ease between keys, within a stated error.
//!
//! A hand-off file gives each window in several sets of columns, and an editor may interpolate in any of
//! them. Interpolating a width and interpolating a scale are not the same, so that the bound is held in every
//! published set, with the numbers as they are published, rounding included. The keys are frames of the path
//! and the fewest that keep the bound (shortest path over all pairs of frames; "On Approximating Polygonal
//! Curves in Two and Three Dimensions" is where that view is from, abstract read). Between keys the window stays in
//! the frame in each set: corner and size are straight lines between windows inside; where the scale runs
//! straight the window is smaller than that; where offset and scale do, the picture's edges in the delivered
//! picture run straight between places outside it. Holds joined by eased moves need no search: the ends of the moves are
//! the keys, and one ease in offset and scale runs between them.

mod columns;
mod reduce;

pub use columns::{ColumnSet, Columns, PX_DIGITS, Rebuilt, SCALE_DIGITS};
pub use reduce::{Reduced, ToNext, keys_of_moves, reduce};
