//! The decoder is a child: what it takes, and that it never outlives the command.
#![cfg(target_os = "linux")]

use crate::{
    command::{lookroom_in, stderr, stdout},
    footage,
};
use std::{
    collections::BTreeMap,
    fs,
    path::{Path, PathBuf},
    process::{Child, Command, Stdio},
    thread,
    time::{Duration, Instant},
};

/// A process as the system tells of it.
struct Process {
    parent: u32,
    resident_kib: u64,
    command_line: String,
}

/// Every process there is, by its number.
fn processes() -> BTreeMap<u32, Process> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir("/proc").unwrap().flatten() {
        let Some(number) = entry.file_name().to_str().and_then(|name| name.parse().ok()) else {
            continue;
        };
        let path = entry.path();
        // A process may end while it is looked at.
        let Ok(status) = fs::read_to_string(path.join("status")) else { continue };
        let value = |name: &str| {
            let line = status.lines().find_map(|line| line.strip_prefix(name))?;
            line.split_whitespace().next()?.parse::<u64>().ok()
        };
        let command_line = fs::read(path.join("cmdline")).unwrap_or_default();
        let process = Process {
            parent: u32::try_from(value("PPid:").unwrap_or(0)).unwrap(),
            resident_kib: value("VmRSS:").unwrap_or(0),
            command_line: String::from_utf8_lossy(&command_line).replace('\0', " "),
        };
        found.insert(number, process);
    }
    found
}

/// The memory that a process and all below it hold, in KiB.
fn tree_kib(root: u32) -> u64 {
    let all = processes();
    let is_below = |mut number: u32| {
        while let Some(process) = all.get(&number) {
            if number == root {
                return true;
            }
            number = process.parent;
        }
        false
    };
    all.iter().filter(|(number, _)| is_below(**number)).map(|(_, p)| p.resident_kib).sum()
}

/// The decoders that read a file.
fn decoders_of(file: &Path) -> usize {
    let name = file.to_str().unwrap();
    processes()
        .values()
        .filter(|process| process.command_line.contains(name))
        .filter(|process| process.command_line.contains("showinfo"))
        .count()
}

fn wait_until(what: &str, mut holds: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !holds() {
        assert!(begun.elapsed() < Duration::from_secs(60), "{what} did not come about");
        thread::sleep(Duration::from_millis(20));
    }
}

/// A clip that takes a decoder long enough to be caught at work.
fn long_clip(folder: &Path, name: &str) -> PathBuf {
    let path = folder.join(name);
    let made = Command::new("ffmpeg")
        .args(["-nostdin", "-v", "error", "-y", "-f", "lavfi", "-i"])
        .arg("testsrc2=size=1280x960:rate=50:duration=40")
        .args(["-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p"])
        .arg(&path)
        .status();
    assert!(made.unwrap().success());
    path
}

/// The command at work on every frame of a clip.
fn at_work(folder: &Path, arguments: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_lookroom"))
        .args(arguments)
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

fn signal(child: &Child, name: &str) {
    let sent = Command::new("kill").args([&format!("-{name}"), &child.id().to_string()]).status();
    assert!(sent.unwrap().success());
}

#[test]
fn no_decoder_is_left_two_seconds_after_the_command_is_killed() {
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let clip = long_clip(folder.path(), "long.mp4");
    for name in ["KILL", "TERM", "INT"] {
        let mut child = at_work(folder.path(), &["clip", "--decode", clip.to_str().unwrap()]);
        wait_until("a decoder at work", || decoders_of(&clip) > 0);
        signal(&child, name);
        thread::sleep(Duration::from_secs(2));
        assert_eq!(decoders_of(&clip), 0, "after {name}");
        assert!(!child.wait().unwrap().success(), "after {name}");
    }
}

/// A decoder that hangs keeps an interrupt from being heard; a second one ends the command and it.
#[test]
fn a_second_interrupt_ends_a_command_whose_decoder_hangs() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let programs = folder.path().join("programs");
    fs::create_dir(&programs).unwrap();
    for name in ["ffmpeg", "ffprobe"] {
        let script = format!(
            "#!/bin/sh\n[ \"$1\" = -version ] && exec echo {name} version 7.1\nexec sleep 98765\n"
        );
        fs::write(programs.join(name), script).unwrap();
        fs::set_permissions(programs.join(name), fs::Permissions::from_mode(0o755)).unwrap();
    }
    fs::write(folder.path().join("ride.mp4"), "bytes").unwrap();
    let path = format!("{}:{}", programs.display(), std::env::var("PATH").unwrap());
    let mut child = Command::new(env!("CARGO_BIN_EXE_lookroom"))
        .args(["clip", "ride.mp4"])
        .current_dir(folder.path())
        .env("PATH", path)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let hangs = || processes().values().any(|process| process.command_line.contains("sleep 98765"));
    wait_until("a decoder that hangs", hangs);
    signal(&child, "INT");
    thread::sleep(Duration::from_millis(300));
    signal(&child, "INT");
    assert_eq!(child.wait().unwrap().code(), Some(1));
    wait_until("the decoder's end", || !hangs());
}

/// A plan that is ended while it draws leaves what was there before and no half of anything new.
#[test]
fn no_half_written_output_is_left_under_its_name() {
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let clip = long_clip(folder.path(), "long.mp4");
    let shoot = "version = 1\ntimeline_rate = \"50\"\nmarks = \"marks.csv\"\n\
                 [[deliverable]]\nname = \"square\"\nraster = \"960x960\"\n\
                 [[clip]]\nname = \"long\"\nfile = \"long.mp4\"\n";
    let marks = "clip,frame,left,top,width,height\nlong,0,500,300,90,80\nlong,1999,640,310,90,80\n";
    fs::write(folder.path().join("shoot.toml"), shoot).unwrap();
    fs::write(folder.path().join("marks.csv"), marks).unwrap();
    for name in ["KILL", "INT"] {
        let arguments = ["plan", "shoot.toml", "--overlays", "every:1"];
        let mut child = at_work(folder.path(), &arguments);
        let out = folder.path().join("out");
        let pictures = || {
            let entries = fs::read_dir(&out).map(|entries| entries.flatten().collect::<Vec<_>>());
            entries.unwrap_or_default().len()
        };
        let before = pictures();
        wait_until("a few pictures", || pictures() > before + 3);
        signal(&child, name);
        child.wait().unwrap();
        wait_until("the decoder's end", || decoders_of(&clip) == 0);
        for entry in fs::read_dir(&out).unwrap().flatten() {
            let path = entry.path();
            let is_final = path.extension().is_some_and(|extension| extension == "png");
            if is_final && !entry.file_name().to_string_lossy().starts_with('.') {
                assert!(image::open(&path).is_ok(), "{} is half a picture", path.display());
            }
        }
        assert!(!out.join("report.json").exists(), "the plan was not done");
    }
    let done = lookroom_in(folder.path(), &["plan", "shoot.toml"]);
    assert!(done.status.success(), "{}", stderr(&done));
}

/// Every file of these folders and of those in them.
fn files_in(mut folders: Vec<PathBuf>) -> Vec<PathBuf> {
    let mut files = Vec::new();
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(next).unwrap().flatten() {
            let path = entry.path();
            if path.is_dir() { folders.push(path) } else { files.push(path) }
        }
    }
    files.sort();
    files
}

/// Each file is described and decoded to its end, or refused in one line, with 1 GiB for each process and 1 GB
/// for all of them together.
#[test]
fn every_odd_file_is_read_or_refused_within_a_gigabyte() {
    let Some(folder) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let files = files_in(["video", "photos-rotated", "odd"].map(|name| folder.join(name)).to_vec());
    assert!(files.len() > 100, "{} files", files.len());
    let (mut read, mut refused) = (0, 0);
    for file in &files {
        // The limit holds for each process that the command starts as well.
        let mut child = Command::new("sh")
            .args(["-c", "ulimit -v 1048576; exec \"$0\" clip --decode \"$1\""])
            .arg(env!("CARGO_BIN_EXE_lookroom"))
            .arg(file)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let begun = Instant::now();
        while child.try_wait().unwrap().is_none() {
            let kib = tree_kib(child.id());
            assert!(kib < 1_000_000_000 / 1024, "{} took {kib} KiB", file.display());
            assert!(
                begun.elapsed() < Duration::from_secs(300),
                "{} takes too long",
                file.display()
            );
            thread::sleep(Duration::from_millis(5));
        }
        let output = child.wait_with_output().unwrap();
        let (out, words) = (stdout(&output), stderr(&output));
        assert!(!words.contains("panicked"), "{}: {words}", file.display());
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        match output.status.code() {
            Some(0) => {
                assert!(out.contains("decoded: all of it, "), "{name}: {out}");
                read += 1;
            }
            Some(1) => {
                let is_damaged =
                    ["could not be read: ", "breaks off", "all that is there; it is not whole"]
                        .iter()
                        .any(|words| out.contains(words));
                let is_one_line = words.lines().count() == 1 && words.contains(&name);
                assert!(is_damaged || is_one_line, "{name}: {out}{words}");
                refused += 1;
            }
            other => panic!("{name}: {other:?} {out}{words}"),
        }
        let is_bomb =
            ["Bad_width.bmp", "Bad_height.bmp", "Bad_reallybig.bmp"].contains(&name.as_str());
        assert!(!is_bomb || words.contains("BMP picture"), "{words}");
        assert!(!is_bomb || begun.elapsed() < Duration::from_secs(10), "a bomb is refused quickly");
    }
    assert!(read > 30 && refused > 50, "{read} read, {refused} refused");
    eprintln!("{read} files read to their end, {refused} refused or damaged");
}
