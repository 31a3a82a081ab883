//! What a mount sheet draws, against pictures of the same scene that are made otherwise: cast ray by ray from formulas written
//! anew here, and points projected by OpenCV.

use crate::python;
use lookroom::{
    geometry::{Orientation, QuarterTurn, Raster, SourcePoint},
    lens::{FieldOfView, FisheyePolynomial, Lens, Mapping, Span},
    mount::{Pose, Run, Scene, SeenLines, Subject, Way},
};
use serde_json::{Value, json};

/// What the sheet may be off by, in px.
const WITHIN_PX: f64 = 1.0;

/// A camera of the tests, as a person would write it down.
#[derive(Debug, Clone, Copy)]
struct Camera {
    mapping: Mapping,
    /// Across the frame as it is stored.
    field_degrees: f64,
    is_on_its_side: bool,
    height_m: f64,
    tilt_degrees: f64,
    roll_degrees: f64,
}

const WIDE_PX: u32 = 1200;
const HIGH_PX: u32 = 900;

const CAMERAS: [Camera; 7] = [
    Camera {
        mapping: Mapping::Rectilinear,
        field_degrees: 90.0,
        is_on_its_side: false,
        height_m: 6.0,
        tilt_degrees: 30.0,
        roll_degrees: 0.0,
    },
    Camera {
        mapping: Mapping::Rectilinear,
        field_degrees: 100.0,
        is_on_its_side: true,
        height_m: 2.5,
        tilt_degrees: 14.0,
        roll_degrees: -7.0,
    },
    Camera {
        mapping: Mapping::Equidistant,
        field_degrees: 120.0,
        is_on_its_side: false,
        height_m: 3.0,
        tilt_degrees: 22.0,
        roll_degrees: 11.0,
    },
    Camera {
        mapping: Mapping::Equidistant,
        field_degrees: 150.0,
        is_on_its_side: true,
        height_m: 1.2,
        tilt_degrees: -5.0,
        roll_degrees: 4.0,
    },
    Camera {
        mapping: Mapping::Equisolid,
        field_degrees: 140.0,
        is_on_its_side: false,
        height_m: 4.0,
        tilt_degrees: 40.0,
        roll_degrees: -15.0,
    },
    Camera {
        mapping: Mapping::Stereographic,
        field_degrees: 130.0,
        is_on_its_side: true,
        height_m: 0.4,
        tilt_degrees: 8.0,
        roll_degrees: 20.0,
    },
    // A fisheye whose picture ends within the frame: its corners are dark.
    Camera {
        mapping: Mapping::Orthographic,
        field_degrees: 140.0,
        is_on_its_side: false,
        height_m: 1.0,
        tilt_degrees: 0.0,
        roll_degrees: 0.0,
    },
];

fn scene() -> Scene {
    let subject = Subject {
        name: "boat".to_owned(),
        width_m: 3.5,
        height_m: 0.9,
        above_m: 0.1,
        drift_m: 0.5,
        speed_m_s: 5.0,
        way: Way::Across,
    };
    Scene {
        subject: Some(subject),
        distances_m: vec![3.0, 6.0, 20.0],
        horizon_above: None,
        rig: Vec::new(),
    }
}

impl Camera {
    fn lens(&self) -> Lens {
        let field = FieldOfView::from_degrees(Span::Horizontal, self.field_degrees).unwrap();
        let lens =
            Lens::new(Raster::new(WIDE_PX, HIGH_PX).unwrap(), self.mapping, &[field]).unwrap();
        let turn = if self.is_on_its_side { QuarterTurn::Clockwise } else { QuarterTurn::None };
        lens.shown(Orientation { turn, is_mirrored: false })
    }

    fn pose(&self) -> Pose {
        Pose::from_degrees(self.height_m, self.tilt_degrees, self.roll_degrees).unwrap()
    }

    fn size(&self) -> (usize, usize) {
        let (wide, high) = (WIDE_PX as usize, HIGH_PX as usize);
        if self.is_on_its_side { (high, wide) } else { (wide, high) }
    }

    /// The focal length in px: optics texts' formulas, solved by hand for each mapping.
    fn focal_px(&self) -> f64 {
        let half = self.field_degrees.to_radians() / 2.0;
        let half_width = f64::from(WIDE_PX) / 2.0;
        half_width
            / match self.mapping {
                Mapping::Rectilinear => half.sin() / half.cos(),
                Mapping::Equidistant => half,
                Mapping::Equisolid => 2.0 * (0.5 * half).sin(),
                Mapping::Stereographic => 2.0 * half.sin() / (1.0 + half.cos()),
                Mapping::Orthographic => half.sin(),
                _ => unreachable!("not among the cameras"),
            }
    }

    /// The direction in the level world (right, down, ahead) that is seen at a place of the picture; no numbers where it is dark.
    fn ray(&self, x: f64, y: f64) -> [f64; 3] {
        let (wide, high) = self.size();
        let (u, v) = (x - wide as f64 / 2.0, y - high as f64 / 2.0);
        let radius = (u * u + v * v).sqrt() / self.focal_px();
        let angle = match self.mapping {
            Mapping::Rectilinear => radius.atan2(1.0),
            Mapping::Equidistant => radius,
            Mapping::Equisolid => 2.0 * (radius / 2.0).asin(),
            Mapping::Stereographic => 2.0 * (radius / 2.0).atan2(1.0),
            Mapping::Orthographic => radius.asin(),
            _ => unreachable!("not among the cameras"),
        };
        let about = v.atan2(u);
        let seen = [angle.sin() * about.cos(), angle.sin() * about.sin(), angle.cos()];
        let axes = self.axes();
        [0, 1, 2].map(|k| seen[0] * axes[0][k] + seen[1] * axes[1][k] + seen[2] * axes[2][k])
    }

    /// The camera's right, down and ahead in the level world: its axis dips by the tilt, and its right hand by the roll.
    fn axes(&self) -> [[f64; 3]; 3] {
        let (tilt, roll) = (self.tilt_degrees.to_radians(), self.roll_degrees.to_radians());
        let ahead = [0.0, tilt.sin(), tilt.cos()];
        let level_down = [0.0, tilt.cos(), -tilt.sin()];
        let right = [roll.cos(), roll.sin() * level_down[1], roll.sin() * level_down[2]];
        let down = [-roll.sin(), roll.cos() * level_down[1], roll.cos() * level_down[2]];
        [right, down, ahead]
    }
}

/// A picture of the scene: the ray of every px, and of every corner between four for finer looks.
struct Cast {
    camera: Camera,
    rays: Vec<[f64; 3]>,
}

impl Cast {
    fn of(camera: Camera) -> Self {
        let (wide, high) = camera.size();
        let at =
            |index: usize| camera.ray((index % wide) as f64 + 0.5, (index / wide) as f64 + 0.5);
        Self { camera, rays: (0..wide * high).map(at).collect() }
    }

    /// The edges of what a test says of a ray, between neighbours of which it says different things: each found by halving to
    /// a hundredth of a px. `None` of either is no edge.
    fn edges(&self, test: impl Fn([f64; 3]) -> Option<bool>) -> Vec<(f64, f64)> {
        let (wide, high) = self.camera.size();
        let told: Vec<Option<bool>> = self.rays.iter().map(|ray| lit(*ray, &test)).collect();
        let mut edges = Vec::new();
        for y in 0..high {
            for x in 0..wide {
                for (to_x, to_y) in [(x + 1, y), (x, y + 1)] {
                    if to_x >= wide || to_y >= high {
                        continue;
                    }
                    let (one, other) = (told[y * wide + x], told[to_y * wide + to_x]);
                    if let (Some(one), Some(other)) = (one, other)
                        && one != other
                    {
                        edges.push(self.halved((x, y), (to_x, to_y), (one, &test)));
                    }
                }
            }
        }
        edges
    }

    fn halved(
        &self,
        from: (usize, usize),
        to: (usize, usize),
        (first, test): (bool, &impl Fn([f64; 3]) -> Option<bool>),
    ) -> (f64, f64) {
        let centre = |(x, y): (usize, usize)| (x as f64 + 0.5, y as f64 + 0.5);
        let (mut from, mut to) = (centre(from), centre(to));
        for _ in 0..7 {
            let middle = (f64::midpoint(from.0, to.0), f64::midpoint(from.1, to.1));
            if test(self.camera.ray(middle.0, middle.1)) == Some(first) {
                from = middle;
            } else {
                to = middle;
            }
        }
        (f64::midpoint(from.0, to.0), f64::midpoint(from.1, to.1))
    }

    /// Metres right and ahead on the ground; `None` for the sky.
    fn ground(&self, [right, down, ahead]: [f64; 3]) -> Option<(f64, f64)> {
        let metres = self.camera.height_m / down;
        (down > 1e-4).then_some((right * metres, ahead * metres))
    }
}

/// What a test says of a ray, and nothing of a dark px.
fn lit(ray: [f64; 3], test: impl Fn([f64; 3]) -> Option<bool>) -> Option<bool> {
    if ray[0].is_nan() { None } else { test(ray) }
}

fn distance_to(runs: &[Run], (x, y): (f64, f64)) -> f64 {
    let to_piece = |pair: &[SourcePoint]| {
        let (dx, dy) = (pair[1].x - pair[0].x, pair[1].y - pair[0].y);
        let (px, py) = (x - pair[0].x, y - pair[0].y);
        let square = dx * dx + dy * dy;
        let share = if square > 0.0 { ((px * dx + py * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
        (px - share * dx).hypot(py - share * dy)
    };
    runs.iter().flat_map(|run| run.windows(2).map(to_piece)).fold(f64::INFINITY, f64::min)
}

/// The greatest distance of an edge of the picture from what is drawn, and of what is drawn from an edge of the picture.
fn apart(cast: &Cast, test: impl Fn([f64; 3]) -> Option<bool>, runs: &[Run]) -> (f64, f64) {
    let edges = cast.edges(&test);
    let of_edges = edges.iter().map(|edge| distance_to(runs, *edge)).fold(0.0, f64::max);
    // An edge is between two px that the test says something of: not at the frame's edge, in the dark, or where a line runs into
    // the horizon.
    let (wide, high) = cast.camera.size();
    let is_told = |(x, y): (f64, f64)| {
        let is_in = (0.5..wide as f64 - 0.5).contains(&x) && (0.5..high as f64 - 0.5).contains(&y);
        is_in && lit(cast.camera.ray(x, y), &test).is_some()
    };
    let has_room = |point: &&SourcePoint| {
        [(2.0, 0.0), (-2.0, 0.0), (0.0, 2.0), (0.0, -2.0)]
            .into_iter()
            .all(|(right, down)| is_told((point.x + right, point.y + down)))
    };
    let nearest = |point: &SourcePoint| {
        let distance = |edge: &(f64, f64)| (edge.0 - point.x).hypot(edge.1 - point.y);
        edges.iter().map(distance).fold(f64::INFINITY, f64::min)
    };
    let drawn = runs.iter().flatten().filter(has_room).map(nearest).fold(0.0, f64::max);
    (of_edges, drawn)
}

fn assert_agrees(
    what: &str,
    cast: &Cast,
    test: impl Fn([f64; 3]) -> Option<bool>,
    runs: &[Run],
) -> f64 {
    let (of_edges, drawn) = apart(cast, test, runs);
    let camera = &cast.camera;
    assert!(of_edges <= WITHIN_PX, "{what}, {camera:?}: the picture has an edge {of_edges} px off");
    assert!(drawn <= WITHIN_PX, "{what}, {camera:?}: drawn {drawn} px from the picture's edge");
    of_edges
}

#[test]
fn the_drawn_horizon_is_that_of_a_cast_picture() {
    let mut worst = 0.0_f64;
    for camera in CAMERAS {
        let cast = Cast::of(camera);
        let is_ground = |ray: [f64; 3]| Some(ray[1] > 0.0);
        assert!(cast.edges(is_ground).len() > 500, "{camera:?}");
        let seen = SeenLines::of(&camera.pose(), &camera.lens(), &scene());
        worst = worst.max(assert_agrees("horizon", &cast, is_ground, &seen.horizon));
    }
    eprintln!("horizon: at most {worst:.3} px apart");
}

#[test]
fn the_drawn_grid_is_that_of_a_cast_picture() {
    let (mut worst, mut lines) = (0.0_f64, 0);
    for camera in CAMERAS {
        let cast = Cast::of(camera);
        let seen = SeenLines::of(&camera.pose(), &camera.lens(), &scene());
        assert!(seen.across.len() >= 2 && seen.along.len() >= 3, "{camera:?}");
        for line in &seen.across {
            let is_further = |ray| Some(cast.ground(ray)?.1 > line.metres);
            let what = format!("{} m ahead", line.metres);
            worst = worst.max(assert_agrees(&what, &cast, is_further, &line.runs));
        }
        // Lines along end at the furthest line across, so that edges of the picture beyond it have no counterpart.
        let furthest = seen.across.last().map_or(0.0, |line| line.metres);
        for line in &seen.along {
            let is_right_of_it = |ray, limit: f64| {
                let (right, ahead) = cast.ground(ray)?;
                (ahead < limit).then_some(right > line.metres)
            };
            let what = format!("{} m to the right", line.metres);
            let (of_edges, _) = apart(&cast, |ray| is_right_of_it(ray, furthest), &line.runs);
            let (_, drawn) = apart(&cast, |ray| is_right_of_it(ray, 1.5 * furthest), &line.runs);
            assert!(of_edges.max(drawn) <= WITHIN_PX, "{what}, {camera:?}: {of_edges}, {drawn} px");
            worst = worst.max(of_edges);
        }
        lines += seen.across.len() + seen.along.len();
    }
    eprintln!("{lines} lines on the ground: at most {worst:.3} px apart");
}

#[test]
fn the_drawn_subject_and_its_box_are_those_of_a_cast_picture() {
    let (scene, mut worst) = (scene(), 0.0_f64);
    let subject = scene.subject.clone().unwrap();
    for camera in CAMERAS {
        let (cast, lens, pose) = (Cast::of(camera), camera.lens(), camera.pose());
        let (wide, high) = camera.size();
        let seen = SeenLines::of(&pose, &lens, &scene);
        for board in &seen.boards {
            // By hand: the board stands at its distance, 0.1 m to 1.0 m above the ground, 1.75 m to each side.
            let is_board = |[right, down, ahead]: [f64; 3]| {
                let metres = board.distance_m / ahead;
                let above = camera.height_m - down * metres;
                let is_on =
                    ahead > 0.0 && (right * metres).abs() < 1.75 && (0.1..1.0).contains(&above);
                Some(is_on)
            };
            let edges = cast.edges(is_board);
            let Some(outline) = board.outline.clone() else { continue };
            let what = format!("the subject at {} m", board.distance_m);
            worst = worst.max(assert_agrees(&what, &cast, is_board, &[outline]));
            let drawn = subject.seen(&pose, &lens, (0.0, board.distance_m)).unwrap();
            let is_whole = drawn.left() > 1.0
                && drawn.top() > 1.0
                && drawn.right() < wide as f64 - 1.0
                && drawn.bottom() < high as f64 - 1.0;
            if is_whole {
                let over = |of: fn(&(f64, f64)) -> f64, pick: fn(f64, f64) -> f64| {
                    edges.iter().map(of).reduce(pick).unwrap()
                };
                let sides = [
                    drawn.left() - over(|edge| edge.0, f64::min),
                    drawn.top() - over(|edge| edge.1, f64::min),
                    drawn.right() - over(|edge| edge.0, f64::max),
                    drawn.bottom() - over(|edge| edge.1, f64::max),
                ];
                for side in sides {
                    assert!(side.abs() <= WITHIN_PX, "{what}, {camera:?}: {sides:?}");
                    worst = worst.max(side.abs());
                }
            }
        }
    }
    eprintln!("subject: at most {worst:.3} px apart");
}

/// Where OpenCV sees places of the level world.
fn by_opencv(camera: &Camera, lens: &Lens, places: &[[f64; 3]]) -> Vec<(f64, f64)> {
    let coefficients = match lens.mapping() {
        Mapping::Rectilinear => Value::Null,
        Mapping::Polynomial(_) => json!(COEFFICIENTS),
        _ => json!([0.0, 0.0, 0.0, 0.0]),
    };
    let asked = json!({
        "tilt_down_degrees": camera.tilt_degrees,
        "roll_degrees": camera.roll_degrees,
        "focal_px": lens.focal_px(),
        "centre": [lens.centre().x, lens.centre().y],
        "coefficients": coefficients,
        "places": places,
    });
    let told = python::run("oracle/project_points.py", &[], &asked.to_string());
    serde_json::from_str(&told).expect("pairs of px")
}

/// As a calibration of a wide lens finds them.
const COEFFICIENTS: [f64; 4] = [-0.02, 0.01, -0.003, 0.0005];

#[test]
fn opencv_sees_the_horizon_the_grid_and_the_subject_where_they_are_drawn() {
    if !python::has(&["cv2", "numpy"]) {
        return;
    }
    let polynomial = FisheyePolynomial::new(COEFFICIENTS).unwrap();
    let measured = Camera { mapping: Mapping::Polynomial(polynomial), ..CAMERAS[2] };
    let known =
        |camera: &&Camera| matches!(camera.mapping, Mapping::Rectilinear | Mapping::Equidistant);
    let scene = scene();
    let (mut worst, mut count) = (0.0_f64, 0);
    for camera in CAMERAS.iter().filter(known).chain([&measured]) {
        let (lens, pose) = (camera.lens(), camera.pose());
        let seen = SeenLines::of(&pose, &lens, &scene);
        let mut drawn: Vec<(Vec<[f64; 3]>, &[Run])> = Vec::new();
        let steps = || (-40..=40).map(f64::from);
        // Far away is on the horizon, within a thousandth of a px.
        let far = steps().map(|step| [step * 2.5e5, 0.0, 1e7]).collect();
        drawn.push((far, &seen.horizon));
        for line in &seen.across {
            let places =
                steps().map(|step| [0.05 * step * line.metres, camera.height_m, line.metres]);
            drawn.push((places.collect(), &line.runs));
        }
        let furthest = seen.across.last().map_or(0.0, |line| line.metres);
        for line in &seen.along {
            let places =
                (1..=40).map(|n| [line.metres, camera.height_m, furthest * f64::from(n) / 41.0]);
            drawn.push((places.collect(), &line.runs));
        }
        let outlines: Vec<Vec<Run>> =
            seen.boards.iter().map(|board| board.outline.clone().into_iter().collect()).collect();
        for (board, outline) in seen.boards.iter().zip(&outlines).filter(|(_, o)| !o.is_empty()) {
            let (top, bottom) = (camera.height_m - 1.0, camera.height_m - 0.1);
            let edge = steps().flat_map(|step| {
                [top, bottom].map(|down| [1.75 * step / 40.0, down, board.distance_m])
            });
            drawn.push((edge.collect(), outline));
        }
        // One call a camera: most of the time is spent on starting.
        let all: Vec<[f64; 3]> = drawn.iter().flat_map(|(places, _)| places.clone()).collect();
        let mut points = by_opencv(camera, &lens, &all).into_iter();
        let (wide, high) = camera.size();
        let is_inside = |(x, y): &(f64, f64)| {
            (0.0..=wide as f64).contains(x) && (0.0..=high as f64).contains(y)
        };
        for (places, runs) in drawn {
            for point in points.by_ref().take(places.len()).filter(is_inside) {
                let off = distance_to(runs, point);
                assert!(off <= WITHIN_PX, "{camera:?}: {point:?} is {off} px from what is drawn");
                (worst, count) = (worst.max(off), count + 1);
            }
        }
    }
    assert!(count > 1000, "{count} places in frames");
    eprintln!("OpenCV: {count} places, at most {worst:.4} px apart");
}
