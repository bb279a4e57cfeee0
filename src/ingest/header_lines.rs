//! Which line of a log is its header.

use super::bounds::MOST_LINE;
use super::column_specs::LEVELS;
use super::columns::identify;
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

/// Most lines of a header.
const HEADER_LINES: usize = 6;

/// A header whose quoted cells go on in the lines below, where it is then one that a kind of log is known by; with the lines below it.
pub(super) fn over_lines<'t>(text: &'t str, line: &'t str, rest: &Lines<'t>) -> Option<(Lines<'t>, &'t str)> {
    if is_closed(line) {
        return None;
    }
    let start = text.get(..text.len().checked_sub(rest.rest().len())?)?.rfind(line)?;
    let mut lines = rest.clone();
    for _ in 1..HEADER_LINES {
        lines.next()?;
        let end = text.len().checked_sub(lines.rest().len())?;
        let whole = text.get(start..end)?.trim_end_matches(['\n', '\r']);
        if whole.len() > MOST_LINE {
            return None;
        }
        if is_closed(whole) {
            return is_known_header(whole).then_some((lines, whole));
        }
    }
    None
}

/// Whether every quotation mark of a text has its other.
fn is_closed(text: &str) -> bool {
    text.matches('"').count().is_multiple_of(2)
}

pub(super) fn is_known_header(line: &str) -> bool {
    let (mut cells, separator) = (Vec::new(), Separator::of_header(line));
    line.len() <= MOST_LINE && split_cells(line, separator, &mut cells).is_ok() && {
        let texts = if separator == Separator::Blanks { join_units(&cells) } else { cells.iter().map(ToString::to_string).collect() };
        let header: Vec<HeaderCell> = texts.iter().map(|text| HeaderCell::parse(text)).collect();
        // `Bar diameter (mm):,40` above a header states a value
        let states_a_value = || {
            let is_station = |cell: &HeaderCell| identify(cell, LEVELS).is_some_and(|(spec, _)| spec.name == "station");
            texts.iter().any(|text| text.starts_with(|c: char| c.is_ascii_digit())) && !header.iter().any(is_station)
        };
        header.len() >= 2 && LogKind::of_header(&header).is_some() && !states_a_value()
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
