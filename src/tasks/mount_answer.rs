//! What a prediction of mounts says, as a program may read it.

use super::endurance::{Endurance, ExposureAnswer};
use crate::{lens::Between, sharpness::Band, timecode::FrameRate};
use serde::Serialize;
use std::path::PathBuf;

/// What every camera of a brief will see.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MountsAnswer {
    /// The brief.
    pub brief: PathBuf,
    /// The kit.
    pub kit: PathBuf,
    /// The cameras, in the order of the brief.
    pub mounts: Vec<MountAnswer>,
    /// The order in which to put them up, if it is known how much light is left.
    pub rounds: Option<RoundsAnswer>,
}

/// What one camera will see.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MountAnswer {
    /// Its name.
    pub name: String,
    /// The camera of the kit.
    pub camera: String,
    /// The capture mode.
    pub mode: String,
    /// `upright` or `on its side`.
    pub way_up: String,
    /// The frame as it is shown.
    pub shown: String,
    /// Frames a second.
    pub rate: FrameRate,
    /// The capture rate over the timeline's.
    pub slow_motion: f64,
    /// The lens in words.
    pub lens: String,
    /// Where the lens is known from: `measured`, of the brief's own camera, or `spec`, of the kit.
    pub lens_from: &'static str,
    /// Its field of view across and down the frame as it is shown, in degrees.
    pub fov_degrees: [Between; 2],
    /// Height in metres, and degrees below level and of roll.
    pub height_m: f64,
    /// Degrees below level.
    pub tilt_down_degrees: f64,
    /// Degrees of roll, clockwise as seen from behind.
    pub roll_degrees: f64,
    /// The row of the horizon in the middle, px; none where the lens does not draw it.
    pub horizon_row: Option<Between>,
    /// How far ahead the ground is seen at the lowest row and at the highest, in metres; none where that is sky.
    pub ground_m: [Option<Between>; 2],
    /// The subject, if there is one, at each distance.
    pub subject: Option<SubjectAnswer>,
    /// What each deliverable gets.
    pub shapes: Vec<MountShapeAnswer>,
    /// Whether every deliverable gets a window that keeps everything, whatever the lens is.
    pub passes: bool,
    /// What would make all of them fit; none where they do, or no single change does.
    pub remedy: Option<RemedyAnswer>,
    /// What it is exposed with, as far as light and lens are told.
    pub exposure: Option<ExposureAnswer>,
    /// What it runs out of.
    pub endurance: Endurance,
}

/// A subject before a camera.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SubjectAnswer {
    /// Its name.
    pub name: String,
    /// How fast it goes, in metres a second.
    pub speed_m_s: f64,
    /// How fast the ground in the middle of the picture rushes by, degrees a second, where the camera goes along with that
    /// speed and looks down; at half the height it is twice that.
    pub ground_degrees_a_second: Option<f64>,
    /// At each distance, the nearest first.
    pub at: Vec<SubjectAtAnswer>,
}

/// A subject at one distance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SubjectAtAnswer {
    /// Metres along the ground.
    pub distance_m: f64,
    /// Its top row, px of the frame; none where the lens does not draw all of it.
    pub top_row: Option<Between>,
    /// Its bottom row.
    pub bottom_row: Option<Between>,
    /// Its width, px.
    pub width_px: Option<Between>,
    /// How fast it is seen to pass, degrees a second; none for one that comes along the line of sight.
    pub degrees_a_second: Option<Between>,
    /// How fast it passes, px of the frame a second of real time.
    pub px_a_second: Option<Between>,
    /// How far it is smeared while a frame is exposed, px; none where no exposure is known.
    pub blur_px: Option<Between>,
}

/// What one deliverable gets from a mount.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MountShapeAnswer {
    /// Its name.
    pub deliverable: String,
    /// Whether a window keeps everything that is asked, whatever the lens is.
    pub fits: bool,
    /// Whether that depends on which the lens is.
    pub depends_on_lens: bool,
    /// Left, top, width and height of the window, px; none where it does not fit. Of an unknown lens, of the first that it may be.
    pub window_px: Option<[f64; 4]>,
    /// From where to where the window's top may be, px.
    pub top_from_to_px: Option<[f64; 2]>,
    /// How many px it lacks across and down; both 0 where it fits.
    pub lacks_px: [Between; 2],
    /// The enlargement of its window, or of the largest of the shape where it does not fit.
    pub enlargement: Between,
    /// What the larger of both is good for.
    pub band: Band,
    /// How far the subject's top is down the window, as a share of its height, at each distance.
    pub subject_top: Vec<Option<Between>>,
    /// How far its bottom is down the window.
    pub subject_bottom: Vec<Option<Between>>,
    /// How much of the window's width it takes.
    pub subject_width: Vec<Option<Between>>,
    /// By how many px the horizon lies inside the window; below 0 outside.
    pub horizon_inside_px: Option<Between>,
    /// How many seconds of timeline a window that follows has for a width of itself, at each distance: at real time.
    pub follow_secs_a_width: Vec<Option<Between>>,
    /// The pan limits that this is held against: the caution and the hard one, seconds a width.
    pub pan_limits_secs: [Option<f64>; 2],
    /// When a subject that crosses is in the window, at each distance.
    pub crossing: Vec<Option<CrossingAnswer>>,
    /// The share of the window's width that it is smeared over, at each distance.
    pub blur_share: Vec<Option<Between>>,
    /// Above which share a blur is looked at, and held for.
    pub blur_limits: [Option<f64>; 2],
    /// The least enlargement that a shaking mount leaves room for; none where no shake is told or no window has room.
    pub steady_enlargement: Option<Between>,
}

/// When a subject is in a window that stands, seconds of real time from when its middle crosses the axis; of an unknown lens
/// the latest to come in and the first to go out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CrossingAnswer {
    /// Its nose comes in.
    pub nose_in_secs: f64,
    /// Its tail is out.
    pub tail_out_secs: f64,
    /// For how long all of it is inside.
    pub wholly_inside_secs: f64,
}

/// What would make everything fit, each by itself.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RemedyAnswer {
    /// Degrees further down; up if below 0.
    pub tilt_down_degrees: Option<f64>,
    /// Metres higher; lower if below 0.
    pub raise_m: Option<f64>,
    /// Metres further back.
    pub back_m: Option<f64>,
}

/// The order of putting up.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoundsAnswer {
    /// Minutes of light that are left.
    pub light_minutes: f64,
    /// Minutes for mounting: all less one camera that is aimed again.
    pub available_minutes: f64,
    /// What all of them take.
    pub total_minutes: f64,
    /// The cameras in their order, each with the minute at which it is begun, at which it is done, and whether it fits.
    pub order: Vec<(String, f64, f64, bool)>,
}
