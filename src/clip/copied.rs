use crate::{
    geometry::{Raster, Region, Window},
    timecode::{FrameIndex, FrameRange},
};
use serde::{Deserialize, Serialize};

/// How the path of one clip becomes that of another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CopyKind {
    /// Another take of the same action: the same windows, later and shifted.
    Repeat,
    /// The camera on the other side: the same windows, left and right exchanged. Its pictures are not flipped.
    Mirror,
}

/// From which clip a clip takes its path, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct PathCopy {
    /// The name of the clip whose path is planned.
    pub from: String,
    /// What becomes of its windows.
    pub kind: CopyKind,
    /// The same moment is so many frames later here; below 0 it is earlier.
    pub frames_later: i64,
    /// So many px further right here; 0 for a mirrored pair.
    pub right_px: f64,
    /// So many px further down.
    pub down_px: f64,
}

/// A window of another clip's path in its place here.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CopiedWindow {
    /// The window, inside the usable area.
    pub window: Window,
    /// By how many px it had to be moved back into the usable area, right and down positive; 0 mostly.
    pub moved_back_px: (f64, f64),
}

impl PathCopy {
    /// The other clip's frame at the moment of one of this clip's; `None` before its first.
    #[must_use]
    pub fn its_frame(&self, this: FrameIndex) -> Option<FrameIndex> {
        this.0.checked_add_signed(self.frames_later.checked_neg()?).map(FrameIndex)
    }

    /// This clip's frame at the moment of one of the other's; `None` before its first.
    #[must_use]
    pub fn this_frame(&self, its: FrameIndex) -> Option<FrameIndex> {
        its.0.checked_add_signed(self.frames_later).map(FrameIndex)
    }

    /// Whether frames of this clip share a moment with frames of the other.
    #[must_use]
    pub fn lies_over(&self, this: FrameRange, its: FrameRange) -> bool {
        let first = self.its_frame(this.first()).unwrap_or(FrameIndex(0));
        let last = self.its_frame(this.last());
        first < its.end() && last.is_some_and(|last| last >= its.first())
    }

    /// A window of the other clip in its place here, inside the usable area: it keeps its size and is moved back
    /// no further than needed. `None` if it is larger than the usable area. Both clips are of this raster.
    ///
    /// ```
    /// use lookroom::{clip::{CopyKind, PathCopy}, geometry::{Raster, Region, Window}};
    /// let raster = Raster::new(4000, 3000)?;
    /// let window = Window::inside(raster, (400.0, 0.0), (1687.5, 3000.0))?;
    /// let pair = PathCopy {
    ///     from: "left".to_owned(),
    ///     kind: CopyKind::Mirror,
    ///     frames_later: 0,
    ///     right_px: 0.0,
    ///     down_px: 0.0,
    /// };
    /// let mirrored = pair.window(&window, raster, &Region::whole(raster)).unwrap();
    /// assert_eq!(mirrored.window.left(), 1912.5);
    /// # Ok::<(), lookroom::geometry::GeometryError>(())
    /// ```
    #[must_use]
    pub fn window(&self, its: &Window, raster: Raster, usable: &Region) -> Option<CopiedWindow> {
        let left = match self.kind {
            CopyKind::Repeat => its.left() + self.right_px,
            CopyKind::Mirror => raster.width() - its.left() - its.width(),
        };
        let top = its.top() + self.down_px;
        let (inside_left, across) =
            moved_inside(left, its.width(), (usable.left(), usable.right()))?;
        let (inside_top, down) = moved_inside(top, its.height(), (usable.top(), usable.bottom()))?;
        let size = (its.width(), its.height());
        let window = Window::inside(raster, (inside_left, inside_top), size).ok()?;
        Some(CopiedWindow { window, moved_back_px: (across, down) })
    }
}

/// Where a length begins so as to lie between two bounds, and by how much it was moved for that; `None` if it is
/// longer than they are apart.
fn moved_inside(start: f64, length: f64, (least, greatest): (f64, f64)) -> Option<(f64, f64)> {
    /// What sums of fractions lose.
    const NOISE_PX: f64 = 1e-6;
    let last = greatest - length;
    if last < least - NOISE_PX {
        return None;
    }
    let inside = start.clamp(least, last.max(least));
    let moved = inside - start;
    Some(if moved.abs() <= NOISE_PX { (inside, 0.0) } else { (inside, moved) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn raster() -> Raster {
        Raster::new(4000, 3000).unwrap()
    }

    fn copy(kind: CopyKind, right_px: f64, frames_later: i64) -> PathCopy {
        PathCopy { from: "take-1".to_owned(), kind, frames_later, right_px, down_px: 0.0 }
    }

    fn window(left: f64) -> Window {
        Window::inside(raster(), (left, 0.0), (1687.5, 3000.0)).unwrap()
    }

    /// T10 of the trade study: x0' = W - x0 - w, 400 becomes 1912.5 in a frame 4000 wide.
    #[test]
    fn a_mirrored_window_is_as_far_from_the_other_edge_and_comes_back_to_the_pixel() {
        let pair = copy(CopyKind::Mirror, 0.0, 0);
        let whole = Region::whole(raster());
        for left in [0.0, 400.0, 1156.25, 2312.5, 733.337] {
            let there = pair.window(&window(left), raster(), &whole).unwrap();
            assert!((there.window.left() - (4000.0 - left - 1687.5)).abs() < 1e-9);
            let back = pair.window(&there.window, raster(), &whole).unwrap();
            assert!((back.window.left() - left).abs() < 1e-9, "{left}");
            assert_eq!((there.moved_back_px, back.moved_back_px), ((0.0, 0.0), (0.0, 0.0)));
        }
    }

    /// T10: 80 px to the right; 2280 would be 2360, and the last place is 2312.5: 47.5 px back.
    #[test]
    fn a_window_that_leaves_the_usable_area_is_moved_back_and_says_by_how_much() {
        let repeat = copy(CopyKind::Repeat, 80.0, 40);
        let whole = Region::whole(raster());
        let copied = |left| repeat.window(&window(left), raster(), &whole).unwrap();
        assert_eq!((copied(400.0).window.left(), copied(400.0).moved_back_px), (480.0, (0.0, 0.0)));
        assert_eq!((copied(2280.0).window.left(), copied(2280.0).moved_back_px.0), (2312.5, -47.5));
        let trimmed = Region::new(500.0, 0.0, 1900.0, 3000.0).unwrap();
        let copied = repeat.window(&window(400.0), raster(), &trimmed).unwrap();
        assert_eq!((copied.window.left(), copied.moved_back_px), (500.0, (20.0, 0.0)));
        let narrow = Region::new(500.0, 0.0, 1600.0, 3000.0).unwrap();
        assert_eq!(repeat.window(&window(400.0), raster(), &narrow), None);
    }

    #[test]
    fn moments_are_shifted_there_and_back() {
        let (later, earlier) = (copy(CopyKind::Repeat, 0.0, 40), copy(CopyKind::Repeat, 0.0, -40));
        assert_eq!(later.its_frame(FrameIndex(340)), Some(FrameIndex(300)));
        assert_eq!(later.its_frame(FrameIndex(39)), None);
        assert_eq!(later.this_frame(FrameIndex(300)), Some(FrameIndex(340)));
        assert_eq!(earlier.its_frame(FrameIndex(0)), Some(FrameIndex(40)));
        assert_eq!(earlier.this_frame(FrameIndex(39)), None);
        let range = |first, end| FrameRange::new(FrameIndex(first), FrameIndex(end)).unwrap();
        for (this, its, does) in [
            (range(0, 41), range(0, 1), true),
            (range(0, 40), range(0, 1), false),
            (range(60, 70), range(10, 20), false),
            (range(59, 70), range(10, 20), true),
            (range(60, 70), range(29, 90), true),
            (range(60, 70), range(30, 31), false),
        ] {
            assert_eq!(later.lies_over(this, its), does, "{this} over {its}");
        }
    }
}
