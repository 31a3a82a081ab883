use super::{Lens, model::OffAxis};
use crate::geometry::SourcePoint;

/// What a lens does to small things at one place of the frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalScale {
    /// Px per radian along the line from the axis; 0 at a rim where the picture turns back.
    pub radial_px_per_radian: f64,
    /// Px per radian at right angles to that, round the axis.
    pub tangential_px_per_radian: f64,
}

impl LocalScale {
    /// How much longer than wide a round thing facing the camera is drawn, along the line from the axis: 1 on the axis,
    /// `1 / cos t` for a straight-line lens, below 1 for most fisheyes.
    #[must_use]
    pub fn shape_ratio(&self) -> f64 {
        self.radial_px_per_radian / self.tangential_px_per_radian
    }

    /// Px per degree: along the line from the axis, and round the axis.
    #[must_use]
    pub fn px_per_degree(&self) -> (f64, f64) {
        let one = 1.0_f64.to_radians();
        (self.radial_px_per_radian * one, self.tangential_px_per_radian * one)
    }

    /// The same as multiples of another place's, as of the axis's own: how much larger a thing is drawn here than
    /// there.
    #[must_use]
    pub fn over(&self, other: &Self) -> (f64, f64) {
        (
            self.radial_px_per_radian / other.radial_px_per_radian,
            self.tangential_px_per_radian / other.tangential_px_per_radian,
        )
    }
}

impl Lens {
    /// What it does to small things at a point; `None` outside of the image circle.
    ///
    /// Where a calibration has two focal lengths, each scale is the length in px of that small way; both ways are then not
    /// quite at right angles in the picture.
    #[must_use]
    pub fn local_scale(&self, point: SourcePoint) -> Option<LocalScale> {
        let [radial, tangential] = LocalMap::of(self, self.off_axis(point)?).px_per_radian;
        Some(LocalScale {
            radial_px_per_radian: radial.0.hypot(radial.1),
            tangential_px_per_radian: tangential.0.hypot(tangential.1),
        })
    }

    /// The sampling density at a point as a share of that on the axis: along the line from the axis, and round it.
    #[must_use]
    pub fn density_over_axis(&self, point: SourcePoint) -> Option<(f64, f64)> {
        let on_axis = self.local_scale(self.centre())?;
        self.local_scale(point).map(|here| here.over(&on_axis))
    }
}

/// How directions near one direction move in the picture.
#[derive(Debug, Clone, Copy)]
pub(super) struct LocalMap {
    /// The two ways across the direction, each of length 1: away from the axis, and clockwise round it.
    pub(super) ways: [[f64; 3]; 2],
    /// Px across and down for a radian along each.
    pub(super) px_per_radian: [(f64, f64); 2],
}

impl LocalMap {
    pub(super) fn of(lens: &Lens, OffAxis { angle, way: (cosine, sine) }: OffAxis) -> Self {
        let (sine_off, cosine_off) = angle.sin_cos();
        let (radial, tangential) =
            (lens.mapping().radial_scale(angle), lens.mapping().tangential_scale(angle));
        let (across, down) = (lens.focal_px(), lens.focal_down_px());
        Self {
            ways: [[cosine_off * cosine, cosine_off * sine, -sine_off], [-sine, cosine, 0.0]],
            px_per_radian: [
                (radial * across * cosine, radial * down * sine),
                (-tangential * across * sine, tangential * down * cosine),
            ],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        geometry::Raster,
        lens::{Calibrated, FieldOfView, FisheyePolynomial, Mapping, Span},
    };

    fn lens(mapping: Mapping, degrees: f64) -> Lens {
        let field = FieldOfView::from_degrees(Span::Horizontal, degrees).unwrap();
        Lens::new(Raster::new(4000, 3000).unwrap(), mapping, &[field]).unwrap()
    }

    /// Radial and tangential scale by moving a direction a little both ways.
    fn numeric(lens: &Lens, point: SourcePoint) -> (f64, f64) {
        const STEP: f64 = 1e-5;
        let [right, down, ahead] = lens.direction(point).unwrap();
        let aside = right.hypot(down);
        let outwards = [right * ahead / aside, down * ahead / aside, -aside];
        let round = [-down / aside, right / aside, 0.0];
        let length = |way: [f64; 3]| {
            let at = |step: f64| {
                lens.point([right + step * way[0], down + step * way[1], ahead + step * way[2]])
                    .unwrap()
            };
            let (before, after) = (at(-STEP), at(STEP));
            (after.x - before.x).hypot(after.y - before.y) / (2.0 * STEP)
        };
        (length(outwards), length(round))
    }

    #[test]
    fn scales_agree_with_numeric_derivatives_all_over_the_frame() {
        let polynomial =
            Mapping::Polynomial(FisheyePolynomial::new([-0.02, 0.01, -0.003, 0.0005]).unwrap());
        let uneven = Lens::calibrated(
            Raster::new(4000, 3000).unwrap(),
            polynomial,
            Calibrated { focal_px: (1500.0, 1450.0), centre: SourcePoint { x: 1990.0, y: 1530.0 } },
        );
        let lenses = [
            lens(Mapping::Rectilinear, 110.0),
            lens(Mapping::Equidistant, 180.0),
            lens(Mapping::Equisolid, 180.0),
            lens(Mapping::Stereographic, 180.0),
            lens(Mapping::Orthographic, 90.0),
            lens(polynomial, 150.0),
            uneven.unwrap(),
        ];
        for lens in lenses {
            for step in 0..63_u32 {
                let (x, y) =
                    (f64::from(step % 9) * 495.0 + 10.0, f64::from(step / 9) * 495.0 + 10.0);
                let point = SourcePoint { x, y };
                let (radial, tangential) = numeric(&lens, point);
                let found = lens.local_scale(point).unwrap();
                let near = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-6;
                assert!(near(found.radial_px_per_radian, radial), "{lens:?} {point:?} {radial}");
                assert!(near(found.tangential_px_per_radian, tangential), "{lens:?} {point:?}");
            }
        }
    }

    #[test]
    fn a_straight_line_lens_widens_faces_at_the_edge_by_the_secant() {
        // By hand, f 2000: a 9:16 window pushed to the right edge of 90 degrees has its inner edge, centre and
        // outer edge at 8.88, 30.03 and 45 degrees, and 1/cos of these is 1.012, 1.155 and 1.414.
        let lens = lens(Mapping::Rectilinear, 90.0);
        for (x, degrees, ratio) in
            [(2312.5, 8.88, 1.012), (3156.25, 30.03, 1.155), (4000.0, 45.0, 1.414)]
        {
            assert!((lens.column_angle(x).unwrap().to_degrees() - degrees).abs() < 0.005);
            let here = lens.local_scale(SourcePoint { x, y: 1500.0 }).unwrap();
            assert!((here.shape_ratio() - ratio).abs() < 0.0005, "{here:?}");
            let (outwards, round) = lens.density_over_axis(SourcePoint { x, y: 1500.0 }).unwrap();
            let secant = here.shape_ratio();
            assert!((outwards - secant * secant).abs() < 1e-9 && (round - secant).abs() < 1e-9);
        }
    }

    #[test]
    fn a_stereographic_lens_keeps_shapes_and_an_equidistant_one_its_density_outwards() {
        let corner = SourcePoint { x: 3900.0, y: 2950.0 };
        let kept = lens(Mapping::Stereographic, 150.0).local_scale(corner).unwrap();
        assert!((kept.shape_ratio() - 1.0).abs() < 1e-12);
        let even = lens(Mapping::Equidistant, 180.0);
        // 4000 px over 180 degrees: 22.22 px a degree, outwards everywhere.
        assert!(
            (even.local_scale(corner).unwrap().px_per_degree().0 - 4000.0 / 180.0).abs() < 1e-9
        );
        assert!(
            (even.local_scale(even.centre()).unwrap().px_per_degree().1 - 4000.0 / 180.0).abs()
                < 1e-9
        );
        assert!(even.local_scale(corner).unwrap().shape_ratio() < 1.0);
        // By hand, at 45 degrees: the area that an equisolid lens draws of a patch is that on the axis.
        let areas = lens(Mapping::Equisolid, 180.0).density_over_axis(corner).unwrap();
        assert!((areas.0 * areas.1 - 1.0).abs() < 1e-12);
    }

    #[test]
    fn outside_of_the_image_circle_there_is_no_scale() {
        let round = lens(Mapping::Orthographic, 180.0);
        assert_eq!(round.local_scale(SourcePoint { x: 0.0, y: 0.0 }), None);
        let rim = round.local_scale(SourcePoint { x: 0.0, y: 1500.0 }).unwrap();
        assert!(rim.radial_px_per_radian.abs() < 1e-6 && rim.shape_ratio().is_finite());
    }
}
