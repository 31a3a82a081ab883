//! How sharp stills are, held against a published measurement, and against stills enlarged by known factors.

use crate::{
    command::{SHOOT, SmallShoot, lookroom_in, stderr, stdout},
    footage,
};
use image::imageops::{FilterType, resize};
use lookroom::{
    geometry::Raster,
    media::luma_plane,
    picture::LumaPlane,
    sharpness::{EdgeResponse, ToneCurve, edge_response, fine_detail},
};
use std::{
    fs,
    path::{Path, PathBuf},
};

/// The published region is 120x260 at 130,66, and the picture that is kept has its outline drawn over the outermost px
/// of it (127 to 129 between white and black): this is what is inside of that.
const REGION: &str = "131,67,118x258";

/// The chart's response, with its tone curve taken out.
fn chart(folder: &Path) -> EdgeResponse {
    let plane = luma_plane(&folder.join("edge-chart/Edge_box.tif")).unwrap();
    let table = fs::read_to_string(folder.join("edge-chart/oecf.txt")).unwrap().parse().unwrap();
    edge_response(&plane, REGION.parse().unwrap(), &ToneCurve::Table(table)).unwrap()
}

/// The published curve: cycles a px along the row, and the modulus, up to half a cycle. It is stated in cycles a mm at
/// 500 px an inch, which are 19.685 px a mm; its rows are 1 / 120 of a cycle a px apart, the region's width, so that it is
/// along the row and not square to the edge.
fn published(folder: &Path) -> Vec<(f64, f64)> {
    let text = fs::read_to_string(folder.join("edge-chart/SFROUT.txt")).unwrap();
    let rows = text.lines().skip_while(|line| !line.starts_with("cy/mm")).skip(2);
    let numbers = rows.map_while(|row| {
        let mut words = row.split_whitespace();
        Some((words.next()?.parse::<f64>().ok()?, words.next()?.parse::<f64>().ok()?))
    });
    let curve = numbers.map(|(cycles_per_mm, modulus)| (cycles_per_mm / (500.0 / 25.4), modulus));
    curve.take_while(|point| point.0 <= 0.5).collect()
}

/// A published measurement of a scanned edge (`edge-chart/SFROUT.txt` of the footage; it crosses 0.5 at 6.028 cycles a mm).
#[test]
fn a_published_edge_has_its_published_response() {
    let Some(folder) = footage::folder() else { return };
    let found = chart(&folder);
    assert!((found.angle_degrees.abs() - 5.248).abs() < 0.1, "{}", found.angle_degrees);
    let cosine = found.angle_degrees.to_radians().cos();
    // Square to the edge, as we tell it, there are more px in a cycle than along the row, as it was published.
    let mtf50 = found.mtf50_cycles_per_px.unwrap() * cosine;
    assert!((mtf50 - 0.3062).abs() < 0.004, "{mtf50}");
    let published = published(&folder);
    assert_eq!(published.len(), 60);
    let mut worst: f64 = 0.0;
    for (along_row, modulus) in published {
        let square = along_row / cosine;
        let next = found.curve.iter().position(|point| point.cycles_per_px >= square - 1e-9);
        // The last row is a hair beyond half a cycle square to the edge.
        let Some(next) = next.filter(|next| *next > 0) else { continue };
        let (low, high) = (found.curve[next - 1], found.curve[next]);
        let share = (square - low.cycles_per_px) / (high.cycles_per_px - low.cycles_per_px);
        let ours = low.modulus + (high.modulus - low.modulus) * share;
        worst = worst.max((ours - modulus).abs());
        assert!((ours - modulus).abs() < 0.015, "at {along_row}: {ours}, published {modulus}");
    }
    eprintln!("MTF50 {mtf50:.4} along the row, at most {worst:.4} off the published curve");
}

fn plane_of(picture: &image::GrayImage) -> LumaPlane {
    let raster = Raster::new(picture.width(), picture.height()).unwrap();
    let values = picture.as_raw().iter().map(|code| f32::from(*code) / 255.0).collect();
    LumaPlane::new(raster, values, 255).unwrap()
}

/// A still of each boxed clip, and both scenes of the photos.
fn stills(folder: &Path) -> Vec<PathBuf> {
    let boxed = footage::BOXED.iter().map(|clip| folder.join("boxed").join(clip).join("00020.jpg"));
    let photos = ["Landscape_1.jpg", "Portrait_1.jpg"];
    boxed.chain(photos.iter().map(|name| folder.join("photos-rotated").join(name))).collect()
}

#[test]
fn real_stills_that_were_not_enlarged_are_never_said_to_be() {
    let Some(folder) = footage::folder() else { return };
    let mut shares = Vec::new();
    for clip in footage::BOXED {
        for path in footage::pictures(clip).unwrap().iter().step_by(12) {
            let plane = luma_plane(path).unwrap();
            let Ok(found) = fine_detail(&plane) else { continue };
            assert_eq!(found.enlarged_by, None, "{}", path.display());
            shares.push(found.carried_across_px / plane.width_px() as f64);
        }
    }
    for path in &stills(&folder)[6..] {
        let found = fine_detail(&luma_plane(path).unwrap()).unwrap();
        assert_eq!(found.enlarged_by, None, "{}", path.display());
    }
    shares.sort_by(f64::total_cmp);
    let median = shares[shares.len() / 2];
    eprintln!(
        "{} stills carry {:.2} to 1 of their width, {median:.2} at the median",
        shares.len(),
        shares[0]
    );
    assert!(median > 0.85, "{median}");
}

/// What was measured when the limits were chosen is held: how often an enlargement is found, and how far what is carried
/// is off what the still had before. These stills were coded in blocks before they were enlarged, which tells the most.
#[test]
fn real_stills_that_were_enlarged_carry_what_they_had_before() {
    let Some(folder) = footage::folder() else { return };
    let (mut off, mut found_count, mut right_count, mut traced) = (Vec::new(), 0, 0, 0);
    for path in &stills(&folder)[..6] {
        let small = image::open(path).unwrap().into_luma8();
        for percent in [125, 150, 200, 300] {
            for kernel in [FilterType::Triangle, FilterType::CatmullRom, FilterType::Lanczos3] {
                let (width, height) =
                    (small.width() * percent / 100, small.height() * percent / 100);
                let Ok(found) = fine_detail(&plane_of(&resize(&small, width, height, kernel)))
                else {
                    continue;
                };
                let factor = f64::from(percent) / 100.0;
                off.push((found.carried_across_px / f64::from(small.width())).ln().abs());
                if percent != 200 {
                    traced += 1;
                    found_count += usize::from(found.enlarged_by.is_some());
                    let is_right = |told: f64| (told / factor - 1.0).abs() < 0.02;
                    right_count += usize::from(found.enlarged_by.is_some_and(is_right));
                }
            }
        }
    }
    let within = |factor: f64| off.iter().filter(|off| **off < factor.ln()).count();
    eprintln!(
        "of {} enlarged stills {} carry what they had within a tenth, {} within a third; of {traced} with a trace {found_count} are \
         found, {right_count} with the factor",
        off.len(),
        within(1.1),
        within(4.0 / 3.0)
    );
    assert!(10 * within(1.1) >= 8 * off.len(), "{} of {}", within(1.1), off.len());
    assert!(10 * found_count >= 9 * traced, "{found_count} of {traced}");
    assert!(10 * right_count >= 8 * traced, "{right_count} of {traced}");
}

#[test]
fn the_command_measures_an_edge_and_writes_its_curve() {
    let Some(folder) = footage::folder() else { return };
    let here = tempfile::tempdir().unwrap();
    for name in ["Edge_box.tif", "oecf.txt"] {
        fs::copy(folder.join("edge-chart").join(name), here.path().join(name)).unwrap();
    }
    let asked = ["sharpness", "Edge_box.tif", "--region", REGION, "--curve", "oecf.txt"];
    let run = |more: &[&str]| lookroom_in(here.path(), &[&asked, more].concat());
    let output = run(&["--out", "curve.csv"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let text = stdout(&output);
    assert!(text.contains("edge in 118x258 at 131,67: -5."), "{text}");
    assert!(text.contains("MTF50 0.31"), "{text}");
    assert!(text.contains("a tone curve of 101 rows taken out"), "{text}");
    // By hand: the region's middle is 190,196 of 890x400: 255.03 of 487.88 px to a corner; 0.310 / 0.35 = 0.886.
    assert!(text.contains("    sharpness = [{ off_centre = 0.52, mtf50 = 0.310 }]"), "{text}");
    assert!(text.contains("a px there counts for 89 % of one in full"), "{text}");
    let table = fs::read_to_string(here.path().join("curve.csv")).unwrap();
    assert!(table.starts_with("cycles_per_px,modulus\r\n0.000000,1.000000\r\n"), "{table}");
    let again = run(&["--out", "curve.csv"]);
    assert_eq!(again.status.code(), Some(1));
    assert!(stderr(&again).contains("curve.csv is there already"), "{}", stderr(&again));
    let json: serde_json::Value = serde_json::from_str(&stdout(&run(&["--json"]))).unwrap();
    let mtf50 = json["edge"]["mtf50_cycles_per_px"].as_f64().unwrap();
    assert!((mtf50 - chart(&folder).mtf50_cycles_per_px.unwrap()).abs() < 1e-12);
    let plain = lookroom_in(here.path(), &asked[..4]);
    assert!(
        stdout(&plain).contains("code values as they are, no tone curve"),
        "{}",
        stdout(&plain)
    );
}

/// Frames of 400 x 300: half of the diagonal is 250 px.
#[test]
fn a_measured_corner_enters_the_plan() {
    let measured = "[[camera]]\nname = \"bow\"\nsharpness = [{ off_centre = 0, mtf50 = 0.30 }, { off_centre = 0.8, mtf50 = \
                    0.10 }]\n\n[[clip]]\ncamera = \"bow\"";
    let plain = SmallShoot::new(SHOOT);
    let soft = SmallShoot::new(&SHOOT.replace("[[clip]]", measured));
    let softest = |shoot: &SmallShoot| -> Vec<serde_json::Value> {
        let output = shoot.run(&["plan", "shoot.toml"]);
        assert!(matches!(output.status.code(), Some(0 | 3)), "{}", stderr(&output));
        let report: serde_json::Value =
            serde_json::from_str(&shoot.read("out/report.json")).unwrap();
        report["clips"][0]["entries"]
            .as_array()
            .unwrap()
            .iter()
            .map(|e| e["softest"].clone())
            .collect()
    };
    let (before, after) = (softest(&plain), softest(&soft));
    for (entry, name) in ["film", "vertical"].into_iter().enumerate() {
        let number = |of: &serde_json::Value, key: &str| of[key].as_f64().unwrap();
        assert_eq!(before[entry]["measured"], serde_json::Value::Null);
        assert_eq!(number(&before[entry], "enlargement"), number(&after[entry], "enlargement"));
        // Reckoned again from the table of windows: the one whose px resolve least.
        let delivered_px = [384.0, 162.0][entry];
        let table = soft.read(&format!("out/walk_{name}_every-frame.csv"));
        let mut rows = csv::Reader::from_reader(table.as_bytes());
        let heading = rows.headers().unwrap().clone();
        let column = |name: &str| heading.iter().position(|other| other == name).unwrap();
        let [left, top, width, height] = ["left_px", "top_px", "width_px", "height_px"].map(column);
        let softest = rows.records().map(|row| {
            let row = row.unwrap();
            let at = |column: usize| row[column].parse::<f64>().unwrap();
            let (x, y) = (at(left) + at(width) / 2.0 - 200.0, at(top) + at(height) / 2.0 - 150.0);
            let off_centre = x.hypot(y) / 250.0;
            let mtf50 = 0.30 - off_centre.min(0.8) / 0.8 * 0.20;
            delivered_px / (at(width) * (mtf50 / 0.35).min(1.0))
        });
        let by_hand = softest.fold(0.0_f64, f64::max);
        let found = number(&after[entry]["measured"], "as_soft_as");
        assert!((found - by_hand).abs() < 1e-6, "{name}: {found} and {by_hand}");
    }
    // Softer than any enlargement says, already in the middle.
    assert!(after[1]["measured"]["as_soft_as"].as_f64() > after[1]["enlargement"].as_f64());
    assert_ne!(before[1]["band"], after[1]["band"]);
    let report = soft.read("out/report.txt");
    assert!(report.contains("cycles/px as measured: as soft as E "), "{report}");
}

#[test]
fn the_softest_of_several_ranges_is_the_entrys() {
    let measured = "[[camera]]\nname = \"bow\"\nsharpness = [{ off_centre = 0, mtf50 = 0.35 }, { off_centre = 0.5, mtf50 = 0.1 }]\n\n\
                    [[clip]]\ncamera = \"bow\"";
    let ranges =
        "ranges = [{ from = 0, to = 8 }, { from = 11, to = 19 }, { from = 22, to = 30 }]\n";
    let shoot = SmallShoot::new(&(SHOOT.replace("[[clip]]", measured) + ranges));
    let output = shoot.run(&["plan", "shoot.toml", "--json"]);
    let plan: serde_json::Value = serde_json::from_str(&stdout(&output)).unwrap();
    for entry in plan["clips"][0]["entries"].as_array().unwrap() {
        let soft_as = |softest: &serde_json::Value| softest["measured"]["as_soft_as"].as_f64();
        let of_segments = entry["segments"].as_array().unwrap().iter();
        let of_segments: Vec<f64> = of_segments
            .filter_map(|segment| soft_as(&segment["outcome"]["planned"]["softest"]))
            .collect();
        let softest = of_segments.iter().copied().fold(0.0, f64::max);
        let sharpest = of_segments.iter().copied().fold(f64::MAX, f64::min);
        assert_eq!(of_segments.len(), 3, "{entry}");
        assert_eq!(soft_as(&entry["softest"]), Some(softest));
        if entry["deliverable"] == "vertical" {
            assert!(softest > 1.05 * sharpest, "the walker starts at the side: {of_segments:?}");
        }
    }
}

#[test]
fn a_crop_is_as_soft_as_was_measured_where_it_lies() {
    let here = tempfile::tempdir().unwrap();
    let crop = |more: &[&str]| {
        let asked = [
            "crop",
            "--from",
            "4000x3000",
            "--to",
            "1080x1920",
            "--left",
            "2312",
            "--rounding",
            "exact",
        ];
        lookroom_in(here.path(), &[&asked[..], more].concat())
    };
    // By hand: 1687.5 px wide; its middle at 3155.75, 1155.75 of 2500 off; 1080 / (1687.5 x 0.21 / 0.35) = 1.0667.
    let told = stdout(&crop(&["--mtf50", "0.21"]));
    let line = "46 % of the way to a corner, MTF50 0.210 cycles/px as measured: as soft as E 1.07, 1012 px across resolved";
    assert!(told.contains(line), "{told}");
    assert!(told.contains("E 0.6400 and as soft as 1.07, look at it at full size"), "{told}");
    assert!(stdout(&crop(&[])).contains("E 0.6400, hero shot"));
    let refused = crop(&["--mtf50", "3"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(stderr(&refused).contains("expected cycles/px, 0.01 to 1"), "{}", stderr(&refused));
}

#[test]
fn what_cannot_be_measured_says_why() {
    let here = tempfile::tempdir().unwrap();
    image::GrayImage::from_pixel(300, 280, image::Luma([90]))
        .save(here.path().join("sky.png"))
        .unwrap();
    fs::write(here.path().join("bad.txt"), "0 0\n1 x\n").unwrap();
    let says = |arguments: &[&str], code: i32, words: &str| {
        let output = lookroom_in(here.path(), arguments);
        let all = stdout(&output) + &stderr(&output);
        assert_eq!(output.status.code(), Some(code), "{all}");
        assert!(all.contains(words), "{all}");
    };
    let region = |text: &'static str| ["sharpness", "sky.png", "--region", text];
    says(&["sharpness", "sky.png"], 3, "cannot tell: the picture shows no fine detail");
    says(
        &region("200,10,120x260"),
        1,
        "the region 120x260 at 200,10 does not lie inside the picture, which is 300x280",
    );
    says(&region("-5,10,120x260"), 2, "is not a region");
    says(&region("10,10,120x260"), 1, "there is no edge, or its contrast is too low");
    says(&["sharpness", "none.png"], 1, "none.png is not a still that can be measured");
    says(&["sharpness", "bad.txt"], 1, "it begins as no picture does");
    says(
        &[&region("10,10,50x50")[..], &["--curve", "bad.txt"]].concat(),
        1,
        "line 2: `1 x` is not two numbers",
    );
    says(
        &[&region("10,10,50x50")[..], &["--curve", "99"]].concat(),
        2,
        "a gamma of 99 is out of range",
    );
    says(&["sharpness", "sky.png", "--curve", "srgb"], 2, "--region");
}
