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
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
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
    /// One name with two weights.
    #[error("`{name}` weighs {first} at first and {second} at frame {frame}; use one weight")]
    MixedWeights {
        /// The thing.
        name: String,
        /// What it weighed at first.
        first: f64,
        /// What it weighs here.
        second: f64,
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
/// A keep-in or keep-out with a single mark stands for the whole clip: it is a part of the rig. Nothing is carried
/// over a cut: each side of one is a clip of its own here.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    name: String,
    wish: Wish,
    /// In order of frames; `None` is a *gone*.
    marks: Vec<(FrameIndex, Option<Region>)>,
    /// The first frame after each cut, in order.
    cuts: Vec<FrameIndex>,
    /// How much it counts against other subjects: 1 if no mark says.
    weight: f64,
    /// Where among all marks its first one stands.
    named_at: usize,
    /// What following it through the pictures brought, for some frames: no box is gone or lost.
    followed: BTreeMap<FrameIndex, Option<Sighting>>,
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

    /// How much it counts against other subjects where not all can be kept: 1 if no mark says.
    #[must_use]
    pub const fn weight(&self) -> f64 {
        self.weight
    }

    /// Of two tracks the one that counts more; of equals the one that was named first.
    #[must_use]
    pub fn more_important<'a>(&'a self, other: &'a Self) -> &'a Self {
        let by_weight = self.weight.total_cmp(&other.weight);
        if by_weight.then(other.named_at.cmp(&self.named_at)).is_ge() { self } else { other }
    }

    /// The frames at which it was marked by hand, *gone* ones included.
    pub fn marked_frames(&self) -> impl Iterator<Item = FrameIndex> + '_ {
        self.marks.iter().map(|(frame, _)| *frame)
    }

    /// Its marks, in order of frames; `None` is a *gone*.
    #[must_use]
    pub fn marks(&self) -> &[(FrameIndex, Option<Region>)] {
        &self.marks
    }

    /// The same track with what following it through the pictures brought: on those frames it stands in the place of
    /// the straight lines, but never of a mark.
    #[must_use]
    pub fn with_followed(self, followed: BTreeMap<FrameIndex, Option<Sighting>>) -> Self {
        Self { followed, ..self }
    }

    /// The same track in a clip with cuts, each given as the first frame after it, in order.
    #[must_use]
    pub fn with_cuts(self, cuts: &[FrameIndex]) -> Self {
        Self { cuts: cuts.to_vec(), ..self }
    }

    /// The marks that lie on a frame's side of the cuts around it.
    fn marks_beside(&self, frame: FrameIndex) -> &[(FrameIndex, Option<Region>)] {
        let next = self.cuts.partition_point(|cut| *cut <= frame);
        let marks_before =
            |cut: FrameIndex| self.marks.partition_point(|(marked, _)| *marked < cut);
        let first = next.checked_sub(1).map_or(0, |before| marks_before(self.cuts[before]));
        let end = self.cuts.get(next).map_or(self.marks.len(), |cut| marks_before(*cut));
        &self.marks[first..end]
    }

    /// Each two boxes that follow on each other with a cut between, and frames between them on which the thing
    /// is not tracked because of that.
    pub fn parted_by_cuts(&self) -> impl Iterator<Item = (FrameIndex, FrameIndex)> + '_ {
        let pairs = self.marks.windows(2).filter(|pair| pair[0].1.is_some() && pair[1].1.is_some());
        pairs.map(|pair| (pair[0].0, pair[1].0)).filter(|(before, after)| {
            let has_cut = self.cuts.iter().any(|cut| before < cut && cut <= after);
            let between = before.0 + 1..after.0;
            has_cut && between.map(FrameIndex).any(|frame| self.at(frame).is_none())
        })
    }

    /// The box at a frame; `None` where it is not tracked.
    #[must_use]
    pub fn at(&self, frame: FrameIndex) -> Option<Sighting> {
        let sure = |region| Sighting { region, confidence: 1.0 };
        let is_marked = |frame| self.marks.binary_search_by_key(&frame, |(at, _)| *at).is_ok();
        if let Some(seen) = self.followed.get(&frame).filter(|_| !is_marked(frame)) {
            return *seen;
        }
        let marks = self.marks_beside(frame);
        if let ([(_, Some(region))], Wish::KeepIn | Wish::KeepOut) = (marks, self.wish) {
            return Some(sure(*region));
        }
        let next = marks.partition_point(|(marked, _)| *marked < frame);
        let (after_frame, after) = marks.get(next)?;
        if *after_frame == frame {
            return after.map(sure);
        }
        let (before_frame, before) = marks.get(next.checked_sub(1)?)?;
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
pub fn tracks_from_marks(all: &[Mark]) -> Result<Vec<Track>, Vec<TrackError>> {
    let mut by_name: BTreeMap<&str, Vec<&Mark>> = BTreeMap::new();
    for mark in all {
        by_name.entry(&mark.name).or_default().push(mark);
    }
    let (mut tracks, mut errors) = (Vec::new(), Vec::new());
    for (name, mut marks) in by_name {
        let named_at = all.iter().position(|mark| mark.name == name).unwrap_or(0);
        marks.sort_by_key(|mark| mark.frame);
        match track_of(name, &marks) {
            Ok(track) => tracks.push(Track { named_at, ..track }),
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
    let weight = weight_of(name, marks)?;
    let marks = marks.iter().map(|mark| (mark.frame, mark.region)).collect();
    Ok(Track {
        name: name.to_owned(),
        wish,
        marks,
        cuts: Vec::new(),
        weight,
        named_at: 0,
        followed: BTreeMap::new(),
    })
}

/// The one weight that marks give, or 1.
fn weight_of(name: &str, marks: &[&Mark]) -> Result<f64, TrackError> {
    let mut given = marks.iter().filter_map(|mark| Some((mark.frame, mark.weight?)));
    let Some((_, first)) = given.next() else { return Ok(1.0) };
    match given.find(|(_, weight)| weight.total_cmp(&first).is_ne()) {
        Some((frame, second)) => {
            Err(TrackError::MixedWeights { name: name.to_owned(), first, second, frame })
        }
        None => Ok(first),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(frame: u64, kind: MarkKind, left: f64) -> Mark {
        let region = (kind != MarkKind::Gone).then(|| Region::new(left, 0.0, 10.0, 20.0).unwrap());
        Mark { frame: FrameIndex(frame), name: "paddler".to_owned(), kind, region, weight: None }
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
    fn nothing_is_carried_over_a_cut() {
        let cut = |marks: &[Mark]| {
            tracks_from_marks(marks).unwrap().remove(0).with_cuts(&[FrameIndex(15), FrameIndex(30)])
        };
        let marks = [0, 10, 20, 40].map(|frame| mark(frame, MarkKind::Subject, frame as f64));
        let track = cut(&marks);
        assert_eq!(
            [5, 10, 11, 14, 15, 19, 20, 21, 30, 40].map(|f| left_at(&track, f)),
            [Some(5.0), Some(10.0), None, None, None, None, Some(20.0), None, None, Some(40.0)]
        );
        let parted: Vec<_> = track.parted_by_cuts().map(|(a, b)| (a.0, b.0)).collect();
        assert_eq!(parted, [(10, 20), (20, 40)]);
        // Marks on the last frame before a cut and on the first after it leave nothing untracked.
        let marks = [0, 14, 15, 29].map(|frame| mark(frame, MarkKind::Subject, frame as f64));
        let track = cut(&marks);
        assert!((0..30).all(|frame| left_at(&track, frame) == Some(frame as f64)));
        assert_eq!(track.parted_by_cuts().count(), 0);
    }

    #[test]
    fn a_rig_part_marked_once_stands_for_its_side_of_a_cut() {
        let rig = tracks_from_marks(&[mark(5, MarkKind::KeepOut, 7.0)]).unwrap().remove(0);
        let rig = rig.with_cuts(&[FrameIndex(15)]);
        assert_eq!([0, 14, 15].map(|f| left_at(&rig, f)), [Some(7.0), Some(7.0), None]);
        let both = [mark(5, MarkKind::KeepOut, 7.0), mark(80, MarkKind::KeepOut, 9.0)];
        let both = tracks_from_marks(&both).unwrap().remove(0).with_cuts(&[FrameIndex(15)]);
        assert_eq!([0, 14, 15, 99].map(|f| left_at(&both, f)), [7.0, 7.0, 9.0, 9.0].map(Some));
    }

    #[test]
    fn what_counts_most_is_the_heaviest_or_else_the_first_named() {
        let named = |name: &str, weight| Mark {
            name: name.to_owned(),
            weight,
            ..mark(0, MarkKind::Subject, 0.0)
        };
        let first = |marks: &[Mark]| {
            let tracks = tracks_from_marks(marks).unwrap();
            tracks.iter().reduce(Track::more_important).unwrap().name().to_owned()
        };
        assert_eq!(first(&[named("zoe", None), named("abe", None)]), "zoe");
        assert_eq!(first(&[named("zoe", None), named("abe", Some(1.5))]), "abe");
        assert_eq!(first(&[named("zoe", Some(0.5)), named("abe", None)]), "abe");
        let again = Mark { frame: FrameIndex(4), ..named("zoe", Some(2.0)) };
        let mixed = tracks_from_marks(&[named("zoe", Some(1.0)), again]).unwrap_err();
        assert!(matches!(mixed[0], TrackError::MixedWeights { second: 2.0, .. }), "{mixed:?}");
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
