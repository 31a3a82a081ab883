use super::{FieldOfView, Lens, LensError, Mapping, Span, local::LocalMap, model::OffAxis};
use crate::geometry::{DeliveredPoint, Raster, SourcePoint, Window};

/// A straight-line view made of a part of another lens's picture, as if a camera had looked there with a straight-line
/// lens: straight edges come out straight, and towards its corners less and less of the source is in each delivered px.
///
/// It looks at what the window's middle shows, upright as the camera is, and its horizontal field of view is the angle
/// between what the middles of the window's left and right edges show. How far it reaches down follows from the
/// delivered raster.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StraightView {
    source: Lens,
    view: Lens,
    /// Right, down and ahead of the view, as directions of the source.
    axes: [[f64; 3]; 3],
}

/// How a straight-line view samples its source at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampling {
    /// Source px for a delivered px along the way that has the fewest; its inverse is the enlargement there.
    pub least_source_px: f64,
    /// Source px for a delivered px along the way that has the most.
    pub greatest_source_px: f64,
    /// How much longer than wide a round thing facing the camera comes out, away from the view's middle: `1 / cos t` at
    /// the angle `t` from it.
    pub stretch: f64,
}

impl StraightView {
    /// The view of a window of a lens's picture, delivered in a raster.
    ///
    /// # Errors
    /// [`LensError::NothingSeen`] if the window's middle, or that of its left or right edge, is outside of the image
    /// circle; [`LensError::FieldOfView`] if it is wider than any straight-line view.
    pub fn of(source: &Lens, window: &Window, delivered: Raster) -> Result<Self, LensError> {
        let seen = |x: f64| {
            let point = SourcePoint { x, y: window.centre_y() };
            let direction = source.direction(point);
            direction.ok_or(LensError::NothingSeen { x, y: window.centre_y() })
        };
        let ahead = seen(window.centre_x())?;
        let (left, right) = (seen(window.left())?, seen(window.right())?);
        // Once round by way of the middle, so that more than half a turn does not count as less.
        let angle = angle(left, ahead) + angle(ahead, right);
        let field = FieldOfView::from_degrees(Span::Horizontal, angle.to_degrees())?;
        let view = Lens::new(delivered, Mapping::Rectilinear, &[field])?;
        Ok(Self { source: *source, view, axes: upright(ahead) })
    }

    /// Its horizontal field of view, in radians.
    #[must_use]
    pub fn horizontal_field(&self) -> f64 {
        self.view.field_of_view(Span::Horizontal)
    }

    /// Where in the source a delivered point comes from; `None` if the source's lens draws nothing of it or it is outside of
    /// its frame.
    #[must_use]
    pub fn source_point(&self, delivered: DeliveredPoint) -> Option<SourcePoint> {
        let (_, direction) = self.looking(delivered)?;
        let point = self.source.point(direction)?;
        let raster = self.source.raster();
        let is_inside =
            (0.0..=raster.width()).contains(&point.x) && (0.0..=raster.height()).contains(&point.y);
        is_inside.then_some(point)
    }

    /// How it samples the source at a delivered point; `None` as for [`Self::source_point`].
    #[must_use]
    pub fn sampling(&self, delivered: DeliveredPoint) -> Option<Sampling> {
        let (in_view, direction) = self.looking(delivered)?;
        self.source_point(delivered)?;
        let source = LocalMap::of(&self.source, OffAxis::of(direction)?);
        let view = LocalMap::of(&self.view, in_view);
        let ways = view.ways.map(|way| turned(&self.axes, way));
        // Source px for a radian along each of the view's two ways.
        let moved = ways.map(|way| {
            let [outwards, round] = source.ways.map(|of_source| dot(of_source, way));
            let [a, b] = source.px_per_radian;
            (a.0 * outwards + b.0 * round, a.1 * outwards + b.1 * round)
        });
        let [least_source_px, greatest_source_px] = extreme_scales(moved, view.px_per_radian);
        Some(Sampling { least_source_px, greatest_source_px, stretch: in_view.angle.cos().recip() })
    }

    /// How it samples the source at its corners, the middles of its edges and its middle, row by row from the upper
    /// left.
    #[must_use]
    pub fn nine_places(&self) -> [Option<Sampling>; 9] {
        let (width, height) = (self.view.raster().width(), self.view.raster().height());
        let shares = [0.0, 0.5, 1.0];
        let places = shares.map(|down| shares.map(|across| (across * width, down * height)));
        let mut all = [None; 9];
        for (answer, (x, y)) in all.iter_mut().zip(places.into_iter().flatten()) {
            *answer = self.sampling(DeliveredPoint { x, y });
        }
        all
    }

    /// Where a delivered point lies from the view's axis, and the direction in the source that it shows.
    fn looking(&self, delivered: DeliveredPoint) -> Option<(OffAxis, [f64; 3])> {
        let in_view = self.view.off_axis(SourcePoint { x: delivered.x, y: delivered.y })?;
        Some((in_view, turned(&self.axes, in_view.direction())))
    }
}

/// Right, down and ahead of a view in a direction of length 1 that is as upright as the camera. Straight up or down
/// nothing is upright; right is then the camera's.
fn upright(ahead: [f64; 3]) -> [[f64; 3]; 3] {
    /// What is nearer to the vertical than this has no upright of its own.
    const LEAST_ASIDE: f64 = 1e-9;
    let aside = ahead[0].hypot(ahead[2]);
    let right = if aside > LEAST_ASIDE {
        [ahead[2] / aside, 0.0, -ahead[0] / aside]
    } else {
        [1.0, 0.0, 0.0]
    };
    [right, cross(ahead, right), ahead]
}

/// A direction given by its parts along three axes.
fn turned(axes: &[[f64; 3]; 3], parts: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|row| (0..3).map(|axis| axes[axis][row] * parts[axis]).sum())
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn angle(a: [f64; 3], b: [f64; 3]) -> f64 {
    let across = cross(a, b);
    dot(across, across).sqrt().atan2(dot(a, b))
}

/// The least and the greatest scale of the map that carries two vectors of one plane to two of another: the singular
/// values of its matrix, in closed form.
fn extreme_scales(to: [(f64, f64); 2], from: [(f64, f64); 2]) -> [f64; 2] {
    let area = from[0].0 * from[1].1 - from[1].0 * from[0].1;
    // The columns of `to · from⁻¹`.
    let a = (to[0].0 * from[1].1 - to[1].0 * from[0].1) / area;
    let b = (to[1].0 * from[0].0 - to[0].0 * from[1].0) / area;
    let c = (to[0].1 * from[1].1 - to[1].1 * from[0].1) / area;
    let d = (to[1].1 * from[0].0 - to[0].1 * from[1].0) / area;
    let (even, odd) = ((a + d).hypot(c - b) / 2.0, (a - d).hypot(c + b) / 2.0);
    [(even - odd).abs(), even + odd]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lens(mapping: Mapping, degrees: f64) -> Lens {
        let field = FieldOfView::from_degrees(Span::Horizontal, degrees).unwrap();
        Lens::new(Raster::new(4000, 3000).unwrap(), mapping, &[field]).unwrap()
    }

    fn window(left: f64, top: f64, width: f64, height: f64) -> Window {
        Window::inside(Raster::new(4000, 3000).unwrap(), (left, top), (width, height)).unwrap()
    }

    fn hd() -> Raster {
        Raster::new(1920, 1080).unwrap()
    }

    /// The least and the greatest source px per delivered px over all ways, by moving the delivered point.
    fn numeric(view: &StraightView, at: DeliveredPoint) -> (f64, f64) {
        const STEP: f64 = 0.05;
        let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
        for degree in 0..180 {
            let (sine, cosine) = f64::from(degree).to_radians().sin_cos();
            let source = |step: f64| {
                let moved = DeliveredPoint { x: at.x + step * cosine, y: at.y + step * sine };
                view.source_point(moved).unwrap()
            };
            let (before, after) = (source(-STEP), source(STEP));
            let scale = (after.x - before.x).hypot(after.y - before.y) / (2.0 * STEP);
            (least, most) = (least.min(scale), most.max(scale));
        }
        (least, most)
    }

    #[test]
    fn the_sampling_agrees_with_numeric_derivatives() {
        let cases = [
            (lens(Mapping::Equidistant, 150.0), window(200.0, 700.0, 1600.0, 900.0)),
            (lens(Mapping::Equisolid, 140.0), window(2300.0, 1500.0, 1440.0, 810.0)),
            (lens(Mapping::Stereographic, 170.0), window(1000.0, 400.0, 1600.0, 900.0)),
            (lens(Mapping::Rectilinear, 100.0), window(2200.0, 1000.0, 1600.0, 900.0)),
        ];
        let mut places = 0;
        for (lens, window) in cases {
            let view = StraightView::of(&lens, &window, hd()).unwrap();
            for step in 0..25_u32 {
                let at = DeliveredPoint {
                    x: f64::from(step % 5) * 479.0 + 1.0,
                    y: f64::from(step / 5) * 269.0 + 1.0,
                };
                let Some(found) = view.sampling(at) else { continue };
                let (least, most) = numeric(&view, at);
                assert!((found.least_source_px / least - 1.0).abs() < 2e-4, "{found:?} {least}");
                assert!((found.greatest_source_px / most - 1.0).abs() < 2e-4, "{found:?} {most}");
                places += 1;
            }
        }
        // The first view looks so far aside that one of its corners is beyond the frame.
        assert!((90..100).contains(&places), "{places}");
    }

    #[test]
    fn a_straight_line_picture_seen_straight_ahead_is_only_scaled() {
        let view = StraightView::of(
            &lens(Mapping::Rectilinear, 90.0),
            &window(1040.0, 960.0, 1920.0, 1080.0),
            hd(),
        );
        let view = view.unwrap();
        for sampling in view.nine_places() {
            let sampling = sampling.unwrap();
            assert!((sampling.least_source_px - 1.0).abs() < 1e-9, "{sampling:?}");
            assert!((sampling.greatest_source_px - 1.0).abs() < 1e-9, "{sampling:?}");
        }
        // By hand: 960/2000 is 0.48 at the edge, and √(1 + 0.48²) = 1.1092.
        assert!((view.nine_places()[5].unwrap().stretch - 1.1092).abs() < 5e-5);
    }

    #[test]
    fn straightening_an_equidistant_picture_costs_its_corners() {
        // By hand, 90 degrees across 1920 delivered px out of 180 degrees across 4000: the source has 4000/π px a
        // radian, the view 960 in its middle, so 1.3263 there. At the edge, 45 degrees off, the view has 960·2 px a radian
        // outwards and 960·√2 round; the source 4000/π outwards and 4000/π · (π/4)/sin 45° round.
        let view = StraightView::of(
            &lens(Mapping::Equidistant, 180.0),
            &window(1000.0, 937.5, 2000.0, 1125.0),
            hd(),
        );
        let view = view.unwrap();
        assert!((view.horizontal_field().to_degrees() - 90.0).abs() < 1e-9);
        let [.., left, middle, _, _, _, _] = view.nine_places();
        let (left, middle) = (left.unwrap(), middle.unwrap());
        assert!((middle.least_source_px - 1.326_291).abs() < 1e-6, "{middle:?}");
        assert!((middle.greatest_source_px - 1.326_291).abs() < 1e-6, "{middle:?}");
        assert!((left.least_source_px - 0.663_146).abs() < 1e-6, "{left:?}");
        assert!((left.greatest_source_px - 1000.0 / 960.0).abs() < 1e-6, "{left:?}");
        assert!((left.stretch - 2.0_f64.sqrt()).abs() < 1e-12);
        let corner = view.nine_places()[0].unwrap();
        assert!(corner.least_source_px < left.least_source_px && corner.stretch > left.stretch);
    }

    #[test]
    fn a_view_off_the_axis_stands_upright_and_one_that_sees_nothing_is_refused() {
        let wide = lens(Mapping::Equidistant, 180.0);
        let view = StraightView::of(&wide, &window(2400.0, 1050.0, 1600.0, 900.0), hd()).unwrap();
        // What is level and ahead stays a level line across the view's middle.
        let rows = [0.0, 960.0, 1920.0]
            .map(|x| view.source_point(DeliveredPoint { x, y: 540.0 }).unwrap().y);
        assert!(rows.iter().all(|row| (row - 1500.0).abs() < 1e-6), "{rows:?}");
        let round = lens(Mapping::Orthographic, 180.0);
        let told = StraightView::of(&round, &window(0.0, 0.0, 400.0, 225.0), hd()).unwrap_err();
        assert!(matches!(told, LensError::NothingSeen { .. }), "{told}");
        let all = StraightView::of(&wide, &window(0.0, 375.0, 4000.0, 2250.0), hd()).unwrap_err();
        assert!(matches!(all, LensError::FieldOfView { .. }), "{all}");
    }
}
