use super::blocks::Blocks;
use super::bounds::MOST_LINE;
use super::collector::Collector;
use super::header::Holds;
use super::header::columns::Column;
use super::lines::{Lines, Separator, split_cells};
use super::log::Log;
use super::numbers::{DecimalMark, as_thousands};
use crate::findings::{Finding, Severity};

/// Rows that are looked at for grouped thousands.
const LOOKED_AT: usize = 10_000;

impl Log<'_> {
    /// An error where the decimal mark can only group thousands: all numbers of a column from 100 to 999 are written whole and all others as
    /// `1.100`, in this mark, which would make the smallest less than a tenth of those.
    pub(super) fn thousands(&self, columns: &[&Column], mark: DecimalMark, collector: &mut Collector) {
        for column in columns.iter().filter(|column| column.holds == Holds::Length) {
            let mut grouped: Option<(u64, String, String)> = None;
            let (mut least_grouped, mut least_whole) = (f64::INFINITY, f64::INFINITY);
            let (mut lines, mut cells, mut looked_at) = (self.body_lines(), Vec::new(), 0);
            let all = loop {
                let Some((row, line)) = lines.next_row().filter(|_| looked_at < LOOKED_AT) else { break true };
                looked_at += 1;
                if split_cells(line, self.separator(), &mut cells).is_err() || self.is_header(line) {
                    continue;
                }
                let Some(cell) = cells.get(column.index).filter(|cell| !cell.is_empty()) else { continue };
                match (as_thousands(cell, mark), cell.parse::<u32>()) {
                    (Some(meant), _) => {
                        least_grouped = least_grouped.min(meant.parse().map_or(f64::INFINITY, |meant: f64| meant / 1000.0));
                        grouped.get_or_insert_with(|| (row, cell.to_string(), meant));
                    }
                    (None, Ok(whole @ 100..=999)) => least_whole = least_whole.min(f64::from(whole)),
                    _ => break false,
                }
            };
            if let Some((row, cell, meant)) = grouped.filter(|_| all && least_whole.is_finite() && least_grouped < 0.1 * least_whole) {
                let help = format!("a thousands separator? write {meant}; if it is a decimal mark write a digit more or less behind it");
                let finding = Finding::new("thousands-separator", Severity::Error, format!("`{cell}` among whole numbers from 100"), help);
                collector.add(finding.in_file(self.file.clone()).at_row(row).in_column(column.header.clone()));
            }
        }
    }
}

/// The decimal mark of a whole file, from the cells of its numeric columns: the comma when only commas stand in numbers, or more
/// commas than points; else the point. Where the columns disagree the column of what was measured, `principal`, decides: stations may have their
/// thousands grouped. `blocks` are the lines below the header.
pub(super) fn decimal_mark(separator: Separator, numeric: &[usize], principal: Option<usize>, blocks: &mut Blocks<'_>) -> DecimalMark {
    let marker = if separator == Separator::Comma { b'"' } else { b',' };
    if !blocks.hold(marker) {
        return DecimalMark::Point;
    }
    let (mut commas, mut points) = (0_u64, 0_u64);
    let (mut own_commas, mut own_points) = (0_u64, 0_u64);
    blocks.each(|block| {
        let mut rows = Lines::new(block);
        let mut cells = Vec::new();
        while let Some((_, line)) = rows.next_row() {
            if line.len() > MOST_LINE || split_cells(line, separator, &mut cells).is_err() {
                continue;
            }
            for (index, cell) in numeric.iter().filter_map(|index| Some((*index, cells.get(*index)?))) {
                if !cell.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '+' | '.' | ',' | '−')) {
                    continue;
                }
                let own = u64::from(Some(index) == principal);
                match (cell.contains(','), cell.contains('.')) {
                    (true, false) => (commas, own_commas) = (commas + 1, own_commas + own),
                    (false, true) => (points, own_points) = (points + 1, own_points + own),
                    _ => {}
                }
            }
        }
    });
    let (commas, points) = if own_commas == own_points { (commas, points) } else { (own_commas, own_points) };
    if commas > points { DecimalMark::Comma } else { DecimalMark::Point }
}
