use super::px;
use crate::{subject::Heading, timecode::FrameIndex};
use serde::Serialize;

/// What lead room a path leaves a subject that goes somewhere.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeadNote {
    /// How much more room was wanted ahead of it than behind it.
    pub wanted: f64,
    /// Which way it goes, from the first used frame on.
    pub headings: Vec<HeadingFrom>,
    /// Whether that is told by its way against the background, and not by that in the picture.
    pub is_against_background: bool,
    /// Where it has the least ahead for what it has behind; none if it never has a heading.
    pub least_room: Option<LeadAt>,
    /// Where it would be soonest at the window's edge ahead of it; none if it never comes nearer to it.
    pub least_travel: Option<TravelAt>,
    /// The seconds of travel below which that is a caution; none is off.
    pub least_secs: Option<f64>,
}

/// A heading and the frame that it begins at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct HeadingFrom {
    /// The frame.
    pub frame: FrameIndex,
    /// The heading.
    pub heading: Heading,
}

/// The room ahead of a subject and behind it, from its box to the window's edges, in px of the source. What is covered
/// of the window is no room.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LeadAt {
    /// The frame.
    pub frame: FrameIndex,
    /// Ahead; below 0 where the box hangs out of the window.
    pub ahead_px: f64,
    /// Behind, the same way.
    pub behind_px: f64,
}

impl LeadAt {
    /// The room ahead over the room behind: 0 if there is none ahead, and else infinite if there is none behind.
    #[must_use]
    pub fn ahead_over_behind(&self) -> f64 {
        if self.ahead_px <= 0.0 {
            0.0
        } else if self.behind_px <= 0.0 {
            f64::INFINITY
        } else {
            self.ahead_px / self.behind_px
        }
    }
}

/// How long a subject needs to the window's edge ahead of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TravelAt {
    /// The frame.
    pub frame: FrameIndex,
    /// Seconds of timeline, at the speed at which it comes nearer.
    pub secs: f64,
}

impl LeadNote {
    /// Whether a subject comes too near to the edge ahead of it.
    #[must_use]
    pub fn is_to_be_looked_at(&self) -> bool {
        let secs = self.least_travel.map(|travel| travel.secs);
        secs.zip(self.least_secs).is_some_and(|(secs, least)| secs < least)
    }

    /// How soon the subject is at the edge ahead of it, in words.
    #[must_use]
    pub fn travel_words(&self) -> Option<String> {
        let TravelAt { frame, secs } = self.least_travel?;
        let caution = match self.least_secs {
            Some(least) if secs < least => format!(", less than {least} s (lead_secs)"),
            _ => String::new(),
        };
        Some(format!("{secs:.1} s of travel ahead at frame {frame}{caution}"))
    }

    /// All of it in words.
    #[must_use]
    pub fn words(&self) -> String {
        const NAMED: usize = 8;
        let named: Vec<String> = (self.headings.iter().take(NAMED))
            .map(|from| format!("{} from frame {}", from.heading, from.frame))
            .collect();
        let more = self.headings.len().saturating_sub(NAMED);
        let rest = if more > 0 { format!(" and {more} more changes") } else { String::new() };
        let against = if self.is_against_background { "the background" } else { "the frame" };
        let least = self.least_room.map(|room| {
            let ratio = room.ahead_over_behind();
            let ratio = if ratio.is_finite() { format!("{ratio:.1}:1") } else { "all".to_owned() };
            format!(
                "least lead {ratio} at frame {}, {} px ahead and {} px behind",
                room.frame,
                px(room.ahead_px),
                px(room.behind_px)
            )
        });
        let parts: Vec<String> = std::iter::once(format!(
            "heading {}{rest}, by its way against {against}; lead room {}:1 wanted",
            named.join(", "),
            self.wanted
        ))
        .chain(least)
        .chain(self.travel_words())
        .collect();
        parts.join("; ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(secs: f64) -> LeadNote {
        LeadNote {
            wanted: 2.0,
            headings: vec![
                HeadingFrom { frame: FrameIndex(0), heading: Heading::Right },
                HeadingFrom { frame: FrameIndex(212), heading: Heading::Left },
            ],
            is_against_background: true,
            least_room: Some(LeadAt { frame: FrameIndex(88), ahead_px: 410.0, behind_px: 205.0 }),
            least_travel: Some(TravelAt { frame: FrameIndex(120), secs }),
            least_secs: Some(0.5),
        }
    }

    /// D26 of the trade study: "2:1, 0.9 s".
    #[test]
    fn the_tightest_frames_are_told() {
        let enough = note(0.9);
        assert!(!enough.is_to_be_looked_at());
        assert_eq!(
            enough.words(),
            "heading right from frame 0, left from frame 212, by its way against the background; lead room 2:1 \
             wanted; least lead 2.0:1 at frame 88, 410 px ahead and 205 px behind; 0.9 s of travel ahead at frame 120"
        );
        assert!(note(0.4).is_to_be_looked_at());
        assert!(
            note(0.4)
                .words()
                .ends_with("0.4 s of travel ahead at frame 120, less than 0.5 s (lead_secs)")
        );
    }

    #[test]
    fn no_room_ahead_is_none_and_none_behind_is_all() {
        let lead = |ahead_px, behind_px| LeadAt { frame: FrameIndex(0), ahead_px, behind_px };
        let ratios = [(-3.0, 10.0), (-3.0, -3.0), (3.0, 0.0), (5.5, 4.5)]
            .map(|(ahead, behind)| lead(ahead, behind).ahead_over_behind());
        assert_eq!(ratios[..3], [0.0, 0.0, f64::INFINITY]);
        // 55:45 is 1.22.
        assert!((ratios[3] - 1.2222).abs() < 1e-4);
    }
}
