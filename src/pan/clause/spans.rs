use super::super::{Request, RequiredBox};
use crate::geometry::AxisLimits;

/// The boxes that a still window has to hold along one axis, joined where they keep clear of its edges by the same
/// shares: a run has thousands of frames and a few clauses.
pub(in crate::pan) struct RequiredSpans(Vec<Span>);

struct Span {
    from: f64,
    to: f64,
    before: f64,
    after: f64,
}

impl RequiredSpans {
    pub(in crate::pan) fn across(request: &Request) -> Self {
        Self::along(request, |required, ride| Span {
            from: required.region.left() - ride.0,
            to: required.region.right() - ride.0,
            before: required.clear.left,
            after: required.clear.right,
        })
    }

    pub(in crate::pan) fn down(request: &Request) -> Self {
        Self::along(request, |required, ride| Span {
            from: required.region.top() - ride.1,
            to: required.region.bottom() - ride.1,
            before: required.clear.top,
            after: required.clear.bottom,
        })
    }

    fn along(request: &Request, of: impl Fn(&RequiredBox, (f64, f64)) -> Span) -> Self {
        let mut joined: Vec<Span> = Vec::new();
        for (index, wish) in request.frames.iter().enumerate() {
            for span in wish.required.iter().map(|required| of(required, request.ride_at(index))) {
                let same = |other: &&mut Span| {
                    other.before.total_cmp(&span.before).is_eq()
                        && other.after.total_cmp(&span.after).is_eq()
                };
                match joined.iter_mut().find(same) {
                    Some(other) => {
                        other.from = other.from.min(span.from);
                        other.to = other.to.max(span.to);
                    }
                    None => joined.push(span),
                }
            }
        }
        Self(joined)
    }

    /// Where a window may start that lies in a stretch of the axis and holds them all, with the stretch.
    pub(in crate::pan) fn on(self, usable: (f64, f64)) -> (AxisLimits, (f64, f64)) {
        let within = AxisLimits::default().lying_within(usable.0, usable.1);
        let hold = |limits: AxisLimits, span: Span| {
            limits.leaving_before(span.from, span.before).leaving_after(span.to, span.after)
        };
        (self.0.into_iter().fold(within, hold), usable)
    }
}
