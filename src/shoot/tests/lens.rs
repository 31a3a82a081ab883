//! Lenses of a shoot file: every way to say one, and what can be wrong with it.

use super::{
    motion::{files, kinds},
    *,
};
use crate::{
    lens::{LensError, PossibleLenses, Span},
    shoot::FaultKind,
};

/// What the first clip's lens may be, of a camera with this one.
fn lenses(lens: &str) -> PossibleLenses {
    let folder = files(&format!("lens = {lens}"), "", None);
    let shoot = read(&folder.path().join("shoot.toml")).unwrap().checked().unwrap();
    shoot.resolve(bridge(&shoot), &facts()).unwrap().lens.unwrap()
}

/// Its focal length in a frame of 4000 x 3000, and its mapping.
fn known(lens: &str) -> (f64, &'static str) {
    let lenses = lenses(lens);
    let lens = lenses.known().unwrap();
    (lens.focal_px(), lens.mapping().name())
}

#[test]
fn every_mapping_is_read_by_its_name() {
    // By hand, 120 degrees over 4000 px: f = 2000 over tan 60°, π/3, 2 sin 30°, 2 tan 30° and sin 60°.
    for (mapping, focal_px) in [
        ("rectilinear", 2000.0 / 3_f64.sqrt()),
        ("equidistant", 6000.0 / std::f64::consts::PI),
        ("equisolid", 2000.0),
        ("stereographic", 1000.0 * 3_f64.sqrt()),
        ("orthographic", 4000.0 / 3_f64.sqrt()),
    ] {
        let found = known(&format!("{{ mapping = \"{mapping}\", fov_horizontal = 120 }}"));
        assert!((found.0 - focal_px).abs() < 1e-9 && found.1 == mapping, "{mapping} {found:?}");
    }
    let polynomial =
        "{ mapping = \"polynomial\", k1 = 0, k2 = 0, k3 = 0, k4 = 0, fov_horizontal = 180 }";
    let found = known(polynomial);
    assert!((found.0 - 4000.0 / std::f64::consts::PI).abs() < 1e-9, "{found:?}");
    assert_eq!(found.1, "polynomial");
}

#[test]
fn a_lens_is_measured_by_a_tape_or_taken_from_a_calibration() {
    // 4 m seen from 2 m are 90 degrees; 3 m of height from 2 m the same lens.
    let (focal_px, _) =
        known("{ mapping = \"rectilinear\", seen_width = 4, seen_height = 3.0, at_distance = 2 }");
    assert!((focal_px - 2000.0).abs() < 1e-9);
    let calibrated = "{ mapping = \"equidistant\", calibrated_raster = \"2000x1500\", focal_x = 800, focal_y = 801, \
                      centre_x = 1003, centre_y = 748.5 }";
    let lenses = lenses(calibrated);
    let lens = lenses.known().unwrap();
    assert_eq!((lens.focal_px(), lens.focal_down_px()), (1600.0, 1602.0));
    assert_eq!((lens.centre().x, lens.centre().y), (2006.0, 1497.0));
}

#[test]
fn an_unknown_mapping_is_a_range_until_two_fields_of_view_tell_it() {
    let across = lenses("{ mapping = \"unknown\", fov_diagonal = 102.68 }")
        .field_of_view(Span::Horizontal)
        .to_degrees();
    assert_eq!(format!("{across:.2}"), "82.14 to 90.00");
    let (_, mapping) = known("{ mapping = \"unknown\", fov_horizontal = 90, fov_vertical = 67.5 }");
    assert_eq!(mapping, "equidistant");
}

#[test]
fn each_fault_of_a_lens_is_told() {
    let k = "k1 = -0.3333, k2 = 0, k3 = 0, k4 = 0";
    let calibrated = "calibrated_raster = \"1920x1080\", focal_x = 900, focal_y = 900, centre_x = 960, centre_y = 540";
    for (lens, told) in [
        ("mapping = \"rectilinear\", fov_horizontal = 90, fov_vertical = 90", &["Lens"][..]),
        ("mapping = \"rectilinear\", fov_horizontal = 171", &["Lens"]),
        ("mapping = \"unknown\", fov_horizontal = 180", &["Lens"]),
        ("mapping = \"equisolid\", fov_horizontal = 361", &["Lens"]),
        ("mapping = \"equisolid\", fov_horizontal = 0", &["Lens"]),
        ("mapping = \"equisolid\"", &["Missing"]),
        ("mapping = \"equisolid\", seen_width = 4", &["Missing"]),
        ("mapping = \"equisolid\", at_distance = 4", &["Missing"]),
        ("mapping = \"equisolid\", seen_width = -4, at_distance = 2", &["Lens"]),
        ("mapping = \"equisolid\", seen_width = 4, at_distance = \"2 m\"", &["WrongType"]),
        ("mapping = \"equisolid\", k1 = 0, fov_horizontal = 90", &["UnknownKey"]),
        ("mapping = \"bent\", k1 = 0, fov_horizontal = 90", &["NotOneOf"]),
        (
            "mapping = \"polynomial\", k1 = 0, fov_horizontal = 90",
            &["Missing", "Missing", "Missing"],
        ),
        (
            "mapping = \"polynomial\", k1 = 0, k2 = 0, k3 = 0, k4 = 1e9, fov_horizontal = 9",
            &["OutOfRange"],
        ),
        ("mapping = \"equidistant\", focal_x = 900", &["Missing"; 4]),
    ] {
        let folder = files(&format!("lens = {{ {lens} }}"), "", None);
        assert_eq!(kinds(&folder), told, "{lens}");
    }
    for (lens, told) in [
        (format!("mapping = \"equidistant\", fov_horizontal = 90, {calibrated}"), "Both"),
        (format!("mapping = \"equidistant\", {calibrated}"), "Lens"),
        (format!("mapping = \"polynomial\", fov_horizontal = 120, {k}"), "Lens"),
        (format!("mapping = \"polynomial\", fov_horizontal = 100, {k}"), "Lens"),
    ] {
        let folder = files(&format!("lens = {{ {lens} }}"), "", None);
        assert_eq!(kinds(&folder), [told], "{lens}");
    }
}

#[test]
fn a_lens_that_shows_its_fault_before_the_footage_only_is_told_at_its_line() {
    let folder = files(
        "lens = { mapping = \"polynomial\", fov_horizontal = 100, k1 = -0.3333, k2 = 0, k3 = 0, k4 = 0 }",
        "",
        None,
    );
    let shoot = read(&folder.path().join("shoot.toml")).unwrap().checked().unwrap();
    let faults = shoot.resolve(bridge(&shoot), &facts()).unwrap_err();
    let FaultKind::Lens { source: LensError::TurnsBack { degrees, .. } } = &faults[0].kind else {
        panic!("{faults:?}")
    };
    // t − t³/3 turns back at 1 radian.
    assert!((degrees - 57.3).abs() < 0.01, "{degrees}");
    let text = fs::read_to_string(folder.path().join("shoot.toml")).unwrap();
    let line = text.lines().position(|line| line.starts_with("lens = ")).unwrap() + 1;
    assert_eq!(faults[0].line, Some(line as u64));
}
