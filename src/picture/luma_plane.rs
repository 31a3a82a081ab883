use crate::geometry::Raster;

/// The luma of a picture that is measured, each px with all the digits its file has: 0 is black, 1 the greatest
/// code value (255 of 8 bits, 65535 of 16).
///
/// [`GrayImage`](super::GrayImage) is for what is looked at, and has 8 bits.
#[derive(Debug, Clone, PartialEq)]
pub struct LumaPlane {
    width_px: usize,
    height_px: usize,
    values: Vec<f32>,
    greatest_code: u32,
}

impl LumaPlane {
    /// A plane from its rows, one after the other. `None` if there are not as many values as px, or a value is
    /// not from 0 to 1.
    #[must_use]
    pub fn new(raster: Raster, values: Vec<f32>, greatest_code: u32) -> Option<Self> {
        let side = |side_px| usize::try_from(side_px).ok();
        let (width_px, height_px) = (side(raster.width_px())?, side(raster.height_px())?);
        let is_whole = width_px.checked_mul(height_px) == Some(values.len());
        let is_inside = values.iter().all(|value| (0.0..=1.0).contains(value));
        (is_whole && is_inside && greatest_code > 0).then_some(Self {
            width_px,
            height_px,
            values,
            greatest_code,
        })
    }

    /// Width.
    #[must_use]
    pub const fn width_px(&self) -> usize {
        self.width_px
    }

    /// Height.
    #[must_use]
    pub const fn height_px(&self) -> usize {
        self.height_px
    }

    /// The greatest code value of the file: 255 of 8 bits, 65535 of 16.
    #[must_use]
    pub const fn greatest_code(&self) -> u32 {
        self.greatest_code
    }

    /// A row, from the top; empty below the last.
    #[must_use]
    pub fn row(&self, y: usize) -> &[f32] {
        let from = y.saturating_mul(self.width_px);
        self.values.get(from..from.saturating_add(self.width_px)).unwrap_or(&[])
    }

    /// The plane with rows and columns exchanged.
    #[must_use]
    pub fn transposed(&self) -> Self {
        let columns = 0..self.width_px;
        let values = columns.flat_map(|x| self.values.iter().skip(x).step_by(self.width_px));
        Self {
            width_px: self.height_px,
            height_px: self.width_px,
            values: values.copied().collect(),
            greatest_code: self.greatest_code,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_become_columns() {
        let raster = Raster::new(3, 2).unwrap();
        let plane = LumaPlane::new(raster, vec![0.0, 0.1, 0.2, 0.3, 0.4, 0.5], 255).unwrap();
        assert_eq!(plane.row(1), [0.3, 0.4, 0.5]);
        assert_eq!(plane.row(2), [0.0; 0]);
        let turned = plane.transposed();
        assert_eq!((turned.width_px(), turned.height_px()), (2, 3));
        assert_eq!(turned.row(2), [0.2, 0.5]);
        assert_eq!(turned.transposed(), plane);
    }

    #[test]
    fn what_is_no_picture_is_no_plane() {
        let raster = Raster::new(2, 1).unwrap();
        assert!(LumaPlane::new(raster, vec![0.0], 255).is_none());
        assert!(LumaPlane::new(raster, vec![0.0, f32::NAN], 255).is_none());
        assert!(LumaPlane::new(raster, vec![0.0, 1.5], 255).is_none());
    }
}
