//! Whether the blur measure orders frames rightly: real boxed frames (the DAVIS video-segmentation set, validation half) with known
//! motion and defocus laid over them, and beside it two measures of focus that are in every handbook ("Analysis of focus
//! measure operators for shape-from-focus", Pattern Recognition 46 (2013), doi:10.1016/j.patcog.2012.11.011): the energy of
//! the gradient and the variance of the Laplacian. Title and DOI from memory.

use crate::footage::{self, BOXED};
use image::{GrayImage, Luma};
use lookroom::{geometry::Region, sharpness::edge_blur};

/// A blur that is laid over a frame.
#[derive(Debug, Clone, Copy)]
enum Laid {
    Nothing,
    /// So many px long, in degrees from across.
    Motion(f64, f64),
    /// A disc of so many px radius.
    Defocus(f64),
}

use Laid::{Defocus, Motion, Nothing};

const LAID: [Laid; 12] = [
    Nothing,
    Motion(3.0, 0.0),
    Motion(3.0, 90.0),
    Motion(6.0, 35.0),
    Motion(6.0, 130.0),
    Motion(10.0, 0.0),
    Motion(10.0, 90.0),
    Motion(16.0, 35.0),
    Motion(16.0, 130.0),
    Defocus(1.0),
    Defocus(2.0),
    Defocus(3.5),
];

impl Laid {
    /// The mean variance over all directions, in px².
    fn variance(self) -> f64 {
        match self {
            Nothing => 0.0,
            Motion(length, _) => length * length / 24.0,
            Defocus(radius) => radius * radius / 4.0,
        }
    }

    /// Where light of a px goes, at eighths of a px.
    fn places(self) -> Vec<(f64, f64)> {
        let line =
            |length: f64| (0..).map(move |k| length * ((f64::from(k) + 0.5) / 48.0 - 0.5)).take(48);
        match self {
            Nothing => vec![(0.0, 0.0)],
            Motion(length, degrees) => {
                let (down, across) = degrees.to_radians().sin_cos();
                line(length).map(|at| (at * across, at * down)).collect()
            }
            Defocus(radius) => {
                let steps: Vec<f64> =
                    (0..16).map(|k| 2.0 * radius * ((f64::from(k) + 0.5) / 16.0 - 0.5)).collect();
                let all = steps.iter().flat_map(|x| steps.iter().map(|y| (*x, *y)));
                all.filter(|(x, y)| x.hypot(*y) <= radius).collect()
            }
        }
    }

    /// The weights of whole steps.
    fn kernel(self) -> Vec<(i64, i64, f64)> {
        let places = self.places();
        let mut weights = std::collections::BTreeMap::new();
        for (x, y) in &places {
            let (left, top) = (x.floor(), y.floor());
            let whole = |v: f64| format!("{v:.0}").parse::<i64>().unwrap();
            for (column, across) in [(0, 1.0 - (x - left)), (1, x - left)] {
                for (row, down) in [(0, 1.0 - (y - top)), (1, y - top)] {
                    *weights.entry((whole(left) + column, whole(top) + row)).or_insert(0.0) +=
                        across * down;
                }
            }
        }
        let count = f64::from(u32::try_from(places.len()).unwrap());
        weights.into_iter().map(|((x, y), weight)| (x, y, weight / count)).collect()
    }

    /// A part of a picture as this blur makes it, with a noise of about one code.
    fn over(
        self,
        picture: &GrayImage,
        (left, top, right, bottom): (u32, u32, u32, u32),
    ) -> GrayImage {
        let kernel = self.kernel();
        let mut seed = 1_u32;
        let mut noise = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(seed >> 8) / f64::from(1_u32 << 24)
        };
        let at = |px: i64, side: u32| u32::try_from(px.clamp(0, i64::from(side) - 1)).unwrap();
        GrayImage::from_fn(right - left, bottom - top, |x, y| {
            let sum: f64 = kernel
                .iter()
                .map(|(across, down, weight)| {
                    let place = (
                        at(i64::from(x + left) + across, picture.width()),
                        at(i64::from(y + top) + down, picture.height()),
                    );
                    weight * f64::from(picture.get_pixel(place.0, place.1).0[0])
                })
                .sum();
            let code = sum + 1.7 * (noise() + noise() + noise() - 1.5);
            Luma([format!("{:.0}", code.clamp(0.0, 255.0)).parse().unwrap()])
        })
    }
}

/// What is measured of one blurred frame: larger is sharper.
struct Measured {
    clip: usize,
    frame: usize,
    laid: Laid,
    values: [f64; 3],
}

const NAMES: [&str; 3] = ["edges", "gradient energy", "variance of the Laplacian"];

fn handbook(picture: &GrayImage, part: &Region) -> (f64, f64) {
    let whole = |v: f64| format!("{v:.0}").parse::<u32>().unwrap();
    let (left, right) = (whole(part.left()).max(1), whole(part.right()).min(picture.width() - 1));
    let (top, bottom) = (whole(part.top()).max(1), whole(part.bottom()).min(picture.height() - 1));
    let code = |x: u32, y: u32| f64::from(picture.get_pixel(x, y).0[0]);
    let (mut energy, mut sum, mut squares, mut count) = (0.0, 0.0, 0.0, 0.0);
    for y in top..bottom {
        for x in left..right {
            let (across, down) = (code(x + 1, y) - code(x - 1, y), code(x, y + 1) - code(x, y - 1));
            energy += across * across + down * down;
            let beside = code(x + 1, y) + code(x - 1, y) + code(x, y + 1) + code(x, y - 1);
            let curved = beside - 4.0 * code(x, y);
            (sum, squares, count) = (sum + curved, squares + curved * curved, count + 1.0);
        }
    }
    (energy / count, squares / count - (sum / count) * (sum / count))
}

fn measure_all() -> Option<Vec<Measured>> {
    const FRAMES: [usize; 3] = [4, 19, 34];
    const AROUND: f64 = 14.0;
    let mut all = Vec::new();
    for (place, clip) in BOXED.iter().enumerate() {
        let (boxes, pictures) = (footage::boxes(clip)?, footage::pictures(clip)?);
        for frame in FRAMES {
            let picture = image::open(&pictures[frame]).unwrap().into_luma8();
            let region = boxes[frame];
            let whole = |v: f64| format!("{:.0}", v.max(0.0)).parse::<u32>().unwrap();
            let part = (
                whole(region.left() - AROUND),
                whole(region.top() - AROUND),
                whole(region.right() + AROUND).min(picture.width()),
                whole(region.bottom() + AROUND).min(picture.height()),
            );
            let inside = Region::new(
                region.left() - f64::from(part.0),
                region.top() - f64::from(part.1),
                region.width(),
                region.height(),
            )
            .unwrap();
            for laid in LAID {
                let blurred = laid.over(&picture, part);
                let blur = edge_blur(&blurred, &inside)
                    .unwrap_or_else(|| panic!("{clip} frame {frame}, {laid:?}: too few edges"));
                let (energy, curved) = handbook(&blurred, &inside);
                let values = [-blur.radius_px(), energy, curved];
                all.push(Measured { clip: place, frame, laid, values });
            }
        }
    }
    Some(all)
}

/// The share of pairs that each measure orders rightly, and how many there are.
fn shares(all: &[Measured], counts: impl Fn(&Measured, &Measured) -> bool) -> ([f64; 3], usize) {
    let (mut right, mut total) = ([0.0; 3], 0_usize);
    for (place, one) in all.iter().enumerate() {
        for other in all[place + 1..].iter().filter(|other| counts(one, other)) {
            total += 1;
            let is_sharper = one.laid.variance() < other.laid.variance();
            for (right, (a, b)) in right.iter_mut().zip(one.values.iter().zip(&other.values)) {
                *right += f64::from(u8::from((a > b) == is_sharper));
            }
        }
    }
    let count = f64::from(u32::try_from(total).unwrap());
    (right.map(|right| right / count), total)
}

fn apart(one: Laid, other: Laid, (factor, px2): (f64, f64)) -> bool {
    let (less, more) = (one.variance().min(other.variance()), one.variance().max(other.variance()));
    more >= factor * less + px2
}

#[test]
fn more_blurred_frames_are_told_from_less_blurred_ones() {
    let Some(all) = measure_all() else { return };
    let same =
        |one: &Measured, other: &Measured| (one.clip, one.frame) == (other.clip, other.frame);
    // Of one frame half as much blur again is to be told; of two frames of a clip, which have blur of their own, three times.
    let (within, pairs) =
        shares(&all, |one, other| same(one, other) && apart(one.laid, other.laid, (1.5, 0.05)));
    let (across, others) = shares(&all, |one, other| {
        one.clip == other.clip && !same(one, other) && apart(one.laid, other.laid, (3.0, 1.5))
    });
    for (place, name) in NAMES.iter().enumerate() {
        eprintln!(
            "{name}: {:.1} % of {pairs} pairs of one frame rightly ordered, {:.1} % of {others} of two frames of a clip",
            100.0 * within[place],
            100.0 * across[place]
        );
    }
    assert!(within[0] >= 0.98, "{within:?}");
    assert!(across[0] >= 0.97, "{across:?}");
    assert!(within[0] > within[1] && within[0] > within[2], "{within:?}");
    assert!(across[0] >= across[1] && across[0] > across[2], "{across:?}");
}

/// Motion laid over a frame adds its length, whatever blur the frame has of its own: squares of lengths along a line add up.
#[test]
fn motion_is_measured_in_px_on_real_frames() {
    let Some(all) = measure_all() else { return };
    let mut ratios = Vec::new();
    for base in all.iter().filter(|one| matches!(one.laid, Nothing)) {
        let laid = all.iter().filter(|one| (one.clip, one.frame) == (base.clip, base.frame));
        for one in laid {
            if let Motion(length, _) = one.laid {
                // Both directions together: the mean variance grows by a 24th of the square.
                let grown = one.values[0].powi(2) - base.values[0].powi(2);
                if length < 12.0 {
                    ratios.push((24.0 * grown.max(0.0)).sqrt() / length);
                }
            }
        }
    }
    ratios.sort_by(f64::total_cmp);
    let middle = ratios[ratios.len() / 2];
    let near = ratios.iter().filter(|ratio| (0.6..1.5).contains(*ratio)).count();
    eprintln!(
        "3 to 10 px of motion on {} real pictures: measured over laid {:.2} to {:.2}, the middle one {middle:.2}, {near} within 0.6 to 1.5",
        ratios.len(),
        ratios[0],
        ratios[ratios.len() - 1]
    );
    assert!((0.8..1.25).contains(&middle), "{ratios:?}");
    assert!(near * 10 >= ratios.len() * 9, "{ratios:?}");
}
