//! References to cells in a workbook, such as `XFD1048576`, looked at before the workbook is read.

/// Most letters and most digits of a reference that a column and a row of any workbook need: more would not fit the numbers that the reading library counts in.
const MOST_LETTERS: usize = 6;
const MOST_DIGITS: usize = 9;

/// Looks for references that are too long in XML that comes in parts.
#[derive(Debug, Default)]
pub(super) struct References {
    state: State,
    too_long: bool,
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

    /// Whether one was too long. Texts count too that look like an attribute with its quotation marks: what hides a tag need not be known.
    pub(super) fn too_long(&self) -> bool {
        self.too_long
    }

    fn after(&mut self, byte: u8) -> State {
        let blank = byte.is_ascii_whitespace();
        match (self.state, byte) {
            (State::Name(1 | 3) | State::Named, b'=') => State::Equal,
            (State::Name(1 | 3) | State::Named, _) if blank => State::Named,
            (State::Equal, b'"' | b'\'') => State::Value(0, 0),
            (State::Equal, _) if blank => State::Equal,
            (State::Value(letters, digits), byte) if byte.is_ascii_alphanumeric() => {
                let letter = byte.is_ascii_alphabetic();
                let (letters, digits) = (letters + usize::from(letter), digits + usize::from(!letter));
                self.too_long |= letters > MOST_LETTERS || digits > MOST_DIGITS;
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

    fn too_long(xml: &str) -> bool {
        let mut references = References::default();
        xml.as_bytes().chunks(3).for_each(|part| references.part(part));
        references.too_long()
    }

    #[test]
    fn references_have_a_longest() {
        for xml in [
            "<c r=\"XFD1048576\"/>",
            "<dimension ref='A1:XFD1048576'/>",
            "<c s=\"1\" r=\"A1\" t=\"inlineStr\"><t>a reference r=ABCDEFGHIJ</t></c>",
            "<t>r=ABCDEFGHIJ</t>",
            "<c xr=\"ABCDEFGHIJ1\" refer=\"ABCDEFGHIJ1\" r:id=\"ABCDEFGHIJ1\"/>",
            "<c r=\"A1\" note=\"ABCDEFGHIJKLM12345678901\"/>",
        ] {
            assert!(!too_long(xml), "{xml}");
        }
        for xml in [
            "<c r=\"ABCDEFG1\"/>",
            "<!-- it's --><c a='>' r=\"ABCDEFG1\"/>",
            "<c t=\"s\"\n r = 'A1234567890'/>",
            "<dimension ref=\"A1:ABCDEFGHI9\"/>",
            "<c r=\"cstation1\"/>",
        ] {
            assert!(too_long(xml), "{xml}");
        }
    }
}
