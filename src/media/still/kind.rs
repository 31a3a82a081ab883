use super::StillError;
use image::ImageFormat;
use std::{
    fs::{self, File},
    io::Read,
    path::Path,
};

/// What a file is by its first bytes, whatever its name says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::media) enum StillKind {
    /// A PNG picture.
    Png,
    /// A JPEG picture.
    Jpeg,
    /// A still picture in another format, by the format's name.
    Other(&'static str),
    /// None of these: a video, a text, nothing at all.
    NotAStill,
}

/// As many bytes as any of the signatures needs.
const HEAD_BYTES: u64 = 64;

/// What a file is. Reads its first bytes and starts no decoder.
///
/// # Errors
/// [`StillError::NotAFile`], or [`StillError::Unreadable`].
pub(in crate::media) fn kind_of(path: &Path) -> Result<StillKind, StillError> {
    // Before the opening, which would wait at a pipe.
    if !fs::metadata(path)?.is_file() {
        return Err(StillError::NotAFile);
    }
    let mut head = Vec::new();
    File::open(path)?.take(HEAD_BYTES).read_to_end(&mut head)?;
    Ok(kind_of_head(&head))
}

/// The width and height that a PNG's first chunk states (ISO/IEC 15948, 11.2.2).
pub(super) fn png_size(head: &[u8]) -> Option<(u32, u32)> {
    let number = |at: usize| Some(u32::from_be_bytes(head.get(at..at + 4)?.try_into().ok()?));
    (head.get(12..16)? == b"IHDR").then_some((number(16)?, number(20)?))
}

fn kind_of_head(head: &[u8]) -> StillKind {
    if let Some(name) = further_format(head) {
        return StillKind::Other(name);
    }
    let Ok(format) = image::guess_format(head) else { return StillKind::NotAStill };
    match format {
        ImageFormat::Png => StillKind::Png,
        ImageFormat::Jpeg => StillKind::Jpeg,
        ImageFormat::Bmp if !is_bmp(head) => StillKind::NotAStill,
        ImageFormat::Pnm if !is_pnm(head) => StillKind::NotAStill,
        other => StillKind::Other(name_of(other)),
    }
}

fn name_of(format: ImageFormat) -> &'static str {
    match format {
        ImageFormat::Bmp => "BMP",
        ImageFormat::Gif => "GIF",
        ImageFormat::Tiff => "TIFF",
        ImageFormat::WebP => "WebP",
        ImageFormat::Ico => "ICO",
        ImageFormat::Avif => "AVIF",
        ImageFormat::OpenExr => "OpenEXR",
        ImageFormat::Hdr => "HDR",
        ImageFormat::Dds => "DDS",
        ImageFormat::Pnm => "PNM",
        ImageFormat::Qoi => "QOI",
        ImageFormat::Farbfeld => "farbfeld",
        _ => "still",
    }
}

/// `BM` begins many a text as well: behind it, the length of the second header is one of those in use (12,
/// 16 and 64 of the first versions, 40 to 124 since; from memory).
fn is_bmp(head: &[u8]) -> bool {
    const HEADER_LENGTHS: [u8; 8] = [12, 16, 40, 52, 56, 64, 108, 124];
    matches!(head.get(14..18), Some(&[length, 0, 0, 0]) if HEADER_LENGTHS.contains(&length))
}

/// `P1` to `P7`, then white space or a remark (the format's own manual page).
fn is_pnm(head: &[u8]) -> bool {
    head.get(2).is_some_and(|byte| byte.is_ascii_whitespace() || *byte == b'#')
}

/// The formats that `image` does not know. Signatures: SMPTE ST 268-1 for DPX, ISO/IEC 15444-1 for JPEG 2000,
/// ISO/IEC 18181-2 for JPEG XL, ISO/IEC 23008-12 for HEIF's brands; the others from memory.
fn further_format(head: &[u8]) -> Option<&'static str> {
    const SIGNATURES: [(&[u8], &str); 10] = [
        (b"8BPS", "PSD"),
        (b"SDPX", "DPX"),
        (b"XPDS", "DPX"),
        (b"\0\0\0\x0CjP  \r\n\x87\n", "JPEG 2000"),
        (b"\xFF\x4F\xFF\x51", "JPEG 2000"),
        (b"\0\0\0\x0CJXL \r\n\x87\n", "JPEG XL"),
        (b"\xFF\x0A", "JPEG XL"),
        (b"MM\0\x2B", "TIFF"),
        (b"II\x2B\0", "TIFF"),
        (b"\x8AMNG\r\n\x1A\n", "MNG"),
    ];
    const BRANDS: [(&[u8], &str); 7] = [
        (b"heic", "HEIF"),
        (b"heix", "HEIF"),
        (b"heim", "HEIF"),
        (b"heis", "HEIF"),
        (b"mif1", "HEIF"),
        (b"mif2", "HEIF"),
        (b"avif", "AVIF"),
    ];
    let brand = || {
        let brand = (head.get(4..8)? == b"ftyp").then(|| head.get(8..12))??;
        BRANDS.iter().find(|(known, _)| *known == brand).map(|(_, name)| *name)
    };
    let by_signature = SIGNATURES.iter().find(|(signature, _)| head.starts_with(signature));
    by_signature.map(|(_, name)| *name).or_else(brand)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::media::testing;

    #[test]
    fn a_file_is_told_by_its_first_bytes() {
        for (head, kind) in [
            (&b"\x89PNG\r\n\x1a\n"[..], StillKind::Png),
            (b"\xFF\xD8\xFF\xE0", StillKind::Jpeg),
            (b"GIF89a", StillKind::Other("GIF")),
            (b"II*\0\x08\0\0\0", StillKind::Other("TIFF")),
            (b"II+\0\x08\0\0\0", StillKind::Other("TIFF")),
            (b"RIFF\x10\0\0\0WEBPVP8 ", StillKind::Other("WebP")),
            (b"\0\0\x01\0\x01\0", StillKind::Other("ICO")),
            (b"\0\0\0\x18ftypheic\0\0\0\0", StillKind::Other("HEIF")),
            (b"\0\0\0\x1cftypavif\0\0\0\0", StillKind::Other("AVIF")),
            (b"8BPS\0\x01", StillKind::Other("PSD")),
            (b"v/1\x01\x02\0\0\0", StillKind::Other("OpenEXR")),
            (b"SDPX\0\0\x20\0", StillKind::Other("DPX")),
            (b"P6\n640 480\n255\n", StillKind::Other("PNM")),
            (b"\0\0\0\x20ftypisom\0\0\x02\0", StillKind::NotAStill),
            (b"\0\0\0\x20ftypmp42", StillKind::NotAStill),
            (b"RIFF\x10\0\0\0AVI LIST", StillKind::NotAStill),
            (b"\x1A\x45\xDF\xA3", StillKind::NotAStill),
            (b"P1 is the first shot", StillKind::Other("PNM")),
            (b"P1, the first shot", StillKind::NotAStill),
            (b"BM is a text that goes on and on", StillKind::NotAStill),
            (b"", StillKind::NotAStill),
            (b"B", StillKind::NotAStill),
        ] {
            assert_eq!(kind_of_head(head), kind, "{}", String::from_utf8_lossy(head));
        }
    }

    /// What another program writes is what is told: ffmpeg's encoders for still pictures.
    #[test]
    fn what_another_program_writes_is_told() {
        if !testing::ffmpeg_is_here() {
            return;
        }
        let folder = tempfile::tempdir().unwrap();
        for (extension, kind) in [
            ("png", StillKind::Png),
            ("jpg", StillKind::Jpeg),
            ("bmp", StillKind::Other("BMP")),
            ("gif", StillKind::Other("GIF")),
            ("tif", StillKind::Other("TIFF")),
            ("dpx", StillKind::Other("DPX")),
            ("exr", StillKind::Other("OpenEXR")),
            ("jp2", StillKind::Other("JPEG 2000")),
            ("ppm", StillKind::Other("PNM")),
            ("mp4", StillKind::NotAStill),
        ] {
            let path = folder.path().join(format!("0.{extension}"));
            let made = std::process::Command::new("ffmpeg")
                .args(["-v", "error", "-f", "lavfi", "-i", "testsrc=size=64x48:rate=1:duration=1"])
                .args(["-frames:v", "1"])
                .arg(&path)
                .status();
            assert!(made.unwrap().success(), "{extension} was not made");
            assert_eq!(kind_of(&path).unwrap(), kind, "{extension}");
        }
    }

    #[test]
    fn what_is_no_file_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        assert!(matches!(kind_of(folder.path()), Err(StillError::NotAFile)));
        let absent = folder.path().join("absent");
        assert!(matches!(kind_of(&absent), Err(StillError::Unreadable { .. })));
        std::fs::write(folder.path().join("empty"), b"").unwrap();
        assert_eq!(kind_of(&folder.path().join("empty")).unwrap(), StillKind::NotAStill);
    }
}
