//! Small pictures of footage in several codings, held against what `ffmpeg` makes of it in colours.

use super::tests::{ffmpeg, open_here};
use crate::{
    media::testing,
    picture::{Coding, Layout, Levels, Matrix, SmallPicture},
    process::Job,
    timecode::{FrameIndex, FrameRange},
};
use std::{io::Read, ops::ControlFlow, path::Path};

/// Smooth colours, so that only their reckoning differs and not where they lie.
const SOURCE: &str = "color=black:size=384x288:rate=25,format=gbrp,geq=\
    r='128-100*cos(X/120+N/50)':g='128-100*cos(Y/92)':b='128+90*sin((X+Y)/150)'";

const fn coded(levels: Levels, matrix: Matrix) -> Layout {
    Layout::Coded(Coding { levels, matrix })
}

/// A clip of four frames.
fn clip(path: &Path, more: &[&str]) {
    ffmpeg(&[&["-f", "lavfi", "-i", SOURCE, "-frames:v", "4"], more].concat(), path);
}

/// The bytes of all frames at this size, as `ffmpeg` gives colours.
fn colours(path: &Path, size: &str) -> Vec<u8> {
    let mut running = Job::new("ffmpeg")
        .with_arguments(["-nostdin", "-v", "error", "-i", path.to_str().unwrap()])
        .with_arguments(["-vf", &format!("scale={size}:flags=area")])
        .with_arguments(["-f", "rawvideo", "-pix_fmt", "rgb24", "-"])
        .start()
        .unwrap();
    let mut bytes = Vec::new();
    running.read_to_end(&mut bytes).unwrap();
    running.finish().unwrap();
    bytes
}

/// A name, what the encoder is told, and the layout that comes of it.
type Case = (&'static str, &'static [&'static str], Layout);

const CASES: [Case; 6] = [
    ("a.mkv", &["-c:v", "ffv1", "-pix_fmt", "yuv420p"], coded(Levels::Limited, Matrix::Bt601)),
    ("b.avi", &["-c:v", "mjpeg", "-q:v", "1"], coded(Levels::Full, Matrix::Bt601)),
    (
        "c.mkv",
        &[
            "-vf",
            "scale=out_color_matrix=bt709:out_range=tv,format=yuv422p",
            "-colorspace",
            "bt709",
            "-c:v",
            "ffv1",
        ],
        coded(Levels::Limited, Matrix::Bt709),
    ),
    (
        "d.mkv",
        &[
            "-vf",
            "scale=out_color_matrix=bt2020nc:out_range=tv,format=yuv420p10le",
            "-colorspace",
            "bt2020nc",
            "-c:v",
            "ffv1",
        ],
        coded(Levels::Limited, Matrix::Bt2020),
    ),
    (
        "e.mp4",
        &[
            "-vf",
            "scale=out_range=pc,format=yuv420p",
            "-color_range",
            "pc",
            "-c:v",
            "libx264",
            "-qp",
            "4",
        ],
        coded(Levels::Full, Matrix::Bt601),
    ),
    ("f.mov", &["-c:v", "png", "-pix_fmt", "rgb24"], Layout::Rgb),
];

/// The colours of all small pictures of a clip, and the darkest and the brightest of their luma.
fn ours(path: &Path, layout: Layout) -> (Vec<u8>, [u8; 2]) {
    let mut opened = open_here(path).unwrap();
    let all = FrameRange::new(FrameIndex(0), FrameIndex(4)).unwrap();
    let (mut colours, mut luma) = (Vec::new(), Vec::new());
    let take = &mut |_, picture: SmallPicture| {
        assert_eq!((picture.layout(), picture.dimensions()), (layout, (179, 134)), "{path:?}");
        luma.extend(picture.luma("179x134".parse().unwrap()).into_raw());
        colours.extend(picture.into_rgb().into_raw());
        ControlFlow::Continue(())
    };
    opened.frames.visit_small(all, 179, take).unwrap();
    (colours, [luma.iter().min(), luma.iter().max()].map(|value| *value.unwrap()))
}

#[test]
fn small_pictures_have_the_colours_that_are_coded() {
    if !testing::ffmpeg_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    for (name, more, layout) in CASES {
        let path = folder.path().join(name);
        clip(&path, more);
        let (ours, [darkest, brightest]) = ours(&path, layout);
        let expected = colours(&path, "179:134");
        assert_eq!(ours.len(), expected.len(), "{name}");
        let off = || ours.iter().zip(&expected).map(|(a, b)| f64::from(a.abs_diff(*b)));
        let (mean, most) =
            (off().sum::<f64>() / f64::from(4 * 3 * 179 * 134), off().fold(0.0, f64::max));
        assert!(mean < 1.5 && most <= 12.0, "{name}: off by {mean} in the mean, {most} at most");
        assert!(darkest < 70 && brightest > 190, "{name}: luma {darkest} to {brightest}");
    }
}
