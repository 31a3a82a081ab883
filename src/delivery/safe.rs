use crate::geometry::Raster;

/// A box inside a delivered raster, in whole px from its top left corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SafeBox {
    /// Px between the raster's left (and right) edge and the box.
    pub inset_x_px: u32,
    /// Px between the raster's top (and bottom) edge and the box.
    pub inset_y_px: u32,
    /// Width in px.
    pub width_px: u32,
    /// Height in px.
    pub height_px: u32,
}

/// The two boxes that broadcasters ask for: action inside the first, captions and graphics inside the
/// second, smaller one.
///
/// 3.5 % in from each edge for action and 5 % for graphics: EBU R 95 rev. 1 (2016) and ITU-R BT.1848-1
/// (2015), read in second-hand sources, for 16:9. Using them for other shapes is our extension.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SafeAreas {
    /// Essential action stays inside.
    pub action: SafeBox,
    /// Graphics and captions stay inside.
    pub graphics: SafeBox,
}

impl SafeAreas {
    const ACTION_PER_MILLE: u32 = 35;
    const GRAPHICS_PER_MILLE: u32 = 50;

    /// The boxes of a raster. The *insets* are rounded to whole px, half a px up, which gives 1786 x 1004 at
    /// 1920 x 1080 as published; rounding the size instead gives 3571 and not 3572 px at 3840.
    ///
    /// ```
    /// use lookroom::{delivery::SafeAreas, geometry::Raster};
    /// let safe = SafeAreas::of(Raster::new(1920, 1080)?);
    /// assert_eq!((safe.action.width_px, safe.action.height_px), (1786, 1004));
    /// assert_eq!((safe.graphics.width_px, safe.graphics.height_px), (1728, 972));
    /// # Ok::<(), lookroom::geometry::GeometryError>(())
    /// ```
    #[must_use]
    pub fn of(raster: Raster) -> Self {
        Self {
            action: inset(raster, Self::ACTION_PER_MILLE),
            graphics: inset(raster, Self::GRAPHICS_PER_MILLE),
        }
    }
}

const fn inset(raster: Raster, per_mille: u32) -> SafeBox {
    let (inset_x_px, inset_y_px) = (
        (raster.width_px() * per_mille + 500) / 1000,
        (raster.height_px() * per_mille + 500) / 1000,
    );
    SafeBox {
        inset_x_px,
        inset_y_px,
        width_px: raster.width_px() - 2 * inset_x_px,
        height_px: raster.height_px() - 2 * inset_y_px,
    }
}
