//! The marking sheet in a real browser, without a window: boxes are drawn, changed and struck, and the marks file that it
//! saves is one that the command reads.

use crate::{
    command::{lookroom_in, stderr, stdout},
    ride::{HEAD, Ride, clip},
};
use std::{fs, path::Path, process::Command};

/// The browser, if there is one.
fn browser() -> Option<std::path::PathBuf> {
    let found =
        ["chromium", "chromium-browser"].into_iter().find_map(|name| which::which(name).ok());
    let is_required = std::env::var_os("LOOKROOM_REQUIRE_BROWSER").is_some();
    assert!(
        found.is_some() || !is_required,
        "no chromium is on the PATH, and LOOKROOM_REQUIRE_BROWSER is set"
    );
    if found.is_none() {
        eprintln!("skipped: there is no chromium to open the page with");
    }
    found
}

/// What the page holds in its element `result` once a script has run in it.
fn run_in(browser: &Path, page: &Path, script: &str) -> String {
    let text = fs::read_to_string(page).unwrap();
    let with_script = text.replace(
        "</body>",
        &format!("<pre id=\"result\"></pre><script>{PRELUDE}{script}\nbyId(\"result\").textContent = \"<<\" + JSON.stringify(result) + \">>\";</script></body>"),
    );
    let tried = page.with_file_name("tried.html");
    fs::write(&tried, with_script).unwrap();
    let profile = tempfile::tempdir().unwrap();
    let output = Command::new(browser)
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--window-size=1280,1000"])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .args(["--virtual-time-budget=3000", "--dump-dom"])
        .arg(format!("file://{}", tried.display()))
        .output()
        .unwrap();
    let dom = String::from_utf8_lossy(&output.stdout).into_owned();
    let found = dom.split("<pre id=\"result\">&lt;&lt;").nth(1);
    let found = found.unwrap_or_else(|| panic!("no result: {}", stderr(&output)));
    found
        .split("&gt;&gt;</pre>")
        .next()
        .unwrap()
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&")
}

/// Pointer and keys as a person's, and what is told in the end.
const PRELUDE: &str = r#"
canvas.setPointerCapture = () => {};
let result = null;
const pressAt = (type, x, y) => {
  const around = canvas.getBoundingClientRect();
  canvas.dispatchEvent(new PointerEvent(type, { pointerId: 1, clientX: around.left + x / data.width * around.width, clientY: around.top + y / data.height * around.height, bubbles: true }));
};
const pull = (from, to) => { pressAt("pointerdown", ...from); pressAt("pointermove", ...to); pressAt("pointerup", ...to); };
const press = (key, more = {}) => document.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, ...more }));
"#;

fn unmarked() -> (Ride, std::path::PathBuf) {
    let ride = Ride::new(&format!("{HEAD}{}{}", clip("ride", ""), clip("other", "")), "");
    let folder = ride.out().parent().unwrap().to_owned();
    fs::remove_file(folder.join("marks.csv")).unwrap();
    (ride, folder)
}

#[test]
fn a_clip_without_marks_is_marked_in_the_browser_and_then_planned() {
    let (ride, folder) = unmarked();
    let output = lookroom_in(&folder, &["marks", "shoot.toml"]);
    assert!(output.status.success(), "{}", stderr(&output));
    assert!(stdout(&output).contains("ride_marking-sheet.html"), "{}", stdout(&output));
    let Some(browser) = browser() else { return };
    // Drawn on the first frame, on the last by a key where it was, moved on and made wider; the other thing is struck.
    let script = r#"
pull([400, 600], [900, 1400]);
go(data.frames.length - 1);
press("Enter");
press("ArrowRight", { shiftKey: true });
press("ArrowRight", { altKey: true });
byId("newname").value = "a, \"gate\"";
byId("newkind").value = "keep-in";
byId("add").click();
go(0);
pull([100, 100], [300, 500]);
go(3);
press("g");
result = table();
"#;
    let saved: String = serde_json::from_str(&run_in(
        &browser,
        &ride.out().join("ride_marking-sheet.html"),
        script,
    ))
    .unwrap();
    let mut rows = csv::Reader::from_reader(saved.as_bytes());
    let rows: Vec<Vec<String>> =
        rows.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect();
    assert_eq!(rows.len(), 4, "{saved}");
    let near = |cell: &str, wanted: f64| {
        let value: f64 = cell.parse().unwrap();
        // A px of the screen is two or three of the frame.
        assert!((value - wanted).abs() < 4.0, "{value} against {wanted}: {saved}");
    };
    for (place, wanted) in [(2, 400.0), (3, 600.0), (4, 500.0), (5, 800.0)] {
        near(&rows[0][place], wanted);
    }
    assert_eq!((&rows[0][1][..], &rows[1][1][..]), ("0", "499"));
    let cell = |row: usize, place: usize| -> f64 { rows[row][place].parse().unwrap() };
    assert!((cell(1, 2) - cell(0, 2) - 10.0).abs() < 1e-9, "ten to the right: {saved}");
    assert!((cell(1, 4) - cell(0, 4) - 1.0).abs() < 1e-9, "one wider: {saved}");
    assert_eq!(rows[2][6..8], ["keep-in", "a, \"gate\""]);
    assert_eq!((&rows[3][2][..], &rows[3][6][..]), ("", "gone"));

    // The other clip is marked from that file on, and loses none of its rows.
    fs::write(folder.join("marks.csv"), &saved).unwrap();
    let output = lookroom_in(&folder, &["marks", "shoot.toml", "--clip", "other"]);
    assert!(output.status.success(), "{}", stderr(&output));
    let script = "pull([500, 500], [900, 900]); go(data.frames.length - 1); pull([600, 500], [1000, 900]); result = table();";
    let page = ride.out().join("other_marking-sheet.html");
    let saved: String = serde_json::from_str(&run_in(&browser, &page, script)).unwrap();
    assert_eq!(saved.matches("\nride,").count(), 4, "{saved}");
    assert!(saved.contains("\"a, \"\"gate\"\"\""), "{saved}");
    fs::write(folder.join("marks.csv"), &saved).unwrap();
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    assert!(ride.has("ride_marking-sheet.html"), "a plan leaves the pages alone");
}

#[test]
fn a_clip_that_is_not_there_and_marks_that_cannot_be_read_are_told() {
    let (_ride, folder) = unmarked();
    let output = lookroom_in(&folder, &["marks", "shoot.toml", "--clip", "rid"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        stderr(&output).contains("there is no clip `rid`; the shoot file has ride, other"),
        "{}",
        stderr(&output)
    );
    fs::write(folder.join("marks.csv"), "clip,frame,left,top,width,height\nride,x,1,1,1,1\n")
        .unwrap();
    let output = lookroom_in(&folder, &["marks", "shoot.toml"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(stderr(&output).contains("marks.csv:2"), "{}", stderr(&output));
}

#[test]
fn what_a_track_asks_for_is_on_the_page_and_comes_first() {
    let (ride, folder) = unmarked();
    fs::create_dir(folder.join("tracks")).unwrap();
    let note = r#"{ "made_from": { "made_by": 0, "footage": "", "footage_bytes": 0, "marks": "" }, "things": [{ "name": "paddler",
        "frames": 500, "boxed": 400, "asks": [123, 9999], "lost": [],
        "weakest": [{ "frames": [120, 140], "likely_wrong": 9.5, "ask": 131 }] }] }"#;
    fs::write(folder.join("tracks/ride_track.json"), note).unwrap();
    let output = lookroom_in(&folder, &["marks", "shoot.toml", "--clip", "ride", "--frames", "2"]);
    assert!(output.status.success(), "{}", stderr(&output));
    let page = fs::read_to_string(ride.out().join("ride_marking-sheet.html")).unwrap();
    let data = page.split("id=\"data\">").nth(1).unwrap().split("</script>").next().unwrap();
    let data: serde_json::Value = serde_json::from_str(data).unwrap();
    let frames = data["frames"].as_array().unwrap().iter();
    let shown: Vec<(u64, &str)> = frames
        .map(|frame| (frame["frame"].as_u64().unwrap(), frame["why"].as_str().unwrap_or("")))
        .collect();
    let expected = [
        (0, ""),
        (123, "please mark, the track is in doubt here"),
        (131, "the track is weak here"),
        (499, ""),
    ];
    assert_eq!(shown, expected);
    assert_eq!(data["first_place"], 1);
}
