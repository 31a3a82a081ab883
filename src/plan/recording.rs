use crate::{
    clip::Clip,
    geometry::{InsideCrop, Raster},
    sharpness::Recording,
};

/// What a clip's file hides, as its enlargements are counted with it; how sharp it was measured is not known here.
#[must_use]
pub fn recording_of(clip: &Clip) -> Recording {
    Recording {
        inside_factor: clip.inside_crop.linear_factor(),
        bits_per_px: clip.facts.bits_per_px(),
        sharpness: None,
    }
}

/// What is told once of a file whose camera cropped inside; `None` without a crop.
///
/// ```
/// use lookroom::geometry::Raster;
/// let (crop, raster) = ("of-width:0.1".parse()?, Raster::new(4000, 3000)?);
/// assert_eq!(
///     lookroom::plan::inside_crop_words(&crop, raster).unwrap(),
///     "inside crop 10 % of width: each px of the file carries 0.900 of a sensor px across and down; E is \
///      stated with it; the file says 4000 px across, you have about 3600"
/// );
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[must_use]
pub fn inside_crop_words(crop: &InsideCrop, raster: Raster) -> Option<String> {
    let factor = crop.linear_factor();
    (!crop.is_none()).then(|| {
        format!(
            "inside crop {}: each px of the file carries {factor:.3} of a sensor px across and down; E is stated \
             with it; the file says {} px across, you have about {:.0}",
            crop.as_written(),
            raster.width_px(),
            factor * raster.width()
        )
    })
}
