//! Windows pinned by hand that leave the subject outside: which of them, by how much, and where it would do.

use super::{Cause, Remedy, hull, verdict_of};
use crate::{
    geometry::Window,
    pan::{
        Assessment, PanError, Pin, Planned, Request, Verdict,
        choose::{Decision, decide},
        missing_px,
    },
};

/// The pin that is most to blame for what an attempt leaves outside; `None` without pins.
pub(super) fn cause(request: &Request, attempt: &Planned) -> Option<Cause> {
    let at_pin = |pin: &Pin| (*pin, missing_at(request, &attempt.windows, pin.index));
    let both = |(_, (across, down)): &(Pin, (f64, f64))| across + down;
    let by_missing = |a: &(Pin, _), b: &(Pin, _)| both(a).total_cmp(&both(b));
    let most = request.pins.iter().map(at_pin).max_by(by_missing)?;
    let worst = attempt.assessment.worst().map(|short| short.index);
    let (pin, short_index) = match worst {
        Some(worst) if both(&most) <= Assessment::NOISE_PX => {
            let nearest = request.pins.iter().min_by_key(|pin| pin.index.abs_diff(worst))?;
            (*nearest, worst)
        }
        _ => (most.0, most.0.index),
    };
    let (across_px, down_px) = missing_at(request, &attempt.windows, short_index);
    let narrow_px = (needed_width(request, pin.index) - pin.window.width()).max(0.0);
    Some(Cause::Pinned { index: pin.index, short_index, across_px, down_px, narrow_px })
}

/// What is outside at a frame, across and down.
fn missing_at(request: &Request, windows: &[Window], index: usize) -> (f64, f64) {
    let (insets, window) = (request.insets(), &windows[index]);
    let missing = request.frames[index]
        .boxes
        .iter()
        .map(|wished| missing_px(&wished.region, window, &insets));
    missing.fold((0.0, 0.0), |most: (f64, f64), one| (most.0.max(one.0), most.1.max(one.1)))
}

/// How wide a window has to be for what is wished at a frame and its margins.
fn needed_width(request: &Request, index: usize) -> f64 {
    let insets = request.insets();
    hull(&request.frames[index]).map_or(0.0, |all| {
        let across = all.width() / (1.0 - insets.left - insets.right);
        let down = all.height() / (1.0 - insets.top - insets.bottom);
        across.max(request.shape.width_for(down))
    })
}

/// What mends a refusal because of pins: to put the one at this frame elsewhere or to leave it out, or else the next
/// nearest; where no single one does, to leave out all.
pub(super) fn remedies(request: &Request, index: usize) -> Result<Vec<Remedy>, PanError> {
    /// So many plans take no longer than a person waits.
    const MOST_TRIED: usize = 8;
    let mut nearest: Vec<Pin> = request.pins.clone();
    nearest.sort_by_key(|pin| pin.index.abs_diff(index));
    for pin in nearest.iter().take(MOST_TRIED) {
        let others = request.pins.iter().copied().filter(|other| other.index != pin.index);
        let pins: Vec<Pin> = others.collect();
        if let Some((planned, verdict)) = planned_with(request, pins)? {
            let moved = moved(request, pin.index, &planned.windows[pin.index])?;
            let dropped = Remedy::DropPin { index: pin.index, verdict };
            return Ok(moved.into_iter().chain([dropped]).collect());
        }
    }
    Ok(without_pins(request)?.into_iter().collect())
}

/// What comes of leaving out all of several pins, if the request is then planned.
pub(in crate::pan) fn without_pins(request: &Request) -> Result<Option<Remedy>, PanError> {
    let count = request.pins.len();
    if count < 2 {
        return Ok(None);
    }
    let planned = planned_with(request, Vec::new())?;
    Ok(planned.map(|(_, verdict)| Remedy::DropAllPins { count, verdict }))
}

/// What is planned with other pins, unless it is refused.
fn planned_with(request: &Request, pins: Vec<Pin>) -> Result<Option<(Planned, Verdict)>, PanError> {
    let decision = decide(&Request { pins, ..request.clone() })?;
    let verdict = verdict_of(&decision);
    Ok(match decision {
        Decision::Planned(planned) => verdict.map(|verdict| (planned, verdict)),
        Decision::NoPath { .. } | Decision::TooSoft | Decision::Short(_) => None,
    })
}

/// Puts a pin where a plan without it has its window, in tenths of a px; `None` if that does not do, or where pins are
/// not written in the px of the windows.
fn moved(request: &Request, index: usize, there: &Window) -> Result<Option<Remedy>, PanError> {
    if !request.is_upright_and_fixed() {
        return Ok(None);
    }
    let tenth = |px: f64| (px * 10.0 + 1e-6).floor() / 10.0;
    let (left_px, top_px, width_px) =
        (tenth(there.left()), tenth(there.top()), tenth(there.width()));
    let size = (width_px, request.shape.height_for(width_px));
    let Ok(window) = Window::inside(request.raster, (left_px, top_px), size) else {
        return Ok(None);
    };
    let mut pins = request.pins.clone();
    for pin in pins.iter_mut().filter(|pin| pin.index == index) {
        pin.window = window;
    }
    let verdict = planned_with(request, pins)?.map(|(_, verdict)| verdict);
    Ok(verdict.map(|verdict| Remedy::MovePin { index, left_px, top_px, width_px, verdict }))
}
