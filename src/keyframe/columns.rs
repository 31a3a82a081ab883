use crate::geometry::{OutputFromSource, Raster, Window};

/// Decimals of a published length in px.
pub const PX_DIGITS: usize = 4;

/// Decimals of a published scale. A window of 4000 px is off by less than 0.00001 px through it.
pub const SCALE_DIGITS: usize = 9;

/// The numbers that a hand-off file publishes for one window, rounded as they are published.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Columns {
    /// The window's left edge, source px.
    pub left: f64,
    /// The window's top edge, source px.
    pub top: f64,
    /// The window's width, source px.
    pub width: f64,
    /// The window's height, source px.
    pub height: f64,
    /// The window's centre across, source px.
    pub centre_x: f64,
    /// The window's centre down, source px.
    pub centre_y: f64,
    /// Delivered px for each source px, across.
    pub scale_x: f64,
    /// Delivered px for each source px, down.
    pub scale_y: f64,
    /// How far the picture is moved across after scaling about the source centre, delivered px.
    pub offset_x: f64,
    /// How far the picture is moved down after scaling about the source centre, delivered px.
    pub offset_y: f64,
}

impl Columns {
    /// The published numbers of a window.
    #[must_use]
    pub fn of(window: &Window, source: Raster, delivered: Raster) -> Self {
        let map = OutputFromSource::upright(source, window, delivered);
        let ((scale_x, scale_y), (offset_x, offset_y)) = (map.scale(), map.picture_offset_px());
        let (px, scale) = (|v| rounded(v, PX_DIGITS), |v| rounded(v, SCALE_DIGITS));
        Self {
            left: px(window.left()),
            top: px(window.top()),
            width: px(window.width()),
            height: px(window.height()),
            centre_x: px(window.centre_x()),
            centre_y: px(window.centre_y()),
            scale_x: scale(scale_x),
            scale_y: scale(scale_y),
            offset_x: px(offset_x),
            offset_y: px(offset_y),
        }
    }

    /// The window between this key (`share` 0) and the next (`share` 1), with one set of columns run in
    /// straight lines and the others left unread.
    #[must_use]
    pub fn between(
        &self,
        next: &Self,
        share: f64,
        set: ColumnSet,
        rasters: (Raster, Raster),
    ) -> Rebuilt {
        let mix = |column: fn(&Self) -> f64| column(self) + (column(next) - column(self)) * share;
        let (source, delivered) = rasters;
        if set == ColumnSet::CornerAndSize {
            let (left, top) = (mix(|c| c.left), mix(|c| c.top));
            return Rebuilt { left, top, width: mix(|c| c.width), height: mix(|c| c.height) };
        }
        let (scale_x, scale_y) = (mix(|c| c.scale_x), mix(|c| c.scale_y));
        let (width, height) = (delivered.width() / scale_x, delivered.height() / scale_y);
        let (centre_x, centre_y) = if set == ColumnSet::CentreAndScale {
            (mix(|c| c.centre_x), mix(|c| c.centre_y))
        } else {
            (
                source.width() / 2.0 - mix(|c| c.offset_x) / scale_x,
                source.height() / 2.0 - mix(|c| c.offset_y) / scale_y,
            )
        };
        Rebuilt { left: centre_x - width / 2.0, top: centre_y - height / 2.0, width, height }
    }
}

/// A set of columns from which a window can be rebuilt alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColumnSet {
    /// Left, top, width, height in source px.
    CornerAndSize,
    /// The window's centre in source px, and the scale.
    CentreAndScale,
    /// The picture's offset in delivered px (or as a fraction of the delivered size), and the scale.
    OffsetAndScale,
}

impl ColumnSet {
    /// Every set that is published.
    pub const ALL: [Self; 3] = [Self::CornerAndSize, Self::CentreAndScale, Self::OffsetAndScale];
}

/// A window rebuilt from published numbers; it may be off by their rounding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rebuilt {
    /// Left edge, source px.
    pub left: f64,
    /// Top edge, source px.
    pub top: f64,
    /// Width, source px.
    pub width: f64,
    /// Height, source px.
    pub height: f64,
}

impl Rebuilt {
    /// How far any point of the delivered picture is from where the true window puts it, in delivered px.
    ///
    /// The two maps differ by a straight function of the place, so that the largest difference is at a
    /// corner; the larger of the two scales bounds it.
    #[must_use]
    pub fn error_px(&self, truth: &Window, delivered: Raster) -> f64 {
        let along = |start: f64, size: f64, true_start: f64, true_size: f64, delivered: f64| {
            let ends =
                (start - true_start).abs().max((start + size - true_start - true_size).abs());
            ends * (delivered / size).max(delivered / true_size)
        };
        let across = along(self.left, self.width, truth.left(), truth.width(), delivered.width());
        let down = along(self.top, self.height, truth.top(), truth.height(), delivered.height());
        across.max(down)
    }

    /// How far it hangs over the frame at most, in source px; 0 or less is inside.
    #[must_use]
    pub fn overhang_px(&self, source: Raster) -> f64 {
        let across = (-self.left).max(self.left + self.width - source.width());
        let down = (-self.top).max(self.top + self.height - source.height());
        across.max(down)
    }
}

/// A number with so many decimals, halves away from zero, as it is published.
fn rounded(value: f64, digits: usize) -> f64 {
    const POWERS: [f64; 10] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];
    let power = POWERS[digits.min(9)];
    // No negative zero: it would print a sign.
    (value * power).round() / power + 0.0
}
