//! Tracks, pins and limits become what the path planner is asked: the one place that knows both.

use super::{
    TaskError,
    clauses::{clauses, clauses_in, is_on},
    lead::Lead,
    smear,
    stand::Stand,
};
use crate::{
    clip::UsedRange,
    delivery::{Deliverable, Limit, Limits},
    geometry::{Region, SourcePoint, largest_window},
    pan::{
        Ease, FrameWish, Insets, KeepOut, MoveRules, Pace, Pin, Place, PlacedPoint, Request, Roll,
        Rules, Weights, WishedBox,
    },
    plan::recording_of,
    shoot::{Level, ResolvedClip},
    subject::{Sighting, Track, Wish},
    timecode::{FrameIndex, FrameRange},
};

/// The request for one used range of a clip in one deliverable; the pace and the stand are those of the used
/// frames. Everything in it is in px of the levelled picture, and nothing rides yet.
///
/// # Errors
/// [`TaskError::Geometry`] if a pinned window hangs over the edge of a picture that motion levels.
pub(super) fn request(
    resolved: &ResolvedClip,
    deliverable: &Deliverable,
    limits: &Limits,
    range: UsedRange,
    (pace, stand): (Pace, &Stand),
) -> Result<Request, TaskError> {
    let number = |limit| limits.number(limit);
    let (usable, used) = (resolved.usable, range.used);
    let blocked = &deliverable.blocked;
    let blocked = Insets {
        left: blocked.left,
        top: blocked.top,
        right: blocked.right,
        bottom: blocked.bottom,
    };
    let place = place(&blocked, limits);
    let held = clauses_in((resolved, &resolved.tracks), deliverable, used);
    let is_wished = |track: &&Track| !held.iter().any(|clause| is_on(clause, track));
    let wished: Vec<Track> = resolved.tracks.iter().filter(is_wished).cloned().collect();
    let raster = resolved.clip.facts.raster;
    let mut request = Request {
        raster,
        usable,
        shape: deliverable.shape(),
        least_width: recording_of(&resolved.clip)
            .least_px(deliverable.raster.width(), number(Limit::GreatestEnlargement)),
        most_width: f64::INFINITY,
        preferred_width: largest_window(raster, deliverable.shape()).0,
        rounding: deliverable.rounding,
        pace,
        margins: (number(Limit::MarginAcross), number(Limit::MarginDown)),
        blocked,
        frames: used.frames().map(|frame| wish(&wished, frame, limits, place)).collect(),
        unseen: unseen(&resolved.tracks, used),
        pins: pins(resolved, deliverable, range),
        keep_outs: keep_outs(&resolved.tracks, used),
        clauses: clauses(&held, &resolved.tracks, deliverable, (limits, used)),
        roll: stand.roll.clone(),
        ride: Vec::new(),
        smear: smear::most(resolved, &resolved.tracks, used, limits.value(Limit::BlurHold)),
        rules: pan_rules(limits),
    };
    level(&mut request, resolved, stand)?;
    let greatest_width = request.greatest_width();
    request.preferred_width = number(Limit::PreferredWidth) * greatest_width;
    let most = number(Limit::GreatestWidth);
    if most < 1.0 {
        request.most_width = most * greatest_width;
    }
    // What a product and a division leave of a width that is just enough does not refuse it.
    const ROUNDING_PX: f64 = 1e-6;
    if (request.least_width - greatest_width).abs() < ROUNDING_PX {
        request.least_width = greatest_width;
    }
    if let Some(lead) = Lead::of(&request, &resolved.tracks, used, (stand, limits)) {
        lead.place(&mut request);
    }
    Ok(request)
}

/// Brings boxes, points and pins from the displayed picture into the levelled one.
fn level(request: &mut Request, resolved: &ResolvedClip, stand: &Stand) -> Result<(), TaskError> {
    if request.roll == Roll::None {
        return Ok(());
    }
    for (index, wish) in request.frames.iter_mut().enumerate() {
        let level = stand.level_at(index);
        for wished in &mut wish.boxes {
            wished.region = level.levelled_hull(&wished.region);
        }
        for required in &mut wish.required {
            required.region = level.levelled_hull(&required.region);
        }
        if let Some(point) = &mut wish.point {
            point.at = level.levelled(point.at);
        }
    }
    for keep_out in &mut request.keep_outs {
        for (index, region) in keep_out.regions.iter_mut().enumerate() {
            *region = region.map(|region| stand.level_at(index).levelled_hull(&region));
        }
    }
    for clause in &mut request.clauses {
        for (index, region) in clause.regions.iter_mut().enumerate() {
            *region = region.map(|region| stand.level_at(index).levelled_hull(&region));
        }
    }
    if resolved.level == Level::Motion {
        // Those of a fixed roll were turned when they were read.
        for pin in &mut request.pins {
            let (level, window) = (stand.level_at(pin.index), pin.window);
            let centre = level.levelled(window.region().centre());
            let size = (window.width(), window.height());
            let corner = (centre.x - size.0 / 2.0, centre.y - size.1 / 2.0);
            pin.window = level.window(corner, size)?;
        }
    }
    Ok(())
}

/// Where in the window the subject is wanted: in the middle of what is not covered, or with so much headroom.
fn place(blocked: &Insets, limits: &Limits) -> Place {
    let across = f64::midpoint(blocked.left, 1.0 - blocked.right);
    let down = match limits.value(Limit::Headroom) {
        // Headroom is measured from the window's top; what is covered there is no headroom.
        Some(headroom) => headroom.max(blocked.top + limits.number(Limit::MarginDown)),
        None => f64::midpoint(blocked.top, 1.0 - blocked.bottom),
    };
    Place { across, down }
}

/// The boxes of a frame that should be inside, and the point that should be at its place.
fn wish(tracks: &[Track], frame: FrameIndex, limits: &Limits, place: Place) -> FrameWish {
    let sighted = |wanted: &[Wish]| -> Vec<Sighting> {
        tracks
            .iter()
            .filter(|track| wanted.contains(&track.wish()))
            .filter_map(|track| track.at(frame))
            .collect()
    };
    let boxes = sighted(&[Wish::Subject, Wish::KeepIn])
        .into_iter()
        .map(|sighting| WishedBox { region: sighting.region, weight: sighting.confidence })
        .collect();
    let subjects: Vec<Region> = sighted(&[Wish::Subject]).iter().map(|s| s.region).collect();
    let point = hull(&subjects).map(|hull| {
        let y = if limits.value(Limit::Headroom).is_some() { hull.top() } else { hull.centre_y() };
        PlacedPoint { at: SourcePoint { x: hull.centre_x(), y }, place }
    });
    FrameWish { boxes, required: Vec::new(), point }
}

/// The smallest box round all of them; `None` without any.
pub(super) fn hull(regions: &[Region]) -> Option<Region> {
    let (first, rest) = regions.split_first()?;
    let edges = rest.iter().fold(
        (first.left(), first.top(), first.right(), first.bottom()),
        |(left, top, right, bottom), region| {
            (
                left.min(region.left()),
                top.min(region.top()),
                right.max(region.right()),
                bottom.max(region.bottom()),
            )
        },
    );
    Region::new(edges.0, edges.1, edges.2 - edges.0, edges.3 - edges.1)
}

/// How high the subjects are at a frame, all of them together; `None` where none is tracked.
pub(super) fn subject_height(tracks: &[Track], frame: FrameIndex) -> Option<f64> {
    let subjects = tracks.iter().filter(|track| track.wish() == Wish::Subject);
    let regions: Vec<Region> =
        subjects.filter_map(|track| track.at(frame)).map(|sighting| sighting.region).collect();
    hull(&regions).map(|hull| hull.height())
}

/// On which used frames no subject is tracked; empty if it is on all of them, or on none.
fn unseen(tracks: &[Track], used: FrameRange) -> Vec<bool> {
    let unseen: Vec<bool> = used.frames().map(|frame| !is_tracked(tracks, frame)).collect();
    let is_gapped = unseen.contains(&true) && unseen.contains(&false);
    if is_gapped { unseen } else { Vec::new() }
}

/// Whether a subject is tracked at a frame.
pub(super) fn is_tracked(tracks: &[Track], frame: FrameIndex) -> bool {
    tracks.iter().any(|track| track.wish() == Wish::Subject && track.at(frame).is_some())
}

/// The pins of a deliverable in a used range.
fn pins(resolved: &ResolvedClip, deliverable: &Deliverable, range: UsedRange) -> Vec<Pin> {
    let mut pins: Vec<Pin> = resolved
        .pins
        .iter()
        .filter(|pin| pin.deliverable == deliverable.name && range.used.contains(pin.frame))
        .filter_map(|pin| {
            let index = usize::try_from(pin.frame.0 - range.used.first().0).ok()?;
            Some(Pin { index, window: pin.window })
        })
        .collect();
    pins.sort_by_key(|pin| pin.index);
    pins
}

fn keep_outs(tracks: &[Track], used: FrameRange) -> Vec<KeepOut> {
    tracks
        .iter()
        .filter(|track| track.wish() == Wish::KeepOut)
        .map(|track| KeepOut {
            regions: used.frames().map(|frame| track.at(frame).map(|s| s.region)).collect(),
        })
        .collect()
}

/// The rules of the path planner that the user's limits make.
#[must_use]
pub fn pan_rules(limits: &Limits) -> Rules {
    let number = |limit| limits.number(limit);
    Rules {
        still_zone: number(Limit::StillZone),
        pan_caution: limits.value(Limit::PanCaution),
        pan_hard: limits.value(Limit::PanHard),
        greatest_travel: limits.value(Limit::GreatestTravel),
        fits_share: number(Limit::FitsShare),
        fits_short: number(Limit::FitsShort),
        tight_share: number(Limit::TightShare),
        tight_middle: number(Limit::TightMiddle),
        least_inside_secs: limits.value(Limit::LeastInside),
        weights: Weights {
            acceleration: number(Limit::WeightAcceleration),
            containment: number(Limit::WeightContainment),
            place: number(Limit::WeightPlace),
            width: number(Limit::WeightWidth),
        },
        moves: MoveRules {
            least_hold_secs: number(Limit::LeastHold),
            least_move_secs: number(Limit::LeastMove),
            greatest_move_secs: number(Limit::GreatestMove),
            reversal_secs: limits.value(Limit::Reversal),
            ease: Ease::with_peak(number(Limit::EasePeak)).unwrap_or(Ease::SMOOTH),
            cost: number(Limit::WeightMove),
            cost_per_sec: number(Limit::WeightMoving),
            place: number(Limit::WeightMovePlace),
        },
    }
}
