//! Measured sharpness of a shoot file: of a camera, of a clip, and what can be wrong with it.

use super::{
    motion::{files, kinds},
    *,
};

/// What the first clip's sharpness is half-way to a corner, of a camera and a clip that say this.
fn half_way(camera: &str, clip: &str) -> Option<f64> {
    let folder = files(camera, clip, None);
    let shoot = read(&folder.path().join("shoot.toml")).unwrap().checked().unwrap();
    let resolved = shoot.resolve(bridge(&shoot), &facts()).unwrap();
    resolved.sharpness.map(|sharpness| sharpness.at(0.5))
}

#[test]
fn a_clips_own_measurement_stands_before_its_cameras() {
    let camera = "sharpness = [{ off_centre = 1, mtf50 = 0.2 }, { off_centre = 0, mtf50 = 0.3 }]";
    assert_eq!(half_way("", ""), None);
    assert!((half_way(camera, "").unwrap() - 0.25).abs() < 1e-12);
    let clip = "sharpness = [{ off_centre = 0.3, mtf50 = 0.11 }]";
    assert_eq!(half_way(camera, clip), Some(0.11));
}

#[test]
fn each_fault_of_a_measurement_is_told() {
    for (sharpness, told) in [
        ("0.3", &["WrongType"][..]),
        ("[]", &["Empty"]),
        ("[0.3]", &["WrongType"]),
        ("[{ off_centre = 0 }]", &["Missing"]),
        ("[{ mtf50 = 0.3 }]", &["Missing"]),
        ("[{ off_centre = 0, mtf50 = 0.3, at = 2 }]", &["UnknownKey"]),
        ("[{ off_centre = 1.01, mtf50 = 0.3 }]", &["OutOfRange"]),
        ("[{ off_centre = -0.1, mtf50 = 0.3 }]", &["OutOfRange"]),
        ("[{ off_centre = 0, mtf50 = 0 }]", &["OutOfRange"]),
        ("[{ off_centre = 0, mtf50 = 30 }]", &["OutOfRange"]),
        (
            "[{ off_centre = 0.5, mtf50 = 0.3 }, { off_centre = 0.5, mtf50 = 0.2 }]",
            &["MeasuredTwice"],
        ),
        (
            "[{ off_centre = 0.0, mtf50 = 0.3 }, { off_centre = -0.0, mtf50 = 0.2 }]",
            &["MeasuredTwice"],
        ),
    ] {
        let folder = files(&format!("sharpness = {sharpness}"), "", None);
        assert_eq!(kinds(&folder), told, "{sharpness}");
    }
}
