use crate::{picture::LumaPlane, sharpness::measured::share_to_corner};
use std::{fmt, str::FromStr};

/// The part of a picture that an edge is in, in whole px: its top left corner, and its size.
///
/// ```
/// use lookroom::sharpness::EdgeRegion;
/// let region: EdgeRegion = "130,66,120x260".parse()?;
/// assert_eq!((region.left_px, region.height_px), (130, 260));
/// assert_eq!(region.to_string(), "120x260 at 130,66");
/// # Ok::<(), lookroom::sharpness::EdgeRegionError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct EdgeRegion {
    /// Its first column.
    pub left_px: u32,
    /// Its first row.
    pub top_px: u32,
    /// How many columns.
    pub width_px: u32,
    /// How many rows.
    pub height_px: u32,
}

/// A text that is no region.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{text}` is not a region; write left, top and size in whole px, for example 130,66,120x260"
)]
pub struct EdgeRegionError {
    /// What was read.
    pub text: String,
}

impl FromStr for EdgeRegion {
    type Err = EdgeRegionError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let read = || {
            let mut parts = text.split(',').map(str::trim);
            let (left, top, size) = (parts.next()?, parts.next()?, parts.next()?);
            let (width, height) = size.split_once(['x', 'X'])?;
            let number = |word: &str| word.trim().parse::<u32>().ok();
            let region = Self {
                left_px: number(left)?,
                top_px: number(top)?,
                width_px: number(width)?,
                height_px: number(height)?,
            };
            let has_size = region.width_px > 0 && region.height_px > 0;
            (parts.next().is_none() && has_size).then_some(region)
        };
        read().ok_or_else(|| EdgeRegionError { text: text.to_owned() })
    }
}

impl EdgeRegion {
    /// How far its middle is from the centre of a picture of so many px across and down, as a share of the way to a
    /// corner.
    #[must_use]
    pub fn off_centre(&self, (width_px, height_px): (usize, usize)) -> f64 {
        let middle = |first: u32, count: u32| f64::from(first) + f64::from(count) / 2.0;
        #[expect(clippy::cast_precision_loss, reason = "a picture has far fewer than 2^53 px")]
        let size = (width_px as f64, height_px as f64);
        let (x, y) = (middle(self.left_px, self.width_px), middle(self.top_px, self.height_px));
        share_to_corner((x, y), size)
    }
}

impl fmt::Display for EdgeRegion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}x{} at {},{}", self.width_px, self.height_px, self.left_px, self.top_px)
    }
}

impl EdgeRegion {
    /// The region's columns and rows, if all of them are in the picture.
    pub(super) fn inside(
        self,
        plane: &LumaPlane,
    ) -> Option<(std::ops::Range<usize>, std::ops::Range<usize>)> {
        let span = |from: u32, length: u32, side: usize| {
            let from = usize::try_from(from).ok()?;
            let end = from.checked_add(usize::try_from(length).ok()?)?;
            (end <= side).then_some(from..end)
        };
        let columns = span(self.left_px, self.width_px, plane.width_px())?;
        Some((columns, span(self.top_px, self.height_px, plane.height_px())?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_region_is_refused() {
        for text in ["", "1,2", "1,2,3", "1,2,0x5", "-1,2,3x4", "1,2,3x4,5", "1.5,2,3x4", "a,b,cxd"]
        {
            let fault = text.parse::<EdgeRegion>().unwrap_err();
            assert!(fault.to_string().contains("130,66,120x260"), "{text}");
        }
    }
}
