//! Files packed so that a page can carry them, and unpacked again: zlib streams (RFC 1950).

use miniz_oxide::deflate::core::{CompressorOxide, TDEFLFlush, TDEFLStatus, compress, create_comp_flags_from_zip_params};
use miniz_oxide::inflate::decompress_to_vec_zlib_with_limit;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;

/// Most that the files of one trial may take when packed, bytes: what goes beyond is not carried.
pub const MOST_PACKED: usize = 1 << 20;
/// Largest file that is packed or unpacked at all, bytes.
pub const MOST_UNPACKED: usize = 32 << 20;

const HARD: i32 = 9;
const ZLIB_WINDOW: i32 = 15;

/// `bytes` packed into at most `room` bytes; `None` when they do not fit. The same bytes give the same stream.
#[must_use]
pub fn pack(bytes: &[u8], room: usize) -> Option<Vec<u8>> {
    if bytes.len() > MOST_UNPACKED {
        return None;
    }
    let mut packed = vec![0; room.min(bytes.len() + bytes.len() / 8 + 128)];
    let mut compressor = CompressorOxide::new(create_comp_flags_from_zip_params(HARD, ZLIB_WINDOW, 0));
    let (status, _, written) = compress(&mut compressor, bytes, &mut packed, TDEFLFlush::Finish);
    packed.truncate(written);
    packed.shrink_to_fit();
    (status == TDEFLStatus::Done).then_some(packed)
}

/// What [`pack`] packed; `None` when it is no such stream, is damaged, or holds more than `most` bytes.
#[must_use]
pub fn unpack(packed: &[u8], most: usize) -> Option<Vec<u8>> {
    decompress_to_vec_zlib_with_limit(packed, most.min(MOST_UNPACKED)).ok()
}

/// SHA-256 of a file, lower-case hexadecimal, and its size, without holding it in memory.
///
/// # Errors
/// Those of reading.
pub(super) fn hash_of(path: &Path) -> io::Result<(String, u64)> {
    let mut file = File::open(path)?;
    let (mut digest, mut size) = (Sha256::new(), 0);
    let mut part = vec![0; 1 << 20];
    loop {
        match file.read(&mut part) {
            Ok(0) => return Ok((hexadecimal(&digest.finalize()), size)),
            Ok(count) => {
                digest.update(part.get(..count).unwrap_or(&[]));
                size += count as u64;
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// SHA-256 of `bytes` (FIPS 180-4), lower-case hexadecimal.
///
/// ```
/// # use taperwright::ingest::sha256_hex;
/// assert_eq!(sha256_hex(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"); // FIPS 180-4, example
/// ```
#[must_use]
pub fn sha256_hex(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_packed_comes_back_and_what_is_too_large_is_left() {
        let text = "station_mm,diameter_mm\n10,38.021\n".repeat(300);
        let packed = pack(text.as_bytes(), MOST_PACKED).unwrap();
        assert!(packed.len() < text.len() / 20);
        assert_eq!(unpack(&packed, text.len()).unwrap(), text.as_bytes());
        assert_eq!(unpack(&packed, text.len() - 1), None, "one byte too many");
        assert_eq!(pack(text.as_bytes(), packed.len() - 1), None);
        assert_eq!(pack(b"", MOST_PACKED).and_then(|packed| unpack(&packed, 0)), Some(Vec::new()));
    }

    #[test]
    fn a_file_hashes_as_its_bytes() {
        let file = tempfile::NamedTempFile::new().unwrap();
        let bytes = b"10,38.021\n".repeat(300_000);
        std::fs::write(file.path(), &bytes).unwrap();
        assert_eq!(hash_of(file.path()).unwrap(), (sha256_hex(&bytes), bytes.len() as u64));
        assert!(hash_of(Path::new("no such file")).is_err());
    }

    #[test]
    fn a_damaged_stream_is_none() {
        let packed = pack(b"10,38.021", MOST_PACKED).unwrap();
        for place in 0..packed.len() {
            let mut damaged = packed.clone();
            damaged[place] ^= 0xff;
            assert_ne!(unpack(&damaged, 100).as_deref(), Some(&b"10,38.021"[..]), "byte {place}");
        }
        assert_eq!(unpack(b"no stream", 100), None);
    }
}
