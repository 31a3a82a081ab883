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
    describe(Path::new("ride.mp4"), json!({ "streams": streams }).to_string().as_bytes())
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
fn two_video_streams_are_refused_with_their_sizes() {
    let refusal = described(&[video(&json!({})), video(&json!({"width": 640}))]).unwrap_err();
    let message = refusal.to_string();
    assert!(message.contains("2 video streams (1440x1080, 640x1080)"), "{message}");
}

#[test]
fn sound_alone_is_refused_as_such() {
    let refusal = described(&[json!({"index": 0, "codec_type": "audio"})]).unwrap_err();
    assert_eq!(refusal.to_string(), "ride.mp4 has no video stream, only a stream of sound");
}

#[test]
fn pixels_of_unknown_shape_are_square_and_others_are_refused() {
    assert!(described_with(&json!({"sample_aspect_ratio": "0:1"})).is_ok());
    let refusal = described_with(&json!({"sample_aspect_ratio": "12:11"})).unwrap_err();
    assert!(matches!(refusal, MediaError::OblongPixels { .. }), "{refusal}");
}

/// The matrices are those that `ffprobe` prints for files with the four rotation flags and, made by us, a
/// mirrored one.
#[test]
fn turns_are_read_from_the_matrix() {
    let turn = |first: &str, second: &str| {
        let matrix =
            format!("\n00000000: {first} 0\n00000001: {second} 0\n00000002: 9 9 1073741824\n");
        match described_with(&json!({"side_data_list": [{"displaymatrix": matrix, "rotation": 0}]}))
        {
            Ok(_) => None,
            Err(MediaError::Turned { turn, .. }) => Some(turn),
            Err(other) => panic!("{other}"),
        }
    };
    assert_eq!(turn("65536 0", "0 65536"), None);
    assert_eq!(turn("0 65536", "-65536 0"), Some(Turn::Degrees(90)));
    assert_eq!(turn("-65536 0", "0 -65536"), Some(Turn::Degrees(180)));
    assert_eq!(turn("0 -65536", "65536 0"), Some(Turn::Degrees(270)));
    assert_eq!(turn("-65536 0", "0 65536"), Some(Turn::Mirrored));
    assert_eq!(turn("0 0", "0 0"), Some(Turn::Distorted));
}

#[test]
fn turns_are_read_from_an_angle_or_a_tag_where_there_is_no_matrix() {
    for changes in [
        json!({"side_data_list": [{"side_data_type": "other"}, {"rotation": -90}]}),
        json!({"tags": {"rotate": "90"}}),
    ] {
        let refusal = described_with(&changes).unwrap_err();
        assert!(matches!(refusal, MediaError::Turned { turn: Turn::Degrees(90), .. }), "{refusal}");
    }
    assert!(described_with(&json!({"tags": {"rotate": "0"}})).is_ok());
}

#[test]
fn an_answer_that_is_none_is_refused() {
    for answer in ["", "7", "{\"streams\": 3}", "{\"streams\": [{\"index\": -1}]}"] {
        let refusal = describe(Path::new("ride.mp4"), answer.as_bytes());
        assert!(matches!(refusal, Err(MediaError::ProbeNotUnderstood { .. })), "{answer}");
    }
    let refusal = described_with(&json!({"width": 0})).unwrap_err();
    assert!(matches!(refusal, MediaError::BadRaster { .. }), "{refusal}");
}
