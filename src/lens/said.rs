use super::{Between, Calibrated, FieldOfView, Lens, LensError, Mapping, PossibleLenses};
use crate::geometry::Raster;
use std::str::FromStr;

/// What was said of a lens's mapping.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SaidMapping {
    /// It is this one.
    Known(Mapping),
    /// Nobody knows.
    Unknown,
}

impl SaidMapping {
    /// What a lens of unknown mapping may be. Stereographic pictures lie between the two; equisolid and orthographic ones
    /// lie beyond the equidistant one.
    pub const CANDIDATES: [Mapping; 2] = [Mapping::Rectilinear, Mapping::Equidistant];

    /// The name of the unknown one in files and options.
    pub const UNKNOWN: &'static str = "unknown";

    /// Its name in files and options.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Known(mapping) => mapping.name(),
            Self::Unknown => Self::UNKNOWN,
        }
    }

    /// Whether there can be such a field of view: of an unknown lens, whether each that it may be can have it.
    ///
    /// # Errors
    /// As [`Mapping::admit`].
    pub fn admit(&self, field: &FieldOfView) -> Result<(), LensError> {
        match self {
            Self::Known(mapping) => mapping.admit(field),
            Self::Unknown => Self::CANDIDATES.iter().try_for_each(|mapping| mapping.admit(field)),
        }
    }
}

impl FromStr for SaidMapping {
    type Err = LensError;

    /// Reads the name of a mapping, or `polynomial:` and its four coefficients, or `unknown`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if text == Self::UNKNOWN {
            return Ok(Self::Unknown);
        }
        if let Some(coefficients) = text.strip_prefix("polynomial:") {
            return Ok(Self::Known(Mapping::Polynomial(coefficients.parse()?)));
        }
        let named = Mapping::NAMED.into_iter().find(|mapping| mapping.name() == text);
        named.map(Self::Known).ok_or_else(|| LensError::NotAMapping { text: text.to_owned() })
    }
}

/// How large a lens draws, as it was said.
#[derive(Debug, Clone, PartialEq)]
pub enum SaidScale {
    /// Fields of view, one at least.
    Fields(Vec<FieldOfView>),
    /// What a calibration found, in px of a picture of this raster.
    Calibrated(Raster, Calibrated),
}

/// A lens as it was said: of the camera's own picture, before any turn, and without an inside crop.
#[derive(Debug, Clone, PartialEq)]
pub struct SaidLens {
    /// Its mapping.
    pub mapping: SaidMapping,
    /// How large it draws.
    pub scale: SaidScale,
}

impl SaidLens {
    /// How far a recording's shape may be off the calibrated one, as a share. Chosen: modes are rounded to even sides,
    /// which is a tenth of a percent, and 4:3 against 16:9 is a third.
    const SAME_SHAPE: f64 = 0.002;

    /// Whether it was measured, by a calibration or a tape; a field of view in degrees is of a spec sheet or a guess.
    #[must_use]
    pub fn is_measured(&self) -> bool {
        match &self.scale {
            SaidScale::Fields(fields) => fields.iter().all(FieldOfView::is_by_tape),
            SaidScale::Calibrated(..) => true,
        }
    }

    /// What it may be before a camera's own picture of a raster. A calibration is scaled to it.
    ///
    /// # Errors
    /// As [`PossibleLenses::new`] and [`Lens::calibrated`]; [`LensError::CalibratedShape`] if the calibrated picture has
    /// another shape, so that it shows another part of what the lens draws.
    pub fn before(&self, raster: Raster) -> Result<PossibleLenses, LensError> {
        let (calibrated, found) = match &self.scale {
            SaidScale::Fields(fields) => return PossibleLenses::new(raster, self.mapping, fields),
            SaidScale::Calibrated(calibrated, found) => (*calibrated, *found),
        };
        let ratio = |raster: Raster| raster.width() / raster.height();
        if (ratio(calibrated) / ratio(raster) - 1.0).abs() > Self::SAME_SHAPE {
            return Err(LensError::CalibratedShape { calibrated, raster });
        }
        let lens = |mapping| Lens::calibrated(calibrated, mapping, found);
        let lenses = match self.mapping {
            SaidMapping::Known(mapping) => PossibleLenses::from(lens(mapping)?),
            SaidMapping::Unknown => {
                let [one, other] = SaidMapping::CANDIDATES.map(lens);
                PossibleLenses::either(one?, other?)
            }
        };
        Ok(lenses.scaled_to(raster))
    }
}

impl PossibleLenses {
    /// What a lens of these fields of view over a frame may be. Two fields of view can tell a mapping: of an unknown
    /// one, only those candidates stay that agree with all of them.
    ///
    /// # Errors
    /// As [`Lens::new`]; [`LensError::Disagree`] of an unknown one if none of the candidates agrees.
    pub fn new(
        raster: Raster,
        mapping: SaidMapping,
        fields: &[FieldOfView],
    ) -> Result<Self, LensError> {
        if let SaidMapping::Known(mapping) = mapping {
            return Lens::new(raster, mapping, fields).map(Self::from);
        }
        match SaidMapping::CANDIDATES.map(|candidate| Lens::new(raster, candidate, fields)) {
            [Ok(one), Ok(other)] => Ok(Self::either(one, other)),
            [Ok(lens), Err(LensError::Disagree { .. })]
            | [Err(LensError::Disagree { .. }), Ok(lens)] => Ok(Self::from(lens)),
            [Err(one), Err(other)] => Err(both(one, &other)),
            [Err(error), Ok(_)] | [Ok(_), Err(error)] => Err(error),
        }
    }
}

/// What is told if neither candidate is one: both expectations, or the first error.
fn both(mut one: LensError, other: &LensError) -> LensError {
    if let (
        LensError::Disagree { expected_degrees, second, .. },
        LensError::Disagree { expected_degrees: of_other, second: second_of_other, .. },
    ) = (&mut one, other)
        && second == second_of_other
    {
        let ends = [expected_degrees.from(), of_other.from(), expected_degrees.to(), of_other.to()];
        *expected_degrees = Between::all(ends).unwrap_or(*expected_degrees);
    }
    one
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        geometry::SourcePoint,
        lens::{FisheyePolynomial, Span},
    };

    fn raster(text: &str) -> Raster {
        text.parse().unwrap()
    }

    fn calibrated(mapping: SaidMapping) -> SaidLens {
        let found =
            Calibrated { focal_px: (1000.0, 1010.0), centre: SourcePoint { x: 955.0, y: 542.0 } };
        SaidLens { mapping, scale: SaidScale::Calibrated(raster("1920x1080"), found) }
    }

    #[test]
    fn a_calibration_is_scaled_to_the_recorded_raster() {
        // Focal length and axis scale with the picture and the coefficients do not, as OpenCV's documentation says.
        let k = FisheyePolynomial::new([-0.02, 0.01, -0.003, 0.0005]).unwrap();
        let said = calibrated(SaidMapping::Known(Mapping::Polynomial(k)));
        let lenses = said.before(raster("3840x2160")).unwrap();
        let lens = lenses.known().unwrap();
        assert_eq!((lens.focal_px(), lens.focal_down_px()), (2000.0, 2020.0));
        assert_eq!(lens.centre(), SourcePoint { x: 1910.0, y: 1084.0 });
        let small = said.before(raster("1920x1080")).unwrap();
        let [right, down, ahead] =
            small.known().unwrap().direction(SourcePoint { x: 300.0, y: 200.0 }).unwrap();
        let same = lens.direction(SourcePoint { x: 600.0, y: 400.0 }).unwrap();
        assert!((same[0] - right).hypot(same[1] - down).hypot(same[2] - ahead) < 1e-12);
    }

    #[test]
    fn a_mapping_is_read_by_its_name() {
        for mapping in Mapping::NAMED {
            assert_eq!(mapping.name().parse(), Ok(SaidMapping::Known(mapping)));
        }
        assert_eq!("unknown".parse(), Ok(SaidMapping::Unknown));
        let k = FisheyePolynomial::new([-0.02, 0.01, -0.003, 0.0005]).unwrap();
        let read = "polynomial:-0.02, 0.01,-0.003,0.0005".parse();
        assert_eq!(read, Ok(SaidMapping::Known(Mapping::Polynomial(k))));
        for (text, told) in [
            ("fisheye", "`fisheye` is no mapping; write rectilinear, equidistant,"),
            ("polynomial", "or polynomial: and its four coefficients"),
            ("polynomial:1,2,3", "`1,2,3` is no polynomial"),
            ("polynomial:1,2,3,x", "for example -0.02,0.01,-0.003,0.0005"),
            ("polynomial:1,2,3,1e9", "k4 of 1000000000 is out of range"),
        ] {
            let refusal = text.parse::<SaidMapping>().unwrap_err().to_string();
            assert!(refusal.contains(told), "{refusal}");
        }
    }

    #[test]
    fn a_calibration_of_another_shape_is_refused_and_one_that_is_rounded_is_not() {
        let said = calibrated(SaidMapping::Known(Mapping::Equidistant));
        let told = said.before(raster("4000x3000")).unwrap_err().to_string();
        assert!(told.contains("a 1920x1080 picture") && told.contains("4000x3000"), "{told}");
        assert!(said.before(raster("2704x1520")).is_ok());
    }

    #[test]
    fn an_unknown_mapping_with_a_known_focal_length_is_the_same_in_the_middle_only() {
        let lenses = calibrated(SaidMapping::Unknown).before(raster("1920x1080")).unwrap();
        let focal = lenses.focal_px();
        assert_eq!((focal.from(), focal.to()), (1000.0, 1000.0));
        // By hand: 955 and 965 px out are atan(0.955) + atan(0.965) = 43.681 + 43.980, and 1.92 radians.
        let across = lenses.field_of_view(Span::Horizontal).to_degrees();
        assert!((across.from() - 87.661).abs() < 5e-4, "{across}");
        assert!((across.to() - 1.92_f64.to_degrees()).abs() < 1e-9, "{across}");
    }
}
