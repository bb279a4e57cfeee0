use crate::findings::{Finding, Severity};
use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};
use std::borrow::Cow;

/// The text of a file: UTF-8 with or without its mark, UTF-16 with a mark or known by its zero bytes, else Latin-1.
///
/// Latin-1 is read as its superset Windows-1252. Borrowed when the bytes are already UTF-8.
///
/// # Errors
/// `empty-file`, `spreadsheet`, `not-text`: a finding without its file.
pub(super) fn decode(bytes: &[u8]) -> Result<Cow<'_, str>, Box<Finding>> {
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
        return Err(Box::new(spreadsheet()));
    }
    let (encoding, body) = match Encoding::for_bom(bytes) {
        Some((encoding, mark)) => (encoding, bytes.get(mark..).unwrap_or_default()),
        None => (guess(bytes, || std::str::from_utf8(bytes).is_ok()), bytes),
    };
    let (text, had_errors) = encoding.decode_without_bom_handling(body);
    if had_errors || text.contains('\0') {
        return Err(Box::new(not_text(encoding.name())));
    }
    if text.trim().is_empty() {
        return Err(Box::new(empty()));
    }
    Ok(text)
}

/// The finding for a spreadsheet file that is called a text file.
pub(super) fn spreadsheet() -> Finding {
    let found = "a spreadsheet file under the name of a text file";
    Finding::new("spreadsheet", Severity::Error, found, "name it with its own ending, .xlsx or .ods, or save the sheet as CSV")
}

/// The finding for bytes that are no text.
pub(super) fn not_text(encoding: &str) -> Finding {
    let found = format!("bytes that are not text in {encoding}");
    Finding::new("not-text", Severity::Error, found, "give a text file (CSV) in UTF-8, UTF-16 or Latin-1")
}

/// The finding for a file without text.
pub(super) fn empty() -> Finding {
    Finding::new("empty-file", Severity::Error, "nothing in the file", "give a header line and one reading a line")
}

/// What a file is written in and how long its mark is, from its first bytes and whether all of it is UTF-8.
pub(super) fn encoding_of(first: &[u8], is_utf8: bool) -> (&'static Encoding, usize) {
    match Encoding::for_bom(first) {
        Some(known) => known,
        None => (guess(first, || is_utf8), 0),
    }
}

fn guess(bytes: &[u8], is_utf8: impl FnOnce() -> bool) -> &'static Encoding {
    let head = bytes.get(..bytes.len().min(512)).unwrap_or_default();
    let zeros = |parity: usize| head.iter().skip(parity).step_by(2).filter(|byte| **byte == 0).count();
    let pairs = head.len() / 2;
    if pairs >= 4 && zeros(1) * 10 > pairs * 9 {
        UTF_16LE
    } else if pairs >= 4 && zeros(0) * 10 > pairs * 9 {
        UTF_16BE
    } else if is_utf8() {
        UTF_8
    } else {
        WINDOWS_1252
    }
}
