//! References to cells in a workbook, such as `XFD1048576`, looked at before the workbook is read.

/// Most letters and most digits of a reference that a column and a row of any workbook need: more would not fit the numbers that the reading library counts in.
const MOST_LETTERS: usize = 6;
const MOST_DIGITS: usize = 9;

/// Looks for references that are too long, or that end before they begin, in XML that comes in parts.
#[derive(Debug, Default)]
pub(in crate::ingest) struct References {
    state: State,
    impossible: bool,
    /// Column and row of the cell that is read, from its letters and digits.
    cell: (u64, u64),
    /// Those of the cell before the colon.
    first: Option<(u64, u64)>,
    place: Place,
}

/// Where a byte stands among the elements of XML (Extensible Markup Language 1.0, section 2, from memory).
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// In the text between tags, where nothing refers to a cell.
    #[default]
    Text,
    /// Behind `<` and so many letters of what may begin a comment or a section of characters.
    Begun(usize, &'static [u8]),
    /// In a tag, perhaps in a quotation that ends with this mark.
    Tag(Option<u8>),
    /// In what ends with these bytes, so many of which have just come.
    Until(&'static [u8], usize),
    /// Behind a declaration: what is a tag there need not be known, so that all of it counts.
    Anything,
}

impl Place {
    fn after(self, byte: u8) -> Self {
        match (self, byte) {
            (Self::Anything, _) => Self::Anything,
            (Self::Text, b'<') => Self::Begun(0, b""),
            (Self::Text, _) => Self::Text,
            (Self::Begun(0, _), b'!') => Self::Begun(1, b""),
            (Self::Begun(0, _), b'?') => Self::Until(b"?>", 0),
            (Self::Begun(1, _), b'-') => Self::Begun(2, b"--"),
            (Self::Begun(1, _), b'[') => Self::Begun(2, b"[CDATA["),
            (Self::Begun(count, word), byte) if count > 1 && word.get(count - 1) == Some(&byte) => {
                match (count == word.len(), word.len()) {
                    (true, 2) => Self::Until(b"-->", 0),
                    (true, _) => Self::Until(b"]]>", 0),
                    (false, _) => Self::Begun(count + 1, word),
                }
            }
            (Self::Begun(count, _), _) if count > 0 => Self::Anything,
            (Self::Begun(..) | Self::Tag(None), b'>') => Self::Text,
            (Self::Tag(None), b'"' | b'\'') => Self::Tag(Some(byte)),
            (Self::Tag(Some(mark)), byte) if mark == byte => Self::Tag(None),
            (Self::Begun(..), _) => Self::Tag(None),
            (Self::Tag(_), _) => self,
            (Self::Until(end, count), byte) if end.get(count) == Some(&byte) => {
                if count + 1 == end.len() {
                    Self::Text
                } else {
                    Self::Until(end, count + 1)
                }
            }
            // a longer row of the first byte of the end, as in `--->`
            (Self::Until(end, count), byte) if end.first() == Some(&byte) => Self::Until(end, count.min(end.len() - 1).max(1)),
            (Self::Until(end, _), _) => Self::Until(end, 0),
        }
    }
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
    pub(in crate::ingest) fn part(&mut self, part: &[u8]) {
        for byte in part {
            if matches!(self.place, Place::Tag(_) | Place::Anything) {
                self.state = self.after(*byte);
            }
            self.place = self.place.after(*byte);
            if self.place == Place::Text {
                self.state = State::Other;
            }
        }
    }

    /// Whether one was too long, or one such as `A5:A2`, whose rows or columns cannot be counted. What only looks like an attribute in a quotation counts too; a text between tags does not.
    pub(in crate::ingest) fn impossible(&self) -> bool {
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
            "<t>an r=\"ABCDEFGHIJ1\" in a note</t>",
            "<t>it's r=\"ABCDEFGHIJ1\"</t>",
            "<t><![CDATA[ r=\"ABCDEFGHIJ1\" ]]></t><!-- r=\"ABCDEFGHIJ1\" --><?x r=\"ABCDEFGHIJ1\"?>",
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
            "<!-- it's --->a--><![CDATA['>]]]]><c r=\"ABCDEFG1\"/>",
            "<?x '>?><c r=\"ABCDEFG1\"/>",
            "<!DOCTYPE t [<!ENTITY a \"<c r='ABCDEFG1'/>\">]>",
            "<c n='\"' r=\"ABCDEFG1\"/>",
        ] {
            assert!(impossible(xml), "{xml}");
        }
    }
}
