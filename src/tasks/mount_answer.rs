//! What a prediction of mounts says, as a program may read it.

use super::endurance::{Endurance, ExposureAnswer};
use crate::{lens::Between, mount::Remedy, plan::px, sharpness::Band, timecode::FrameRate};
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
    /// Where the lens is known from: `measured`, of the brief's own camera by a tape or a calibration; `as written`, of that
    /// camera otherwise; or `spec`, of the kit.
    pub lens_from: &'static str,
    /// Whether it may be one of several, so that what depends on it is a range.
    pub depends_on_lens: bool,
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
    /// How many metres of the ground the frame is wide there.
    pub ground_across_m: [Option<Between>; 2],
    /// The subject, if there is one, at each distance.
    pub subject: Option<SubjectAnswer>,
    /// What each deliverable gets.
    pub shapes: Vec<MountShapeAnswer>,
    /// Whether every deliverable gets a window that keeps everything, whatever the lens is.
    pub have_rooms: bool,
    /// What would make all of them do so; none where they do, or no single change does.
    pub remedy: Option<Remedy>,
    /// What the brief asks of the mode itself and it does not give.
    pub unmet: Vec<UnmetAnswer>,
    /// Whether every deliverable fits and nothing else is unmet.
    pub passes: bool,
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
    /// How fast the ground in the middle of the picture rushes by, where the camera goes along with that speed and looks down.
    pub ground_rush: Option<GroundRushAnswer>,
    /// At each distance, the nearest first.
    pub at: Vec<SubjectAtAnswer>,
}

/// How fast the ground in the middle of the picture rushes by; at half the height it is twice that.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GroundRushAnswer {
    /// Looking along the way, degrees a second.
    pub along_degrees_a_second: f64,
    /// Looking square to it, as far down, degrees a second.
    pub abeam_degrees_a_second: f64,
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
    /// How many metres of the ground the frame is wide there; none where the lens does not draw that far.
    pub ground_across_m: Option<Between>,
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
    /// Whether a window keeps everything, whatever the lens is, and gives all that the brief asks of it.
    pub fits: bool,
    /// Whether a window does so through one of the lenses that there may be, and none through all.
    pub depends_on_lens: bool,
    /// Left, top, width and height of the window that keeps everything through every lens that there may be, px; none where
    /// there is none.
    pub window_px: Option<[f64; 4]>,
    /// From where to where the window's top may be, px.
    pub top_from_to_px: Option<[f64; 2]>,
    /// What each lens by itself gives, where it is not known and no window keeps everything through all.
    pub through: Vec<ThroughAnswer>,
    /// How many px it lacks across and down; both 0 where it has a window.
    pub lacks_px: [Between; 2],
    /// What is asked of it, and what it has no room for in spite of its window.
    pub unmet: Vec<UnmetAnswer>,
    /// The enlargement of its window, or of the largest of the shape in the middle where it has none; so is all that follows.
    pub enlargement: f64,
    /// What it is good for.
    pub band: Band,
    /// Why that is stricter than the enlargement alone, with a space before it; empty if it is not.
    pub because: String,
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

/// What one lens that there may be gives a deliverable.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ThroughAnswer {
    /// The lens in words.
    pub lens: String,
    /// Left, top, width and height of its window, px; none where there is none.
    pub window_px: Option<[f64; 4]>,
    /// From where to where the window's top may be, px.
    pub top_from_to_px: Option<[f64; 2]>,
    /// How many px are missing across and down.
    pub lacks_px: [f64; 2],
}

/// Something that a brief asks and is not given.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct UnmetAnswer {
    /// What: one of the names below.
    pub what: &'static str,
    /// What there is instead; none where that cannot be told or had.
    pub value: Option<Between>,
    /// What is asked: of enlargements the most, of all else the least.
    pub asked: f64,
}

impl UnmetAnswer {
    /// The enlargement of the window.
    pub const ENLARGEMENT: &'static str = "enlargement";
    /// The enlargement of a window that leaves room for the shake.
    pub const STEADY: &'static str = "steady-enlargement";
    /// The room left and right, as a share of the frame.
    pub const ACROSS: &'static str = "spare-across";
    /// The room above and below.
    pub const DOWN: &'static str = "spare-down";
    /// The capture rate over the timeline's.
    pub const SLOW_MOTION: &'static str = "slow-motion";

    /// A window that a shaking mount leaves no room within the greatest enlargement.
    pub(super) fn of_the_shake(value: Option<Between>, greatest: f64) -> Self {
        Self { what: Self::STEADY, value, asked: greatest }
    }

    /// In words: `steady E 1.059, asked at most E 1.000`.
    #[must_use]
    pub fn words(&self) -> String {
        let enlarged = |e: f64| format!("E {e:.3}");
        let percent = |share: f64| format!("{:.1} %", 100.0 * share);
        let times = |factor: f64| format!("{}x", (factor * 100.0).round() / 100.0);
        let (name, print, way): (_, &dyn Fn(f64) -> String, _) = match self.what {
            Self::ENLARGEMENT => ("", &enlarged, "at most"),
            Self::STEADY => ("steady ", &enlarged, "at most"),
            Self::ACROSS => ("room left and right ", &percent, "at least"),
            Self::DOWN => ("room above and below ", &percent, "at least"),
            _ => ("slow motion ", &times, "at least"),
        };
        let value =
            self.value.map_or_else(|| "cannot be had or told".to_owned(), |v| v.words(print));
        format!("{name}{value}, asked {way} {}", print(self.asked))
    }
}

impl MountShapeAnswer {
    /// What a window lacks: `60 px up and down missing`.
    #[must_use]
    pub fn missing_words(&self) -> String {
        missing(self.lacks_px)
    }

    /// What each lens by itself gives, each in words; empty where that does not matter.
    #[must_use]
    pub fn through_words(&self) -> Vec<String> {
        let words = |through: &ThroughAnswer| {
            let room = match (through.window_px, through.top_from_to_px) {
                (Some([_, _, width, height]), Some([from, to])) => format!(
                    "{} x {} px, its top from row {} to {}",
                    px(width),
                    px(height),
                    px(from),
                    px(to)
                ),
                _ => missing(through.lacks_px.map(Between::exactly)),
            };
            format!("through {}: {room}", through.lens)
        };
        self.through.iter().map(words).collect()
    }

    /// Where the horizon lies: `horizon outside by 29.7 px`.
    #[must_use]
    pub fn horizon_words(&self) -> Option<String> {
        let inside = self.horizon_inside_px?;
        Some(if inside.from() >= 0.0 {
            format!("horizon inside by {} px", inside.words(px))
        } else if inside.to() < 0.0 {
            let outside = Between::all([-inside.from(), -inside.to()]).unwrap_or(inside);
            format!("horizon outside by {} px", outside.words(px))
        } else {
            format!("horizon inside or outside, as the lens is: {} px", inside.words(px))
        })
    }
}

fn missing([across, down]: [Between; 2]) -> String {
    let lacks = |lack: Between, way: &str| {
        (lack.to() > 0.0).then(|| format!("{} px {way}", lack.words(px)))
    };
    let all: Vec<String> =
        [lacks(across, "across"), lacks(down, "up and down")].into_iter().flatten().collect();
    // Enough each way at some size, and at no size both ways.
    if all.is_empty() {
        return "no window has room for all of it at once".to_owned();
    }
    format!("{} missing", all.join(" and "))
}

/// The ways to mend a mount in words, each by itself, degrees written as it is said: `tilt 1.3 degrees up`.
#[must_use]
pub fn remedy_words(remedy: &Remedy, degrees: &str) -> String {
    let Remedy { tilt_down_degrees, raise_m, back_m } = remedy;
    let way = |value: f64, above: &'static str, below: &'static str| {
        if value > 0.0 { above } else { below }
    };
    let tilt = tilt_down_degrees
        .map(|by| format!("tilt {:.1}{degrees} {}", by.abs(), way(by, "further down", "up")));
    let raise = raise_m.map(|by| {
        format!("{} the camera by {:.0} cm", way(by, "raise", "lower"), 100.0 * by.abs())
    });
    let back = back_m.map(|by| format!("go {by:.1} m further back"));
    [tilt, raise, back].into_iter().flatten().collect::<Vec<_>>().join(", or ")
}

/// When a subject is in a window that stands, seconds of real time from when its middle crosses the axis.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CrossingAnswer {
    /// Its nose comes in.
    pub nose_in_secs: Between,
    /// Its tail is out.
    pub tail_out_secs: Between,
    /// For how long all of it is inside.
    pub wholly_inside_secs: Between,
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
