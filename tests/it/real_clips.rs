//! The planner on the true boxes of real clips.

use crate::footage;
use lookroom::{
    geometry::{Raster, Region, Rounding, SourcePoint},
    pan::{
        Axis, Cause, FrameWish, Insets, Outcome, Place, Request, Rules, Verdict, Weights,
        WishedBox, plan,
    },
};

/// A 9:16 request on an 854 x 480 capture with a mark on every frame, margins 0 and pan limits off.
pub(crate) fn vertical(boxes: &[Region], (width, height): (u32, u32)) -> Request {
    let raster = Raster::new(854, 480).unwrap();
    let delivered = Raster::new(width, height).unwrap();
    let wish = |region: &Region| FrameWish {
        boxes: vec![WishedBox { region: *region, weight: 1.0 }],
        point: Some(SourcePoint { x: region.centre_x(), y: region.centre_y() }),
    };
    let request = Request {
        raster,
        usable: Region::whole(raster),
        shape: delivered.shape(),
        least_width: delivered.width() / 2.0,
        preferred_width: 0.0,
        rounding: Rounding::Even,
        step_secs: 1.0 / 24.0,
        margins: (0.0, 0.0),
        blocked: Insets::default(),
        place: Place { across: 0.5, down: 0.5 },
        frames: boxes.iter().map(wish).collect(),
        pins: Vec::new(),
        keep_outs: Vec::new(),
        rules: Rules {
            still_zone: 0.12,
            pan_caution: None,
            pan_hard: None,
            fits_share: 0.995,
            fits_short: 0.02,
            tight_share: 0.90,
            tight_middle: 0.5,
            weights: Weights { acceleration: 0.15, containment: 1000.0, place: 3.0, width: 30.0 },
        },
    };
    Request { preferred_width: request.greatest_width(), ..request }
}

#[test]
fn vertical_fits_on_the_bike() {
    let Some(boxes) = footage::boxes("bmx-trees") else { return };
    let Outcome::Planned(planned) = plan(&vertical(&boxes, (270, 480))).unwrap() else {
        panic!("refused")
    };
    eprintln!(
        "{:?} {:?} {:?} {:?}",
        planned.way, planned.assessment, planned.peak, planned.objective
    );
    assert_eq!(planned.assessment.verdict, Verdict::Fits);
}

#[test]
fn vertical_is_tight_on_the_runner() {
    let Some(boxes) = footage::boxes("parkour") else { return };
    if let Outcome::DoesNotFit(r) = plan(&vertical(&boxes, (270, 480))).unwrap() {
        for (i, (w, b)) in r.attempt.iter().zip(&boxes).enumerate() {
            eprintln!(
                "{i} win {:.2}+{:.2} box {}+{} short {:.2}",
                w.left(),
                w.width(),
                b.left(),
                b.width(),
                lookroom::pan::missing_px(b, w, &Insets::default()).0
            );
        }
        eprintln!("{:?} {} {:?} {:?}", r.cause, r.share_inside, r.first, r.worst);
    }
    let Outcome::Planned(planned) = plan(&vertical(&boxes, (270, 480))).unwrap() else {
        panic!("refused")
    };
    eprintln!(
        "{:?} {:?} {:?} {:?}",
        planned.way, planned.assessment, planned.peak, planned.objective
    );
    assert_eq!(planned.assessment.verdict, Verdict::Tight);
}

#[test]
fn vertical_is_refused_on_the_car_with_the_missing_px() {
    let Some(boxes) = footage::boxes("car-roundabout") else { return };
    let Outcome::DoesNotFit(refusal) = plan(&vertical(&boxes, (270, 480))).unwrap() else {
        panic!("planned")
    };
    eprintln!("{:?} {:?} {:?} {:?}", refusal.cause, refusal.first, refusal.worst, refusal.remedies);
    assert_eq!(refusal.first.index, 0);
    assert!((refusal.first.missing_px - (440.0 - 270.0)).abs() < 1e-6);
    let widest = boxes.iter().map(Region::width).fold(0.0, f64::max);
    assert!((refusal.worst.missing_px - (widest - 270.0)).abs() < 1e-6, "{refusal:?}");
    assert!(matches!(refusal.cause, Cause::TooLarge { axis: Axis::Across, .. }));
}
