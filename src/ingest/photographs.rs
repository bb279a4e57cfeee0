//! Photographs for the acceptance paper: JPEG and PNG files that lie in the trial's folder itself.

use crate::findings::{Finding, Severity};
use crate::trial::{LeftOut, Photograph, WhyLeftOut};

/// Largest photograph that a page carries, bytes.
pub const MOST_PHOTOGRAPH: u64 = 2 << 20;
/// Most points of a photograph: a browser unpacks each into four bytes.
const MOST_POINTS: u64 = 100_000_000;
/// Most photographs that a page carries.
pub const MOST_PHOTOGRAPHS: usize = 6;

/// Whether a file is called as photographs are.
#[must_use]
pub fn is_photograph(name: &str) -> bool {
    let lower = name.to_lowercase();
    !name.starts_with('.') && [".jpg", ".jpeg", ".png"].iter().any(|ending| lower.ends_with(ending))
}

/// The photograph in `bytes`, told by how the file begins (JPEG: FF D8 FF; PNG: its signature of eight bytes); `None` when it is neither.
pub(super) fn photograph(file: &str, bytes: Vec<u8>) -> Option<Photograph> {
    let media_type = match bytes.as_slice() {
        [0xff, 0xd8, 0xff, ..] => "image/jpeg",
        [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => "image/png",
        _ => return None,
    };
    Some(Photograph { file: file.to_owned(), media_type, bytes })
}

/// How many points a photograph states to have, where that is more than a page shows: a PNG in its first part, a JPEG in the part that begins its frame (ISO/IEC
/// 15948 and ITU-T T.81).
pub(super) fn too_many_points(bytes: &[u8]) -> Option<u64> {
    let (width, height) = if bytes.starts_with(&[0xff, 0xd8]) {
        frame_of_jpeg(bytes)?
    } else {
        let number = |at: usize| Some(u64::from(u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?)));
        let is_first = bytes.get(12..16) == Some(b"IHDR".as_slice());
        is_first.then_some((number(16)?, number(20)?))?
    };
    width.checked_mul(height).filter(|points| *points > MOST_POINTS)
}

/// Width and height in the first frame of a JPEG.
fn frame_of_jpeg(bytes: &[u8]) -> Option<(u64, u64)> {
    let number = |at: usize| Some(u16::from_be_bytes(bytes.get(at..at + 2)?.try_into().ok()?));
    let mut at = 2;
    loop {
        let kind = *bytes.get(at + 1)?;
        match kind {
            0xff => at += 1,
            // a frame: all but tables, arithmetic conditioning and an extension
            0xc0..=0xcf if !matches!(kind, 0xc4 | 0xc8 | 0xcc) => return Some((u64::from(number(at + 7)?), u64::from(number(at + 5)?))),
            0x01 | 0xd0..=0xd8 => at += 2,
            0xda => return None,
            _ => at += 2 + usize::from(number(at + 2)?),
        }
    }
}

/// What is said of a photograph that is left out: a warning, since a page without a picture is still a page.
pub(super) fn remark(left_out: &LeftOut) -> Finding {
    let (code, found, help) = match &left_out.why {
        WhyLeftOut::Link => {
            ("photograph-is-a-link", "a link in place of a photograph, left out".to_owned(), "put the photograph itself into the folder")
        }
        WhyLeftOut::TooMany => {
            ("too-many-photographs", "a photograph beyond the sixth, left out".to_owned(), "keep the six that show most")
        }
        WhyLeftOut::TooLarge(bytes) => (
            "photograph-too-large",
            format!("a photograph of {bytes} bytes, left out"),
            "save it smaller: at most 2 MiB (2097152 bytes) each",
        ),
        WhyLeftOut::TooManyPoints(points) => (
            "photograph-too-large",
            format!("a photograph of {points} points, left out"),
            "save it smaller: at most a hundred million points",
        ),
        WhyLeftOut::NotAPhotograph => (
            "not-a-photograph",
            "a file called like a photograph that is none, left out".to_owned(),
            "keep photographs as JPEG or PNG; a file of another kind needs another name",
        ),
        WhyLeftOut::Unreadable(error) => {
            ("photograph-unreadable", format!("{error}; the photograph is left out"), "make the file readable")
        }
    };
    Finding::new(code, Severity::Warning, found, help).in_file(left_out.file.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn png(width: u32, height: u32) -> Vec<u8> {
        [b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR".as_slice(), &width.to_be_bytes(), &height.to_be_bytes(), &[8, 2, 0, 0, 0]].concat()
    }

    fn jpeg(width: u16, height: u16) -> Vec<u8> {
        let comment = [0xff, 0xfe, 0, 6, 1, 2, 3, 4];
        let tables = [0xff, 0xc4, 0, 3, 9];
        [&[0xff, 0xd8][..], &comment, &tables, &[0xff, 0xff, 0xc2, 0, 17, 8], &height.to_be_bytes(), &width.to_be_bytes(), &[3]].concat()
    }

    #[test]
    fn points_are_counted_from_what_a_photograph_states() {
        assert_eq!(too_many_points(&png(10_000, 10_000)), None);
        assert_eq!(too_many_points(&png(10_000, 10_001)), Some(100_010_000));
        assert_eq!(too_many_points(&png(u32::MAX, u32::MAX)), Some(u64::from(u32::MAX).pow(2)));
        assert_eq!(too_many_points(&jpeg(10_000, 10_000)), None);
        assert_eq!(too_many_points(&jpeg(65_535, 2_000)), Some(131_070_000));
        assert_eq!(frame_of_jpeg(&jpeg(640, 480)), Some((640, 480)));
        for cut in 0..jpeg(1, 1).len() {
            let _ = too_many_points(jpeg(65_535, 65_535).get(..cut).unwrap_or(&[]));
        }
        assert_eq!(too_many_points(&[0xff, 0xd8, 0xff, 0xda, 0, 2]), None);
    }
}
