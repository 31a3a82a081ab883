//! A client's conditions as a plan holds them: what was asked, what came of it, and both in the client's words.

use super::{EnlargementLimit, px, words::then_words};
use crate::{
    delivery::Deliverable,
    pan::{Axis, Clash, ClauseFailing, ClauseKept, Remedy},
    timecode::{FrameIndex, FrameRange},
};
use serde::Serialize;

/// What a client asks of a thing in the picture.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClauseAsked {
    /// What the thing is called in the marks.
    pub keep_in: String,
    /// How long it is kept without a break, timeline seconds; none is on every frame on which it is seen.
    pub least_secs: Option<f64>,
    /// How wide it is in the delivered picture, px; none asks for nothing.
    pub least_px: Option<f64>,
    /// How far it stays from the edges, shares of the window's width and height.
    pub margin: [f64; 2],
    /// The same together with what is blocked there: left, top, right, bottom, as shares of the window.
    pub insets: [f64; 4],
    /// Its line of the shoot file.
    pub line: u64,
}

/// What windows make of a clause.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClauseNote {
    /// What was asked.
    pub asked: ClauseAsked,
    /// Whether all of it is kept.
    pub is_kept: bool,
    /// The first and the last frame of the longest time without a break on which it is kept; none if it never is.
    pub longest: Option<[FrameIndex; 2]>,
    /// How long that is, timeline seconds.
    pub longest_secs: f64,
    /// All the time on which it is kept, timeline seconds.
    pub total_secs: f64,
    /// How wide the thing is at least in the delivered picture, px: over that longest time, or else where it is inside;
    /// none if it never is.
    pub delivered_px: Option<f64>,
    /// The first frame, from the first on which the thing is seen, on which it is not kept.
    pub first_failing: Option<FrameIndex>,
    /// The same in words.
    pub words: String,
}

impl ClauseNote {
    /// What windows over a range make of a clause.
    #[must_use]
    pub fn of(
        asked: ClauseAsked,
        kept: &ClauseKept,
        deliverable: &Deliverable,
        used: FrameRange,
    ) -> Self {
        let at = |index: usize| used.frame_at(index);
        let longest = kept.longest.as_ref().map(|frames| [at(frames.start), at(frames.end - 1)]);
        let mut note = Self {
            asked,
            is_kept: kept.is_kept,
            longest,
            longest_secs: kept.longest_secs,
            total_secs: kept.total_secs,
            delivered_px: kept.least_share.map(|share| share * deliverable.raster.width()),
            first_failing: kept.first_failing.map(at),
            words: String::new(),
        };
        note.words = note.in_words();
        note
    }

    /// `logo: 153.6 px, 3.2 s, kept`, or `logo: fails: 2.96 s (74 frames) of 3 s, first failing frame 94`.
    fn in_words(&self) -> String {
        let (name, secs) = (&self.asked.keep_in, secs_words(self.longest_secs));
        let width = self.delivered_px.map(|width| format!("{} px", px(width)));
        if self.is_kept {
            let width = width.map_or(String::new(), |width| format!("{width}, "));
            let throughout = match self.asked.least_secs {
                Some(_) => "",
                None => " and every frame on which it is seen",
            };
            return format!("{name}: {width}{secs} s{throughout}, kept");
        }
        let too_small =
            self.asked.least_px.zip(self.delivered_px).filter(|(least, has)| has < least);
        let small = too_small
            .map_or(String::new(), |(least, has)| format!("{} px of {} px, ", px(has), px(least)));
        let frames = self.longest.map_or(0, |[first, last]| last.0 - first.0 + 1);
        let first = self
            .first_failing
            .map_or(String::new(), |frame| format!(", first failing frame {frame}"));
        let frames = frame_words(frames);
        match self.asked.least_secs {
            Some(least_secs) => {
                format!("{name}: fails: {small}{secs} s ({frames}) of {least_secs} s{first}")
            }
            None => format!(
                "{name}: fails: {small}kept for {secs} s ({frames}), and asked for on every frame on which it is seen{first}"
            ),
        }
    }
}

/// Seconds with at most two decimals, rounded down: what is printed is never more than there is.
fn secs_words(secs: f64) -> String {
    /// What a sum of frame times is off by.
    const NOISE: f64 = 1e-6;
    format!("{}", (secs * 100.0 + NOISE).floor() / 100.0)
}

fn frame_words(count: u64) -> String {
    format!("{count} frame{}", if count == 1 { "" } else { "s" })
}

/// Why a clause cannot be kept.
#[must_use]
pub fn clause_refusal_words(
    asked: &ClauseAsked,
    failing: &ClauseFailing,
    (deliverable, limit): (&Deliverable, &EnlargementLimit),
    used: FrameRange,
) -> String {
    let name = &asked.keep_in;
    let at = |index: usize| used.frame_at(index);
    match failing {
        ClauseFailing::TooShort { longest_secs, frame_count, least_secs, index } => {
            let first =
                index.map_or(String::new(), |index| format!(", first failing frame {}", at(index)));
            format!(
                "{name} fails: {} s ({}) of {least_secs} s is the longest that can be had{first}",
                secs_words(*longest_secs),
                frame_words(*frame_count as u64)
            )
        }
        ClauseFailing::TooSmall { index, box_px, least_width_px, .. } => {
            let delivered_px = box_px * deliverable.raster.width() / least_width_px;
            let least_px = asked.least_px.unwrap_or(0.0);
            format!(
                "{name} fails: at frame {} it is {} px wide, and delivered {} px of {} px in the smallest window, {} px \
                 (enlargement {}): {} px short",
                at(*index),
                px(*box_px),
                px(delivered_px),
                px(least_px),
                px(*least_width_px),
                limit.greatest_words(),
                px(least_px - delivered_px)
            )
        }
        ClauseFailing::NoPlace { index, axis, missing_px } => format!(
            "{name} fails: at frame {} there is no place for it and its margins {}, {} px short in the largest window",
            at(*index),
            axis_words(*axis),
            px(*missing_px)
        ),
        ClauseFailing::AgainstSubject(clash) => clash_words(name, clash, at(clash.index)),
        ClauseFailing::NotReached { index, missing_px } => format!(
            "{name} fails: no path comes to it in time; where it does, the subject lacks {} px at frame {}",
            px(*missing_px),
            at(*index)
        ),
    }
}

const fn axis_words(axis: Axis) -> &'static str {
    match axis {
        Axis::Across => "across",
        Axis::Down => "up and down",
    }
}

/// Where the one and the other ask for the window, and what comes nearest.
fn clash_words(name: &str, clash: &Clash, frame: FrameIndex) -> String {
    let (start, side) = match clash.axis {
        Axis::Across => ("x0", "width"),
        Axis::Down => ("y0", "height"),
    };
    let (clause, subject) = (clash.clause_starts, clash.subject_starts);
    let subject = if subject.0 <= subject.1 {
        format!("the subject from {} to {}", px(subject.0), px(subject.1))
    } else {
        "the subject has no place of its own".to_owned()
    };
    format!(
        "{name} and the subject cannot both be kept: {} px short at frame {frame}. Of a window {} px in {side}, {name} \
         asks for {start} from {} to {}, {subject}; nearest that keeps {name}: {start} = {}, the subject's middle at \
         {:.1} % of the {side}",
        px(clash.missing_px),
        px(clash.size_px),
        px(clause.0),
        px(clause.1),
        thousandths(clash.nearest_start),
        100.0 * clash.subject_at
    )
}

/// A place that someone may pin: to a thousandth of a px, since a tenth more could break what it keeps.
fn thousandths(at: f64) -> String {
    format!("{}", (at * 1000.0).round() / 1000.0)
}

/// What would mend a refused clause; `None` if a remedy is not of clauses.
#[must_use]
pub fn clause_remedy_words(remedy: &Remedy, asked: &[ClauseAsked]) -> Option<String> {
    let name = |clause: &usize| asked.get(*clause).map(|asked| asked.keep_in.as_str());
    match remedy {
        Remedy::ShorterClause { clause, secs } => {
            let name = name(clause)?;
            Some(format!(
                "agree on {} s of {name} (least_secs), which the picture has",
                secs_words(*secs)
            ))
        }
        Remedy::DropClause { clause, verdict } => {
            let name = name(clause)?;
            Some(format!("have the client give up the clause on {name}: {}", then_words(*verdict)))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(least_secs: Option<f64>) -> ClauseAsked {
        ClauseAsked {
            keep_in: "logo".to_owned(),
            least_secs,
            least_px: Some(120.0),
            margin: [0.05; 2],
            insets: [0.05; 4],
            line: 9,
        }
    }

    fn words(least_secs: Option<f64>, kept: &ClauseKept) -> String {
        let deliverable = Deliverable {
            name: "vertical".to_owned(),
            raster: "1080x1920".parse().unwrap(),
            rounding: crate::geometry::Rounding::Exact,
            blocked: crate::delivery::BlockedZones::default(),
        };
        let used = FrameRange::new(FrameIndex(100), FrameIndex(300)).unwrap();
        ClauseNote::of(asked(least_secs), kept, &deliverable, used).words
    }

    /// T5 and story 11: 240 px of a window of 1687.5 are 153.6 of 1080; 74 frames of 25 a second are 2.96 s.
    #[test]
    fn a_verdict_is_in_the_clients_words() {
        let kept = ClauseKept {
            is_kept: true,
            longest: Some(20..100),
            longest_secs: 80.0 * 0.04,
            total_secs: 3.2,
            least_share: Some(240.0 / 1687.5),
            first_failing: Some(100),
        };
        assert_eq!(words(Some(3.0), &kept), "logo: 153.6 px, 3.2 s, kept");
        assert_eq!(
            words(None, &kept),
            "logo: 153.6 px, 3.2 s and every frame on which it is seen, kept"
        );
        let short = ClauseKept {
            is_kept: false,
            longest: Some(20..94),
            longest_secs: (0..74).map(|_| 0.04).sum(),
            first_failing: Some(94),
            ..kept
        };
        assert_eq!(
            words(Some(3.0), &short),
            "logo: fails: 2.96 s (74 frames) of 3 s, first failing frame 194"
        );
        // In 1:1, 240 px of 3000 are 86.4 of 1080.
        let small = ClauseKept {
            longest: None,
            longest_secs: 0.0,
            least_share: Some(0.08),
            first_failing: Some(0),
            ..short
        };
        assert_eq!(
            words(Some(3.0), &small),
            "logo: fails: 86.4 px of 120 px, 0 s (0 frames) of 3 s, first failing frame 100"
        );
    }
}
