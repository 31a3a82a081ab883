use super::{FieldOfView, FisheyePolynomial, LensError};
use std::{
    f64::consts::{FRAC_PI_2, PI},
    fmt,
};

/// How a lens turns an angle `t` off its axis into a distance `r` from it in the picture, with the focal length `f`.
///
/// The five named ones are those of optics texts (read at optowiki.info, "Fisheye projection types").
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mapping {
    /// `r = f tan t`: straight lines stay straight. Nothing at 90 degrees or beyond.
    Rectilinear,
    /// `r = f t`: equal angles along a line from the axis are equal lengths.
    Equidistant,
    /// `r = 2 f sin(t/2)`: equal solid angles are equal areas.
    Equisolid,
    /// `r = 2 f tan(t/2)`: small shapes keep their shape everywhere. Nothing straight behind.
    Stereographic,
    /// `r = f sin t`: as a half globe looks from far above. Nothing beyond 90 degrees.
    Orthographic,
    /// As a calibration found it.
    Polynomial(FisheyePolynomial),
}

impl Mapping {
    /// Those that need no calibration.
    pub const NAMED: [Self; 5] = [
        Self::Rectilinear,
        Self::Equidistant,
        Self::Equisolid,
        Self::Stereographic,
        Self::Orthographic,
    ];

    /// The least field of view that is taken, in degrees. Chosen: a 1 degree lens is a telescope; it catches slips of
    /// the pen.
    pub const LEAST_FIELD_DEGREES: f64 = 1.0;

    /// Nearer than this to the angle at which a mapping goes out of all bounds, a point lies thousands of frames away.
    const RIM: f64 = 1e-6;

    /// The name in files and options.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Rectilinear => "rectilinear",
            Self::Equidistant => "equidistant",
            Self::Equisolid => "equisolid",
            Self::Stereographic => "stereographic",
            Self::Orthographic => "orthographic",
            Self::Polynomial(_) => "polynomial",
        }
    }

    /// The lens in words: "straight-line lens", "equidistant fisheye".
    #[must_use]
    pub fn words(&self) -> &'static str {
        let words = self.with_article();
        words.split_once(' ').map_or(words, |(_, words)| words)
    }

    /// The lens in words: "a straight-line lens", "an equidistant fisheye".
    #[must_use]
    pub const fn with_article(&self) -> &'static str {
        match self {
            Self::Rectilinear => "a straight-line lens",
            Self::Equidistant => "an equidistant fisheye",
            Self::Equisolid => "an equisolid fisheye",
            Self::Stereographic => "a stereographic fisheye",
            Self::Orthographic => "an orthographic fisheye",
            Self::Polynomial(_) => "a measured fisheye",
        }
    }

    /// The angle off the axis up to which there is a picture, in radians.
    #[must_use]
    pub fn greatest_angle(&self) -> f64 {
        match self {
            Self::Rectilinear => FRAC_PI_2 - Self::RIM,
            Self::Equidistant | Self::Equisolid => PI,
            Self::Stereographic => PI - Self::RIM,
            Self::Orthographic => FRAC_PI_2,
            Self::Polynomial(polynomial) => polynomial.greatest_angle(),
        }
    }

    /// The greatest field of view that is taken, in degrees. 170 for a straight-line picture, which is all edge beyond
    /// that, is chosen, and so is 340 for a stereographic one, whose edge is then as far out in focal lengths, twice over.
    /// The others end where their picture does.
    #[must_use]
    pub fn greatest_field_degrees(&self) -> f64 {
        match self {
            Self::Rectilinear => 170.0,
            Self::Equidistant | Self::Equisolid => 360.0,
            Self::Stereographic => 340.0,
            Self::Orthographic => 180.0,
            Self::Polynomial(polynomial) => 2.0 * polynomial.greatest_angle().to_degrees(),
        }
    }

    /// Whether there can be such a field of view.
    ///
    /// # Errors
    /// [`LensError::FieldOfView`] if it is below [`Self::LEAST_FIELD_DEGREES`] or above
    /// [`Self::greatest_field_degrees`]; [`LensError::FieldTurnsBack`] if that is where a polynomial turns back.
    pub fn admit(&self, field: &FieldOfView) -> Result<(), LensError> {
        let (least, greatest) = (Self::LEAST_FIELD_DEGREES, self.greatest_field_degrees());
        if (least..=greatest).contains(&field.degrees()) {
            return Ok(());
        }
        let (span, degrees) = (field.span(), field.degrees());
        Err(match self {
            Self::Polynomial(polynomial) if degrees > greatest => LensError::FieldTurnsBack {
                span,
                degrees,
                turn_degrees: polynomial.greatest_angle().to_degrees(),
            },
            _ => LensError::FieldOfView { span, degrees, greatest, lens: self.with_article() },
        })
    }

    /// The distance from the axis in focal lengths, at an angle from 0; `None` where there is no picture.
    #[must_use]
    pub fn radius(&self, angle: f64) -> Option<f64> {
        let is_seen = (0.0..=self.greatest_angle()).contains(&angle);
        is_seen.then(|| match self {
            Self::Rectilinear => angle.tan(),
            Self::Equidistant => angle,
            Self::Equisolid => 2.0 * (angle / 2.0).sin(),
            Self::Stereographic => 2.0 * (angle / 2.0).tan(),
            Self::Orthographic => angle.sin(),
            Self::Polynomial(polynomial) => polynomial.radius(angle),
        })
    }

    /// The angle off the axis at a distance in focal lengths, from 0; `None` where there is no picture.
    #[must_use]
    pub fn angle(&self, radius: f64) -> Option<f64> {
        let reach = match self {
            Self::Rectilinear | Self::Stereographic => f64::INFINITY,
            Self::Equidistant => PI,
            Self::Equisolid => 2.0,
            Self::Orthographic => 1.0,
            Self::Polynomial(polynomial) => polynomial.greatest_radius(),
        };
        let angle = (0.0..=reach).contains(&radius).then(|| match self {
            Self::Rectilinear => radius.atan(),
            Self::Equidistant => radius,
            Self::Equisolid => 2.0 * (radius / 2.0).asin(),
            Self::Stereographic => 2.0 * (radius / 2.0).atan(),
            Self::Orthographic => radius.asin(),
            Self::Polynomial(polynomial) => polynomial.angle(radius),
        });
        angle.filter(|angle| *angle <= self.greatest_angle())
    }

    /// The scale outwards, `dr/dt`, in focal lengths per radian: 1 on the axis; 0 at a rim where the mapping turns.
    pub(super) fn radial_scale(&self, angle: f64) -> f64 {
        match self {
            Self::Rectilinear => angle.cos().powi(-2),
            Self::Equidistant => 1.0,
            Self::Equisolid => (angle / 2.0).cos(),
            Self::Stereographic => (angle / 2.0).cos().powi(-2),
            Self::Orthographic => angle.cos(),
            Self::Polynomial(polynomial) => polynomial.slope(angle),
        }
    }

    /// The scale round the axis, `r / sin t`, in focal lengths per radian: 1 on the axis.
    pub(super) fn tangential_scale(&self, angle: f64) -> f64 {
        let over_sine = |radius: f64| if angle > 0.0 { radius / angle.sin() } else { 1.0 };
        match self {
            Self::Rectilinear => angle.cos().recip(),
            Self::Equidistant => over_sine(angle),
            Self::Equisolid => (angle / 2.0).cos().recip(),
            Self::Stereographic => (angle / 2.0).cos().powi(-2),
            Self::Orthographic => 1.0,
            Self::Polynomial(polynomial) => over_sine(polynomial.radius(angle)),
        }
    }
}

impl fmt::Display for Mapping {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[expect(clippy::approx_constant, reason = "the digits of the published table")]
    fn the_five_mappings_are_those_of_the_texts() {
        // Formulae as at optowiki.info, "Fisheye projection types"; values computed from them, f = 1, in the order
        // of NAMED.
        for (degrees, radii) in [
            (30.0, [0.577_350, 0.523_599, 0.517_638, 0.535_898, 0.5]),
            (45.0, [1.0, 0.785_398, 0.765_367, 0.828_427, 0.707_107]),
            (60.0, [1.732_051, 1.047_198, 1.0, 1.154_701, 0.866_025]),
            (90.0, [f64::NAN, 1.570_796, 1.414_214, 2.0, 1.0]),
        ] {
            for (mapping, radius) in Mapping::NAMED.into_iter().zip(radii) {
                let found = mapping.radius(f64::to_radians(degrees));
                match found {
                    Some(found) => assert!((found - radius).abs() < 1e-6, "{mapping} {degrees}"),
                    None => assert!(radius.is_nan(), "{mapping} {degrees}"),
                }
            }
        }
        // One focal length from the axis.
        for (mapping, degrees) in
            Mapping::NAMED.into_iter().zip([45.0, 57.2958, 60.0, 53.1301, 90.0])
        {
            let found = mapping.angle(1.0).unwrap().to_degrees();
            assert!((found - degrees).abs() < 5e-5, "{mapping} {found}");
        }
    }

    #[test]
    fn beyond_the_picture_there_is_nothing() {
        for (mapping, degrees) in [
            (Mapping::Rectilinear, 90.0),
            (Mapping::Orthographic, 90.001),
            (Mapping::Stereographic, 180.0),
            (Mapping::Equidistant, 180.001),
            (Mapping::Equisolid, 181.0),
            (Mapping::Equisolid, f64::NAN),
        ] {
            assert_eq!(mapping.radius(f64::to_radians(degrees)), None, "{mapping}");
        }
        for (mapping, radius) in [
            (Mapping::Orthographic, 1.001),
            (Mapping::Equisolid, 2.001),
            (Mapping::Equidistant, 3.15),
            (Mapping::Rectilinear, f64::INFINITY),
            (Mapping::Stereographic, f64::NAN),
            (Mapping::Rectilinear, -0.1),
        ] {
            assert_eq!(mapping.angle(radius), None, "{mapping}");
        }
    }

    #[test]
    fn a_field_of_view_has_the_limits_of_its_mapping() {
        let admitted = |mapping: Mapping, degrees| {
            mapping
                .admit(&FieldOfView::from_degrees(super::super::Span::Horizontal, degrees).unwrap())
        };
        for (mapping, greatest) in
            Mapping::NAMED.into_iter().zip([170.0, 360.0, 360.0, 340.0, 180.0])
        {
            assert!(admitted(mapping, greatest).is_ok(), "{mapping}");
            if greatest < 360.0 {
                let refusal = admitted(mapping, greatest + 0.1).unwrap_err().to_string();
                let told = format!("expected 1 to {greatest} degrees for a");
                assert!(refusal.contains(&told), "{refusal}");
            }
        }
    }
}
