//! What can be wrong with a level and the motion of the background, and what is read of them.

use super::{faults::variant, *};
use crate::{geometry::SourcePoint, shoot::Level};

/// The good shoot with more keys of its camera and of its first clip, and a motion file if there is one.
pub(super) fn files(camera: &str, clip: &str, motion: Option<&str>) -> tempfile::TempDir {
    let mut shoot =
        changed(SHOOT, "name = \"bridge\"\n", &format!("name = \"bridge\"\n{camera}\n"));
    shoot = changed(&shoot, "play = \"every-frame\"\n", &format!("{clip}\n"));
    let folder = tempfile::tempdir().unwrap();
    if let Some(rows) = motion {
        shoot = changed(
            &shoot,
            "pins = \"pins.csv\"\n",
            "pins = \"pins.csv\"\nmotion = \"motion.csv\"\n",
        );
        fs::write(folder.path().join("motion.csv"), rows).unwrap();
    }
    let pins = "clip,deliverable,frame,left,top,width\nweir-bridge,film-hd,12,100,100,1600\n";
    Files { pins: Some(pins.into()), ..Files::shoot(shoot) }.read_in(folder.path());
    folder
}

/// The kinds of all faults, of reading and of holding the first clip against its footage.
pub(super) fn kinds(folder: &tempfile::TempDir) -> Vec<String> {
    let Reading { shoot, faults } = read(&folder.path().join("shoot.toml")).unwrap();
    let resolved = shoot.resolve(bridge(&shoot), &facts()).err().unwrap_or_default();
    faults.iter().chain(&resolved).map(variant).collect()
}

const WORLD: &str = "steady = \"world\"";

#[test]
fn each_fault_of_a_stance_is_told() {
    let rows = |rows: &str| format!("clip,frame,dx,dy\n{rows}");
    for (camera, clip, motion, kind) in [
        ("", "level = \"motion\"", Some(rows("weir-bridge,1,1,0\n")), "NoRollMotion"),
        ("", WORLD, Some(rows("weir-bridge,0,1,0\n")), "MotionBeforeFirst"),
        ("", WORLD, Some(rows("weir-bridge,1,1,0\nweir-bridge,1,1,0\n")), "MotionTwice"),
    ] {
        let folder = files(camera, clip, motion.as_deref());
        assert_eq!(kinds(&folder), [kind], "{camera} {clip}");
    }
}

#[test]
fn a_clip_wins_over_its_camera_and_a_lens_is_that_of_the_displayed_picture() {
    let camera = "lens = { mapping = \"rectilinear\", fov_horizontal = 90 }\nlevel = 6\n\
                  turn = 90\ninside_crop = { of_width = 0.1 }";
    let folder = files(camera, "level = -2.5", Some("clip,frame,dx,dy\nweir-bridge,1,3,-4\n"));
    let shoot = read(&folder.path().join("shoot.toml")).unwrap().checked().unwrap();
    let resolved = shoot.resolve(bridge(&shoot), &facts()).unwrap();
    assert_eq!(resolved.level, Level::Degrees(-2.5));
    // What is shown as 4000 x 3000 after a quarter turn is stored as 3000 x 4000, so that the 90 degrees lie over
    // 3000 px. By hand, with the crop: f = 3000 / 2 / tan 45° / 0.9 = 1666.67.
    let lens = *resolved.lens.unwrap().known().unwrap();
    assert_eq!(lens.raster(), facts().raster);
    assert!((lens.focal_px() - 1666.67).abs() < 0.005, "{}", lens.focal_px());
    assert_eq!(resolved.motion.positions_px(0..2), [(0.0, 0.0), (3.0, -4.0)]);
    assert_eq!(resolved.motion.unknown_in(0..200), 198);
    assert_eq!(shoot.motion().len(), 1);
    assert!(shoot.hashes.motion.is_some());
}

#[test]
fn a_pin_of_a_levelled_clip_is_the_window_of_its_size_about_the_same_point() {
    let folder = files("", "level = -6", None);
    let shoot = read(&folder.path().join("shoot.toml")).unwrap().checked().unwrap();
    let resolved = shoot.resolve(bridge(&shoot), &facts()).unwrap();
    // Written as 1600 x 900 at 100,100: its middle 900,550 is 1100 left of and 950 above the centre. By hand, turned
    // counterclockwise by 6 degrees: x = 2000 − 1100 cos 6° − 950 sin 6°, y = 1500 + 1100 sin 6° − 950 cos 6°.
    let window = &resolved.pins[0].window;
    let (sine, cosine) = 6.0_f64.to_radians().sin_cos();
    let centre = SourcePoint {
        x: 2000.0 - 1100.0 * cosine - 950.0 * sine,
        y: 1500.0 + 1100.0 * sine - 950.0 * cosine,
    };
    assert!((window.centre_x() - centre.x).abs() < 1e-9, "{window:?} {centre:?}");
    assert!((window.centre_y() - centre.y).abs() < 1e-9, "{window:?} {centre:?}");
    assert_eq!((window.width(), window.height()), (1600.0, 900.0));
}

#[test]
fn what_is_measured_over_a_cut_moves_nothing() {
    let rows: String = (1..200).map(|n| format!("weir-bridge,{n},2,0\n")).collect();
    let folder =
        files("", "cuts = [50]\nsteady = \"world\"", Some(&format!("clip,frame,dx,dy\n{rows}")));
    let more: String = (1..198).map(|n| format!("weir-bridge,{n},9,9,9,9,,paddler\n")).collect();
    fs::write(folder.path().join("marks.csv"), format!("{MARKS}{more}")).unwrap();
    let shoot = read(&folder.path().join("shoot.toml")).unwrap().checked().unwrap();
    let motion = shoot.resolve(bridge(&shoot), &facts()).unwrap().motion;
    assert_eq!(
        (motion.unknown_in(0..50), motion.unknown_in(50..51), motion.unknown_in(51..200)),
        (0, 1, 0)
    );
    let positions = motion.positions_px(48..53);
    assert_eq!(
        positions.iter().map(|place| place.0).collect::<Vec<_>>(),
        [0.0, 2.0, 2.0, 4.0, 6.0]
    );
}
