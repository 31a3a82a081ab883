//! Pages that a person opens in a browser: one file each, with all that it shows inside it. No server, no network.

mod marking;

pub use marking::{MARK_COLUMNS, MarkedThing, MarkingFrame, MarkingSheet};
