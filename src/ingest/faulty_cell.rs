//! A cell that is no number where one belongs: what is wrong with it, and what would be right.

use super::checks::summaries::sums_up;
use super::collector::is_invisible;
use super::header::columns::Column;
use super::header::{HeaderCell, unit_of};
use super::numbers::{DecimalMark, NumberFault, as_fraction, as_thousands, parse_number};

/// A cell that is no number.
pub(super) struct FaultyCell<'c> {
    pub(super) text: &'c str,
    pub(super) fault: NumberFault,
    /// The decimal mark of the file.
    pub(super) mark: DecimalMark,
    pub(super) column: &'c Column,
    /// Whether it stands in a sheet of a spreadsheet program.
    pub(super) in_sheet: bool,
}

impl FaultyCell<'_> {
    /// The code of its finding.
    pub(super) fn code(&self) -> &'static str {
        match self.fault {
            NumberFault::NotANumber => "not-a-number",
            NumberFault::NotFinite => "not-finite",
            NumberFault::Thousands => "thousands-separator",
            NumberFault::OtherMark => "mixed-decimal-marks",
            NumberFault::OtherUnit => "unit-in-cell",
            NumberFault::Date => "date-for-number",
            NumberFault::Fraction => "fraction",
            NumberFault::Gap => "gap-in-number",
        }
    }

    /// What would be right.
    pub(super) fn help(&self) -> String {
        match self.fault {
            NumberFault::NotFinite => format!("write a finite number, or {}", self.without()),
            NumberFault::Thousands => "write the number without grouping its thousands".to_owned(),
            NumberFault::OtherUnit => "write every number of a column in the unit of its header, without the unit".to_owned(),
            NumberFault::OtherMark => self.other_mark(),
            NumberFault::Fraction => match as_fraction(self.text.trim_end_matches(|c: char| !c.is_numeric())) {
                Some(number) => format!("write it with a decimal point: {number}"),
                None => "write it with a decimal point".to_owned(),
            },
            NumberFault::Gap => "close the gap after the sign".to_owned(),
            NumberFault::Date => {
                "perhaps a spreadsheet program made a date of a number, as of 20.5 the 20 May: make the column's cells numbers, then write \
                 the number again"
                    .to_owned()
            }
            NumberFault::NotANumber => self.no_number(),
        }
    }

    /// How to leave a reading out that was not made.
    fn without(&self) -> &'static str {
        if self.column.needed { "take the line out" } else { "leave the cell empty" }
    }

    fn other_mark(&self) -> String {
        if self.in_sheet {
            return "cells of this sheet that look like numbers are text: make the whole column numbers, then write those cells again that were text"
                .to_owned();
        }
        let (other, word, from, to) = match self.mark {
            DecimalMark::Comma => (DecimalMark::Point, "commas", '.', ","),
            DecimalMark::Point => (DecimalMark::Comma, "points", ',', "."),
        };
        let plain = self.text.replace(from, to);
        match as_thousands(self.text, other) {
            Some(meant) if self.column.name == "station" => format!(
                "a thousands separator? write {meant}; if it is a decimal mark write {plain}, as the rest of the file has decimal {word}"
            ),
            Some(meant) => format!("the rest of the file has decimal {word}: write {plain}, or {meant} if it is a thousands separator"),
            None => format!("the rest of the file has decimal {word}: use one mark throughout"),
        }
    }

    fn no_number(&self) -> String {
        let text = self.text;
        let mended: String = text.chars().map(as_digit).collect();
        if mended != text && parse_number(&mended, self.mark).is_ok() {
            let what =
                if text.is_ascii() { "a letter stands for a digit" } else { "write it in the digits 0 to 9, with a plain point or comma" };
            return format!("perhaps {mended}: {what}");
        }
        if let Some(hidden) = text.chars().find(|c| is_invisible(*c)) {
            return format!("a character that nobody sees, U+{:04X}, stands in it: take it out", u32::from(hidden));
        }
        let inside = text.trim_matches(|c: char| matches!(c, '“' | '”' | '„' | '‘' | '’' | '\''));
        if inside != text && parse_number(inside, self.mark).is_ok() {
            return format!("write {inside}, without the quotation marks");
        }
        if text.strip_suffix('%').is_some_and(|number| parse_number(number.trim(), self.mark).is_ok()) {
            return format!("a share of what? Write the {} itself, in the unit of the header", self.column.name);
        }
        if matches!(text, "-" | "–" | "—" | "\"" | "," | "?" | "n/a" | "N/A" | "na" | "NA" | "x" | "X" | "none" | "None") {
            return format!("write the number itself, or {}", self.without());
        }
        if self.is_unit() {
            let header = format!("{} ({})", self.column.name, text.trim_matches(BRACKETS));
            return format!("a row of units: write the unit into the header, as in `{header}`, and take this row out");
        }
        let no_reading = "take the line out, or put # before it";
        if sums_up(text) || !text.contains(char::is_alphanumeric) {
            return format!("no reading: {no_reading}");
        }
        if !text.contains(|c: char| c.is_ascii_digit()) || text.starts_with(char::is_alphabetic) {
            return format!("write a number, such as 38.012; if this line is no reading {no_reading}");
        }
        "write a number, such as 38.012".to_owned()
    }

    /// Whether it is the name of a unit that its column may have.
    fn is_unit(&self) -> bool {
        let words = HeaderCell::parse(self.text.trim_matches(BRACKETS)).words;
        unit_of(&words.concat(), self.column.holds).is_some()
    }
}

const BRACKETS: [char; 6] = ['(', ')', '[', ']', '{', '}'];

/// The digit, mark or sign that a character stands for: `O` and `l` for 0 and 1, digits of full width and Arabic ones, and their decimal marks.
fn as_digit(character: char) -> char {
    const ZEROS: [u32; 3] = [0xff10, 0x0660, 0x06f0];
    let code = u32::from(character);
    let digit = ZEROS.into_iter().find_map(|zero| code.checked_sub(zero).filter(|digit| *digit < 10));
    if let Some(digit) = digit.and_then(|digit| char::from_digit(digit, 10)) {
        return digit;
    }
    match character {
        'o' | 'O' => '0',
        'l' | 'I' => '1',
        '．' | '٫' | '·' | '˙' => '.',
        '－' => '-',
        other => other,
    }
}
