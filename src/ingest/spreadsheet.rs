//! Sheets of spreadsheet programs, brought to the text that the one reader of logs takes.

pub(super) mod hidden_rows;
pub(super) mod markup;
pub(super) mod references;
pub(super) mod sheet_text;
pub(super) mod unpacked;

use super::lines::Lines;
use super::log::Log;
use super::log_kind::LogKind;
use crate::findings::{Finding, Severity};
use calamine::{Data, Ods, Reader, SheetType, SheetVisible, Xlsx};
use hidden_rows::{covers, hidden_in_opendocument, hidden_in_workbook};
use sheet_text::{Text, cell_text};
use std::io::Cursor;
use unpacked::{cells_of_opendocument, has_impossible_references, unpacked_size};

/// Most bytes that a spreadsheet file may hold when it is unpacked, MiB.
const MOST_UNPACKED_MIB: u64 = 512;
/// Most cells of a sheet in OpenDocument, which may state thousands of them in one line.
const MOST_CELLS: u64 = 20_000_000;

/// One sheet as text: cells between tabs, a line a row, so that rows keep their numbers.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sheet {
    /// Its name.
    pub(super) name: String,
    /// Its cells.
    pub(super) text: String,
    /// The other sheets of its file.
    pub(super) others: Vec<String>,
    /// Those of them that have the header of a log.
    pub(super) other_logs: Vec<String>,
    /// Whether its file hides it.
    pub(super) is_hidden: bool,
    /// Rows with cells below the header that its file hides, from 1.
    pub(super) hidden_rows: Vec<u64>,
}

/// The path of a spreadsheet file and the sheet that stands behind it, as in `diameters.xlsx:Monday`.
pub(super) fn split_sheet(name: &str) -> Option<(&str, &str)> {
    let lower = name.to_ascii_lowercase();
    let at = [".xlsx:", ".ods:"].iter().filter_map(|ending| lower.rfind(ending).map(|at| at + ending.len() - 1)).max()?;
    let (path, sheet) = (name.get(..at)?, name.get(at + 1..)?);
    (!sheet.is_empty()).then_some((path, sheet))
}

/// The sheet called `wanted`, or the first whose header is a log's (of this kind, where it is known).
///
/// Numbers are written with the 15 digits that spreadsheet programs keep, dates as `2026-05-01`, times as `14:05:00`. Formulas count by their last value.
///
/// # Errors
/// `spreadsheet-unreadable`, `spreadsheet-too-large`, `no-such-sheet`, `no-sheet-with-header`: findings without their file.
pub(super) fn sheet(bytes: &[u8], wanted: Option<&str>, kind: Option<LogKind>) -> Result<Sheet, Box<Finding>> {
    if bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
        let found = "a spreadsheet file of the old binary kind, or one with a password";
        return Err(finding("spreadsheet", found, "save it without a password as .xlsx, .ods or CSV"));
    }
    match unpacked_size(bytes, MOST_UNPACKED_MIB << 20) {
        Some(size) if size <= MOST_UNPACKED_MIB << 20 => {}
        Some(_) => {
            let found = format!("more than {MOST_UNPACKED_MIB} MiB when unpacked");
            return Err(finding("spreadsheet-too-large", found, "save the sheet as CSV and give that file"));
        }
        None => return Err(unreadable("not a whole .xlsx or .ods file")),
    }
    let mut book = Book::open(bytes)?;
    let names = book.names();
    let kind_of = |sheet: &Sheet| Log::open(&sheet.text, "").ok().and_then(|log| LogKind::of_header(&log.header));
    let known = |sheet: &Sheet| kind_of(sheet).is_some_and(|found| kind.is_none_or(|kind| kind == found));
    if let Some(wanted) = wanted {
        let Some(name) = names.iter().find(|name| *name == wanted).or_else(|| names.iter().find(|n| n.eq_ignore_ascii_case(wanted))) else {
            return Err(finding("no-such-sheet", format!("no sheet `{wanted}`"), format!("its sheets: {}", names.join(", "))));
        };
        return book.sheet(name).map(|sheet| among(sheet, &names)).map(|sheet| book.with_hidden_rows(sheet, bytes));
    }
    for name in &names {
        let sheet = book.sheet(name)?;
        if known(&sheet) {
            let mut sheet = among(sheet, &names);
            let others = sheet.others.iter().filter(|name| book.sheet(name).is_ok_and(|other| kind_of(&other).is_some()));
            sheet.other_logs = others.cloned().collect();
            return Ok(book.with_hidden_rows(sheet, bytes));
        }
    }
    let what = kind.map_or("a log", |kind| match kind {
        LogKind::Diameters => "a log of diameters",
        LogKind::Levels => "a log of levels",
        LogKind::Indicator => "a log of an indicator",
        LogKind::Clamp => "a clamp log",
        LogKind::Moves => "a log of moves",
    });
    let found = format!("no sheet with the header of {what} among: {}", names.join(", "));
    Err(finding("no-sheet-with-header", found, "give the columns names such as station_mm and diameter_mm in one row above the readings"))
}

/// A sheet that knows of the others in its file.
fn among(mut sheet: Sheet, names: &[String]) -> Sheet {
    sheet.others = names.iter().filter(|name| **name != sheet.name).cloned().collect();
    sheet
}

pub(super) fn finding(code: &'static str, found: impl Into<String>, help: impl Into<String>) -> Box<Finding> {
    Box::new(Finding::new(code, Severity::Error, found.into(), help))
}

pub(super) fn unreadable(why: impl std::fmt::Display) -> Box<Finding> {
    finding("spreadsheet-unreadable", format!("a spreadsheet file that cannot be read: {why}"), "save the sheet as CSV and give that file")
}

/// A spreadsheet file of either kind.
enum Book<'b> {
    Xlsx(Box<Xlsx<Cursor<&'b [u8]>>>),
    Ods(Box<Ods<Cursor<&'b [u8]>>>),
}

impl<'b> Book<'b> {
    fn open(bytes: &'b [u8]) -> Result<Self, Box<Finding>> {
        // A package of OpenDocument states its kind in its first entry.
        let head = bytes.get(..bytes.len().min(128)).unwrap_or_default();
        if memchr::memmem::find(head, b"opendocument").is_some() {
            match cells_of_opendocument(bytes) {
                Some(cells) if cells <= MOST_CELLS => {}
                Some(_) => {
                    return Err(finding(
                        "spreadsheet-too-large",
                        "more cells than any log has",
                        "save the sheet as CSV and give that file",
                    ));
                }
                None => return Err(unreadable("its content is not whole")),
            }
            return Ods::new(Cursor::new(bytes)).map(|book| Self::Ods(Box::new(book))).map_err(unreadable);
        }
        if has_impossible_references(bytes) != Some(false) {
            return Err(unreadable("it names cells that no sheet has"));
        }
        Xlsx::new(Cursor::new(bytes)).map(|book| Self::Xlsx(Box::new(book))).map_err(unreadable)
    }

    fn about(&self) -> &[calamine::Sheet] {
        match self {
            Self::Xlsx(book) => book.sheets_metadata(),
            Self::Ods(book) => book.sheets_metadata(),
        }
    }

    /// Names of the sheets that have cells: a sheet may be a chart.
    fn names(&self) -> Vec<String> {
        self.about().iter().filter(|sheet| sheet.typ == SheetType::WorkSheet).map(|sheet| sheet.name.clone()).collect()
    }

    fn sheet(&mut self, name: &str) -> Result<Sheet, Box<Finding>> {
        let mut text = Text::default();
        match self {
            Self::Xlsx(book) => {
                let mut cells = book.worksheet_cells_reader(name).map_err(unreadable)?;
                while let Some(cell) = cells.next_cell().map_err(unreadable)? {
                    let (row, column) = cell.get_position();
                    text.put(row, column, &cell_text(Data::from(cell.get_value().clone())))?;
                }
            }
            Self::Ods(book) => {
                let range = book.worksheet_range(name).map_err(unreadable)?;
                let (first_row, first_column) = range.start().unwrap_or((0, 0));
                for (row, cells) in (first_row..).zip(range.rows()) {
                    for (column, cell) in (first_column..).zip(cells) {
                        text.put(row, column, &cell_text(cell.clone()))?;
                    }
                }
            }
        }
        let is_hidden = self.about().iter().any(|sheet| sheet.name == name && sheet.visible != SheetVisible::Visible);
        Ok(Sheet {
            name: name.to_owned(),
            text: text.finish(),
            others: Vec::new(),
            other_logs: Vec::new(),
            is_hidden,
            hidden_rows: Vec::new(),
        })
    }

    /// A sheet that knows which of its rows with cells are hidden below the header: those above it are not read.
    fn with_hidden_rows(&self, mut sheet: Sheet, bytes: &[u8]) -> Sheet {
        let Some(place) = self.about().iter().position(|about| about.name == sheet.name) else { return sheet };
        let hidden = match self {
            Self::Xlsx(_) => hidden_in_workbook(bytes, place),
            Self::Ods(_) => hidden_in_opendocument(bytes, place),
        };
        let header = Log::open(&sheet.text, "").map_or(0, |log| log.place(None).row);
        let is_hidden = |number: &u64| *number > header && covers(&hidden, *number);
        let mut lines = Lines::new(&sheet.text);
        sheet.hidden_rows = if hidden.is_empty() {
            Vec::new()
        } else {
            std::iter::from_fn(|| lines.next_row()).map(|(number, _)| number).filter(is_hidden).collect()
        };
        sheet
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_stands_behind_its_file() {
        assert_eq!(split_sheet("a/diameters.xlsx:Monday"), Some(("a/diameters.xlsx", "Monday")));
        assert_eq!(split_sheet("Diameters.ODS:late: shift"), Some(("Diameters.ODS", "late: shift")));
        assert_eq!(split_sheet("diameters.xlsx"), None);
        assert_eq!(split_sheet("C:/logs/diameters.csv"), None);
    }

    #[test]
    fn cells_keep_their_places_and_their_order() {
        let put = |cells: &[(u32, u32, &str)]| {
            let mut text = Text::default();
            cells.iter().try_for_each(|(row, column, cell)| text.put(*row, *column, cell)).map(|()| text.finish())
        };
        assert_eq!(put(&[(0, 0, "a"), (0, 2, "b"), (2, 1, "c")]).unwrap(), "a\t\tb\n\n\tc\n");
        for wrong in [[(1, 0, "a"), (0, 0, "b")], [(0, 1, "a"), (0, 0, "b")], [(0, 1, "a"), (0, 1, "b")]] {
            assert_eq!(put(&wrong).unwrap_err().code, "spreadsheet-unreadable", "{wrong:?}");
        }
    }
}
