use super::{FrameWish, Insets, Request};
use crate::geometry::{Region, Window};
use serde::{Deserialize, Serialize};
use std::fmt;

/// How well a path keeps what it should keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The whole box with its margins is inside on all but a few frames, and never short by much.
    Fits,
    /// Inside on most frames, and the middle of the box always.
    Tight,
    /// On purpose not always: it crosses the window, or comes into the picture or leaves it, and is inside for long
    /// enough in between.
    Leaves,
    /// None of these.
    DoesNotFit,
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Fits => "fits",
            Self::Tight => "tight",
            Self::Leaves => "leaves",
            Self::DoesNotFit => "does not fit",
        })
    }
}

/// Across or down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Axis {
    /// Left and right.
    Across,
    /// Up and down.
    Down,
}

/// A frame at which a box, with its insets, is not wholly inside.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ShortFrame {
    /// Frames after the run's first.
    pub index: usize,
    /// How many px of the box and its insets are outside: left and right together, or top and bottom.
    pub missing_px: f64,
    /// Along which axis.
    pub axis: Axis,
}

/// What a path keeps inside, counted.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// The verdict under the user's limits.
    pub verdict: Verdict,
    /// The share of the frames with boxes, by weight, on which every box is wholly inside; 1 if there are none.
    pub share_inside: f64,
    /// How many frames have boxes.
    pub frames_with_boxes: usize,
    /// The frames on which a box is not wholly inside, in order.
    pub short_frames: Vec<ShortFrame>,
    /// The first frame on which the middle of a box is outside.
    pub middle_lost_at: Option<usize>,
}

impl Assessment {
    /// A box counts as inside if it lacks no more than this: it is what is left of rounding in a solver.
    pub(super) const NOISE_PX: f64 = 0.01;

    /// Assesses a window for each frame of the run.
    #[must_use]
    pub fn of(request: &Request, windows: &[Window]) -> Self {
        let (mut inside, mut total, mut frames_with_boxes) = (0.0, 0.0, 0);
        let (mut short_frames, mut middle_lost_at) = (Vec::new(), None);
        let (mut never_far, insets) = (true, request.insets());
        for (index, (wish, window)) in request.frames.iter().zip(windows).enumerate() {
            if wish.boxes.is_empty() {
                continue;
            }
            frames_with_boxes += 1;
            total += wish.weight();
            match shortfall(wish, window, &insets, index) {
                None => inside += wish.weight(),
                Some(short) => {
                    never_far &= short.missing_px <= request.rules.fits_short * window.width();
                    short_frames.push(short);
                }
            }
            if middle_lost_at.is_none() && !keeps_middle(wish, window, request.rules.tight_middle) {
                middle_lost_at = Some(index);
            }
        }
        let share_inside = if total > 0.0 { inside / total } else { 1.0 };
        let verdict = if share_inside >= request.rules.fits_share && never_far {
            Verdict::Fits
        } else if share_inside >= request.rules.tight_share && middle_lost_at.is_none() {
            Verdict::Tight
        } else {
            Verdict::DoesNotFit
        };
        Self { verdict, share_inside, frames_with_boxes, short_frames, middle_lost_at }
    }

    /// The first frame on which a box is not wholly inside.
    #[must_use]
    pub fn first_short(&self) -> Option<ShortFrame> {
        self.short_frames.first().copied()
    }

    /// The frame that lacks the most, the first of them if there are several.
    #[must_use]
    pub fn worst(&self) -> Option<ShortFrame> {
        let worse =
            |a: ShortFrame, b: &ShortFrame| if b.missing_px > a.missing_px { *b } else { a };
        self.short_frames
            .iter()
            .skip(1)
            .fold(self.first_short(), |worst, next| worst.map(|worst| worse(worst, next)))
    }
}

fn shortfall(
    wish: &FrameWish,
    window: &Window,
    insets: &Insets,
    index: usize,
) -> Option<ShortFrame> {
    wish.boxes
        .iter()
        .flat_map(|wished| {
            let (across_px, down_px) = missing_px(&wished.region, window, insets);
            [(across_px, Axis::Across), (down_px, Axis::Down)]
        })
        .filter(|(missing_px, _)| *missing_px > Assessment::NOISE_PX)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(missing_px, axis)| ShortFrame { index, missing_px, axis })
}

/// How many px of a box lie outside the window less its insets: left and right together, then top and
/// bottom together. 0 where it is inside.
#[must_use]
pub fn missing_px(region: &Region, window: &Window, insets: &Insets) -> (f64, f64) {
    let (width, height) = (window.width(), window.height());
    let left = window.left() + insets.left * width - region.left();
    let right = region.right() - (window.right() - insets.right * width);
    let above = window.top() + insets.top * height - region.top();
    let below = region.bottom() - (window.bottom() - insets.bottom * height);
    (left.max(0.0) + right.max(0.0), above.max(0.0) + below.max(0.0))
}

fn keeps_middle(wish: &FrameWish, window: &Window, share: f64) -> bool {
    share <= 0.0
        || wish.boxes.iter().all(|wished| {
            let middle = wished.region.scaled_about_centre(share);
            let (across_px, down_px) = missing_px(&middle, window, &Insets::default());
            across_px <= Assessment::NOISE_PX && down_px <= Assessment::NOISE_PX
        })
}
