//! What is asked of stills, and what is told of them.

use crate::{
    geometry::{Raster, Shape},
    sharpness::{EdgeBlur, Print, Use},
};
use serde::Serialize;
use std::path::PathBuf;

/// What stills are for, and so which window they are cut with.
#[derive(Debug, Clone, PartialEq)]
pub enum StillsFor {
    /// A thumbnail of this raster: the window is brought as near to the subject as its px allow.
    Raster(Raster),
    /// A deliverable of the shoot file, with its blocked zones, limits and pins: else as a thumbnail.
    Deliverable(String),
    /// A print of this shape: the largest window there is.
    Shape(Shape),
    /// A print of all of the frame that may be used.
    WholeFrame,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct StillsOptions {
    /// The shoot file.
    pub shoot: PathBuf,
    /// The outputs folder; `None` is the shoot file's own.
    pub out: Option<PathBuf>,
    /// Only this clip; `None` is all of them.
    pub clip: Option<String>,
    /// How many stills of each clip at most, at least one.
    pub count: usize,
    /// What they are for.
    pub wanted: StillsFor,
    /// Px of a still for each inch of paper, above 0.
    pub px_per_in: f64,
    /// The share of the window's height that the subject should have, above 0 and up to 1.
    pub least_share: f64,
    /// No two stills of a clip are nearer to each other than so many seconds of capture; `None` is half of what each would
    /// have for itself if they were spread evenly.
    pub apart_secs: Option<f64>,
}

impl StillsOptions {
    /// A face should have a quarter of a thumbnail's height (common practice, no source). What is measured is the marked
    /// box, whatever it is drawn round.
    pub const LEAST_SHARE: f64 = 0.25;
}

/// What was found and written.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StillsDone {
    /// The outputs folder.
    pub folder: PathBuf,
    /// The clips, in the order of the shoot file.
    pub clips: Vec<ClipStills>,
    /// The files written, by name.
    pub files: Vec<String>,
    /// Files that were changed by hand and are left alone, each with the name of the new one beside it, if there is one.
    pub kept: Vec<(String, Option<String>)>,
}

/// Where a clip's boxes come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum BoxesFrom {
    /// A track that was followed through the pictures.
    Track,
    /// The marks, with straight lines between them.
    Marks,
    /// There is no subject: all of the picture counts.
    NoSubject,
}

/// What was measured for blur.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum BlurOf {
    /// The subject's box.
    Subject,
    /// All of the picture: there is no subject, or it has too few edges.
    Picture,
    /// Nothing has edges enough; frames are chosen by size and place alone.
    Nothing,
}

/// A clip's stills.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClipStills {
    /// The clip.
    pub clip: String,
    /// What they are for, as it stands in the names of the files: a raster, a shape, a deliverable.
    pub purpose: String,
    /// The clip's raster; all px are of it.
    #[serde(serialize_with = "as_text")]
    pub raster: Raster,
    /// The raster of the proxy that was read, if it was one: the files that are written are in its px.
    pub proxy: Option<String>,
    /// The subject that counts most.
    pub subject: Option<String>,
    /// Where its boxes come from.
    pub boxes_from: BoxesFrom,
    /// What blur was measured of.
    pub blur_of: BlurOf,
    /// How many used frames there are.
    pub used_frames: u64,
    /// On how many of them the subject has no box.
    pub without_subject: u64,
    /// How many frames were measured at full size after all were looked at.
    pub measured_frames: usize,
    /// On how many of these no window holds the subject with its margins clear of what is blocked or kept out.
    pub without_window: usize,
    /// On how many of these blur could not be measured.
    pub without_edges: usize,
    /// No two are nearer than so many seconds of capture.
    pub apart_secs: f64,
    /// The share of the window's height that the subject should have.
    pub least_share: f64,
    /// The stills, the best first.
    pub stills: Vec<Still>,
    /// The picture of all of them side by side.
    pub contact: Option<String>,
    /// What should be known of the clip.
    pub notices: Vec<String>,
}

fn as_text<S: serde::Serializer>(raster: &Raster, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(raster)
}

/// One frame, cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Still {
    /// The frame.
    pub frame: u64,
    /// Its timecode, if the clip has any.
    pub timecode: Option<String>,
    /// When it is shown, in seconds from the clip's first frame.
    pub secs: f64,
    /// The product of its parts.
    pub score: f64,
    /// What the score is made of.
    pub parts: ScoreParts,
    /// Left, top, width and height of the window in px of the clip's picture, or of its levelled copy.
    pub window_px: [f64; 4],
    /// By how many degrees the picture is turned clockwise to be level.
    pub roll_degrees: f64,
    /// The subject's box in the same px, if there is one.
    pub subject_px: Option<[f64; 4]>,
    /// The box's share of the window's height.
    pub height_share: Option<f64>,
    /// The room between the box and the nearest edge of what is free of the window, as a share of the window along that axis;
    /// below 0 it hangs over.
    pub room_share: Option<f64>,
    /// The blur, in px of the clip; `None` where nothing could be measured.
    pub blur: Option<BlurAnswer>,
    /// How far the subject moves in one exposure by its track, in px, where an exposure is known.
    pub speed_px: Option<f64>,
    /// Delivered px for each px of the window, what the camera cropped inside taken off; only where a raster is delivered.
    pub enlargement: Option<f64>,
    /// The still on paper.
    pub print: PrintAnswer,
    /// The file that it was written to.
    pub file: String,
}

/// What a still's score is made of; each part is between 0 and 1, and the score is their product.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ScoreParts {
    /// The blur radius of the clip's sharpest frame over this one's; 1 where it could not be measured.
    pub sharpness: f64,
    /// The root of the subject's share of the height over the wanted one, at most 1; 1 without a subject.
    pub size: f64,
    /// 1 where the subject keeps its margins on all sides, a half where it touches an edge of the window's free part
    /// or is cut by the frame's.
    pub clear: f64,
    /// The share of the subject's box that is inside what is free of the window.
    pub whole: f64,
}

impl ScoreParts {
    /// The product.
    #[must_use]
    pub fn score(&self) -> f64 {
        self.sharpness * self.size * self.clear * self.whole
    }
}

/// A blur, in px of the clip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BlurAnswer {
    /// The radius over all directions.
    pub radius_px: f64,
    /// The length of the motion in it.
    pub motion_px: f64,
    /// Its direction from across, clockwise.
    pub motion_degrees: f64,
    /// The width of a point by focus and lens.
    pub focus_px: f64,
    /// How far an edge is smeared where it is most.
    pub extent_px: f64,
}

impl BlurAnswer {
    pub(super) fn of(blur: &EdgeBlur) -> Self {
        Self {
            radius_px: blur.radius_px(),
            motion_px: blur.motion_px(),
            motion_degrees: blur.motion_degrees(),
            focus_px: blur.focus_px(),
            extent_px: blur.extent_px(),
        }
    }
}

/// A still on paper.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PrintAnswer {
    /// Millions of px in the window.
    pub megapixels: f64,
    /// Px for each inch.
    pub px_per_in: f64,
    /// Width and height, in cm.
    pub size_cm: [f64; 2],
    /// Width and height, in inches.
    pub size_in: [f64; 2],
    /// The longer of the measured smear and the one by the track, in px; `None` where neither is known.
    pub blur_px: Option<f64>,
    /// The same on paper.
    pub blur_mm: Option<f64>,
    /// Whether it does for a poster: `good`, or what is against it.
    pub poster: String,
    /// Whether it does for a feed.
    pub feed: String,
}

impl PrintAnswer {
    /// Said of a use that it has px enough for.
    const BLUR_NOT_MEASURED: &str = "blur not measured";

    pub(super) fn of(
        (width_px, height_px): (f64, f64),
        px_per_in: f64,
        blur_px: Option<f64>,
    ) -> Self {
        let print = Print { width_px, height_px, px_per_in };
        let (across_mm, down_mm) = print.size_mm();
        let said = |uses: Use| match blur_px {
            None if uses.is_good() => Self::BLUR_NOT_MEASURED.to_owned(),
            _ => uses.to_string(),
        };
        let (across_in, down_in) = print.size_in();
        Self {
            megapixels: print.megapixels(),
            px_per_in,
            size_cm: [across_mm / 10.0, down_mm / 10.0],
            size_in: [across_in, down_in],
            blur_px,
            blur_mm: blur_px.map(|blur| print.mm(blur)),
            poster: said(print.poster(blur_px.unwrap_or(0.0))),
            feed: said(print.feed(blur_px.unwrap_or(0.0))),
        }
    }

    /// What it is good for, in a word or two.
    #[must_use]
    pub fn good_for(&self) -> &'static str {
        if [&self.poster, &self.feed].iter().any(|said| **said == Self::BLUR_NOT_MEASURED) {
            return Self::BLUR_NOT_MEASURED;
        }
        match (self.poster == "good", self.feed == "good") {
            (true, true) => "poster, feed",
            (true, false) => "poster",
            (false, true) => "feed",
            (false, false) => "neither",
        }
    }
}
