//! The way of the background, measured on made shake of real stills and on real clips.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "made pictures are of small numbers"
)]

use crate::{
    command::{lookroom_in, stderr},
    footage,
};
use image::{GrayImage, Luma};
use lookroom::{
    action::{BackgroundMeter, MeasuredMotion, RigFinder, RigFinding, RigMask},
    clip::{Footage, Reading},
    geometry::{Raster, Region},
    media::open,
    picture::raster_of_lines,
};
use std::{fs, ops::ControlFlow, path::Path};

/// The lines at which everything is measured here.
const LINES: u32 = 360;
/// Made frames of a shake: a second and a quarter.
const FRAMES: u32 = 30;

/// Where a made camera stands at a frame: px right and down, radians clockwise, enlargement.
#[derive(Clone, Copy)]
struct Pose {
    right: f64,
    down: f64,
    roll: f64,
    zoom: f64,
}

impl Pose {
    /// A shake of several px and tenths of a degree a frame on a slow drift: sums of sines that do not meet.
    fn at(frame: u32) -> Self {
        let secs = f64::from(frame) / 24.0;
        let wave = |hz: f64, phase: f64| (std::f64::consts::TAU * hz * secs + phase).sin();
        Self {
            right: 6.0 * wave(2.3, 0.0) + 3.0 * wave(6.1, 1.0) + 4.0 * secs,
            down: 4.0 * wave(3.1, 2.0) + 2.0 * wave(7.3, 0.5),
            roll: (0.8 * wave(1.7, 0.3) + 0.3 * wave(5.3, 1.7)).to_radians(),
            zoom: 1.0 + 0.02 * wave(0.6, 0.0),
        }
    }

    /// Where a place of the still, from its centre, is in the frame.
    fn moved(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (sine, cosine) = self.roll.sin_cos();
        let (x, y) = (x * self.zoom, y * self.zoom);
        (x * cosine - y * sine + self.right, x * sine + y * cosine + self.down)
    }

    /// Where a place of the frame is in the still.
    fn moved_back(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (sine, cosine) = self.roll.sin_cos();
        let (x, y) = (x - self.right, y - self.down);
        ((x * cosine + y * sine) / self.zoom, (y * cosine - x * sine) / self.zoom)
    }

    /// The step from this pose to the next at the frame's centre: px right and down, radians.
    fn step_to(&self, next: &Self) -> (f64, f64, f64) {
        let (right, down) = next.moved(self.moved_back((0.0, 0.0)));
        (right, down, next.roll - self.roll)
    }
}

/// A still of one of the boxed clips in luma.
fn still(clip: &str) -> Option<GrayImage> {
    let path = footage::folder()?.join("boxed").join(clip).join("00010.jpg");
    Some(image::open(path).expect("a frame of a boxed clip").to_luma8())
}

/// The value between pixels by the cubic of Keys with a = -1/2, which keeps what it samples sharp.
fn cubic(picture: &GrayImage, x: f64, y: f64) -> f64 {
    let weights = |share: f64| {
        let (one, two, three) = (share, share * share, share * share * share);
        [
            -0.5 * three + two - 0.5 * one,
            1.5 * three - 2.5 * two + 1.0,
            -1.5 * three + 2.0 * two + 0.5 * one,
            0.5 * three - 0.5 * two,
        ]
    };
    let (column, row) = (x.floor(), y.floor());
    let (across, down) = (weights(x - column), weights(y - row));
    let (width, height) = picture.dimensions();
    let pixel = |column: f64, row: f64| {
        let held = |place: f64, side: u32| place.clamp(0.0, f64::from(side - 1)) as u32;
        f64::from(picture.get_pixel(held(column, width), held(row, height)).0[0])
    };
    let mut sum = 0.0;
    for (line, down) in down.iter().enumerate() {
        for (place, across) in across.iter().enumerate() {
            sum += down * across * pixel(column + place as f64 - 1.0, row + line as f64 - 1.0);
        }
    }
    sum
}

/// How much of the lower part of the frame is covered by what is fixed to the rig.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Covered {
    Nothing,
    /// So many hundredths of the frame.
    Hundredths(u32),
}

impl Covered {
    /// Whether a pixel is covered: what is below a bent line, as of bodywork.
    fn holds(self, column: u32, row: u32, size: Raster) -> bool {
        let Self::Hundredths(share) = self else { return false };
        let bend = (f64::from(column) / size.width() * 4.0).sin();
        let mean_of_bend = (1.0 - 4.0_f64.cos()) / 4.0;
        let top = 1.0 - f64::from(share) / 100.0 + 0.06 * (bend - mean_of_bend);
        (f64::from(row) + 0.5) / size.height() >= top
    }
}

/// A still that is shaken, with a subject that moves its own way and bodywork that stays, and a little noise.
struct Made<'p> {
    world: &'p GrayImage,
    body: &'p GrayImage,
    covered: Covered,
    size: Raster,
}

impl Made<'_> {
    /// Px of the still for one of the frame: room is left at its edges for the shake.
    const STILL_PX: f64 = 1.16;

    /// The subject's box: an eighth of the frame wide, going to the right by 3 px a frame more than the world.
    fn subject(&self, frame: u32) -> Region {
        let left = 60.0 + 5.0 * f64::from(frame);
        let top = 110.0 + 12.0 * (f64::from(frame) / 6.0).sin();
        Region::new(left, top, self.size.width() / 7.0, self.size.height() / 2.6).unwrap()
    }

    fn frame(&self, number: u32) -> GrayImage {
        let pose = Pose::at(number);
        let subject = self.subject(number);
        let (still_width, still_height) = self.world.dimensions();
        let middle = (f64::from(still_width - 1) / 2.0, f64::from(still_height - 1) / 2.0);
        let centre = ((self.size.width() - 1.0) / 2.0, (self.size.height() - 1.0) / 2.0);
        GrayImage::from_fn(self.size.width_px(), self.size.height_px(), |column, row| {
            let (x, y) = (f64::from(column), f64::from(row));
            let noise = f64::from(drawn(number, column, row) % 7) - 3.0;
            let value = if self.covered.holds(column, row, self.size) {
                cubic(self.body, x * 1.2, y * 1.2)
            } else if x >= subject.left()
                && x < subject.right()
                && y >= subject.top()
                && y < subject.bottom()
            {
                cubic(self.body, 300.0 + x - subject.left(), 60.0 + y - subject.top())
            } else {
                let (u, v) = pose.moved_back((x - centre.0, y - centre.1));
                cubic(self.world, middle.0 + Self::STILL_PX * u, middle.1 + Self::STILL_PX * v)
            };
            Luma([(value + noise).round().clamp(0.0, 255.0) as u8])
        })
    }
}

/// A number that looks drawn and is the same each time.
fn drawn(frame: u32, column: u32, row: u32) -> u32 {
    let mut mixed = frame.wrapping_mul(0x9e37_79b9) ^ column.wrapping_mul(0x85eb_ca6b);
    mixed = (mixed ^ row.wrapping_mul(0xc2b2_ae35)).wrapping_mul(0x27d4_eb2f);
    (mixed ^ (mixed >> 15)).wrapping_mul(0x2c1b_3c6d) >> 8
}

/// Errors of a clip's steps: px rms of the shift, degrees rms, least confidence, share of steps with an answer.
#[derive(Debug)]
struct Errors {
    px: f64,
    degrees: f64,
    least_confidence: f64,
    answered: f64,
}

fn errors(made: &Made<'_>) -> (Errors, RigFinding) {
    let frames: Vec<GrayImage> = (0..FRAMES).map(|number| made.frame(number)).collect();
    let mut finder = RigFinder::new(made.size);
    frames.iter().for_each(|frame| finder.take(frame).unwrap());
    let rig = finder.finding();
    let mut meter = BackgroundMeter::new(made.size, made.size, rig.mask()).unwrap();
    let (mut square_px, mut square_degrees, mut count) = (0.0, 0.0, 0.0);
    let mut least_confidence = f64::INFINITY;
    for (number, frame) in (0..FRAMES).zip(&frames) {
        let Some(found) = meter.take(frame, &[]).unwrap() else { continue };
        let (right, down, roll) = Pose::at(number - 1).step_to(&Pose::at(number));
        let (dx, dy) = (found.step.across_px - right, found.step.down_px - down);
        square_px += dx * dx + dy * dy;
        square_degrees += (found.step.roll_radians - roll).to_degrees().powi(2);
        least_confidence = least_confidence.min(found.confidence);
        count += 1.0;
    }
    let (px, degrees) = (f64::sqrt(square_px / count), f64::sqrt(square_degrees / count));
    let answered = count / f64::from(FRAMES - 1);
    (Errors { px, degrees, least_confidence, answered }, rig)
}

/// The share that a rig and a known area have in common of what either has.
fn overlap(mask: &RigMask, is_fixed: impl Fn(u32, u32) -> bool) -> f64 {
    let (mut both, mut either) = (0.0, 0.0);
    for row in 0..mask.size().height_px() {
        for column in 0..mask.size().width_px() {
            let (found, known) = (mask.is_fixed(column, row), is_fixed(column, row));
            both += f64::from(u8::from(found && known));
            either += f64::from(u8::from(found || known));
        }
    }
    both / either
}

/// The share of a rig that is outside a known area.
fn outside(mask: &RigMask, is_fixed: impl Fn(u32, u32) -> bool) -> f64 {
    let (mut outside, mut all) = (0.0, 0.0);
    for row in 0..mask.size().height_px() {
        for column in 0..mask.size().width_px() {
            if mask.is_fixed(column, row) {
                all += 1.0;
                outside += f64::from(u8::from(!is_fixed(column, row)));
            }
        }
    }
    outside / f64::max(all, 1.0)
}

#[test]
fn made_shake_of_real_stills_is_measured_to_a_quarter_px() {
    let size = Raster::new(640, LINES).unwrap();
    let mut misses = Vec::new();
    for (at, clip) in footage::BOXED.iter().enumerate() {
        let other = footage::BOXED[(at + 1) % footage::BOXED.len()];
        let (Some(world), Some(body)) = (still(clip), still(other)) else { return };
        for covered in [Covered::Nothing, Covered::Hundredths(15), Covered::Hundredths(40)] {
            let made = Made { world: &world, body: &body, covered, size };
            let (errors, rig) = errors(&made);
            let is_fixed = |column, row| covered.holds(column, row, size);
            let found = rig.mask().map_or(0.0, |mask| overlap(mask, is_fixed));
            let outside = rig.mask().map_or(0.0, |mask| outside(mask, is_fixed));
            eprintln!(
                "{clip}, {covered:?}: {:.3} px rms, {:.4} degrees rms, confidence {:.2} and up, rig overlap {found:.2}, {outside:.3} outside",
                errors.px, errors.degrees, errors.least_confidence
            );
            let is_good = errors.px < 0.25 && errors.degrees < 0.05 && errors.answered == 1.0;
            // Plain bodywork whose outline is now lighter and now darker than the world may be missed; the world is
            // never taken for bodywork.
            if !is_good || outside > 0.05 {
                misses.push((clip, covered, errors, found, outside));
            }
        }
    }
    assert!(misses.is_empty(), "{misses:#?}");
}

/// The rig of a video, and every step of its background at analysis size.
fn measured(path: &Path) -> (RigFinding, MeasuredMotion, Raster) {
    let mut opened = open(&Footage::video(path), &Reading::default()).unwrap();
    let (raster, whole) = (opened.facts.raster, opened.facts.whole());
    let size = raster_of_lines(raster, LINES);
    let mut finder = RigFinder::new(size);
    opened
        .frames
        .visit_luma(whole, size, &mut |_, luma| {
            finder.take(luma).unwrap();
            ControlFlow::Continue(())
        })
        .unwrap();
    let rig = finder.finding();
    let mut meter = BackgroundMeter::new(size, size, rig.mask()).unwrap();
    let mut motion = MeasuredMotion::default();
    opened
        .frames
        .visit_luma(whole, size, &mut |_, luma| {
            motion.push(meter.take(luma, &[]).unwrap());
            ControlFlow::Continue(())
        })
        .unwrap();
    (rig, motion, size)
}

/// How many steps are known, and their confidence at worst.
fn tell_steps(motion: &MeasuredMotion) {
    let known: Vec<f64> = motion.steps().iter().flatten().map(|step| step.confidence).collect();
    let least = known.iter().copied().fold(1.0, f64::min);
    eprintln!(
        "{} of {} steps known, confidence {least:.2} and up",
        known.len(),
        motion.steps().len()
    );
}

/// The bonnet of the 1280 x 720 clip, drawn by hand on its first frame: its upper edge from left to right.
const BONNET: [(f64, f64); 17] = [
    (0.0, 673.0),
    (82.0, 675.5),
    (163.0, 679.6),
    (212.0, 686.0),
    (282.0, 687.0),
    (343.0, 683.7),
    (408.0, 680.0),
    (457.0, 675.5),
    (522.0, 671.4),
    (653.0, 668.0),
    (784.0, 669.0),
    (865.0, 671.0),
    (914.0, 676.0),
    (1098.0, 676.0),
    (1143.0, 666.5),
    (1208.0, 661.0),
    (1280.0, 658.0),
];

fn is_bonnet(x: f64, y: f64) -> bool {
    let pair = BONNET.windows(2).find(|pair| x < pair[1].0).unwrap_or(&BONNET[15..]);
    let share = (x - pair[0].0) / (pair[1].0 - pair[0].0);
    y >= pair[0].1 + share * (pair[1].1 - pair[0].1)
}

#[test]
fn the_bonnet_is_found_and_nothing_on_the_road_is() {
    let Some(folder) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let (rig, motion, size) = measured(&folder.join("video/h264-1280x720-25fps-vehicle.mp4"));
    let mask = rig.mask().unwrap_or_else(|| panic!("{rig:?}"));
    let (across, down) = (1280.0 / size.width(), 720.0 / size.height());
    let found = overlap(mask, |column, row| {
        is_bonnet((f64::from(column) + 0.5) * across, (f64::from(row) + 0.5) * down)
    });
    eprintln!("bonnet: overlap {found:.3}, {:.3} of the frame", mask.share());
    assert!(found >= 0.7, "{found}");
    tell_steps(&motion);

    let clip = "video/h264-960x540-25fps-audio-first-vehicle.mp4";
    let (rig, motion, size) = measured(&folder.join(clip));
    // The road begins at about line 320 of 540, as seen on the first and the last frame.
    let road = size.height_px() * 320 / 540;
    let on_road = rig.mask().map_or(0, |mask| {
        (road..size.height_px())
            .flat_map(|row| (0..size.width_px()).map(move |column| (column, row)))
            .filter(|(column, row)| mask.is_fixed(*column, *row))
            .count()
    });
    eprintln!("road: {on_road} px are taken for fixed");
    tell_steps(&motion);
    assert_eq!(on_road, 0);
}

#[test]
fn measured_motion_is_read_as_a_motion_file() {
    let Some(folder) = footage::folder() else { return };
    let pattern = folder.join("boxed/bmx-trees/%05d.jpg");
    let reading = Reading { rate: Some("24".parse().unwrap()), ..Reading::default() };
    let mut opened = open(&Footage::Sequence(pattern.clone()), &reading).unwrap();
    let (raster, whole) = (opened.facts.raster, opened.facts.whole());
    let size = raster_of_lines(raster, LINES);
    let mut meter = BackgroundMeter::new(raster, size, None).unwrap();
    let mut motion = MeasuredMotion::default();
    opened
        .frames
        .visit_luma(whole, size, &mut |_, luma| {
            motion.push(meter.take(luma, &[]).unwrap());
            ControlFlow::Continue(())
        })
        .unwrap();
    let known = motion.steps().iter().flatten().count();
    let shoot_folder = tempfile::tempdir().unwrap();
    let mut file = fs::File::create(shoot_folder.path().join("motion.csv")).unwrap();
    MeasuredMotion::write(&[("bmx", &motion)], MeasuredMotion::LEAST_CONFIDENCE, &mut file)
        .unwrap();
    let shoot = format!(
        "version = 1\ntimeline_rate = \"24\"\nmarks = \"marks.csv\"\nmotion = \"motion.csv\"\n\
         [[deliverable]]\nname = \"vertical\"\nraster = \"270x480\"\n\
         [[clip]]\nname = \"bmx\"\nframes = '{}'\nrate = \"24\"\nsteady = \"world\"\n",
        pattern.display()
    );
    let marks = "clip,frame,left,top,width,height\nbmx,0,363,121,192,257\nbmx,79,300,120,180,250\n";
    fs::write(shoot_folder.path().join("marks.csv"), marks).unwrap();
    fs::write(shoot_folder.path().join("shoot.toml"), shoot).unwrap();
    let checked = lookroom_in(shoot_folder.path(), &["check", "shoot.toml"]);
    assert_eq!(checked.status.code(), Some(0), "{}", stderr(&checked));
    eprintln!("{known} of {} steps known", motion.steps().len());
    assert_eq!(known, 79, "every frame after the first");
}
