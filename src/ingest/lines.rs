use std::borrow::Cow;

/// What stands between the cells of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Separator {
    Tab,
    Semicolon,
    Comma,
    /// One or more blanks.
    Blanks,
}

impl Separator {
    /// Told from the header, outside quotes and brackets: a tab wins over a semicolon, that over a comma, that over blanks.
    pub(super) fn of_header(header: &str) -> Self {
        let (mut depth, mut quoted, mut before) = (0_usize, false, ' ');
        let (mut tab, mut semicolon, mut comma) = (false, false, false);
        for character in header.trim_matches(' ').chars() {
            match character {
                // an inch mark follows a word; an opening quote follows a separator
                '"' if quoted => quoted = false,
                '"' if before == ' ' || before == ',' || before == ';' || before == '\t' => quoted = true,
                '(' | '[' | '{' => depth += 1,
                ')' | ']' | '}' => depth = depth.saturating_sub(1),
                '\t' if !quoted && depth == 0 => tab = true,
                ';' if !quoted && depth == 0 => semicolon = true,
                ',' if !quoted && depth == 0 => comma = true,
                _ => {}
            }
            before = character;
        }
        match (tab, semicolon, comma) {
            (true, _, _) => Self::Tab,
            (_, true, _) => Self::Semicolon,
            (_, _, true) => Self::Comma,
            _ => Self::Blanks,
        }
    }

    /// Whether it is this character.
    pub(super) fn is(self, character: char) -> bool {
        match self {
            Self::Blanks => character == ' ' || character == '\t',
            _ => character == char::from(self.byte()),
        }
    }

    fn byte(self) -> u8 {
        match self {
            Self::Tab => b'\t',
            Self::Semicolon => b';',
            Self::Comma => b',',
            Self::Blanks => b' ',
        }
    }
}

/// The lines of a text with their numbers as an editor shows them: LF, CRLF and CR all end a line.
#[derive(Debug, Clone)]
pub(super) struct Lines<'t> {
    rest: Option<&'t str>,
    number: u64,
}

impl<'t> Lines<'t> {
    pub(super) fn new(text: &'t str) -> Self {
        Self { rest: Some(text), number: 0 }
    }

    /// The lines of a part of a text that begins with line `before + 1`.
    pub(super) fn after(text: &'t str, before: u64) -> Self {
        Self { rest: Some(text), number: before }
    }

    /// What is left.
    pub(super) fn rest(&self) -> &'t str {
        self.rest.unwrap_or("")
    }

    /// Lines passed so far.
    pub(super) fn passed(&self) -> u64 {
        self.number
    }

    /// The next line that is neither blank nor a comment.
    pub(super) fn next_row(&mut self) -> Option<(u64, &'t str)> {
        self.find(|(_, line)| is_filled(line) && !is_comment(line))
    }

    /// The next line that is not blank.
    pub(super) fn next_filled(&mut self) -> Option<(u64, &'t str)> {
        self.find(|(_, line)| is_filled(line))
    }
}

impl<'t> Iterator for Lines<'t> {
    type Item = (u64, &'t str);

    fn next(&mut self) -> Option<Self::Item> {
        let rest = self.rest?;
        self.number += 1;
        let Some(end) = memchr::memchr2(b'\n', b'\r', rest.as_bytes()) else {
            self.rest = None;
            return (!rest.is_empty()).then_some((self.number, rest));
        };
        let (line, tail) = rest.split_at(end);
        self.rest = tail.strip_prefix("\r\n").or_else(|| tail.get(1..));
        Some((self.number, line))
    }
}

/// Whether a line has more than blanks.
#[inline]
fn is_filled(line: &str) -> bool {
    // mostly a line begins with a digit or a letter
    line.as_bytes().first().is_some_and(u8::is_ascii_alphanumeric) || !line.trim_start().is_empty()
}

/// Whether a line is a comment.
#[inline]
pub(super) fn is_comment(line: &str) -> bool {
    !line.as_bytes().first().is_some_and(u8::is_ascii_alphanumeric) && line.trim_start().starts_with('#')
}

/// A text without blanks around it: most have none, which their ends tell.
#[inline]
pub(super) fn trimmed(text: &str) -> &str {
    match text.as_bytes() {
        [] => text,
        [first, .., last] if first.is_ascii_graphic() && last.is_ascii_graphic() => text,
        _ => text.trim(),
    }
}

/// A quote that the line does not close; holds the number of its cell from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct UnclosedQuote {
    pub(super) cell: usize,
}

/// Splits a line into trimmed cells; a doubled quote inside quotes is one quote. `cells` is emptied first.
pub(super) fn split_cells<'t>(line: &'t str, separator: Separator, cells: &mut Vec<Cow<'t, str>>) -> Result<(), UnclosedQuote> {
    cells.clear();
    let blank = |c: char| c != '\t' && c.is_whitespace() || (c == '\t' && separator == Separator::Blanks);
    let mut rest = if separator == Separator::Blanks { line.trim() } else { line };
    loop {
        let start = if rest.as_bytes().first().is_some_and(u8::is_ascii_graphic) { rest } else { rest.trim_start_matches(blank) };
        let (cell, tail) = if let Some(inside) = start.strip_prefix('"') {
            quoted_cell(inside, separator).ok_or(UnclosedQuote { cell: cells.len() + 1 })?
        } else {
            let (cell, tail) = cut_at(start, separator);
            (Cow::Borrowed(trimmed(cell)), tail)
        };
        cells.push(cell);
        match tail {
            Some(tail) => rest = tail,
            None => return Ok(()),
        }
    }
}

/// The cell before the next separator and what follows it; `None` at the end of the line.
fn cut_at(text: &str, separator: Separator) -> (&str, Option<&str>) {
    if separator == Separator::Blanks {
        return match text.split_once(|c: char| c.is_whitespace()) {
            Some((cell, tail)) => (cell, Some(tail.trim_start())),
            None => (text, None),
        };
    }
    match memchr::memchr(separator.byte(), text.as_bytes()) {
        Some(at) => (text.get(..at).unwrap_or(text), text.get(at + 1..)),
        None => (text, None),
    }
}

fn quoted_cell(inside: &str, separator: Separator) -> Option<(Cow<'_, str>, Option<&str>)> {
    let mut from = 0;
    let mut doubled = false;
    loop {
        let at = from + memchr::memchr(b'"', inside.as_bytes().get(from..)?)?;
        let after = inside.get(at + 1..)?;
        if after.starts_with('"') {
            doubled = true;
            from = at + 2;
            continue;
        }
        let body = inside.get(..at)?;
        let (trailing, tail) = cut_at(after, separator);
        let cell = if doubled || !trailing.trim().is_empty() {
            Cow::Owned(format!("{}{}", body.replace("\"\"", "\""), trailing.trim_end()).trim().to_owned())
        } else {
            Cow::Borrowed(body.trim())
        };
        return Some((cell, tail));
    }
}
