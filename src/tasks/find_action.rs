//! Where the action is in a clip that nobody marked: a held window for each delivery, to start marking from.

use super::{
    CancelToken, Event, Observer, TaskError, looking::shots_between, observe::watch_counting,
    outputs::write_whole,
};
use crate::{
    action::{
        ActionError, ActionFinder, ActionMap, ActionWeights, BackgroundMeter, CutFinder, RigFinder,
    },
    clip::Reading,
    draw::{DrawnWindow, Look, Scene, heat, overlay},
    geometry::Raster,
    media::{self, Opened},
    picture::{GrayImage, RgbImage, raster_of_lines},
    timecode::{FrameIndex, FrameRange},
};
use image::{ImageEncoder, codecs::png::PngEncoder};
use serde::{Serialize, Serializer};
use std::{
    collections::BTreeSet,
    ops::ControlFlow,
    path::{Path, PathBuf},
};

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct FindQuestion {
    /// A video file, a folder of numbered pictures or a pattern of their names.
    pub path: PathBuf,
    /// What has to be known to read it.
    pub reading: Reading,
    /// The rasters that it is delivered in.
    pub delivered: Vec<Raster>,
    /// Where to write a picture of where the action is.
    pub picture: Option<PathBuf>,
}

/// Where the action is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FindAnswer {
    /// The clip.
    pub path: PathBuf,
    /// Its raster as shown.
    #[serde(serialize_with = "as_text")]
    pub raster: Raster,
    /// Its shots: it is cut between them.
    pub shots: Vec<ShotAction>,
}

/// Where the action is in one shot.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShotAction {
    /// The first frame, and the first after.
    pub frames: [u64; 2],
    /// The share of the frame that is fixed to the rig, where some of it was found.
    pub rig_share: Option<f64>,
    /// For each delivery, the window; none where next to nothing moves.
    pub windows: Vec<Option<FoundWindow>>,
}

/// A held window that keeps the most action.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FoundWindow {
    /// The delivered raster.
    #[serde(serialize_with = "as_text")]
    pub delivered: Raster,
    /// Left, top, width, height.
    pub window_px: [f64; 4],
    /// The share of all action that is inside.
    pub kept_share: f64,
    /// The same of the window in the middle of the frame.
    pub centred_share: f64,
    /// From 0 to 1; below a half it says little.
    pub confidence: f64,
}

fn as_text<S: Serializer>(raster: &Raster, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(raster)
}

/// Pictures are looked at with so many lines.
const LINES: u32 = 360;

/// Looks for the action in a clip without any mark: a suggestion to start marking from, not a track.
///
/// The clip is read twice: for its cuts and what is fixed to the rig, and for what moves. One with cuts is read once more, since
/// what is fixed may differ from shot to shot.
///
/// # Errors
/// [`TaskError::Footage`] if it cannot be read; [`TaskError::Frame`]; [`TaskError::IsThere`] if the picture's file is there
/// already; [`TaskError::Output`]; [`TaskError::Cancelled`].
pub fn find_action(
    question: &FindQuestion,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<FindAnswer, TaskError> {
    if let Some(path) = question.picture.as_ref().filter(|path| path.exists()) {
        return Err(TaskError::IsThere { path: path.clone() });
    }
    let mut watch = watch_counting(&mut *observer, cancel);
    let opened = media::open_at(&question.path, &question.reading, &mut watch);
    drop(watch);
    cancel.check()?;
    let mut opened = opened.map_err(|fault| TaskError::Footage {
        path: question.path.clone(),
        source: Box::new(fault),
    })?;
    let (raster, whole) = (opened.facts.raster, opened.facts.whole());
    let size = raster_of_lines(raster, LINES);
    let name = question.path.display().to_string();
    let mut look = Reader { opened: &mut opened, name: &name, size, observer, cancel };
    look.observer.hear(Event::Begins { stage: "looking for cuts", steps: whole.frame_count() });
    let (cuts, mut rig_of_whole) = look.first(whole)?;
    let passes = if cuts.is_empty() { 1 } else { 2 };
    let steps = passes * whole.frame_count();
    look.observer.hear(Event::Begins { stage: "looking for action", steps });
    let mut shots = Vec::new();
    let mut longest: Option<(FrameRange, ActionMap, usize)> = None;
    for shot in shots_between(whole, &cuts) {
        let rig = match rig_of_whole.take() {
            Some(rig) => rig,
            None => look.rig(shot)?,
        };
        let (map, rig_share) = look.shot(raster, shot, &rig)?;
        let found = |delivered: &Raster| found_window(&map, *delivered);
        let windows = question.delivered.iter().map(found).collect();
        let frames = [shot.first().0, shot.end().0];
        if longest.as_ref().is_none_or(|(best, ..)| shot.frame_count() > best.frame_count()) {
            longest = Some((shot, map, shots.len()));
        }
        shots.push(ShotAction { frames, rig_share, windows });
    }
    if let (Some(path), Some((shot, map, number))) = (&question.picture, longest) {
        let picture = look.frame(FrameIndex(shot.first().0 + shot.frame_count() / 2))?;
        write_picture(path, (&picture, raster), (&map, shot), &shots[number])?;
    }
    Ok(FindAnswer { path: question.path.clone(), raster, shots })
}

fn found_window(map: &ActionMap, delivered: Raster) -> Option<FoundWindow> {
    let held = map.held_window(delivered.shape())?;
    let window = &held.window;
    Some(FoundWindow {
        delivered,
        window_px: [window.left(), window.top(), window.width(), window.height()],
        kept_share: held.kept_share,
        centred_share: held.centred_share,
        confidence: held.confidence,
    })
}

/// A clip that is looked at, a reading at a time.
struct Reader<'a> {
    opened: &'a mut Opened,
    name: &'a str,
    size: Raster,
    observer: &'a mut dyn Observer,
    cancel: &'a CancelToken,
}

impl Reader<'_> {
    fn read(
        &mut self,
        frames: FrameRange,
        mut take: impl FnMut(&GrayImage) -> Result<(), ActionError>,
    ) -> Result<(), TaskError> {
        let (observer, cancel) = (&mut *self.observer, self.cancel);
        let mut taken = Ok(());
        let read = self.opened.frames.visit_luma(frames, self.size, &mut |_, luma| {
            observer.hear(Event::Step);
            taken = take(luma);
            let is_over = cancel.is_cancelled() || taken.is_err();
            if is_over { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        });
        taken?;
        read.map_err(|source| TaskError::Frame { clip: self.name.to_owned(), source })?;
        cancel.check()
    }

    /// The cuts, and what is fixed if there are none.
    fn first(
        &mut self,
        whole: FrameRange,
    ) -> Result<(Vec<FrameIndex>, Option<RigFinder>), TaskError> {
        let (mut finder, mut rig) = (CutFinder::new(self.size), RigFinder::new(self.size));
        let first = whole.first().0;
        self.read(whole, |luma| finder.take(luma).and_then(|()| rig.take(luma)))?;
        let cuts = finder.finish().into_iter().map(|cut| FrameIndex(first + cut.0));
        let cuts: Vec<FrameIndex> = cuts.collect();
        let is_whole = cuts.is_empty();
        Ok((cuts, is_whole.then_some(rig)))
    }

    fn rig(&mut self, shot: FrameRange) -> Result<RigFinder, TaskError> {
        let mut rig = RigFinder::new(self.size);
        self.read(shot, |luma| rig.take(luma))?;
        Ok(rig)
    }

    fn shot(
        &mut self,
        raster: Raster,
        shot: FrameRange,
        rig: &RigFinder,
    ) -> Result<(ActionMap, Option<f64>), TaskError> {
        let size = self.size;
        let finding = rig.finding();
        let mask = finding.mask();
        let mut meter = BackgroundMeter::new(raster, size, mask)?;
        let mut finder = ActionFinder::new(raster, size, mask, ActionWeights::default())?;
        self.read(shot, |luma| {
            let step = meter.take(luma, &[])?;
            finder.take(luma, step.as_ref())
        })?;
        Ok((finder.finish(), mask.map(crate::action::RigMask::share)))
    }

    fn frame(&mut self, frame: FrameIndex) -> Result<RgbImage, TaskError> {
        let mut found = None;
        let wanted = BTreeSet::from([frame]);
        let read = self.opened.frames.visit(&wanted, &mut |_, picture| {
            found = Some(picture);
            ControlFlow::Break(())
        });
        read.map_err(|source| TaskError::Frame { clip: self.name.to_owned(), source })?;
        Ok(found.unwrap_or_else(|| RgbImage::new(1, 1)))
    }
}

/// Where the action is, and the windows on it.
fn write_picture(
    path: &Path,
    (picture, raster): (&RgbImage, Raster),
    (map, shot): (&ActionMap, FrameRange),
    found: &ShotAction,
) -> Result<(), TaskError> {
    const WIDTH_PX: u32 = 1600;
    let hot = heat(picture, map.shares());
    let windows = found.windows.iter().flatten().enumerate().filter_map(|(slot, found)| {
        let [left, top, width, height] = found.window_px;
        let window = crate::geometry::Window::inside(raster, (left, top), (width, height)).ok()?;
        let label = vec![
            format!("{} {}", found.delivered.shape(), found.delivered),
            format!(
                "{:.0} % of the action, confidence {:.2}",
                100.0 * found.kept_share,
                found.confidence
            ),
        ];
        Some(DrawnWindow { label, window, roll_degrees: 0.0, look: Look::of_slot(slot) })
    });
    let windows: Vec<DrawnWindow> = windows.collect();
    let note =
        windows.is_empty().then(|| "next to nothing moves: no window is suggested".to_owned());
    let scene = Scene {
        picture: &hot,
        raster,
        windows,
        subjects: Vec::new(),
        caption: vec![format!(
            "frames {} to {}: bright is where things happen; a suggestion to start marking from",
            shot.first(),
            shot.last()
        )],
        note,
    };
    let drawn = overlay(&scene, raster.width_px().min(WIDTH_PX));
    let mut bytes = Vec::new();
    PngEncoder::new(&mut bytes)
        .write_image(drawn.as_raw(), drawn.width(), drawn.height(), image::ExtendedColorType::Rgb8)
        .map_err(|source| TaskError::Encode { name: path.display().to_string(), source })?;
    write_whole(path, &bytes)
}
