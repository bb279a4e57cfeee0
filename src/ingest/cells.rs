use super::collector::Collector;
use super::discovery::is_spreadsheet;
use super::faulty_cell::FaultyCell;
use super::header::columns::Column;
use super::header::{Holds, Measure, unit_of};
use super::numbers::{DecimalMark, NumberFault, is_date, parse_number};
use crate::findings::{Finding, Severity};
use std::borrow::Cow;
use std::collections::HashSet;
use std::path::Path;
use std::sync::Arc;

/// One line of a log: its cells, and what is wrong with them.
pub(super) struct Row<'r, 't> {
    pub(super) file: &'r str,
    pub(super) number: u64,
    pub(super) mark: DecimalMark,
    pub(super) cells: &'r [Cow<'t, str>],
    pub(super) collector: &'r mut Collector,
}

impl Row<'_, '_> {
    /// The text of a cell; empty when the line is too short or has no such column.
    pub(super) fn text(&self, column: Option<&Column>) -> &str {
        column.and_then(|column| self.cells.get(column.index)).map_or("", |cell| cell.as_ref())
    }

    /// Adds an error about a cell.
    pub(super) fn error(&mut self, code: &'static str, column: &str, found: impl FnOnce() -> String, help: impl FnOnce() -> String) {
        let (file, number) = (self.file, self.number);
        self.collector.error(|| Finding::new(code, Severity::Error, found(), help()).in_file(file).at_row(number).in_column(column));
    }

    /// The number of a cell that must have one, metric.
    pub(super) fn needed(&mut self, column: Option<&Column>) -> Option<f64> {
        let column = column?;
        if self.text(Some(column)).is_empty() {
            let help = || {
                "write the number; where none was read, take the whole line out: in a log with a line for each reading this cell may not be empty".to_owned()
            };
            self.error("missing-value", &column.header, || "an empty cell".to_owned(), help);
            return None;
        }
        self.number(Some(column))
    }

    /// The number of a cell, metric; `None` for an empty cell, and for a fault, which is noted.
    pub(super) fn number(&mut self, column: Option<&Column>) -> Option<f64> {
        let column = column?;
        let text = self.text(Some(column));
        if text.is_empty() {
            return None;
        }
        let parsed = match parse_number(text, self.mark) {
            Err(NumberFault::NotANumber) => self.with_unit(text, column),
            parsed => parsed,
        };
        match parsed {
            Ok(number) => self.measurable(column.measure.metric(number), column),
            Err(fault) => {
                let text = text.to_owned();
                let cell = FaultyCell { text: &text, fault, mark: self.mark, column, in_sheet: is_spreadsheet(Path::new(self.file)) };
                self.error(cell.code(), &column.header, || format!("`{text}`"), || cell.help());
                None
            }
        }
    }

    /// A number of a size that can be measured: lengths up to ten kilometres, rolls up to 1000 mm/m.
    fn measurable(&mut self, number: f64, column: &Column) -> Option<f64> {
        let largest = match column.holds {
            Holds::Length | Holds::Feed => 1e7,
            Holds::Slope => 1e3,
            Holds::Degrees | Holds::Temperature | Holds::Turns => 1e6,
            Holds::Whole | Holds::Text => f64::INFINITY,
        };
        if number.abs() <= largest && (number == 0.0 || number.abs() >= 1e-9) {
            return Some(number);
        }
        let text = self.text(Some(column)).to_owned();
        let help = || {
            format!(
                "no {} is that {}: mend the number or the unit in the header",
                column.name,
                if number.abs() > 1.0 { "large" } else { "small" }
            )
        };
        self.error("out-of-range", &column.header, || format!("`{text}`"), help);
        None
    }

    /// The number of a cell that repeats its column's unit, as in `2.5"`.
    fn with_unit(&self, text: &str, column: &Column) -> Result<f64, NumberFault> {
        let last = |at: usize| at + text.get(at..).and_then(|rest| rest.chars().next()).map_or(1, char::len_utf8);
        let at = text.rfind(|c: char| c.is_numeric() || c == '.' || c == ',').map_or(0, last);
        let (number, unit) = text.split_at(at);
        let unit = super::header::HeaderCell::parse(unit).words.concat();
        match unit_of(&unit, column.holds) {
            Some(measure) if measure == column.measure && measure != Measure::Divisions => parse_number(number, self.mark),
            Some(_) if parse_number(number, self.mark).is_ok() => Err(NumberFault::OtherUnit),
            _ if is_date(text) => Err(NumberFault::Date),
            _ => Err(NumberFault::NotANumber),
        }
    }

    /// A number above 0.
    pub(super) fn positive(&mut self, number: f64, column: &Column) -> Option<f64> {
        if number > 0.0 {
            return Some(number);
        }
        let text = self.text(Some(column)).to_owned();
        self.error("not-positive", &column.header, || format!("`{text}`"), || format!("a {} is above 0", column.name));
        None
    }

    /// A number of 0 or more.
    pub(super) fn not_negative(&mut self, number: f64, column: &Column) -> Option<f64> {
        if number >= 0.0 {
            return Some(number);
        }
        let text = self.text(Some(column)).to_owned();
        self.error("negative", &column.header, || format!("`{text}`"), || format!("a {} is 0 or more", column.name));
        None
    }

    /// The whole number of a cell, `default` where the log has no such column.
    pub(super) fn whole(&mut self, column: Option<&Column>, default: u32) -> Option<u32> {
        let Some(column) = column else { return Some(default) };
        if self.text(Some(column)).is_empty() {
            let help = || {
                format!(
                    "write the number of the {} in every row: an empty cell does not take that of the row above",
                    column.name.replace('_', " ")
                )
            };
            self.error("missing-value", &column.header, || "an empty cell".to_owned(), help);
            return None;
        }
        let number = self.number(Some(column))?;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked to be a whole number in range")]
        if (0.0..=4_294_967_295.0).contains(&number) && number.fract() == 0.0 {
            return Some(number as u32);
        }
        let text = self.text(Some(column)).to_owned();
        self.error("not-whole", &column.header, || format!("`{text}`"), || "write a whole number from 0".to_owned());
        None
    }

    /// A word of a cell by `known`; `None` for an empty cell, and for a fault, which is noted.
    pub(super) fn word<T>(&mut self, column: Option<&Column>, known: fn(&str) -> Option<T>, words: &[&str]) -> Option<T> {
        let column = column?;
        let text = self.text(Some(column));
        if text.is_empty() {
            return None;
        }
        let word = known(text);
        if word.is_none() {
            let text = text.to_owned();
            self.error(
                "unknown-word",
                &column.header,
                || format!("`{text}`"),
                || super::words::advice(&super::words::hyphenated(&text), words),
            );
        }
        word
    }
}

/// Keeps one copy of each text that many rows repeat.
#[derive(Debug, Default)]
pub(super) struct Texts {
    known: HashSet<Arc<str>>,
}

impl Texts {
    /// The shared copy of `text`; `None` when it is empty.
    pub(super) fn share(&mut self, text: &str) -> Option<Arc<str>> {
        if text.is_empty() {
            return None;
        }
        if let Some(known) = self.known.get(text) {
            return Some(Arc::clone(known));
        }
        let shared: Arc<str> = Arc::from(text);
        self.known.insert(Arc::clone(&shared));
        Some(shared)
    }
}
