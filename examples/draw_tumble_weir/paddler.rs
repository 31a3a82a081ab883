//! The paddler: kayak, body, paddle, and the water they disturb.

use std::f32::consts::{PI, TAU};

use tiny_skia::{Path, Point, Rect};

use crate::camera::{FORESHORTEN, RISE, metre_at};
use crate::canvas::{Canvas, between, blob, oval, polygon, pt, rgb, rgba};
use crate::course::Course;
use crate::noise::Dice;

/// Half the kayak's length, in metres.
const HALF_LENGTH: f32 = 1.75;
/// Half the kayak's width, in metres.
const HALF_BEAM: f32 = 0.31;
/// From the middle of the paddle to the middle of a blade, in metres.
const HALF_SHAFT: f32 = 0.92;
/// Full turns of the paddle, left and right, in one second.
const STROKE_RATE: f32 = 0.85;
/// The share of the line's turning that the kayak follows.
const FOLLOW: f32 = 0.5;

/// Where the hull's outline is measured, from stern (-1) to bow (1).
const STATIONS: [f32; 13] =
    [-1.0, -0.95, -0.86, -0.72, -0.52, -0.27, 0.0, 0.27, 0.52, 0.72, 0.86, 0.95, 1.0];

const DECK: u32 = 0xff6b35;
const SIDE: u32 = 0xb93a1c;
const TRIM: u32 = 0xffe3a3;
const VEST: u32 = 0xffd23f;
const VEST_SHADE: u32 = 0xd99f1e;
const SLEEVE: u32 = 0x27406b;
const SLEEVE_FAR: u32 = 0x1c2f52;
const SKIN: u32 = 0xdcab86;
const WHITE: u32 = 0xf7f7f2;
const HELMET: u32 = 0xd92f3a;

/// A place on the kayak in metres: ahead, towards the camera, up.
type Place = (f32, f32, f32);

/// The paddler's run down the course.
pub(crate) struct Paddler {
    course: Course,
}

/// Where everything is at one moment.
struct Pose {
    water: Point,
    metre: f32,
    yaw: f32,
    pitch: f32,
    roll: f32,
    bob: f32,
    lean: f32,
    stroke: f32,
}

impl Paddler {
    /// Seconds a fleck of wake lasts.
    const WAKE_LIFE: f32 = 1.9;
    /// Seconds a splash lasts.
    const SPLASH_LIFE: f32 = 0.55;

    /// A run that ends in frame `last`.
    pub(crate) fn new(last: u16) -> Self {
        Self { course: Course::new(last) }
    }

    /// The picture line on which the boat floats at `time`.
    pub(crate) fn water_line(&self, time: f32) -> f32 {
        self.course.at(time).y
    }

    /// The smallest upright rectangle round kayak, body and helmet at `time`.
    pub(crate) fn bounds(&self, time: f32) -> Option<Rect> {
        let pose = self.pose(time);
        let parts = [pose.side(), pose.deck(), pose.torso(), pose.helmet()];
        parts
            .into_iter()
            .filter_map(|part| part?.compute_tight_bounds())
            .reduce(|a, b| a.join(&b).unwrap_or(a))
    }

    /// Draws wake, kayak, body, paddle and splash at `time` seconds.
    pub(crate) fn draw(&self, canvas: &mut Canvas, time: f32) {
        let pose = self.pose(time);
        self.draw_wake(canvas, time);
        pose.draw_shadow(canvas);
        pose.draw_paddle_end(canvas, -1.0);
        pose.draw_kayak(canvas);
        pose.draw_arm(canvas, -1.0);
        pose.draw_body(canvas);
        pose.draw_arm(canvas, 1.0);
        pose.draw_paddle_end(canvas, 1.0);
        pose.draw_bow_wave(canvas, time);
        self.draw_splashes(canvas, time);
    }

    fn pose(&self, time: f32) -> Pose {
        let water = self.course.at(time);
        let stroke = TAU * STROKE_RATE * time + 0.5 * (time * 0.9).sin();
        let turning = self.course.turn(time + 0.15) - self.course.turn(time - 0.15);
        Pose {
            water,
            metre: metre_at(water.y),
            yaw: FOLLOW * self.course.turn(time),
            pitch: 0.035 * (time * 3.1).sin() + 0.02 * (time * 5.3 + 1.0).sin(),
            roll: 0.10 * stroke.sin() + 0.25 * turning,
            bob: 0.045 * (time * 3.7 + 0.8).sin() + 0.03 * (time * 2.3).sin(),
            lean: 0.10 * stroke.sin() + 0.35 * turning,
            stroke,
        }
    }

    /// Foam left on the water where the kayak has been, spreading and fading.
    fn draw_wake(&self, canvas: &mut Canvas, time: f32) {
        let mut dice = Dice::new(404);
        for fleck in 0_u16..26 {
            let age = Self::WAKE_LIFE * f32::from(fleck + 1) / 26.0;
            let share = age / Self::WAKE_LIFE;
            let then = self.pose(time - age);
            let bank = if fleck % 2 == 0 { 1.0 } else { -1.0 };
            let off = bank * (0.16 + 0.42 * share);
            let stern = then.at((-1.5 + dice.range(-0.1, 0.1), off, -then.bob));
            let drift = pt(stern.x + age * 46.0, stern.y + age * 14.0);
            let size = then.metre * dice.range(0.12, 0.2) * (0.7 + share);
            let foam = rgba(0xf2fbfa, 0.5 * (1.0 - share));
            canvas.oval(drift, (size * 1.7, size * 0.5), foam);
        }
    }

    /// Drops thrown up each time a blade goes in and comes out.
    fn draw_splashes(&self, canvas: &mut Canvas, time: f32) {
        let stroke = self.pose(time).stroke;
        for back in [0.0_f32, 1.0] {
            let count = (stroke / PI).floor() - back;
            let entry = (stroke - count * PI - 0.7) / (TAU * STROKE_RATE);
            if !(0.0..Self::SPLASH_LIFE).contains(&entry) {
                continue;
            }
            let pose = self.pose(time - entry);
            let end = if count.rem_euclid(2.0) < 0.5 { 1.0 } else { -1.0 };
            let blade = pose.blade(end);
            let origin = pose.at((blade.0, blade.1, -pose.bob));
            draw_splash(canvas, origin, pose.metre, (entry, count.to_bits()));
        }
    }
}

/// One splash `age` seconds after it was thrown up at `origin`.
fn draw_splash(canvas: &mut Canvas, origin: Point, metre: f32, (age, seed): (f32, u32)) {
    let share = age / Paddler::SPLASH_LIFE;
    let mut dice = Dice::new(seed);
    let ring = metre * (0.12 + 0.35 * share);
    canvas.oval(origin, (ring, ring * 0.4), rgba(0xf4fcfb, 0.55 * (1.0 - share)));
    for _ in 0..16 {
        let (across, up) = (dice.range(-1.3, 0.9), dice.range(0.8, 2.6));
        let place =
            pt(origin.x + across * age * metre, origin.y - (up * age - 4.9 * age * age) * metre);
        let radius = metre * dice.range(0.02, 0.055) * (1.0 - 0.5 * share);
        canvas.oval(place, (radius, radius), rgba(0xffffff, 0.9 * (1.0 - share)));
    }
}

impl Pose {
    /// Where a place on the kayak shows in the picture.
    fn at(&self, (ahead, near, up): Place) -> Point {
        let (sin, cos) = self.yaw.sin_cos();
        let across = ahead * cos - near * sin;
        let depth = ahead * sin + near * cos;
        let height = up + self.bob + ahead * self.pitch - near * self.roll;
        pt(
            self.water.x + across * self.metre,
            self.water.y + (depth * FORESHORTEN - height * RISE) * self.metre,
        )
    }

    /// A point on the deck's edge: `along` runs -1 at the stern to 1 at the bow.
    fn edge(&self, along: f32, side: f32) -> Point {
        let wide = HALF_BEAM * (1.0 - along.abs().powf(2.2)).max(0.0);
        let high = 0.15 + 0.13 * along.abs().powi(3);
        self.at((along * HALF_LENGTH, side * wide, high))
    }

    /// A point on the near waterline.
    fn keel(&self, along: f32) -> Point {
        let wide = HALF_BEAM * 0.85 * (1.0 - along.abs().powf(2.0)).max(0.0);
        let bottom = 0.02 + 0.16 * along.abs().powi(5);
        self.at((along * HALF_LENGTH * 0.97, wide, bottom))
    }

    fn deck(&self) -> Option<Path> {
        let near = STATIONS.map(|along| self.edge(along, 1.0));
        let far = STATIONS.map(|along| self.edge(-along, -1.0));
        polygon(&[near, far].concat())
    }

    fn side(&self) -> Option<Path> {
        let top = STATIONS.map(|along| self.edge(along, 1.0));
        let foot = STATIONS.map(|along| self.keel(-along));
        polygon(&[top, foot].concat())
    }

    /// A point of the upper body: `right` across the picture and `up`, from the seat.
    fn body(&self, right: f32, up: f32) -> Point {
        let seat = self.at((-0.12, 0.0, 0.16));
        let tip = up * (self.lean + 0.16);
        pt(seat.x + (right + tip) * self.metre, seat.y - up * RISE * self.metre)
    }

    fn torso(&self) -> Option<Path> {
        blob(&[
            self.body(-0.19, -0.02),
            self.body(-0.2, 0.3),
            self.body(-0.23, 0.52),
            self.body(-0.12, 0.63),
            self.body(0.12, 0.63),
            self.body(0.22, 0.5),
            self.body(0.19, 0.25),
            self.body(0.19, -0.02),
        ])
    }

    fn helmet(&self) -> Option<Path> {
        oval(self.body(0.02, 0.79), (0.145 * self.metre, 0.135 * self.metre))
    }

    /// The middle of the blade at one end of the paddle, as a place on the kayak.
    fn blade(&self, end: f32) -> Place {
        self.along_shaft(end * HALF_SHAFT)
    }

    /// A place on the paddle's shaft, `far` metres from its middle.
    fn along_shaft(&self, far: f32) -> Place {
        let (sin, cos) = self.stroke.sin_cos();
        let (ahead, near, up) = (0.75 * cos, 0.72, -0.56 * sin);
        let length = (ahead * ahead + near * near + up * up).sqrt();
        let share = far / length;
        (0.32 + ahead * share, near * share, 0.52 + up * share)
    }

    /// The soft shade under the kayak and its broken reflection before it.
    fn draw_shadow(&self, canvas: &mut Canvas) {
        let m = self.metre;
        let under = self.at((0.0, 0.35, -0.1 - self.bob));
        canvas.glow(under, (2.1 * m, 0.62 * m), rgba(0x0c3a44, 0.62));
        for (ahead, near, size) in [(-0.7, 0.55, 0.5), (0.1, 0.75, 0.62), (0.8, 0.6, 0.45)] {
            let middle = self.at((ahead, near, -0.1 + self.bob));
            canvas.glow(middle, (size * m, 0.16 * m), rgba(DECK, 0.35));
        }
        let mirror = self.at((-0.1, 1.15, -0.1 + self.bob * 2.0));
        canvas.glow(mirror, (0.3 * m, 0.34 * m), rgba(VEST, 0.3));
    }

    fn draw_kayak(&self, canvas: &mut Canvas) {
        canvas.fill(self.side(), rgb(SIDE));
        canvas.fill(self.deck(), rgb(DECK));
        let m = self.metre;
        for (from, to) in [(-0.92, -0.42), (0.42, 0.92)] {
            let line = [from, (from + to) * 0.5, to].map(|along| {
                let high = 0.17 + 0.13 * f32::abs(along).powi(3);
                self.at((along * HALF_LENGTH, 0.0, high))
            });
            canvas.curve(&line, 0.055 * m, rgb(TRIM));
        }
        let rim = self.at((-0.05, 0.0, 0.18));
        canvas.oval(rim, (0.44 * m, 0.15 * m), rgb(0x2a2f36));
        canvas.oval(rim, (0.39 * m, 0.12 * m), rgb(0x3b424c));
        let nose = self.edge(0.965, 0.0);
        canvas.oval(nose, (0.05 * m, 0.04 * m), rgb(TRIM));
    }

    fn draw_body(&self, canvas: &mut Canvas) {
        canvas.fill(self.torso(), rgb(VEST));
        let back = blob(&[
            self.body(-0.19, 0.0),
            self.body(-0.22, 0.5),
            self.body(-0.12, 0.6),
            self.body(-0.08, 0.3),
            self.body(-0.06, 0.0),
        ]);
        canvas.fill(back, rgb(VEST_SHADE));
        self.draw_bib(canvas);
        self.draw_head(canvas);
    }

    fn draw_head(&self, canvas: &mut Canvas) {
        let m = self.metre;
        let face = self.body(0.05, 0.73);
        canvas.line(self.body(0.0, 0.58), face, 0.11 * m, rgb(SKIN));
        canvas.fill(self.helmet(), rgb(HELMET));
        canvas.oval(face, (0.095 * m, 0.085 * m), rgb(SKIN));
        let peak = blob(&[
            self.body(-0.15, 0.76),
            self.body(-0.14, 0.93),
            self.body(0.16, 0.95),
            self.body(0.19, 0.78),
            self.body(0.05, 0.8),
        ]);
        canvas.fill(peak, rgb(HELMET));
        let band = [(-0.12, 0.84), (0.02, 0.855), (0.16, 0.83)];
        let band = band.map(|(right, up)| self.body(right, up));
        canvas.curve(&band, 0.035 * m, rgb(WHITE));
    }

    /// The number on the vest.
    fn draw_bib(&self, canvas: &mut Canvas) {
        let patch = [(-0.02, 0.2), (-0.02, 0.46), (0.17, 0.46), (0.17, 0.2)];
        let patch = patch.map(|(right, up)| self.body(right, up));
        canvas.fill(polygon(&patch), rgb(WHITE));
        let bar = self.metre * 0.03;
        let (left, corner) = (self.body(0.03, 0.41), self.body(0.12, 0.41));
        canvas.line(left, corner, bar, rgb(0x22262b));
        canvas.line(corner, self.body(0.06, 0.25), bar, rgb(0x22262b));
    }

    /// The far (-1) or near (1) arm, from shoulder to the hand on the shaft.
    fn draw_arm(&self, canvas: &mut Canvas, end: f32) {
        let shoulder = self.body(0.05 - 0.12 * end, 0.52 - 0.02 * end);
        let hand = self.at(self.along_shaft(end * 0.34));
        let middle = between(shoulder, hand, 0.5);
        let elbow = pt(middle.x - 0.04 * self.metre, middle.y + 0.16 * self.metre);
        let tone = if end > 0.0 { SLEEVE } else { SLEEVE_FAR };
        canvas.curve(&[shoulder, elbow, hand], 0.12 * self.metre, rgb(tone));
        canvas.oval(hand, (0.06 * self.metre, 0.055 * self.metre), rgb(SKIN));
    }

    /// One half of the paddle, with its blade; a blade under water shows faintly.
    fn draw_paddle_end(&self, canvas: &mut Canvas, end: f32) {
        let m = self.metre;
        let place = self.blade(end);
        let (middle, blade) = (self.at(self.along_shaft(-end * 0.3)), self.at(place));
        canvas.line(middle, blade, 0.04 * m, rgb(0x23282e));
        let tip = self.at(self.along_shaft(end * (HALF_SHAFT + 0.26)));
        let throat = self.at(self.along_shaft(end * (HALF_SHAFT - 0.2)));
        let along = tip - throat;
        let length = along.length().max(1.0);
        let wide = pt(-along.y / length * 0.1 * m, along.x / length * 0.1 * m);
        let outline = [throat, blade - wide, tip - wide, tip + wide, blade + wide];
        let sunk = place.2 + self.bob < 0.06;
        let opacity = if sunk { 0.45 } else { 1.0 };
        canvas.fill(blob(&outline), rgba(0xf5f1e6, opacity));
        let spine = between(throat, tip, 0.75);
        canvas.line(throat, spine, 0.025 * m, rgba(0x2f6fb0, opacity));
    }

    /// White water pushed aside by the bow and washing along the near side.
    fn draw_bow_wave(&self, canvas: &mut Canvas, time: f32) {
        let m = self.metre;
        let mut dice = Dice::new(88);
        for fleck in 0_u16..20 {
            let share = f32::from(fleck) / 19.0;
            let along = 0.96 - 1.75 * share;
            let pulse = 1.0 + 0.35 * (time * 8.0 + dice.range(0.0, TAU)).sin();
            let size = m * (0.11 - 0.06 * share) * pulse;
            let wide = HALF_BEAM * (1.0 - along.abs().powi(2)) + 0.1 + 0.12 * share;
            let place = self.at((along * HALF_LENGTH, wide, -self.bob - 0.02));
            let foam = rgba(0xf8fdfd, 0.85 - 0.55 * share);
            canvas.oval(place, (size * 1.6, size * 0.7), foam);
        }
        let bow = self.at((HALF_LENGTH * 0.9, 0.05, -self.bob));
        for (dx, dy) in [(0.1, -0.02), (0.02, 0.06), (-0.16, -0.1)] {
            let surge = 0.5 + 0.5 * (time * 6.0 + dx * 40.0).sin();
            let place = pt(bow.x + dx * m, bow.y + (dy - 0.05 * surge) * m);
            canvas.oval(place, (0.13 * m, (0.04 + 0.03 * surge) * m), rgba(0xffffff, 0.8));
        }
    }
}
