use super::{
    PanError, Request, Side, answered, check, settled,
    stitched::places_of,
    stretch::{Place, Stretch, pinned_at},
};
use crate::{
    geometry::Window,
    pan::{Pin, program::Kept},
};

/// A follow path that is found again from where it was after a pin was moved, as while a person drags a window.
///
/// The weights stay as they are, whatever the path travels. A pin that is moved on its frame costs a small share of the
/// first solve (`benches/solver.rs`), and the path costs at most a millionth more than the best one, which is proven each
/// time but for rounding. Other changes of the pins are solved anew.
#[derive(Debug, Clone)]
pub struct Session {
    request: Request,
    sides: Vec<Side>,
    places: Vec<Place>,
    /// None where the solver came to no proof.
    kept: Option<Kept>,
}

impl Session {
    /// Solves a request; `None` if its limits contradict each other.
    ///
    /// # Errors
    /// As [`super::follow`].
    pub fn new(request: Request, sides: &[Side]) -> Result<Option<Self>, PanError> {
        check(&request)?;
        let (solution, kept) = Kept::solve(Stretch::whole(&request, sides).program());
        Ok(answered(solution)?.map(|solution| Self {
            places: places_of(&solution.values).collect(),
            sides: sides.to_vec(),
            request,
            kept,
        }))
    }

    /// The request as it is now.
    #[must_use]
    pub const fn request(&self) -> &Request {
        &self.request
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
        if self.go_along(&pins) {
            self.request.pins = pins;
            return Ok(true);
        }
        let request = Request { pins, ..self.request.clone() };
        let Some(anew) = Self::new(request, &self.sides)? else { return Ok(false) };
        *self = anew;
        Ok(true)
    }

    /// Finds the path from where it is, if pins are only moved.
    fn go_along(&mut self, pins: &[Pin]) -> bool {
        let frames = |pins: &[Pin]| pins.iter().map(|pin| pin.index).collect::<Vec<_>>();
        if frames(pins) != frames(&self.request.pins) {
            return false;
        }
        let Some(kept) = self.kept.take() else { return false };
        let moved = pins.iter().zip(&self.request.pins).filter(|(now, before)| now != before);
        let fixed: Vec<(usize, f64)> =
            moved.flat_map(|(pin, _)| pinned_at(&self.request, pin)).collect();
        if fixed.is_empty() {
            self.kept = Some(kept);
            return true;
        }
        let Some(kept) = kept.again(&fixed) else { return false };
        self.places = places_of(kept.values()).collect();
        self.kept = Some(kept);
        true
    }
}
