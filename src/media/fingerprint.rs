use super::MediaError;
use crate::clip::Fingerprint;
use sha2::{Digest, Sha256};
use std::{
    fmt::Write as _,
    fs::File,
    io::{self, Read, Seek, SeekFrom},
    path::Path,
};

const SAMPLE_BYTES: u64 = 1 << 20;

/// The fingerprint of files in this order: SHA-256 over, for each, its length (8 bytes, least first), its
/// first MiB and its last MiB. What lies in both is read once.
///
/// # Errors
/// [`MediaError::Unreadable`] for the first file that cannot be read.
pub(super) fn fingerprint<'a>(
    files: impl IntoIterator<Item = &'a Path>,
) -> Result<Fingerprint, MediaError> {
    let mut hasher = Sha256::new();
    let (mut byte_count, mut file_count) = (0, 0);
    for path in files {
        byte_count += sample(path, &mut hasher)
            .map_err(|source| MediaError::Unreadable { path: path.to_owned(), source })?;
        file_count += 1;
    }
    let mut sampled_sha256 = String::with_capacity(64);
    for byte in hasher.finalize() {
        // Writing to a string does not fail.
        let _ = write!(sampled_sha256, "{byte:02x}");
    }
    Ok(Fingerprint { sampled_sha256, byte_count, file_count })
}

fn sample(path: &Path, hasher: &mut Sha256) -> io::Result<u64> {
    let mut file = File::open(path)?;
    let length = file.metadata()?.len();
    hasher.update(length.to_le_bytes());
    hash_some(&mut file, SAMPLE_BYTES, hasher)?;
    let tail = length.saturating_sub(SAMPLE_BYTES).max(SAMPLE_BYTES);
    if tail < length {
        file.seek(SeekFrom::Start(tail))?;
        hash_some(&mut file, SAMPLE_BYTES, hasher)?;
    }
    Ok(length)
}

fn hash_some(file: &mut File, count: u64, hasher: &mut Sha256) -> io::Result<()> {
    let mut bytes = Vec::new();
    file.take(count).read_to_end(&mut bytes)?;
    hasher.update(&bytes);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sampled(lengths: &[usize]) -> Fingerprint {
        let folder = tempfile::tempdir().unwrap();
        let paths: Vec<_> = (0..lengths.len()).map(|n| folder.path().join(n.to_string())).collect();
        for (path, &length) in paths.iter().zip(lengths) {
            let bytes: Vec<u8> = (0_u8..251).cycle().take(length).collect();
            std::fs::write(path, bytes).unwrap();
        }
        fingerprint(paths.iter().map(std::path::PathBuf::as_path)).unwrap()
    }

    #[test]
    fn a_small_file_is_hashed_whole_behind_its_length() {
        // `printf '\x03\0\0\0\0\0\0\0\x00\x01\x02' | sha256sum`
        let expected = "bde847b3d29f67a7";
        let found = sampled(&[3]);
        assert_eq!((found.byte_count, found.file_count), (3, 1));
        assert_eq!(&found.sampled_sha256[..16], expected);
    }

    #[test]
    fn a_large_file_is_hashed_at_both_ends_only() {
        const MIB: usize = 1 << 20;
        for length in [MIB, MIB + 1, 2 * MIB, 2 * MIB + 1, 3 * MIB] {
            let bytes: Vec<u8> = (0_u8..251).cycle().take(length).collect();
            let mut hasher = Sha256::new();
            hasher.update((length as u64).to_le_bytes());
            if length <= 2 * MIB {
                hasher.update(&bytes);
            } else {
                hasher.update(&bytes[..MIB]);
                hasher.update(&bytes[length - MIB..]);
            }
            let mut expected = String::new();
            for byte in hasher.finalize() {
                write!(expected, "{byte:02x}").unwrap();
            }
            assert_eq!(sampled(&[length]).sampled_sha256, expected, "{length} bytes");
        }
    }

    #[test]
    fn the_cut_between_two_files_counts() {
        assert_ne!(sampled(&[3, 4]).sampled_sha256, sampled(&[4, 3]).sampled_sha256);
    }
}
