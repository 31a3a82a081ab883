use super::*;
use crate::{
    draw::Look,
    geometry::Window,
    lens::{FieldOfView, Mapping, Span},
    mount::{Scene, Subject, Way},
};
use image::Rgb;

fn scene(mappings: &[Mapping]) -> MountScene {
    let raster = Raster::new(4000, 3000).unwrap();
    let pose = Pose::from_degrees(6.0, 30.0, 0.0).unwrap();
    let subject = Subject {
        name: "boat".to_owned(),
        width_m: 3.5,
        height_m: 0.9,
        above_m: 0.0,
        drift_m: 0.5,
        speed_m_s: 5.0,
        way: Way::Across,
    };
    let seen = Scene {
        subject: Some(subject),
        distances_m: vec![8.0],
        horizon_above: None,
        rig: Vec::new(),
    };
    let prediction = |mapping: &Mapping| {
        let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
        let lens = Lens::new(raster, *mapping, &[field]).unwrap();
        Prediction { lens, pose, lines: SeenLines::of(&pose, &lens, &seen) }
    };
    MountScene {
        raster,
        predictions: mappings.iter().map(prediction).collect(),
        board_labels: vec!["8 m".to_owned()],
        windows: vec![DrawnWindow {
            label: vec!["film 16:9".to_owned()],
            window: Window::inside(raster, (0.0, 375.0), (4000.0, 2250.0)).unwrap(),
            roll_degrees: 0.0,
            look: Look::of_slot(0),
        }],
        rig: vec![("rail".to_owned(), Region::new(3000.0, 2800.0, 1000.0, 200.0).unwrap())],
    }
}

/// The frame's left edge and top in the drawing: where its black border begins.
fn corner(drawing: &RgbImage) -> (u32, u32) {
    let middle = drawing.height() / 2;
    let black = |x: &u32| drawing.get_pixel(*x, middle).0 == [0; 3];
    let run = |x: &u32| black(x) && black(&(x + 1)) && black(&(x + 2));
    let left = (0..drawing.width() - 3)
        .filter(run)
        .find(|x| (middle - 20..middle + 20).all(|y| drawing.get_pixel(*x, y).0 == [0; 3]));
    let left = left.unwrap();
    let top = (0..middle).find(|y| drawing.get_pixel(left + 300, *y).0 == [0; 3]).unwrap();
    (left, top)
}

#[test]
fn the_horizon_is_drawn_where_the_hand_has_it() {
    let drawing = predicted_frame(&scene(&[Mapping::Rectilinear]));
    let (left, top) = corner(&drawing);
    let wide = drawing.width() - left - 14;
    // T3 by hand: row 345.3 of 3000, in a frame that is drawn so wide for 4000.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a row of a small picture"
    )]
    let row = top + (345.3 * f64::from(wide) / 4000.0).round() as u32;
    let column = left + wide / 3;
    assert_eq!(drawing.get_pixel(column, row), &Rgb([0; 3]));
    assert_eq!(drawing.get_pixel(column, row - 8), &Rgb([255; 3]), "sky above");
    assert_eq!(drawing.get_pixel(column, row + 8), &Rgb([218; 3]), "ground below");
}

#[test]
fn a_second_lens_adds_ink_and_the_same_scene_gives_the_same_bytes() {
    let one = predicted_frame(&scene(&[Mapping::Rectilinear]));
    let both = predicted_frame(&scene(&[Mapping::Rectilinear, Mapping::Equidistant]));
    let dark = |picture: &RgbImage| picture.pixels().filter(|pixel| pixel.0[0] < 128).count();
    assert!(dark(&both) > dark(&one) + 1000, "{} {}", dark(&both), dark(&one));
    assert_eq!(one, predicted_frame(&scene(&[Mapping::Rectilinear])));
}

#[test]
fn a_page_holds_its_frame_and_all_its_lines() {
    let frame = predicted_frame(&scene(&[Mapping::Rectilinear]));
    let sheet = |count: usize| MountSheet {
        title: vec!["bridge".to_owned()],
        frame: &frame,
        sections: vec![("shapes".to_owned(), vec!["film 16:9: E 0.96".to_owned(); count])],
    };
    let (short, long) = (mount_sheet(&sheet(1)), mount_sheet(&sheet(4)));
    assert_eq!(long.height() - short.height(), 3 * u32::try_from(TEXT.line_height()).unwrap());
    assert!(short.height() > frame.height());
}
