//! The cells of a sheet as text: a line a row, a tab between cells.

use super::super::bounds::MOST_COLUMNS;
use super::{finding, unreadable};
use crate::findings::Finding;
use calamine::{Data, ExcelDateTime};

/// Text under way: where it ends.
#[derive(Default)]
pub(in crate::ingest) struct Text {
    text: String,
    row: u32,
    column: u32,
    /// The cell that was put last.
    last: Option<(u32, u32)>,
    /// Where the first filled cell of the row begins and ends, and how many cells are filled.
    first: (usize, usize),
    filled: u32,
}

impl Text {
    /// Puts a cell at its place, counted from 0.
    ///
    /// # Errors
    /// A cell out of order or too far to the right.
    pub(in crate::ingest) fn put(&mut self, row: u32, column: u32, cell: &str) -> Result<(), Box<Finding>> {
        if cell.is_empty() {
            return Ok(());
        }
        // A cell put over or before another would join two numbers, or be lost.
        if self.last.replace((row, column)).is_some_and(|last| last >= (row, column)) {
            return Err(unreadable(format!("`{cell}` in row {} stands out of order", row + 1)));
        }
        if column as usize >= MOST_COLUMNS {
            let found = format!("`{cell}` in column {} of row {}", column + 1, row + 1);
            return Err(finding("spreadsheet-too-large", found, format!("keep a log within {MOST_COLUMNS} columns")));
        }
        if self.row < row {
            self.end_row();
        }
        while self.row < row {
            self.text.push('\n');
            self.row += 1;
            self.column = 0;
        }
        while self.column < column {
            self.text.push('\t');
            self.column += 1;
        }
        let start = self.text.len();
        self.text.push_str(cell);
        if self.filled == 0 {
            self.first = (start, self.text.len());
        }
        self.filled += 1;
        Ok(())
    }

    /// Puts the first cell of a row that has others in quotes where it begins with `#`: the line would be a comment. A cell alone is one.
    fn end_row(&mut self) {
        let (start, end) = self.first;
        if std::mem::take(&mut self.filled) > 1
            && let Some(cell) = self.text.get(start..end).filter(|cell| cell.starts_with('#'))
        {
            let quoted = format!("\"{}\"", cell.replace('"', "\"\""));
            self.text.replace_range(start..end, &quoted);
        }
    }

    /// All of it.
    pub(in crate::ingest) fn finish(mut self) -> String {
        self.end_row();
        self.text.push('\n');
        self.text
    }
}

/// A cell as the reader of logs takes it: one line, no tab.
pub(in crate::ingest) fn cell_text(cell: Data) -> String {
    match cell {
        Data::Empty => String::new(),
        Data::Int(value) => value.to_string(),
        Data::Float(value) => number_text(value),
        Data::Bool(value) => value.to_string(),
        Data::String(text) => one_line(&text),
        Data::DateTime(moment) => moment_text(&moment),
        Data::DateTimeIso(text) => text.strip_suffix("T00:00:00").unwrap_or(&text).to_owned(),
        Data::DurationIso(text) => duration_text(&text).unwrap_or(text),
        // In quotes: a line that begins with `#` would be a comment.
        Data::Error(error) => format!("\"{error}\""),
    }
}

/// A number with at most 15 digits: what a formula leaves beyond them is rounding.
fn number_text(value: f64) -> String {
    format!("{value:.14e}").parse::<f64>().unwrap_or(value).to_string()
}

fn one_line(text: &str) -> String {
    let line: String = text.trim().chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if line.starts_with('"') { format!("\"{}\"", line.replace('"', "\"\"")) } else { line }
}

fn moment_text(moment: &ExcelDateTime) -> String {
    let (year, month, day, hour, minute, second, _) = moment.to_ymd_hms_milli();
    let time = format!("{hour:02}:{minute:02}:{second:02}");
    match moment.as_f64() {
        days if (0.0..1.0).contains(&days) => time,
        days if days.fract() == 0.0 => format!("{year:04}-{month:02}-{day:02}"),
        _ => format!("{year:04}-{month:02}-{day:02}T{time}"),
    }
}

/// `PT14H05M00S` as `14:05:00`.
fn duration_text(text: &str) -> Option<String> {
    let (hours, rest) = text.strip_prefix("PT")?.split_once('H')?;
    let (minutes, rest) = rest.split_once('M')?;
    let seconds = rest.strip_suffix('S')?.split('.').next()?;
    let part = |text: &str| text.parse::<u32>().ok();
    Some(format!("{:02}:{:02}:{:02}", part(hours)?, part(minutes)?, part(seconds)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_that_begins_with_a_hash_hides_no_row() {
        let mut text = Text::default();
        let cells = [
            (0, 0, "#"),
            (0, 1, "D"),
            (1, 1, "#1 \"a\""),
            (1, 2, "5"),
            (2, 0, "# tea"),
            (3, 0, "b"),
            (3, 1, "#2"),
            (4, 0, "#3"),
            (4, 1, "6"),
        ];
        cells.iter().try_for_each(|(row, column, cell)| text.put(*row, *column, cell)).unwrap();
        assert_eq!(text.finish(), "\"#\"\tD\n\t\"#1 \"\"a\"\"\"\t5\n# tea\nb\t#2\n\"#3\"\t6\n");
    }

    #[test]
    fn numbers_keep_what_a_spreadsheet_keeps() {
        assert_eq!(number_text(25.400_000_000_000_002), "25.4");
        assert_eq!(number_text(20.0), "20");
        assert_eq!(number_text(-0.001_25), "-0.00125");
        assert_eq!(duration_text("PT14H05M00S").as_deref(), Some("14:05:00"));
        assert_eq!(duration_text("P1D"), None);
    }
}
