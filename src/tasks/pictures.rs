//! The pictures of a plan: a proof sheet a clip, and overlays of the frames that were asked for. Each clip is
//! read once, forward; small copies are kept for the sheet and nothing else.

use super::{
    CancelToken, Event, Observer, Outputs, TaskError,
    decide::{rotation_at, window_at},
    prepare::PreparedClip,
    requests::is_tracked,
};
use crate::{
    draw::{DrawnWindow, Look, ProofCell, ProofRow, ProofSheet, Scene, overlay, proof_sheet},
    geometry::{Region, Window},
    pan::Cause,
    picture::{RgbImage, shrink_to_fit},
    plan::{
        CAUTION, ClipPlan, DeliverableFacts, Entry, Plan, RefusedSegment, Segment, SegmentOutcome,
        px, recording_of, sum_across, sum_down,
    },
    sharpness::Softness,
    subject::{Track, Wish},
    timecode::FrameIndex,
};
use image::{ExtendedColorType, ImageEncoder, codecs::png::PngEncoder};
use std::{
    collections::{BTreeMap, BTreeSet},
    ops::ControlFlow,
};

/// Which frames get an overlay picture.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Overlays {
    /// None.
    #[default]
    None,
    /// These frames, by number, of every clip that has them.
    Frames(BTreeSet<u64>),
    /// The first used frame of each range and every so many after it.
    Every(u64),
}

impl Overlays {
    /// Whether at least one clip has each of the frames, given the clips' frame counts.
    ///
    /// # Errors
    /// [`TaskError::NoSuchFrame`] for the largest frame that none has.
    pub(super) fn check(&self, frame_counts: impl Iterator<Item = u64>) -> Result<(), TaskError> {
        let frame_count = frame_counts.max().unwrap_or(0);
        match self {
            Self::Frames(frames) => match frames.last() {
                Some(frame) if *frame >= frame_count => {
                    Err(TaskError::NoSuchFrame { frame: *frame, frame_count })
                }
                _ => Ok(()),
            },
            Self::None | Self::Every(_) => Ok(()),
        }
    }

    fn of_clip(&self, clip: &ClipPlan) -> BTreeSet<FrameIndex> {
        match self {
            Self::None => BTreeSet::new(),
            Self::Frames(frames) => frames
                .iter()
                .filter(|frame| **frame < clip.frame_count)
                .map(|f| FrameIndex(*f))
                .collect(),
            Self::Every(step) => {
                let step = usize::try_from((*step).max(1)).unwrap_or(usize::MAX);
                clip.clip
                    .ranges
                    .iter()
                    .flat_map(|range| range.used.frames().step_by(step))
                    .collect()
            }
        }
    }
}

/// No frame of a sheet is shown larger than this.
const SHEET_FRAME_PX: u32 = 480;
/// An overlay is as wide as the frame, and no wider than this.
const OVERLAY_WIDTH_PX: u32 = 1920;

/// Writes the proof sheets and overlays of all clips, and tells what reading them brought up, a clip each.
///
/// # Errors
/// If a frame cannot be read or a picture cannot be written.
pub(super) fn write(
    clips: &mut [PreparedClip],
    plan: &Plan,
    overlays: &Overlays,
    outputs: &mut Outputs,
    (observer, cancel): (&mut dyn Observer, &CancelToken),
) -> Result<Vec<Vec<String>>, TaskError> {
    let wanted: Vec<(BTreeSet<FrameIndex>, BTreeSet<FrameIndex>)> =
        plan.clips.iter().map(|clip| (overlays.of_clip(clip), telling_frames(clip))).collect();
    let all = |place: usize| -> BTreeSet<FrameIndex> {
        let (overlaid, telling) = &wanted[place];
        overlaid.union(telling).copied().collect()
    };
    let steps = (0..wanted.len()).map(|place| all(place).len() as u64).sum();
    observer.hear(Event::Begins { stage: "drawing pictures", steps });
    let mut remarks = Vec::new();
    for (place, (prepared, clip)) in clips.iter_mut().zip(&plan.clips).enumerate() {
        let page = Page { plan, clip, tracks: &prepared.resolved.tracks };
        let (overlaid, telling) = &wanted[place];
        let mut small = BTreeMap::new();
        let mut failed = None;
        let read = prepared.opened.frames.visit(&all(place), &mut |frame, picture| {
            observer.hear(Event::Step);
            if telling.contains(&frame) {
                small.insert(frame, shrink_to_fit(&picture, SHEET_FRAME_PX, SHEET_FRAME_PX));
            }
            let drawn = cancel.check().and_then(|()| {
                if overlaid.contains(&frame) {
                    page.write_overlay(frame, &picture, outputs)
                } else {
                    Ok(())
                }
            });
            match drawn {
                Ok(()) => ControlFlow::Continue(()),
                Err(error) => {
                    failed = Some(error);
                    ControlFlow::Break(())
                }
            }
        });
        if let Some(error) = failed {
            return Err(error);
        }
        // An interrupt may have ended the decoder as well.
        cancel.check()?;
        read.map_err(|source| TaskError::Frame { clip: clip.name.clone(), source })?;
        remarks.push(prepared.opened.frames.take_remarks());
        page.write_sheet(&small, outputs)?;
    }
    Ok(remarks)
}

fn telling_frames(clip: &ClipPlan) -> BTreeSet<FrameIndex> {
    let segments = clip.entries.iter().flat_map(|entry| &entry.segments);
    segments.flat_map(|segment| telling(segment).into_iter().map(|(_, frame)| frame)).collect()
}

/// The frames of a segment that are worth looking at, each with what it is.
fn telling(segment: &Segment) -> Vec<(String, FrameIndex)> {
    match &segment.outcome {
        SegmentOutcome::Planned(planned) => planned.telling.named(),
        SegmentOutcome::DoesNotFit(refused) => refused.telling.named(),
        SegmentOutcome::NotCopied(refused) => refused.telling.named(),
        SegmentOutcome::NoPath { .. } | SegmentOutcome::NotComputed { .. } => vec![
            ("start".to_owned(), segment.used.first()),
            ("end".to_owned(), segment.used.last()),
        ],
    }
}

/// One clip's pictures.
struct Page<'a> {
    plan: &'a Plan,
    clip: &'a ClipPlan,
    tracks: &'a [Track],
}

impl Page<'_> {
    fn write_overlay(
        &self,
        frame: FrameIndex,
        picture: &RgbImage,
        outputs: &mut Outputs,
    ) -> Result<(), TaskError> {
        let windows = self.clip.entries.iter().enumerate().filter_map(|(slot, entry)| {
            let facts = self.facts(entry)?;
            let segment = entry.segments.iter().find(|s| s.with_handles.contains(frame))?;
            segment.planned()?;
            let window = window_at(segment, frame)?;
            let label = vec![
                format!("{} {}", facts.name, facts.shape),
                self.enlargement_words(&window, facts),
            ];
            let roll_degrees = rotation_at(segment, frame);
            Some(DrawnWindow { label, window, roll_degrees, look: Look::of_slot(slot) })
        });
        let windows: Vec<DrawnWindow> = windows.collect();
        let note = windows.is_empty().then(|| "no window is planned at this frame".to_owned());
        let scene = Scene {
            picture,
            raster: self.clip.raster,
            windows,
            subjects: self.subjects(frame),
            caption: vec![format!(
                "{}   {}   {}",
                self.clip.name,
                self.frame_words(frame),
                self.raster_words()
            )],
            note,
        };
        let drawn = overlay(&scene, self.clip.raster.width_px().min(OVERLAY_WIDTH_PX));
        write_png(
            &format!("{}_frame-{:06}_overlay.png", self.clip.name, frame.0),
            &drawn,
            outputs,
        )?;
        Ok(())
    }

    fn write_sheet(
        &self,
        small: &BTreeMap<FrameIndex, RgbImage>,
        outputs: &mut Outputs,
    ) -> Result<(), TaskError> {
        let rows = self.clip.entries.iter().flat_map(|entry| {
            entry.segments.iter().filter_map(|segment| self.row(entry, segment, small))
        });
        let clip = self.clip;
        let start =
            clip.start_timecode.as_ref().map_or(String::new(), |start| format!(", from {start}"));
        let sheet = ProofSheet {
            title: vec![
                format!("Proof sheet: {}", clip.name),
                format!(
                    "{} at {} frames/s, {} frames{start}, played {}",
                    self.raster_words(),
                    clip.clip.facts.timing,
                    clip.frame_count,
                    clip.play
                ),
            ],
            rows: rows.collect(),
            footer: vec![self.legend(), CAUTION.to_owned()],
        };
        write_png(&format!("{}_proof-sheet.png", clip.name), &proof_sheet(&sheet), outputs)?;
        Ok(())
    }

    /// What is to be read from the frames of a proof sheet.
    fn legend(&self) -> String {
        let mut shapes = self.clip.entries.iter().filter_map(|entry| self.facts(entry));
        let is_any_blocked = shapes.any(|facts| facts.blocked.iter().any(|share| *share > 0.0));
        let striped = if is_any_blocked { " Striped: what something else will cover." } else { "" };
        format!(
            "Worst: where the subject comes nearest to, or furthest over, the edge of what it should stay in. Widest: where it takes \
             the largest share of the window. Dimmed: outside the window.{striped} Dashed box: the subject. Numbers beside the \
             window: spare px of the capture. E: delivered px for each px of the window; above 1, px are made up."
        )
    }

    /// One strip of frames: a deliverable over one used range.
    fn row<'p>(
        &self,
        entry: &Entry,
        segment: &Segment,
        small: &'p BTreeMap<FrameIndex, RgbImage>,
    ) -> Option<ProofRow<'p>> {
        let facts = self.facts(entry)?;
        let range = if entry.segments.len() > 1 {
            format!(", range {} (frames {})", segment.number, segment.used)
        } else {
            String::new()
        };
        let (verdict, why) = match &segment.outcome {
            SegmentOutcome::Planned(planned) => (
                format!(
                    "{}, {}   E {}",
                    planned.way,
                    planned.verdict_words(),
                    softness_words(&planned.softest)
                ),
                planned.why.clone(),
            ),
            SegmentOutcome::DoesNotFit(refused) => {
                let remedy = refused.remedies.first().map_or("", |remedy| &remedy.words);
                (
                    refused_words(refused).0.to_owned(),
                    format!("{}. Remedy: {remedy}", refused.words),
                )
            }
            SegmentOutcome::NotCopied(refused) => {
                ("path not taken".to_owned(), refused.words.clone())
            }
            SegmentOutcome::NoPath { words, .. } => ("no path".to_owned(), words.clone()),
            SegmentOutcome::NotComputed { words } => ("not computed".to_owned(), words.clone()),
        };
        let heading = vec![
            format!("{}   {}   {}{range}   {verdict}", facts.name, facts.shape, facts.raster),
            why,
        ];
        let cells = telling(segment).into_iter().filter_map(|(name, frame)| {
            self.cell(facts, segment, (&name, frame), small.get(&frame)?)
        });
        Some(ProofRow { heading, cells: cells.collect() })
    }

    fn cell<'p>(
        &self,
        facts: &DeliverableFacts,
        segment: &Segment,
        (name, frame): (&str, FrameIndex),
        picture: &'p RgbImage,
    ) -> Option<ProofCell<'p>> {
        let window = window_at(segment, frame);
        let refused = match &segment.outcome {
            SegmentOutcome::Planned(_) => None,
            SegmentOutcome::DoesNotFit(refused) => {
                let (verdict, missing) = refused_words(refused);
                Some(format!("{verdict}: {missing}"))
            }
            SegmentOutcome::NotCopied(_) => Some("path not taken".to_owned()),
            SegmentOutcome::NoPath { .. } => Some("no path".to_owned()),
            SegmentOutcome::NotComputed { .. } => Some("not computed".to_owned()),
        };
        let raster = self.clip.raster;
        let below = window.map_or_else(Vec::new, |window| {
            let shape = format!("{} {}", facts.shape, self.enlargement_words(&window, facts));
            let degrees = rotation_at(segment, frame);
            if degrees.abs() > 0.0 {
                let (width, height) = (px(window.width()), px(window.height()));
                let turned = format!("{width} x {height}, turned {degrees:.2} degrees clockwise");
                return vec![shape, turned];
            }
            vec![shape, sum_across(raster, &window), sum_down(raster, &window)]
        });
        Some(ProofCell {
            picture,
            raster,
            window,
            blocked: facts.blocked,
            roll_degrees: rotation_at(segment, frame),
            subjects: self.subjects(frame),
            above: vec![format!("{name}: {}", self.frame_words(frame))],
            below,
            refused,
        })
    }

    fn facts(&self, entry: &Entry) -> Option<&DeliverableFacts> {
        self.plan.deliverables.iter().find(|facts| facts.name == entry.deliverable)
    }

    fn frame_words(&self, frame: FrameIndex) -> String {
        let timecode = self.clip.clip.timecode_at(frame);
        let place =
            timecode.map_or(format!("frame {frame}"), |code| format!("frame {frame}   {code}"));
        if is_tracked(self.tracks, frame) { place } else { format!("{place}   not tracked") }
    }

    fn enlargement_words(&self, window: &Window, facts: &DeliverableFacts) -> String {
        let recording = recording_of(&self.clip.clip);
        format!("E {:.2}", recording.enlargement(facts.raster.width(), window.width()))
    }

    /// The clip's raster, and what else is to be known of it: the proxy that is seen here, and the inside crop
    /// that E is stated with.
    fn raster_words(&self) -> String {
        let clip = &self.clip.clip;
        let proxy = clip.proxy.map(|read| format!("seen in a proxy of {read}"));
        let crop = (!clip.inside_crop.is_none())
            .then(|| format!("inside crop {}", clip.inside_crop.as_written()));
        let more: Vec<String> = proxy.into_iter().chain(crop).collect();
        if more.is_empty() {
            self.clip.raster.to_string()
        } else {
            format!("{} ({})", self.clip.raster, more.join(", "))
        }
    }

    /// The boxes of subjects and keep-ins at a frame.
    fn subjects(&self, frame: FrameIndex) -> Vec<Region> {
        self.tracks
            .iter()
            .filter(|track| track.wish() != Wish::KeepOut)
            .filter_map(|track| track.at(frame))
            .map(|sighting| sighting.region)
            .collect()
    }
}

fn softness_words(softness: &Softness) -> String {
    let as_soft = softness.measured.map_or_else(String::new, |measured| {
        format!(", as soft as {:.2} by measure:", measured.as_soft_as)
    });
    format!("{:.2}{as_soft} {}", softness.enlargement, softness.band)
}

/// Writes a picture; the name that it was written under.
pub(super) fn write_png(
    name: &str,
    picture: &RgbImage,
    outputs: &mut Outputs,
) -> Result<String, TaskError> {
    outputs.write(name, &png(picture, name)?)
}

/// A picture as a PNG file.
pub(super) fn png(picture: &RgbImage, name: &str) -> Result<Vec<u8>, TaskError> {
    let mut bytes = Vec::new();
    let (width, height) = picture.dimensions();
    PngEncoder::new(&mut bytes)
        .write_image(picture.as_raw(), width, height, ExtendedColorType::Rgb8)
        .map_err(|source| TaskError::Encode { name: name.to_owned(), source })?;
    Ok(bytes)
}

/// What a refused shape is called on a picture, and what it lacks: one that is too soft may well have the subject inside.
fn refused_words(refused: &RefusedSegment) -> (&'static str, String) {
    match refused.cause {
        Cause::TooSoft { least_width_px, greatest_width_px } if refused.blamed.is_empty() => {
            let missing = px(least_width_px - greatest_width_px);
            ("does not fit", format!("too soft: {missing} px of width missing"))
        }
        _ => ("does not fit", format!("{} px missing at worst", px(refused.worst.missing_px))),
    }
}
