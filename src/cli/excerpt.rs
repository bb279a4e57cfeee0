use crate::ingest::read_at_most;
use encoding_rs::{Encoding, UTF_8, WINDOWS_1252};
use miette::{MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents};
use std::path::Path;

/// Lines shown above and below a fault.
const AROUND: usize = 2;
/// Letters of a line that are shown at most.
const WIDEST: usize = 160;
/// Files above this are not opened again just to draw a picture, bytes.
const LARGEST: u64 = 64 << 20;

/// The lines around a fault, numbered as in their file, with the place of the fault among them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Excerpt {
    name: String,
    first_row: usize,
    text: String,
    fault: SourceSpan,
}

impl Excerpt {
    /// The lines around line `row` (from 1) of the file at `path`, pointing at `sought` in that line, or at the whole line when that is not
    /// in it. `None` when the file is no text, too large, unreadable, or has no such line.
    #[must_use]
    pub fn read(path: &Path, row: u64, sought: Option<&str>) -> Option<Self> {
        let text = decoded(&read_at_most(path, LARGEST).ok()?)?;
        Self::cut(&path.display().to_string(), &text, row, sought)
    }

    /// As [`Excerpt::read`], from a text.
    #[must_use]
    pub fn cut(name: &str, text: &str, row: u64, sought: Option<&str>) -> Option<Self> {
        let lines = lines_of(text);
        let at = usize::try_from(row).ok()?.checked_sub(1)?;
        let first = at.saturating_sub(AROUND);
        lines.get(at)?;
        let mut shown = String::new();
        let mut fault = SourceSpan::from((0, 0));
        for (index, line) in lines.iter().enumerate().skip(first).take(at + AROUND + 1 - first) {
            let (line, span) = if index == at { narrowed(line, sought) } else { (narrowed(line, None).0, (0, 0)) };
            if index == at {
                fault = SourceSpan::from((shown.len() + span.0, span.1));
            }
            shown.push_str(&line);
            shown.push('\n');
        }
        Some(Self { name: name.to_owned(), first_row: first, text: shown, fault })
    }

    /// Where the fault is in the lines shown.
    #[must_use]
    pub fn fault(&self) -> SourceSpan {
        self.fault
    }
}

impl SourceCode for Excerpt {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        lines_before: usize,
        lines_after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let inner = self.text.read_span(span, lines_before, lines_after)?;
        Ok(Box::new(MietteSpanContents::new_named(
            self.name.clone(),
            inner.data(),
            *inner.span(),
            inner.line() + self.first_row,
            inner.column(),
            inner.line_count(),
        )))
    }
}

/// The bytes as text: by their mark, else UTF-8, else Latin-1. `None` for what is no text, such as a spreadsheet.
fn decoded(bytes: &[u8]) -> Option<String> {
    let text = match Encoding::for_bom(bytes) {
        Some((encoding, _)) => encoding.decode(bytes).0,
        None if std::str::from_utf8(bytes).is_ok() => UTF_8.decode(bytes).0,
        None => WINDOWS_1252.decode(bytes).0,
    };
    (!text.contains('\0')).then(|| text.into_owned())
}

/// Lines as an editor counts them: ended by LF, CRLF or CR.
fn lines_of(text: &str) -> Vec<&str> {
    let mut lines = Vec::new();
    let mut rest = text;
    while let Some(end) = rest.find(['\n', '\r']) {
        let (line, tail) = rest.split_at(end);
        lines.push(line);
        rest = tail.strip_prefix("\r\n").or_else(|| tail.get(1..)).unwrap_or_default();
    }
    lines.push(rest);
    lines
}

/// At most [`WIDEST`] letters of a line around what is sought, safe to print, and the span of the fault in them.
fn narrowed(line: &str, sought: Option<&str>) -> (String, (usize, usize)) {
    let line = printable(line);
    let sought = sought.map(printable).filter(|sought| !sought.is_empty());
    let found = sought.and_then(|sought| line.find(&sought).map(|start| (start, sought.len())));
    let start = found.map_or(0, |(start, _)| start);
    let letters_before = line.get(..start).map_or(0, |before| before.chars().count());
    let skipped = if line.chars().count() > WIDEST { letters_before.saturating_sub(WIDEST / 4) } else { 0 };
    let mut shown: String = line.chars().skip(skipped).take(WIDEST).collect();
    let offset: usize = line.chars().take(skipped).map(char::len_utf8).sum();
    if line.len() > offset + shown.len() {
        shown.push('…');
    }
    let span = match found {
        Some((start, length)) => (start - offset, length.min(shown.len().saturating_sub(start - offset))),
        None => (0, shown.len()),
    };
    (shown, span)
}

/// The text with control characters replaced: a log must not steer the terminal.
#[must_use]
pub fn printable(text: &str) -> String {
    text.chars().map(|letter| if letter.is_control() && letter != '\t' { '\u{fffd}' } else { letter }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_counted_as_an_editor_does() {
        assert_eq!(lines_of("a\r\nb\rc\n\nd"), ["a", "b", "c", "", "d"]);
    }

    #[test]
    fn the_fault_is_found_in_its_line() {
        let excerpt = Excerpt::cut("x.csv", "z,d\n1,2\n3,3O.1\n4,5\n", 3, Some("3O.1")).unwrap();
        let (start, length) = (excerpt.fault().offset(), excerpt.fault().len());
        assert_eq!(&excerpt.text[start..start + length], "3O.1");
        assert!(Excerpt::cut("x.csv", "a\n", 9, None).is_none());
    }

    #[test]
    fn long_lines_and_control_characters_are_tamed() {
        let long = format!("{}bad\u{1b}[31m{}", "7,".repeat(500), ",8".repeat(500));
        let excerpt = Excerpt::cut("x.csv", &long, 1, Some("bad")).unwrap();
        assert!(excerpt.text.chars().count() < 200 && !excerpt.text.contains('\u{1b}'));
        assert_eq!(&excerpt.text[excerpt.fault().offset()..][..3], "bad");
    }
}
