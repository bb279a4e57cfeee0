use super::blocks::Blocks;
use super::bounds::{MOST_CELL, long_cell, long_line, many_columns};
use super::cells::Row;
use super::collector::Collector;
use super::decimal::decimal_mark;
use super::discovery::is_spreadsheet;
use super::header::HeaderCell;
use super::header::columns::{Columns, HeaderPlace};
use super::header::header_lines::{below_titles, is_known_header, join_units, over_lines};
use super::header::titles::Titles;
use super::lines::{Lines, Separator, is_comment, split_cells, trimmed};
use super::log_kind::LogKind;
use super::numbers::DecimalMark;
use crate::findings::{Finding, Severity};
use crate::trial::LogUnits;
use std::borrow::Cow;
use std::path::Path;

/// The text of a log with its header taken apart.
#[derive(Debug)]
pub(super) struct Log<'t> {
    pub(super) file: String,
    pub(super) header: Vec<HeaderCell>,
    header_row: u64,
    header_line: &'t str,
    /// The lines above the header that are neither blank nor comments.
    titles: Vec<(u64, &'t str)>,
    separator: Separator,
    rest: Lines<'t>,
}

impl<'t> Log<'t> {
    /// Finds the header of a text.
    ///
    /// # Errors
    /// `no-header`, `empty-file`, `unclosed-quote`.
    pub(super) fn open(text: &'t str, file: &str) -> Result<Self, Box<Finding>> {
        let mut rest = Lines::new(text);
        let error = |code, row: u64, found: String, help: &str| {
            Box::new(Finding::new(code, Severity::Error, found, help).in_file(file).at_row(row))
        };
        let help = "give a header line, such as station_mm,diameter_mm, above the readings";
        let mut first = rest.next_row();
        if first.is_some_and(|(_, line)| line.trim().len() <= 6 && line.trim().to_lowercase().starts_with("sep=")) {
            first = rest.next_row();
        }
        let Some((row, line)) = first else {
            return Err(Box::new(Finding::new("empty-file", Severity::Error, "nothing but blank lines and comments", help).in_file(file)));
        };
        // a cell in quotes may hold a line end, as spreadsheet programs write a header of two lines
        let (row, line, titles) = if let Some((lines, whole)) = over_lines(text, line, &rest) {
            rest = lines;
            (row, whole, Vec::new())
        } else if let Some(below) = below_titles(&rest, line) {
            rest = below.lines;
            (below.row, below.header, std::iter::once((row, line)).chain(below.titles).collect())
        } else {
            (row, line, Vec::new())
        };
        let too_large = |finding: Finding| Box::new(finding.in_file(file).at_row(row));
        if let Some(finding) = long_line(line) {
            return Err(too_large(finding));
        }
        let separator = Separator::of_header(line);
        if separator == Separator::Blanks && line.contains('|') && is_known_header(&line.replace('|', "\t")) {
            let help = "`|` parts no cells: put a comma, a semicolon or a tab between them, in every line";
            return Err(error("unknown-log", row, format!("header `{}`", line.trim()), help));
        }
        let mut cells: Vec<Cow<'_, str>> = Vec::new();
        if split_cells(line, separator, &mut cells).is_err() {
            // an inch mark that stands alone is no quote
            cells = vec![Cow::Borrowed(line.trim())];
            if line.matches('"').count() % 2 == 1 && separator != Separator::Blanks {
                return Err(error(
                    "unclosed-quote",
                    row,
                    format!("a quote that is not closed in `{line}`"),
                    "close the quote, or take it out",
                ));
            }
        }
        if cells.iter().all(|cell| cell.is_empty() || cell.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '.')) {
            return Err(error("no-header", row, format!("`{}` where the header should be", line.trim()), help));
        }
        if let Some(finding) = many_columns(&cells).or_else(|| long_cell(&cells, &[])) {
            return Err(too_large(finding));
        }
        let texts = if separator == Separator::Blanks { join_units(&cells) } else { cells.iter().map(ToString::to_string).collect() };
        let header = texts.iter().map(|text| HeaderCell::parse(text)).collect();
        Ok(Self { file: file.to_owned(), header, header_row: row, header_line: line, titles, separator, rest })
    }

    /// Where the header stands.
    pub(super) fn place(&self, units: Option<LogUnits>) -> HeaderPlace<'_> {
        HeaderPlace { file: &self.file, row: self.header_row, units }
    }

    /// What is to be said of the lines above the header of a log of that kind.
    pub(super) fn titles(&self, kind: Option<LogKind>, units: Option<LogUnits>) -> Vec<Finding> {
        let (lines, header, separator, place) = (self.titles.as_slice(), self.header.as_slice(), self.separator, self.place(units));
        Titles { lines, header, separator, place, kind }.findings()
    }

    /// The decimal mark, from the cells of the columns that hold numbers; `blocks` are the lines below the header.
    pub(super) fn decimal_mark(&self, numeric: &[usize], principal: Option<usize>, blocks: &mut Blocks<'_>) -> DecimalMark {
        decimal_mark(self.separator, numeric, principal, blocks)
    }

    /// What stands between its cells.
    pub(super) fn separator(&self) -> Separator {
        self.separator
    }

    /// Whether a line is its header once more.
    pub(super) fn is_header(&self, line: &str) -> bool {
        trimmed(line) == self.header_line.trim()
    }

    /// Gives every line below the header to `each`; lines of the wrong length are noted and left out. Returns how many lines there are.
    pub(super) fn rows(&self, shape: &RowShape, collector: &mut Collector, each: impl FnMut(&mut Row<'_, 't>)) -> u64 {
        self.rows_of(self.rest.clone(), shape, &mut false, collector, each)
    }

    /// The lines below the header, of a log that is whole in memory.
    pub(super) fn text_blocks(&self) -> Blocks<'t> {
        Blocks::Text(self.rest.rest())
    }

    /// The lines below the header as far as they are at hand.
    pub(super) fn body_lines(&self) -> Lines<'t> {
        self.rest.clone()
    }

    /// As [`Self::rows`], of some lines of the log. `commas_said` is whether it was said that commas stand between cells and inside numbers.
    pub(super) fn rows_of<'b>(
        &self,
        mut lines: Lines<'b>,
        shape: &RowShape,
        commas_said: &mut bool,
        collector: &mut Collector,
        mut each: impl FnMut(&mut Row<'_, 'b>),
    ) -> u64 {
        let mut cells: Vec<Cow<'b, str>> = Vec::new();
        let header = self.header_line.trim();
        let mut count = 0;
        let width = self.header.iter().rposition(|cell| !cell.is_empty()).map_or(0, |last| last + 1);
        while let Some((number, line)) = lines.next_filled() {
            if is_comment(line) {
                self.commented(number, line, shape, width, collector);
                continue;
            }
            if let Some(finding) = long_line(line) {
                collector.add(finding.in_file(self.file.clone()).at_row(number));
                count += 1;
                continue;
            }
            let split = split_cells(line, self.separator, &mut cells);
            if split.is_ok() && cells.iter().all(|cell| cell.is_empty()) {
                continue; // nothing but separators
            }
            if line.len() >= header.len() && trimmed(line) == header {
                let finding = Finding::new(
                    "header-again",
                    Severity::Warning,
                    "the header once more",
                    "it is passed over; a second table belongs into a file of its own",
                );
                collector.add(finding.in_file(self.file.clone()).at_row(number));
                continue;
            }
            if line.starts_with(char::is_alphabetic) && is_known_header(line) {
                let found = format!("another header: `{}`", line.trim());
                let help = "one file holds one table: put the second into a file of its own";
                let finding = Finding::new("two-tables", Severity::Error, found, help);
                collector.add(finding.in_file(self.file.clone()).at_row(number));
                break;
            }
            count += 1;
            if line.len() > MOST_CELL
                && let Some(finding) = long_cell(&cells, &self.header)
            {
                collector.add(finding.in_file(self.file.clone()).at_row(number));
                continue;
            }
            while cells.len() > width && cells.last().is_some_and(|cell| cell.is_empty()) {
                cells.pop();
            }
            let mut row = Row { file: &self.file, number, mark: shape.mark, cells: &cells, collector };
            if let Err(quote) = split {
                let column = self.header.get(quote.cell - 1).map_or_else(|| quote.cell.to_string(), |cell| cell.text.clone());
                let found = || "a quote that its line does not close".to_owned();
                row.error("unclosed-quote", &column, found, || "close the quote; a cell stays on one line".to_owned());
                continue;
            }
            if cells.len() > width {
                if self.separator == Separator::Blanks && shape.ends_in_text {
                    let tail = cells.split_off(width.saturating_sub(1)).join(" ");
                    cells.push(Cow::Owned(tail));
                    row = Row { file: &self.file, number, mark: shape.mark, cells: &cells, collector };
                } else {
                    if self.separator == Separator::Comma && is_comma_twice(line, &cells) {
                        if !std::mem::replace(commas_said, true) {
                            let found = || format!("`{}`: commas between cells and inside numbers", line.trim());
                            let help = || "use a semicolon or tab between cells, or put numbers with a decimal comma in quotes".to_owned();
                            row.error("comma-twice", &(width + 1).to_string(), found, help);
                        }
                        continue;
                    }
                    let found = || format!("{} cells under a header of {width}: `{}`", cells.len(), line.trim());
                    let help = || {
                        let sheet = "give every column with cells a name in the header, or empty these cells";
                        if is_spreadsheet(Path::new(&self.file)) { sheet } else { "put a text with separators in quotes" }.to_owned()
                    };
                    row.error("row-too-long", &(width + 1).to_string(), found, help);
                    continue;
                }
            } else if cells.len() < shape.least_cells {
                let found = || format!("{} cells under a header of {width}: `{}`", cells.len(), line.trim());
                let help = || {
                    let sheet = "fill the empty cells of this row, or take the row out";
                    let text = "write every cell, empty ones too, with its separator";
                    if is_spreadsheet(Path::new(&self.file)) { sheet } else { text }.to_owned()
                };
                row.error("row-too-short", &(cells.len() + 1).to_string(), found, help);
                continue;
            }
            each(&mut row);
        }
        count
    }
}

/// How long a log's lines may be and how their numbers are written.
#[derive(Debug, Clone)]
pub(super) struct RowShape {
    pub(super) least_cells: usize,
    pub(super) ends_in_text: bool,
    pub(super) mark: DecimalMark,
    /// Columns in which a reading has numbers.
    pub(super) numbers: Vec<usize>,
}

impl RowShape {
    /// The shape of a log's lines; marks that cannot be decimal ones go to `collector`.
    pub(super) fn of(columns: &Columns, log: &Log<'_>, blocks: &mut Blocks<'_>, collector: &mut Collector) -> Self {
        let mark = log.decimal_mark(&columns.numeric(), columns.principal(), blocks);
        log.commas_inside(&columns.all(), collector);
        log.thousands(&columns.all(), mark, collector);
        Self {
            least_cells: columns.least_cells(),
            ends_in_text: columns.ends_in_text(log.header.len()),
            mark,
            numbers: columns.needed_numbers(),
        }
    }
}

/// Whether a line has only whole numbers between its commas, so that some commas may be decimal marks.
fn is_comma_twice(line: &str, cells: &[Cow<'_, str>]) -> bool {
    let whole = |cell: &&Cow<'_, str>| !cell.is_empty() && cell.bytes().all(|byte| byte.is_ascii_digit() || byte == b'-' || byte == b'+');
    !line.contains('"') && !cells.iter().any(|cell| cell.contains('.')) && cells.iter().filter(whole).count() >= 3
}
