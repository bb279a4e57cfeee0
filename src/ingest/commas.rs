//! Decimal commas that no quote tells from the commas between cells: `38,021` under `diameter_mm,note` is a diameter of 38 with the note 021.

use super::collector::Collector;
use super::header::columns::Column;
use super::header::{Holds, Measure};
use super::lines::{Separator, split_cells};
use super::log::Log;
use crate::findings::{Finding, Severity};
use std::borrow::Cow;
use std::collections::HashSet;

/// Rows that are looked at.
const LOOKED_AT: usize = 1000;

/// A whole number of a column and the digits in the cell beside it, of all rows so far.
#[derive(Default)]
struct Fractions<'t> {
    rows: usize,
    different: HashSet<Cow<'t, str>>,
    /// Fewest and most digits.
    digits: Option<(usize, usize)>,
    /// Whether some begin with 0.
    zeros: bool,
}

impl<'t> Fractions<'t> {
    /// Takes the cells of one row; false when they show that there is a cell of its own beside the number.
    fn take(&mut self, number: &str, beside: Option<&Cow<'t, str>>) -> bool {
        let whole = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        if !whole(number.strip_prefix(['-', '+', '−']).unwrap_or(number)) {
            return number.is_empty();
        }
        let Some(beside) = beside.filter(|cell| !cell.is_empty()) else { return true };
        if !whole(beside) {
            return false;
        }
        self.rows += 1;
        self.zeros |= beside.len() > 1 && beside.starts_with('0');
        let (few, most) = self.digits.unwrap_or((beside.len(), beside.len()));
        self.digits = Some((few.min(beside.len()), most.max(beside.len())));
        self.different.insert(beside.clone());
        true
    }

    /// Whether the digits are fractions: no edge, pass or temperature is written so.
    fn are_fractions(&self, holds: Holds) -> bool {
        let Some((few, most)) = self.digits.filter(|_| self.rows >= 2) else { return false };
        let many = self.different.len() * 2 > self.rows;
        let least = match holds {
            Holds::Text => 2,
            Holds::Whole | Holds::Temperature => 3,
            _ => usize::MAX,
        };
        let zeros = self.zeros && (many || most >= 3) && (many || holds != Holds::Degrees);
        zeros || (many && few == most && few >= least)
    }
}

/// Whether a column's cell is a number with a decimal point.
fn has_point(column: &Column, cells: &[Cow<'_, str>]) -> bool {
    let numeric = !matches!(column.holds, Holds::Text | Holds::Whole);
    numeric && cells.get(column.index).is_some_and(|cell| cell.contains('.') && cell.parse::<f64>().is_ok())
}

impl Log<'_> {
    /// An error where every number of a column is whole and every cell beside it a bare group of digits that can only be its fraction. Where a number of the
    /// log has a decimal point commas are no decimal marks.
    pub(super) fn commas_inside(&self, columns: &[&Column], collector: &mut Collector) {
        if self.separator() != Separator::Comma {
            return;
        }
        // whole thousandths are what a log may well hold
        let coarse = |column: &&&Column| match (column.holds, column.measure) {
            (Holds::Length, Measure::Times(factor)) => factor >= 0.1,
            (Holds::Slope, _) => true,
            _ => false,
        };
        for column in columns.iter().filter(coarse) {
            let Some(beside) = columns.iter().find(|other| other.index == column.index + 1) else { continue };
            let mut fractions = Fractions::default();
            let mut first = None;
            let mut lines = self.body_lines();
            let mut cells = Vec::new();
            let mut looked_at = 0;
            let apart = loop {
                let Some((row, line)) = lines.next_row().filter(|_| looked_at < LOOKED_AT) else { break true };
                looked_at += 1;
                if line.contains('"') || split_cells(line, Separator::Comma, &mut cells).is_err() {
                    break false;
                }
                if self.is_header(line) {
                    continue;
                }
                if columns.iter().any(|one| has_point(one, &cells)) {
                    return;
                }
                let Some(number) = cells.get(column.index) else { continue };
                if !fractions.take(number, cells.get(beside.index)) {
                    break false;
                }
                first.get_or_insert((row, line));
            };
            if let Some((row, line)) = first.filter(|_| apart && fractions.are_fractions(beside.holds)) {
                let found = format!("`{}`: commas between cells and inside numbers", line.trim());
                let help = format!(
                    "every `{}` is whole and every `{}` beside it its fraction: use a semicolon or tab between cells, or put numbers with a \
                     decimal comma in quotes",
                    column.header, beside.header
                );
                let finding = Finding::new("comma-twice", Severity::Error, found, help);
                collector.add(finding.in_file(self.file.clone()).at_row(row).in_column(column.header.clone()));
                return;
            }
        }
    }
}
