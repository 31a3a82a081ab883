//! Pages that a person opens in a browser: one file each, with all that it shows inside it. No server, no network.

mod marking;
mod mount_page;
mod template;

pub use marking::{MARK_COLUMNS, MarkedThing, MarkingFrame, MarkingSheet};
pub use mount_page::{MountPage, PageShape};
