use super::*;
use serde_json::{Value, json};

fn video(changes: &Value) -> Value {
    let mut stream = json!({
        "index": 1, "codec_type": "video", "width": 1440, "height": 1080,
        "sample_aspect_ratio": "1:1", "r_frame_rate": "30000/1001", "avg_frame_rate": "0/0",
        "time_base": "1/30000", "nb_frames": "N/A", "disposition": {"attached_pic": 0},
    });
    for (key, value) in changes.as_object().unwrap() {
        stream[key] = value.clone();
    }
    stream
}

fn described(streams: &[Value]) -> Result<Description, MediaError> {
    describe(Path::new("ride.mp4"), None, json!({ "streams": streams }).to_string().as_bytes())
}

fn described_with(changes: &Value) -> Result<Description, MediaError> {
    described(&[video(changes)])
}

#[test]
fn the_video_stream_is_found_behind_others() {
    let audio = json!({"index": 0, "codec_type": "audio", "r_frame_rate": "0/0"});
    let cover = video(&json!({"index": 2, "disposition": {"attached_pic": 1}}));
    // Containers differ in how they spell it.
    let clock = json!({"index": 3, "codec_type": "data", "tags": {"TIMECODE": "10:00:00:00"}});
    let found = described(&[audio, video(&json!({})), cover, clock]).unwrap();
    assert_eq!((found.stream_index, found.raster.to_string().as_str()), (1, "1440x1080"));
    assert_eq!(found.declared_rates, ["30000/1001".parse().unwrap()]);
    assert_eq!(found.timecode.as_deref(), Some("10:00:00:00"));
    assert_eq!(found.promised_frame_count, None);
}

#[test]
fn of_several_video_tracks_one_has_to_be_named() {
    let streams = json!({ "streams": [
        {"index": 0, "codec_type": "audio"},
        video(&json!({"index": 1})),
        video(&json!({"index": 4, "width": 640, "r_frame_rate": "25/1"})),
    ]})
    .to_string();
    let describe = |track| describe(Path::new("ride.mp4"), track, streams.as_bytes());
    assert_eq!(
        describe(None).unwrap_err().to_string(),
        "ride.mp4 has 2 video tracks (1: 1440x1080 at 30000/1001, 2: 640x1080 at 25); say which one is meant, track 1 to 2"
    );
    assert_eq!(describe(Some(2)).unwrap().stream_index, 4);
    for number in [0, 3] {
        let refusal = describe(Some(number)).unwrap_err();
        assert!(matches!(refusal, MediaError::NoSuchTrack { .. }), "{refusal}");
    }
}

#[test]
fn pictures_playlists_and_texts_are_no_clips() {
    for (format, kind) in [
        ("bmp_pipe", Some("a picture")),
        ("image2", Some("a picture")),
        ("hls", Some("a playlist")),
        ("tty", Some("a text")),
        ("mov,mp4,m4a,3gp,3g2,mj2", None),
        ("hevc", None),
    ] {
        let answer = json!({ "streams": [video(&json!({}))], "format": {"format_name": format}});
        let described = describe(Path::new("ride"), None, answer.to_string().as_bytes());
        match (kind, described) {
            (None, Ok(_)) => {}
            (Some(kind), Err(MediaError::NoVideoFile { kind: found, .. })) => {
                assert_eq!(found, kind)
            }
            (_, described) => panic!("{format}: {described:?}"),
        }
    }
}

#[test]
fn sound_alone_is_refused_as_such() {
    let refusal = described(&[json!({"index": 0, "codec_type": "audio"})]).unwrap_err();
    assert_eq!(refusal.to_string(), "ride.mp4 has no video stream, only a stream of sound");
}

#[test]
fn pixels_of_unknown_shape_are_square() {
    for (told, shape) in [("0:1", (1, 1)), ("1:1", (1, 1)), ("12:11", (12, 11)), ("x", (1, 1))] {
        let found = described_with(&json!({"sample_aspect_ratio": told})).unwrap();
        assert_eq!(found.pixel_shape, shape);
    }
}

#[test]
fn bits_of_a_sample_are_told_or_named() {
    for (format, told, bits) in [
        ("yuv420p10le", "N/A", Some(10)),
        ("yuv420p", "8", Some(8)),
        ("yuvj420p", "0", Some(8)),
        ("gbrp12be", "", Some(12)),
        ("pal8", "", None),
    ] {
        let found =
            described_with(&json!({"pix_fmt": format, "bits_per_raw_sample": told})).unwrap();
        assert_eq!(found.bit_depth, bits, "{format}");
    }
}

#[test]
fn colours_are_coded_as_is_told_and_else_as_the_decoder_takes_it() {
    let (limited, full) = (Levels::Limited, Levels::Full);
    for (format, range, space, coding) in [
        ("yuv420p", "tv", "bt709", Some((limited, Matrix::Bt709))),
        ("yuv420p10le", "pc", "bt2020nc", Some((full, Matrix::Bt2020))),
        ("yuvj420p", "N/A", "unknown", Some((full, Matrix::Bt601))),
        ("yuv422p", "unknown", "smpte170m", Some((limited, Matrix::Bt601))),
        ("yuv420p", "tv", "smpte240m", None),
        ("gray", "pc", "unknown", None),
        ("gbrp", "pc", "gbr", None),
    ] {
        let told = json!({"pix_fmt": format, "color_range": range, "color_space": space});
        let found = described_with(&told).unwrap().coding_of_colours;
        let coding = coding.map(|(levels, matrix)| Coding { levels, matrix });
        assert_eq!(found, coding, "{format}");
    }
}

/// The matrices are those that `ffprobe` prints for files with the four rotation flags and, made by us,
/// mirrored ones. A point is a row, so that the first row is where the way to the right goes.
#[test]
fn flags_are_read_from_the_matrix() {
    let flag = |first: &str, second: &str| {
        let matrix =
            format!("\n00000000: {first} 0\n00000001: {second} 0\n00000002: 9 9 1073741824\n");
        match described_with(&json!({"side_data_list": [{"displaymatrix": matrix, "rotation": 0}]}))
        {
            Ok(found) => Some((found.flag.turn.degrees(), found.flag.is_mirrored)),
            Err(MediaError::Distorted { .. }) => None,
            Err(other) => panic!("{other}"),
        }
    };
    assert_eq!(flag("65536 0", "0 65536"), Some((0, false)));
    assert_eq!(flag("0 65536", "-65536 0"), Some((90, false)));
    assert_eq!(flag("-65536 0", "0 -65536"), Some((180, false)));
    assert_eq!(flag("0 -65536", "65536 0"), Some((270, false)));
    assert_eq!(flag("-65536 0", "0 65536"), Some((0, true)));
    assert_eq!(
        flag("65536 0", "0 -65536"),
        Some((180, true)),
        "upside down: half a turn, mirrored"
    );
    assert_eq!(flag("0 0", "0 0"), Some((0, false)), "nothing but zeros says nothing");
    assert_eq!(flag("46341 46341", "-46341 46341"), None, "an eighth of a turn");
}

#[test]
fn flags_are_read_from_an_angle_or_a_tag_where_there_is_no_matrix() {
    for (changes, degrees) in [
        (json!({"side_data_list": [{"side_data_type": "other"}, {"rotation": -90}]}), 90),
        (json!({"tags": {"rotate": "270"}}), 270),
        (json!({"tags": {"rotate": "0"}}), 0),
    ] {
        assert_eq!(described_with(&changes).unwrap().flag.turn.degrees(), degrees);
    }
}

#[test]
fn an_answer_that_is_none_is_refused() {
    for answer in ["", "7", "{\"streams\": 3}", "{\"streams\": [{\"index\": -1}]}"] {
        let refusal = describe(Path::new("ride.mp4"), None, answer.as_bytes());
        assert!(matches!(refusal, Err(MediaError::ProbeNotUnderstood { .. })), "{answer}");
    }
    let refusal = described_with(&json!({"width": 0})).unwrap_err();
    assert!(matches!(refusal, MediaError::BadRaster { .. }), "{refusal}");
}
