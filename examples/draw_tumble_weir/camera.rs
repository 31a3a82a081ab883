//! The camera on the footbridge: frame size, perspective, hand shake, bridge rail.

use std::f32::consts::TAU;

use tiny_skia::{Point, Transform};

use crate::canvas::{Canvas, polygon, pt, rgba};
use crate::noise;

/// Frame width in pixels.
pub(crate) const WIDTH: u16 = 1440;
/// Frame height in pixels.
pub(crate) const HEIGHT: u16 = 1080;
/// Frames in one second.
pub(crate) const RATE: u16 = 25;
/// Scene pixels drawn beyond each edge of the frame, so that shake shows no border.
pub(crate) const MARGIN: u16 = 16;

/// Pixels in one metre across the picture, on the water at [`METRE_LINE`].
const METRE: f32 = 78.0;
/// The picture line on which a metre is [`METRE`] pixels.
const METRE_LINE: f32 = 720.0;
/// How much a metre grows for each pixel down the picture.
const METRE_GROWTH: f32 = 0.001_02;
/// How far a metre away along the ground looks, beside a metre across.
pub(crate) const FORESHORTEN: f32 = 0.42;
/// How far a metre of height looks, beside a metre across.
pub(crate) const RISE: f32 = 0.92;

/// Top of the blurred rail in the frame.
const RAIL_TOP: f32 = 1034.0;
/// Depth of the rail's soft upper edge.
const RAIL_BLUR: f32 = 22.0;

/// Pixels in a metre for something standing on the water at picture line `y`.
pub(crate) fn metre_at(y: f32) -> f32 {
    METRE * (1.0 + (y - METRE_LINE) * METRE_GROWTH)
}

/// One slow sway of the hands: size in pixels, cycles a second, and where it starts.
struct Sway {
    size: f32,
    rate: f32,
    start: f32,
}

/// Hand shake: a few sways that never fall into step, and a smooth random part.
pub(crate) struct Shake {
    across: [Sway; 3],
    down: [Sway; 3],
}

impl Shake {
    /// Size of the random part, in pixels.
    const NOISE: f32 = 2.6;
    /// Frames between two random values.
    const NOISE_STEP: u16 = 6;
    /// The shake never exceeds this many pixels.
    const LIMIT: f32 = 8.0;

    /// The shake of this clip.
    pub(crate) fn new() -> Self {
        let sway = |size, rate, start| Sway { size, rate, start };
        Self {
            across: [sway(2.9, 0.37, 0.6), sway(2.0, 0.83, 2.1), sway(1.1, 1.71, 4.4)],
            down: [sway(2.6, 0.29, 3.0), sway(2.1, 0.97, 0.2), sway(1.2, 2.03, 1.3)],
        }
    }

    /// How far the scene sits from its resting place in `frame`.
    pub(crate) fn offset(&self, frame: u16) -> Point {
        pt(Self::along(&self.across, 7_100, frame), Self::along(&self.down, 9_300, frame))
    }

    fn along(sways: &[Sway], seed: u32, frame: u16) -> f32 {
        let time = seconds(frame);
        let slow: f32 = sways.iter().map(|s| s.size * (s.start + TAU * s.rate * time).sin()).sum();
        let fast = Self::NOISE * noise::smooth(seed, frame, Self::NOISE_STEP);
        (slow + fast).clamp(-Self::LIMIT, Self::LIMIT)
    }
}

/// The time of `frame` from the start of the clip.
pub(crate) fn seconds(frame: u16) -> f32 {
    f32::from(frame) / f32::from(RATE)
}

/// The transform that places the scene in a frame moved by `offset`.
pub(crate) fn placed(offset: Point) -> Transform {
    Transform::from_translate(offset.x, offset.y)
}

/// Draws the dark, out-of-focus bridge rail, which stays still in the frame.
pub(crate) fn draw_rail(canvas: &mut Canvas) {
    let (right, bottom) = (f32::from(WIDTH), f32::from(HEIGHT));
    let slab = |top: f32, foot: f32| {
        polygon(&[pt(0.0, top), pt(right, top - 6.0), pt(right, foot), pt(0.0, foot)])
    };
    let solid = RAIL_TOP + RAIL_BLUR;
    canvas.graded(
        slab(RAIL_TOP, bottom),
        (RAIL_TOP - 4.0, rgba(0x1d2226, 0.0)),
        (solid, rgba(0x1d2226, 0.97)),
    );
    canvas.graded(
        slab(solid - 8.0, bottom),
        (solid - 8.0, rgba(0x4a545a, 0.0)),
        (solid + 6.0, rgba(0x4a545a, 0.35)),
    );
    canvas.graded(
        slab(solid + 6.0, bottom),
        (solid + 6.0, rgba(0x121518, 0.0)),
        (bottom, rgba(0x121518, 0.9)),
    );
}
