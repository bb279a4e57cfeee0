//! Comments below a header that look like readings.

use super::bounds::MOST_LINE;
use super::collector::Collector;
use super::lines::split_cells;
use super::log::{Log, RowShape};
use super::numbers::parse_number;
use crate::findings::{Finding, Severity};

impl Log<'_> {
    /// Says that a comment below the header has the numbers of a reading.
    pub(super) fn commented(&self, number: u64, line: &str, shape: &RowShape, width: usize, collector: &mut Collector) {
        let body = line.trim_start().trim_start_matches('#');
        let mut cells = Vec::new();
        if line.len() > MOST_LINE || split_cells(body, self.separator(), &mut cells).is_err() || cells.len() > width.max(shape.least_cells)
        {
            return;
        }
        let is_number = |index: &usize| cells.get(*index).is_some_and(|cell| parse_number(cell, shape.mark).is_ok());
        if !shape.numbers.is_empty() && shape.numbers.iter().all(is_number) {
            collector.remark(|| {
                let found = format!("a line that begins with `#` and has the numbers of a reading: `{}`", line.trim());
                let help = "it is a comment and not read: to have it read put a cell that begins with `#` in quotes; to leave it out with its reason write the reason in a column exclude";
                Finding::new("commented-row", Severity::Warning, found, help).in_file(self.file.clone()).at_row(number)
            });
        }
    }
}
