//! Mount sheets through the command: written for each camera, with the numbers of the trade study's scenarios T3, T6 and T12;
//! what a person changed is left alone; and a browser prints each on one page.

use crate::command::{lookroom_in, stderr, stdout};
use std::{fs, path::Path, process::Command};
use tempfile::TempDir;

const KIT: &str = "\
camera,mode,raster,rate,mbit_s,mapping,fov_degrees,fov_along,inside_crop,inside_crop_of
K,known,4000x3000,50,120,rectilinear,90,horizontal,,
K,unknown,4000x3000,50,120,,73.74,vertical,,
";

const BRIEF: &str = r#"
version = 1
timeline_rate = "25"
kit = "kit.csv"
[[deliverable]]
name = "uhd"
raster = "3840x2160"
[[deliverable]]
name = "vertical"
raster = "1080x1920"
[day]
exposure_value = 15
f_number = 2.8
filters = [5]
card_gb = 128
battery_minutes = 90
battery_share = 0.6
starts_at = "10:00"
[[mount]]
name = "bridge"
mode = "known"
height = 6.0
tilt_down = 30
subject = { name = "boat <red>", width = 3.5, height = 0.001, distances = [8], speed = 5, way = "across" }
[[mount]]
name = "unknown"
mode = "unknown"
height = 6.0
tilt_down = 30
subject = { name = "boat", width = 3.5, height = 0.001, distances = [8] }
[[mount]]
name = "close"
mode = "known"
way_up = "on-its-side"
height = 1.0
tilt_down = 0
subject = { name = "paddler", width = 0.6, height = 1.2, above = 1.2, distances = [1.0] }
"#;

fn folder() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("kit.csv"), KIT).unwrap();
    fs::write(folder.path().join("brief.toml"), BRIEF).unwrap();
    folder
}

fn sheets(folder: &Path, more: &[&str]) -> String {
    let arguments = [&["mount", "brief.toml", "--sheet", "--out", "out"], more].concat();
    let output = lookroom_in(folder, &arguments);
    assert!(output.status.success(), "{}", stderr(&output));
    stdout(&output)
}

fn page(folder: &Path, name: &str) -> String {
    fs::read_to_string(folder.join("out").join(format!("{name}_mount-sheet.html"))).unwrap()
}

#[test]
fn each_mount_has_a_sheet_with_its_numbers() {
    let folder = folder();
    let told = sheets(folder.path(), &[]);
    assert!(told.contains("bridge_mount-sheet.html, bridge_mount-sheet.png"), "{told}");
    let bridge = page(folder.path(), "bridge");
    // T3: horizon at 345.3, in 16:9 outside by 375 - 345.3; T12: 1/131 s, 138 degrees, 54 min.
    for expected in [
        "K known, upright, 4000x3000 at 50 frames/s, 2x slow motion",
        "<dt>height</dt><dd>6 m</dd>",
        "<dt>tilt</dt><dd>30° down</dd>",
        "<dt>roll</dt><dd>level</dd>",
        "<dt>ND filter</dt><dd>5 stops</dd>",
        "<dt>shutter</dt><dd>1/131 s, 138°",
        "<dt>change by</dt><dd>10:54 (battery, 54 min)</dd>",
        "Horizon at row 345.3",
        "horizon outside by 29.7 px",
        "uhd 16:9 <span>E 0.96, ",
        "boat &lt;red&gt;",
        "Planning figures only.",
    ] {
        assert!(bridge.contains(expected), "`{expected}` is not in\n{}", words_of(&bridge));
    }
    assert!(!bridge.contains("<script") && !bridge.contains("<red>"));
    let unknown = page(folder.path(), "unknown");
    assert!(unknown.contains("Horizon at row 279.5 to 345.3"), "{}", words_of(&unknown));
    assert!(
        unknown.contains("full lines are of a straight-line lens, dashed ones of an equidistant")
    );
    for name in ["bridge", "unknown", "close"] {
        let picture =
            image::open(folder.path().join(format!("out/{name}_mount-sheet.png"))).unwrap();
        assert_eq!(picture.width(), 1400, "{name}");
    }
}

#[test]
fn what_a_shape_lacks_stands_with_what_would_mend_it() {
    let folder = folder();
    sheets(folder.path(), &["--only", "bridge,close"]);
    let close = page(folder.path(), "close");
    // By hand: 1.4 m above the camera at 1 m, 54.5 degrees up, and on its side it sees 45.
    assert!(close.contains("on its side, 3000x4000"), "{}", words_of(&close));
    assert!(close.contains("DOES NOT FIT: "), "{}", words_of(&close));
    assert!(close.contains("So that every shape fits: "), "{}", words_of(&close));
    assert!(!folder.path().join("out/unknown_mount-sheet.html").exists(), "it was not asked for");
}

#[test]
fn a_sheet_that_was_changed_by_hand_is_left_alone_and_the_same_again_is_the_same() {
    let folder = folder();
    sheets(folder.path(), &[]);
    let (first, path) =
        (page(folder.path(), "bridge"), folder.path().join("out/bridge_mount-sheet.html"));
    sheets(folder.path(), &[]);
    assert_eq!(page(folder.path(), "bridge"), first, "the same in, the same out");
    let mine = first.replace("</body>", "<p>Ask for the key of the gate.</p></body>");
    fs::write(&path, &mine).unwrap();
    let told = sheets(folder.path(), &[]);
    assert!(
        told.contains("bridge_mount-sheet.html was changed by hand and is left alone"),
        "{told}"
    );
    assert_eq!(fs::read_to_string(&path).unwrap(), mine);
    let beside = folder.path().join("out/bridge_mount-sheet.new.html");
    assert_eq!(fs::read_to_string(beside).unwrap(), first);
}

#[test]
fn a_browser_prints_each_sheet_on_one_page() {
    let is_required = std::env::var_os("LOOKROOM_REQUIRE_BROWSER").is_some();
    let Some(browser) =
        ["chromium", "chromium-browser"].into_iter().find_map(|name| which::which(name).ok())
    else {
        assert!(!is_required, "no chromium is there, and LOOKROOM_REQUIRE_BROWSER is set");
        eprintln!("skipped: there is no chromium to print the page with");
        return;
    };
    let (few, many) = (folder(), folder());
    fs::write(many.path().join("brief.toml"), many_shapes()).unwrap();
    sheets(few.path(), &[]);
    sheets(many.path(), &[]);
    let crowded = page(many.path(), "crowded");
    assert_eq!(crowded.matches("<h3>").count(), 8);
    assert!(crowded.contains("--fit: 0."), "its words are set smaller: {}", words_of(&crowded));
    for (folder, name) in [(&few, "bridge"), (&few, "unknown"), (&few, "close"), (&many, "crowded")]
    {
        let (profile, pdf) =
            (tempfile::tempdir().unwrap(), folder.path().join(format!("{name}.pdf")));
        let output = Command::new(&browser)
            .args(["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .arg(format!("--print-to-pdf={}", pdf.display()))
            .arg(format!("file://{}/out/{name}_mount-sheet.html", folder.path().display()))
            .output()
            .unwrap();
        let bytes = fs::read(&pdf).unwrap_or_else(|_| panic!("no page: {}", stderr(&output)));
        let text = String::from_utf8_lossy(&bytes);
        let pages = text.matches("/Type /Page\n").count() + text.matches("/Type /Page ").count();
        assert_eq!(pages, 1, "{name}");
        // A4 is 210 x 297 mm: 595.3 x 841.9 points.
        assert!(
            text.contains("/MediaBox [0 0 594.95996 841.91998]")
                || text.contains("/MediaBox [0 0 595"),
            "{name}"
        );
    }
}

/// Eight shapes, no two with one window, three distances, a rig and a day, through a lens that nobody knows.
fn many_shapes() -> String {
    let (head, _) = BRIEF.split_once("[[deliverable]]").unwrap();
    let (_, day) = BRIEF.split_once("[day]").unwrap();
    let (day, _) = day.split_once("[[mount]]").unwrap();
    let rasters = [
        "3840x2160",
        "1080x1920",
        "1080x1350",
        "1080x1080",
        "2048x858",
        "1000x1500",
        "2000x1000",
        "1440x1080",
    ];
    let deliverable = |(number, raster): (usize, &&str)| {
        format!("[[deliverable]]\nname = \"shape-{number}\"\nraster = \"{raster}\"\n")
    };
    let deliverables: String = rasters.iter().enumerate().map(deliverable).collect();
    format!(
        "{head}{deliverables}[day]{day}mains_hz = \"50\"\nneeded_minutes = 75\n\
         [[mount]]\nname = \"crowded\"\nmode = \"unknown\"\nheight = 6.0\ntilt_down = 30\nhorizon_above = 0.05\n\
         rig = [{{ name = \"rail\", left = 0, top = 2700, width = 4000, height = 300 }}]\n\
         subject = {{ name = \"boat\", width = 1.5, height = 0.5, distances = [6, 8, 20], speed = 5, way = \"across\", drift = 0.5 }}\n"
    )
}

/// A page without its picture, to be read in a failure.
fn words_of(page: &str) -> String {
    let (before, after) = page.split_once("base64,").unwrap_or((page, ""));
    format!("{before}…{}", after.split_once('"').map_or("", |(_, rest)| rest))
}
