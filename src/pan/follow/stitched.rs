//! A long run a stretch at a time, with a proof of what that costs.
//!
//! Each stretch looks ahead beyond its end, keeps what lies before that, and the next one goes on from its last two
//! frames. The multipliers of all stretches together are multipliers of the whole program, whose gradient is 0 but
//! at those two frames; by weak duality the whole then costs at most the stretches' gaps and `Σ |gradient| × R` more than the
//! best, where R is how far a window can be from where it is at all.

use super::{
    PanError, Request, Side, answered,
    stretch::{Place, Stretch},
};
use crate::pan::program::{self, Leeway, Solution, VARIABLES, unmet};

/// A stretch of this many frames fits the caches; chosen by measurement (`benches/path.rs`).
const STRETCH: usize = 6000;

/// How far a stretch looks ahead, in frames. Chosen: what is further away than that hardly moves a window.
const AHEAD: usize = 600;

/// What a stitched path may cost more than the best one, as a share of its cost.
const PROVEN: f64 = 1e-4;

/// What is not worth telling, likewise.
const NEXT_TO_NOTHING: f64 = 1e-6;

/// The places of the best path, and by how many px its cost may be off where that is not known to be next to nothing;
/// `None` if limits contradict each other.
pub(super) fn places(request: &Request, sides: &[Side]) -> Result<Option<Proven>, PanError> {
    if request.frame_count() > STRETCH + AHEAD {
        let stitched = stitched(request, sides)?;
        if let Some(stitched) = stitched.filter(Stitched::is_proven) {
            let unproven_px =
                (stitched.gap_px > NEXT_TO_NOTHING * stitched.cost_px).then_some(stitched.gap_px);
            return Ok(Some((stitched.places, unproven_px)));
        }
    }
    let whole = Stretch::whole(request, sides);
    Ok(answered(program::solve(&whole.program()))?.map(|solution| {
        let unproven_px = (!solution.is_optimal).then_some(solution.gap_px);
        (places_of(&solution.values).collect(), unproven_px)
    }))
}

type Proven = (Vec<Place>, Option<f64>);

pub(super) fn places_of(values: &[f64]) -> impl Iterator<Item = Place> + '_ {
    values.chunks_exact(VARIABLES).map(|place| [place[0], place[1], place[2]])
}

struct Stitched {
    places: Vec<Place>,
    cost_px: f64,
    gap_px: f64,
}

impl Stitched {
    fn is_proven(&self) -> bool {
        self.gap_px <= PROVEN * self.cost_px
    }
}

/// The stretches one after the other; `None` if one cannot go on from the one before.
fn stitched(request: &Request, sides: &[Side]) -> Result<Option<Stitched>, PanError> {
    let count = request.frame_count();
    let Some(mut last) = Solved::from(request, sides, 0, &[])? else { return Ok(None) };
    let mut stitched = Stitched { places: Vec::with_capacity(count), cost_px: 0.0, gap_px: 0.0 };
    loop {
        stitched.gap_px += last.solution.gap_px;
        stitched.cost_px += last.solution.cost_px;
        if last.end == count {
            stitched.places.extend(last.places_up_to(count));
            return Ok(Some(stitched));
        }
        let Some((next, unmet_px)) = gone_on_from(request, sides, &last, &stitched.places)? else {
            return Ok(None);
        };
        stitched.gap_px += unmet_px;
        stitched.places.extend(last.places_up_to(next.first));
        last = next;
    }
}

/// The stretch after another, with what its seam may cost. A seam at which the two do not say the same (where nothing
/// holds the window to one place, multipliers are free) is tried again a little later.
fn gone_on_from(
    request: &Request,
    sides: &[Side],
    last: &Solved,
    before: &[Place],
) -> Result<Option<(Solved, f64)>, PanError> {
    /// Of a stretch's cost: an eighth of what all of it may be off.
    const ENOUGH: f64 = PROVEN / 8.0;
    let mut best: Option<(Solved, f64)> = None;
    for later in [0, AHEAD / 6, AHEAD / 3, AHEAD / 2] {
        let seam = last.first + STRETCH + later;
        let places: Vec<Place> = before.iter().copied().chain(last.places_up_to(seam)).collect();
        let Some(next) = Solved::from(request, sides, seam, &places)? else { continue };
        let unmet_px = last.unmet_px(request, &next);
        let is_enough = unmet_px <= ENOUGH * next.solution.cost_px;
        if best.as_ref().is_none_or(|(_, least)| unmet_px < *least) {
            best = Some((next, unmet_px));
        }
        if is_enough {
            break;
        }
    }
    Ok(best)
}

/// A stretch and its solution.
struct Solved {
    /// The first frame that is its own.
    first: usize,
    /// The first frame that it does not know.
    end: usize,
    held_front: usize,
    solution: Solution,
}

impl Solved {
    /// The stretch from a frame on, with the places of all frames before it; `None` if limits contradict each other.
    fn from(
        request: &Request,
        sides: &[Side],
        first: usize,
        places: &[Place],
    ) -> Result<Option<Self>, PanError> {
        let count = request.frame_count();
        let held_front = first.min(2);
        let end = if count - first <= STRETCH + AHEAD { count } else { first + STRETCH + AHEAD };
        let frames = first - held_front..end;
        let stretch = Stretch { request, sides, frames, held_front, places };
        let solution = answered(program::solve(&stretch.program()))?;
        Ok(solution.map(|solution| Self { first, end, held_front, solution }))
    }

    const fn stage(&self, frame: usize) -> usize {
        frame + self.held_front - self.first
    }

    /// Its places, up to a frame.
    fn places_up_to(&self, end: usize) -> impl Iterator<Item = Place> + '_ {
        places_of(&self.solution.values).skip(self.held_front).take(end - self.first)
    }

    /// What it may cost that the stretch after it pulls otherwise at the frames before the seam than this one did.
    fn unmet_px(&self, request: &Request, next: &Self) -> f64 {
        let seam = self.stage(next.first);
        let old = &self.solution.seams[seam].before;
        let new = &next.solution.seams[next.held_front].before;
        let reach = request.raster.width().max(request.raster.height());
        reach * unmet(old, new, leeways_at(&self.solution, seam - 2))
    }
}

/// The leeway at a stage and the next one.
pub(super) fn leeways_at(solution: &Solution, stage: usize) -> [Leeway; 2 * VARIABLES] {
    std::array::from_fn(|k| solution.leeways[VARIABLES * stage + k])
}
