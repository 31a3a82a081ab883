use crate::{
    pan::{Axis, QuickTurn},
    timecode::{FrameIndex, FrameRange},
};
use serde::Serialize;

/// A change of direction that comes too soon after the one before.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TurnAt {
    /// The last frame before the window goes the other way.
    pub frame: FrameIndex,
    /// Along which axis.
    pub axis: Axis,
    /// Timeline seconds since it last turned along that axis.
    pub secs: f64,
    /// Whether the subject forces it: no window that stood still there would keep it as well.
    pub is_forced: bool,
}

impl TurnAt {
    /// A turn of a run of frames that is this range.
    #[must_use]
    pub fn of(turn: &QuickTurn, used: FrameRange) -> Self {
        let QuickTurn { index, axis, secs, is_forced } = *turn;
        Self { frame: used.frame_at(index), axis, secs, is_forced }
    }
}

/// What is told of the turns of one path that come too soon; `None` without any.
#[must_use]
pub fn turns_words(turns: &[TurnAt]) -> Option<String> {
    let soonest = turns.iter().reduce(|a, b| if b.secs < a.secs - 1e-9 { b } else { a })?;
    let mut unforced = turns.iter().filter(|turn| !turn.is_forced);
    let because = match (unforced.next(), turns.len()) {
        (None, _) => "the subject forces it".to_owned(),
        (Some(_), 1) => "a window that stood still there would keep the subject too".to_owned(),
        (Some(first), _) => format!(
            "a window that stood still would keep the subject too at {} of them, first at frame {}",
            1 + unforced.count(),
            first.frame
        ),
    };
    let how_often = match turns.len() {
        1 => "back".to_owned(),
        count => format!("back too soon {count} times, soonest"),
    };
    let along = match soonest.axis {
        Axis::Across => "across",
        Axis::Down => "down",
    };
    Some(format!(
        "the window turns {how_often} after {:.1} s at frame {}, {along} (reversal_secs): {because}",
        soonest.secs, soonest.frame
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn forced(frame: u64, secs: f64) -> TurnAt {
        TurnAt { frame: FrameIndex(frame), axis: Axis::Across, secs, is_forced: true }
    }

    fn unforced(frame: u64, secs: f64) -> TurnAt {
        TurnAt { is_forced: false, ..forced(frame, secs) }
    }

    #[test]
    fn whether_the_subject_forces_it_is_told() {
        let words = |turns: &[TurnAt]| turns_words(turns).unwrap();
        assert_eq!(turns_words(&[]), None);
        assert_eq!(
            words(&[forced(70, 0.8)]),
            "the window turns back after 0.8 s at frame 70, across (reversal_secs): the subject forces it"
        );
        assert!(
            words(&[unforced(70, 0.8)])
                .ends_with(": a window that stood still there would keep the subject too")
        );
        assert_eq!(
            words(&[forced(70, 0.8), unforced(90, 0.6), unforced(200, 1.9)]),
            "the window turns back too soon 3 times, soonest after 0.6 s at frame 90, across (reversal_secs): a \
             window that stood still would keep the subject too at 2 of them, first at frame 90"
        );
    }
}
