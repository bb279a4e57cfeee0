use super::blocks::Blocks;
use super::collector::Collector;
use super::diameter_rows::{DiameterRows, RowCount};
use super::header::column_specs::DIAMETERS;
use super::header::columns::Columns;
use super::header::empty_columns::leave_out;
use super::lines::Lines;
use super::log::{Log, RowShape};
use super::long_columns::LongColumns;
use super::wide::{self, WideColumns};
use super::words::excludes;
use crate::trial::LogUnits;
use rayon::iter::{IntoParallelRefIterator as _, ParallelIterator as _};

/// Reads one file of diameters, long or wide; `blocks` are the lines below its header.
///
/// Blocks are read side by side and put together in their order. One in which anything is to be said is read again in its turn, so that findings come as if
/// the log had been read line by line.
pub(super) fn read(
    log: &Log<'_>,
    file: usize,
    units: Option<LogUnits>,
    blocks: &mut Blocks<'_>,
    rows: &mut DiameterRows,
    collector: &mut Collector,
) -> RowCount {
    let before = collector.errors();
    let mut columns;
    let layout = if wide::is_wide(&log.header) {
        Layout::Wide(WideColumns::resolve(log, units, blocks, collector))
    } else {
        columns = Columns::resolve(&log.header, DIAMETERS, &log.place(units), collector);
        if matches!(blocks, Blocks::Text(_)) {
            leave_out(&mut columns, log);
        }
        if collector.errors() > before && (columns.get("station").is_none() || columns.get("diameter").is_none()) {
            return RowCount::default();
        }
        Layout::Long(LongColumns::of(&columns), RowShape::of(&columns, log, blocks, collector))
    };
    rows.headers.push((file, layout.header()));
    if let Layout::Long(columns, _) = &layout {
        let (depth, feed) = columns.cut_units();
        rows.cut_units.push((file, depth, feed));
        if !columns.numbers_passes() {
            rows.unnumbered.insert(file);
        }
        rows.exclude_headers.extend(columns.exclude.map(|column| (file, column.header.clone())));
        rows.temperatures.extend(columns.temperatures().map(|(header, measure)| (file, header, measure)));
    }
    let mut count = RowCount::default();
    let mut lines = log.body_lines().passed();
    let mut commas_said = false;
    blocks.in_turn(rayon::current_num_threads().clamp(1, MOST_TOGETHER), |blocks| {
        let parts: Vec<Part> = if blocks.len() > 1 {
            blocks.par_iter().map(|block| layout.part(log, file, block, 0, &mut false, &mut Collector::default())).collect()
        } else {
            Vec::new()
        };
        let mut parts = parts.into_iter();
        for block in blocks {
            let mut part = parts.next().filter(|part| part.is_clean);
            let offset = if part.is_some() { lines } else { 0 };
            let part = part.take().unwrap_or_else(|| layout.part(log, file, block, lines, &mut commas_said, collector));
            rows.append(&part.rows, offset);
            count.rows += part.count.rows;
            count.excluded += part.count.excluded;
            lines += part.lines;
        }
    });
    count
}

/// Most blocks that are read side by side: each takes some 20 MiB.
const MOST_TOGETHER: usize = 4;

/// The columns of a log, long or wide, and how long its lines may be.
enum Layout<'c> {
    Long(LongColumns<'c>, RowShape),
    Wide(WideColumns),
}

/// What one block of a log holds.
struct Part {
    rows: DiameterRows,
    count: RowCount,
    /// Lines in the block.
    lines: u64,
    /// Whether nothing was to be said.
    is_clean: bool,
}

impl Layout<'_> {
    /// The header of the column of diameters.
    fn header(&self) -> String {
        match self {
            Self::Long(columns, _) => columns.header(),
            Self::Wide(columns) => columns.header(),
        }
    }

    fn part(&self, log: &Log<'_>, file: usize, block: &str, before: u64, commas_said: &mut bool, collector: &mut Collector) -> Part {
        let mut rows = DiameterRows::default();
        let mut excluded = 0;
        let lines = Lines::after(block, before);
        let said = collector.findings();
        let count = match self {
            Self::Long(columns, shape) => log.rows_of(lines, shape, commas_said, collector, |row| {
                excluded += u64::from(excludes(row.text(columns.exclude)));
                columns.read(row, file, &mut rows);
            }),
            Self::Wide(columns) => log.rows_of(lines, &columns.shape, commas_said, collector, |row| columns.read(row, file, &mut rows)),
        };
        Part { rows, count: RowCount { rows: count, excluded }, lines: line_ends(block), is_clean: collector.findings() == said }
    }
}

/// Lines that a text which ends with a line holds.
fn line_ends(text: &str) -> u64 {
    let bytes = text.as_bytes();
    let feeds = memchr::memchr_iter(b'\n', bytes).count();
    let returns = match memchr::memchr(b'\r', bytes) {
        None => 0,
        Some(_) => memchr::memchr_iter(b'\r', bytes).filter(|at| bytes.get(at + 1) != Some(&b'\n')).count(),
    };
    (feeds + returns) as u64
}
