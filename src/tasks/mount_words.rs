//! The words of a mount sheet: short lines for gloved hands and sunlight.

use super::{
    endurance::{Endurance, ExposureAnswer, whole_minutes},
    mount_answer::{MountAnswer, MountShapeAnswer, SubjectAtAnswer, UnmetAnswer, remedy_words},
};
use crate::{geometry::Shape, lens::Between, page::PageShape, plan::px};

/// What each distance is called, the nearest first.
pub(super) fn distance_names(distances_m: &[f64]) -> Vec<String> {
    let words: &[&str] = match distances_m.len() {
        2 => &["near ", "far "],
        3 => &["near ", "middle ", "far "],
        _ => &[""],
    };
    let name = |(place, metres): (usize, &f64)| {
        format!("{}{} m", words.get(place).unwrap_or(&""), plain(*metres))
    };
    distances_m.iter().enumerate().map(name).collect()
}

/// What is set by hand.
pub(super) fn settings(mount: &MountAnswer) -> Vec<[String; 2]> {
    let mut told = vec![
        ("height", format!("{} m", plain(mount.height_m))),
        ("tilt", tilt(mount.tilt_down_degrees)),
        ("roll", roll(mount.roll_degrees)),
    ];
    if let Some(exposure) = &mount.exposure {
        if let Some(take) = &exposure.take {
            let stops = plain(take.stops);
            let filter =
                if take.stops > 0.0 { format!("{stops} stops") } else { "none".to_owned() };
            let filter = match exposure.short_stops {
                Some(short) => format!("{filter}: {short:.1} stops TOO WEAK"),
                None => filter,
            };
            told.push(("ND filter", filter));
        }
        let taken = exposure.set.or(exposure.take.map(|take| [take.secs, take.angle_degrees]));
        if let Some([secs, degrees]) = taken {
            let told_secs = part_of_a_second(secs);
            told.push((
                "shutter",
                match exposure.longest_secs {
                    Some(longest) => {
                        format!("{told_secs}: TOO LONG, {} at most", part_of_a_second(longest))
                    }
                    None => format!("{told_secs}, {degrees:.0}°"),
                },
            ));
        }
    }
    let endurance = &mount.endurance;
    if let (Some(what), Some(minutes)) = (endurance.stops_first, endurance.stops_after_minutes) {
        let minutes = format!("{what}, {:.0} min", whole_minutes(minutes));
        told.push(match &endurance.change_by {
            Some(by) => ("change by", format!("{by} ({minutes})")),
            None => ("stops first", minutes),
        });
    }
    told.into_iter().map(|(name, value)| [name.to_owned(), value]).collect()
}

/// Camera and mode, a line each.
pub(super) fn facts(mount: &MountAnswer) -> Vec<String> {
    vec![
        format!(
            "{} {}, {}, {} at {} frames/s, {}x slow motion",
            mount.camera,
            mount.mode,
            mount.way_up,
            mount.shown,
            mount.rate,
            plain(mount.slow_motion)
        ),
        format!(
            "{} ({}), {:.1} by {:.1} degrees",
            mount.lens, mount.lens_from, mount.fov_degrees[0], mount.fov_degrees[1]
        ),
    ]
}

/// What each deliverable gets; what is said of one is not said again of the next that has the same window.
pub(super) fn shapes(
    answers: &[MountShapeAnswer],
    shapes: &[Shape],
    distances: &[String],
) -> Vec<PageShape> {
    let mut told: Vec<PageShape> = Vec::new();
    let mut last: Option<(&MountShapeAnswer, Vec<String>)> = None;
    for (answer, of) in answers.iter().zip(shapes) {
        let mut page = shape(answer, *of, distances);
        match &last {
            Some((first, lines)) if *lines == page.lines && !lines.is_empty() => {
                page.lines = vec![format!("else as {}", first.deliverable)];
            }
            _ => last = Some((answer, page.lines.clone())),
        }
        told.push(page);
    }
    told
}

/// What one deliverable gets.
fn shape(answer: &MountShapeAnswer, shape: Shape, distances: &[String]) -> PageShape {
    let mut lines = Vec::new();
    let percent = |share: &Between| share.words(|share| format!("{:.0}", 100.0 * share));
    let at = |list: &[Option<Between>], place: usize| list.get(place).copied().flatten();
    for (place, distance) in distances.iter().enumerate() {
        let told = (
            at(&answer.subject_width, place),
            at(&answer.subject_top, place),
            at(&answer.subject_bottom, place),
        );
        lines.push(match told {
            (Some(width), Some(top), Some(bottom)) => format!(
                "{distance}: {}\u{a0}% wide, top {}\u{a0}% down, bottom {}\u{a0}%",
                percent(&width),
                percent(&top),
                percent(&bottom)
            ),
            _ => format!("{distance}: not all drawn by the lens"),
        });
    }
    lines.extend(answer.horizon_words());
    PageShape {
        name: format!("{} {shape}", answer.deliverable),
        verdict: verdict(answer),
        is_refused: !answer.fits,
        lines,
    }
}

fn verdict(answer: &MountShapeAnswer) -> String {
    if answer.window_px.is_none() {
        let through = answer.through_words();
        let missing = answer.missing_words();
        return match (answer.through.is_empty(), answer.depends_on_lens) {
            (false, true) => format!("DOES NOT FIT through every lens: {}", through.join("; ")),
            _ => format!("DOES NOT FIT: {missing}"),
        };
    }
    let enlarged = format!("E {:.2}{}, {}", answer.enlargement, answer.because, answer.band);
    let unmet: Vec<String> = answer.unmet.iter().map(UnmetAnswer::words).collect();
    if unmet.is_empty() {
        enlarged
    } else {
        format!("DOES NOT DO: {}; {enlarged}", unmet.join("; "))
    }
}

/// What makes everything fit.
pub(super) fn remedy(mount: &MountAnswer) -> Option<String> {
    let asked: Vec<String> = mount.unmet.iter().map(UnmetAnswer::words).collect();
    let asked = (!asked.is_empty()).then(|| format!("The mode does not do: {}.", asked.join("; ")));
    let mended = (!mount.have_rooms).then(|| match &mount.remedy {
        Some(remedy) => format!("So that every shape fits: {}.", remedy_words(remedy, "°")),
        None => "No single change of tilt, height or distance makes every shape fit.".to_owned(),
    });
    let told: Vec<String> = asked.into_iter().chain(mended).collect();
    (!told.is_empty()).then(|| told.join(" "))
}

/// What else is to be known.
pub(super) fn notes(mount: &MountAnswer, distances: &[String]) -> Vec<String> {
    let edge = |place: usize| {
        let wide = mount.ground_across_m[place].map(|across| format!(" ({across:.1} m wide)"));
        mount.ground_m[place].map_or_else(
            || "the horizon".to_owned(),
            |metres| format!("{metres:.1} m{}", wide.unwrap_or_default()),
        )
    };
    let row = mount
        .horizon_row
        .map_or_else(|| "not drawn".to_owned(), |row| format!("at row {}", row.words(px)));
    let mut notes =
        vec![format!("Horizon {row}; the ground is seen from {} to {}.", edge(0), edge(1))];
    if let Some(subject) = &mount.subject {
        notes.extend(subject.at.iter().zip(distances).filter_map(|(at, name)| passing(at, name)));
    }
    if let Some(exposure) = &mount.exposure {
        notes.extend(exposure.rise_stops.and_then(rise));
        notes.extend(flicker(exposure));
    }
    notes.extend(endurance(&mount.endurance));
    notes
}

fn passing(at: &SubjectAtAnswer, name: &str) -> Option<String> {
    let (degrees, px) = at.degrees_a_second.zip(at.px_a_second)?;
    let blur = at.blur_px.map_or_else(String::new, |blur| format!(", blur {blur:.0} px"));
    Some(format!("{name}: passes at {degrees:.0}°/s, {px:.0} px/s{blur}."))
}

/// What the filter leaves to the sensitivity where the shutter is set.
fn rise(stops: f64) -> Option<String> {
    /// A tenth of a stop is not seen.
    const SEEN: f64 = 0.05;
    match stops {
        stops if stops > SEEN => {
            Some(format!("With this filter the ISO rises by {stops:.1} stops."))
        }
        stops if stops < -SEEN => Some(format!(
            "Even so it is {:.1} stops TOO BRIGHT: shorter shutter, or close the lens.",
            -stops
        )),
        _ => None,
    }
}

fn flicker(exposure: &ExposureAnswer) -> Option<String> {
    let free = exposure.flicker_free_secs.as_ref()?;
    let shutters: Vec<String> = free.iter().map(|secs| part_of_a_second(*secs)).collect();
    let told =
        if shutters.is_empty() { "none at this rate".to_owned() } else { shutters.join(", ") };
    let warning =
        if exposure.is_flicker_free == Some(false) { " THIS SHUTTER MAY FLICKER." } else { "" };
    Some(format!("Free of flicker under the lamps: {told}.{warning}"))
}

fn endurance(endurance: &Endurance) -> Vec<String> {
    let card = endurance.card_planned_minutes.map(|minutes| format!("card {minutes:.0} min"));
    let battery = endurance.battery_minutes.map(|[least, most]| {
        let from = endurance.battery_from.as_deref().unwrap_or("");
        if (most - least).abs() < 0.5 {
            format!("battery {:.0} min ({from})", whole_minutes(least))
        } else {
            format!("battery {:.0} to {most:.0} min ({from})", whole_minutes(least))
        }
    });
    let lasts: Vec<String> = [card, battery].into_iter().flatten().collect();
    let mut told = Vec::new();
    if !lasts.is_empty() {
        told.push(format!("To be planned with: {}.", lasts.join(", ")));
    }
    told.extend(endurance.battery_unknown.as_ref().map(|why| format!("Battery: {why}.")));
    if let (Some(short), Some(needed)) = (endurance.short_minutes, endurance.needed_minutes) {
        told.push(format!("It stops {short:.0} min short of the {needed:.0} min it has to run."));
    }
    told
}

/// The tilt: `30° down`.
pub(super) fn tilt(degrees: f64) -> String {
    turned(degrees, ["down", "up", "level"])
}

fn roll(degrees: f64) -> String {
    turned(degrees, ["clockwise", "counterclockwise", "level"])
}

fn turned(degrees: f64, [above, below, none]: [&str; 3]) -> String {
    let told = plain(degrees.abs());
    match told.as_str() {
        "0" => none.to_owned(),
        _ => format!("{told}° {}", if degrees > 0.0 { above } else { below }),
    }
}

fn part_of_a_second(secs: f64) -> String {
    if secs < 0.5 { format!("1/{:.0} s", 1.0 / secs) } else { format!("{secs:.1} s") }
}

/// A figure with two decimals at the most, and none that are noughts.
fn plain(value: f64) -> String {
    format!("{}", (value * 100.0).round() / 100.0 + 0.0)
}
