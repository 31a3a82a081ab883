//! `lookroom stills`: which frames are taken, with which windows, and what is written.

use crate::{
    command::{SHOOT, SmallShoot, demo, lookroom_in, stderr, stdout},
    footage,
    ride::{HEAD, Ride, clip},
};
use image::{RgbImage, imageops};
use serde_json::Value;
use std::{
    fs,
    path::{Path, PathBuf},
};

fn told(folder: &Path, arguments: &[&str]) -> (Value, Option<i32>) {
    let all: Vec<&str> =
        ["stills", "shoot.toml", "--json"].iter().chain(arguments).copied().collect();
    let output = lookroom_in(folder, &all);
    let text = stdout(&output);
    let value = serde_json::from_str(&text)
        .unwrap_or_else(|error| panic!("{error}: {text}{}", stderr(&output)));
    (value, output.status.code())
}

fn numbers<const N: usize>(value: &Value) -> [f64; N] {
    let list: Vec<f64> = value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
    list.try_into().unwrap()
}

fn stills_of(told: &Value) -> &Vec<Value> {
    told["clips"][0]["stills"].as_array().unwrap()
}

/// A copy of the demo, which nothing is written into.
fn demo_copy() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("frames")).unwrap();
    for name in ["shoot.toml", "marks.csv"] {
        fs::copy(demo().join(name), folder.path().join(name)).unwrap();
    }
    for entry in fs::read_dir(demo().join("frames")).unwrap() {
        let path: PathBuf = entry.unwrap().path();
        fs::copy(&path, folder.path().join("frames").join(path.file_name().unwrap())).unwrap();
    }
    folder
}

fn written(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<(String, Vec<u8>)> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_file())
        .map(|path| {
            (path.file_name().unwrap().to_string_lossy().into_owned(), fs::read(&path).unwrap())
        })
        .collect();
    files.sort();
    files
}

#[test]
fn the_demo_gives_thumbnails_that_are_spread_and_hold_the_paddler() {
    let folder = demo_copy();
    let (answer, status) = told(folder.path(), &[]);
    assert_eq!(status, Some(0), "{answer}");
    let clip = &answer["clips"][0];
    assert_eq!(clip["boxes_from"], "marks");
    assert_eq!(clip["blur_of"], "subject");
    assert_eq!(clip["used_frames"], 200);
    // Six stills of 8 s: half of an even share.
    assert!((clip["apart_secs"].as_f64().unwrap() - 8.0 / 12.0).abs() < 1e-9);
    let stills = stills_of(&answer);
    assert_eq!(stills.len(), 6);
    let scores: Vec<f64> = stills.iter().map(|one| one["score"].as_f64().unwrap()).collect();
    assert!(scores.windows(2).all(|pair| pair[0] >= pair[1]), "{scores:?}");
    let mut secs: Vec<f64> = stills.iter().map(|one| one["secs"].as_f64().unwrap()).collect();
    secs.sort_by(f64::total_cmp);
    assert!(secs.windows(2).all(|pair| pair[1] - pair[0] >= 8.0 / 12.0 - 1e-6), "{secs:?}");
    for still in stills {
        let [left, top, width, height] = numbers::<4>(&still["window_px"]);
        // The rail below 1080 - 56 is trimmed; a quarter of the height would take more px than there are.
        assert!(left >= 0.0 && top >= 0.0 && left + width <= 1440.0 && top + height <= 1024.0);
        assert_eq!((width, height), (1280.0, 720.0), "{still}");
        assert_eq!(still["enlargement"], 1.0);
        let [x, y, wide, high] = numbers::<4>(&still["subject_px"]);
        assert!(x >= left && y >= top && x + wide <= left + width && y + high <= top + height);
        assert_eq!(still["parts"]["whole"], 1.0);
        // As it is told, so it is on the disk: the frame's own px.
        let name = still["file"].as_str().unwrap();
        let cut = image::open(folder.path().join("out").join(name)).unwrap().into_rgb8();
        let frame = still["frame"].as_u64().unwrap();
        let whole = image::open(folder.path().join(format!("frames/{frame:05}.jpg"))).unwrap();
        let px = |v: f64| format!("{v:.0}").parse::<u32>().unwrap();
        let expected =
            imageops::crop_imm(&whole.into_rgb8(), px(left), px(top), 1280, 720).to_image();
        assert!(cut == expected, "{name}");
    }
    let first = written(&folder.path().join("out"));
    assert_eq!(first.len(), 6 + 1 + 1, "stills, the sheet and the manifest");
    told(folder.path(), &[]);
    assert!(written(&folder.path().join("out")) == first, "the same input, the same bytes");
}

#[test]
fn a_fresh_track_is_used_and_a_stale_one_is_told() {
    let folder = demo_copy();
    let output = lookroom_in(folder.path(), &["track", "shoot.toml"]);
    assert!(output.status.success(), "{}", stderr(&output));
    let (answer, _) = told(folder.path(), &["--count", "1"]);
    assert_eq!(answer["clips"][0]["boxes_from"], "track");
    let marks = fs::read_to_string(folder.path().join("marks.csv")).unwrap();
    fs::write(folder.path().join("marks.csv"), marks.replace("100,593,533", "100,594,533"))
        .unwrap();
    let (answer, _) = told(folder.path(), &["--count", "1"]);
    assert_eq!(answer["clips"][0]["boxes_from"], "marks");
    assert!(
        answer["clips"][0]["notices"].to_string().contains("made from other marks"),
        "{answer}"
    );
}

#[test]
fn blocked_zones_of_a_deliverable_stay_clear_of_the_subject() {
    let folder = demo_copy();
    let (answer, status) = told(folder.path(), &["--deliverable", "vertical", "--count", "3"]);
    assert_eq!(status, Some(0), "{answer}");
    for still in stills_of(&answer) {
        let [_, top, _, height] = numbers::<4>(&still["window_px"]);
        let [_, y, _, high] = numbers::<4>(&still["subject_px"]);
        assert!(y >= top + 0.12 * height && y + high <= top + 0.80 * height, "{still}");
        assert_eq!(still["parts"]["whole"], 1.0);
    }
}

/// T12's still, with T4's blur: a 4000 x 2250 window of K1, and a boat that goes 500 px/s past a shutter of 1/100 s.
#[test]
fn t12_still_with_t4_blur() {
    let clip = clip("ride", "shutter = \"1/100\"").replace("2720x2040", "4000x3000");
    // 5 px a frame at 100 frames/s.
    let marks = "ride,0,325,1400,350,200\nride,499,2820,1400,350,200\n";
    let ride = Ride::new(&format!("{HEAD}{clip}"), marks);
    let folder = ride.out().parent().unwrap().to_owned();
    let (answer, status) = told(&folder, &["--shape", "16:9", "--count", "2"]);
    assert_eq!(status, Some(0), "{answer}");
    let still = &stills_of(&answer)[0];
    let print = &still["print"];
    let near = |value: &Value, expected: f64, by: f64| {
        assert!((value.as_f64().unwrap() - expected).abs() <= by, "{value} is not {expected}");
    };
    near(&print["megapixels"], 9.0, 1e-9);
    near(&print["size_cm"][0], 33.9, 0.05);
    near(&print["size_cm"][1], 19.1, 0.051);
    near(&still["speed_px"], 5.0, 1e-9);
    near(&print["blur_mm"], 0.42, 0.005);
    assert!(print["poster"].as_str().unwrap().starts_with("too soft: blur 5.0 px, at most 3.1 px"));
    assert_eq!(print["feed"], "good");
    // The files are in the proxy's px, and that is told.
    assert_eq!(answer["clips"][0]["proxy"], "68x51");
    assert!(
        answer["clips"][0]["notices"].to_string().contains("take the frames from the full clip")
    );
    let name = still["file"].as_str().unwrap();
    assert_eq!(image::image_dimensions(folder.join("out").join(name)).unwrap(), (68, 38));
    let (answer, _) = told(&folder, &["--shape", "9:16", "--count", "1"]);
    let print = &stills_of(&answer)[0]["print"];
    // 1687.5 x 3000 before it is rounded to even px: 5.06 MP, 5.6 x 10 in.
    near(&print["megapixels"], 5.06, 0.01);
    near(&print["size_in"][0], 5.6, 0.05);
    near(&print["size_in"][1], 10.0, 0.02);
}

#[test]
fn the_whole_frame_is_what_is_left_of_it_by_trims() {
    let folder = demo_copy();
    let (answer, _) = told(folder.path(), &["--whole", "--count", "1", "--px-per-in", "266"]);
    let still = &stills_of(&answer)[0];
    assert_eq!(numbers::<4>(&still["window_px"]), [0.0, 0.0, 1440.0, 1024.0]);
    assert!((still["print"]["size_in"][0].as_f64().unwrap() - 1440.0 / 266.0).abs() < 1e-9);
    assert_eq!(still["enlargement"], Value::Null);
    assert_eq!(still["print"]["poster"], "too few px: 1767, at least 3438");
}

#[test]
fn what_was_changed_by_hand_is_kept_and_what_is_no_more_chosen_goes() {
    let shoot = SmallShoot::new(SHOOT);
    let run = |arguments: &[&str]| {
        let all: Vec<&str> =
            ["stills", "shoot.toml", "--to", "96x54"].iter().chain(arguments).copied().collect();
        shoot.run(&all)
    };
    let first = run(&["--count", "3", "--apart", "0.2"]);
    assert_eq!(first.status.code(), Some(0), "{}", stderr(&first));
    assert!(stdout(&first).contains("no edges to measure blur at"), "{}", stdout(&first));
    let stills = || {
        let names = written(&shoot.path().join("out")).into_iter().map(|(name, _)| name);
        names.filter(|name| name.ends_with("_still.png")).collect::<Vec<_>>()
    };
    let before = stills();
    assert_eq!(before.len(), 3, "{before:?}");
    // A plan leaves stills alone, and stills leave a plan alone.
    assert!(shoot.run(&["plan", "shoot.toml"]).status.success());
    assert_eq!(stills(), before);
    shoot.write(&format!("out/{}", before[2]), "mine");
    let again = run(&["--count", "3", "--apart", "0.2"]);
    let new = before[2].replace(".png", ".new.png");
    assert!(
        stdout(&again).contains(&format!(
            "{} was changed by hand and is left alone; the new one is {new}",
            before[2]
        )),
        "{}",
        stdout(&again)
    );
    assert_eq!(shoot.read(&format!("out/{}", before[2])), "mine");
    assert!(shoot.has(&format!("out/{new}")) && shoot.has("out/report.txt"));
    // Planning leaves the one beside it alone too.
    assert!(shoot.run(&["plan", "shoot.toml"]).status.success());
    assert!(shoot.has(&format!("out/{new}")));
    // With one still the others go; another purpose has files of its own.
    run(&["--count", "1"]);
    let other = shoot.run(&["stills", "shoot.toml", "--shape", "1:1", "--count", "1"]);
    assert!(other.status.success(), "{}", stderr(&other));
    let left = stills();
    assert_eq!(left.iter().filter(|name| name.contains("_96x54_")).count(), 1, "{left:?}");
    assert_eq!(left.iter().filter(|name| name.contains("_1-1_")).count(), 1, "{left:?}");
    assert_eq!(shoot.read(&format!("out/set-aside/{}", before[2])), "mine");
}

#[test]
fn a_clip_without_marks_is_measured_and_cut_as_a_whole() {
    let shoot = SmallShoot::new(SHOOT);
    fs::remove_file(shoot.path().join("marks.csv")).unwrap();
    let (answer, status) = told(shoot.path(), &["--to", "192x108", "--count", "2"]);
    assert_eq!(status, Some(0), "{answer}");
    assert_eq!(answer["clips"][0]["boxes_from"], "no-subject");
    for still in stills_of(&answer) {
        // The largest 16:9 window stands in the middle.
        assert_eq!(numbers::<4>(&still["window_px"]), [0.0, 36.0, 400.0, 226.0]);
        assert_eq!(still["height_share"], Value::Null);
    }
    let text = stdout(&shoot.run(&["stills", "shoot.toml", "--to", "192x108"]));
    assert!(text.contains("no subject is marked"), "{text}");
}

#[test]
fn faults_are_told_with_what_was_asked_and_what_there_is() {
    let shoot = SmallShoot::new(SHOOT);
    for (arguments, status, says) in [
        (&["--clip", "run"][..], 1, "there is no clip `run`; the shoot file has walk"),
        (
            &["--deliverable", "square"],
            1,
            "there is no deliverable `square`; the shoot file has film, vertical",
        ),
        (&["--shape", "40000:1"], 1, "40000"),
        (&["--shape", "1.5"], 2, "1.5"),
        (&["--to", "96x54", "--whole"], 2, "cannot be used with"),
        (&["--count", "0"], 2, "0 is not in 1..=100"),
        (&["--px-per-in=-3"], 2, "`-3` is no number of px per inch from 1 to 10000"),
        (&["--px-per-in", "0"], 2, "`0` is no number of px per inch from 1 to 10000"),
        (&["--subject", "120"], 2, "`120` is no number of per cent from 1 to 100"),
        (&["--apart", "nan"], 2, "`nan` is no number of seconds from 0 to 86400"),
    ] {
        let all: Vec<&str> = ["stills", "shoot.toml"].iter().chain(arguments).copied().collect();
        let output = shoot.run(&all);
        assert_eq!(output.status.code(), Some(status), "{arguments:?}: {}", stderr(&output));
        assert!(stderr(&output).contains(says), "{arguments:?}: {}", stderr(&output));
    }
    assert!(!shoot.has("out/manifest.json"), "nothing was written");
    // A window that would be softer than is allowed is none: that is an answer.
    let output = shoot.run(&["stills", "shoot.toml", "--to", "1920x1080"]);
    assert_eq!(output.status.code(), Some(3), "{}", stderr(&output));
    assert!(stdout(&output).contains("no still: nothing passes"), "{}", stdout(&output));
}

/// A boxed clip in a folder of its own, its true boxes as marks, its frames made by `make`.
fn boxed(
    name: &str,
    keys: &str,
    make: impl Fn(usize, RgbImage) -> RgbImage,
) -> Option<tempfile::TempDir> {
    let (boxes, pictures) = (footage::boxes(name)?, footage::pictures(name)?);
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("frames")).unwrap();
    let mut marks = "clip,frame,left,top,width,height\n".to_owned();
    for (frame, (picture, of)) in pictures.iter().zip(boxes).enumerate() {
        let made = make(frame, image::open(picture).unwrap().into_rgb8());
        made.save(folder.path().join(format!("frames/{frame:05}.png"))).unwrap();
        let (left, top) = (of.left(), of.top());
        marks += &format!("real,{frame},{left},{top},{},{}\n", of.width(), of.height());
    }
    fs::write(folder.path().join("marks.csv"), marks).unwrap();
    let shoot = format!(
        "version = 1\ntimeline_rate = 24\nmarks = \"marks.csv\"\n[[deliverable]]\nname = \"film\"\nraster = \"640x360\"\n\
         [[clip]]\nname = \"real\"\nframes = \"frames/%05d.png\"\nrate = 24\n{keys}\n"
    );
    fs::write(folder.path().join("shoot.toml"), shoot).unwrap();
    Some(folder)
}

/// Every frame but three has 9 px of motion laid over it: those three are taken.
#[test]
fn on_real_frames_the_sharp_ones_are_taken() {
    const SHARP: [usize; 3] = [7, 33, 58];
    let smeared = |picture: &RgbImage| {
        RgbImage::from_fn(picture.width(), picture.height(), |x, y| {
            let column = |k: u32| (x + k).saturating_sub(4).min(picture.width() - 1);
            let sum = |part: usize| -> u32 {
                (0..9).map(|k| u32::from(picture.get_pixel(column(k), y).0[part])).sum()
            };
            image::Rgb([0, 1, 2].map(|part| u8::try_from(sum(part) / 9).unwrap()))
        })
    };
    let make = |frame: usize, picture: RgbImage| {
        if SHARP.contains(&frame) { picture } else { smeared(&picture) }
    };
    let Some(folder) = boxed("car-roundabout", "", make) else { return };
    let (answer, status) = told(folder.path(), &["--whole", "--count", "3", "--apart", "0.5"]);
    assert_eq!(status, Some(0), "{answer}");
    let mut frames: Vec<u64> =
        stills_of(&answer).iter().map(|one| one["frame"].as_u64().unwrap()).collect();
    frames.sort_unstable();
    assert_eq!(frames, [7, 33, 58], "{answer}");
}

/// The boxes are of the displayed picture, so that a mirrored clip's stills are cut where its mirrored subject is.
#[test]
fn a_mirrored_and_a_levelled_clip_are_cut_where_the_subject_is() {
    let mirror = |_: usize, picture: RgbImage| imageops::flip_horizontal(&picture);
    // Mirrored on the disk and by its key: as it was.
    let (Some(plain), Some(twice)) = (
        boxed("car-shadow", "", |_, picture| picture),
        boxed("car-shadow", "mirror = true", mirror),
    ) else {
        return;
    };
    let arguments = ["--to", "480x270", "--count", "2"];
    let ((one, _), (other, _)) = (told(plain.path(), &arguments), told(twice.path(), &arguments));
    assert_eq!(one["clips"], other["clips"]);
    for still in stills_of(&one) {
        let read =
            |folder: &Path| fs::read(folder.join("out").join(still["file"].as_str().unwrap()));
        assert!(read(plain.path()).unwrap() == read(twice.path()).unwrap());
    }
    let Some(level) = boxed("car-shadow", "level = 5.0", |_, picture| picture) else { return };
    let (answer, status) = told(level.path(), &arguments);
    assert_eq!(status, Some(0), "{answer}");
    for still in stills_of(&answer) {
        assert_eq!(still["roll_degrees"].as_f64().map(f64::round), Some(5.0));
        assert_eq!(still["parts"]["whole"], 1.0, "{still}");
        let [_, _, width, height] = numbers::<4>(&still["window_px"]);
        let name = level.path().join("out").join(still["file"].as_str().unwrap());
        let (wide, high) = image::image_dimensions(name).unwrap();
        assert!((f64::from(wide) - width).abs() <= 0.5 && (f64::from(high) - height).abs() <= 0.5);
    }
}

#[test]
fn a_variable_rate_video_has_seconds_for_its_stills() {
    let Some(folder) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let here = tempfile::tempdir().unwrap();
    let video = folder.join("video/h263-176x144-variable-rate-pixels-12-11.3gp");
    fs::copy(video, here.path().join("clip.3gp")).unwrap();
    let shoot = "version = 1\ntimeline_rate = 25\nmarks = \"marks.csv\"\n[[deliverable]]\nname = \"film\"\n\
                 raster = \"160x90\"\n[[clip]]\nname = \"odd\"\nfile = \"clip.3gp\"\n";
    fs::write(here.path().join("shoot.toml"), shoot).unwrap();
    let (answer, status) = told(here.path(), &["--whole", "--count", "4", "--apart", "2"]);
    assert_eq!(status, Some(0), "{answer}");
    let mut secs: Vec<f64> =
        stills_of(&answer).iter().map(|one| one["secs"].as_f64().unwrap()).collect();
    secs.sort_by(f64::total_cmp);
    assert_eq!(secs.len(), 4, "{answer}");
    assert!(secs.windows(2).all(|pair| pair[1] - pair[0] >= 2.0 - 1e-6), "{secs:?}");
    assert!(stills_of(&answer).iter().all(|one| one["timecode"] == Value::Null));
    // Px of 12:11 are shown square: 192 x 144.
    assert_eq!(numbers::<4>(&stills_of(&answer)[0]["window_px"])[2..], [192.0, 144.0]);
}
