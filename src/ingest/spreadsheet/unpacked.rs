//! How large a packed spreadsheet file is inside, found out before anything is built from it.

use super::markup::{TagKind, each_tag};
use super::references::References;
use miniz_oxide::inflate::TINFLStatus;
use miniz_oxide::inflate::core::{DecompressorOxide, decompress, inflate_flags};

/// Most entries of a package; one with more is no spreadsheet, and could hide its size behind those that are looked at.
const MOST_ENTRIES: usize = 4096;

/// Bytes of all entries of a ZIP package together when unpacked, by unpacking them; counting stops above `most`. `None` for what is no such package.
pub(in crate::ingest) fn unpacked_size(package: &[u8], most: u64) -> Option<u64> {
    let mut total = 0;
    for entry in entries(package)? {
        total += entry.each(package, most.saturating_sub(total), |_| {})?;
        if total > most {
            break;
        }
    }
    Some(total)
}

/// Whether a workbook names cells by references that are longer than those of any sheet, or that end before they begin. `None` for what is no such package.
pub(in crate::ingest) fn has_impossible_references(package: &[u8]) -> Option<bool> {
    for entry in entries(package)?.iter().filter(|entry| entry.name.ends_with(b".xml")) {
        let mut references = References::default();
        entry.each(package, u64::MAX, |part| references.part(part))?;
        if references.impossible() {
            return Some(true);
        }
    }
    Some(false)
}

/// Cells of the largest sheet of an OpenDocument package: rows by columns up to the last that holds anything, and blanks that are stated by their number.
/// `None` where its elements do not stand in one another as they must.
pub(in crate::ingest) fn cells_of_opendocument(package: &[u8]) -> Option<u64> {
    let mut contents = entries(package)?.into_iter().filter(|entry| entry.name == b"content.xml");
    // Of two with one name the other might be read.
    let (Some(content), None) = (contents.next(), contents.next()) else { return None };
    let mut xml = Vec::new();
    content.each(package, u64::MAX, |part| xml.extend_from_slice(part))?;
    let (mut largest, mut blanks): (u64, u64) = (0, 0);
    // Of the sheet: its rows so far, the last row and column that hold anything. Of the row: how often it stands there, its columns so far.
    let (mut rows, mut last_row, mut last_column): (u64, u64, u64) = (0, 0, 0);
    let (mut repeats, mut columns, mut holds): (u64, u64, bool) = (1, 0, false);
    each_tag(&xml, |tag| {
        let times = |name: &[u8]| repeat_of(tag.whole, name).unwrap_or(1);
        let row = tag.name == b"table:table-row";
        if tag.kind != TagKind::End {
            match tag.name {
                b"table:table" => (rows, last_row, last_column) = (0, 0, 0),
                b"table:table-row" => (repeats, columns, holds) = (times(b"table:number-rows-repeated"), 0, false),
                b"table:table-cell" | b"table:covered-table-cell" => {
                    columns = columns.saturating_add(times(b"table:number-columns-repeated"));
                    if tag.kind == TagKind::Start {
                        holds = true;
                        last_column = last_column.max(columns);
                    }
                }
                b"text:s" => blanks = blanks.saturating_add(times(b"text:c")),
                _ => {}
            }
        }
        if row && tag.kind != TagKind::Start {
            rows = rows.saturating_add(repeats);
            if holds {
                last_row = rows;
            }
        }
        largest = largest.max(last_row.saturating_mul(last_column)).max(blanks);
    })?;
    Some(largest)
}

/// The number in an attribute of a tag.
fn repeat_of(tag: &[u8], name: &[u8]) -> Option<u64> {
    let rest = tag.get(memchr::memmem::find(tag, name)? + name.len()..)?;
    let digits: Vec<u8> =
        rest.iter().copied().skip_while(|b| matches!(b, b'=' | b'"' | b'\'' | b' ')).take_while(u8::is_ascii_digit).collect();
    std::str::from_utf8(&digits).ok()?.parse().ok()
}

/// One entry of a package.
pub(in crate::ingest) struct Entry {
    pub(in crate::ingest) name: Vec<u8>,
    packed: bool,
    size: usize,
    header: usize,
}

/// The central directory of a ZIP package (PKWARE's APPNOTE 6.3, sections 4.3.12 and 4.3.16; from memory).
pub(in crate::ingest) fn entries(package: &[u8]) -> Option<Vec<Entry>> {
    let end = memchr::memmem::rfind(package, b"PK\x05\x06")?;
    let count = usize::from(u16_at(package, end + 10)?);
    if count > MOST_ENTRIES {
        return None;
    }
    let mut at = usize::try_from(u32_at(package, end + 16)?).ok()?;
    let mut entries = Vec::with_capacity(count);
    for _ in 0..count {
        if package.get(at..at + 4)? != b"PK\x01\x02" {
            return None;
        }
        let length = |offset: usize| u16_at(package, at + offset).map(usize::from);
        let name = package.get(at + 46..at + 46 + length(28)?)?.to_vec();
        let packed = match u16_at(package, at + 10)? {
            0 => false,
            8 => true,
            _ => return None,
        };
        let number = |offset: usize| u32_at(package, at + offset).and_then(|n| usize::try_from(n).ok());
        entries.push(Entry { name, packed, size: number(20)?, header: number(42)? });
        at += 46 + length(28)? + length(30)? + length(32)?;
    }
    Some(entries)
}

impl Entry {
    /// Hands over the entry's bytes part by part until more than `most` have come; returns how many came.
    pub(in crate::ingest) fn each(&self, package: &[u8], most: u64, mut part: impl FnMut(&[u8])) -> Option<u64> {
        let start = self.header + 30 + usize::from(u16_at(package, self.header + 26)?) + usize::from(u16_at(package, self.header + 28)?);
        let stored = package.get(start..start.checked_add(self.size)?)?;
        if !self.packed {
            part(stored);
            return Some(stored.len() as u64);
        }
        let mut state = Box::new(DecompressorOxide::new());
        // Deflate looks back 32 KiB at most: the buffer is used round and round.
        let mut window = vec![0; 65_536];
        let (mut read, mut place, mut total) = (0, 0, 0_u64);
        loop {
            let (status, used, made) =
                decompress(&mut state, stored.get(read..)?, &mut window, place, inflate_flags::TINFL_FLAG_IGNORE_ADLER32);
            read += used;
            part(window.get(place..place + made)?);
            total += made as u64;
            place = (place + made) % window.len();
            match status {
                TINFLStatus::Done => return Some(total),
                TINFLStatus::HasMoreOutput if total <= most => {}
                TINFLStatus::HasMoreOutput => return Some(total),
                _ => return None,
            }
        }
    }
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(bytes.get(at..at + 2)?.try_into().ok()?))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A package with one entry.
    fn package_of(content: &[u8]) -> Vec<u8> {
        let packed = miniz_oxide::deflate::compress_to_vec(content, 1);
        let name = b"content.xml";
        let (n, p) = (u16::try_from(name.len()).unwrap(), u32::try_from(packed.len()).unwrap());
        let mut out = Vec::new();
        let common = |out: &mut Vec<u8>| {
            out.extend([20, 0, 0, 0, 8, 0, 0, 0, 0, 0]);
            out.extend(0_u32.to_le_bytes());
            out.extend(p.to_le_bytes());
            out.extend(0_u32.to_le_bytes());
            out.extend(n.to_le_bytes());
            out.extend([0, 0]);
        };
        out.extend(b"PK\x03\x04");
        common(&mut out);
        out.extend(name);
        out.extend(&packed);
        let directory = out.len();
        out.extend(b"PK\x01\x02\x14\x00");
        common(&mut out);
        out.extend([0; 2 + 2 + 2 + 4 + 4]);
        out.extend(name);
        let size = out.len() - directory;
        out.extend(b"PK\x05\x06\x00\x00\x00\x00\x01\x00\x01\x00");
        out.extend(u32::try_from(size).unwrap().to_le_bytes());
        out.extend(u32::try_from(directory).unwrap().to_le_bytes());
        out.extend([0, 0]);
        out
    }

    #[test]
    fn unpacking_stops_where_it_is_too_much() {
        let package = package_of(&vec![b' '; 3 << 20]);
        assert!(package.len() < 64 << 10, "{}", package.len());
        assert_eq!(unpacked_size(&package, 4 << 20), Some(3 << 20));
        let stopped = unpacked_size(&package, 1 << 20).unwrap();
        assert!((1 << 20..(1 << 20) + (1 << 17)).contains(&stopped), "{stopped}");
        assert_eq!(unpacked_size(&package[..package.len() / 2], 4 << 20), None);
        assert_eq!(unpacked_size(b"station_mm,diameter_mm", 4 << 20), None);
        let mut many = package.clone();
        let end = many.len() - 22;
        many[end + 10..end + 12].copy_from_slice(&5_000_u16.to_le_bytes());
        assert_eq!(unpacked_size(&many, 4 << 20), None, "entries that are not looked at");
    }

    #[test]
    fn cells_are_counted_as_they_are_repeated() {
        let sheet = |rows: &str| format!("<table:table table:name=\"a\">{rows}</table:table>");
        let full = "<table:table-cell office:value=\"1\"><text:p>1</text:p></table:table-cell>";
        let cells = |rows: &str| cells_of_opendocument(&package_of(sheet(rows).as_bytes())).unwrap();
        assert_eq!(cells(&format!("<table:table-row>{full}{full}</table:table-row>")), 2);
        let far = "<table:table-row table:number-rows-repeated=\"9\"><table:table-cell table:number-columns-repeated=\"1024\"/></table:table-row>";
        // Nine empty rows above count, those below and beyond do not.
        assert_eq!(cells(&format!("{far}<table:table-row>{full}</table:table-row>{far}")), 10);
        let wide = full.replace("<table:table-cell", "<table:table-cell table:number-columns-repeated=\"1000\"");
        assert_eq!(cells(&format!("<table:table-row table:number-rows-repeated=\"5000\">{wide}</table:table-row>")), 5_000_000);
        // Blanks that are stated by their number are as many cells.
        let blank = full.replace("<text:p>1", "<text:p><text:s text:c=\"99999999999\"/>");
        assert_eq!(cells(&format!("<table:table-row>{blank}</table:table-row>")), 99_999_999_999);
        assert_eq!(cells_of_opendocument(&package_of(b"<table:table table:name=\"a\">")), None, "a table without its end");
    }
}
