//! The held window that is suggested without any mark, against the true boxes of real clips.

use crate::footage;
use lookroom::{
    action::{ActionFinder, ActionMap, ActionWeights, BackgroundMeter},
    clip::{Footage, Reading},
    geometry::{Region, Shape},
    media::open,
    picture::raster_of_lines,
};
use std::ops::ControlFlow;

pub(crate) fn action(clip: &str, weights: ActionWeights) -> Option<ActionMap> {
    let pattern = footage::folder()?.join("boxed").join(clip).join("%05d.jpg");
    let reading = Reading { rate: Some("24".parse().unwrap()), ..Reading::default() };
    let mut opened = open(&Footage::Sequence(pattern), &reading).unwrap();
    let (raster, whole) = (opened.facts.raster, opened.facts.whole());
    let size = raster_of_lines(raster, 360);
    let mut meter = BackgroundMeter::new(raster, size, None).unwrap();
    let mut finder = ActionFinder::new(raster, size, None, weights).unwrap();
    opened
        .frames
        .visit_luma(whole, size, &mut |_, luma| {
            let step = meter.take(luma, &[]).unwrap();
            finder.take(luma, step.as_ref()).unwrap();
            ControlFlow::Continue(())
        })
        .unwrap();
    Some(finder.finish())
}

/// The mean share of the true boxes' area between two columns.
pub(crate) fn kept(boxes: &[Region], left: f64, width: f64) -> f64 {
    let share = |region: &Region| {
        let inside = region.right().min(left + width) - region.left().max(left);
        inside.max(0.0) / region.width()
    };
    boxes.iter().map(share).sum::<f64>() / boxes.len() as f64
}

#[test]
fn the_suggested_window_keeps_more_of_the_true_subject_than_the_centred_one() {
    let shape: Shape = "9:16".parse().unwrap();
    let mut gains = Vec::new();
    for clip in footage::BOXED {
        let (Some(map), Some(boxes)) =
            (action(clip, ActionWeights::default()), footage::boxes(clip))
        else {
            return;
        };
        let suggestion = map.held_window(shape).unwrap_or_else(|| panic!("{clip}: nothing moves"));
        let window = &suggestion.window;
        let suggested = kept(&boxes, window.left(), window.width());
        let centred = kept(&boxes, (854.0 - window.width()) / 2.0, window.width());
        let best = (0..=584).map(|left| kept(&boxes, f64::from(left), 270.0)).fold(0.0, f64::max);
        eprintln!(
            "{clip}: {:.1} % of the true boxes, centred {:.1} %, at best {:.1} %; left {:.0}; action {:.3} and {:.3}; confidence {:.2}",
            100.0 * suggested,
            100.0 * centred,
            100.0 * best,
            window.left(),
            suggestion.kept_share,
            suggestion.centred_share,
            suggestion.confidence
        );
        gains.push(suggested - centred);
    }
    let mean = gains.iter().sum::<f64>() / gains.len() as f64;
    eprintln!("mean gain {:.1} points", 100.0 * mean);
    assert!(mean >= 0.05, "{gains:?}");
    assert!(gains.iter().all(|gain| *gain >= -0.05), "{gains:?}");
}
