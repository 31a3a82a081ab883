use super::*;
use crate::{
    clip::{Footage, Reading, Timing},
    media::{MediaNotice, Opened, Programs, open, open_with, testing},
    process::Job,
    timecode::FrameRate,
};
use std::{collections::BTreeMap, fs, io::Read, path::PathBuf, time::Duration};
use tempfile::TempDir;

fn rate(text: &str) -> FrameRate {
    text.parse().unwrap()
}

fn constant(text: &str) -> Timing {
    Timing::Constant(rate(text))
}

fn open_through(programs: &Programs, path: &Path) -> Result<Opened, MediaError> {
    let watch = &mut |_| ControlFlow::Continue(());
    open_with(programs, &Footage::video(path), &Reading::default(), watch)
}

pub(super) fn open_here(path: &Path) -> Result<Opened, MediaError> {
    open(&Footage::video(path), &Reading::default())
}

pub(super) fn ffmpeg(arguments: &[&str], path: &Path) {
    Job::new("ffmpeg")
        .with_arguments(["-nostdin", "-v", "error", "-y"])
        .with_arguments(arguments)
        .with_argument(path)
        .collect(1 << 16, Duration::from_secs(120))
        .unwrap();
}

/// A lossless clip of 16x12 whose frame n is of the red 2n.
fn reds(folder: &TempDir, name: &str, rate: &str, more: &[&str]) -> PathBuf {
    let path = folder.path().join(name);
    let source = format!("color=black:size=16x12:rate={rate},format=gbrp,geq=r='2*N':g=0:b=9");
    let mut arguments = vec!["-f", "lavfi", "-i", &source, "-frames:v", "100"];
    arguments.extend(["-c:v", "ffv1", "-pix_fmt", "bgr0"]);
    arguments.extend(more);
    ffmpeg(&arguments, &path);
    path
}

fn visited(
    opened: &mut Opened,
    frames: impl IntoIterator<Item = u64>,
) -> (BTreeMap<u64, RgbImage>, Result<(), FrameError>) {
    let mut pictures = BTreeMap::new();
    let wanted = frames.into_iter().map(FrameIndex).collect();
    let outcome = opened.frames.visit(&wanted, &mut |frame, picture| {
        pictures.insert(frame.0, picture);
        ControlFlow::Continue(())
    });
    (pictures, outcome)
}

fn assert_reds(opened: &mut Opened, frames: &[u64], first_red: u64) {
    let (pictures, outcome) = visited(opened, frames.iter().copied());
    outcome.unwrap();
    let found: Vec<(u64, u64)> =
        pictures.iter().map(|(n, picture)| (*n, picture.get_pixel(15, 11)[0].into())).collect();
    let expected: Vec<(u64, u64)> = frames.iter().map(|n| (*n, first_red + 2 * n)).collect();
    assert_eq!(found, expected);
}

#[test]
fn wanted_frames_are_the_right_ones_in_every_container() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    for (name, clip_rate) in [("a.mkv", "24000/1001"), ("b.avi", "30000/1001"), ("-c %d.nut", "25")]
    {
        let path = reds(&folder, name, clip_rate, &[]);
        let mut opened = open_here(&path).unwrap();
        assert_eq!(
            (opened.facts.frame_count, &opened.facts.timing),
            (100, &constant(clip_rate)),
            "{name}"
        );
        assert_eq!(opened.facts.raster.to_string(), "16x12");
        assert!(opened.notices.is_empty(), "{:?}", opened.notices);
        assert_reds(&mut opened, &[0, 1, 2, 50, 99], 0);
        // More runs than one expression can name.
        let every_other: Vec<u64> = (0..100).step_by(2).collect();
        assert_reds(&mut opened, &every_other, 0);
    }
}

#[test]
fn more_runs_than_one_expression_can_name_still_come_out_right() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("long.avi");
    let source = "color=black:size=16x12:rate=25,format=gbrp,geq=r='mod(N,251)':g=0:b=9";
    let encoder = ["-frames:v", "400", "-c:v", "ffv1", "-pix_fmt", "bgr0"];
    ffmpeg(&[&["-f", "lavfi", "-i", source], &encoder[..]].concat(), &path);
    let wanted: Vec<u64> = (0..400).filter(|n| n % 4 == 1).collect();
    let (pictures, outcome) = visited(&mut open_here(&path).unwrap(), wanted.iter().copied());
    outcome.unwrap();
    assert_eq!(pictures.keys().copied().collect::<Vec<_>>(), wanted);
    for (number, picture) in pictures {
        assert_eq!(u64::from(picture.get_pixel(0, 0)[0]), number % 251);
    }
}

/// A stream copy from the middle keeps frames that an edit list cuts off; frame 0 is the first that shows.
#[test]
fn frames_that_an_edit_list_cuts_off_do_not_count() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let source = "color=black:size=64x48:rate=25,format=yuv420p,geq=lum='16+2*N':cb=128:cr=128";
    let whole = folder.path().join("whole.mp4");
    let encoder = ["-frames:v", "100", "-c:v", "mpeg4", "-q:v", "1", "-g", "30", "-bf", "2"];
    ffmpeg(&[&["-f", "lavfi", "-i", source], &encoder[..]].concat(), &whole);
    let cut = folder.path().join("cut.mp4");
    ffmpeg(&["-ss", "1.8", "-i", whole.to_str().unwrap(), "-c", "copy"], &cut);

    let mut opened = open_here(&cut).unwrap();
    let count = opened.facts.frame_count;
    assert_eq!((count, &opened.facts.timing), (55, &constant("25")));
    let (of_cut, outcome) = visited(&mut opened, [0, count - 1]);
    outcome.unwrap();
    let (of_whole, outcome) = visited(&mut open_here(&whole).unwrap(), [45, 99]);
    outcome.unwrap();
    assert_eq!(of_cut[&0], of_whole[&45]);
    assert_eq!(of_cut[&(count - 1)], of_whole[&99]);
}

#[test]
fn breaking_off_ends_the_decoder() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let mut opened = open_here(&reds(&folder, "a.mkv", "25", &[])).unwrap();
    let mut seen = 0;
    let wanted = (0..100).map(FrameIndex).collect();
    let outcome = opened.frames.visit(&wanted, &mut |_, _| {
        seen += 1;
        ControlFlow::Break(())
    });
    assert!(outcome.is_ok());
    assert_eq!(seen, 1);
}

#[test]
fn a_frame_that_the_file_lost_is_named() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = reds(&folder, "a.avi", "25", &[]);
    let mut opened = open_here(&path).unwrap();
    let bytes = fs::read(&path).unwrap();
    fs::write(&path, &bytes[..bytes.len() * 3 / 4]).unwrap();
    let (pictures, outcome) = visited(&mut opened, 0..100);
    let fault = outcome.unwrap_err();
    assert!((1..100).contains(&fault.frame.0), "{}", fault.frame);
    assert_eq!(pictures.len() as u64, fault.frame.0);
    assert!(matches!(fault.cause.downcast_ref(), Some(MediaError::NotDecoded { .. })));

    let (_, outcome) = visited(&mut opened, [0, 100]);
    let fault = outcome.unwrap_err();
    assert!(matches!(fault.cause.downcast_ref(), Some(MediaError::NoSuchFrame { .. })));
}

/// Frame 50 cannot be decoded, and the decoder passes over it without failing.
#[test]
fn no_frame_is_taken_for_its_neighbour_behind_one_that_is_damaged() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let encoder = ["-c:v", "png", "-pix_fmt", "rgb24"];
    for name in ["a.avi", "a.mkv", "a.mov"] {
        let path = reds(&folder, name, "25", &encoder);
        let mut bytes = fs::read(&path).unwrap();
        let signature = b"\x89PNG\r\n";
        let frames: Vec<usize> = (0..bytes.len() - signature.len())
            .filter(|&at| bytes[at..].starts_with(signature))
            .collect();
        assert_eq!(frames.len(), 100);
        // The width, behind the signature and the name of the first chunk: far too large.
        bytes[frames[50] + 16] = 0xFF;
        fs::write(&path, bytes).unwrap();

        let mut opened = open_here(&path).unwrap();
        assert_eq!(opened.facts.frame_count, 100);
        assert_reds(&mut opened, &[0, 49, 51, 99], 0);
        let (pictures, outcome) = visited(&mut opened, 48..100);
        assert_eq!(outcome.unwrap_err().frame, FrameIndex(50), "{name}");
        assert_eq!(pictures.keys().copied().collect::<Vec<_>>(), [48, 49]);
        let remarks = opened.frames.take_remarks();
        assert!(
            remarks.iter().any(|remark| remark.contains("complained near frame 49")),
            "{remarks:?}"
        );
    }
}

#[test]
fn the_given_rate_must_be_the_footage_s() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = reds(&folder, "a.avi", "30000/1001", &[]);
    let open_at = |text| {
        open(&Footage::video(&path), &Reading { rate: Some(rate(text)), ..Reading::default() })
    };
    let refusal = open_at("25").unwrap_err().to_string();
    assert!(
        refusal
            .contains("a.avi has 30000/1001 frames/s and was said to have 25; leave the rate out"),
        "{refusal}"
    );
    assert!(open_at("30000/1001").is_ok());
}

#[test]
fn a_timecode_is_read_and_a_bad_one_is_told() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let tagged = |name: &str, timecode: &str| {
        let tag = format!("timecode={timecode}");
        open_here(&reds(&folder, name, "25", &["-metadata", &tag])).unwrap()
    };
    let good = tagged("good.mkv", "10:12:30:05");
    assert_eq!(good.facts.start_timecode.unwrap().to_string(), "10:12:30:05");
    assert!(good.notices.is_empty());
    let bad = tagged("bad.mkv", "10:12:30:25");
    assert_eq!(bad.facts.start_timecode, None);
    assert!(matches!(bad.notices.as_slice(), [MediaNotice::TimecodeNotRead { .. }]));
}

#[test]
fn a_missing_program_is_named_before_anything_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ride.mp4");
    fs::write(&path, "text").unwrap();
    let programs = Programs { ffmpeg: "no-such-decoder".into(), ..Programs::default() };
    let refusal = open_through(&programs, &path).unwrap_err();
    assert!(refusal.to_string().starts_with("`no-such-decoder` was not found: "), "{refusal}");
    assert!(refusal.to_string().contains("a folder of JPEG or PNG frames works without"));
}

#[test]
fn what_is_no_video_is_refused_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let empty = folder.path().join("empty.mp4");
    fs::write(&empty, "").unwrap();
    assert!(matches!(open_here(&empty), Err(MediaError::EmptyFile { .. })));
    assert!(matches!(open_here(folder.path()), Err(MediaError::NotAFile { .. })));
    let absent = folder.path().join("absent.mp4");
    assert!(matches!(open_here(&absent), Err(MediaError::NothingThere { .. })));
    if !testing::ffmpeg_is_here() {
        return;
    }
    let text = folder.path().join("text.mp4");
    fs::write(&text, "a shot list, by mistake\n").unwrap();
    assert!(matches!(open_here(&text), Err(MediaError::NotAVideo { .. })));
    let sound = folder.path().join("sound.mkv");
    ffmpeg(&["-f", "lavfi", "-i", "sine=duration=0.2", "-c:a", "flac"], &sound);
    assert!(matches!(open_here(&sound), Err(MediaError::NoVideoStream { audio_count: 1, .. })));
}

#[test]
fn an_old_decoder_is_refused_with_what_is_needed() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let old = folder.path().join("ffmpeg");
    fs::write(&old, "#!/bin/sh\necho ffmpeg version 4.4.2-0 Copyright\n").unwrap();
    fs::set_permissions(&old, fs::Permissions::from_mode(0o755)).unwrap();
    let path = folder.path().join("ride.mp4");
    fs::write(&path, "text").unwrap();
    let programs = Programs { ffmpeg: old, ..Programs::default() };
    let refusal = open_through(&programs, &path).unwrap_err().to_string();
    assert!(
        refusal.ends_with("is version 4.4, and at least 5.1 is needed; install a newer ffmpeg"),
        "{refusal}"
    );
}

#[test]
fn a_variable_rate_keeps_its_stamps_and_is_not_called_by_a_rate() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let dropped = ["-vf", "select='not(eq(mod(n,5),3))'", "-fps_mode", "passthrough"];
    let path = reds(&folder, "a.mkv", "25", &dropped);
    let mut opened = open_here(&path).unwrap();
    let times = opened.facts.timing.times().unwrap();
    assert_eq!(times.extreme_gaps_secs(), (0.04, 0.08));
    assert_eq!(times.seconds_at(FrameIndex(3)), 0.16, "frame 3 was left out of the source");
    let (pictures, outcome) = visited(&mut opened, [2, 3, 79]);
    outcome.unwrap();
    let found: Vec<u8> = pictures.values().map(|picture| picture.get_pixel(0, 0)[0]).collect();
    assert_eq!(found, [4, 8, 198]);

    let reading = Reading { rate: Some(rate("25")), ..Reading::default() };
    let refusal = open(&Footage::video(&path), &reading).unwrap_err().to_string();
    assert!(refusal.contains("variable rate (frames are 40.0 to 80.0 ms apart)"), "{refusal}");
}

/// Codings that can be entered in the middle, some of them at pictures that others lean on.
const ENTERED: [(&str, &[&str]); 6] = [
    ("a.mp4", &["-c:v", "libx264", "-g", "50", "-bf", "3", "-pix_fmt", "yuv420p"]),
    (
        "b.mkv",
        &["-c:v", "libx264", "-g", "50", "-x264-params", "open-gop=1", "-pix_fmt", "yuv420p"],
    ),
    (
        "e.ts",
        &[
            "-c:v",
            "libx265",
            "-x265-params",
            "log-level=error:open-gop=1:keyint=50:bframes=3",
            "-pix_fmt",
            "yuv420p",
        ],
    ),
    (
        "f.mp4",
        &[
            "-c:v",
            "libx265",
            "-x265-params",
            "log-level=error:open-gop=1:keyint=50:bframes=4",
            "-pix_fmt",
            "yuv420p",
        ],
    ),
    ("c.ts", &["-c:v", "libx264", "-g", "50", "-bf", "2", "-pix_fmt", "yuv420p"]),
    (
        "d.mov",
        &[
            "-c:v",
            "libx265",
            "-x265-params",
            "log-level=error:keyint=50",
            "-pix_fmt",
            "yuv420p10le",
        ],
    ),
];

/// A clip of 1,000 frames with a picture to enter at every 50th: what is read from the middle is what a whole
/// reading gives, in colour and in luma.
#[test]
fn frames_read_from_the_middle_are_those_of_a_whole_reading() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let source = "testsrc2=size=64x48:rate=50,noise=alls=20:allf=t";
    for (name, coding) in ENTERED {
        let path = folder.path().join(name);
        ffmpeg(&[&["-f", "lavfi", "-i", source, "-frames:v", "1000"], coding].concat(), &path);
        let mut opened = open_here(&path).unwrap();
        assert_eq!(opened.facts.frame_count, 1000, "{name}");
        let (whole, outcome) = visited(&mut opened, 0..1000);
        outcome.unwrap();
        for wanted in [
            &[0, 3, 420, 421, 799, 800, 999][..],
            &[346, 349, 353],
            &[372, 374],
            &[648, 649, 650, 651],
        ] {
            let (some, outcome) = visited(&mut opened, wanted.iter().copied());
            outcome.unwrap();
            assert_eq!(some.keys().copied().collect::<Vec<_>>(), wanted, "{name}");
            for (frame, picture) in some {
                assert!(picture == whole[&frame], "{name}, frame {frame}");
            }
        }
        assert_eq!(opened.frames.take_remarks(), [""; 0], "{name}: nothing is wrong with it");
        let size = Raster::new(32, 24).unwrap();
        let mut luma_of = |first, end| {
            let mut pictures = Vec::new();
            let range = FrameRange::new(FrameIndex(first), FrameIndex(end)).unwrap();
            let taken = opened.frames.visit_luma(range, size, &mut |frame, luma| {
                pictures.push((frame, luma.clone()));
                ControlFlow::Continue(())
            });
            taken.unwrap();
            pictures
        };
        let all = luma_of(0, 1000);
        assert_eq!(all.len(), 1000);
        assert!(luma_of(640, 700) == all[640..700], "{name}");
    }
}

/// Packets of this coding may hold frames that are never shown.
#[test]
fn frames_are_counted_by_decoding_where_packets_do_not_tell() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("hidden.webm");
    let source = "testsrc2=size=64x48:rate=25:duration=8";
    let coding = ["-c:v", "libvpx", "-auto-alt-ref", "1", "-lag-in-frames", "16", "-b:v", "200k"];
    ffmpeg(&[&["-f", "lavfi", "-i", source], &coding[..]].concat(), &path);
    let mut opened = open_here(&path).unwrap();
    assert_eq!((opened.facts.frame_count, &opened.facts.timing), (200, &constant("25")));
    let (pictures, outcome) = visited(&mut opened, [0, 100, 199]);
    outcome.unwrap();
    assert_eq!(pictures.len(), 3);
}

/// The middle of a recording that its recorder split into files of 40 frames.
#[test]
fn files_that_follow_on_each_other_are_one_numbering() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let part = |name: &str, first: u32, timecode: &str| {
        let path = folder.path().join(name);
        let source =
            format!("color=black:size=16x12:rate=25,format=gbrp,geq=r='2*(N+{first})':g=0:b=9");
        let tag = format!("timecode={timecode}");
        let coding = ["-frames:v", "40", "-c:v", "ffv1", "-pix_fmt", "bgr0", "-metadata", &tag];
        ffmpeg(&[&["-f", "lavfi", "-i", &source], &coding[..]].concat(), &path);
        path
    };
    let files = vec![
        part("a.mkv", 0, "10:00:00:00"),
        part("b.mkv", 40, "10:00:01:15"),
        part("c.mkv", 80, "10:00:03:06"),
    ];
    let mut opened = open(&Footage::Video(files.clone()), &Reading::default()).unwrap();
    assert_eq!(opened.facts.frame_count, 120);
    let firsts: Vec<u64> = opened.facts.parts.iter().map(|part| part.frames.first().0).collect();
    assert_eq!(firsts, [0, 40, 80]);
    assert_reds(&mut opened, &[0, 39, 40, 41, 79, 80, 119], 0);
    assert_eq!(opened.facts.fingerprint.file_count, 3);
    assert_eq!(opened.facts.start_timecode, None, "counting on would name later frames wrongly");
    let notices: Vec<String> = opened.notices.iter().map(ToString::to_string).collect();
    assert_eq!(notices.len(), 1, "{notices:?}");
    assert!(notices[0].contains("c.mkv begins at 10:00:03:06"), "{notices:?}");
    assert!(notices[0].contains("b.mkv ends before 10:00:03:05"), "{notices:?}");
    let mut luma = Vec::new();
    let range = FrameRange::new(FrameIndex(38), FrameIndex(43)).unwrap();
    let taken = opened.frames.visit_luma(range, opened.facts.raster, &mut |frame, _| {
        luma.push(frame.0);
        ControlFlow::Continue(())
    });
    taken.unwrap();
    assert_eq!(luma, [38, 39, 40, 41, 42]);

    let (_, outcome) = visited(&mut opened, [5, 120]);
    let fault = outcome.unwrap_err();
    assert_eq!(fault.frame, FrameIndex(120));
    let refused = |files| open(&Footage::Video(files), &Reading::default()).unwrap_err();
    let twice = refused(vec![files[0].clone(), files[0].clone()]);
    assert!(matches!(twice, MediaError::FileTwice { .. }), "{twice}");
    let swapped = refused(vec![files[1].clone(), files[0].clone()]);
    assert!(matches!(swapped, MediaError::PartsOutOfOrder { .. }), "{swapped}");
    let whole = open(&Footage::Video(files[..2].to_vec()), &Reading::default()).unwrap();
    assert_eq!(whole.facts.start_timecode.unwrap().to_string(), "10:00:00:00");
    let other = reds(&folder, "other.mkv", "30", &[]);
    let differ = refused(vec![files[0].clone(), other]).to_string();
    assert!(
        differ.contains("the rate is 25 in the one and 30 in the other; plan them"),
        "{differ}"
    );
    assert!(matches!(refused(Vec::new()), MediaError::NoFiles));
}

/// The whole clip decoded at once is the oracle for single frames.
#[test]
fn real_footage_behind_a_stream_of_sound_matches_a_full_decode() {
    let Some(footage) = testing::footage() else { return };
    if !testing::ffmpeg_is_here() {
        return;
    }
    let path = footage.join("video/h264-960x540-25fps-audio-first-vehicle.mp4");
    let mut opened = open_here(&path).unwrap();
    assert_eq!((opened.facts.frame_count, &opened.facts.timing), (221, &constant("25")));
    let wanted = [0, 1, 7, 110, 111, 112, 219, 220];
    let (pictures, outcome) = visited(&mut opened, wanted);
    outcome.unwrap();
    let mut whole = Job::new("ffmpeg")
        .with_arguments(["-nostdin", "-v", "error", "-i", path.to_str().unwrap(), "-an"])
        .with_arguments(["-f", "rawvideo", "-pix_fmt", "rgb24", "-"])
        .start()
        .unwrap();
    let mut frame = vec![0; 960 * 540 * 3];
    for number in 0..221 {
        whole.read_exact(&mut frame).unwrap();
        if let Some(picture) = pictures.get(&number) {
            assert!(picture.as_raw() == &frame, "frame {number} differs");
        }
    }
    whole.finish().unwrap();
    assert_eq!(pictures.len(), wanted.len());
}

/// Each opens and hands over its first and last frame, or is refused in one line that names it.
#[test]
fn odd_videos_are_read_or_refused() {
    let Some(footage) = testing::footage() else { return };
    if !testing::ffmpeg_is_here() {
        return;
    }
    let (mut read, mut refused) = (0, 0);
    for folder in ["video", "odd", "odd/mp4"] {
        for entry in fs::read_dir(footage.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let outcome = open_here(&path).map_err(|fault| fault.to_string());
            let outcome = outcome.and_then(|mut opened| {
                let last = opened.facts.frame_count - 1;
                visited(&mut opened, [0, last]).1.map_err(|fault| fault.cause.to_string())
            });
            match outcome {
                Ok(()) => read += 1,
                Err(message) => {
                    assert!(!message.contains('\n') && message.contains(&name), "{message}");
                    refused += 1;
                }
            }
        }
    }
    assert!(read > 0 && refused > 0, "{read} read, {refused} refused");
}

#[test]
fn counting_is_watched_and_ends_when_the_watcher_has_enough() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let coded = ["-c:v", "mpeg4", "-pix_fmt", "yuv420p", "-q:v", "2"];
    // Frames of the one are counted by packets, of the other by decoding.
    for path in [
        reds(&folder, "a.mov", "25", &["-c:v", "png", "-pix_fmt", "rgb24"]),
        reds(&folder, "b.mp4", "25", &coded),
    ] {
        let mut counted = Vec::new();
        let opened = open_with(
            &Programs::default(),
            &Footage::video(&path),
            &Reading::default(),
            &mut |told| {
                counted.push(told);
                if told.frames < 30 { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
            },
        );
        assert!(matches!(opened, Err(MediaError::Stopped { .. })));
        assert_eq!(counted.len(), 30);
        assert_eq!((counted[29].frames, counted[29].promised), (30, Some(100)));
    }
}
