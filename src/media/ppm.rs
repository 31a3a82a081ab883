use crate::{geometry::Raster, picture::RgbImage};
use std::io::{self, BufRead, Read};

/// Reads the next frame of a stream of binary PPM pictures; `None` at the stream's end.
///
/// Frames travel as PPM and not bare, since its header tells a frame of another size from the wanted one:
/// bare pixels of the wrong size would be read as torn pictures.
///
/// # Errors
/// [`io::ErrorKind::InvalidData`] for a header that is none, or another size than `raster`;
/// [`io::ErrorKind::UnexpectedEof`] for a picture that breaks off; or the stream's own.
pub(super) fn read_frame(
    stream: &mut impl BufRead,
    raster: Raster,
) -> io::Result<Option<RgbImage>> {
    if stream.fill_buf()?.is_empty() {
        return Ok(None);
    }
    let (width_px, height_px) = (raster.width_px(), raster.height_px());
    let expected = format!("P6\n{width_px} {height_px}\n255\n");
    let header = header_lines(stream)?;
    if header != expected.as_bytes() {
        let found = String::from_utf8_lossy(&header).escape_debug().to_string();
        let what = format!("a picture headed `{found}` where one of {raster} was expected");
        return Err(io::Error::new(io::ErrorKind::InvalidData, what));
    }
    let mut picture = RgbImage::new(width_px, height_px);
    stream.read_exact(&mut picture)?;
    Ok(Some(picture))
}

/// The three lines that `ffmpeg` writes before the pixels.
fn header_lines(stream: &mut impl BufRead) -> io::Result<Vec<u8>> {
    const LONGEST: u64 = 32;
    let mut header = Vec::new();
    let mut start = stream.take(LONGEST);
    for _ in 0..3 {
        start.read_until(b'\n', &mut header)?;
    }
    Ok(header)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(stream: &[u8]) -> io::Result<Option<RgbImage>> {
        read_frame(&mut &*stream, Raster::new(2, 1).unwrap())
    }

    #[test]
    fn frames_come_one_after_another_until_the_end() {
        let mut stream: &[u8] = b"P6\n2 1\n255\n123456P6\n2 1\n255\nABCDEF";
        let raster = Raster::new(2, 1).unwrap();
        let mut next = || read_frame(&mut stream, raster).unwrap().map(RgbImage::into_raw);
        assert_eq!(next().unwrap(), b"123456");
        assert_eq!(next().unwrap(), b"ABCDEF");
        assert_eq!(next(), None);
    }

    #[test]
    fn another_size_and_a_torn_picture_are_errors() {
        for (stream, kind) in [
            (&b"P6\n1 2\n255\n123456"[..], io::ErrorKind::InvalidData),
            (b"nothing of the kind, and far too long for a header", io::ErrorKind::InvalidData),
            (b"P6\n2", io::ErrorKind::InvalidData),
            (b"P6\n2 1\n255\n12345", io::ErrorKind::UnexpectedEof),
        ] {
            assert_eq!(read(stream).unwrap_err().kind(), kind, "{stream:?}");
        }
    }
}
