//! Draws the demo footage: an invented kayak slalom at "Tumble Weir".
//!
//! Two hundred 4:3 frames, as a hand-shaken camera on a footbridge would shoot them, with
//! the true box round the paddler in each. Every run draws the same bytes.
//!
//! ```text
//! cargo run --release --example draw_tumble_weir -- sample-frames/tumble-weir
//! ```
//!
//! The folder then holds `frames/00000.jpg` to `frames/00199.jpg`; `boxes.csv`, the box round kayak, body
//! and helmet (not the paddle) in every frame; and `marks.csv`, the same boxes a second
//! apart, as somebody marking the footage by hand would give them.

mod backdrop;
mod camera;
mod canvas;
mod course;
mod gates;
mod land;
mod noise;
mod paddler;
mod water;

use std::error::Error;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use jpeg_encoder::{ColorType, Encoder, SamplingFactor};
use tiny_skia::{Pixmap, Point, Rect, Transform};

use camera::{HEIGHT, MARGIN, RATE, Shake, WIDTH, placed, seconds};
use canvas::{Canvas, pt};
use gates::{Gates, Side};
use land::Crowd;
use paddler::Paddler;
use water::{Water, Weir};

/// Frames in the clip.
const FRAMES: u16 = 200;
/// The clip's name in `marks.csv`.
const CLIP: &str = "weir-bridge";
/// The JPEG quality frames are saved with: so that the whole clip stays under ten megabytes.
const QUALITY: u8 = 20;

type Outcome<T> = Result<T, Box<dyn Error>>;

fn main() -> Outcome<()> {
    let folder =
        std::env::args_os().nth(1).map(PathBuf::from).ok_or("give the folder to draw into")?;
    let frames = folder.join("frames");
    fs::create_dir_all(&frames)?;
    let scene = Scene::new()?;
    let mut boxes = String::from("frame,left,top,width,height\n");
    let mut marks = String::from("clip,frame,left,top,width,height,kind,name\n");
    for frame in 0..FRAMES {
        save(&scene.draw(frame)?, &frames.join(format!("{frame:05}.jpg")))?;
        let sides = sides(scene.subject(frame)?);
        writeln!(boxes, "{frame},{sides}")?;
        if frame % RATE == 0 || frame + 1 == FRAMES {
            writeln!(marks, "{CLIP},{frame},{sides},subject,paddler")?;
        }
    }
    fs::write(folder.join("boxes.csv"), boxes)?;
    fs::write(folder.join("marks.csv"), marks)?;
    Ok(())
}

/// The whole scene: two layers drawn once, and the things that move.
struct Scene {
    /// Sky, hills, woods, pool and river bed.
    backdrop: Pixmap,
    /// Banks, piers, boulders and near rocks, clear elsewhere.
    land: Pixmap,
    water: Water,
    weir: Weir,
    gates: Gates,
    crowd: Crowd,
    paddler: Paddler,
    shake: Shake,
}

impl Scene {
    fn new() -> Outcome<Self> {
        let mut backdrop = layer(1)?;
        let distance = draw_distance()?;
        let mut canvas = Canvas::new(&mut backdrop, at_margin(1.0));
        let margin = f32::from(MARGIN);
        canvas.layer(distance.as_ref(), pt(-margin, -margin), 2.0);
        water::draw_bed(&mut canvas);
        let mut ground = layer(1)?;
        land::draw(&mut Canvas::new(&mut ground, at_margin(1.0)));
        Ok(Self {
            backdrop,
            land: ground,
            water: Water::new(),
            weir: Weir::new(),
            gates: Gates::new(),
            crowd: Crowd::new(),
            paddler: Paddler::new(FRAMES - 1),
            shake: Shake::new(),
        })
    }

    /// Draws one frame.
    fn draw(&self, frame: u16) -> Outcome<Pixmap> {
        let mut picture = Pixmap::new(u32::from(WIDTH), u32::from(HEIGHT)).ok_or("no picture")?;
        let time = seconds(frame);
        let mut canvas = Canvas::new(&mut picture, placed(self.shake.offset(frame)));
        let corner = pt(-f32::from(MARGIN), -f32::from(MARGIN));
        canvas.layer(self.backdrop.as_ref(), corner, 1.0);
        self.water.draw(&mut canvas, time);
        self.weir.draw(&mut canvas, time);
        canvas.layer(self.land.as_ref(), corner, 1.0);
        water::draw_boulder_foam(&mut canvas, time);
        self.crowd.draw(&mut canvas, time);
        self.gates.draw_wires(&mut canvas);
        let line = self.paddler.water_line(time);
        self.gates.draw(&mut canvas, Side::Beyond(line), time);
        self.paddler.draw(&mut canvas, time);
        self.gates.draw(&mut canvas, Side::Before(line), time);
        camera::draw_rail(&mut Canvas::new(&mut picture, placed(Point::zero())));
        Ok(picture)
    }

    /// The true box round the paddler in one frame, shake and all.
    fn subject(&self, frame: u16) -> Outcome<Rect> {
        let shift = self.shake.offset(frame);
        let found =
            self.paddler.bounds(seconds(frame)).and_then(|still| still.transform(placed(shift)));
        Ok(found.ok_or("the paddler has no outline")?)
    }
}

/// An empty layer as large as the frame and its margins, each side divided by `shrink`.
fn layer(shrink: u16) -> Outcome<Pixmap> {
    let side = |length: u16| u32::from((length + 2 * MARGIN) / shrink);
    Ok(Pixmap::new(side(WIDTH), side(HEIGHT)).ok_or("a layer has no area")?)
}

/// Places the scene's origin inside a layer's margin, at `scale`.
fn at_margin(scale: f32) -> Transform {
    let margin = f32::from(MARGIN);
    Transform::from_translate(margin, margin).post_scale(scale, scale)
}

/// Draws the distance at half size: enlarged again, it looks a little out of focus.
fn draw_distance() -> Outcome<Pixmap> {
    let mut distance = layer(2)?;
    backdrop::draw(&mut Canvas::new(&mut distance, at_margin(0.5)));
    Ok(distance)
}

/// `left,top,width,height` of the whole pixels that `bounds` touches.
fn sides(bounds: Rect) -> String {
    let (left, top) = (bounds.left().floor(), bounds.top().floor());
    let (right, bottom) = (bounds.right().ceil(), bounds.bottom().ceil());
    format!("{left:.0},{top:.0},{:.0},{:.0}", right - left, bottom - top)
}

/// Saves an opaque picture as a JPEG with halved colour planes, which the `image` crate's writer does not do.
/// Codes are not fitted to the picture: that would put each plane in a scan of its own, and the `image`
/// crate's reader gets those wrong.
fn save(picture: &Pixmap, path: &Path) -> Outcome<()> {
    let mut encoder = Encoder::new_file(path, QUALITY)?;
    encoder.set_sampling_factor(SamplingFactor::F_2_2);
    encoder.encode(picture.data(), WIDTH, HEIGHT, ColorType::Rgba)?;
    Ok(())
}
