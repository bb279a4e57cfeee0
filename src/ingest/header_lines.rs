//! Which line of a log is its header.

use super::bounds::MOST_LINE;
use super::header::HeaderCell;
use super::lines::{Lines, Separator, split_cells};
use super::log_kind::LogKind;
use std::borrow::Cow;

/// The header of a log whose first lines are a title: the first of the next ten lines that a kind of log is known by, when the
/// first line is none. With the lines below it.
pub(super) fn below_titles<'t>(rest: &Lines<'t>, first: &'t str) -> Option<(Lines<'t>, u64, &'t str)> {
    if is_known_header(first) || first.trim_start().starts_with(|c: char| c.is_ascii_digit() || c == '-') {
        return None; // a header, or readings above any header
    }
    let mut lines = rest.clone();
    for _ in 0..10 {
        let (row, line) = lines.next_row()?;
        if is_known_header(line) {
            return Some((lines, row, line));
        }
    }
    None
}

pub(super) fn is_known_header(line: &str) -> bool {
    let (mut cells, separator) = (Vec::new(), Separator::of_header(line));
    line.len() <= MOST_LINE && split_cells(line, separator, &mut cells).is_ok() && {
        let texts = if separator == Separator::Blanks { join_units(&cells) } else { cells.iter().map(ToString::to_string).collect() };
        let header: Vec<HeaderCell> = texts.iter().map(|text| HeaderCell::parse(text)).collect();
        header.len() >= 2 && LogKind::of_header(&header).is_some()
    }
}

/// In a header separated by blanks a unit or bracket belongs to the word before it.
pub(super) fn join_units(cells: &[Cow<'_, str>]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for cell in cells {
        let unit = cell.starts_with(['(', '[', '{']) || crate::quantities::LengthUnit::parse(cell).is_some();
        match out.last_mut() {
            Some(last) if unit || last.matches(['(', '[']).count() > last.matches([')', ']']).count() => {
                last.push(' ');
                last.push_str(cell);
            }
            _ => out.push(cell.to_string()),
        }
    }
    out
}
