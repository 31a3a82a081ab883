use crate::{
    pan::Visit,
    timecode::{FrameIndex, FrameRange},
};
use serde::Serialize;

/// One stay in the window of a subject that is let go.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct VisitAt {
    /// The first frame with any of it in the window; none if it is in where it is first seen.
    pub nose_in: Option<FrameIndex>,
    /// The first and the last frame on which all of it is inside, margins not counted.
    pub inside: [FrameIndex; 2],
    /// The first and the last frame on which its middle is inside.
    pub middle_inside: [FrameIndex; 2],
    /// The first frame with nothing of it left in the window; none if it is in where it is last seen.
    pub tail_out: Option<FrameIndex>,
    /// The longest time without a break on which all of it is inside, timeline seconds.
    pub inside_secs: f64,
}

impl VisitAt {
    /// A visit of a run of frames that is this range.
    #[must_use]
    pub fn of(visit: &Visit, used: FrameRange) -> Self {
        let both = |(first, last)| [used.frame_at(first), used.frame_at(last)];
        Self {
            nose_in: visit.nose_in.map(|index| used.frame_at(index)),
            inside: both(visit.inside),
            middle_inside: both(visit.middle_inside),
            tail_out: visit.tail_out.map(|index| used.frame_at(index)),
            inside_secs: visit.inside_secs,
        }
    }
}
