//! Which frames are taken: by a score whose parts are told, and spread over the clip.

use super::answer::ScoreParts;
use crate::{
    geometry::{Region, Window},
    pan::Insets,
};

/// A frame that may be taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Candidate {
    /// When it is shown, in seconds.
    pub(super) secs: f64,
    pub(super) score: f64,
}

/// The places of the frames that are taken, the best first: the best of all, then the best that is far enough from it, and so
/// on. Of equals the earlier one is taken. The best frame is so always among them, which the set of the greatest sum need
/// not have.
pub(super) fn spread(candidates: &[Candidate], count: usize, apart_secs: f64) -> Vec<usize> {
    /// What times lose in adding up.
    const NOISE_SECS: f64 = 1e-6;
    let mut order: Vec<usize> = (0..candidates.len()).collect();
    // The sort keeps equals in their order.
    order.sort_by(|a, b| candidates[*b].score.total_cmp(&candidates[*a].score));
    let mut taken: Vec<usize> = Vec::new();
    for place in order {
        let is_apart = |other: &usize| {
            (candidates[*other].secs - candidates[place].secs).abs() >= apart_secs - NOISE_SECS
        };
        if taken.len() < count && taken.iter().all(is_apart) {
            taken.push(place);
        }
    }
    taken
}

/// The places of those that are worth a closer look: of each stretch of so many seconds the best few. In order.
pub(super) fn worth_a_look(candidates: &[Candidate], stretch_secs: f64) -> Vec<usize> {
    /// Of each stretch; with the quarters that are looked at, some twelve for each frame that is taken. Chosen.
    const OF_EACH: usize = 3;
    let mut found = Vec::new();
    let mut first = 0;
    while let Some(start) = candidates.get(first) {
        let after = candidates[first..]
            .iter()
            .position(|candidate| candidate.secs >= start.secs + stretch_secs.max(1e-3))
            .map_or(candidates.len(), |length| first + length);
        let mut stretch: Vec<usize> = (first..after).collect();
        stretch.sort_by(|a, b| candidates[*b].score.total_cmp(&candidates[*a].score));
        found.extend(stretch.into_iter().take(OF_EACH));
        first = after;
    }
    found.sort_unstable();
    found
}

/// Whether the frame's own edge cuts a subject's box.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cut {
    /// It does.
    ByFrame,
    /// It does not.
    No,
}

/// How a subject lies in a window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lie {
    /// The box's share of the window's height.
    pub(super) height_share: f64,
    /// The room to the nearest edge of what is free, as a share of the window along that axis.
    pub(super) room_share: f64,
    /// How much of the margin is kept where least is: 0 to 1.
    pub(super) margin_kept: f64,
    /// The share of the box that is inside what is free.
    pub(super) whole: f64,
}

impl Lie {
    /// Of a box in a window of which parts are blocked, with margins as shares across and down.
    pub(super) fn of(
        subject: &Region,
        window: &Window,
        (blocked, margins): (&Insets, (f64, f64)),
    ) -> Self {
        let (width, height) = (window.width(), window.height());
        let (left, right) =
            (window.left() + blocked.left * width, window.right() - blocked.right * width);
        let (top, bottom) =
            (window.top() + blocked.top * height, window.bottom() - blocked.bottom * height);
        let across = (subject.left() - left).min(right - subject.right()) / width;
        let down = (subject.top() - top).min(bottom - subject.bottom()) / height;
        let kept =
            |room: f64, margin: f64| if margin > 0.0 { room / margin } else { room.signum() };
        let inside = |from: f64, to: f64, (low, high): (f64, f64)| {
            (to.min(high) - from.max(low)).max(0.0) / (to - from)
        };
        Self {
            height_share: subject.height() / height,
            room_share: across.min(down),
            // What a window loses in rounding is no margin lost.
            margin_kept: (kept(across, margins.0).min(kept(down, margins.1)) + 1e-2)
                .clamp(0.0, 1.0),
            whole: inside(subject.left(), subject.right(), (left, right))
                * inside(subject.top(), subject.bottom(), (top, bottom)),
        }
    }

    /// The parts of the score; a box that the frame's own edge cuts is not clear, whatever room the window leaves.
    pub(super) fn parts(&self, sharpness: f64, least_share: f64, cut: Cut) -> ScoreParts {
        let clear = match cut {
            Cut::ByFrame => 0.0,
            Cut::No => self.margin_kept,
        };
        ScoreParts {
            sharpness,
            size: (self.height_share / least_share).min(1.0).sqrt(),
            clear: f64::midpoint(1.0, clear),
            whole: self.whole,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Raster;

    fn candidates(scores: &[f64]) -> Vec<Candidate> {
        let secs = (0..).map(|second: u32| f64::from(second) / 10.0);
        scores.iter().zip(secs).map(|(score, secs)| Candidate { secs, score: *score }).collect()
    }

    #[test]
    fn the_best_is_taken_first_and_none_is_nearer_than_asked() {
        let all = candidates(&[0.1, 0.9, 0.95, 0.2, 0.3, 0.8, 0.95, 0.1]);
        assert_eq!(
            spread(&all, 3, 0.3),
            [2, 6],
            "the earlier of equals, and no third is far enough"
        );
        assert_eq!(spread(&all, 3, 0.2), [2, 6, 4]);
        assert_eq!(spread(&all, 1, 0.0), [2]);
        assert!(spread(&[], 3, 1.0).is_empty());
    }

    #[test]
    fn every_stretch_has_some_that_are_looked_at() {
        let all = candidates(&[0.9, 0.9, 0.9, 0.9, 0.9, 0.1, 0.2, 0.3, 0.4, 0.5]);
        assert_eq!(worth_a_look(&all, 0.5), [0, 1, 2, 7, 8, 9]);
    }

    #[test]
    fn a_box_is_held_against_what_is_free_of_the_window() {
        let raster = Raster::new(1000, 1000).unwrap();
        let window = Window::inside(raster, (100.0, 200.0), (400.0, 200.0)).unwrap();
        let blocked = Insets { bottom: 0.2, ..Insets::default() };
        let lie = |left, top, width, height| {
            let subject = Region::new(left, top, width, height).unwrap();
            Lie::of(&subject, &window, (&blocked, (0.05, 0.05)))
        };
        // 40 px of 160 free rows below it, 60 above: rooms of 0.3 and 0.2 down, 0.375 across.
        let clear = lie(250.0, 260.0, 100.0, 60.0);
        assert!((clear.height_share - 0.3).abs() < 1e-12);
        assert!((clear.room_share - 0.2).abs() < 1e-12);
        assert_eq!((clear.margin_kept, clear.whole), (1.0, 1.0));
        // A third of it behind what is blocked.
        let behind = lie(250.0, 320.0, 100.0, 60.0);
        assert!((behind.whole - 2.0 / 3.0).abs() < 1e-12);
        assert!((behind.room_share + 0.1).abs() < 1e-12);
        let parts = behind.parts(0.5, 0.25, Cut::No);
        assert_eq!((parts.size, parts.clear), (1.0, 0.5));
        assert!((parts.score() - 0.5 * 0.5 * 2.0 / 3.0).abs() < 1e-12);
        assert_eq!(clear.parts(1.0, 0.25, Cut::ByFrame).clear, 0.5);
    }
}
