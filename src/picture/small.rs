//! Pictures at analysis size, as they come: in colours, or as video is coded.

use super::{GrayImage, Raster, RgbImage, luma_of, resample::shrunk_luma};
use yuv::{
    YuvChromaSubsampling, YuvConversionMode, YuvPlanarImage, YuvPlanarImageMut, YuvRange,
    YuvStandardMatrix, rgb_to_yuv420, yuv420_to_rgb,
};

/// Which bytes a small picture has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// Red, green and blue of each px.
    Rgb,
    /// Luma of each px, then each of two colours of each square of two by two px. Half as much as with three colours a px,
    /// and as most video is coded, so that nothing has to be reckoned before somebody asks for colours.
    Coded(Coding),
}

/// How luma and the two colours beside it stand for red, green and blue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Coding {
    /// Which values there are.
    pub levels: Levels,
    /// Which share of luma each of red, green and blue has.
    pub matrix: Matrix,
}

/// Which values black and white have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Levels {
    /// 0 and 255.
    Full,
    /// 16 and 235, as in most video.
    Limited,
}

/// Which share of luma each of red, green and blue has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Matrix {
    /// Recommendation BT.601.
    Bt601,
    /// Recommendation BT.709.
    Bt709,
    /// Recommendation BT.2020, with luminance that is not constant.
    Bt2020,
}

impl Layout {
    /// How many bytes a picture of this width and height has.
    #[must_use]
    pub fn frame_bytes(self, (width, height): (u32, u32)) -> usize {
        let px = |width: u32, height: u32| width as usize * height as usize;
        match self {
            Self::Rgb => 3 * px(width, height),
            Self::Coded(_) => px(width, height) + 2 * px(width.div_ceil(2), height.div_ceil(2)),
        }
    }
}

impl Coding {
    const fn range(self) -> YuvRange {
        match self.levels {
            Levels::Full => YuvRange::Full,
            Levels::Limited => YuvRange::Limited,
        }
    }

    const fn standard(self) -> YuvStandardMatrix {
        match self.matrix {
            Matrix::Bt601 => YuvStandardMatrix::Bt601,
            Matrix::Bt709 => YuvStandardMatrix::Bt709,
            Matrix::Bt2020 => YuvStandardMatrix::Bt2020,
        }
    }
}

/// A picture at analysis size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SmallPicture {
    size: (u32, u32),
    layout: Layout,
    bytes: Vec<u8>,
}

impl From<RgbImage> for SmallPicture {
    fn from(picture: RgbImage) -> Self {
        Self { size: picture.dimensions(), layout: Layout::Rgb, bytes: picture.into_raw() }
    }
}

impl SmallPicture {
    /// A picture of this width and height from its bytes; `None` if there are not [as many](Layout::frame_bytes) as it
    /// takes, or if a side is 0.
    #[must_use]
    pub fn new(size: (u32, u32), layout: Layout, bytes: Vec<u8>) -> Option<Self> {
        let is_whole = size.0.min(size.1) > 0 && bytes.len() == layout.frame_bytes(size);
        is_whole.then_some(Self { size, layout, bytes })
    }

    /// Width and height.
    #[must_use]
    pub const fn dimensions(&self) -> (u32, u32) {
        self.size
    }

    /// Which bytes it has.
    #[must_use]
    pub const fn layout(&self) -> Layout {
        self.layout
    }

    /// Its bytes.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// The same in colours.
    #[must_use]
    pub fn into_rgb(self) -> RgbImage {
        self.into_rgb_in(Vec::new())
    }

    /// The same in colours, in memory that is no longer needed where it takes new memory: pages that were never used cost
    /// more than the colours.
    ///
    /// # Panics
    /// Never: the buffers have the picture's size.
    #[must_use]
    pub fn into_rgb_in(self, spare: Vec<u8>) -> RgbImage {
        let (width, height) = self.size;
        let bytes = match self.layout {
            Layout::Rgb => self.bytes,
            Layout::Coded(coding) => {
                let mut rgb = spare;
                rgb.resize(Layout::Rgb.frame_bytes(self.size), 0);
                let planes = planes(self.size, &self.bytes);
                yuv420_to_rgb(&planes, &mut rgb, 3 * width, coding.range(), coding.standard())
                    .expect("the planes and the buffer have the picture's size");
                rgb
            }
        };
        RgbImage::from_raw(width, height, bytes).expect("the buffer has the picture's size")
    }

    /// Its luma from 0 for black to 255 for white, at another size that is no larger: by the mean of what each px covers.
    #[must_use]
    pub fn luma(&self, size: Raster) -> GrayImage {
        match self.layout {
            Layout::Rgb => luma_of(self.size, &self.bytes, size),
            Layout::Coded(coding) => {
                let luma = &self.bytes[..self.size.0 as usize * self.size.1 as usize];
                let mut small = shrunk_luma(self.size, luma, size);
                if coding.levels == Levels::Limited {
                    small.iter_mut().for_each(|value| *value = stretched(*value));
                }
                small
            }
        }
    }

    /// The same with other bytes.
    ///
    /// # Panics
    /// Never: the buffers have the picture's size.
    #[must_use]
    pub fn with_layout(self, layout: Layout) -> Self {
        if layout == self.layout {
            return self;
        }
        let picture = self.into_rgb();
        let Layout::Coded(coding) = layout else { return picture.into() };
        let (width, height) = picture.dimensions();
        let mut planes = YuvPlanarImageMut::alloc(width, height, YuvChromaSubsampling::Yuv420);
        let mode = YuvConversionMode::Balanced;
        rgb_to_yuv420(&mut planes, &picture, 3 * width, coding.range(), coding.standard(), mode)
            .expect("the planes and the picture have one size");
        let planes = [&planes.y_plane, &planes.u_plane, &planes.v_plane];
        let bytes = planes.map(|plane| plane.borrow().to_vec()).concat();
        Self { size: (width, height), layout, bytes }
    }
}

fn planes((width, height): (u32, u32), bytes: &[u8]) -> YuvPlanarImage<'_, u8> {
    let half = (width.div_ceil(2), height.div_ceil(2));
    let (y_plane, colours) = bytes.split_at(width as usize * height as usize);
    let (u_plane, v_plane) = colours.split_at(half.0 as usize * half.1 as usize);
    YuvPlanarImage {
        y_plane,
        y_stride: width,
        u_plane,
        u_stride: half.0,
        v_plane,
        v_stride: half.0,
        width,
        height,
    }
}

/// Luma of limited levels, stretched to the full ones.
fn stretched(coded: u8) -> u8 {
    let above_black = u16::from(coded.clamp(16, 235) - 16);
    // At most 255.
    ((above_black * 255 + 109) / 219).to_be_bytes()[1]
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    const LIMITED: Coding = Coding { levels: Levels::Limited, matrix: Matrix::Bt709 };

    /// Colours and their codes from the definitions: Y' = 16 + 219 (kr R + kg G + kb B),
    /// Cb = 128 + 224 (B - Y) / (2 (1 - kb)), Cr = 128 + 224 (R - Y) / (2 (1 - kr)), BT.709-6, items 3.2 to 3.5
    /// (kr 0.2126, kb 0.0722).
    fn coded_709([red, green, blue]: [f64; 3]) -> [u8; 3] {
        let luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue;
        let code = |value: f64| {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "16 to 240"
            )]
            let code = value.round() as u8;
            code
        };
        [
            code(16.0 + 219.0 * luma),
            code(128.0 + 224.0 * (blue - luma) / 1.8556),
            code(128.0 + 224.0 * (red - luma) / 1.5748),
        ]
    }

    fn even(size: (u32, u32), codes: [u8; 3]) -> SmallPicture {
        let half = size.0.div_ceil(2) as usize * size.1.div_ceil(2) as usize;
        let luma = vec![codes[0]; size.0 as usize * size.1 as usize];
        let bytes = [luma, vec![codes[1]; half], vec![codes[2]; half]].concat();
        SmallPicture::new(size, Layout::Coded(LIMITED), bytes).unwrap()
    }

    #[test]
    fn colours_come_back_as_the_standard_has_them() {
        for (colour, size) in [
            ([0.0, 0.0, 0.0], (4, 4)),
            ([1.0, 1.0, 1.0], (5, 3)),
            ([0.8, 0.2, 0.2], (64, 2)),
            ([0.1, 0.7, 0.3], (33, 5)),
            ([0.2, 0.3, 0.9], (1, 1)),
        ] {
            let picture = even(size, coded_709(colour)).into_rgb();
            assert_eq!(picture.dimensions(), size);
            for Rgb(found) in picture.pixels() {
                for (found, share) in found.iter().zip(colour) {
                    assert!((f64::from(*found) - 255.0 * share).abs() <= 2.5, "{colour:?} {found}");
                }
            }
        }
    }

    #[test]
    fn luma_goes_from_black_to_white_whatever_its_levels() {
        let size = Raster::new(2, 2).unwrap();
        for (code, expected) in [(16, 0), (235, 255), (126, 128), (4, 0), (250, 255)] {
            let picture = even((4, 4), [code, 128, 128]);
            assert_eq!(picture.luma(size).get_pixel(1, 1).0[0], expected, "{code}");
        }
        let Layout::Coded(coding) = even((4, 4), [100, 90, 200]).layout() else { panic!() };
        let full = Layout::Coded(Coding { levels: Levels::Full, ..coding });
        let bytes = even((4, 4), [100, 90, 200]).as_bytes().to_vec();
        let picture = SmallPicture::new((4, 4), full, bytes).unwrap();
        assert_eq!(picture.luma(size).get_pixel(0, 0).0[0], 100);
    }

    #[test]
    fn other_bytes_are_the_same_picture() {
        let picture = even((6, 4), coded_709([0.3, 0.6, 0.2]));
        let rgb = picture.clone().into_rgb();
        assert_eq!(SmallPicture::from(rgb.clone()).with_layout(Layout::Rgb).into_rgb(), rgb);
        let jpeg = Coding { levels: Levels::Full, matrix: Matrix::Bt601 };
        for coding in [LIMITED, jpeg] {
            let other = picture.clone().with_layout(Layout::Coded(coding));
            assert_eq!(other.as_bytes().len(), Layout::Coded(coding).frame_bytes((6, 4)));
            for (a, b) in other.into_rgb().as_raw().iter().zip(rgb.as_raw()) {
                assert!(a.abs_diff(*b) <= 3, "{a} {b}");
            }
        }
    }

    #[test]
    fn bytes_that_are_no_picture_are_none() {
        let coded = Layout::Coded(LIMITED);
        assert_eq!(coded.frame_bytes((5, 3)), 15 + 2 * 6);
        assert!(SmallPicture::new((5, 3), coded, vec![0; 22]).is_none());
        assert!(SmallPicture::new((5, 3), Layout::Rgb, vec![0; 44]).is_none());
        assert!(SmallPicture::new((0, 3), Layout::Rgb, Vec::new()).is_none());
    }
}
