use super::*;

const WIDTH: u32 = 320;
const HEIGHT: u32 = 180;

/// Blocks of grey that are everywhere and that nothing repeats.
fn texture(x: i64, y: i64) -> u8 {
    let mut mixed = (x.div_euclid(6) * 73_856_093) ^ (y.div_euclid(6) * 19_349_663);
    mixed = (mixed ^ (mixed >> 13)).wrapping_mul(1_274_126_177);
    u8::try_from(40 + (mixed >> 16).rem_euclid(160)).unwrap()
}

/// A world that wanders by so many px a frame, behind whatever `fixed` says.
fn frame(number: i64, per_frame: i64, fixed: impl Fn(u32, u32) -> Option<u8>) -> GrayImage {
    GrayImage::from_fn(WIDTH, HEIGHT, |column, row| {
        let (x, y) =
            (i64::from(column) + number * per_frame, i64::from(row) + number % 3 * per_frame);
        Luma([fixed(column, row).unwrap_or_else(|| texture(x, y))])
    })
}

fn finding(count: i64, per_frame: i64, fixed: impl Fn(u32, u32) -> Option<u8>) -> RigFinding {
    let mut finder = RigFinder::new(Raster::new(WIDTH, HEIGHT).unwrap());
    for number in 0..count {
        finder.take(&frame(number, per_frame, &fixed)).unwrap();
    }
    finder.finding()
}

/// The share that two areas have in common of what either has.
fn overlap(mask: &RigMask, is_fixed: impl Fn(u32, u32) -> bool) -> f64 {
    let (mut both, mut either) = (0.0, 0.0);
    for row in 0..HEIGHT {
        for column in 0..WIDTH {
            let (found, known) = (mask.is_fixed(column, row), is_fixed(column, row));
            both += f64::from(u8::from(found && known));
            either += f64::from(u8::from(found || known));
        }
    }
    both / either
}

#[test]
fn drawn_bodywork_along_an_edge_is_the_rig() {
    let is_fixed = |column: u32, row: u32| row >= 130 + column / 16;
    let body = |column, row| {
        is_fixed(column, row).then(|| texture(i64::from(column) + 5000, i64::from(row)))
    };
    let found = finding(40, 5, body);
    let mask = found.mask().unwrap_or_else(|| panic!("{found:?}"));
    assert!(overlap(mask, is_fixed) > 0.9, "{}", overlap(mask, is_fixed));
}

#[test]
fn a_plain_rim_at_the_top_is_the_rig() {
    let is_fixed = |column: u32, row: u32| row < 30 && (40..300).contains(&column);
    // Darker than all of the world, so that its edge always goes the same way.
    let found = finding(40, 5, |column, row| is_fixed(column, row).then_some(8));
    let mask = found.mask().unwrap_or_else(|| panic!("{found:?}"));
    // Two px along its outline are 14 % of it.
    assert!(overlap(mask, is_fixed) > 0.75, "{}", overlap(mask, is_fixed));
}

#[test]
fn a_moving_world_has_no_rig_and_a_plain_sky_is_none() {
    assert_eq!(finding(40, 5, |_, _| None), RigFinding::Nothing);
    let sky = |_: u32, row: u32| (row < 60).then_some(190);
    // The horizon stays where it is, but a sky has no edge that stays against every hill.
    let wavy = |number: i64| {
        move |column: u32, row: u32| sky(column, row + u32::try_from(number % 7 * 3).unwrap())
    };
    let mut finder = RigFinder::new(Raster::new(WIDTH, HEIGHT).unwrap());
    for number in 0..40 {
        finder.take(&frame(number, 5, wavy(number))).unwrap();
    }
    assert_eq!(finder.finding(), RigFinding::Nothing);
}

#[test]
fn a_standing_camera_and_a_moment_say_nothing_of_a_rig() {
    assert_eq!(finding(40, 0, |_, _| None), RigFinding::CameraStands);
    assert_eq!(finding(40, 0, |_, _| Some(90)), RigFinding::CameraStands);
    assert_eq!(finding(10, 5, |_, row| (row > 100).then_some(8)), RigFinding::TooShort);
}

#[test]
fn a_thing_in_mid_frame_that_stays_is_not_of_the_rig() {
    let car = |column: u32, row: u32| {
        ((130..190).contains(&column) && (70..110).contains(&row))
            .then(|| texture(i64::from(column) + 900, i64::from(row)))
    };
    assert_eq!(finding(40, 5, car), RigFinding::Nothing);
}
