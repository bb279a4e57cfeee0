//! Photographs for the acceptance paper: JPEG and PNG files that lie in the trial's folder itself.

use crate::findings::{Finding, Severity};
use crate::trial::{LeftOut, Photograph, WhyLeftOut};

/// Largest photograph that a page carries, bytes.
pub const MOST_PHOTOGRAPH: u64 = 2 << 20;
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
