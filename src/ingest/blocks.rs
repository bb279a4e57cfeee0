//! The lines below a log's header, block by block: a long log is never whole in memory.

use super::long_file::LongFile;

/// Size of a block, bytes.
pub(super) const BLOCK: usize = 8 << 20;

/// The lines below a log's header.
#[derive(Debug)]
pub(super) enum Blocks<'t> {
    /// In memory.
    Text(&'t str),
    /// On disk.
    File(&'t mut LongFile),
}

impl Blocks<'_> {
    /// Whether a byte stands anywhere in them; of a file, anywhere in it.
    pub(super) fn hold(&self, byte: u8) -> bool {
        match self {
            Self::Text(text) => memchr::memchr(byte, text.as_bytes()).is_some(),
            Self::File(file) => file.holds(byte),
        }
    }

    /// Gives every block to `each`, in order.
    pub(super) fn each(&mut self, mut each: impl FnMut(&str)) {
        self.in_turn(1, |blocks| blocks.iter().for_each(|block| each(block)));
    }

    /// Gives the blocks to `each` in their order, up to `most` at a time. What is given together is of no account: blocks end where lines do, at
    /// places that depend on the text alone.
    pub(super) fn in_turn(&mut self, most: usize, mut each: impl FnMut(&[&str])) {
        match self {
            Self::Text(text) => {
                let mut rest = *text;
                while !rest.is_empty() {
                    let mut blocks = Vec::new();
                    while blocks.len() < most && !rest.is_empty() {
                        let (block, more) = rest.split_at(end_of_block(rest.as_bytes(), BLOCK, true).unwrap_or(rest.len()));
                        blocks.push(block);
                        rest = more;
                    }
                    each(&blocks);
                }
            }
            Self::File(file) => {
                let mut reader = file.body();
                loop {
                    let blocks: Vec<String> = std::iter::from_fn(|| reader.next_block()).take(most).collect();
                    if blocks.is_empty() {
                        return;
                    }
                    each(&blocks.iter().map(String::as_str).collect::<Vec<_>>());
                }
            }
        }
    }
}

/// Where the last line that ends within `size` bytes ends; all bytes where they are fewer and `last`. `None` where no line ends there.
pub(super) fn end_of_block(bytes: &[u8], size: usize, last: bool) -> Option<usize> {
    if bytes.len() <= size && last {
        return Some(bytes.len());
    }
    let within = bytes.get(..size.min(bytes.len())).unwrap_or(bytes);
    if let Some(end) = memchr::memrchr(b'\n', within) {
        return Some(end + 1);
    }
    // a carriage return at the very end may belong to a line feed that follows
    let before = within.get(..within.len().saturating_sub(1)).unwrap_or(within);
    if let Some(end) = memchr::memrchr(b'\r', before) {
        return Some(end + 1);
    }
    // a line longer than a block: up to its end
    memchr::memchr(b'\n', bytes).map(|end| end + 1).or(if last { Some(bytes.len()) } else { None })
}

#[cfg(test)]
mod tests {
    use super::super::collector::Collector;
    use super::super::diameter_rows::{DiameterRows, RowCount};
    use super::super::diameters;
    use super::super::encoding::decode;
    use super::super::log::Log;
    use super::*;
    use crate::findings::Finding;
    use crate::trial::DiameterReading;

    type Read = (Vec<DiameterReading>, Vec<String>, RowCount, Result<Vec<u64>, usize>, Vec<Finding>, usize);

    fn read(log: &Log<'_>, blocks: &mut Blocks<'_>) -> Read {
        let (mut rows, mut collector) = (DiameterRows::default(), Collector::default());
        let count = diameters::read(log, 0, None, blocks, &mut rows, &mut collector);
        let stated = (0..rows.readings.len()).map(|row| format!("{:?}", rows.stated.get(row))).collect();
        let times = rows.moments.into_minutes().map(|list| list.into_iter().map(f64::to_bits).collect());
        let rejected = collector.reject();
        (rows.readings.to_vec(), stated, count, times, rejected.findings, rejected.errors)
    }

    /// The log at once, and from disk in blocks of `block` bytes.
    fn both_ways(bytes: &[u8], block: usize) -> (Read, Read) {
        let text = decode(bytes).unwrap();
        let log = Log::open(&text, "diameters.csv").unwrap();
        let whole = read(&log, &mut log.text_blocks());
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), bytes).unwrap();
        let mut long = LongFile::open_in_blocks(file.path(), block).unwrap().unwrap();
        let first = long.first_block().unwrap();
        let log = Log::open(&first, "diameters.csv").unwrap();
        long.begin_at(first.len() - log.body_lines().rest().len());
        let parts = read(&log, &mut Blocks::File(&mut long));
        assert_eq!(long.failure(), None);
        (whole, parts)
    }

    fn log(rows: usize, spoil: bool) -> String {
        let mut text = "# made up\nstation_mm;diameter_mm;pass;direction;time;note;exclude\n".to_owned();
        for row in 0..rows {
            let (station, pass) = (10.0 * (row % 7) as f64, row / 21 + 1);
            let diameter = if spoil && row % 50 == 13 { "38,01o".to_owned() } else { format!("38,{:03}", row * 7 % 31) };
            let note = if row % 40 == 3 { "Ø \"3\"" } else { "" };
            let excluded = if row % 90 == 5 { "chip" } else { "" };
            let time = format!("{:02}:{:02}", (9 + row / 60) % 24, row % 60);
            text.push_str(&format!("{station};{diameter};{pass};to-headstock;{time};{note};{excluded}\n"));
            if row % 33 == 0 {
                text.push_str("\n# a remark\n");
            }
        }
        text
    }

    #[test]
    fn in_blocks_a_log_reads_as_at_once() {
        for spoil in [false, true] {
            let text = log(400, spoil);
            for (what, bytes) in [
                ("line feeds", text.clone().into_bytes()),
                ("both", text.replace('\n', "\r\n").into_bytes()),
                ("returns", text.replace('\n', "\r").into_bytes()),
                ("a mark", [b"\xef\xbb\xbf", text.as_bytes()].concat()),
                ("no last line end", text.trim_end().as_bytes().to_vec()),
                ("UTF-16", [vec![0xff, 0xfe], text.encode_utf16().flat_map(u16::to_le_bytes).collect()].concat()),
                ("Latin-1", text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect()),
            ] {
                for block in [300, 1_000, 7_001, 1 << 20] {
                    let (whole, parts) = both_ways(&bytes, block);
                    assert_eq!(parts.0.len(), if spoil { 392 } else { 400 }, "{what}");
                    assert!(whole == parts, "{what} in blocks of {block}: {:?} {:?}", whole.4.first(), parts.4.first());
                    assert_eq!(parts.5, if spoil { 8 } else { 0 }, "{what}: every fault is counted once");
                }
            }
        }
        // A line longer than any that is read, in the midst of the others.
        let text = log(400, false).replacen(";38,007;", &format!(";38,007{};", "1é".repeat(150_000)), 1);
        for bytes in [
            text.clone().into_bytes(),
            text.replace('\n', "\r").into_bytes(),
            [vec![0xff, 0xfe], text.encode_utf16().flat_map(u16::to_le_bytes).collect()].concat(),
        ] {
            let (whole, parts) = both_ways(&bytes, 300);
            assert!(whole == parts, "{:?} {:?}", whole.4.first(), parts.4.first());
            assert_eq!(
                (parts.0.len(), parts.4.first().map(|finding| (finding.code, finding.row))),
                (399, Some(("line-too-long", Some(6))))
            );
        }
        // The comparison can fail: another number in the last row is seen.
        let text = log(400, false);
        let (whole, _) = both_ways(text.as_bytes(), 1_000);
        let (other, _) = both_ways(text.replacen("38,009", "38,010", 1).as_bytes(), 1_000);
        assert!(whole.0 != other.0);
    }
}
