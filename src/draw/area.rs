use crate::{
    geometry::{Raster, Region},
    picture::RgbImage,
};

/// A box of whole picture px: the left and top edges are inside, the right and bottom ones are not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Area {
    pub(super) left: i32,
    pub(super) top: i32,
    pub(super) right: i32,
    pub(super) bottom: i32,
}

impl Area {
    pub(super) const fn sized((left, top): (i32, i32), (width, height): (i32, i32)) -> Self {
        Self { left, top, right: left + width, bottom: top + height }
    }

    /// The whole of a picture.
    pub(super) fn of(picture: &RgbImage) -> Self {
        Self::sized((0, 0), (whole_px(picture.width()), whole_px(picture.height())))
    }

    pub(super) const fn width(self) -> i32 {
        self.right - self.left
    }

    pub(super) const fn height(self) -> i32 {
        self.bottom - self.top
    }

    pub(super) const fn is_empty(self) -> bool {
        self.right <= self.left || self.bottom <= self.top
    }

    pub(super) const fn centre(self) -> (i32, i32) {
        (i32::midpoint(self.left, self.right), i32::midpoint(self.top, self.bottom))
    }

    /// What the two have in common; empty if they have nothing.
    pub(super) fn clipped(self, other: Self) -> Self {
        Self {
            left: self.left.max(other.left),
            top: self.top.max(other.top),
            right: self.right.min(other.right),
            bottom: self.bottom.min(other.bottom),
        }
    }

    pub(super) fn overlaps(self, other: Self) -> bool {
        !self.clipped(other).is_empty()
    }

    pub(super) const fn holds(self, other: Self) -> bool {
        other.left >= self.left
            && other.top >= self.top
            && other.right <= self.right
            && other.bottom <= self.bottom
    }

    /// The box with each edge moved towards the middle.
    pub(super) const fn inset(self, by: i32) -> Self {
        Self {
            left: self.left + by,
            top: self.top + by,
            right: self.right - by,
            bottom: self.bottom - by,
        }
    }

    pub(super) const fn moved(self, right: i32, down: i32) -> Self {
        Self {
            left: self.left + right,
            top: self.top + down,
            right: self.right + right,
            bottom: self.bottom + down,
        }
    }
}

/// Where capture px land in a picture of the frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct PictureFromCapture {
    scale_x: f64,
    scale_y: f64,
    picture: Area,
}

impl PictureFromCapture {
    /// The map of a frame that fills a box of picture px.
    pub(super) fn new(capture: Raster, picture: Area) -> Self {
        Self {
            scale_x: f64::from(picture.width()) / capture.width(),
            scale_y: f64::from(picture.height()) / capture.height(),
            picture,
        }
    }

    /// The picture px nearest to a box, at least one each way. It hangs over if the box does.
    pub(super) fn area(&self, region: &Region) -> Area {
        let (left, right) =
            (nearest_px(region.left() * self.scale_x), nearest_px(region.right() * self.scale_x));
        let (top, bottom) =
            (nearest_px(region.top() * self.scale_y), nearest_px(region.bottom() * self.scale_y));
        let area = Area { left, top, right: right.max(left + 1), bottom: bottom.max(top + 1) };
        area.moved(self.picture.left, self.picture.top)
    }
}

/// Beyond any picture that is made here, and small enough for sums.
const FAR_PX: i32 = 1_000_000;

/// A length or place in px, rounded; what is far outside any picture stays so.
#[expect(clippy::cast_possible_truncation, reason = "the number is within a million of zero")]
pub(super) fn nearest_px(length: f64) -> i32 {
    length.round().clamp(f64::from(-FAR_PX), f64::from(FAR_PX)) as i32
}

/// A picture's side for sums with signed numbers.
pub(super) fn whole_px(side_px: u32) -> i32 {
    i32::try_from(side_px).unwrap_or(FAR_PX).min(FAR_PX)
}

/// A side for making a picture: at least one px.
pub(super) fn side_px(length: i32) -> u32 {
    u32::try_from(length).unwrap_or(1).max(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_capture_box_lands_on_its_share_of_the_picture() {
        let capture = Raster::new(4000, 3000).unwrap();
        let map = PictureFromCapture::new(capture, Area::sized((10, 20), (400, 300)));
        let region = Region::new(1000.0, 0.0, 2000.0, 3000.0).unwrap();
        assert_eq!(map.area(&region), Area::sized((110, 20), (200, 300)));
    }

    #[test]
    fn a_box_of_any_size_anywhere_gives_px_that_can_be_added() {
        let capture = Raster::new(1, 1).unwrap();
        let map = PictureFromCapture::new(capture, Area::sized((0, 0), (4000, 4000)));
        for region in [
            Region::new(-1e300, -1e300, 1e301, 1e301).unwrap(),
            Region::new(1e300, 1e300, 1e-300, 1e-300).unwrap(),
        ] {
            let area = map.area(&region);
            assert!(!area.is_empty(), "{area:?}");
        }
    }
}
