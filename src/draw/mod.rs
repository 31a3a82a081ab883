//! Pictures to look at: every window on one frame, a sheet of the frames that decide a shot, and a frame that is only
//! predicted.
//!
//! All show the whole tall frame, darkened outside what is delivered, so that one sees what is cut and what
//! is spare. They are meant for a phone in the sun, a monochrome printer and a colour-blind reader: no line
//! is told apart by colour alone, every line has black beside white, text is black on white or white on
//! black. The colours are those of "Color Universal Design" (2008); the contrast asked for is that of WCAG
//! 2.1, "Non-text Contrast": 3 to 1.
//!
//! The caller hands over plain values and words; nothing here decides, opens or writes anything. Text that
//! does not fit is wrapped, then shortened with an ellipsis. Left out so far: safe boxes, blocked zones on
//! overlays, the subject's track, the speed graph.

mod area;
mod cell;
mod contact;
mod heat;
mod ink;
mod mount_sheet;
mod outline;
mod overlay;
mod placing;
mod plate;
mod polyline;
mod scale;
mod sheet;
mod text;
mod tiled;
mod turned;
mod whole_spare;

pub use cell::ProofCell;
pub use contact::{ContactCell, contact_sheet};
pub use heat::heat;
pub use ink::Look;
pub use mount_sheet::{MountScene, MountSheet, Prediction, mount_sheet, predicted_frame};
pub use overlay::{DrawnWindow, Scene, overlay};
pub use sheet::{ProofRow, ProofSheet, proof_sheet};
pub use tiled::tiled;
