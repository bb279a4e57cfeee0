//! References to cells in a workbook, such as `XFD1048576`, looked at before the workbook is read.

/// Most letters and most digits of a reference that a column and a row of any workbook need: more would not fit the numbers that the reading library counts in.
const MOST_LETTERS: usize = 6;
const MOST_DIGITS: usize = 9;

/// Looks for references that are too long, or that end before they begin, in XML that comes in parts.
#[derive(Debug, Default)]
pub(super) struct References {
    state: State,
    impossible: bool,
    /// Column and row of the cell that is read, from its letters and digits.
    cell: (u64, u64),
    /// Those of the cell before the colon.
    first: Option<(u64, u64)>,
}

#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
enum State {
    /// In nothing that matters.
    #[default]
    Other,
    /// After a blank: a name may begin.
    Blank,
    /// After so many letters of `r` or `ref`.
    Name(usize),
    /// After the name and blanks.
    Named,
    /// After the sign between name and value.
    Equal,
    /// In the value, after so many letters and so many digits together.
    Value(usize, usize),
}

impl References {
    /// The next part.
    pub(super) fn part(&mut self, part: &[u8]) {
        for byte in part {
            self.state = self.after(*byte);
        }
    }

    /// Whether one was too long, or one such as `A5:A2`, whose rows or columns cannot be counted. Texts count too that look like an attribute with its quotation marks: what hides a tag need not be known.
    pub(super) fn impossible(&self) -> bool {
        self.impossible
    }

    /// The next letter or digit of a cell's reference.
    fn cell_goes_on(&mut self, byte: u8) {
        let (column, row) = self.cell;
        self.cell = if byte.is_ascii_alphabetic() {
            (column.saturating_mul(26).saturating_add(u64::from(byte.to_ascii_uppercase() - b'A') + 1), row)
        } else {
            (column, row.saturating_mul(10).saturating_add(u64::from(byte - b'0')))
        };
    }

    fn after(&mut self, byte: u8) -> State {
        let blank = byte.is_ascii_whitespace();
        if matches!(self.state, State::Value(..)) && !byte.is_ascii_alphanumeric() {
            let cell = std::mem::take(&mut self.cell);
            let backwards = self.first.take().is_some_and(|first| cell.0 < first.0 || cell.1 < first.1);
            self.impossible |= backwards;
            self.first = (byte == b':').then_some(cell);
        }
        match (self.state, byte) {
            (State::Name(1 | 3) | State::Named, b'=') => State::Equal,
            (State::Name(1 | 3) | State::Named, _) if blank => State::Named,
            (State::Equal, b'"' | b'\'') => {
                (self.cell, self.first) = ((0, 0), None);
                State::Value(0, 0)
            }
            (State::Equal, _) if blank => State::Equal,
            (State::Value(letters, digits), byte) if byte.is_ascii_alphanumeric() => {
                let letter = byte.is_ascii_alphabetic();
                let (letters, digits) = (letters + usize::from(letter), digits + usize::from(!letter));
                self.impossible |= letters > MOST_LETTERS || digits > MOST_DIGITS;
                self.cell_goes_on(byte);
                State::Value(letters, digits)
            }
            (State::Value(..), b':') => State::Value(0, 0),
            _ if blank => State::Blank,
            (State::Blank | State::Named, b'r') => State::Name(1),
            (State::Name(1), b'e') => State::Name(2),
            (State::Name(2), b'f') => State::Name(3),
            _ => State::Other,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn impossible(xml: &str) -> bool {
        let mut references = References::default();
        xml.as_bytes().chunks(3).for_each(|part| references.part(part));
        references.impossible()
    }

    #[test]
    fn references_have_a_longest() {
        for xml in [
            "<c r=\"XFD1048576\"/>",
            "<dimension ref='A1:XFD1048576'/>",
            "<c s=\"1\" r=\"A1\" t=\"inlineStr\"><t>a reference r=ABCDEFGHIJ</t></c>",
            "<t>r=ABCDEFGHIJ</t>",
            "<c xr=\"ABCDEFGHIJ1\" refer=\"ABCDEFGHIJ1\" r:id=\"ABCDEFGHIJ1\"/>",
            "<dimension ref=\"A1:A1\"/><mergeCell ref='B2:C2'/><c r=\"A1\"/><dimension ref=\"B5\"/><c r=\"A2\"/>",
            "<c r=\"A1\" note=\"ABCDEFGHIJKLM12345678901\"/>",
        ] {
            assert!(!impossible(xml), "{xml}");
        }
        for xml in [
            "<c r=\"ABCDEFG1\"/>",
            "<!-- it's --><c a='>' r=\"ABCDEFG1\"/>",
            "<c t=\"s\"\n r = 'A1234567890'/>",
            "<dimension ref=\"A1:ABCDEFGHI9\"/>",
            "<c r=\"cstation1\"/>",
            "<dimension ref=\"A5:A2\"/>",
            "<dimension ref='B1:A2'/>",
        ] {
            assert!(impossible(xml), "{xml}");
        }
    }
}
