//! What a plan's values are called when a person reads them.

use super::{
    VisitAt,
    conflict::{listed, pin_words},
};
use crate::{
    delivery::{Deliverable, Limit},
    geometry::{Raster, Window},
    lens::PossibleLenses,
    pan::{Axis, Cause, Reason, Remedy, StillStarts, Verdict},
    sharpness::Recording,
    timecode::{FrameIndex, FrameRange},
};

/// What every reader of a plan is told once.
pub const CAUTION: &str = "Planning figures only. Local law, the venue's rules and the person responsible for \
    safety on location decide; if they differ from this page, they win.";

/// A length in px, with the decimals that it deserves: none if it is whole, else one.
#[must_use]
pub fn px(length: f64) -> String {
    let tenths = (length * 10.0).round() / 10.0;
    if (tenths - tenths.round()).abs() < 0.05 {
        format!("{tenths:.0}")
    } else {
        format!("{tenths:.1}")
    }
}

/// A window's width and the room beside it, as a sum that adds up to the frame: tenths of a px, and what
/// their rounding leaves goes into the last part.
#[must_use]
pub fn sum_across(raster: Raster, window: &Window) -> String {
    sum(["left", "right"], window.left(), window.width(), raster.width())
}

/// A window's height and the room above and below, on the same terms.
#[must_use]
pub fn sum_down(raster: Raster, window: &Window) -> String {
    sum(["top", "bottom"], window.top(), window.height(), raster.height())
}

fn sum([before, after]: [&str; 2], start: f64, size: f64, total: f64) -> String {
    let tenths = |length: f64| (length * 10.0).round() / 10.0;
    let (start, size) = (tenths(start), tenths(size));
    let rest = (total - start - size).max(0.0);
    format!("{before} {} + {} + {after} {} = {}", px(start), px(size), px(rest), px(total))
}

/// A share as a percentage with one decimal.
fn percent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}

/// A deliverable in a few words: name, shape and raster.
#[must_use]
pub fn deliverable_phrase(deliverable: &Deliverable) -> String {
    format!("{} ({}, {})", deliverable.name, deliverable.shape(), deliverable.raster)
}

/// Why the window moves as it does.
#[must_use]
pub fn why_words(reason: &Reason, range: FrameRange) -> String {
    let at = |index: usize| range.frame_at(index);
    match reason {
        Reason::HoldIsEnough => {
            "one still window is enough for the subject and its margins".to_owned()
        }
        Reason::HoldIsShort { worst, share_inside } => format!(
            "a still window would keep it all on {} of its frames and miss {} px at frame {}",
            percent(*share_inside),
            px(worst.missing_px),
            at(worst.index)
        ),
        Reason::MovesAreShort { moves, worst, share_inside } => format!(
            "still windows joined by {moves} eased move{} would keep it all on {} of its frames and miss {} px at \
             frame {}",
            if *moves == 1 { "" } else { "s" },
            percent(*share_inside),
            px(worst.missing_px),
            at(worst.index)
        ),
        Reason::MovesTravelTooFar { moves, px: far, least_px, greatest } => format!(
            "still windows joined by {moves} eased move{} would travel {} px in all, where {} px are enough to keep as much and \
             at most {greatest} times that is allowed (greatest_travel)",
            if *moves == 1 { "" } else { "s" },
            px(*far),
            px(*least_px)
        ),
        Reason::HoldIsTight { worst } => format!(
            "a still window does, if tightly, and comes first; it misses {} px at frame {}",
            px(worst.missing_px),
            at(worst.index)
        ),
        Reason::PinsDiffer { first, second } => {
            format!("the windows pinned at frames {} and {} differ", at(*first), at(*second))
        }
        Reason::TooFastToFollow { secs_per_width, limit_secs } => format!(
            "hold and let it leave: following would need one width in {secs_per_width:.2} s, the limit is {limit_secs} s"
        ),
        Reason::TooSmearedToFollow { index, px: smear_px, share, limit } => format!(
            "hold: the subject smears by {} px at frame {}, {:.2} % of the window's width, which following would hold still \
             in mid-frame; the limit is {} %",
            px(*smear_px),
            at(*index),
            100.0 * share,
            100.0 * limit
        ),
        Reason::LeavesThePicture { index } => format!(
            "the subject comes into the picture or leaves it (first at its edge at frame {}), and is let go there",
            at(*index)
        ),
        Reason::OneLook => {
            "it looks like the clip's other shapes, with which it is planned".to_owned()
        }
        Reason::NoStillPlace => {
            "what is kept out leaves no place where a window could stand still".to_owned()
        }
    }
}

/// Where a still window may start with all of it kept, or by how much there is no such place.
#[must_use]
pub fn starts_words(starts: &[StillStarts; 2]) -> String {
    let [across, down] = starts;
    let along = |name: &str, starts: &StillStarts| {
        let (from, to) = (px(starts.from_px), px(starts.to_px));
        // What a sum of fractions leaves is nothing that anyone misses.
        if starts.missing_px < 0.05 {
            format!("{name} from {from} to {to}")
        } else {
            format!(
                "{name} nowhere, since at least {from} and at most {to} is asked for: {} px missing",
                px(starts.missing_px)
            )
        }
    };
    format!(
        "a still window of {} x {} has its place at {}; {}",
        px(across.size_px),
        px(down.size_px),
        along("x0", across),
        along("y0", down)
    )
}

/// How long a subject that is let go is wholly inside.
#[must_use]
pub fn inside_words(visit: &VisitAt) -> String {
    let [first, last] = visit.inside;
    format!("wholly inside from frame {first} to {last}, {:.2} s of timeline", visit.inside_secs)
}

/// A stay of a subject that is let go: when it comes in, is inside, and is gone.
#[must_use]
pub fn visit_words(visit: &VisitAt) -> String {
    let nose = visit.nose_in.map_or("in where it is first seen".to_owned(), |frame| {
        format!("nose in at frame {frame}")
    });
    let tail = visit.tail_out.map_or("in where it is last seen".to_owned(), |frame| {
        format!("tail out at frame {frame}")
    });
    format!("{nose}, {}, {tail}", inside_words(visit))
}

/// A factor as others are to reckon with it: at least so many decimals, and up to six if it has them.
fn factor(value: f64, least_digits: usize) -> String {
    const MOST_DIGITS: usize = 6;
    let exact = |digits: &usize| {
        let printed: Result<f64, _> = format!("{value:.digits$}").parse();
        printed.is_ok_and(|printed| (printed - value).abs() < 1e-9)
    };
    let digits = (least_digits..MOST_DIGITS).find(exact).unwrap_or(MOST_DIGITS);
    format!("{value:.digits$}")
}

/// How far the windows of a clip may be enlarged.
#[derive(Debug, Clone, PartialEq)]
pub struct EnlargementLimit {
    /// The user's limit.
    pub greatest: f64,
    /// What the clip's file hides, which the limit holds with.
    pub recording: Recording,
}

impl EnlargementLimit {
    fn is_plain(&self) -> bool {
        self.recording.inside_factor >= 1.0
    }

    pub(super) fn greatest_words(&self) -> String {
        factor(self.greatest, 2)
    }

    fn inside_words(&self) -> String {
        factor(self.recording.inside_factor, 3)
    }

    /// Why a window is too soft. Every number in it can be reckoned from the others.
    fn too_soft_words(&self, deliverable: &Deliverable, (least, greatest): (f64, f64)) -> String {
        let tenths = |length: f64| (length * 10.0).round() / 10.0;
        let with_crop = if self.is_plain() {
            String::new()
        } else {
            format!(
                " ({} / ({} x {}), since the inside crop leaves {})",
                deliverable.raster.width_px(),
                self.greatest_words(),
                self.inside_words(),
                self.inside_words()
            )
        };
        format!(
            "{} px wide is the largest {} window, and {} within enlargement {} needs {} px{with_crop}: {} px missing",
            px(greatest),
            deliverable.shape(),
            deliverable.raster,
            self.greatest_words(),
            px(least),
            px(tenths(least) - tenths(greatest))
        )
    }

    /// How a window of this width could be had all the same.
    fn accept_words(&self, deliverable: &Deliverable, width_px: f64) -> String {
        // What a product or a division leaves of a whole number is none.
        const ROUNDING: f64 = 1e-7;
        let enlargement = self.recording.enlargement(deliverable.raster.width(), width_px);
        // Rounded up, so that the number that is printed lets the window through.
        let accepted = (enlargement * 100.0 - ROUNDING).ceil() / 100.0;
        let even = |px: f64| 2.0 * (px / 2.0 + ROUNDING).floor();
        let most = even(self.recording.carried_px(width_px) * self.greatest);
        let high = even(deliverable.shape().height_for(most));
        if accepted > Limit::GreatestEnlargement.spec().greatest {
            return format!("deliver this shape at {most:.0}x{high:.0} at most");
        }
        if self.is_plain() {
            return format!(
                "accept enlargement {accepted:.2}, or deliver this shape at {most:.0}x{high:.0} at most"
            );
        }
        let (width, inside) = (px(width_px), self.inside_words());
        format!(
            "accept enlargement {accepted:.2} ({} / ({width} x {inside}), rounded up), or deliver this shape at \
             {most:.0}x{high:.0} at most ({width} x {inside} x {} wide, rounded down to even px)",
            deliverable.raster.width_px(),
            self.greatest_words()
        )
    }
}

/// Why a deliverable cannot be had.
#[must_use]
pub fn refusal_words(cause: &Cause, deliverable: &Deliverable, limit: &EnlargementLimit) -> String {
    match cause {
        Cause::TooSoft { least_width_px, greatest_width_px } => {
            limit.too_soft_words(deliverable, (*least_width_px, *greatest_width_px))
        }
        Cause::TooLarge { axis, needed_px, available_px, .. } => format!(
            "the subject with its margins is {} px {}, and the largest {} window has {} px: {} px missing",
            px(*needed_px),
            if *axis == Axis::Across { "wide" } else { "high" },
            deliverable.shape(),
            px(*available_px),
            px(needed_px - available_px)
        ),
        Cause::AtEdge { axis, shift_px, .. } => format!(
            "the subject is {} px too near to the {} edge of the picture for its margin and what is blocked there",
            px(shift_px.abs()),
            edge_name(*axis, *shift_px)
        ),
        Cause::TooFast => {
            "the window would have to move faster than the hard pan limit allows".to_owned()
        }
        Cause::TooSmeared { smear_px, share, limit } => format!(
            "no still window keeps the subject, and it smears too much to be followed: {} px in one exposure, {:.2} % of the \
             window's width, the limit is {} % (blur_hold)",
            px(*smear_px),
            100.0 * share,
            100.0 * limit
        ),
        // With the pin's own words, `pin_refusal_words`.
        Cause::Pinned { .. } => "the pinned windows leave the subject outside".to_owned(),
        // What is asked is in its own words, `clause_refusal_words`.
        Cause::Clause { clause, .. } => format!("clause {} cannot be kept", clause + 1),
    }
}

/// What would mend a refusal. With a lens, a shift on the next take is told as an angle too: that between the
/// place where the subject's edge is and the one where it should be.
#[must_use]
pub fn remedy_words(
    remedy: &Remedy,
    deliverable: &Deliverable,
    limit: &EnlargementLimit,
    used: FrameRange,
    lens: Option<&PossibleLenses>,
) -> String {
    match remedy {
        Remedy::FewerFrames { front, back, verdict } => {
            let last = FrameIndex(used.last().0 - *back as u64);
            format!(
                "use {} only: {}",
                frames_words(used.frame_at(*front), last),
                then_words(*verdict)
            )
        }
        Remedy::SmallerMargin { across, down, verdict } => format!(
            "keep margins of {} across and {} down instead: {}",
            percent(*across),
            percent(*down),
            then_words(*verdict)
        ),
        Remedy::AcceptWidth { width_px } => limit.accept_words(deliverable, *width_px),
        Remedy::WiderWindow { share, width_px, verdict } => format!(
            "allow windows up to {} px wide (greatest_width {share}): {}",
            px(*width_px),
            then_words(*verdict)
        ),
        Remedy::WiderShape { least_width_over_height } => {
            let ratio = (least_width_over_height * 100.0).ceil() / 100.0;
            format!("any shape from {ratio:.2}:1 up has room")
        }
        Remedy::TallerShape { greatest_width_over_height } => {
            let ratio = (greatest_width_over_height * 100.0).floor() / 100.0;
            format!("any shape up to {ratio:.2}:1 has room")
        }
        Remedy::FasterPan { secs_per_width, slower, verdict } => {
            faster_words(*secs_per_width, *slower, *verdict)
        }
        Remedy::Shots { starts, verdict } => shots_words(starts, *verdict, used),
        Remedy::AcceptSmear { share, verdict } => smear_accepted_words(*share, *verdict),
        Remedy::ShorterExposure { factor } => shorter_words(*factor),
        // With the names of what is asked: `clause_remedy_words` and `pin_remedy_words`.
        Remedy::ShorterClause { clause, secs } => {
            format!("ask for {secs} s of clause {}", clause + 1)
        }
        Remedy::DropClause { clause, verdict } => {
            without_words(&format!("clause {}", clause + 1), *verdict)
        }
        Remedy::DropPin { index, .. } | Remedy::MovePin { index, .. } => {
            pin_words(remedy, &format!("the pin at frame {}", used.frame_at(*index)))
        }
        Remedy::DropAllPins { count, verdict } => {
            format!("leave out all {count} pins of this shape: {}", then_words(*verdict))
        }
        Remedy::SmallerSubject { factor } => format!(
            "next take: have the subject at most {:.0} % of this size, from further away or with a wider view",
            (100.0 * factor).floor()
        ),
        Remedy::ShiftSubject { axis, shift_px, edge_px } => {
            let angle = lens.and_then(|lens| angle_words(lens, *axis, (*edge_px, *shift_px)));
            let angle = angle.unwrap_or_default();
            format!("{}{angle})", shift_words(*axis, *shift_px))
        }
    }
}

fn faster_words(secs_per_width: f64, slower: f64, verdict: Verdict) -> String {
    format!(
        "allow a pan of one width in {secs_per_width:.2} s (pan_hard): {}; or play it at {:.0} % of its speed",
        then_words(verdict),
        (100.0 * slower).floor()
    )
}

fn smear_accepted_words(share: f64, verdict: Verdict) -> String {
    format!(
        "follow it though it smears by {:.2} % of the window's width (blur_hold {share}): {}",
        100.0 * share,
        then_words(verdict)
    )
}

fn shorter_words(factor: f64) -> String {
    let percent = (100.0 * factor).floor();
    format!("next take: expose for at most {percent:.0} % of that time, and it may be followed")
}

fn shots_words(starts: &[usize], verdict: Verdict, used: FrameRange) -> String {
    let firsts = || std::iter::once(0).chain(starts.iter().copied()).map(|at| used.frame_at(at));
    let lasts = starts.iter().map(|at| used.frame_at(at.saturating_sub(1)));
    let lasts = lasts.chain(std::iter::once(used.last()));
    let shots: Vec<String> = firsts().zip(lasts).map(|(a, b)| frames_words(a, b)).collect();
    let each = match verdict {
        Verdict::Fits => "each fits",
        Verdict::Tight => "each fits or is tight",
        Verdict::Leaves | Verdict::DoesNotFit => "not each fits",
    };
    format!("use it as {} shots, {}: {each}", shots.len(), listed(&shots))
}

fn without_words(what: &str, verdict: Verdict) -> String {
    format!("leave out {what}: {}", then_words(verdict))
}

fn frames_words(first: FrameIndex, last: FrameIndex) -> String {
    if first == last { format!("frame {first}") } else { format!("frames {first} to {last}") }
}

/// How the subject should be elsewhere, and how the camera is turned for that; its angle and a bracket come after.
fn shift_words(axis: Axis, shift_px: f64) -> String {
    let turn = match (axis, shift_px > 0.0) {
        (Axis::Down, true) => "tilt up",
        (Axis::Down, false) => "tilt down",
        (Axis::Across, true) => "turn left",
        (Axis::Across, false) => "turn right",
    };
    let (far, way) = (px(shift_px.abs()), direction_name(axis, shift_px));
    format!("next take: have the subject {far} px {way} in the frame ({turn}")
}

/// The angle that the camera turns by for something to come from one row or column to another: a range where the mapping
/// is not known, and nothing where the lens does not draw both.
fn angle_words(lenses: &PossibleLenses, axis: Axis, (from, shift): (f64, f64)) -> Option<String> {
    let angle = lenses.every(|lens| {
        let angle = match axis {
            Axis::Across => lens.angle_across(from, from + shift),
            Axis::Down => lens.angle_down(from, from + shift),
        };
        angle.map(f64::abs)
    });
    Some(format!(" {:.2} degrees", angle?.to_degrees()))
}

pub(super) const fn then_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fits => "it then fits",
        Verdict::Tight => "it is then tight",
        Verdict::Leaves => "the subject is then let go",
        Verdict::DoesNotFit => "it still does not fit",
    }
}

fn edge_name(axis: Axis, shift_px: f64) -> &'static str {
    match (axis, shift_px > 0.0) {
        (Axis::Across, true) => "left",
        (Axis::Across, false) => "right",
        (Axis::Down, true) => "top",
        (Axis::Down, false) => "bottom",
    }
}

fn direction_name(axis: Axis, shift_px: f64) -> &'static str {
    match (axis, shift_px > 0.0) {
        (Axis::Across, true) => "further right",
        (Axis::Across, false) => "further left",
        (Axis::Down, true) => "lower",
        (Axis::Down, false) => "higher",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        delivery::BlockedZones,
        geometry::Rounding,
        lens::{FieldOfView, Mapping, SaidMapping, Span},
    };

    fn film(raster: &str) -> Deliverable {
        Deliverable {
            name: "film".to_owned(),
            raster: raster.parse().unwrap(),
            rounding: Rounding::Even,
            blocked: BlockedZones::default(),
        }
    }

    fn limit(greatest: f64, inside_factor: f64) -> EnlargementLimit {
        EnlargementLimit {
            greatest,
            recording: Recording { inside_factor, ..Recording::default() },
        }
    }

    /// The refusal and the remedy of a film whose largest window has this width.
    fn words(film: &Deliverable, limit: &EnlargementLimit, greatest_width_px: f64) -> [String; 2] {
        let least_width_px = limit.recording.least_px(film.raster.width(), limit.greatest);
        let used = FrameRange::new(FrameIndex(0), FrameIndex(1)).unwrap();
        let remedy = Remedy::AcceptWidth { width_px: greatest_width_px };
        [
            refusal_words(&Cause::TooSoft { least_width_px, greatest_width_px }, film, limit),
            remedy_words(&remedy, film, limit, used, None),
        ]
    }

    #[test]
    fn without_an_inside_crop_a_refusal_is_reckoned_from_the_file_alone() {
        let [why, remedy] = words(&film("3840x2160"), &limit(2.0, 1.0), 1440.0);
        assert_eq!(
            why,
            "1440 px wide is the largest 16:9 window, and 3840x2160 within enlargement 2.00 needs 1920 px: 480 \
             px missing"
        );
        assert_eq!(remedy, "accept enlargement 2.67, or deliver this shape at 2880x1620 at most");
    }

    #[test]
    fn with_an_inside_crop_a_refusal_names_the_factor_and_adds_up() {
        // By hand: 2 x 0.9 = 1.8; 3840 / 1.8 = 2133.33; 2133.3 - 1440 = 693.3; 1440 x 0.9 = 1296;
        // 3840 / 1296 = 2.963; 1296 x 2 = 2592, and 2592 x 9 / 16 = 1458.
        let [why, remedy] = words(&film("3840x2160"), &limit(2.0, 0.9), 1440.0);
        assert_eq!(
            why,
            "1440 px wide is the largest 16:9 window, and 3840x2160 within enlargement 2.00 needs 2133.3 px \
             (3840 / (2.00 x 0.900), since the inside crop leaves 0.900): 693.3 px missing"
        );
        assert_eq!(
            remedy,
            "accept enlargement 2.97 (3840 / (1440 x 0.900), rounded up), or deliver this shape at 2592x1458 at \
             most (1440 x 0.900 x 2.00 wide, rounded down to even px)"
        );
    }

    #[test]
    fn a_factor_is_printed_with_the_digits_that_the_sum_needs() {
        // By hand: the root of 0.9 is 0.948683; 1.25 x 0.948683 = 1.185854; 1920 / 1.185854 = 1619.09.
        let limit = limit(1.25, 0.9_f64.sqrt());
        let [why, _] = words(&film("1920x1080"), &limit, 1440.04);
        assert!(why.contains("needs 1619.1 px (1920 / (1.25 x 0.948683), since"), "{why}");
        assert!(why.ends_with(": 179.1 px missing"), "1619.1 - 1440 as printed: {why}");
    }

    #[test]
    fn what_a_remedy_names_is_then_let_through() {
        let film = film("7680x4320");
        let greatest = 1.1;
        for factor in [1.0, 0.9, 0.8, 0.86, 0.9_f64.sqrt(), 0.7] {
            for width_px in [1440.0, 1687.5, 720.5, 3374.0] {
                let limit = limit(greatest, factor);
                let [_, remedy] = words(&film, &limit, width_px);
                let number = |after: &str, until: &[char]| -> f64 {
                    let rest = remedy.split(after).nth(1).unwrap();
                    rest.split(until).next().unwrap().parse().unwrap()
                };
                let least = |delivered, greatest| limit.recording.least_px(delivered, greatest);
                let accepted = number("enlargement ", &[' ', ',']);
                assert!(least(7680.0, accepted) <= width_px + 1e-6, "{remedy}");
                let delivered = number("shape at ", &['x']);
                assert!(least(delivered, greatest) <= width_px + 1e-6, "{remedy}");
                assert!(least(delivered + 2.0, greatest) > width_px, "{remedy}");
            }
        }
    }

    #[test]
    fn a_shift_is_told_in_degrees_where_the_lens_is_known() {
        // T6: a helmet at row 300 that should be at row 360 of a 4000 x 3000 picture of 90 degrees:
        // atan(0.600) - atan(0.570) = 1.2806.
        let raster = Raster::new(4000, 3000).unwrap();
        let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
        let straight = SaidMapping::Known(Mapping::Rectilinear);
        let lens = PossibleLenses::new(raster, straight, &[field]).unwrap();
        let used = FrameRange::new(FrameIndex(0), FrameIndex(1)).unwrap();
        let said = |axis, shift_px, edge_px, lens| {
            let remedy = Remedy::ShiftSubject { axis, shift_px, edge_px };
            remedy_words(&remedy, &film("1080x1920"), &limit(2.0, 1.0), used, lens)
        };
        assert_eq!(
            said(Axis::Down, 60.0, 300.0, Some(&lens)),
            "next take: have the subject 60 px lower in the frame (tilt up 1.28 degrees)"
        );
        assert_eq!(
            said(Axis::Down, 60.0, 300.0, None),
            "next take: have the subject 60 px lower in the frame (tilt up)"
        );
        // atan(1.9/2) - atan(1.8/2) = 43.5312 - 41.9872 = 1.544, from column 3900 to 3800.
        assert_eq!(
            said(Axis::Across, -100.0, 3900.0, Some(&lens)),
            "next take: have the subject 100 px further left in the frame (turn right 1.54 degrees)"
        );
        // Nobody knows the mapping, and the 90 degrees are across 4000 px: equidistant 60 px are 1.35 degrees.
        let unknown = PossibleLenses::new(raster, SaidMapping::Unknown, &[field]).unwrap();
        assert_eq!(
            said(Axis::Down, 60.0, 300.0, Some(&unknown)),
            "next take: have the subject 60 px lower in the frame (tilt up 1.28 to 1.35 degrees)"
        );
    }
}
