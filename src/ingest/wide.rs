//! The wide sheet of diameters: first the station, then a column a pass.

use super::blocks::Blocks;
use super::cells::Row;
use super::checks::summaries::sums_up;
use super::collector::Collector;
use super::diameter_rows::DiameterRows;
use super::header::column_specs::DIAMETERS;
use super::header::columns::{Column, HeaderPlace, identify};
use super::header::diameter_column::soft_diameter;
use super::header::pass_column::{PassColumn, is_nearly_a_pass, is_pass, opened, pass_column, pass_mend};
use super::header::{HeaderCell, Holds, Measure, Unit};
use super::lines::split_cells;
use super::log::{Log, RowShape};
use super::passes::StatedCut;
use crate::findings::{Finding, Severity};
use crate::trial::LogUnits;
use crate::trial::{DiameterReading, Place};

/// Whether a header is that of a wide sheet: a station, then passes, and no diameter. What else it has is said by [`WideColumns::resolve`].
pub(super) fn is_wide(header: &[HeaderCell]) -> bool {
    let mut cells = header.iter().filter(|cell| !cell.is_empty());
    let names = |cell: &HeaderCell| identify(cell, DIAMETERS).map(|(spec, _)| spec.name);
    let starts = cells.next().is_some_and(|cell| names(cell) == Some("station"));
    let (passes, others): (Vec<_>, Vec<_>) = cells.partition(|cell| is_pass(cell));
    starts
        && !passes.is_empty()
        && others.iter().all(|cell| is_mean(cell) || names(cell) != Some("diameter") && soft_diameter(cell).is_none())
}

/// Whether a column is headed as a mean of others: in a sheet with a column a pass it is no pass.
fn is_mean(cell: &HeaderCell) -> bool {
    cell.words.first().is_some_and(|word| sums_up(word))
}

/// What is said of a column of a wide sheet that is neither station, pass nor note.
fn no_pass(cell: &HeaderCell, known: Option<&str>, place: &HeaderPlace<'_>) -> Finding {
    let found = format!("column `{}` in a sheet with a column for each pass", cell.text);
    if is_nearly_a_pass(cell) {
        let help = "no header of a pass: write `pass 1`, or with its direction `pass 1 to-headstock`, `pass 1 to-tailstock`";
        return place.error("unknown-column", &cell.text, found, help.to_owned());
    }
    if let Some(name) = known.filter(|_| !is_mean(cell)) {
        let help = format!(
            "such a sheet has a station, passes and a note: what `{name}` says would be lost. Take the column out, or write a line for each reading \
             with the columns station, diameter, pass and {name}"
        );
        return place.error("unknown-column", &cell.text, found, help);
    }
    let help = "it is not read: known are station, a column for each pass, and note".to_owned();
    Finding { severity: Severity::Warning, ..place.error("unread-column", &cell.text, found, help) }
}

/// Bare numbers over columns up to this are taken for numbers of passes, however few passes a sheet has; stations in millimetres reach farther.
const BARE_PASSES: u32 = 50;

/// Rows of the first column that are looked at.
const LOOKED_AT: usize = 1000;

/// Says that bare numbers over the columns are no numbers of passes: they leap while the first column counts, or are too large.
fn stations_across(passes: &[(Column, PassColumn)], first_counts: bool, place: &HeaderPlace<'_>, collector: &mut Collector) {
    let count = u32::try_from(passes.len()).unwrap_or(u32::MAX);
    let bare = || passes.iter().filter(|(_, pass)| pass.bare);
    let leap = bare().zip(bare().skip(1)).find(|((_, before), (_, pass))| pass.pass > before.pass.saturating_add(1)).map(|(_, leap)| leap);
    let too_large = || bare().find(|(_, pass)| pass.pass > BARE_PASSES.max(count));
    let Some((column, odd)) = leap.filter(|_| first_counts).or_else(too_large) else { return };
    let found = format!("`{}` over one of {count} columns of diameters", column.header);
    let help = format!(
        "bare numbers of passes are 1, 2, 3 and so on. If stations run across and passes down, turn the sheet over, so that each line is a \
         station; if it is the number of a pass write `pass {}`, and so over each column",
        odd.pass
    );
    collector.add(place.error("stations-across", &column.header, found, help));
}

/// Whether the first column counts by one, as passes do: 1, 2, 3, each as often as one likes.
fn counts(log: &Log<'_>, column: &Column) -> bool {
    let (mut lines, mut cells, mut before) = (log.body_lines(), Vec::new(), None::<u32>);
    for _ in 0..LOOKED_AT {
        let Some((_, line)) = lines.next_row() else { break };
        if split_cells(line, log.separator(), &mut cells).is_err() || log.is_header(line) || cells.iter().all(|cell| cell.is_empty()) {
            continue;
        }
        let Some(number) = cells.get(column.index).and_then(|cell| cell.parse::<u32>().ok()) else { return false };
        if before.is_some_and(|before| number != before && number != before.saturating_add(1)) {
            return false;
        }
        before = Some(number);
    }
    before.is_some()
}

/// The columns of a wide sheet.
pub(super) struct WideColumns {
    station: Option<Column>,
    note: Option<Column>,
    passes: Vec<(Column, PassColumn)>,
    pub(super) shape: RowShape,
}

impl WideColumns {
    /// Finds the columns in a header; faults go to `collector`.
    pub(super) fn resolve(log: &Log<'_>, units: Option<LogUnits>, blocks: &mut Blocks<'_>, collector: &mut Collector) -> Self {
        let place = log.place(units);
        let (mut station, mut note) = (None::<Column>, None::<Column>);
        let mut passes: Vec<(Column, PassColumn)> = Vec::new();
        let header: Vec<HeaderCell> = log.header.iter().map(opened).collect();
        for (index, cell) in header.iter().enumerate().filter(|(_, cell)| !cell.is_empty()) {
            let column =
                |name, holds, measure| Column { index, header: cell.text.clone(), name, holds, measure, needed: name == "station" };
            let Some(pass) = pass_column(cell) else {
                match identify(cell, DIAMETERS) {
                    Some((spec, unit)) if spec.name == "station" && station.is_none() => {
                        let measure = place.measure(cell, spec, unit, collector);
                        station = Some(column("station", Holds::Length, measure));
                    }
                    Some((spec, _)) if spec.name == "note" => note = Some(column("note", Holds::Text, Measure::Times(1.0))),
                    known => collector.add(no_pass(cell, known.map(|(spec, _)| spec.name), &place)),
                }
                continue;
            };
            let diameter = DIAMETERS.iter().find(|spec| spec.name == "diameter");
            let measure = match (cell.unit(pass.named, "diameter", Holds::Length), diameter) {
                (Some(Unit::Missing) | None, _) | (_, None) => station.as_ref().map_or(Measure::Times(1.0), |station| station.measure),
                (Some(Unit::Beside(odd, known)), _) => {
                    let help = pass_mend(pass.pass, pass.direction, &odd, known);
                    collector.add(place.error("words-in-header", &cell.text, format!("`{}` in `{}`", odd.join(" "), cell.text), help));
                    Measure::Times(1.0)
                }
                (Some(unit), Some(diameter)) => place.measure(cell, diameter, unit, collector),
            };
            if let Some((first, _)) = passes.iter().find(|(_, other)| other.pass == pass.pass && other.direction == pass.direction) {
                let finding = Finding::new(
                    "duplicate-column",
                    Severity::Error,
                    format!("`{}` and `{}` are both pass {}", first.header, cell.text, pass.pass),
                    "give each column a pass number of its own",
                );
                collector.add(finding.in_file(place.file).at_row(place.row).in_column(cell.text.clone()));
            }
            passes.push((column("diameter", Holds::Length, measure), pass));
        }
        let first_counts = station.as_ref().is_some_and(|station| counts(log, station));
        stations_across(&passes, first_counts, &place, collector);
        let numeric: Vec<usize> = station.iter().map(|column| column.index).chain(passes.iter().map(|(column, _)| column.index)).collect();
        let first = passes.first().map(|(column, _)| column.index);
        let mark = log.decimal_mark(&numeric, first, blocks);
        let numbers = numeric.iter().copied().take(2).collect();
        let shape = RowShape { least_cells: 1, ends_in_text: note.is_some(), mark, numbers };
        let columns: Vec<&Column> = station.iter().chain(passes.iter().map(|(column, _)| column)).chain(&note).collect();
        log.commas_inside(&columns, collector);
        log.thousands(&columns, mark, collector);
        Self { station, note, passes, shape }
    }

    /// The measured columns, as the header writes them.
    pub(super) fn header(&self) -> String {
        self.passes.first().map_or_else(String::new, |(column, _)| column.header.clone())
    }

    /// Reads one row; an empty cell was not measured.
    pub(super) fn read(&self, row: &mut Row<'_, '_>, file: usize, rows: &mut DiameterRows) {
        let station_mm = row.needed(self.station.as_ref());
        let note = rows.texts.share(row.text(self.note.as_ref()));
        for (column, pass) in &self.passes {
            let Some(read_mm) = row.number(Some(column)).and_then(|number| row.positive(number, column)) else { continue };
            let Some(station_mm) = station_mm else { continue };
            rows.note_step(None, row.text(Some(column)), column.measure.step());
            let bare = DiameterReading::bare(Place { file, row: row.number }, station_mm, read_mm);
            let reading = DiameterReading { pass: pass.pass, note: note.clone(), ..bare };
            rows.push(&reading, StatedCut { direction: pass.direction, ..StatedCut::default() }, None);
        }
    }
}
