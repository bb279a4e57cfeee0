//! The lines below a log's header, block by block: a long log is never whole in memory.

use super::bounds::MOST_LINE;
use encoding_rs::{Decoder, Encoding, UTF_8};
use std::fs::File;
use std::io::{self, Read, Seek as _, SeekFrom};
use std::path::Path;

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
            Self::File(file) => file.seen.get(usize::from(byte)).copied().unwrap_or(false),
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
fn end_of_block(bytes: &[u8], size: usize, last: bool) -> Option<usize> {
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

/// A long log on disk, looked through once: what it is written in, its hash and size.
#[derive(Debug)]
pub(super) struct LongFile {
    file: File,
    encoding: &'static Encoding,
    /// Bytes of its mark.
    mark: u64,
    /// Which bytes occur.
    seen: Vec<bool>,
    /// Text up to and with the header, bytes of UTF-8.
    head: usize,
    /// Size of a block, bytes.
    block: usize,
    /// What went wrong while it was read.
    failure: Option<String>,
}

impl LongFile {
    /// Opens a file and reads it once; `None` for what its first bytes say is a spreadsheet, which is no text.
    ///
    /// # Errors
    /// Those of reading.
    pub(super) fn open(path: &Path) -> io::Result<Option<Self>> {
        Self::open_in_blocks(path, BLOCK)
    }

    /// As [`Self::open`], with blocks of `block` bytes or more.
    pub(super) fn open_in_blocks(path: &Path, block: usize) -> io::Result<Option<Self>> {
        let mut file = File::open(path)?;
        let mut bytes = vec![0; block];
        let mut seen = vec![false; 256];
        let (mut utf8, mut pending) = (true, Vec::new());
        let mut first: Option<Vec<u8>> = None;
        loop {
            let count = fill(&mut file, &mut bytes)?;
            let part = bytes.get(..count).unwrap_or(&[]);
            if part.is_empty() {
                break;
            }
            for byte in [b'"', b',', 0] {
                if let Some(slot) = seen.get_mut(usize::from(byte)) {
                    *slot = *slot || memchr::memchr(byte, part).is_some();
                }
            }
            first.get_or_insert_with(|| part.get(..part.len().min(512)).unwrap_or(part).to_vec());
            utf8 = utf8 && continues_utf8(&mut pending, part);
        }
        let first = first.unwrap_or_default();
        if first.starts_with(b"PK\x03\x04") || first.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
            return Ok(None);
        }
        let (encoding, mark) = super::encoding::encoding_of(&first, utf8 && pending.is_empty());
        Ok(Some(Self { file, encoding, mark: mark as u64, seen, head: 0, block, failure: None }))
    }

    /// Whether the whole file is text.
    pub(super) fn is_text(&self) -> bool {
        self.encoding != UTF_8 || !self.seen.first().copied().unwrap_or(false)
    }

    /// The name of what it is written in.
    pub(super) fn encoding(&self) -> &'static str {
        self.encoding.name()
    }

    /// The first block, for its header.
    pub(super) fn first_block(&mut self) -> Option<String> {
        self.head = 0;
        self.body().next_block()
    }

    /// Says how much of the first block is above the lines below the header.
    pub(super) fn begin_at(&mut self, head: usize) {
        self.head = head;
    }

    /// What went wrong while its blocks were read: they then end too early.
    pub(super) fn failure(&self) -> Option<&str> {
        self.failure.as_deref()
    }

    fn body(&mut self) -> BodyReader<'_> {
        if let Err(error) = self.file.seek(SeekFrom::Start(self.mark)) {
            self.failure = Some(error.to_string());
        }
        let decoder = (self.encoding != UTF_8).then(|| self.encoding.new_decoder_without_bom_handling());
        BodyReader { skip: self.head, pending: Vec::new(), text: String::new(), decoder, ended: self.failure.is_some(), long: self }
    }
}

/// Reads blocks of text, each ending where a line does.
struct BodyReader<'f> {
    long: &'f mut LongFile,
    /// Text that is still to be passed over.
    skip: usize,
    /// Bytes that no block holds yet.
    pending: Vec<u8>,
    /// Text that no block holds yet, of a file that is decoded.
    text: String,
    decoder: Option<Decoder>,
    ended: bool,
}

impl BodyReader<'_> {
    /// The next block; `None` at the end, and after what [`LongFile::failure`] tells.
    fn next_block(&mut self) -> Option<String> {
        let mut size = self.long.block;
        loop {
            self.read_on(size);
            let (end, all) = (end_of_block(self.at_hand(), size, self.ended), self.at_hand().len());
            if all == 0 && self.ended {
                return None;
            }
            let Some(end) = end else {
                if size > 2 * MOST_LINE {
                    self.shorten_line();
                } else {
                    size *= 2;
                }
                continue;
            };
            let block = self.take(end)?;
            let skipped = self.skip.min(block.len());
            self.skip -= skipped;
            let rest = block.get(skipped..).unwrap_or("");
            if !rest.is_empty() {
                return Some(if skipped == 0 { block } else { rest.to_owned() });
            }
        }
    }

    /// Shortens the line at hand to its beginning, which is still longer than any that is read; the rest of it is passed over.
    fn shorten_line(&mut self) {
        let mut kept = MOST_LINE + 4;
        while kept > 0 && self.at_hand().get(kept).is_some_and(|byte| byte & 0b1100_0000 == 0b1000_0000) {
            kept -= 1;
        }
        loop {
            let rest = self.at_hand().get(kept..).unwrap_or(&[]);
            let line_end = memchr::memchr2(b'\n', b'\r', rest);
            let end = kept + line_end.unwrap_or(rest.len());
            if self.decoder.is_some() {
                self.text.replace_range(kept..end, "");
            } else {
                self.pending.drain(kept..end);
            }
            if line_end.is_some() || self.ended {
                return;
            }
            self.read_on(kept + 1);
        }
    }

    /// Bytes that no block holds yet.
    fn at_hand(&self) -> &[u8] {
        if self.decoder.is_some() { self.text.as_bytes() } else { &self.pending }
    }

    /// Reads until `size` bytes are at hand or the file ends.
    fn read_on(&mut self, size: usize) {
        while !self.ended && self.at_hand().len() < size {
            let kept = if self.decoder.is_some() { 0 } else { self.pending.len() };
            let mut bytes = std::mem::take(&mut self.pending);
            bytes.resize(kept + self.long.block, 0);
            let read = bytes.get_mut(kept..).map_or(Ok(0), |room| fill(&mut self.long.file, room));
            let count = read.unwrap_or_else(|error| {
                self.long.failure = Some(error.to_string());
                0
            });
            bytes.truncate(kept + count);
            self.ended = count < self.long.block;
            match &mut self.decoder {
                None => self.pending = bytes,
                Some(decoder) => {
                    self.text.reserve(decoder.max_utf8_buffer_length(bytes.len()).unwrap_or(3 * bytes.len()));
                    let (_, _, had_errors) = decoder.decode_to_string(&bytes, &mut self.text, self.ended);
                    if had_errors {
                        self.long.failure = Some(format!("bytes that are not text in {}", self.long.encoding.name()));
                    }
                }
            }
        }
    }

    fn take(&mut self, end: usize) -> Option<String> {
        if self.decoder.is_some() {
            let rest = self.text.split_off(end);
            return Some(std::mem::replace(&mut self.text, rest));
        }
        let rest = self.pending.split_off(end);
        let block = std::mem::replace(&mut self.pending, rest);
        String::from_utf8(block).map_err(|_| self.long.failure = Some("bytes that are not text in UTF-8".to_owned())).ok()
    }
}

/// Reads until `into` is full or the file ends.
fn fill(file: &mut File, into: &mut [u8]) -> io::Result<usize> {
    let mut count = 0;
    while let Some(room) = into.get_mut(count..).filter(|room| !room.is_empty()) {
        match file.read(room) {
            Ok(0) => break,
            Ok(more) => count += more,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(count)
}

/// Whether `part` goes on in UTF-8 after the unfinished character in `pending`, which is replaced by that at its own end.
fn continues_utf8(pending: &mut Vec<u8>, part: &[u8]) -> bool {
    let mut from = 0;
    while !pending.is_empty() {
        let Some(byte) = part.get(from) else { return true };
        from += 1;
        pending.push(*byte);
        match std::str::from_utf8(pending) {
            Ok(_) => pending.clear(),
            Err(error) if error.error_len().is_some() => return false,
            Err(_) => {}
        }
    }
    let rest = part.get(from..).unwrap_or(&[]);
    match std::str::from_utf8(rest) {
        Ok(_) => true,
        Err(error) if error.error_len().is_none() => {
            pending.extend_from_slice(rest.get(error.valid_up_to()..).unwrap_or(&[]));
            true
        }
        Err(_) => false,
    }
}

#[cfg(test)]
mod tests {
    use super::super::collector::Collector;
    use super::super::diameters::{self, DiameterRows, RowCount};
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
