use super::{ColumnSet, Columns};
use crate::{
    geometry::{Raster, Window},
    pan::{Ease, Pace},
};
use serde::{Serialize, Serializer};
use std::{cmp::Ordering::Equal, fmt};

/// How columns run from a key to the next one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ToNext {
    /// In straight lines in time.
    Straight,
    /// By an ease, in offset and scale.
    Eased(Ease),
}

/// As keys tables give it.
impl fmt::Display for ToNext {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Straight => f.pad("straight"),
            Self::Eased(ease) => ease.fmt(f),
        }
    }
}

impl Serialize for ToNext {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// The keys of a path, and how well what runs between them rebuilds it.
#[derive(Debug, Clone, PartialEq)]
pub struct Reduced {
    /// The places of the keys in the path, in order; the first and the last frame are always keys.
    pub keys: Vec<usize>,
    /// How the columns run from each key to the next; straight after the last.
    pub to_next: Vec<ToNext>,
    /// The largest error of a rebuilt window, over every frame and every set of columns, in delivered px.
    pub worst_error_px: f64,
}

/// The fewest keys between which straight lines miss the path by at most `greatest_error_px` delivered px, in
/// every published set of columns. Frames in `fixed` are always keys; an empty path has none.
///
/// The lines run straight in time, as they do in an editor: a frame's share between two keys is the share of
/// the time between them that has passed. `pace` is the path's, handles included; where it lacks a step, no
/// line is straight beyond that and every frame is a key.
///
/// `rasters` are the source's and the delivered one. Where even neighbouring frames cannot keep the bound,
/// because the published rounding alone is more, every frame is a key and the error is told.
///
/// Work grows with the number of frames times the length of the longest straight stretch.
#[must_use]
pub fn reduce(
    path: &[Window],
    pace: &Pace,
    fixed: &[usize],
    rasters: (Raster, Raster),
    greatest_error_px: f64,
) -> Reduced {
    let Some(last) = path.len().checked_sub(1) else {
        return Reduced { keys: Vec::new(), to_next: Vec::new(), worst_error_px: 0.0 };
    };
    let dense = Dense::of(path, pace, rasters, greatest_error_px);
    let mut stops: Vec<usize> =
        fixed.iter().copied().filter(|place| *place <= last).chain([0, last]).collect();
    stops.sort_unstable();
    stops.dedup();
    let mut keys = vec![0];
    for pair in stops.windows(2) {
        keys.extend(dense.fewest_between(pair[0], pair[1]));
    }
    let worst_error_px = keys
        .windows(2)
        .map(|pair| dense.error_between(pair[0], pair[1]))
        .fold(dense.error_between(0, 0), f64::max);
    Reduced { to_next: vec![ToNext::Straight; keys.len()], keys, worst_error_px }
}

/// The keys of holds joined by eased moves: both ends of each move, the first and the last frame, and the frames in
/// `fixed` that no move runs over (one that a move runs over is where the ease takes it). `None` if the published
/// numbers do not rebuild the path so within the bound.
///
/// A move is `(first, last)`: places in the path. Its ease runs in offset and scale; where the scale is the same at both
/// ends every set of columns runs alike, and the bound is held in all of them.
#[must_use]
pub fn keys_of_moves(
    path: &[Window],
    pace: &Pace,
    (moves, ease): (&[(usize, usize)], Ease),
    fixed: &[usize],
    (rasters, greatest_error_px): ((Raster, Raster), f64),
) -> Option<Reduced> {
    let last = path.len().checked_sub(1)?;
    let dense = Dense::of(path, pace, rasters, greatest_error_px);
    let is_run_over = |place: &usize| moves.iter().any(|(a, b)| a < place && place < b);
    let ends = moves.iter().flat_map(|(first, last)| [*first, *last]);
    let fixed = fixed.iter().copied().filter(|place| !is_run_over(place));
    let mut keys: Vec<usize> =
        ends.chain(fixed).chain([0, last]).filter(|place| *place <= last).collect();
    keys.sort_unstable();
    keys.dedup();
    let begins_move = |key: &usize| moves.iter().any(|(first, _)| first == key);
    let law = |key| if begins_move(key) { ToNext::Eased(ease) } else { ToNext::Straight };
    let to_next: Vec<ToNext> = keys.iter().map(law).collect();
    let worst_error_px = keys
        .windows(2)
        .zip(&to_next)
        .map(|(pair, to_next)| match to_next {
            ToNext::Straight => dense.error_between(pair[0], pair[1]),
            ToNext::Eased(ease) => dense.eased_error(pair[0], pair[1], *ease),
        })
        .fold(0.0, f64::max);
    (worst_error_px <= greatest_error_px).then_some(Reduced { keys, to_next, worst_error_px })
}

/// A path with its published numbers.
struct Dense<'a> {
    path: &'a [Window],
    /// When each frame starts: its number, or mean steps from the first where the pace is uneven.
    starts: Vec<f64>,
    published: Vec<Columns>,
    rasters: (Raster, Raster),
    greatest_error_px: f64,
}

impl<'a> Dense<'a> {
    fn of(
        path: &'a [Window],
        pace: &Pace,
        rasters: (Raster, Raster),
        greatest_error_px: f64,
    ) -> Self {
        let published = path.iter().map(|window| Columns::of(window, rasters.0, rasters.1));
        let starts = pace.starts(path.len());
        Self { path, starts, published: published.collect(), rasters, greatest_error_px }
    }

    /// The largest error of an eased move, in the sets of columns that it may be keyed in.
    fn eased_error(&self, start: usize, end: usize, ease: Ease) -> f64 {
        let (from, to) = (&self.published[start], &self.published[end]);
        // Both are published numbers: the same to the last digit, or not.
        let is_push =
            (from.scale_x, from.scale_y).partial_cmp(&(to.scale_x, to.scale_y)) != Some(Equal);
        let sets = if is_push { &[ColumnSet::OffsetAndScale][..] } else { &ColumnSet::ALL[..] };
        let error = |place: usize, set: ColumnSet| {
            let share = ease.share(self.share_between(start, place, end));
            from.between(to, share, set, self.rasters).error_px(&self.path[place], self.rasters.1)
        };
        (start..=end)
            .flat_map(|place| sets.iter().map(move |set| (place, *set)))
            .map(|(place, set)| error(place, set))
            .fold(0.0, f64::max)
    }

    /// The keys after `first` up to `last`, as few as can be: the shortest path in which a step leads from a
    /// frame to each later one that a straight line may reach.
    fn fewest_between(&self, first: usize, last: usize) -> Vec<usize> {
        let mut from = vec![first; last - first + 1];
        let mut steps = vec![usize::MAX; last - first + 1];
        steps[0] = 0;
        for start in first..last {
            let taken = steps[start - first] + 1;
            let mut cone = Cone::at(start);
            for end in start + 1..=last {
                let within = cone.holds(self, end);
                if taken < steps[end - first]
                    && (end == start + 1 || (within && self.is_straight(start, end)))
                {
                    (steps[end - first], from[end - first]) = (taken, start);
                }
                if !cone.narrow(self, end) {
                    break;
                }
            }
        }
        let mut keys = vec![last];
        while let Some(key) = keys.last().map(|key| from[key - first]).filter(|key| *key > first) {
            keys.push(key);
        }
        keys.reverse();
        keys
    }

    /// Whether straight lines from one key to another keep the bound in every set of columns.
    fn is_straight(&self, start: usize, end: usize) -> bool {
        self.errors(start, end).all(|error| error <= self.greatest_error_px)
    }

    fn error_between(&self, start: usize, end: usize) -> f64 {
        self.errors(start, end).fold(0.0, f64::max)
    }

    /// The error of each frame from `start` to `end` in each set of columns, in delivered px.
    fn errors(&self, start: usize, end: usize) -> impl Iterator<Item = f64> + '_ {
        (start..=end).flat_map(move |place| {
            let share = self.share_between(start, place, end);
            ColumnSet::ALL.into_iter().map(move |set| {
                self.published[start]
                    .between(&self.published[end], share, set, self.rasters)
                    .error_px(&self.path[place], self.rasters.1)
            })
        })
    }

    /// How much time passes from one frame to a later one.
    fn time_between(&self, start: usize, end: usize) -> f64 {
        self.starts[end] - self.starts[start]
    }

    fn share_between(&self, start: usize, place: usize, end: usize) -> f64 {
        if place == start {
            0.0
        } else if place == end {
            1.0
        } else {
            self.time_between(start, place) / self.time_between(start, end)
        }
    }
}

/// The slopes that straight lines of the window's edges from one frame may have so as to pass every later
/// frame seen so far: a quick test that ends the search, exact for corner and size, checked in full afterwards.
struct Cone {
    start: usize,
    slopes: [(f64, f64); 4],
}

impl Cone {
    const fn at(start: usize) -> Self {
        Self { start, slopes: [(f64::NEG_INFINITY, f64::INFINITY); 4] }
    }

    /// Whether the line to a frame passes all the frames seen before it.
    fn holds(&self, dense: &Dense<'_>, end: usize) -> bool {
        self.edges(dense, end)
            .into_iter()
            .zip(self.slopes)
            .all(|((slope, _), (low, high))| (low..=high).contains(&slope))
    }

    /// Takes a frame into account; false once no slope is left.
    fn narrow(&mut self, dense: &Dense<'_>, place: usize) -> bool {
        let edges = self.edges(dense, place);
        for ((low, high), (slope, slack)) in self.slopes.iter_mut().zip(edges) {
            *low = low.max(slope - slack);
            *high = high.min(slope + slack);
        }
        self.slopes.iter().all(|(low, high)| low <= high)
    }

    /// The slope to each edge of a later window, and how much it may be off there.
    fn edges(&self, dense: &Dense<'_>, place: usize) -> [(f64, f64); 4] {
        let (from, to) = (dense.path[self.start], dense.path[place]);
        let length = dense.time_between(self.start, place);
        let delivered = dense.rasters.1;
        let slack_x = dense.greatest_error_px * to.width() / delivered.width() / length;
        let slack_y = dense.greatest_error_px * to.height() / delivered.height() / length;
        [
            ((to.left() - from.left()) / length, slack_x),
            ((to.right() - from.right()) / length, slack_x),
            ((to.top() - from.top()) / length, slack_y),
            ((to.bottom() - from.bottom()) / length, slack_y),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EVEN: Pace = Pace::even(0.04);

    fn rasters() -> (Raster, Raster) {
        (Raster::new(4000, 3000).unwrap(), Raster::new(1080, 1920).unwrap())
    }

    fn window(left: f64, width: f64) -> Window {
        Window::inside(rasters().0, (left, 0.0), (width, width * 16.0 / 9.0)).unwrap()
    }

    #[test]
    fn a_hold_is_two_keys_and_a_single_frame_is_one() {
        let held = vec![window(100.0, 1404.0); 50];
        assert_eq!(reduce(&held, &EVEN, &[], rasters(), 0.5).keys, [0, 49]);
        assert_eq!(reduce(&held[..1], &EVEN, &[], rasters(), 0.5).keys, [0]);
        assert_eq!(reduce(&[], &EVEN, &[], rasters(), 0.5).keys, [0_usize; 0]);
    }

    #[test]
    fn a_straight_move_between_holds_is_four_keys() {
        let left = |frame: u32| 100.0 + 10.0 * f64::from(frame.clamp(20, 60) - 20);
        let path: Vec<_> = (0..100).map(|frame| window(left(frame), 1404.0)).collect();
        let reduced = reduce(&path, &EVEN, &[], rasters(), 0.01);
        assert_eq!(reduced.keys, [0, 20, 60, 99]);
        assert!(reduced.worst_error_px <= 0.01);
    }

    #[test]
    fn a_push_straight_in_width_needs_more_keys_than_its_corners_do() {
        let path: Vec<_> =
            (0..60).map(|frame| window(100.0, 1600.0 - 12.0 * f64::from(frame))).collect();
        let reduced = reduce(&path, &EVEN, &[], rasters(), 0.5);
        assert!(reduced.keys.len() > 2, "a straight width is not a straight scale");
        assert!(reduced.worst_error_px <= 0.5, "{}", reduced.worst_error_px);
    }

    #[test]
    fn a_fixed_frame_is_always_a_key() {
        let held = vec![window(100.0, 1404.0); 50];
        assert_eq!(reduce(&held, &EVEN, &[7, 7, 400], rasters(), 0.5).keys, [0, 7, 49]);
    }

    #[test]
    fn no_reduction_has_fewer_keys_than_the_exhaustive_best() {
        // A made path with bends, small enough to try every set of keys.
        let path: Vec<_> = (0..12)
            .map(|f| window(100.0 + f64::from((f * f * 7) % 23), 1404.0 + f64::from(f % 3)))
            .collect();
        let dense = Dense {
            path: &path,
            starts: EVEN.starts(path.len()),
            published: path.iter().map(|w| Columns::of(w, rasters().0, rasters().1)).collect(),
            rasters: rasters(),
            greatest_error_px: 3.0,
        };
        let fewest = (0..1_u32 << 10)
            .filter_map(|set| {
                let inner = (1..11).filter(|place| set >> (place - 1) & 1 == 1);
                let keys: Vec<usize> = std::iter::once(0).chain(inner).chain([11]).collect();
                keys.windows(2)
                    .all(|pair| dense.is_straight(pair[0], pair[1]))
                    .then_some(keys.len())
            })
            .min();
        assert_eq!(Some(reduce(&path, &EVEN, &[], rasters(), 3.0).keys.len()), fewest);
    }
}
