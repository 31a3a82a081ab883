use super::EdgeRegion;

/// What about a region or its edge cannot be measured. "Across the edge" is along the picture's rows for an edge
/// that stands, and down its columns for one that lies.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EdgeFault {
    /// The region is not in the picture.
    #[error("the region {region} does not lie inside the picture, which is {width_px}x{height_px}")]
    Outside {
        /// The region.
        region: EdgeRegion,
        /// The picture's width.
        width_px: usize,
        /// The picture's height.
        height_px: usize,
    },
    /// The region is small.
    #[error(
        "the region {region} is too small: each side needs at least {least_px} px; take more of the edge into it"
    )]
    TooSmall {
        /// The region.
        region: EdgeRegion,
        /// The least side.
        least_px: usize,
    },
    /// A code value lies beyond the tone curve.
    #[error(
        "the code value {code:.1} is not on the tone curve, which goes from {least} to {greatest}; add rows for it"
    )]
    BeyondCurve {
        /// The code value, on the picture's scale.
        code: f64,
        /// The curve's least.
        least: f64,
        /// The curve's greatest.
        greatest: f64,
    },
    /// The two sides are as good as equal.
    #[error(
        "there is no edge, or its contrast is too low: the sides differ by {step:.3} of the full code range and at \
         least {least} is needed; take a region over one edge, on a chart whose light side gives four times the \
         light of its dark side or more"
    )]
    LowContrast {
        /// The difference of the two sides, 0 to 1.
        step: f64,
        /// The least.
        least: f64,
    },
    /// No straight line runs through what is there.
    #[error(
        "there is no single straight edge: {what}; take a region that holds one edge and nothing else, straight \
         and from end to end"
    )]
    NoLine {
        /// What tells it, with the limit.
        what: String,
    },
    /// The edge is as good as square to the grid.
    #[error(
        "the edge is not slanted enough: {angle_degrees:.2} degrees, with which it moves by {travel_px:.2} px over \
         the region's {length_px} px; {least_degrees} degrees and a whole px are needed: turn the chart or the camera by \
         about 5 degrees, or take more of the edge"
    )]
    NotSlanted {
        /// Off the grid, without sign.
        angle_degrees: f64,
        /// How far it moves.
        travel_px: f64,
        /// The region's length along the edge.
        length_px: usize,
        /// The least angle.
        least_degrees: f64,
    },
    /// The edge lies far off the grid.
    #[error(
        "the edge is slanted too much: {angle_degrees:.1} degrees off the grid and {greatest_degrees} is the most; \
         turn the chart or the camera to about 5 degrees"
    )]
    TooSlanted {
        /// Off the grid, without sign.
        angle_degrees: f64,
        /// The most.
        greatest_degrees: f64,
    },
    /// The edge comes too near to the region's sides, or leaves it.
    #[error(
        "the edge leaves the region: at one end it is {room_px:.1} px from its side and {least_px} px are needed; take a \
         wider region, or less of the edge"
    )]
    Leaves {
        /// From the edge to the region's side, negative where it is outside.
        room_px: f64,
        /// The least.
        least_px: f64,
    },
    /// The edge is softer than the region is wide.
    #[error(
        "the region is too narrow for an edge this soft: it rises over {rise_px:.1} px and {needed_px:.0} px are needed across \
         it, not {width_px}; take a wider region"
    )]
    TooSoft {
        /// From 10 to 90 % of the step.
        rise_px: f64,
        /// The width that would do.
        needed_px: f64,
        /// The region's width across the edge.
        width_px: usize,
    },
    /// One side is burnt out or blocked up.
    #[error(
        "the {side} side is clipped: {:.0} % of its px are at {code} and at most {:.0} % may be; expose the chart so \
         that neither side reaches an end, and take the picture again",
        100.0 * share,
        100.0 * limit
    )]
    Clipped {
        /// Which.
        side: &'static str,
        /// The code value.
        code: u32,
        /// Share of its px.
        share: f64,
        /// The most.
        limit: f64,
    },
    /// Noise would decide.
    #[error(
        "the noise is too high: it alone moves the response near MTF50 by {deviation:.3} (one standard deviation) and at most \
         {limit} is measured; take more of the edge into the region, or give the chart more light"
    )]
    Noisy {
        /// One standard deviation of the response.
        deviation: f64,
        /// The most.
        limit: f64,
    },
}
