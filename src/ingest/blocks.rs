//! The lines below a log's header, block by block: a long log is never whole in memory.

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
    /// What went wrong while it was read.
    failure: Option<String>,
}

impl LongFile {
    /// Opens a file and reads it once, every part given to `also`; `None` for what its first bytes say is a spreadsheet, which is no text.
    ///
    /// # Errors
    /// Those of reading.
    pub(super) fn open(path: &Path, mut also: impl FnMut(&[u8])) -> io::Result<Option<Self>> {
        let mut file = File::open(path)?;
        let mut bytes = vec![0; BLOCK];
        let mut seen = vec![false; 256];
        let (mut utf8, mut pending) = (true, Vec::new());
        let mut first: Option<Vec<u8>> = None;
        loop {
            let count = fill(&mut file, &mut bytes)?;
            let part = bytes.get(..count).unwrap_or(&[]);
            if part.is_empty() {
                break;
            }
            also(part);
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
        Ok(Some(Self { file, encoding, mark: mark as u64, seen, head: 0, failure: None }))
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
        let mut size = BLOCK;
        loop {
            self.read_on(size);
            let (end, all) = match &self.decoder {
                None => (end_of_block(&self.pending, size, self.ended), self.pending.len()),
                Some(_) => (end_of_block(self.text.as_bytes(), size, self.ended), self.text.len()),
            };
            if all == 0 && self.ended {
                return None;
            }
            let Some(end) = end else {
                size *= 2;
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

    /// Reads until `size` bytes are at hand or the file ends.
    fn read_on(&mut self, size: usize) {
        while !self.ended && (if self.decoder.is_some() { self.text.len() } else { self.pending.len() }) < size {
            let kept = if self.decoder.is_some() { 0 } else { self.pending.len() };
            let mut bytes = std::mem::take(&mut self.pending);
            bytes.resize(kept + BLOCK, 0);
            let read = bytes.get_mut(kept..).map_or(Ok(0), |room| fill(&mut self.long.file, room));
            let count = read.unwrap_or_else(|error| {
                self.long.failure = Some(error.to_string());
                0
            });
            bytes.truncate(kept + count);
            self.ended = count < BLOCK;
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
