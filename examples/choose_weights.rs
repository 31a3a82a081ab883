//! How the default costs of a follow path were chosen: each row is one set of costs, on real boxes and on two
//! made tracks of a minute.
//!
//! ```text
//! cargo run --release --example choose_weights -- ../shared
//! ```
//!
//! The folder holds `footage/boxed/NAME/boxes.csv` (854 x 480, 24 frames/s) and `tracks/one-minute-N.csv`.
//! Columns: the share of the frames that could be kept inside and were, on the boxes whose shape has room;
//! the share of frames on which the window stands still; the rms of the third difference, in thousandths of
//! the window's width a frame³; the fastest step, in widths a second. On the tracks, in zone is within 270 px: the wanted zone of 250 and
//! the tracks' noise.
#![allow(clippy::print_stdout, reason = "it prints a table")]

use lookroom::{
    delivery::Limits,
    geometry::{Raster, Region, Shape, Window},
    pan::{FrameWish, Insets, Pace, Request, Rules, Weights, follow, missing_px, peak_speed},
    tasks::pan_rules,
};
use std::{error::Error, fs, path::Path};

type Outcome<T> = Result<T, Box<dyn Error>>;

const CLIPS: [&str; 6] =
    ["bmx-trees", "car-roundabout", "car-shadow", "motocross-jump", "parkour", "scooter-black"];

fn main() -> Outcome<()> {
    let folder =
        std::env::args().nth(1).ok_or("name the folder that holds footage/ and tracks/")?;
    let mut scenes = Vec::new();
    for clip in CLIPS {
        let boxes = boxes(&Path::new(&folder).join("footage/boxed").join(clip).join("boxes.csv"))?;
        for shape in [(9, 16), (1, 1)] {
            scenes.push(Scene::of_boxes(&boxes, shape)?);
        }
    }
    for track in ["one-minute-1", "one-minute-2"] {
        scenes.push(Scene::of_track(
            &Path::new(&folder).join("tracks").join(format!("{track}.csv")),
        )?);
    }
    println!(
        "  accel.  contain.   place | boxes: kept  still   jerk   peak | tracks: in zone  still   jerk   peak"
    );
    for acceleration in [0.05, 0.15, 0.4, 1.5] {
        for containment in [300.0, 1000.0, 5000.0] {
            for place in [1.0, 3.0, 10.0] {
                let weights = Weights { acceleration, containment, place, width: 30.0 };
                let (boxed, tracked): (Vec<_>, Vec<_>) =
                    scenes.iter().partition(|scene| scene.zone_px.is_none());
                println!(
                    "{acceleration:8.2} {containment:9.0} {place:7.0} | {} | {}",
                    Figures::over(&boxed, weights)?,
                    Figures::over(&tracked, weights)?
                );
            }
        }
    }
    Ok(())
}

/// A run of frames, and what counts as kept.
struct Scene {
    request: Request,
    zone_px: Option<f64>,
    truth: Vec<f64>,
}

impl Scene {
    fn of_boxes(boxes: &[Region], (wide, high): (u32, u32)) -> Outcome<Self> {
        let raster = Raster::new(854, 480)?;
        let shape = Shape::new(wide, high).ok_or("a shape has two sides")?;
        let frames = boxes.iter().copied().map(FrameWish::for_box).collect();
        Ok(Self {
            request: Request::plain((raster, shape), Pace::even(1.0 / 24.0), frames, free()),
            zone_px: None,
            truth: Vec::new(),
        })
    }

    fn of_track(path: &Path) -> Outcome<Self> {
        let rows = numbers(path)?;
        let frames = rows
            .iter()
            .map(|row| Region::new(row[1] - 100.0, 980.0, 200.0, 200.0).ok_or("a box"))
            .map(|region| region.map(FrameWish::for_box))
            .collect::<Result<_, _>>()?;
        let raster = Raster::new(3840, 2160)?;
        let mut request = Request::plain(
            (raster, Shape::new(1216, 2160).ok_or("a shape")?),
            Pace::even(1.0 / 30.0),
            frames,
            free(),
        );
        request.rules.still_zone = 250.0 / 1216.0;
        Ok(Self { request, zone_px: Some(250.0), truth: rows.iter().map(|row| row[2]).collect() })
    }

    fn figures(&self, weights: Weights) -> Outcome<Figures> {
        let mut request = self.request.clone();
        request.rules.weights = weights;
        let windows = follow(&request, &[])?.ok_or("a path without hard limits exists")?;
        let width = request.reference_width();
        let kept = match self.zone_px {
            Some(zone) => share(windows.iter().zip(&self.truth), |(window, truth)| {
                (window.centre_x() - *truth).abs() <= zone + 20.0
            }),
            None => {
                let possible = windows
                    .iter()
                    .zip(&request.frames)
                    .filter(|(window, wish)| wish.boxes[0].region.width() <= window.width());
                share(possible, |(window, wish)| {
                    missing_px(&wish.boxes[0].region, window, &Insets::default()).0 <= 0.01
                })
            }
        };
        let centres: Vec<f64> = windows.iter().map(Window::centre_x).collect();
        let still = share(centres.windows(2), |v| (v[1] - v[0]).abs() < 0.02 / 100.0 * width);
        let thirds: Vec<f64> =
            centres.windows(4).map(|v| (v[3] - 3.0 * v[2] + 3.0 * v[1] - v[0]) / width).collect();
        let jerk = 1000.0 * mean(thirds.iter().map(|third| third * third)).sqrt();
        Ok(Figures {
            kept,
            still,
            jerk,
            peak: peak_speed(&windows, &request.pace, &[]).widths_per_sec,
        })
    }
}

/// The default rules without any pan limit.
fn free() -> Rules {
    Rules { pan_caution: None, pan_hard: None, ..pan_rules(&Limits::default()) }
}

/// What one set of costs gives, averaged over scenes.
struct Figures {
    kept: f64,
    still: f64,
    jerk: f64,
    peak: f64,
}

impl Figures {
    fn over(scenes: &[&Scene], weights: Weights) -> Outcome<Self> {
        let all: Vec<Self> =
            scenes.iter().map(|scene| scene.figures(weights)).collect::<Outcome<_>>()?;
        let average = |figure: fn(&Self) -> f64| mean(all.iter().map(figure));
        Ok(Self {
            kept: average(|f| f.kept),
            still: average(|f| f.still),
            jerk: average(|f| f.jerk),
            peak: average(|f| f.peak),
        })
    }
}

impl std::fmt::Display for Figures {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { kept, still, jerk, peak } = self;
        write!(f, "{:9.1} % {:5.1} % {jerk:6.3} {peak:6.3}", 100.0 * kept, 100.0 * still)
    }
}

fn boxes(path: &Path) -> Outcome<Vec<Region>> {
    let region =
        |row: &Vec<f64>| Region::new(row[1], row[2], row[3], row[4]).ok_or_else(|| "a box".into());
    numbers(path)?.iter().map(region).collect()
}

fn numbers(path: &Path) -> Outcome<Vec<Vec<f64>>> {
    let text = fs::read_to_string(path)?;
    let row = |line: &str| line.split(',').map(|n| n.parse().map_err(Into::into)).collect();
    text.lines().skip(1).map(row).collect()
}

#[expect(clippy::cast_precision_loss, reason = "a few thousand")]
fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0_usize), |(sum, count), value| (sum + value, count + 1));
    sum / count.max(1) as f64
}

fn share<T>(items: impl Iterator<Item = T>, kept: impl Fn(T) -> bool) -> f64 {
    mean(items.map(|item| if kept(item) { 1.0 } else { 0.0 }))
}
