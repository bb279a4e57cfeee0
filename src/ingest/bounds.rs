//! How large an input may be. Beyond these sizes it is refused, with what was found and what would be right, before it takes memory or time.

use super::header::HeaderCell;
use crate::findings::{Finding, Severity};
use std::borrow::Cow;
use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;

/// Longest line of a log, bytes.
pub(super) const MOST_LINE: usize = 64 << 10;
/// Longest cell of a log and longest text of the settings, bytes.
pub(super) const MOST_CELL: usize = 10_000;
/// Most columns of a log or a sheet.
pub(super) const MOST_COLUMNS: usize = 1_024;
/// Longest name of a key or a table of the settings, bytes.
pub(super) const MOST_KEY: usize = 200;
/// Most names in one table and most tables of one name, `[[acceptance.limit]]`.
pub(super) const MOST_TABLES: usize = 1_000;
/// Largest settings or criteria file, bytes.
pub(super) const MOST_SETTINGS: u64 = 1 << 20;
/// Largest input that is held in memory whole, bytes: standard input, a sheet, a log of another kind than diameters.
pub(super) const MOST_WHOLE: u64 = 512 << 20;

/// The bytes of a file of at most `most` bytes. What is neither a file nor a link to one is not opened: a named pipe or a device may never end.
///
/// # Errors
/// Of kind `IsADirectory`, `Unsupported` (neither file nor folder), `FileTooLarge`, and those of reading.
pub fn read_at_most(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    let about = path.metadata()?;
    if about.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "a folder where a file should be"));
    }
    if !about.is_file() {
        return Err(io::Error::new(io::ErrorKind::Unsupported, "neither a file nor a folder"));
    }
    if about.len() > most {
        return Err(too_large(&format!("{} bytes", about.len())));
    }
    all_of(File::open(path)?, most)
}

/// All that `source` gives, at most `most` bytes.
///
/// # Errors
/// Of kind `FileTooLarge`, and those of reading.
pub(super) fn all_of(source: impl io::Read, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    source.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most { Err(too_large(&format!("more than {most} bytes"))) } else { Ok(bytes) }
}

fn too_large(size: &str) -> io::Error {
    io::Error::new(io::ErrorKind::FileTooLarge, format!("{size}, more than is read"))
}

/// What is said of a file that cannot be read: the code and what would be right.
pub(super) fn unreadable(error: &io::Error) -> (&'static str, &'static str) {
    match error.kind() {
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => ("missing-file", "mend the path"),
        io::ErrorKind::IsADirectory | io::ErrorKind::Unsupported => ("not-a-file", "put a file in its place, or take it away"),
        io::ErrorKind::FileTooLarge => {
            ("file-too-large", "settings have at most 1 MiB; sheets, standard input and logs of other kinds than diameters at most 512 MiB")
        }
        io::ErrorKind::InvalidInput => {
            ("outside", "put the file itself into the folder: paths and links that lead out of it are not followed")
        }
        _ => ("unreadable", "make the file readable"),
    }
}

/// The finding for a line that is longer than any that is read; its place is still to be added.
pub(super) fn long_line(line: &str) -> Option<Finding> {
    (line.len() > MOST_LINE).then(|| {
        let found = format!("a line of more than {MOST_LINE} bytes, which begins `{}`", beginning(line));
        Finding::new("line-too-long", Severity::Error, found, "write one reading a line; is a line end missing?")
    })
}

/// The finding for a cell that is longer than any that is read; its file and row are still to be added.
pub(super) fn long_cell(cells: &[Cow<'_, str>], header: &[HeaderCell]) -> Option<Finding> {
    let (index, cell) = cells.iter().enumerate().find(|(_, cell)| cell.len() > MOST_CELL)?;
    let column = header.get(index).map_or_else(|| (index + 1).to_string(), |cell| cell.text.clone());
    let found = format!("a cell of {} bytes, which begins `{}`", cell.len(), beginning(cell));
    let help = format!("a cell has at most {MOST_CELL} bytes; keep a long text in a file of its own");
    Some(Finding::new("cell-too-long", Severity::Error, found, help).in_column(column))
}

/// The finding for a header of more columns than any that is read; its place is still to be added.
pub(super) fn many_columns(cells: &[Cow<'_, str>]) -> Option<Finding> {
    let columns = cells.iter().rposition(|cell| !cell.is_empty()).map_or(0, |last| last + 1);
    (columns > MOST_COLUMNS).then(|| {
        let help = format!("keep a log within {MOST_COLUMNS} columns; write one reading a line");
        Finding::new("too-many-columns", Severity::Error, format!("a header of {columns} columns"), help)
    })
}

/// The first letters of a text too long to be shown.
fn beginning(text: &str) -> String {
    text.trim_start().chars().take(40).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_source_without_end_is_given_up() {
        assert_eq!(all_of(io::repeat(b'1'), 5_000).unwrap_err().kind(), io::ErrorKind::FileTooLarge);
        assert_eq!(all_of(io::repeat(b'1').take(5_001), 5_000).unwrap_err().kind(), io::ErrorKind::FileTooLarge);
        assert_eq!(all_of(io::repeat(b'1').take(5_000), 5_000).unwrap(), vec![b'1'; 5_000]);
    }

    #[test]
    fn a_file_is_read_up_to_its_bound() {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), b"10,38.021").unwrap();
        assert_eq!(read_at_most(file.path(), 9).unwrap(), b"10,38.021");
        assert_eq!(read_at_most(file.path(), 8).unwrap_err().kind(), io::ErrorKind::FileTooLarge);
        assert_eq!(read_at_most(file.path().parent().unwrap(), 9).unwrap_err().kind(), io::ErrorKind::IsADirectory);
        assert_eq!(unreadable(&read_at_most(file.path(), 8).unwrap_err()).0, "file-too-large");
    }
}
