//! Where the subject is: marks set by hand, and the track between them.
//!
//! Marks are the truth. Between two marks of the same name the box of a [`Track`] moves in a straight line; before
//! the first, after the last, and from a *gone* to the next mark it is not tracked, and nothing here ever
//! guesses. [`follow_marks`] follows it through the pictures instead. Which way a subject goes across is told
//! from its way over two seconds or so ([`Headings`]), so that one who turns back for a moment does not change
//! it.

mod heading;
mod mark;
mod track;
mod tracker;

pub use heading::{Heading, HeadingRules, Headings, Waypoint};
pub use mark::{Mark, MarkKind};
pub use track::{Sighting, Track, TrackError, Wish, tracks_from_marks};
pub use tracker::{
    Cues, FollowError, Followed, Seen, Tracker, WeakStretch, analysis_side_px, follow_marks,
    overlap,
};
