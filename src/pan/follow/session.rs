use super::{
    PanError, Request, Side, answered, check, settled,
    stitched::places_of,
    stretch::{Place, Stretch},
};
use crate::{
    geometry::Window,
    pan::{
        Pin,
        program::{self, Leeway, Seam, Solution, VARIABLES, unmet},
    },
};
use std::ops::Range;

/// A follow path that is solved again after a pin was changed, set or taken away, without starting anew.
///
/// Only a stretch about the pin is solved, between frames that stay where they are. That the whole is the best
/// path all the same is proven as in a stitched run: if the stretch pulls at those frames as what was there before
/// did, nothing else has to change. If it does not, the stretch is made longer, in the end to the whole run.
#[derive(Debug, Clone)]
pub struct Session {
    request: Request,
    sides: Vec<Side>,
    places: Vec<Place>,
    /// The pulls across the seam before each frame.
    seams: Vec<Seam>,
    /// The leeway of each coordinate of each frame.
    leeways: Vec<Leeway>,
    cost_px: f64,
    solved_frames: usize,
}

/// Frames beside a stretch that stay: as many as a change of speed reaches.
const HELD: usize = 2;

/// Frames on either side of a changed pin that are tried first. Chosen: two seconds and more of most clips.
const FIRST_REACH: usize = 64;

/// What a path may cost more than the best one, as a share of its cost, and the floor of that in px.
const PROVEN: f64 = 2e-7;
const PROVEN_FLOOR_PX: f64 = 1e-4;

impl Session {
    /// Solves a request; `None` if its limits contradict each other.
    ///
    /// # Errors
    /// As [`super::follow`].
    pub fn new(request: Request, sides: &[Side]) -> Result<Option<Self>, PanError> {
        check(&request)?;
        let solution = program::solve(&Stretch::whole(&request, sides).program());
        Ok(answered(solution)?.map(|solution| Self {
            places: places_of(&solution.values).collect(),
            cost_px: solution.cost_px,
            seams: solution.seams,
            leeways: solution.leeways,
            solved_frames: request.frame_count(),
            sides: sides.to_vec(),
            request,
        }))
    }

    /// The request as it is now.
    #[must_use]
    pub const fn request(&self) -> &Request {
        &self.request
    }

    /// How many frames had to be solved for the last answer.
    #[must_use]
    pub const fn solved_frames(&self) -> usize {
        self.solved_frames
    }

    /// The path.
    ///
    /// # Errors
    /// [`PanError::Unsound`], which is a fault of ours.
    pub fn windows(&self) -> Result<Vec<Window>, PanError> {
        settled(&self.request, &self.sides, &self.places)
    }

    /// Puts other pins in the place of those that there are. False if the limits then contradict each other: the
    /// session stays as it was.
    ///
    /// # Errors
    /// As [`super::follow`], and [`PanError::PinBeyondRun`].
    pub fn set_pins(&mut self, pins: Vec<Pin>) -> Result<bool, PanError> {
        let frame_count = self.request.frame_count();
        if let Some(pin) = pins.iter().find(|pin| pin.index >= frame_count) {
            return Err(PanError::PinBeyondRun { index: pin.index, frame_count });
        }
        let Some(changed) = changed_frames(&self.request.pins, &pins) else { return Ok(true) };
        let before = std::mem::replace(&mut self.request.pins, pins);
        let solved = self.solve_about(changed);
        if !matches!(solved, Ok(true)) {
            self.request.pins = before;
        }
        solved
    }

    fn solve_about(&mut self, changed: Range<usize>) -> Result<bool, PanError> {
        let count = self.request.frame_count();
        let mut reach = FIRST_REACH;
        loop {
            let inner = about(&changed, reach, count);
            let is_whole = inner == (0..count);
            let held_front = if inner.start == 0 { 0 } else { HELD };
            let held_back = if inner.end == count { 0 } else { HELD };
            let frames = inner.start - held_front..inner.end + held_back;
            let solution = {
                let (request, sides, places) = (&self.request, &self.sides[..], &self.places[..]);
                let stretch = Stretch { request, sides, frames, held_front, held_back, places };
                answered(program::solve(&stretch.program()))?
            };
            match solution {
                Some(solution) if is_whole || self.is_proven(&inner, held_front, &solution) => {
                    self.take(&inner, held_front, &solution);
                    return Ok(true);
                }
                // A stretch may have no path between frames that stay, where the whole has one.
                None if is_whole => return Ok(false),
                _ => reach *= 2,
            }
        }
    }

    /// Whether a stretch pulls at the frames beside it as what was there before did.
    fn is_proven(&self, inner: &Range<usize>, held_front: usize, solution: &Solution) -> bool {
        let new = |frame: usize| &solution.seams[frame + held_front - inner.start];
        let leeways = |frame: usize| std::array::from_fn(|k| self.leeways[VARIABLES * frame + k]);
        let front = if inner.start == 0 {
            0.0
        } else {
            let old = &self.seams[inner.start].before;
            unmet(old, &new(inner.start).before, leeways(inner.start - HELD))
        };
        let back = if inner.end == self.request.frame_count() {
            0.0
        } else {
            let old = &self.seams[inner.end].after;
            unmet(old, &new(inner.end).after, leeways(inner.end))
        };
        let raster = self.request.raster;
        let gap_px = (front + back) * raster.width().max(raster.height());
        gap_px <= PROVEN * self.cost_px + PROVEN_FLOOR_PX
    }

    fn take(&mut self, inner: &Range<usize>, held_front: usize, solution: &Solution) {
        let solved = inner.len();
        let values = &solution.values[VARIABLES * held_front..];
        for (place, new) in self.places[inner.clone()].iter_mut().zip(places_of(values)) {
            *place = new;
        }
        // The seam after the last inner frame is the stretch's too.
        let end = (inner.end + 1).min(self.seams.len());
        let new = &solution.seams[held_front..];
        for (seam, new) in self.seams[inner.start..end].iter_mut().zip(new) {
            *seam = *new;
        }
        let new = &solution.leeways[VARIABLES * held_front..];
        let old = &mut self.leeways[VARIABLES * inner.start..VARIABLES * inner.end];
        for (leeway, new) in old.iter_mut().zip(new) {
            *leeway = *new;
        }
        self.solved_frames = solved;
    }
}

/// The frames within reach of others; all of a run that has hardly more than those.
fn about(changed: &Range<usize>, reach: usize, count: usize) -> Range<usize> {
    let start = changed.start.saturating_sub(reach);
    let end = changed.end + reach;
    let start = if start < HELD { 0 } else { start };
    let end = if end + HELD > count { count } else { end };
    if (end - start) * 2 > count { 0..count } else { start..end }
}

/// From the first to the last frame whose pin is not what it was; `None` if none is.
fn changed_frames(before: &[Pin], after: &[Pin]) -> Option<Range<usize>> {
    let missing = |from: &[Pin], to: &[Pin]| -> Vec<usize> {
        from.iter().filter(|pin| !to.contains(pin)).map(|pin| pin.index).collect()
    };
    let changed = [missing(before, after), missing(after, before)].concat();
    let (first, last) = (changed.iter().min()?, changed.iter().max()?);
    Some(*first..last + 1)
}
