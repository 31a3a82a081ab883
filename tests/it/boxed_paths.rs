//! Follow paths and moves on real boxes and on made tracks: how much they keep inside, how still they are, and how
//! far that is from what can be had at all.

use crate::{footage, objective::as_json, python, real_clips::vertical, refusals::refused};
use lookroom::{
    geometry::{Raster, Region, Shape, Window},
    pan::{
        Axis, Cause, FrameWish, Insets, Outcome, Pace, Request, Rules, Weights, Within, follow,
        follow_within, missing_px, moves, plan,
    },
};

const DELIVERED: [(u32, u32); 2] = [(270, 480), (480, 480)];

/// The sum of what all boxes lack, px.
fn shortfall_px(request: &Request, windows: &[Window]) -> f64 {
    let lacking = |(wish, window): (&FrameWish, &Window)| {
        let of_box = |region: &Region| {
            let (across, down) = missing_px(region, window, &Insets::default());
            across + down
        };
        wish.boxes.iter().map(|wished| of_box(&wished.region)).sum::<f64>()
    };
    request.frames.iter().zip(windows).map(lacking).sum()
}

/// How far centre and width travel, px.
fn variation_px(windows: &[Window]) -> f64 {
    let of_step = |pair: &[Window]| {
        (pair[1].centre_x() - pair[0].centre_x()).abs()
            + (pair[1].centre_y() - pair[0].centre_y()).abs()
            + (pair[1].width() - pair[0].width()).abs()
    };
    windows.windows(2).map(of_step).sum()
}

/// The least shortfall and the least variation with it, by an outside solver.
fn least(request: &Request) -> Option<(f64, f64)> {
    python::has(&["numpy", "scipy"]).then(|| {
        let told = python::run("oracle/containing_path.py", &[], &as_json(request).to_string());
        let told: serde_json::Value = serde_json::from_str(&told).unwrap();
        let px = |key: &str| told[key].as_f64().unwrap();
        (px("shortfall_px"), px("variation_px"))
    })
}

fn path(request: &Request) -> Vec<Window> {
    follow(request, &[]).unwrap().expect("a path")
}

/// With the default costs, whatever the pan limit: nothing is given up that could be had.
#[test]
fn as_much_of_real_boxes_is_kept_as_any_path_can_keep() {
    for clip in footage::BOXED {
        let Some(boxes) = footage::boxes(clip) else { return };
        for delivered in DELIVERED {
            for pan_hard in [None, Some(5.0), Some(2.0)] {
                let mut request = vertical(&boxes, delivered);
                request.rules.pan_hard = pan_hard;
                let Some((least_px, _)) = least(&request) else { return };
                let windows = path(&request);
                let ours = shortfall_px(&request, &windows);
                eprintln!(
                    "{clip} {delivered:?} {pan_hard:?}: lacks {ours:.3} px, least {least_px:.3}"
                );
                assert!(ours <= 1.01 * least_px + 0.01, "{clip} {delivered:?} {pan_hard:?}");
                if pan_hard.is_none() {
                    all_that_fits_is_inside(clip, &request, &windows);
                }
            }
        }
    }
}

fn all_that_fits_is_inside(clip: &str, request: &Request, windows: &[Window]) {
    let greatest = (request.greatest_width(), request.shape.height_for(request.greatest_width()));
    for (index, (wish, window)) in request.frames.iter().zip(windows).enumerate() {
        let region = &wish.boxes[0].region;
        if region.width() <= greatest.0 && region.height() <= greatest.1 {
            let (across, down) = missing_px(region, window, &Insets::default());
            assert!(across.max(down) < 0.01, "{clip} at {index}: {across} and {down} px");
        }
    }
}

/// What containing alone asks for: no wanted place, and nothing for starting and stopping but what keeps the path from
/// jerking at no cost. A wanted place moves the window for its own sake, so that the least variation is not its measure.
#[test]
fn a_path_that_only_contains_moves_hardly_more_than_it_must() {
    for clip in footage::BOXED {
        let Some(boxes) = footage::boxes(clip) else { return };
        for delivered in DELIVERED {
            let mut request = vertical(&boxes, delivered);
            let weights = request.rules.weights;
            request.rules.weights = Weights { acceleration: 0.001, place: 0.0, ..weights };
            let Some((_, least_px)) = least(&request) else { return };
            let windows = path(&request);
            let ours = variation_px(&windows);
            eprintln!("{clip} {delivered:?}: travels {ours:.2} px, least {least_px:.2}");
            assert!(
                ours <= 1.1 * least_px + 0.1,
                "{clip} {delivered:?}: {ours} against {least_px}"
            );
            all_that_fits_is_inside(clip, &request, &windows);
        }
    }
}

/// With every weight as it is by default: the limit on travel makes of them what each clip needs.
#[test]
fn within_a_limit_on_travel_no_window_goes_further_and_all_that_fits_is_inside() {
    const GREATEST: f64 = 1.1;
    for clip in footage::BOXED {
        let Some(boxes) = footage::boxes(clip) else { return };
        for delivered in DELIVERED {
            let mut request = vertical(&boxes, delivered);
            let free_px = variation_px(&path(&request));
            request.rules.greatest_travel = Some(GREATEST);
            let Some((least_shortfall_px, least_px)) = least(&request) else { return };
            let Within { windows, travel } = follow_within(&request, &[]).unwrap().expect("a path");
            let (travel, px) = (travel.expect("a limit"), variation_px(&windows));
            eprintln!(
                "{clip} {delivered:?}: travels {px:.2} px, and {free_px:.2} without a limit; least {least_px:.2}, ours \
                 {:.2}; factor {:.4}",
                travel.least_px, travel.factor
            );
            assert!(px <= GREATEST * least_px + 0.1, "{clip} {delivered:?}: {px} px");
            assert!(travel.beyond.is_none() && (travel.px - px).abs() < 1e-6, "{travel:?}");
            all_that_fits_is_inside(clip, &request, &windows);
            let lacking_px = shortfall_px(&request, &windows);
            assert!(lacking_px <= 1.01 * least_shortfall_px + 0.01, "{clip} {delivered:?}");
            // The least is the outside one but where the subject does not fit and travel is weighed against it.
            assert!(travel.least_px <= least_px + 1e-3, "{travel:?}");
            let factor_is_needed = free_px > GREATEST * travel.least_px;
            assert_eq!(travel.factor < 1.0, factor_is_needed, "{clip} {delivered:?}");

            let Outcome::Planned(planned) = plan(&request).unwrap() else { continue };
            let px = variation_px(&planned.windows);
            let way = planned.way;
            eprintln!("{clip} {delivered:?}: planned as {way}, travels {px:.2} px");
            assert!(px <= GREATEST * least_px + 0.1, "{clip} {delivered:?}: {way}, {px} px");
            all_that_fits_is_inside(clip, &request, &planned.windows);
        }
    }
}

#[test]
fn the_car_is_refused_in_the_vertical_shape_at_any_pan_limit() {
    let Some(boxes) = footage::boxes("car-roundabout") else { return };
    for pan_hard in [None, Some(5.0), Some(2.0)] {
        let mut request = vertical(&boxes, (270, 480));
        request.rules.pan_hard = pan_hard;
        let refusal = refused(&request);
        assert!(matches!(refusal.cause, Cause::TooLarge { axis: Axis::Across, .. }));
    }
}

/// Half of the zone of the made tracks: the window's centre is within so many px of the subject's.
const ZONE_PX: f64 = 250.0;

/// What the tracks' measuring noise may take of it: the measured places are fed in, the true ones judged by.
const NOISE_PX: f64 = 10.0;

struct Track {
    request: Request,
    measured: Vec<f64>,
    truth: Vec<f64>,
}

/// A made track of a minute (1800 frames at 30 a second, 3840 px wide), for a window 1216 px wide; no pan limit.
fn track(name: &str) -> Option<Track> {
    let text = std::fs::read_to_string(footage::tracks()?.join(format!("{name}.csv"))).unwrap();
    let column = |place: usize| -> Vec<f64> {
        text.lines()
            .skip(1)
            .map(|row| row.split(',').nth(place).unwrap().parse().unwrap())
            .collect()
    };
    let (measured, truth) = (column(1), column(2));
    let raster = Raster::new(3840, 2160).unwrap();
    // A box that is inside just when the centre is in the zone.
    let half = 1216.0 / 2.0 - (ZONE_PX - NOISE_PX);
    let seen =
        |x: &f64| FrameWish::for_box(Region::new(x - half, 980.0, 2.0 * half, 200.0).unwrap());
    let frames = measured.iter().map(seen).collect();
    let base = vertical(&[], (270, 480));
    let rules = Rules { still_zone: ZONE_PX / 1216.0, ..base.rules };
    let shape = Shape::new(1216, 2160).unwrap();
    let request = Request::plain((raster, shape), Pace::even(1.0 / 30.0), frames, rules);
    Some(Track { request, measured, truth })
}

fn centres(windows: &[Window]) -> Vec<f64> {
    windows.iter().map(Window::centre_x).collect()
}

#[expect(clippy::cast_precision_loss, reason = "1800 frames")]
fn share(holds: impl ExactSizeIterator<Item = bool>) -> f64 {
    let count = holds.len() as f64;
    holds.filter(|holds| *holds).count() as f64 / count
}

fn in_zone(centres: &[f64], truth: &[f64]) -> f64 {
    share(centres.iter().zip(truth).map(|(centre, truth)| (centre - truth).abs() <= ZONE_PX))
}

/// Frames to which the window moves by less than a twentieth of a px.
fn still(centres: &[f64]) -> f64 {
    share(centres.windows(2).map(|pair| (pair[1] - pair[0]).abs() < 0.05))
}

/// The root mean square of the third difference, px a frame³.
#[expect(clippy::cast_precision_loss, reason = "1800 frames")]
fn rms_jerk(centres: &[f64]) -> f64 {
    let thirds = centres.windows(4).map(|v| v[3] - 3.0 * v[2] + 3.0 * v[1] - v[0]);
    (thirds.map(|third| third * third).sum::<f64>() / (centres.len() - 3) as f64).sqrt()
}

/// The measured places smoothed by a Gaussian of one second, kept where a window can be: what a published table
/// compares with (rms jerk .013 and .011 on the two tracks).
fn gaussian(measured: &[f64]) -> Vec<f64> {
    const SIGMA_FRAMES: f64 = 30.0;
    const REACH: usize = 120;
    let weight = |away: usize| {
        let away = f64::from(u32::try_from(away).unwrap()) / SIGMA_FRAMES;
        (-0.5 * away * away).exp()
    };
    let total = weight(0) + 2.0 * (1..=REACH).map(weight).sum::<f64>();
    let last = measured.len() - 1;
    let smoothed = |index: usize| {
        let beside = (1..=REACH).map(|away| {
            let both = measured[index.saturating_sub(away)] + measured[(index + away).min(last)];
            weight(away) * both
        });
        let sum = weight(0) * measured[index] + beside.sum::<f64>();
        (sum / total).clamp(608.0, 3232.0)
    };
    (0..=last).map(smoothed).collect()
}

#[test]
fn follow_keeps_made_tracks_in_zone_stiller_and_no_rougher_than_smoothing() {
    // With the limit on travel that holds on real boxes, too.
    let limits = [None, Some(1.1)];
    for (name, greatest_travel) in
        ["one-minute-1", "one-minute-2"].iter().flat_map(|name| limits.map(|limit| (*name, limit)))
    {
        let Some(mut track) = track(name) else { return };
        track.request.rules.greatest_travel = greatest_travel;
        let smooth = gaussian(&track.measured);
        let Within { windows, travel } =
            follow_within(&track.request, &[]).unwrap().expect("a path");
        assert!(travel.is_none_or(|travel| travel.beyond.is_none()), "{name}: {travel:?}");
        let ours = centres(&windows);
        let zone = in_zone(&ours, &track.truth);
        let (jerk, smooth_jerk) = (rms_jerk(&ours), rms_jerk(&smooth));
        let (stillness, smooth_stillness) = (still(&ours), still(&smooth));
        eprintln!(
            "{name}, {greatest_travel:?}: in zone {zone:.4}; jerk {jerk:.4} against {smooth_jerk:.4}; still {stillness:.3} \
             against {smooth_stillness:.3}"
        );
        assert!(zone >= 1.0, "{name}: {zone}");
        assert!(jerk <= smooth_jerk, "{name}: {jerk} against {smooth_jerk}");
        assert!(stillness >= 1.4 * smooth_stillness, "{name}: {stillness}");
    }
}

#[test]
fn moves_keep_made_tracks_in_zone_with_few_moves() {
    for name in ["one-minute-1", "one-minute-2"] {
        let Some(track) = track(name) else { return };
        // Moves weigh the zone against each other as a wanted place; the box is the subject's own.
        let mut request = track.request;
        let seen =
            |x: &f64| FrameWish::for_box(Region::new(x - 100.0, 980.0, 200.0, 200.0).unwrap());
        request.frames = track.measured.iter().map(seen).collect();
        request.rules.still_zone = (ZONE_PX - NOISE_PX) / 1216.0;
        let plan = moves(&request, &[]).expect("a plan");
        let ours = centres(&plan.windows(&request).expect("windows inside"));
        let (zone, stillness) = (in_zone(&ours, &track.truth), still(&ours));
        let count = plan.moves().len();
        eprintln!("{name}: in zone {zone:.4}, still {stillness:.3}, {count} moves");
        assert!(zone >= 0.995 && stillness >= 0.75 && count <= 6, "{name}");
    }
}
