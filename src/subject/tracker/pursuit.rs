//! Going on from one box, a frame at a time.
//!
//! Points inside the box tell how it moves and stretches, each axis by itself; a correlation filter holds it
//! to what the subject looks like, so that errors do not add up, and says how well it is still seen.

use super::{
    colour::Colours,
    cues::Cues,
    features::{CELL, features},
    filter::Filter,
    fourier::SIDE,
    frame::{Frame, Patch, Place},
    mask::{half_cells, mask},
    motion::{Affine, Stretch},
    points::{camera_motion, subject_motion},
    whole::floor,
};
use image::RgbImage;

/// Cells along a side of the filter's window: of 28 to 36 none was better than another on the boxed clips.
const CELLS: usize = SIDE;
/// Room around the box in the filter's window, in root areas of the box: 1 lost parkour, 2 did not.
const ROOM: f64 = 2.0;
/// Rates at which the filter and the colours are learnt. Published are 0.02 and 0.04; on the boxed clips, from
/// marks a dozen frames apart and both ways, quicker ones gain on five of six.
const FILTER_RATE: f32 = 0.03;
const COLOUR_RATE: f32 = 0.1;
/// Rounds of the filter's solution: at first as published, later half as many, which measured the same.
const FIRST_ROUNDS: usize = 4;
const ROUNDS: usize = 2;
/// Below this peak to sidelobe nothing is learnt: what the published 7 to 8 call lost.
const LEARN_ABOVE: f32 = 7.0;
/// How much of the filter's own place is taken where all points agree; more where fewer do.
const PULL: f64 = 0.3;
/// The filter tells its place to this many cells; the points, which tell it to a hundredth of a px, keep theirs
/// where it differs by less.
const FINE_CELLS: f64 = 0.3;
/// The share of agreeing points from which the points have that much of a say.
const SURE_OF_PLACE: f64 = 0.5;
/// The share of agreeing points from which their stretch is taken in full.
const SURE_OF_SIZE: f64 = 0.3;
/// The most a box grows or shrinks in a frame.
const STRETCH_LIMITS: (f64, f64) = (0.85, 1.18);
/// No side of a box is thought smaller, px.
const LEAST_SIDE_PX: f64 = 8.0;
/// A chance below this for so many frames in a row is a loss.
const LOST_BELOW: f64 = 0.05;
const LOST_AFTER: usize = 3;
/// From this chance on a lost subject is found again.
const FOUND_FROM: f64 = 0.6;
/// Places that are looked at in a frame while the subject is lost.
const LOOKS_A_FRAME: usize = 6;

/// What one frame brought.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    pub(super) place: Place,
    pub(super) cues: Cues,
    /// Whether the subject counts as lost: the place is then a memory and no sighting.
    pub(super) is_lost: bool,
}

/// A subject that is being followed.
pub(super) struct Pursuit {
    place: Place,
    /// The filter's window over the box, an axis each.
    window_over_box: [f64; 2],
    filter: Filter,
    first_height: f32,
    colours: Colours,
    first_colours: Colours,
    mask: Vec<f32>,
    speed: [f64; 2],
    camera: Option<Affine>,
    last: Frame,
    /// The one before the last, for its memory.
    spare: Option<Frame>,
    /// Frames in a row in which it was hardly seen.
    unseen: usize,
    looked: usize,
}

/// What a look at a place told.
struct Look {
    /// From the place to the filter's own, px.
    off: [f64; 2],
    /// The same in cells, as a length.
    off_cells: f64,
    height: f32,
    peak_to_sidelobe: f32,
}

impl Look {
    /// How much of the filter's offset is no rounding of its cells, 0 to 1.
    fn beyond_doubt(&self) -> f64 {
        let squared = self.off_cells.powi(2);
        squared / (squared + FINE_CELLS.powi(2))
    }
}

impl Pursuit {
    pub(super) fn new(picture: &RgbImage, place: Place) -> Self {
        let last = Frame::new(picture);
        let side = (place.size[0] * place.size[1]).sqrt();
        let window_over_box = place.size.map(|size| 1.0 + ROOM * side / size);
        let mut filter = Filter::new();
        let patch = last.patch(place.scaled(window_over_box), CELLS * CELL);
        let half = half_cells(CELLS, window_over_box);
        let guess = Colours::of(&patch, half, None);
        let colours = Colours::of(&patch, half, Some(&guess.chances(&patch)));
        let mask = mask(&colours.chances(&patch), CELLS, half);
        let seen = features(&patch);
        filter.learn(&seen, &mask, 1.0, FIRST_ROUNDS);
        let first_height = filter.answer(&seen).peak().height.max(f32::MIN_POSITIVE);
        Self {
            place,
            window_over_box,
            filter,
            first_height,
            first_colours: colours.clone(),
            colours,
            mask,
            speed: [0.0; 2],
            camera: None,
            last,
            spare: None,
            unseen: 0,
            looked: 0,
        }
    }

    /// Goes on to the next frame.
    pub(super) fn step(&mut self, picture: &RgbImage) -> Step {
        let frame = match self.spare.take() {
            Some(spare) => Frame::in_place_of(spare, picture),
            None => Frame::new(picture),
        };
        self.camera = camera_motion([&self.last, &frame], self.place, self.camera);
        let step =
            if self.unseen >= LOST_AFTER { self.search(&frame) } else { self.follow(&frame) };
        self.spare = Some(std::mem::replace(&mut self.last, frame));
        step
    }

    fn follow(&mut self, frame: &Frame) -> Step {
        let found = subject_motion(
            [&self.last, frame],
            self.place,
            self.speed,
            self.camera.as_ref(),
            |point| self.share_at(point),
        );
        let (mut next, agreed) = self.carried(found, frame);
        let look = self.look(frame, next);
        // Where few points agree, the filter has the say, as far as it is sure itself.
        let doubt = (1.0 - agreed / SURE_OF_PLACE).clamp(0.0, 1.0);
        let trust = (f64::from(look.peak_to_sidelobe) / 10.0).clamp(0.0, 1.0);
        let pull = PULL + (1.0 - PULL) * doubt * trust;
        let pull = pull * look.beyond_doubt();
        for axis in 0..2 {
            let there = next.centre[axis] + pull * look.off[axis];
            next.centre[axis] = there.clamp(0.0, frame.size()[axis]);
            self.speed[axis] = next.centre[axis] - self.place.centre[axis];
        }
        self.place = next;
        let cues = self.cues_and_learn(frame, &look);
        let is_seen = cues.confidence() >= LOST_BELOW;
        self.unseen = if is_seen { 0 } else { self.unseen + 1 };
        Step { place: next, cues, is_lost: !is_seen }
    }

    /// The box moved as the points did, and the share of them that agreed; without points, as it went before.
    fn carried(&self, found: Option<Stretch>, frame: &Frame) -> (Place, f64) {
        let Place { centre, size } = self.place;
        let Some(found) = found else {
            let ahead = [0, 1].map(|axis| centre[axis] + self.speed[axis]);
            return (Place { centre: ahead, size }, 0.0);
        };
        let sure = (found.agreed / SURE_OF_SIZE).clamp(0.0, 1.0);
        let size = [0, 1].map(|axis| {
            let scale = found.scale[axis].clamp(STRETCH_LIMITS.0, STRETCH_LIMITS.1);
            let stretched = size[axis] * (1.0 + sure * (scale - 1.0));
            stretched.clamp(LEAST_SIDE_PX, 2.0 * frame.size()[axis])
        });
        (Place { centre: found.apply(centre), size }, found.agreed)
    }

    fn look(&self, frame: &Frame, place: Place) -> Look {
        let window = place.scaled(self.window_over_box);
        let response = self.filter.answer(&features(&frame.patch(window, CELLS * CELL)));
        let peak = response.peak();
        Look {
            off: [0, 1].map(|axis| peak.offset[axis] * window.size[axis] / CELLS as f64),
            off_cells: peak.offset[0].hypot(peak.offset[1]),
            height: peak.height,
            peak_to_sidelobe: response.peak_to_sidelobe(&peak),
        }
    }

    /// How well the subject is seen where it is now thought to be; learns from it if well enough.
    fn cues_and_learn(&mut self, frame: &Frame, look: &Look) -> Cues {
        let patch = self.window_on(frame);
        let chances = self.colours.chances(&patch);
        let half = half_cells(CELLS, self.window_over_box);
        let colours = Colours::of(&patch, half, Some(&chances));
        let cues = Cues {
            height: f64::from(look.height / self.first_height),
            likeness: f64::from(self.first_colours.likeness(&colours)),
        };
        if look.peak_to_sidelobe > LEARN_ABOVE {
            self.mask = mask(&chances, CELLS, half);
            self.filter.learn(&features(&patch), &self.mask, FILTER_RATE, ROUNDS);
            self.colours.learn(&colours, COLOUR_RATE);
        }
        cues
    }

    fn window_on(&self, frame: &Frame) -> Patch {
        frame.patch(self.place.scaled(self.window_over_box), CELLS * CELL)
    }

    /// Looks for a lost subject: where it would be if it stood still in the world, and at a few places more
    /// each frame, until the whole frame has been seen.
    fn search(&mut self, frame: &Frame) -> Step {
        if let Some(camera) = self.camera {
            let there = camera.apply(self.place.centre);
            self.place.centre = [0, 1].map(|axis| there[axis].clamp(0.0, frame.size()[axis]));
        }
        self.speed = [0.0; 2];
        let kept = self.place;
        let places = places_around(kept, frame.size());
        let mut best: Option<(Look, Place)> = None;
        for look_at in 0..LOOKS_A_FRAME.min(places.len()) {
            let index = if look_at == 0 { 0 } else { (self.looked + look_at) % places.len() };
            let look = self.look(frame, places[index]);
            if best.as_ref().is_none_or(|(highest, _)| look.height > highest.height) {
                best = Some((look, places[index]));
            }
        }
        self.looked += LOOKS_A_FRAME - 1;
        let Some((look, mut place)) = best else {
            return Step { place: kept, cues: Cues::NOTHING, is_lost: true };
        };
        place.centre =
            [0, 1].map(|axis| (place.centre[axis] + look.off[axis]).clamp(0.0, frame.size()[axis]));
        self.place = place;
        let again = self.look(frame, place);
        let cues = self.cues_without_learning(frame, &again);
        if cues.confidence() >= FOUND_FROM && again.peak_to_sidelobe > LEARN_ABOVE {
            self.unseen = 0;
            return Step { place, cues, is_lost: false };
        }
        self.place = kept;
        Step { place: kept, cues, is_lost: true }
    }

    fn cues_without_learning(&mut self, frame: &Frame, look: &Look) -> Cues {
        let silent = Look { peak_to_sidelobe: 0.0, ..*look };
        self.cues_and_learn(frame, &silent)
    }

    /// The subject's share of the cell that a point lies in.
    fn share_at(&self, point: [f64; 2]) -> f32 {
        let at = [0, 1].map(|axis| {
            let window = self.place.size[axis] * self.window_over_box[axis];
            let share = (point[axis] - self.place.centre[axis]) / window + 0.5;
            floor(share * CELLS as f64).min(CELLS - 1)
        });
        self.mask[at[1] * CELLS + at[0]]
    }
}

/// Places to look for a box at, the nearest first: a net over the frame as wide as half the filter's reach.
fn places_around(kept: Place, frame: [f64; 2]) -> Vec<Place> {
    let step = (ROOM / 2.0 * (kept.size[0] * kept.size[1]).sqrt()).max(frame[0] / 24.0);
    let count = frame.map(|side| floor((side / step).ceil().max(1.0)));
    let mut places = vec![kept];
    for row in 0..count[1] {
        for column in 0..count[0] {
            let at =
                |index: usize, axis: usize| (index as f64 + 0.5) / count[axis] as f64 * frame[axis];
            places.push(Place { centre: [at(column, 0), at(row, 1)], size: kept.size });
        }
    }
    let away =
        |place: &Place| (place.centre[0] - kept.centre[0]).hypot(place.centre[1] - kept.centre[1]);
    places.sort_by(|a, b| away(a).total_cmp(&away(b)));
    places
}
