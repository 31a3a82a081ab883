use super::*;
use crate::draw::ink::contrast;
use image::Rgb;

const GRAY: Rgb<u8> = Rgb([200; 3]);

fn capture() -> Raster {
    Raster::new(4000, 3000).unwrap()
}

fn window(left: f64, top: f64, width: f64, height: f64) -> Window {
    Window::inside(capture(), (left, top), (width, height)).unwrap()
}

fn drawn(slot: usize, label: &[&str], window: Window) -> DrawnWindow {
    let label = label.iter().map(|line| (*line).to_owned()).collect();
    DrawnWindow { label, window, roll_degrees: 0.0, look: Look::of_slot(slot) }
}

fn scene(picture: &RgbImage, windows: Vec<DrawnWindow>) -> Scene<'_> {
    Scene {
        picture,
        raster: capture(),
        windows,
        subjects: Vec::new(),
        caption: Vec::new(),
        note: None,
    }
}

fn footage(colour: Rgb<u8>) -> RgbImage {
    RgbImage::from_pixel(400, 300, colour)
}

#[test]
fn a_window_is_bright_inside_and_dark_outside() {
    let picture = footage(GRAY);
    let vertical = window(1000.0, 0.0, 2000.0, 3000.0);
    let overlay = overlay(&scene(&picture, vec![drawn(0, &[], vertical)]), 1000);
    assert_eq!(overlay.dimensions(), (1000, 750));
    assert_eq!(*overlay.get_pixel(500, 375), GRAY);
    assert_eq!(*overlay.get_pixel(240, 375), Rgb([70; 3]));
    assert_eq!(*overlay.get_pixel(760, 375), Rgb([70; 3]));
}

/// WCAG 2.1, "Non-text Contrast": 3 to 1.
#[test]
fn window_edges_show_on_white_black_and_gray_footage() {
    for code in [0, 119, 255] {
        let picture = footage(Rgb([code; 3]));
        let square = window(500.0, 0.0, 3000.0, 3000.0);
        let overlay = overlay(&scene(&picture, vec![drawn(3, &[], square)]), 1000);
        for y in 20..730 {
            let walk: Vec<Rgb<u8>> = (120..140).map(|x| *overlay.get_pixel(x, y)).collect();
            let found = walk.windows(2).map(|pair| contrast(pair[0], pair[1])).fold(1.0, f64::max);
            assert!(found >= 3.0, "footage {code}, row {y}: {found}");
        }
    }
}

#[test]
fn of_two_equal_windows_both_lines_are_seen() {
    let picture = footage(GRAY);
    let whole = window(0.0, 375.0, 4000.0, 2250.0);
    let windows = vec![drawn(0, &[], whole), drawn(1, &[], whole)];
    let overlay = overlay(&scene(&picture, windows), 1000);
    for slot in [0, 1] {
        let colour = Look::of_slot(slot).colour();
        assert!(overlay.pixels().filter(|pixel| **pixel == colour).count() > 1000, "slot {slot}");
    }
}

#[test]
fn the_caption_stands_above_the_frame_in_dark_on_light() {
    let picture = footage(GRAY);
    let plain = scene(&picture, vec![drawn(0, &[], window(0.0, 0.0, 4000.0, 3000.0))]);
    let named = Scene { caption: vec!["bow camera · frame 112".to_owned()], ..plain.clone() };
    let (plain, named) = (overlay(&plain, 1000), overlay(&named, 1000));
    let band = named.height() - plain.height();
    let pixels = (0..band).flat_map(|y| (0..1000).map(move |x| (x, y)));
    let dark = pixels.filter(|(x, y)| named.get_pixel(*x, *y).0[0] < 64).count();
    assert!((200..10_000).contains(&dark), "{dark}");
    assert!((0..750).all(|y| named.get_pixel(500, band + y) == plain.get_pixel(500, y)));
}

#[test]
fn plates_that_would_hide_the_frame_go_below_it() {
    let picture = footage(GRAY);
    let label = ["a deliverable", "E 0.48 fine", "left 0 + 4000 + right 0 = 4000"];
    let windows = |count| {
        let whole = window(0.0, 0.0, 4000.0, 3000.0);
        (0..count).map(|slot| drawn(slot, &label, whole)).collect::<Vec<_>>()
    };
    assert_eq!(overlay(&scene(&picture, windows(1)), 800).height(), 600);
    assert!(overlay(&scene(&picture, windows(6)), 800).height() > 700);
}

#[test]
fn the_same_scene_gives_the_same_bytes() {
    let picture = footage(GRAY);
    let scene = scene(&picture, vec![drawn(2, &["feed 4:5"], window(10.0, 0.0, 2400.0, 3000.0))]);
    assert_eq!(overlay(&scene, 640), overlay(&scene, 640));
}

#[test]
fn a_width_out_of_range_is_drawn_at_the_nearest() {
    let picture = footage(GRAY);
    assert_eq!(overlay(&scene(&picture, Vec::new()), 0).width(), 320);
}

#[test]
fn any_frame_and_any_text_can_be_drawn() {
    let long = "endless ".repeat(2000);
    for (width, height) in [(0, 0), (1, 1), (1, 3000), (3000, 1), (7, 5)] {
        let picture = RgbImage::new(width, height);
        let raster = Raster::new(width.max(1), height.max(1)).unwrap();
        let whole = Window::inside(raster, (0.0, 0.0), (raster.width(), raster.height())).unwrap();
        let windows =
            (0..60).map(|slot| drawn(slot, &["", &long, "漢字\u{10FFFF}"], whole)).collect();
        let scene = Scene {
            picture: &picture,
            raster,
            windows,
            subjects: vec![
                Region::new(-1e300, -1e300, 1e301, 1e301).unwrap(),
                Region::new(0.25, 0.25, 1e-9, 1e-9).unwrap(),
            ],
            caption: vec![long.clone(); 50],
            note: Some(long.clone()),
        };
        let overlay = overlay(&scene, 1);
        assert!(overlay.height() < 30_000, "{width}x{height}: {:?}", overlay.dimensions());
    }
}
