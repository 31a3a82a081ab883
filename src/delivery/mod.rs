//! What has to be delivered, and the limits it is held to.
//!
//! A deliverable is a raster with a name; its shape is that of the raster. Limits are the user's, layered
//! from defaults to one clip's one deliverable, and each remembers which layer set it, so that a report can
//! print it beside the verdict.

mod deliverable;
mod limits;
mod safe;

pub use deliverable::{BlockedZones, Deliverable};
pub use limits::{Limit, LimitFault, LimitSpec, Limits, LimitsLayer, Origin};
pub use safe::{SafeAreas, SafeBox};
