//! What the camera's own motion did to the picture: the way of the background from frame to frame, and which part
//! of it is shake.
//!
//! The way is cumulated and split in two by a filter without delay ([`high_passed`]): what is slower than a cut-off is
//! the camera's own journey and left alone, what is quicker is shake. Measuring the way from pictures, cuts, and
//! where in the frame things happen come later.

mod background;
mod high_pass;

pub use background::{BackgroundMotion, BackgroundStep, Shaking};
pub use high_pass::high_passed;
