//! What has to be said of footage that no shoot file describes.

use clap::Args;
use lookroom::{
    clip::Reading,
    geometry::{Orientation, QuarterTurn},
    timecode::FrameRate,
};

#[derive(Args)]
pub(super) struct ReadingArguments {
    /// Which video track of a file with several, from 1
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u32).range(1..))]
    track: Option<u32>,

    /// The rate of numbered pictures, or of a video without time stamps
    #[arg(long, value_name = "RATE")]
    rate: Option<FrameRate>,

    /// Degrees clockwise that bring a camera mounted on its side upright: 90, 180 or 270
    #[arg(long, value_name = "DEGREES", default_value = "0", value_parser = read_turn)]
    turn: QuarterTurn,

    /// The picture is mirrored left to right
    #[arg(long)]
    mirror: bool,
}

impl ReadingArguments {
    pub(super) fn reading(&self) -> Reading {
        let orientation = Orientation { turn: self.turn, is_mirrored: self.mirror };
        Reading { rate: self.rate, track: self.track, orientation }
    }
}

fn read_turn(text: &str) -> Result<QuarterTurn, String> {
    let degrees = text.parse().ok().filter(|degrees| (0..360).contains(degrees));
    degrees
        .and_then(QuarterTurn::of_degrees)
        .ok_or_else(|| format!("`{text}` is no quarter turn; write 0, 90, 180 or 270"))
}
