//! The stills as pictures: each as large as it is, and all side by side.

use super::{
    answer::{ClipStills, Still, StillsFor},
    place::Placed,
};
use crate::{
    delivery::BlockedZones,
    draw::{ContactCell, contact_sheet},
    media::Opened,
    picture::{cut_out, shrink_to_fit},
    plan::px,
    tasks::{CancelToken, Event, Observer, Outputs, TaskError, pictures::write_png},
    timecode::FrameIndex,
};
use std::{
    collections::{BTreeMap, BTreeSet},
    ops::ControlFlow,
};

/// What the name of a still ends in, and that of the picture of all of them.
const ENDINGS: [&str; 2] = ["_still.png", "_stills.png"];

/// Whether a file of the outputs folder was written by this task.
pub(in crate::tasks) fn is_still(name: &str) -> bool {
    let Some((_, rest)) = name.rsplit_once("_still") else { return false };
    let rest = rest.strip_prefix('s').unwrap_or(rest);
    // One beside a file that was changed by hand ends in `_still.new.png`, or `_still.new-2.png`.
    rest == ".png" || (rest.starts_with(".new") && rest.ends_with(".png"))
}

/// The name of a frame's file.
pub(super) fn file_name(clip: &str, purpose: &str, frame: u64) -> String {
    format!("{clip}_{purpose}_frame-{frame:06}{}", ENDINGS[0])
}

/// Whether a file is a still of this clip for this purpose.
pub(super) fn is_of(name: &str, clip: &str, purpose: &str) -> bool {
    // Names of clips and purposes may hold `_` too: what follows has to be all of the rest.
    let rest = name.strip_prefix(&format!("{clip}_{purpose}_"));
    is_still(name)
        && rest.is_some_and(|rest| rest.starts_with("frame-") || rest.starts_with("stills."))
}

/// Cuts the stills out of their frames and writes them, and the picture of all of them.
///
/// # Errors
/// If a frame cannot be read or a file cannot be written; [`TaskError::Cancelled`].
pub(super) fn write(
    opened: &mut Opened,
    (clip, placed): (&mut ClipStills, &[Placed]),
    (blocked, outputs): (&BlockedZones, &mut Outputs),
    (observer, cancel): (&mut dyn Observer, &CancelToken),
) -> Result<(), TaskError> {
    /// A still is shown no larger than this beside the others.
    const SHOWN_PX: u32 = 480;
    let wanted: BTreeSet<FrameIndex> =
        clip.stills.iter().map(|still| FrameIndex(still.frame)).collect();
    observer.hear(Event::Begins { stage: "writing stills", steps: wanted.len() as u64 });
    let (mut cells, mut failed) = (BTreeMap::new(), None);
    let raster = clip.raster;
    let read = opened.frames.visit(&wanted, &mut |frame, picture| {
        observer.hear(Event::Step);
        let stills = clip.stills.iter_mut().zip(placed).enumerate();
        for (place, (still, placed)) in stills.filter(|(_, (one, _))| one.frame == frame.0) {
            let cut = cut_out(&picture, &placed.window, (raster, &placed.level));
            let small = shrink_to_fit(&cut, SHOWN_PX, SHOWN_PX);
            match cancel.check().and_then(|()| write_png(&still.file, &cut, outputs)) {
                Ok(name) => still.file = name,
                Err(error) => {
                    failed = Some(error);
                    return ControlFlow::Break(());
                }
            }
            cells.insert(place, cell(place, still, small, blocked));
        }
        ControlFlow::Continue(())
    });
    if let Some(error) = failed {
        return Err(error);
    }
    cancel.check()?;
    read.map_err(|source| TaskError::Frame { clip: clip.clip.clone(), source })?;
    let cells: Vec<ContactCell> = cells.into_values().collect();
    if !cells.is_empty() {
        let name = format!("{}_{}{}", clip.clip, clip.purpose, ENDINGS[1]);
        let sheet = contact_sheet(&heading(clip), &cells);
        clip.contact = Some(write_png(&name, &sheet, outputs)?);
    }
    Ok(())
}

fn heading(clip: &ClipStills) -> Vec<String> {
    let apart = format!("at least {:.2} s apart, the best first", clip.apart_secs);
    let of = clip.subject.as_ref().map_or_else(
        || "no subject is marked: sharpness of all of the picture".to_owned(),
        |name| format!("subject: {name}, the dashed box"),
    );
    vec![format!("Stills of {} for {}: {apart}", clip.clip, clip.purpose), of]
}

fn cell(
    place: usize,
    still: &Still,
    picture: crate::picture::RgbImage,
    blocked: &BlockedZones,
) -> ContactCell {
    let [left, top, width, height] = still.window_px;
    let subject = still.subject_px.map(|[x, y, wide, high]| {
        [(x - left) / width, (y - top) / height, wide / width, high / height]
    });
    ContactCell {
        picture,
        subject,
        blocked: [blocked.left, blocked.top, blocked.right, blocked.bottom],
        lines: words(place, still),
    }
}

/// What is said of a still below it.
fn words(place: usize, still: &Still) -> Vec<String> {
    let at = still.timecode.clone().unwrap_or_else(|| format!("{:.3} s", still.secs));
    let [left, top, width, height] = still.window_px.map(px);
    let print = &still.print;
    let blur = print.blur_px.map_or_else(
        || "blur not measured".to_owned(),
        |blur| format!("blur {}", blur_words(blur)),
    );
    let share = still
        .height_share
        .map_or(String::new(), |share| format!(", subject {:.0} % of the height", 100.0 * share));
    vec![
        format!("{}: frame {}, {at}", place + 1, still.frame),
        format!("sharpness {:.0} %, {blur}", 100.0 * still.parts.sharpness),
        format!("score {:.2}{share}", still.score),
        format!("{width} x {height} at {left},{top}: {:.2} MP", print.megapixels),
        format!(
            "{:.1} x {:.1} cm at {} px/in: {}",
            print.size_cm[0],
            print.size_cm[1],
            px(print.px_per_in),
            print.good_for()
        ),
    ]
}

/// A blur, with no decimals of a px that are not measured.
fn blur_words(blur_px: f64) -> String {
    if blur_px < 1.0 { "under 1 px".to_owned() } else { format!("{blur_px:.1} px") }
}

impl StillsFor {
    /// A deliverable, if they are for one: a client's conditions hold for it.
    pub(super) fn is_deliverable(&self) -> bool {
        matches!(self, Self::Deliverable(_))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stills_are_told_from_what_a_plan_writes_by_their_names() {
        let still = file_name("weir", "1280x720", 7);
        assert_eq!(still, "weir_1280x720_frame-000007_still.png");
        let beside = "weir_1280x720_frame-000007_still.new-2.png";
        for name in [&still, beside, "weir_1280x720_stills.png"] {
            assert!(is_still(name) && is_of(name, "weir", "1280x720"), "{name}");
            assert!(!is_of(name, "weir", "3-2"), "{name}");
        }
        for name in ["a_still.b_frame-000007_overlay.png", "weir_stills_keys.csv", "report.txt"] {
            assert!(!is_still(name), "{name}");
        }
    }
}
