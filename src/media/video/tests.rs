use super::*;
use crate::media::testing;
use std::collections::BTreeMap;
use tempfile::TempDir;

fn rate(text: &str) -> FrameRate {
    text.parse().unwrap()
}

fn open_here(path: &Path) -> Result<Opened, MediaError> {
    open(&Programs::default(), path, None)
}

fn ffmpeg(arguments: &[&str], path: &Path) {
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
        assert_eq!((opened.facts.frame_count, opened.facts.rate), (100, rate(clip_rate)), "{name}");
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
    assert_eq!((count, opened.facts.rate), (55, rate("25")));
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
        let (pictures, outcome) = visited(&mut opened, [0, 49, 51, 99]);
        assert_eq!(outcome.unwrap_err().frame, FrameIndex(51), "{name}");
        assert_eq!(pictures.keys().copied().collect::<Vec<_>>(), [0, 49]);
        assert_reds(&mut opened, &[0, 49], 0);
    }
}

#[test]
fn the_given_rate_must_be_the_footage_s() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = reds(&folder, "a.avi", "30000/1001", &[]);
    let refusal = open(&Programs::default(), &path, Some(rate("25"))).unwrap_err().to_string();
    assert!(
        refusal.ends_with("a.avi has 30000/1001 frames/s and was said to have 25"),
        "{refusal}"
    );
    assert!(open(&Programs::default(), &path, Some(rate("30000/1001"))).is_ok());
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
    let refusal = open(&programs, &path, None).unwrap_err();
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
    assert!(matches!(open_here(&absent), Err(MediaError::Unreadable { .. })));
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
fn a_variable_rate_is_refused_with_its_gaps() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let dropped = ["-vf", "select='not(eq(mod(n,5),3))'", "-fps_mode", "passthrough"];
    let refusal = open_here(&reds(&folder, "a.mkv", "25", &dropped)).unwrap_err();
    let message = refusal.to_string();
    assert!(message.contains("(gaps between frames of 40.0 to 80.0 ms)"), "{message}");
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
    assert_eq!((opened.facts.frame_count, opened.facts.rate), (221, rate("25")));
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
        io::Read::read_exact(&mut whole, &mut frame).unwrap();
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
