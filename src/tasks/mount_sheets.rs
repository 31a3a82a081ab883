//! One page for each camera of a brief: how to mount it, and what it will see.

use super::{
    Outputs, TaskError,
    kit::Prepared,
    mount_answer::{MountAnswer, MountsAnswer},
    mount_words as words,
    pictures::png,
    planned_mounts::{PlannedMount, planned_mounts},
    predict_mounts::mounts_answer,
};
use crate::{
    draw::{DrawnWindow, Look, MountScene, MountSheet, Prediction, mount_sheet, predicted_frame},
    geometry::{Shape, Window},
    mount::{CAUTIONS, SeenLines, ShapeOutlook, WindowRoom},
    page::{MountPage, PageShape},
    plan::OutputNote,
};
use std::path::{Path, PathBuf};

/// What was written.
#[derive(Debug, Clone, PartialEq)]
pub struct MountSheetsDone {
    /// The outputs folder.
    pub folder: PathBuf,
    /// The sheets in it, in the order of the brief.
    pub sheets: Vec<WrittenMountSheet>,
    /// Files that were changed by hand and left alone.
    pub notes: Vec<OutputNote>,
    /// The same in figures.
    pub answer: MountsAnswer,
}

/// The files of one mount.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrittenMountSheet {
    /// The mount.
    pub mount: String,
    /// The picture's name.
    pub picture: String,
    /// The page's name.
    pub page: String,
}

const ENDINGS: [&str; 2] = ["_mount-sheet.png", "_mount-sheet.html"];

/// Whether a file of an outputs folder is a mount sheet, by its name.
pub(super) fn is_sheet(name: &str) -> bool {
    ENDINGS.iter().any(|ending| name.ends_with(ending))
}

/// Writes a sheet for every mount of a brief, or only for those named: `MOUNT_mount-sheet.png` and `.html`. Without a folder to
/// write to, the brief's own is taken. A sheet that was changed by hand is left alone, and the new one stands beside it.
///
/// # Errors
/// As [`super::predict_mounts`]; [`TaskError::Output`] for what cannot be written.
pub fn mount_sheets(
    brief: &Path,
    kit: Option<&Path>,
    only: &[String],
    out: Option<&Path>,
) -> Result<MountSheetsDone, TaskError> {
    let prepared = Prepared::read(brief, kit)?;
    let planned = planned_mounts(&prepared, only)?;
    let answer = mounts_answer(&prepared, &planned);
    let folder = out.map_or_else(|| prepared.brief.outputs.clone(), Path::to_owned);
    let mut outputs = Outputs::open(&folder)?;
    let mut sheets = Vec::new();
    for (mount, answer) in planned.iter().zip(&answer.mounts) {
        sheets.push(write_sheet(mount, answer, &mut outputs)?);
    }
    if only.is_empty() {
        outputs.sweep(is_sheet)?;
    }
    let notes = outputs.notes().to_vec();
    outputs.finish()?;
    Ok(MountSheetsDone { folder, sheets, notes, answer })
}

fn write_sheet(
    mount: &PlannedMount<'_>,
    answer: &MountAnswer,
    outputs: &mut Outputs,
) -> Result<WrittenMountSheet, TaskError> {
    let name = &mount.written.name;
    let [picture, page] = ENDINGS.map(|ending| format!("{name}{ending}"));
    let frame = predicted_frame(&scene(mount));
    let told = MountPage { picture: png(&frame, &page)?, ..page_of(mount, answer) };
    let sheet =
        mount_sheet(&MountSheet { title: title(&told), frame: &frame, sections: sections(&told) });
    let mut html = Vec::new();
    let failed = |source| TaskError::Output { path: outputs.folder().join(&page), source };
    told.write(&mut html).map_err(failed)?;
    Ok(WrittenMountSheet {
        mount: name.clone(),
        picture: outputs.write(&picture, &png(&sheet, &picture)?)?,
        page: outputs.write(&page, &html)?,
    })
}

/// What is drawn of a mount.
fn scene(mount: &PlannedMount<'_>) -> MountScene {
    let pose = mount.written.pose;
    let prediction = |lens: &crate::lens::Lens| Prediction {
        lens: *lens,
        pose,
        lines: SeenLines::of(&pose, lens, &mount.scene),
    };
    MountScene {
        raster: mount.lenses.raster(),
        predictions: mount.lenses.iter().map(prediction).collect(),
        board_labels: words::distance_names(&mount.scene.distances_m),
        windows: windows(mount, &mount.shapes(&mount.outlooks())),
        rig: mount.written.rig.clone(),
    }
}

/// The windows of what fits; where that depends on the lens, through the first through which it does. Those that are the same are
/// drawn once.
fn windows(mount: &PlannedMount<'_>, shapes: &[ShapeOutlook]) -> Vec<DrawnWindow> {
    let mut windows: Vec<DrawnWindow> = Vec::new();
    for ((deliverable, _), shape) in mount.deliverables.iter().zip(shapes) {
        let through = || shape.through.iter().find_map(WindowRoom::window);
        let Some(window) = shape.room.window().or_else(through).copied() else { continue };
        let name = format!("{} {}", deliverable.name, deliverable.shape());
        match windows.iter_mut().find(|drawn| are_one(&drawn.window, &window)) {
            Some(drawn) => drawn.label.push(name),
            None => windows.push(DrawnWindow {
                label: vec![name],
                window,
                roll_degrees: 0.0,
                look: Look::of_slot(windows.len()),
            }),
        }
    }
    windows
}

fn are_one(one: &Window, other: &Window) -> bool {
    /// Nearer to each other two outlines are one line on the sheet. Chosen.
    const SAME_PX: f64 = 0.5;
    let edges = |window: &Window| [window.left(), window.top(), window.right(), window.bottom()];
    edges(one).iter().zip(edges(other)).all(|(a, b)| (a - b).abs() <= SAME_PX)
}

fn page_of(mount: &PlannedMount<'_>, answer: &MountAnswer) -> MountPage {
    let distances = words::distance_names(&mount.scene.distances_m);
    let shapes: Vec<Shape> = mount.deliverables.iter().map(|(of, _)| of.shape()).collect();
    MountPage {
        name: answer.name.clone(),
        facts: words::facts(answer),
        settings: words::settings(answer),
        picture: Vec::new(),
        picture_words: picture_words(mount, answer),
        legend: legend(mount),
        shapes: words::shapes(&answer.shapes, &shapes, &distances),
        remedy: words::remedy(answer),
        notes: words::notes(answer, &distances),
        cautions: CAUTIONS.map(str::to_owned).to_vec(),
    }
}

fn picture_words(mount: &PlannedMount<'_>, answer: &MountAnswer) -> String {
    let subject = mount.scene.subject.as_ref().map_or("no subject", |subject| &subject.name);
    format!(
        "The predicted frame of {}: {} m up, tilt {}, with the horizon, a grid on the ground, {subject} and the windows.",
        answer.name,
        answer.height_m,
        words::tilt(answer.tilt_down_degrees)
    )
}

/// How the drawing is read, of what is on it.
fn legend(mount: &PlannedMount<'_>) -> String {
    let mut told =
        vec!["Gray: ground or water. Left: metres ahead; below: metres to the side.".to_owned()];
    if let Some(subject) = &mount.scene.subject {
        let drift = if subject.drift_m > 0.0 { "; dotted box: with its drift" } else { "" };
        told.push(format!("White board: {}{drift}.", subject.name));
    }
    if !mount.scene.rig.is_empty() {
        told.push("Striped: the rig.".to_owned());
    }
    let mut lenses = mount.lenses.iter().map(|lens| lens.mapping().words());
    if let (Some(first), Some(other)) = (lenses.next(), lenses.next()) {
        told.push(format!(
            "The lens is not known: full lines are of a {first}, dashed ones of an {other}; windows keep everything through both, or else through the first that lets them."
        ));
    }
    told.join(" ")
}

fn title(page: &MountPage) -> Vec<String> {
    let settings: Vec<String> =
        page.settings.iter().map(|[name, value]| format!("{name} {value}")).collect();
    let mut lines = vec![page.name.clone(), settings.join(" · ")];
    lines.extend(page.facts.iter().cloned());
    lines
}

fn sections(page: &MountPage) -> Vec<(String, Vec<String>)> {
    let shape = |shape: &PageShape| {
        std::iter::once(format!("{}: {}", shape.name, shape.verdict))
            .chain(shape.lines.iter().map(|line| format!("– {line}")))
            .collect::<Vec<_>>()
    };
    let shapes = page.remedy.iter().cloned().chain(page.shapes.iter().flat_map(shape)).collect();
    vec![
        ("How to read it".to_owned(), vec![page.legend.clone()]),
        ("What each shape gets".to_owned(), shapes),
        ("To know".to_owned(), page.notes.clone()),
        ("Care".to_owned(), page.cautions.clone()),
    ]
}
