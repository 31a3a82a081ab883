use super::{Mark, MarkKind};
use crate::{geometry::Region, timecode::FrameIndex};
use std::collections::BTreeMap;

/// What a track's box asks of the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Wish {
    /// To be inside, with margins, and well placed.
    Subject,
    /// To be inside.
    KeepIn,
    /// To be outside.
    KeepOut,
}

/// The box at one frame, and how far it can be trusted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sighting {
    /// The box in px of the displayed frame.
    pub region: Region,
    /// From above 0 to 1; 1 at a mark and on a straight line between two marks.
    pub confidence: f64,
}

/// Marks of one name that do not make a track.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum TrackError {
    /// Two marks of one thing at the same frame.
    #[error("`{name}` is marked twice at frame {frame}")]
    MarkedTwice {
        /// The thing.
        name: String,
        /// The frame.
        frame: FrameIndex,
    },
    /// One name with two kinds of wish.
    #[error("`{name}` is marked {first} at first and {second} at frame {frame}; use two names")]
    MixedKinds {
        /// The thing.
        name: String,
        /// What it was marked at first.
        first: MarkKind,
        /// What it is marked here.
        second: MarkKind,
        /// The frame.
        frame: FrameIndex,
    },
    /// Only *gone* marks.
    #[error("`{name}` has no box, only gone at frame {frame}")]
    OnlyGone {
        /// The thing.
        name: String,
        /// The first *gone*.
        frame: FrameIndex,
    },
}

/// A box for each frame at which one thing is known to be somewhere.
///
/// A keep-in or keep-out with a single mark stands for the whole clip: it is a part of the rig.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    name: String,
    wish: Wish,
    /// In order of frames; `None` is a *gone*.
    marks: Vec<(FrameIndex, Option<Region>)>,
}

impl Track {
    /// The name of what is tracked.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What it asks of the window.
    #[must_use]
    pub const fn wish(&self) -> Wish {
        self.wish
    }

    /// The frames at which it was marked by hand, *gone* ones included.
    pub fn marked_frames(&self) -> impl Iterator<Item = FrameIndex> + '_ {
        self.marks.iter().map(|(frame, _)| *frame)
    }

    /// The box at a frame; `None` where it is not tracked.
    #[must_use]
    pub fn at(&self, frame: FrameIndex) -> Option<Sighting> {
        let sure = |region| Sighting { region, confidence: 1.0 };
        if let ([(_, Some(region))], Wish::KeepIn | Wish::KeepOut) =
            (self.marks.as_slice(), self.wish)
        {
            return Some(sure(*region));
        }
        let next = self.marks.partition_point(|(marked, _)| *marked < frame);
        let (after_frame, after) = self.marks.get(next)?;
        if *after_frame == frame {
            return after.map(sure);
        }
        let (before_frame, before) = self.marks.get(next.checked_sub(1)?)?;
        let (before, after) = ((*before)?, (*after)?);
        Some(sure(before.between(&after, share_between(*before_frame, frame, *after_frame))))
    }
}

#[expect(clippy::cast_precision_loss, reason = "frame numbers are far below 2^53")]
fn share_between(before: FrameIndex, frame: FrameIndex, after: FrameIndex) -> f64 {
    (frame.0 - before.0) as f64 / (after.0 - before.0) as f64
}

/// The tracks that a clip's marks make, in the order of their names.
///
/// # Errors
/// Every [`TrackError`] there is, not only the first.
pub fn tracks_from_marks(marks: &[Mark]) -> Result<Vec<Track>, Vec<TrackError>> {
    let mut by_name: BTreeMap<&str, Vec<&Mark>> = BTreeMap::new();
    for mark in marks {
        by_name.entry(&mark.name).or_default().push(mark);
    }
    let (mut tracks, mut errors) = (Vec::new(), Vec::new());
    for (name, mut marks) in by_name {
        marks.sort_by_key(|mark| mark.frame);
        match track_of(name, &marks) {
            Ok(track) => tracks.push(track),
            Err(error) => errors.push(error),
        }
    }
    if errors.is_empty() { Ok(tracks) } else { Err(errors) }
}

fn track_of(name: &str, marks: &[&Mark]) -> Result<Track, TrackError> {
    for pair in marks.windows(2) {
        if pair[0].frame == pair[1].frame {
            return Err(TrackError::MarkedTwice { name: name.to_owned(), frame: pair[0].frame });
        }
    }
    let boxed = || marks.iter().filter(|mark| mark.kind != MarkKind::Gone);
    let Some(first) = boxed().next() else {
        return Err(TrackError::OnlyGone { name: name.to_owned(), frame: marks[0].frame });
    };
    if let Some(mixed) = boxed().find(|mark| mark.kind != first.kind) {
        return Err(TrackError::MixedKinds {
            name: name.to_owned(),
            first: first.kind,
            second: mixed.kind,
            frame: mixed.frame,
        });
    }
    let wish = match first.kind {
        MarkKind::KeepIn => Wish::KeepIn,
        MarkKind::KeepOut => Wish::KeepOut,
        MarkKind::Subject | MarkKind::Gone => Wish::Subject,
    };
    let marks = marks.iter().map(|mark| (mark.frame, mark.region)).collect();
    Ok(Track { name: name.to_owned(), wish, marks })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(frame: u64, kind: MarkKind, left: f64) -> Mark {
        let region = (kind != MarkKind::Gone).then(|| Region::new(left, 0.0, 10.0, 20.0).unwrap());
        Mark { frame: FrameIndex(frame), name: "paddler".to_owned(), kind, region }
    }

    fn left_at(track: &Track, frame: u64) -> Option<f64> {
        track.at(FrameIndex(frame)).map(|sighting| sighting.region.left())
    }

    #[test]
    fn between_marks_the_box_moves_in_a_straight_line_and_outside_it_is_not_tracked() {
        let marks = [mark(20, MarkKind::Subject, 100.0), mark(10, MarkKind::Subject, 0.0)];
        let track = &tracks_from_marks(&marks).unwrap()[0];
        assert_eq!(
            [9, 10, 13, 20, 21].map(|f| left_at(track, f)),
            [None, Some(0.0), Some(30.0), Some(100.0), None]
        );
    }

    #[test]
    fn from_a_gone_to_the_next_mark_it_is_not_tracked() {
        let marks = [
            mark(0, MarkKind::Subject, 0.0),
            mark(10, MarkKind::Subject, 10.0),
            mark(11, MarkKind::Gone, 0.0),
            mark(20, MarkKind::Subject, 50.0),
        ];
        let track = &tracks_from_marks(&marks).unwrap()[0];
        assert_eq!(
            [10, 11, 15, 20].map(|f| left_at(track, f)),
            [Some(10.0), None, None, Some(50.0)]
        );
    }

    #[test]
    fn a_rig_part_marked_once_stands_for_the_whole_clip_but_a_subject_does_not() {
        let rig = &tracks_from_marks(&[mark(5, MarkKind::KeepOut, 7.0)]).unwrap()[0];
        assert_eq!(left_at(rig, 500), Some(7.0));
        let subject = &tracks_from_marks(&[mark(5, MarkKind::Subject, 7.0)]).unwrap()[0];
        assert_eq!(left_at(subject, 6), None);
    }

    #[test]
    fn marks_that_make_no_track_are_all_named() {
        let mut twice = mark(3, MarkKind::Subject, 1.0);
        twice.name = "boat".to_owned();
        let marks =
            [twice.clone(), twice, mark(0, MarkKind::Subject, 0.0), mark(9, MarkKind::KeepIn, 0.0)];
        assert_eq!(tracks_from_marks(&marks).unwrap_err().len(), 2);
    }
}
