//! A long log on disk, read block by block.

use super::blocks::{BLOCK, end_of_block};
use super::bounds::MOST_LINE;
use encoding_rs::{Decoder, Encoding, UTF_8};
use std::fs::File;
use std::io::{self, Read, Seek as _, SeekFrom};
use std::path::Path;

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

    /// Whether a byte stands anywhere in it.
    pub(super) fn holds(&self, byte: u8) -> bool {
        self.seen.get(usize::from(byte)).copied().unwrap_or(false)
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

    pub(super) fn body(&mut self) -> BodyReader<'_> {
        if let Err(error) = self.file.seek(SeekFrom::Start(self.mark)) {
            self.failure = Some(error.to_string());
        }
        let decoder = (self.encoding != UTF_8).then(|| self.encoding.new_decoder_without_bom_handling());
        BodyReader { skip: self.head, pending: Vec::new(), text: String::new(), decoder, ended: self.failure.is_some(), long: self }
    }
}

/// Reads blocks of text, each ending where a line does.
pub(super) struct BodyReader<'f> {
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
    pub(super) fn next_block(&mut self) -> Option<String> {
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
