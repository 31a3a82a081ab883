use super::{Cues, frame::Place, pursuit::Pursuit};
use crate::geometry::Region;
use image::RgbImage;

/// Follows a box forward from one picture, with no mark but that: what [`follow_marks`](super::follow_marks)
/// runs from each mark both ways.
///
/// All pictures are of one size, and px are theirs. Nothing but the last picture is kept.
pub struct Tracker {
    pursuit: Pursuit,
    size: [f64; 2],
}

/// What a tracker found in one picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// The visible part of the box; while the subject is lost, where it is looked for first.
    pub region: Region,
    /// What the chance that the box is right was told from.
    pub cues: Cues,
    /// Whether it counts as lost: the region is then no sighting.
    pub is_lost: bool,
}

impl Tracker {
    /// A tracker that starts from a box in a picture. Of a box that hangs over, the part inside is followed.
    ///
    /// `None` if less than a px each way of the box is inside the picture.
    #[must_use]
    pub fn new(picture: &RgbImage, region: &Region) -> Option<Self> {
        let size = [f64::from(picture.width()), f64::from(picture.height())];
        let inside = visible(&place_of(region), size)?;
        Some(Self { pursuit: Pursuit::new(picture, place_of(&inside)), size })
    }

    /// Goes on to the next picture.
    ///
    /// # Panics
    /// If the picture has another size than the first.
    pub fn step(&mut self, picture: &RgbImage) -> Seen {
        let size = [f64::from(picture.width()), f64::from(picture.height())];
        assert_eq!(size.map(f64::to_bits), self.size.map(f64::to_bits), "pictures of one size");
        let step = self.pursuit.step(picture);
        let inside = visible(&step.place, size);
        let hidden = || {
            // A sliver at the edge: nothing of it can be seen.
            let at = |axis: usize| (step.place.centre[axis] - 0.5).clamp(0.0, size[axis] - 1.0);
            Region::new(at(0), at(1), 1.0, 1.0).expect("one px each way, from finite numbers")
        };
        let is_lost = step.is_lost || inside.is_none();
        Seen { region: inside.unwrap_or_else(hidden), cues: step.cues, is_lost }
    }
}

fn place_of(region: &Region) -> Place {
    Place {
        centre: [region.centre_x(), region.centre_y()],
        size: [region.width(), region.height()],
    }
}

/// The part of a box that is inside a picture, if that is at least a px each way.
fn visible(place: &Place, size: [f64; 2]) -> Option<Region> {
    let edges = [0, 1].map(|axis| {
        let half = place.size[axis] / 2.0;
        let near = (place.centre[axis] - half).max(0.0);
        (near, (place.centre[axis] + half).min(size[axis]))
    });
    let [(left, right), (top, bottom)] = edges;
    let large_enough = right - left >= 1.0 && bottom - top >= 1.0;
    large_enough.then(|| Region::new(left, top, right - left, bottom - top)).flatten()
}
