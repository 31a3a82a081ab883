//! The README's commands do what it says, and its picture and the table of limits are what the code gives.

use crate::command::{demo, lookroom_in, stderr, stdout};
use lookroom::delivery::Limit;
use std::{
    fs,
    path::{Path, PathBuf},
};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn readme() -> String {
    fs::read_to_string(root().join("README.md")).unwrap()
}

fn updating() -> bool {
    std::env::var_os("UPDATE_EXPECTED").is_some()
}

/// The fenced block of a language that follows a line.
fn block_after<'a>(text: &'a str, line: &str, language: &str) -> &'a str {
    let rest = &text[text.find(line).unwrap_or_else(|| panic!("README has no `{line}`"))..];
    let fence = format!("```{language}\n");
    let start = rest.find(&fence).unwrap() + fence.len();
    let end = start + rest[start..].find("```").unwrap();
    &rest[start..end]
}

#[test]
fn the_first_command_prints_what_the_readme_shows() {
    let readme = readme();
    let command =
        "cargo run --release -- plan sample-frames/tumble-weir/shoot.toml --overlays 0,100,199";
    let shown = block_after(&readme, command, "text");
    let arguments: Vec<&str> = command.split(" -- ").nth(1).unwrap().split(' ').collect();
    let out = tempfile::tempdir().unwrap();
    let out = ["--out", out.path().to_str().unwrap()];
    let output = lookroom_in(root(), &[&arguments[..], &out[..]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let printed = stdout(&output);
    for line in shown.lines() {
        assert!(printed.lines().any(|real| real == line), "not printed: {line}\nbut:\n{printed}");
    }
}

#[test]
fn the_crop_question_prints_what_the_readme_shows() {
    let readme = readme();
    let shown = block_after(&readme, "lookroom crop --from 4000x3000 --to 1080x1920", "text");
    let output = lookroom_in(root(), &["crop", "--from", "4000x3000", "--to", "1080x1920"]);
    let printed = stdout(&output);
    for line in shown.lines() {
        assert!(printed.lines().any(|real| real == line), "not printed: {line}\nbut:\n{printed}");
    }
}

#[test]
fn the_sync_question_prints_what_the_readme_shows() {
    let readme = readme();
    let command = "lookroom sync --rate 50 --clap 412,655 --end-clap 90412,90652 --frame 45412";
    let shown = block_after(&readme, command, "text");
    let arguments: Vec<&str> = command.split(' ').skip(1).collect();
    assert_eq!(stdout(&lookroom_in(root(), &arguments)), shown);
}

#[test]
fn the_mode_to_take_is_the_one_the_readme_shows() {
    let readme = readme();
    let command = "lookroom modes sample-frames/tumble-weir/brief.toml";
    let shown = block_after(&readme, command, "text");
    let arguments: Vec<&str> = command.split(' ').skip(1).collect();
    let printed = stdout(&lookroom_in(root(), &arguments));
    assert_eq!(printed.lines().next(), shown.lines().next());
}

#[test]
fn what_a_camera_will_see_begins_as_the_readme_shows() {
    let readme = readme();
    let command = "lookroom mount sample-frames/tumble-weir/brief.toml --only bridge";
    let shown = block_after(&readme, command, "text");
    let arguments: Vec<&str> = command.split(' ').skip(1).collect();
    let printed = stdout(&lookroom_in(root(), &arguments));
    assert!(printed.starts_with(shown), "{printed}");
}

#[test]
fn the_example_files_are_read() {
    let readme = readme();
    let toml = block_after(&readme, "say what is to be delivered", "toml");
    let toml: String = toml.lines().map(|line| line.trim_start().to_owned() + "\n").collect();
    let marks = block_after(&readme, "outside them nothing is guessed", "text");
    let marks: String = marks.lines().map(|line| line.trim_start().to_owned() + "\n").collect();
    let folder = tempfile::tempdir().unwrap();
    let frames = demo().join("frames").join("%05d.jpg");
    let toml = toml.replace("frames/%05d.jpg", frames.to_str().unwrap());
    fs::write(folder.path().join("shoot.toml"), toml).unwrap();
    fs::write(folder.path().join("marks.csv"), marks).unwrap();
    let output = lookroom_in(folder.path(), &["check", "shoot.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
}

#[test]
fn the_readmes_marks_are_the_demos() {
    let readme = readme();
    let marks = fs::read_to_string(demo().join("marks.csv")).unwrap();
    let shown = block_after(&readme, "outside them nothing is guessed", "text");
    for line in shown.lines().filter(|line| !line.trim().is_empty()) {
        assert!(marks.lines().any(|real| real == line.trim_start()), "not in the demo: {line}");
    }
}

#[test]
fn the_readmes_picture_is_what_the_demo_gives() {
    let kept: PathBuf = root().join("docs/weir-bridge-overlay.png");
    let out = tempfile::tempdir().unwrap();
    let arguments =
        ["plan", "shoot.toml", "--overlays", "100", "--out", out.path().to_str().unwrap()];
    let output = lookroom_in(&demo(), &arguments);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let made = out.path().join("weir-bridge_frame-000100_overlay.png");
    if updating() {
        fs::copy(&made, &kept).unwrap();
    }
    let open = |path: &Path| {
        image::open(path).unwrap_or_else(|e| panic!("{}: {e}", path.display())).to_rgb8()
    };
    let (kept, made) = (open(&kept), open(&made));
    assert_eq!(kept.dimensions(), made.dimensions(), "UPDATE_EXPECTED=1 renews it");
    // Another machine's solver and decoder may differ in the last bit, which moves a line by a px at most.
    let differing = kept
        .pixels()
        .zip(made.pixels())
        .filter(|(a, b)| a.0.iter().zip(b.0).any(|(a, b)| a.abs_diff(b) > 24))
        .count();
    let share = differing as f64 / (kept.width() * kept.height()) as f64;
    assert!(share < 0.01, "{:.2} % of the px differ; UPDATE_EXPECTED=1 renews it", 100.0 * share);
}

#[test]
fn every_limit_is_described_for_users() {
    let path = root().join("docs/shoot-file.md");
    let text = fs::read_to_string(&path).unwrap();
    let (start, end) = ("<!-- limits -->\n", "<!-- end of limits -->");
    let from = text.find(start).unwrap() + start.len();
    let to = text.find(end).unwrap();
    let mut table =
        String::from("| limit | default | from | to | meaning |\n|---|---|---|---|---|\n");
    for spec in &Limit::TABLE {
        let default = spec.default.map_or("off".to_owned(), |value| value.to_string());
        let off = if spec.may_be_off { " or off" } else { "" };
        table += &format!(
            "| `{}` | {default} | {} | {}{off} | {} |\n",
            spec.name, spec.least, spec.greatest, spec.meaning
        );
    }
    if updating() {
        fs::write(&path, format!("{}{table}{}", &text[..from], &text[to..])).unwrap();
        return;
    }
    assert_eq!(&text[from..to], table, "UPDATE_EXPECTED=1 renews it");
}
