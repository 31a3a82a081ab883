/// One limit on where a window may start along an axis: a straight line in the window's size along it.
///
/// Both are capture px; `per_size` has no unit. Headroom of 8 % of the window above a helmet at row 300 is
/// the upper bound `300 − 0.08 × height`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    /// The limit for a window without size.
    pub at_px: f64,
    /// How much the limit moves for each px of window size.
    pub per_size: f64,
}

impl Bound {
    /// The limit on the start of a window of this size.
    #[must_use]
    pub fn for_size(self, size_px: f64) -> f64 {
        self.at_px + self.per_size * size_px
    }
}

/// Where a window of one size may start along an axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Allowed {
    /// Anywhere from `from_px` to `to_px`, both included.
    Between {
        /// The first allowed start.
        from_px: f64,
        /// The last allowed start.
        to_px: f64,
    },
    /// Nowhere: two limits contradict each other.
    Nowhere {
        /// How far they are apart.
        missing_px: f64,
        /// The start that the lower limits ask for at least.
        wanted_from_px: f64,
        /// The start that the upper limits ask for at most.
        wanted_to_px: f64,
    },
}

/// Every limit on where a window may start along one axis, for whatever size it has.
///
/// The same code serves both axes: "before" is left or above, "after" is right or below.
///
/// ```
/// use lookroom::geometry::{Allowed, AxisLimits};
/// // A helmet's top at row 300 with 8 % of a 2250 px high window above it:
/// let rows = AxisLimits::default().lying_within(0.0, 3000.0).leaving_before(300.0, 0.08);
/// assert_eq!(rows.allowed(2250.0), Allowed::Between { from_px: 0.0, to_px: 120.0 });
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AxisLimits {
    lower: Vec<Bound>,
    upper: Vec<Bound>,
}

impl AxisLimits {
    /// The window lies within `from_px` to `to_px`: the frame, or its usable part.
    #[must_use]
    pub fn lying_within(self, from_px: f64, to_px: f64) -> Self {
        self.with_lower(from_px, 0.0).with_upper(to_px, -1.0)
    }

    /// The window holds `from_px` to `to_px` with a margin of `margin_share` of its own size on both ends.
    #[must_use]
    pub fn keeping_in(self, from_px: f64, to_px: f64, margin_share: f64) -> Self {
        self.leaving_before(from_px, margin_share).leaving_after(to_px, margin_share)
    }

    /// The window ends before `edge_px`: it stays on the near side of something kept out.
    #[must_use]
    pub fn ending_before(self, edge_px: f64) -> Self {
        self.with_upper(edge_px, -1.0)
    }

    /// The window starts after `edge_px`: it stays on the far side of something kept out.
    #[must_use]
    pub fn starting_after(self, edge_px: f64) -> Self {
        self.with_lower(edge_px, 0.0)
    }

    /// At least `share` of the window lies before `point_px`: headroom, or a zone blocked at the near edge.
    #[must_use]
    pub fn leaving_before(self, point_px: f64, share: f64) -> Self {
        self.with_upper(point_px, -share)
    }

    /// At least `share` of the window lies after `point_px`: a zone blocked at the far edge.
    #[must_use]
    pub fn leaving_after(self, point_px: f64, share: f64) -> Self {
        self.with_lower(point_px, share - 1.0)
    }

    /// `point_px` falls between two shares of the window: 1/3 and 2/3 for its middle third.
    #[must_use]
    pub fn placing(self, point_px: f64, from_share: f64, to_share: f64) -> Self {
        self.with_lower(point_px, -to_share).with_upper(point_px, -from_share)
    }

    /// Where a window of this size may start.
    ///
    /// Without any lower or upper limit the answer reaches to infinity on that side.
    #[must_use]
    pub fn allowed(&self, size_px: f64) -> Allowed {
        let from_px =
            self.lower.iter().map(|b| b.for_size(size_px)).fold(f64::NEG_INFINITY, f64::max);
        let to_px = self.upper.iter().map(|b| b.for_size(size_px)).fold(f64::INFINITY, f64::min);
        if from_px <= to_px {
            Allowed::Between { from_px, to_px }
        } else {
            Allowed::Nowhere {
                missing_px: from_px - to_px,
                wanted_from_px: from_px,
                wanted_to_px: to_px,
            }
        }
    }

    /// The sizes from `least_px` to `greatest_px` for which there is a place at all, as least and greatest.
    /// `None` if there is none.
    #[must_use]
    pub fn sizes(&self, least_px: f64, greatest_px: f64) -> Option<(f64, f64)> {
        let (mut least, mut greatest) = (least_px, greatest_px);
        for low in &self.lower {
            for high in &self.upper {
                // low <= high is `growth × size >= lack`, one straight line in the size.
                let (growth, lack) = (high.per_size - low.per_size, low.at_px - high.at_px);
                if growth > 0.0 {
                    least = least.max(lack / growth);
                } else if growth < 0.0 {
                    greatest = greatest.min(lack / growth);
                } else if lack > 0.0 {
                    return None;
                }
            }
        }
        (least <= greatest).then_some((least, greatest))
    }

    fn with_lower(mut self, at_px: f64, per_size: f64) -> Self {
        self.lower.push(Bound { at_px, per_size });
        self
    }

    fn with_upper(mut self, at_px: f64, per_size: f64) -> Self {
        self.upper.push(Bound { at_px, per_size });
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn contradicting_limits_say_how_far_apart_they_are() {
        let limits = AxisLimits::default().starting_after(200.0).ending_before(1000.0);
        assert_eq!(
            limits.allowed(900.0),
            Allowed::Nowhere { missing_px: 100.0, wanted_from_px: 200.0, wanted_to_px: 100.0 }
        );
    }

    #[test]
    fn the_sizes_with_a_place_end_where_the_interval_closes() {
        let limits = AxisLimits::default().lying_within(0.0, 1000.0).keeping_in(100.0, 500.0, 0.1);
        let (least, greatest) = limits.sizes(0.0, 5000.0).unwrap();
        assert!(
            (least - 500.0).abs() < 1e-9,
            "{least}: 400 px of content and a tenth on both sides"
        );
        assert!((greatest - 1000.0).abs() < 1e-9, "{greatest}: the frame");
        assert!(matches!(limits.allowed(least + 1e-9), Allowed::Between { .. }));
        assert!(matches!(limits.allowed(least - 1e-3), Allowed::Nowhere { .. }));
    }
}
