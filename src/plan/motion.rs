//! How a planned window moves and how near the subject comes to its edges, for the reports.

use super::{ClipPlan, Entry, PlannedSegment, Segment, px, text::place};
use crate::{delivery::Limit, geometry::Window, timecode::FrameIndex};

/// Where the subject, or something else that is asked to be inside, has the least room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tightest {
    pub(super) frame: FrameIndex,
    /// On which side of the window.
    pub(super) side: &'static str,
    /// How far it is inside of what it stays clear of, margins and blocked zones; below 0 it is over it.
    pub(super) spare_px: f64,
}

/// The tightest moment of a path; none where nothing is asked to be inside.
pub(super) fn tightest(segment: &Segment, planned: &PlannedSegment) -> Option<Tightest> {
    let insets = planned.asked.insets;
    let frames = segment.used.frames().zip(&planned.asked.frames);
    let seen = frames.filter(|(_, asked)| !asked.is_let_go);
    let moments = seen.flat_map(|(frame, asked)| {
        let boxes = asked.boxes.iter().map(|wished| &wished.region);
        let window = window_at(segment, planned, frame);
        boxes.zip(window.into_iter().cycle()).flat_map(move |(region, window)| {
            let (width, height) = (window.width(), window.height());
            [
                ("left", region.left() - window.left() - insets[0] * width),
                ("top", region.top() - window.top() - insets[1] * height),
                ("right", window.right() - insets[2] * width - region.right()),
                ("bottom", window.bottom() - insets[3] * height - region.bottom()),
            ]
            .map(|(side, spare_px)| Tightest { frame, side, spare_px })
        })
    });
    moments.min_by(|a, b| a.spare_px.total_cmp(&b.spare_px))
}

/// The least headroom where some is wanted: the subject's top from the window's, as a share of its height.
pub(super) fn headroom(
    entry: &Entry,
    segment: &Segment,
    planned: &PlannedSegment,
) -> Option<Headroom> {
    let name = Limit::Headroom.spec().name;
    let is_wanted = entry.limits.iter().any(|limit| limit.name == name && limit.value.is_some());
    if !is_wanted {
        return None;
    }
    let frames = segment.used.frames().zip(&planned.asked.frames);
    let shares = frames.filter(|(_, asked)| !asked.is_let_go).filter_map(|(frame, asked)| {
        let (point, window) = (asked.point?, window_at(segment, planned, frame)?);
        Some((frame, (point.at.y - window.top()) / window.height(), point.place.down))
    });
    let (frame, share, wanted) = shares.min_by(|a, b| (a.1 - a.2).total_cmp(&(b.1 - b.2)))?;
    Some(Headroom { frame, share, wanted })
}

/// The least headroom of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Headroom {
    frame: FrameIndex,
    /// Of the window's height.
    share: f64,
    wanted: f64,
}

impl Headroom {
    pub(super) fn words(&self, clip: &ClipPlan) -> String {
        format!(
            "the least headroom is {:.1} % of the window's height, at {}; {:.1} % is wanted",
            100.0 * self.share,
            place(clip, self.frame),
            100.0 * self.wanted
        )
    }

    /// What would give more, where what is wanted is missed by what a person sees.
    pub(super) fn remedy(&self) -> Option<&'static str> {
        /// A hundredth of the height. Chosen.
        const SEEN: f64 = 0.01;
        (self.share < self.wanted - SEEN).then_some(
            "for more headroom, let the place in the window count for more (weight_place); next take, tilt the camera up",
        )
    }
}

/// The window of a frame, handles included.
pub(super) fn window_at<'a>(
    segment: &Segment,
    planned: &'a PlannedSegment,
    frame: FrameIndex,
) -> Option<&'a Window> {
    let place = frame.0.checked_sub(segment.with_handles.first().0)?;
    planned.windows.get(usize::try_from(place).ok()?)
}

/// Each eased move in words: when, for how long, how far.
pub(super) fn move_words(segment: &Segment, planned: &PlannedSegment) -> Vec<String> {
    let one = |[first, last]: &[FrameIndex; 2]| {
        let (from, to) =
            (window_at(segment, planned, *first)?, window_at(segment, planned, *last)?);
        let steps = segment.used.frames().zip(&planned.asked.frames);
        let during = steps.filter(|(frame, _)| (first..last).contains(&frame));
        let secs: f64 = during.map(|(_, asked)| asked.step_secs).sum();
        Some(format!(
            "frames {first} to {last}, {secs:.2} s: its middle goes {}",
            gone_words(from, to)
        ))
    };
    planned.moves.iter().filter_map(one).collect()
}

/// How a window comes from one place to another.
fn gone_words(from: &Window, to: &Window) -> String {
    /// What is less shows nowhere.
    const LEAST_PX: f64 = 0.05;
    let along = |gone: f64, ways: [&str; 2]| {
        let way = ways[usize::from(gone < 0.0)];
        (gone.abs() >= LEAST_PX).then(|| format!("{} px {way}", px(gone.abs())))
    };
    let parts = [
        along(to.centre_x() - from.centre_x(), ["right", "left"]),
        along(to.centre_y() - from.centre_y(), ["down", "up"]),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    let gone = if parts.is_empty() { "nowhere".to_owned() } else { parts.join(", ") };
    let wider = along(to.width() - from.width(), ["wider", "narrower"]);
    wider.map_or(gone.clone(), |wider| format!("{gone}, and it gets {wider}"))
}
