//! The lens of a camera, as the shoot file says it.

use super::{
    FaultKind,
    table::TableReader,
    value::{number, number_within, one_of, parsed, wrong_type},
};
use crate::{
    geometry::{Raster, SourcePoint},
    lens::{
        Calibrated, FieldOfView, FisheyePolynomial, Lens, LensError, Mapping, SaidLens,
        SaidMapping, SaidScale, Span,
    },
};
use toml::de::DeValue;

const FIELDS: [(&str, Span); 3] = [
    ("fov_horizontal", Span::Horizontal),
    ("fov_vertical", Span::Vertical),
    ("fov_diagonal", Span::Diagonal),
];
const TAPES: [(&str, Span); 2] =
    [("seen_width", Span::Horizontal), ("seen_height", Span::Vertical)];
const FIELD_KEYS: [&str; 6] =
    ["fov_horizontal", "fov_vertical", "fov_diagonal", "seen_width", "seen_height", "at_distance"];
const CALIBRATION_KEYS: [&str; 5] =
    ["calibrated_raster", "focal_x", "focal_y", "centre_x", "centre_y"];
const COEFFICIENTS: [&str; 4] = ["k1", "k2", "k3", "k4"];

/// A mapping by its name. A polynomial has its coefficients elsewhere.
#[derive(Clone, Copy)]
enum Named {
    Said(SaidMapping),
    Polynomial,
}

const MAPPINGS: [(&str, Named); 7] = [
    (Mapping::Rectilinear.name(), Named::Said(SaidMapping::Known(Mapping::Rectilinear))),
    (Mapping::Equidistant.name(), Named::Said(SaidMapping::Known(Mapping::Equidistant))),
    (Mapping::Equisolid.name(), Named::Said(SaidMapping::Known(Mapping::Equisolid))),
    (Mapping::Stereographic.name(), Named::Said(SaidMapping::Known(Mapping::Stereographic))),
    (Mapping::Orthographic.name(), Named::Said(SaidMapping::Known(Mapping::Orthographic))),
    ("polynomial", Named::Polynomial),
    (SaidMapping::UNKNOWN, Named::Said(SaidMapping::Unknown)),
];

/// Reads `lens = { mapping = "rectilinear", fov_horizontal = 90 }`: the mapping, and how large it draws. `None` if it is
/// left out or has a fault. Whether several fields of view agree shows once the raster is known.
pub(super) fn lens(table: &mut TableReader<'_>) -> Option<SaidLens> {
    let is_table = |value: &DeValue<'_>| match value {
        DeValue::Table(_) => Ok(()),
        _ => Err(wrong_type(
            "a table such as { mapping = \"rectilinear\", fov_horizontal = 90 }",
            value,
        )),
    };
    table.take("lens", is_table)?;
    let mut lens = table.inner("lens", "lens")?;
    let remedy = "how it maps angles: \"rectilinear\" keeps straight lines straight, the others are fisheyes; where it is \
                  not known, \"unknown\"";
    let named = lens.need("mapping", remedy, one_of(&MAPPINGS));
    let mapping = match named {
        Some(Named::Said(mapping)) => Some(mapping),
        Some(Named::Polynomial) => {
            polynomial(&mut lens).map(|k| SaidMapping::Known(Mapping::Polynomial(k)))
        }
        None => {
            // Of a mapping that is not understood, nobody can say that its coefficients are too many.
            lens.pass_over(&COEFFICIENTS);
            None
        }
    };
    let scale = scale(&mut lens, mapping);
    lens.finish();
    Some(SaidLens { mapping: mapping?, scale: scale? })
}

/// The polynomial of the four coefficients; a calibration finds all of them.
fn polynomial(lens: &mut TableReader<'_>) -> Option<FisheyePolynomial> {
    let remedy = "a coefficient of the polynomial; 0 where the calibration has none";
    let greatest = FisheyePolynomial::GREATEST_COEFFICIENT;
    let within = number_within(-greatest, greatest, "");
    let [k1, k2, k3, k4] = COEFFICIENTS.map(|key| lens.need(key, remedy, &within));
    FisheyePolynomial::new([k1?, k2?, k3?, k4?]).ok()
}

/// How large the lens draws: fields of view, of a spec sheet or by a tape, or a calibration's focal length.
fn scale(lens: &mut TableReader<'_>, mapping: Option<SaidMapping>) -> Option<SaidScale> {
    let first = |lens: &TableReader<'_>, keys: &[&'static str]| {
        keys.iter().copied().find(|key| lens.has(key))
    };
    let by_field = first(lens, &FIELD_KEYS);
    let by_calibration = first(lens, &CALIBRATION_KEYS);
    let fields = fields(lens, mapping);
    let calibrated = if by_calibration.is_some() {
        calibrated(lens)
    } else {
        lens.pass_over(&CALIBRATION_KEYS);
        None
    };
    match (by_field, by_calibration) {
        (Some(first), Some(second)) => {
            lens.fault(second, FaultKind::Both { table: "lens", first, second });
            None
        }
        (Some(_), None) => fields.map(SaidScale::Fields),
        (None, Some(_)) => calibrated,
        (None, None) => {
            lens.missing(
                "fov_horizontal",
                "`fov_vertical` or `fov_diagonal` in degrees, or what a tape measured: `seen_width` and `at_distance`",
            );
            None
        }
    }
}

/// Every field of view that is written; `None` if one has a fault.
fn fields(lens: &mut TableReader<'_>, mapping: Option<SaidMapping>) -> Option<Vec<FieldOfView>> {
    let admitted = |field: Result<FieldOfView, LensError>| {
        let field = field?;
        if let Some(mapping) = mapping {
            mapping.admit(&field)?;
        }
        Ok::<_, FaultKind>(field)
    };
    let mut fields = Vec::new();
    for (key, span) in FIELDS {
        let read = |value: &DeValue<'_>| admitted(FieldOfView::from_degrees(span, number(value)?));
        fields.push((lens.has(key), lens.take(key, read)));
    }
    let is_taped = TAPES.iter().any(|(key, _)| lens.has(key));
    let distance = if is_taped {
        let remedy = "how far the lens was from what is seen, in the same unit";
        lens.need("at_distance", remedy, number)
    } else {
        if lens.has("at_distance") {
            lens.missing("seen_width", "or `seen_height`: how much is seen `at_distance`");
        }
        lens.take("at_distance", number)
    };
    for (key, span) in TAPES {
        let read = |value: &DeValue<'_>| {
            let seen = number(value)?;
            let by_tape = |distance| admitted(FieldOfView::by_tape(span, seen, distance));
            distance.map(by_tape).transpose()
        };
        fields.push((lens.has(key), lens.take(key, read).flatten()));
    }
    let written = fields.into_iter().filter(|(is_written, _)| *is_written);
    let read: Option<Vec<FieldOfView>> = written.map(|(_, field)| field).collect();
    read.filter(|fields| !fields.is_empty())
}

/// What a calibration found.
fn calibrated(lens: &mut TableReader<'_>) -> Option<SaidScale> {
    let raster: Option<Raster> = lens.need(
        "calibrated_raster",
        "the raster whose px the calibration counts in, for example \"1920x1080\"",
        parsed,
    );
    let (least, greatest) = Lens::FOCAL_LIMITS_PX;
    let focal = "a focal length of the calibration, in px";
    let focal_x = lens.need("focal_x", focal, number_within(least, greatest, "px"));
    let focal_y = lens.need("focal_y", focal, number_within(least, greatest, "px"));
    let centre = "where the axis meets the frame, in px from its left and upper edge";
    let (x, y) = (lens.need("centre_x", centre, number), lens.need("centre_y", centre, number));
    let found = Calibrated { focal_px: (focal_x?, focal_y?), centre: SourcePoint { x: x?, y: y? } };
    Some(SaidScale::Calibrated(raster?, found))
}

impl From<LensError> for FaultKind {
    fn from(source: LensError) -> Self {
        Self::Lens { source }
    }
}
