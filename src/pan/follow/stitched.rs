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
use crate::pan::program::{self, Leeway, Seam, Solution, VARIABLES, unmet};

/// A stretch of this many frames fits the caches; chosen by measurement (`benches/path.rs`).
const STRETCH: usize = 6000;

/// How far a stretch looks ahead, in frames. Chosen: what is further away than that hardly moves a window.
const AHEAD: usize = 600;

/// What a stitched path may cost more than the best one, as a share of its cost.
const PROVEN: f64 = 1e-4;

/// The places of the best path; `None` if limits contradict each other.
pub(super) fn places(request: &Request, sides: &[Side]) -> Result<Option<Vec<Place>>, PanError> {
    if request.frame_count() > STRETCH + AHEAD {
        let stitched = stitched(request, sides)?;
        if let Some(stitched) = stitched.filter(Stitched::is_proven) {
            return Ok(Some(stitched.places));
        }
    }
    let whole = Stretch::whole(request, sides);
    Ok(answered(program::solve(&whole.program()))?
        .map(|solution| places_of(&solution.values).collect()))
}

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
    let mut stitched = Stitched { places: Vec::with_capacity(count), cost_px: 0.0, gap_px: 0.0 };
    // What the stretch before pulls with at its last two frames, and their leeway there.
    let mut promised: Option<(Seam, [Leeway; 2 * VARIABLES])> = None;
    while stitched.places.len() < count {
        let done = stitched.places.len();
        let held_front = done.min(2);
        let end = if count - done <= STRETCH + AHEAD { count } else { done + STRETCH + AHEAD };
        let kept = if end == count { count } else { done + STRETCH };
        let frames = done - held_front..end;
        let places = &stitched.places;
        let stretch = Stretch { request, sides, frames, held_front, held_back: 0, places };
        let Some(solution) = answered(program::solve(&stretch.program()))? else {
            return Ok(None);
        };
        let stage = |frame: usize| frame + held_front - done;
        if let Some((seam, leeways)) = promised {
            let reach = request.raster.width().max(request.raster.height());
            let new = &solution.seams[stage(done)].before;
            stitched.gap_px += reach * unmet(&seam.before, new, leeways);
        }
        promised = (kept < count)
            .then(|| (solution.seams[stage(kept)], leeways_at(&solution, stage(kept) - 2)));
        stitched.gap_px += solution.gap_px;
        stitched.cost_px += solution.cost_px;
        let places = places_of(&solution.values).skip(held_front).take(kept - done);
        stitched.places.extend(places);
    }
    Ok(Some(stitched))
}

/// The leeway at a stage and the next one.
pub(super) fn leeways_at(solution: &Solution, stage: usize) -> [Leeway; 2 * VARIABLES] {
    std::array::from_fn(|k| solution.leeways[VARIABLES * stage + k])
}
