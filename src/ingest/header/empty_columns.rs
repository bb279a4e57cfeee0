//! Columns of numbers that nobody filled in, as a blank log has them: they say as little as no column.

use super::super::lines::split_cells;
use super::super::log::Log;
use super::columns::Columns;

/// Columns that have a default and, once one row has a number there, need one in every row.
const COUNTED: [&str; 2] = ["setting", "pass"];

/// Leaves out columns of settings and passes that are empty in every row of a log that is whole in memory.
pub(in crate::ingest) fn leave_out(columns: &mut Columns, log: &Log<'_>) {
    for name in COUNTED {
        if columns.get(name).is_some_and(|column| is_empty(log, column.index)) {
            columns.drop_column(name);
        }
    }
}

fn is_empty(log: &Log<'_>, index: usize) -> bool {
    let (mut lines, mut cells) = (log.body_lines(), Vec::new());
    while let Some((_, line)) = lines.next_row() {
        let read = split_cells(line, log.separator(), &mut cells).is_ok() && !log.is_header(line);
        if read && cells.get(index).is_some_and(|cell| !cell.is_empty()) {
            return false;
        }
    }
    true
}
