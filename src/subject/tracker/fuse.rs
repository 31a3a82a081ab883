//! One track from two: forward from the mark before, backward from the mark after.

use super::overlap;
use crate::geometry::Region;

/// Two boxes agree if they share more than this of what they cover together.
const AGREE_ABOVE: f64 = 0.5;
/// What changing from one way to the other costs where the boxes have nothing in common, in frames of no trust.
const CHANGE_COSTS: f64 = 2.0;
/// What the whole way from its own mark costs a box, in frames of no trust: the nearer mark counts more.
const DISTANCE_COSTS: f64 = 0.5;
/// What a loss costs, in frames of no trust: the other way is nearly always better.
const LOSS_COSTS: f64 = 3.0;

/// One way's answer at a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Passed {
    pub(super) region: Region,
    pub(super) confidence: f64,
    pub(super) is_lost: bool,
}

/// What both ways make of a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fused {
    pub(super) passed: Passed,
    /// Whether the two had the subject at different places.
    pub(super) is_disputed: bool,
}

/// Where both agree, a blend by distance from the marks; elsewhere the way that a shortest path through both
/// takes. The first frames of both are the mark before's, the last the mark after's.
pub(super) fn fuse(forward: &[Passed], backward: &[Passed]) -> Vec<Fused> {
    let both: Vec<[Passed; 2]> =
        forward.iter().zip(backward).map(|(forward, backward)| [*forward, *backward]).collect();
    let last = both.len().saturating_sub(1).max(1) as f64;
    let ways = shortest_path(&both, last);
    let fused = |(at, ([forward, backward], way)): (usize, (&[Passed; 2], usize))| {
        let both_seen = !forward.is_lost && !backward.is_lost;
        if both_seen && overlap(&forward.region, &backward.region) > AGREE_ABOVE {
            let region = forward.region.between(&backward.region, at as f64 / last);
            let confidence = forward.confidence.max(backward.confidence);
            return Fused {
                passed: Passed { region, confidence, is_lost: false },
                is_disputed: false,
            };
        }
        let taken = [*forward, *backward][way];
        Fused { passed: taken, is_disputed: both_seen }
    };
    both.iter().zip(ways).enumerate().map(fused).collect()
}

/// Which way is taken at each frame: least trust lost, and changed where the two are nearest.
fn shortest_path(both: &[[Passed; 2]], last: f64) -> Vec<usize> {
    let mut cost = [0.0, f64::INFINITY];
    let mut came_from: Vec<[usize; 2]> = Vec::with_capacity(both.len());
    for (at, pair) in both.iter().enumerate() {
        let share = at as f64 / last;
        let change = CHANGE_COSTS * (1.0 - overlap(&pair[0].region, &pair[1].region));
        let mut next = [0.0; 2];
        let mut from = [0, 1];
        for way in 0..2 {
            let stays = cost[way];
            let changes = cost[1 - way] + change;
            from[way] = if changes < stays { 1 - way } else { way };
            let distance = if way == 0 { share } else { 1.0 - share };
            let loss = if pair[way].is_lost { LOSS_COSTS } else { 0.0 };
            next[way] =
                stays.min(changes) + 1.0 - pair[way].confidence + loss + DISTANCE_COSTS * distance;
        }
        cost = next;
        came_from.push(from);
    }
    // The last frame is the mark after's: the path ends on the way that comes from there.
    let mut way = 1;
    let mut ways = vec![0; both.len()];
    for at in (0..both.len()).rev() {
        ways[at] = way;
        way = came_from[at][way];
    }
    ways
}

#[cfg(test)]
mod tests {
    use super::*;

    fn passed(left: f64, confidence: f64) -> Passed {
        let region = Region::new(left, 0.0, 10.0, 10.0).unwrap();
        Passed { region, confidence, is_lost: false }
    }

    fn lefts(fused: &[Fused]) -> Vec<f64> {
        fused.iter().map(|fused| fused.passed.region.left()).collect()
    }

    #[test]
    fn ways_that_agree_are_blended_by_distance() {
        let forward = [0.0, 1.0, 2.0].map(|left| passed(left, 0.9));
        let backward = [0.0, 3.0, 4.0].map(|left| passed(left, 0.8));
        let fused = fuse(&forward, &backward);
        assert_eq!(lefts(&fused), [0.0, 2.0, 4.0]);
        assert!(fused.iter().all(|fused| !fused.is_disputed && fused.passed.confidence == 0.9));
    }

    #[test]
    fn ways_that_differ_are_changed_once_where_they_are_nearest_and_never_blended() {
        let forward = [0.0, 20.0, 40.0, 60.0, 80.0].map(|left| passed(left, 0.9));
        let backward = [200.0, 160.0, 43.0, 160.0, 200.0].map(|left| passed(left, 0.9));
        let fused = fuse(&forward, &backward);
        assert_eq!(lefts(&fused), [0.0, 20.0, 41.5, 160.0, 200.0]);
        let disputed: Vec<bool> = fused.iter().map(|fused| fused.is_disputed).collect();
        assert_eq!(disputed, [true, true, false, true, true]);
    }

    #[test]
    fn a_way_that_lost_the_subject_gives_place_to_the_other() {
        let lost = |left| Passed { is_lost: true, ..passed(left, 0.01) };
        let forward = [passed(0.0, 1.0), passed(1.0, 0.9), lost(50.0), lost(50.0), lost(50.0)];
        let backward = [2.0, 3.0, 4.0, 5.0, 6.0].map(|left| passed(left, 0.9));
        let fused = fuse(&forward, &backward);
        assert_eq!(lefts(&fused)[2..], [4.0, 5.0, 6.0]);
        assert!(fused.iter().all(|fused| !fused.passed.is_lost && !fused.is_disputed));
        let all_lost = fuse(&[lost(1.0); 3], &[lost(2.0); 3]);
        assert!(all_lost.iter().all(|fused| fused.passed.is_lost));
    }

    #[test]
    fn a_reversed_clip_is_fused_to_the_reverse() {
        let forward: Vec<Passed> = [0.0, 2.0, 30.0, 31.0].map(|left| passed(left, 0.7)).to_vec();
        let backward: Vec<Passed> = [5.0, 3.0, 8.0, 9.0].map(|left| passed(left, 0.9)).to_vec();
        let fused = fuse(&forward, &backward);
        let reversed = |ways: &[Passed]| ways.iter().rev().copied().collect::<Vec<_>>();
        let mut other = fuse(&reversed(&backward), &reversed(&forward));
        other.reverse();
        for (one, other) in lefts(&fused).iter().zip(lefts(&other)) {
            assert!((one - other).abs() < 1e-9, "{one} {other}");
        }
    }
}
