//! Where a path turns back sooner than it should after it last turned, and whether the subject forces it to.

use super::{Assessment, Axis, Request, missing_px};
use crate::geometry::Window;

/// A change of direction that comes too soon after the one before along the same axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct QuickTurn {
    /// Frames after the run's first: the last before the window goes the other way.
    pub index: usize,
    /// Along which axis.
    pub axis: Axis,
    /// Timeline seconds since it last turned along that axis.
    pub secs: f64,
    /// Whether no window that stands still between the places of both turns keeps the subject as well.
    pub is_forced: bool,
}

/// How far a window goes back before that is a turn, as a share of its width: as for the turns of eased moves.
const TURN_SHARE: f64 = 0.005;

/// As far as what a solver leaves of rounding a window stands still.
const STILL_PX: f64 = 0.01;

/// What sums of frame times lose.
const NOISE_SECS: f64 = 1e-9;

/// The turns of these windows, one a frame of the run, that come sooner after the one before than so many timeline
/// seconds, in the order of frames. What they ride on is no turn.
#[must_use]
pub fn quick_turns(request: &Request, windows: &[Window], least_secs: f64) -> Vec<QuickTurn> {
    let step_secs = request.pace.mean_step_secs();
    let starts = request.pace.starts(windows.len());
    let mut quick = Vec::new();
    for axis in [Axis::Across, Axis::Down] {
        let path = Path::of(request, windows, axis);
        for pair in path.turns().windows(2) {
            let secs = (starts[pair[1]] - starts[pair[0]]) * step_secs;
            if secs < least_secs - NOISE_SECS {
                let is_forced = path.is_forced((pair[0], pair[1]));
                quick.push(QuickTurn { index: pair[1], axis, secs, is_forced });
            }
        }
    }
    quick.sort_by_key(|turn| turn.index);
    quick
}

/// The way of a path along one axis.
struct Path<'a> {
    request: &'a Request,
    windows: &'a [Window],
    axis: Axis,
    /// The centre at each frame, less what it rides on.
    centres: Vec<f64>,
}

impl<'a> Path<'a> {
    fn of(request: &'a Request, windows: &'a [Window], axis: Axis) -> Self {
        let centre = |(index, window): (usize, &Window)| {
            let ride = request.ride_at(index);
            match axis {
                Axis::Across => window.centre_x() - ride.0,
                Axis::Down => window.centre_y() - ride.1,
            }
        };
        let centres = windows.iter().enumerate().map(centre).collect();
        Self { request, windows, axis, centres }
    }

    /// The last frames before the window goes the other way.
    fn turns(&self) -> Vec<usize> {
        let mut turns = Vec::new();
        // The furthest place either way since the last turn, and the last frame there.
        let Some(first) = self.centres.first() else { return turns };
        let (mut least, mut greatest) = ((*first, 0), (*first, 0));
        let mut sign = 0.0;
        for (index, centre) in self.centres.iter().enumerate() {
            let back_px = TURN_SHARE * self.windows[index].width();
            if *centre <= least.0 + STILL_PX {
                least = (centre.min(least.0), index);
            }
            if *centre >= greatest.0 - STILL_PX {
                greatest = (centre.max(greatest.0), index);
            }
            if sign >= 0.0 && greatest.0 - centre > back_px {
                if sign > 0.0 {
                    turns.push(greatest.1);
                }
                (sign, least) = (-1.0, (*centre, index));
            } else if sign <= 0.0 && centre - least.0 > back_px {
                if sign < 0.0 {
                    turns.push(least.1);
                }
                (sign, greatest) = (1.0, (*centre, index));
            }
        }
        turns
    }

    /// Whether, of a few places from one turn to the other, none is such that a window standing there instead of going
    /// to both keeps the subject as well.
    fn is_forced(&self, (before, turn): (usize, usize)) -> bool {
        const PLACES: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];
        let (from, to) = (self.centres[before], self.centres[turn]);
        PLACES.iter().all(|share| !self.may_stand((before, turn), from + share * (to - from)))
    }

    /// Whether the window may stand at a place from where it last came there before one turn to where it next comes
    /// there after the other.
    fn may_stand(&self, (before, turn): (usize, usize), centre: f64) -> bool {
        let side = (self.centres[before] - self.centres[turn]).signum();
        let is_beyond = |index: &usize| side * (self.centres[*index] - centre) >= 0.0;
        let is_short = |index: &usize| side * (self.centres[*index] - centre) <= 0.0;
        let first = (0..=before).rev().take_while(is_beyond).last().unwrap_or(before);
        let last = (turn..self.centres.len()).take_while(is_short).last().unwrap_or(turn);
        (first..=last).all(|index| self.keeps_as_well(index, centre))
    }

    fn keeps_as_well(&self, index: usize, centre: f64) -> bool {
        let (window, ride) = (&self.windows[index], self.request.ride_at(index));
        let corner = match self.axis {
            Axis::Across => (centre + ride.0 - window.width() / 2.0, window.top()),
            Axis::Down => (window.left(), centre + ride.1 - window.height() / 2.0),
        };
        let size = (window.width(), window.height());
        let Ok(standing) = Window::inside(self.request.raster, corner, size) else { return false };
        let insets = self.request.insets();
        self.request.frames[index].boxes.iter().all(|wished| {
            let lacks = |window: &Window| match self.axis {
                Axis::Across => missing_px(&wished.region, window, &insets).0,
                Axis::Down => missing_px(&wished.region, window, &insets).1,
            };
            lacks(&standing) <= lacks(window) + Assessment::NOISE_PX
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::{FrameWish, Pace, Rules, testing};
    use super::*;
    use crate::geometry::{Raster, Region};

    const RULES: Rules =
        Rules { still_zone: 0.0, fits_share: 1.0, fits_short: 0.0, ..testing::RULES };

    #[derive(Clone, Copy)]
    enum Subject {
        /// As the window goes and as wide as it, so that no other place keeps it.
        AsWide,
        /// 100 px wide and always about 700.
        Stands,
    }

    /// Windows of 400 px in a frame of 2000 x 1000 at 25 a second, each with its left edge here.
    fn path(lefts: &[f64], subject: Subject) -> (Request, Vec<Window>) {
        let raster = Raster::new(2000, 1000).unwrap();
        let windows: Vec<Window> = lefts
            .iter()
            .map(|left| Window::inside(raster, (*left, 100.0), (400.0, 300.0)).unwrap())
            .collect();
        let wish = |window: &Window| {
            let (left, width) = match subject {
                Subject::AsWide => (window.left(), 400.0),
                Subject::Stands => (650.0, 100.0),
            };
            FrameWish::for_box(Region::new(left, 200.0, width, 100.0).unwrap())
        };
        let frames = windows.iter().map(wish).collect();
        let shape = "4:3".parse().unwrap();
        (Request::plain((raster, shape), Pace::even(0.04), frames, RULES), windows)
    }

    /// Left edges that go from place to place in so many frames each, evenly.
    fn through(places: &[(f64, u32)]) -> Vec<f64> {
        let mut lefts = vec![places[0].0];
        for pair in places.windows(2) {
            let ((from, _), (to, frames)) = (pair[0], pair[1]);
            lefts.extend(
                (1..=frames).map(|step| from + (to - from) * f64::from(step) / f64::from(frames)),
            );
        }
        lefts
    }

    #[test]
    fn a_turn_that_comes_too_soon_is_told_with_its_frame() {
        // Right for 50 frames, left for 20, right again: from frame 50 to frame 70 are 0.8 s.
        let lefts = through(&[(400.0, 0), (600.0, 50), (560.0, 20), (800.0, 60)]);
        let (request, windows) = path(&lefts, Subject::AsWide);
        let turns = quick_turns(&request, &windows, 2.0);
        assert_eq!(turns.len(), 1, "{turns:?}");
        assert_eq!((turns[0].index, turns[0].axis, turns[0].is_forced), (70, Axis::Across, true));
        assert!((turns[0].secs - 0.8).abs() < 1e-12);
        // Two seconds are enough, and so is less where less is asked for.
        assert!(quick_turns(&request, &windows, 0.8).is_empty());
        let later = through(&[(400.0, 0), (600.0, 50), (560.0, 50), (800.0, 60)]);
        let (request, windows) = path(&later, Subject::AsWide);
        assert!(quick_turns(&request, &windows, 2.0).is_empty());
    }

    #[test]
    fn standing_at_a_turn_counts_up_to_the_frame_at_which_it_goes_back() {
        let lefts = through(&[(400.0, 0), (600.0, 50), (600.0, 40), (560.0, 20), (800.0, 60)]);
        let (request, windows) = path(&lefts, Subject::AsWide);
        let turns = quick_turns(&request, &windows, 2.0);
        assert_eq!(turns.iter().map(|turn| turn.index).collect::<Vec<_>>(), [110]);
        assert!((turns[0].secs - 0.8).abs() < 1e-12, "from frame 90: {turns:?}");
    }

    #[test]
    fn where_a_still_window_would_do_the_subject_does_not_force_it() {
        // The box stands at 650 to 750; a window standing at 600 has it all.
        let lefts = through(&[(400.0, 0), (600.0, 50), (560.0, 20), (640.0, 60)]);
        let (request, windows) = path(&lefts, Subject::Stands);
        let turns = quick_turns(&request, &windows, 2.0);
        assert_eq!(turns.iter().map(|turn| turn.is_forced).collect::<Vec<_>>(), [false]);
    }

    #[test]
    fn what_goes_back_by_less_than_anyone_sees_is_no_turn() {
        // 0.005 of 400 px are 2 px.
        let lefts = through(&[(400.0, 0), (600.0, 50), (598.1, 5), (800.0, 60)]);
        let (request, windows) = path(&lefts, Subject::AsWide);
        assert!(quick_turns(&request, &windows, 2.0).is_empty());
        let riding = Request { ride: lefts.iter().map(|left| (*left, 0.0)).collect(), ..request };
        assert!(quick_turns(&riding, &windows, 1e9).is_empty(), "what is ridden on is no turn");
    }
}
