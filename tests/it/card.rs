//! Whatever comes off a card: real files nobody here made, files made by the decoder's own encoder, and damage.
//!
//! Where each real file was published, and under which licence, stands in the footage folder's `SOURCES.md`. What
//! is expected of it is told by `ffprobe`, decoded by `ffmpeg` without any of our filters, or worked out by hand.

use crate::{
    command::{lookroom_in, stderr, stdout},
    footage,
};
use lookroom::{
    clip::{Footage, Reading},
    geometry::{Orientation, QuarterTurn, Raster},
    media::{MediaError, MediaNotice, Opened, open},
    picture::{FrameError, GrayImage, oriented},
    timecode::{FrameIndex, FrameRange},
};
use std::{
    fs,
    io::Read,
    ops::ControlFlow,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

/// Runs the encoder.
pub(crate) fn ffmpeg(arguments: &[&str], path: &Path) {
    let made = Command::new("ffmpeg")
        .args(["-nostdin", "-v", "error", "-y"])
        .args(arguments)
        .arg(path)
        .output()
        .unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
}

pub(crate) fn open_video(path: &Path) -> Result<Opened, MediaError> {
    open(&Footage::video(path), &Reading::default())
}

/// The luma of every frame at full size.
fn whole_luma(opened: &mut Opened) -> Result<Vec<GrayImage>, FrameError> {
    let mut pictures = Vec::new();
    let (whole, raster) = (opened.facts.whole(), opened.facts.raster);
    opened.frames.visit_luma(whole, raster, &mut |_, luma| {
        pictures.push(luma.clone());
        ControlFlow::Continue(())
    })?;
    Ok(pictures)
}

/// How many frames can be read from the first on, and the frame and words of the fault behind them.
fn read_through(opened: &mut Opened) -> (u64, Option<(FrameIndex, String)>) {
    let size = Raster::new(64, 48).unwrap();
    let mut count = 0;
    let outcome = opened.frames.visit_luma(opened.facts.whole(), size, &mut |frame, _| {
        assert_eq!(frame.0, count);
        count += 1;
        ControlFlow::Continue(())
    });
    (count, outcome.err().map(|fault| (fault.frame, fault.cause.to_string())))
}

/// The frames of a file as the decoder alone stores their luma, without turning.
fn stored_luma(path: &Path, raster: Raster) -> Vec<GrayImage> {
    let mut decoder = Command::new("ffmpeg")
        .args(["-nostdin", "-v", "error", "-noautorotate", "-i"])
        .arg(path)
        .args(["-vf", "extractplanes=y", "-fps_mode", "passthrough"])
        .args(["-f", "rawvideo", "-pix_fmt", "gray", "-"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut bytes = Vec::new();
    decoder.stdout.take().unwrap().read_to_end(&mut bytes).unwrap();
    assert!(decoder.wait().unwrap().success());
    let size = raster.width_px() as usize * raster.height_px() as usize;
    bytes
        .chunks_exact(size)
        .map(|frame| {
            GrayImage::from_raw(raster.width_px(), raster.height_px(), frame.to_vec()).unwrap()
        })
        .collect()
}

/// One pixel after another, by the rule of a quarter turn clockwise: what is at (x, y) of a picture h high comes
/// to (h - 1 - y, x).
fn turned_clockwise(picture: &GrayImage) -> GrayImage {
    let (width, height) = picture.dimensions();
    let mut turned = GrayImage::new(height, width);
    for (x, y, pixel) in picture.enumerate_pixels() {
        turned.put_pixel(height - 1 - y, x, *pixel);
    }
    turned
}

#[test]
fn the_four_rotation_flags_give_the_upright_picture_bit_for_bit() {
    let Some(folder) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let stored = Raster::new(568, 320).unwrap();
    for (quarters, degrees) in [(0, 0), (1, 90), (2, 180), (3, 270)] {
        let path = folder.join(format!("video/h264-568x320-rotation-{degrees}.mov"));
        let mut opened = open_video(&path).unwrap();
        let upright = if quarters % 2 == 1 { "320x568" } else { "568x320" };
        assert_eq!(opened.facts.raster.to_string(), upright);
        assert_eq!(opened.facts.storage.flag.turn.degrees(), degrees);
        let expected: Vec<GrayImage> = stored_luma(&path, stored)
            .into_iter()
            .map(|picture| (0..quarters).fold(picture, |turned, _| turned_clockwise(&turned)))
            .collect();
        assert_eq!(expected.len(), 3);
        assert!(whole_luma(&mut opened).unwrap() == expected, "{degrees} degrees");
    }
}

/// A camera on its side, and one behind a mirror: the same as the picture turned by hand.
#[test]
fn mounts_on_their_side_and_behind_a_mirror_are_read_upright() {
    let Some(folder) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let path = folder.join("video/h264-568x320-rotation-90.mov");
    let flagged = whole_luma(&mut open_video(&path).unwrap()).unwrap();
    for (turn, is_mirrored) in [
        (QuarterTurn::Clockwise, false),
        (QuarterTurn::Half, true),
        (QuarterTurn::Counterclockwise, true),
        (QuarterTurn::None, true),
    ] {
        let orientation = Orientation { turn, is_mirrored };
        let reading = Reading { orientation, ..Reading::default() };
        let mut opened = open(&Footage::video(&path), &reading).unwrap();
        let expected: Vec<GrayImage> =
            flagged.iter().map(|picture| oriented(picture.clone(), orientation)).collect();
        assert_eq!(opened.facts.raster, orientation.shown_raster(Raster::new(320, 568).unwrap()));
        assert!(whole_luma(&mut opened).unwrap() == expected, "{orientation}");
        let mut colours = 0;
        let all = (0..3).map(FrameIndex).collect();
        let raster = opened.facts.raster;
        let read = opened.frames.visit(&all, &mut |_, picture| {
            assert_eq!(picture.dimensions(), (raster.width_px(), raster.height_px()));
            colours += 1;
            ControlFlow::Continue(())
        });
        read.unwrap();
        assert_eq!(colours, 3);
    }
}

#[test]
fn a_variable_rate_keeps_the_stamps_that_ffprobe_tells_of_its_decoded_frames() {
    let Some(folder) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let path = folder.join("video/h263-176x144-variable-rate-pixels-12-11.3gp");
    let mut opened = open_video(&path).unwrap();
    assert_eq!(opened.facts.raster.to_string(), "192x144", "176 px of 12:11");
    assert_eq!(opened.facts.timing.rate(), None);
    let told = Command::new("ffprobe")
        .args(["-v", "error", "-select_streams", "v:0", "-show_entries", "frame=pts"])
        .args(["-of", "csv=p=0"])
        .arg(&path)
        .output()
        .unwrap();
    let told: Vec<i64> = String::from_utf8(told.stdout)
        .unwrap()
        .lines()
        .map(|line| line.trim_end_matches(',').parse().unwrap())
        .collect();
    assert_eq!(told.len(), 222);
    let times = opened.facts.timing.times().unwrap();
    assert_eq!((times.frame_count(), times.base()), (222, (1, 1000)));
    for (frame, stamp) in (0..).map(FrameIndex).zip(&told) {
        assert_eq!(times.stamp(frame), Some(*stamp), "frame {frame}");
        assert_eq!(times.seconds_at(frame), (stamp - told[0]) as f64 / 1000.0);
    }
    assert_eq!(times.extreme_gaps_secs(), (0.004, 0.304));
    assert_eq!(read_through(&mut opened), (222, None));
}

#[test]
fn odd_pixel_shapes_are_made_square() {
    let Some(folder) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    for (name, stored, shown) in [
        ("video/hevc-raw-316x240-odd-pixel-shape.h265", "316x240", "317x240"),
        ("video/h263-176x144-variable-rate-pixels-12-11.3gp", "176x144", "192x144"),
        ("odd/mp4/h264_white_frame_sar_16_9.mp4", "640x480", "1138x480"),
    ] {
        let mut opened = open_video(&folder.join(name)).unwrap();
        assert_eq!(opened.facts.storage.raster.unwrap().to_string(), stored, "{name}");
        assert_eq!(opened.facts.raster.to_string(), shown, "{name}");
        let (count, fault) = read_through(&mut opened);
        assert_eq!((count, fault), (opened.facts.frame_count, None), "{name}");
    }
    // A bare stream carries no stamps; its frames are counted by decoding, and its rate is only declared.
    let bare = open_video(&folder.join("video/hevc-raw-316x240-odd-pixel-shape.h265")).unwrap();
    assert_eq!(bare.facts.frame_count, 75);
    assert!(
        matches!(bare.notices.as_slice(), [MediaNotice::RateAssumed { .. }]),
        "{:?}",
        bare.notices
    );
}

#[test]
fn a_file_with_two_video_tracks_asks_which() {
    let Some(folder) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let path = folder.join("video/h264-two-video-tracks.mp4");
    let refusal = open_video(&path).unwrap_err().to_string();
    assert!(
        refusal.ends_with(
            "has 2 video tracks (1: 320x180 at 25, 2: 480x270 at 30000/1001); say which one is meant, track 1 to 2"
        ),
        "{refusal}"
    );
    for (track, raster, rate, frames) in
        [(1, "320x180", "25", 325), (2, "480x270", "30000/1001", 390)]
    {
        let reading = Reading { track: Some(track), ..Reading::default() };
        let mut opened = open(&Footage::video(&path), &reading).unwrap();
        let facts = &opened.facts;
        let found = (facts.raster.to_string(), facts.timing.to_string(), facts.frame_count);
        assert_eq!(found, (raster.to_owned(), rate.to_owned(), frames));
        assert_eq!(read_through(&mut opened), (frames, None));
    }
}

/// A clip made for these tests, and what should be found.
struct Made {
    name: &'static str,
    raster: &'static str,
    rate: &'static str,
    frames: u64,
    timecode: Option<&'static str>,
    bits: u32,
    coding: &'static [&'static str],
}

const H264: &[&str] =
    &["-c:v", "libx264", "-preset", "ultrafast", "-bf", "2", "-pix_fmt", "yuv420p"];
const HEVC_10_BITS: &[&str] = &[
    "-c:v",
    "libx265",
    "-preset",
    "ultrafast",
    "-x265-params",
    "log-level=error",
    "-pix_fmt",
    "yuv420p10le",
];

const MADE: [Made; 7] = [
    Made {
        name: "a.mp4",
        raster: "320x240",
        rate: "24000/1001",
        frames: 96,
        timecode: None,
        bits: 8,
        coding: H264,
    },
    Made {
        name: "b.mov",
        raster: "320x240",
        rate: "30000/1001",
        frames: 120,
        timecode: Some("01:09:59;28"),
        bits: 8,
        coding: H264,
    },
    Made {
        name: "c.mp4",
        raster: "320x240",
        rate: "60000/1001",
        frames: 120,
        timecode: None,
        bits: 8,
        coding: H264,
    },
    Made {
        name: "d.mp4",
        raster: "320x240",
        rate: "120000/1001",
        frames: 240,
        timecode: None,
        bits: 8,
        coding: H264,
    },
    Made {
        name: "e.mp4",
        raster: "320x240",
        rate: "25",
        frames: 100,
        timecode: None,
        bits: 10,
        coding: HEVC_10_BITS,
    },
    Made {
        name: "f.mp4",
        raster: "2704x2028",
        rate: "50",
        frames: 50,
        timecode: None,
        bits: 8,
        coding: H264,
    },
    Made {
        name: "g.mp4",
        raster: "2880x2880",
        rate: "30",
        frames: 30,
        timecode: None,
        bits: 8,
        coding: H264,
    },
];

impl Made {
    /// Makes the clip with its index in front, so that a copy that breaks off can still be read.
    fn make(&self, folder: &Path) -> PathBuf {
        let path = folder.join(self.name);
        let source = format!("testsrc2=size={}:rate={}", self.raster, self.rate);
        let frames = self.frames.to_string();
        let mut arguments =
            vec!["-r", self.rate, "-f", "lavfi", "-i", &source, "-frames:v", &frames];
        arguments.extend(self.coding);
        arguments.extend(["-movflags", "+faststart", "-g", "30"]);
        if let Some(timecode) = self.timecode {
            arguments.extend(["-timecode", timecode]);
        }
        ffmpeg(&arguments, &path);
        path
    }
}

#[test]
fn made_clips_are_described_and_read_and_their_broken_copies_up_to_the_damage() {
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    for made in &MADE {
        let path = made.make(folder.path());
        let mut opened = open_video(&path).unwrap();
        let facts = &opened.facts;
        assert_eq!(facts.raster.to_string(), made.raster, "{}", made.name);
        assert_eq!(facts.timing.to_string(), made.rate, "{}", made.name);
        assert_eq!(facts.frame_count, made.frames, "{}", made.name);
        assert_eq!(facts.start_timecode.map(|t| t.to_string()).as_deref(), made.timecode);
        assert_eq!(facts.storage.bit_depth, Some(made.bits), "{}", made.name);
        assert!(opened.notices.is_empty(), "{:?}", opened.notices);
        assert_eq!(read_through(&mut opened), (made.frames, None), "{}", made.name);

        let bytes = fs::read(&path).unwrap();
        let broken = folder.path().join(format!("broken-{}", made.name));
        fs::write(&broken, &bytes[..bytes.len() * 3 / 5]).unwrap();
        let mut opened = open_video(&broken).unwrap();
        let count = opened.facts.frame_count;
        assert!((5..made.frames).contains(&count), "{}: {count} frames", made.name);
        assert_eq!(opened.facts.timing.to_string(), made.rate, "{}", made.name);
        let [MediaNotice::BreaksOff { promised, last, .. }] = opened.notices.as_slice() else {
            panic!("{}: {:?}", made.name, opened.notices)
        };
        assert_eq!(
            (*promised, *last),
            (Some(made.frames), Some(FrameIndex(count - 1))),
            "{}",
            made.name
        );
        assert!(opened.notices[0].to_string().contains(&format!("frame {}", count - 1)));
        assert_eq!(read_through(&mut opened), (count, None), "{}", made.name);
    }
}

/// The pictures of a copy that breaks off are those of the whole file.
#[test]
fn what_is_read_before_the_damage_is_what_the_whole_file_has() {
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = MADE[0].make(folder.path());
    let whole = whole_luma(&mut open_video(&path).unwrap()).unwrap();
    let bytes = fs::read(&path).unwrap();
    for share in [30, 50, 77, 99] {
        let broken = folder.path().join("broken.mp4");
        fs::write(&broken, &bytes[..bytes.len() * share / 100]).unwrap();
        let read = whole_luma(&mut open_video(&broken).unwrap()).unwrap();
        assert!(!read.is_empty() && read.len() < whole.len(), "{share} %: {}", read.len());
        assert!(read == whole[..read.len()], "{share} %");
    }
}

#[test]
fn empty_files_and_texts_are_refused_in_one_line() {
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    for (name, text, words) in [
        ("empty.mp4", "", "is empty (0 bytes); copy it from the card again"),
        ("text.mp4", "shot list: weir, bridge, pool\n", "is not a video that can be read"),
    ] {
        let path = folder.path().join(name);
        fs::write(&path, text).unwrap();
        let refusal = open_video(&path).unwrap_err().to_string();
        assert!(refusal.contains(words) && !refusal.contains('\n'), "{refusal}");
    }
}

/// Frames in the middle of a minute-long clip, entered near them, against the same frames of a whole reading.
#[test]
fn a_range_of_real_footage_is_what_a_whole_reading_gives() {
    let Some(folder) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let path = folder.join("video/h264-768x432-10fps-people-come-and-go.mp4");
    let mut opened = open_video(&path).unwrap();
    assert_eq!(opened.facts.frame_count, 1394);
    let size = Raster::new(96, 54).unwrap();
    let mut read = |first, end| {
        let mut hashes = Vec::new();
        let range = FrameRange::new(FrameIndex(first), FrameIndex(end)).unwrap();
        let visited = opened.frames.visit_luma(range, size, &mut |frame, luma| {
            hashes.push((frame, hash(luma)));
            ControlFlow::Continue(())
        });
        visited.unwrap();
        hashes
    };
    let whole = read(0, 1394);
    for (first, end) in [(0, 3), (299, 310), (301, 302), (700, 760), (1390, 1394)] {
        let usize_of = |frame: u64| usize::try_from(frame).unwrap();
        assert_eq!(read(first, end), whole[usize_of(first)..usize_of(end)], "{first} to {end}");
    }
}

fn hash(luma: &GrayImage) -> [u8; 32] {
    use sha2::{Digest, Sha256};
    Sha256::digest(luma.as_raw()).into()
}

/// One file that cannot be read is told, and the others are described all the same.
#[test]
fn the_clip_command_answers_for_each_file_and_says_which_it_could_not_read() {
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let part = |name: &str, timecode: &str| {
        let source = "testsrc2=size=400x300:rate=25:duration=2";
        let coding = [H264, &["-timecode", timecode]].concat();
        ffmpeg(&[&["-f", "lavfi", "-i", source], &coding[..]].concat(), &folder.path().join(name));
    };
    part("a.mov", "10:00:00:00");
    part("b.mov", "10:00:02:00");
    fs::write(folder.path().join("list.mp4"), "not a clip\n").unwrap();
    let files = ["clip", "b.mov", "list.mp4", "none.mp4", "a.mov"];
    let output = lookroom_in(folder.path(), &files);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(stderr(&output).lines().count(), 2, "{}", stderr(&output));
    let text = stdout(&output);
    assert!(
        text.contains(
            "400x300, 4:3\n  25 frames/s, constant; 50 frames, 2.000 s, from 10:00:00:00"
        ),
        "{text}"
    );
    // 1920 / 400, and 400 x 225 is the largest 16:9 window.
    assert!(text.contains("largest window    400 x 225     E 4.800"), "{text}");
    assert!(
        text.contains("b.mov goes on where a.mov ends: name both with files = [...]"),
        "{text}"
    );

    let output =
        lookroom_in(folder.path(), &[&files[..], &["--json", "--deliver", "400x300"]].concat());
    let told: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let clip = &told["clips"][1];
    assert_eq!(clip["start_timecode"], "10:00:00:00");
    assert_eq!(clip["deliveries"][0]["enlargement"], 1.0);
    let (rate, bits) = (clip["bit_rate"].as_f64().unwrap(), clip["bits_per_px"].as_f64().unwrap());
    assert!((bits - rate / (400.0 * 300.0 * 25.0)).abs() < 1e-12);
    assert_eq!(told["refused"][1]["file"], "none.mp4");
}

/// Containers whose header promises nothing: a copy that breaks off keeps its rate, and is read up to the damage.
#[test]
fn copies_that_break_off_keep_their_rate_without_a_promised_count() {
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let source = "testsrc2=size=320x240:rate=25,noise=alls=10:allf=t";
    for name in ["a.mkv", "b.ts"] {
        let path = folder.path().join(name);
        let frames = ["-frames:v", "400", "-g", "50"];
        let coding = ["-c:v", "libx264", "-preset", "veryfast", "-bf", "3", "-pix_fmt", "yuv420p"];
        ffmpeg(&[&["-f", "lavfi", "-i", source], &frames[..], &coding].concat(), &path);
        let bytes = fs::read(&path).unwrap();
        for share in [37, 52, 71, 88] {
            fs::write(&path, &bytes[..bytes.len() * share / 100]).unwrap();
            let mut opened = open_video(&path).unwrap();
            assert_eq!(opened.facts.timing.to_string(), "25", "{name} at {share} %");
            let count = opened.facts.frame_count;
            assert!((100..400).contains(&count), "{name} at {share} %: {count}");
            let (read, fault) = read_through(&mut opened);
            // The last frame may be there in part only.
            assert!(read + 1 >= count, "{name} at {share} %: {read} of {count}, {fault:?}");
        }
    }
}

/// A recording that was cut inside a group of pictures: what can be shown is counted, and read.
#[test]
fn a_stream_that_begins_inside_a_group_of_pictures_is_counted_by_what_can_be_shown() {
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.ts");
    let source = "testsrc2=size=320x240:rate=25,noise=alls=10:allf=t";
    let coding =
        ["-frames:v", "300", "-g", "50", "-c:v", "libx264", "-bf", "2", "-pix_fmt", "yuv420p"];
    ffmpeg(&[&["-f", "lavfi", "-i", source], &coding[..]].concat(), &path);
    let bytes = fs::read(&path).unwrap();
    fs::write(&path, &bytes[bytes.len() / 188 / 10 * 188..]).unwrap();
    let mut opened = open_video(&path).unwrap();
    let count = opened.facts.frame_count;
    assert!((200..300).contains(&count), "{count}");
    assert_eq!(read_through(&mut opened), (count, None));
}

/// Wherever such a copy breaks off, it is not called whole; the file that it is of is.
#[test]
fn a_copy_that_breaks_off_is_never_called_whole() {
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.mkv");
    let coding = ["-frames:v", "150", "-c:v", "libx264", "-g", "10", "-pix_fmt", "yuv420p"];
    ffmpeg(&[&["-f", "lavfi", "-i", "testsrc2=size=320x240:rate=25"], &coding[..]].concat(), &path);
    let bytes = fs::read(&path).unwrap();
    let told = || {
        let output = lookroom_in(folder.path(), &["clip", "--decode", "a.mkv"]);
        (output.status.code(), stdout(&output))
    };
    let (status, text) = told();
    assert!(status == Some(0) && text.contains("decoded: all of it, 150 frames"), "{text}");
    for percent in [5, 20, 37, 50, 71, 93] {
        fs::write(&path, &bytes[..bytes.len() * percent / 100]).unwrap();
        let (status, text) = told();
        assert!(status == Some(1) && !text.contains("all of it"), "{percent}: {text}");
    }
}
