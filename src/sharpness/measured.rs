use crate::geometry::{Raster, Window};
use serde::{Deserialize, Serialize};

/// How sharp frames were measured to be at one distance off their centre.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SharpPlace {
    /// How far from the frame's centre to its corner: 0 is the centre, 1 a corner.
    pub off_centre: f64,
    /// The frequency at which half of the contrast is left, in cycles per px of the file.
    pub mtf50_cycles_per_px: f64,
}

/// How sharp a camera's frames are in one of its modes, as slanted edges showed
/// ([`edge_response`](super::edge_response)): what its lens, its inside crop and its coding leave together.
///
/// Lenses are round, so that a place is known by how far off the centre it is. Between two measured ones sharpness goes
/// along a straight line; nearer to the centre than the first and further out than the last it stays as it was measured.
///
/// ```
/// use lookroom::sharpness::{MeasuredSharpness, SharpPlace};
/// let place = |off_centre, mtf50_cycles_per_px| SharpPlace { off_centre, mtf50_cycles_per_px };
/// let measured = MeasuredSharpness::new(vec![place(0.8, 0.18), place(0.0, 0.34)]).unwrap();
/// assert!((measured.at(0.4) - 0.26).abs() < 1e-12);
/// assert_eq!(measured.at(1.0), 0.18);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredSharpness {
    /// One at least, from the centre outwards.
    places: Vec<SharpPlace>,
}

impl MeasuredSharpness {
    /// The MTF50 that a camera's frame may have, in cycles/px: below, nothing is in focus; above, an edge was drawn.
    pub const MTF50_LIMITS: (f64, f64) = (0.01, 1.0);

    /// From measured places in any order; `None` without any, where one is not within 0 to 1 off the centre and
    /// [`Self::MTF50_LIMITS`], and where two are equally far off the centre.
    #[must_use]
    pub fn new(mut places: Vec<SharpPlace>) -> Option<Self> {
        let (least, greatest) = Self::MTF50_LIMITS;
        let is_sound = |place: &SharpPlace| {
            (0.0..=1.0).contains(&place.off_centre)
                && (least..=greatest).contains(&place.mtf50_cycles_per_px)
        };
        places.sort_by(|a, b| a.off_centre.total_cmp(&b.off_centre));
        let are_apart = places.windows(2).all(|pair| pair[0].off_centre < pair[1].off_centre);
        (!places.is_empty() && places.iter().all(is_sound) && are_apart).then_some(Self { places })
    }

    /// The MTF50 this far off the centre, in cycles/px.
    #[must_use]
    pub fn at(&self, off_centre: f64) -> f64 {
        let beyond = self.places.partition_point(|place| place.off_centre <= off_centre);
        let (Some(inner), Some(outer)) = (beyond.checked_sub(1), self.places.get(beyond)) else {
            return self.places[beyond.saturating_sub(1)].mtf50_cycles_per_px;
        };
        let inner = self.places[inner];
        let share = (off_centre - inner.off_centre) / (outer.off_centre - inner.off_centre);
        inner.mtf50_cycles_per_px + share * (outer.mtf50_cycles_per_px - inner.mtf50_cycles_per_px)
    }
}

/// How far a window's centre is off the frame's, as a share of the way to a corner: 0 to 1 inside the frame.
///
/// ```
/// use lookroom::{geometry::{Raster, Window}, sharpness::off_centre};
/// let raster = Raster::new(4000, 3000)?;
/// let window = Window::inside(raster, (3000.0, 2250.0), (1000.0, 750.0))?;
/// assert_eq!(off_centre(&window, raster), 0.75); // (1500, 1125) of (2000, 1500)
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[must_use]
pub fn off_centre(window: &Window, frame: Raster) -> f64 {
    share_to_corner((window.centre_x(), window.centre_y()), (frame.width(), frame.height()))
}

/// How far a place is from the centre of a frame of this size, as a share of the way to a corner.
pub(super) fn share_to_corner((x, y): (f64, f64), (width, height): (f64, f64)) -> f64 {
    (x - width / 2.0).hypot(y - height / 2.0) / (width / 2.0).hypot(height / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(off_centre: f64, mtf50_cycles_per_px: f64) -> SharpPlace {
        SharpPlace { off_centre, mtf50_cycles_per_px }
    }

    #[test]
    fn one_place_stands_for_the_whole_frame() {
        let measured = MeasuredSharpness::new(vec![place(0.5, 0.2)]).unwrap();
        assert_eq!([0.0, 0.5, 1.0].map(|off_centre| measured.at(off_centre)), [0.2; 3]);
    }

    #[test]
    fn sharpness_goes_straight_from_place_to_place_and_stays_beyond_them() {
        let places = vec![place(0.9, 0.1), place(0.2, 0.3), place(0.6, 0.25)];
        let measured = MeasuredSharpness::new(places).unwrap();
        for (off_centre, mtf50) in [
            (0.0, 0.3),
            (0.2, 0.3),
            (0.4, 0.275),
            (0.6, 0.25),
            (0.75, 0.175),
            (0.9, 0.1),
            (1.0, 0.1),
        ] {
            assert!((measured.at(off_centre) - mtf50).abs() < 1e-12, "{off_centre}");
        }
    }

    #[test]
    fn what_cannot_have_been_measured_is_none() {
        for places in [
            vec![],
            vec![place(-0.1, 0.3)],
            vec![place(1.1, 0.3)],
            vec![place(f64::NAN, 0.3)],
            vec![place(0.0, 0.0)],
            vec![place(0.0, 1.1)],
            vec![place(0.5, 0.3), place(0.5, 0.2)],
        ] {
            assert_eq!(MeasuredSharpness::new(places.clone()), None, "{places:?}");
        }
    }
}
