//! Which line of a log is its header.

use super::super::bounds::MOST_LINE;
use super::super::lines::{Lines, Separator, split_cells};
use super::super::log_kind::LogKind;
use super::HeaderCell;
use super::column_specs::LEVELS;
use super::columns::identify;
use super::pass_column::is_pass;
use std::borrow::Cow;

/// A header below titles.
pub(in crate::ingest) struct BelowTitles<'t> {
    /// The lines below the header.
    pub(in crate::ingest) lines: Lines<'t>,
    pub(in crate::ingest) row: u64,
    pub(in crate::ingest) header: &'t str,
    /// The lines above it but its first, with their numbers.
    pub(in crate::ingest) titles: Vec<(u64, &'t str)>,
}

/// The header of a log whose first lines are a title: the first of the next ten lines that a kind of log is known by, when the first line is none, or is known
/// by single words of a title alone and no reading stands between.
pub(in crate::ingest) fn below_titles<'t>(rest: &Lines<'t>, first: &'t str) -> Option<BelowTitles<'t>> {
    let is_reading = |line: &str| line.trim_start().starts_with(|c: char| c.is_ascii_digit() || c == '-');
    let is_known = is_known_header(first);
    if is_known && is_whole(first) || is_reading(first) {
        return None; // a header, or readings above any header
    }
    let (mut lines, mut titles) = (rest.clone(), Vec::new());
    for _ in 0..10 {
        let (row, line) = lines.next_row()?;
        if is_known_header(line) && (!is_known || is_whole(line)) {
            return Some(BelowTitles { lines, row, header: line, titles });
        }
        if is_known && (is_reading(line) || numbers(line) > 1) {
            return None;
        }
        titles.push((row, line));
    }
    None
}

/// How many numbers stand in a line, between separators of any kind.
fn numbers(line: &str) -> usize {
    line.split(|c: char| c.is_whitespace() || matches!(c, ',' | ';')).filter(|part| part.parse::<f64>().is_ok()).count()
}

/// Whether a header that a kind of log is known by has what the kind needs beside that, and is no sentence: `Diameter (mm)` above a wide sheet has no station,
/// `Distance from headstock to tailstock 600 mm` has words that no column bears.
fn is_whole(line: &str) -> bool {
    let header = header_of(line).unwrap_or_default();
    let Some(kind) = LogKind::of_header(&header) else { return false };
    let has = |name: &str| header.iter().any(|cell| identify(cell, kind.specs()).is_some_and(|(spec, _)| spec.name == name));
    let is_read =
        |cell: &HeaderCell| cell.is_empty() || identify(cell, kind.specs()).is_some() || kind == LogKind::Diameters && is_pass(cell);
    let is_sentence = Separator::of_header(line) == Separator::Blanks && !header.iter().all(is_read);
    has(if kind == LogKind::Moves { "foot" } else { "station" }) && !is_sentence
}

/// Most lines of a header.
const HEADER_LINES: usize = 6;

/// A header whose quoted cells go on in the lines below, where it is then one that a kind of log is known by; with the lines below it. An inch mark opens no
/// cell, and a line of readings is no part of one.
pub(in crate::ingest) fn over_lines<'t>(text: &'t str, line: &'t str, rest: &Lines<'t>) -> Option<(Lines<'t>, &'t str)> {
    if reach(line, Separator::of_header(line)) != Reach::Open {
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
        match reach(whole, Separator::of_header(whole)) {
            Reach::Open => {}
            Reach::Whole => return is_known_header(whole).then_some((lines, whole)),
            Reach::Broken => return None,
        }
    }
    None
}

/// How far the quoted cells of a header reach.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Reach {
    /// All are closed, and lines end inside them alone.
    Whole,
    /// The last is not closed.
    Open,
    /// A line ends outside quotes, or holds readings.
    Broken,
}

/// How far the quoted cells of some lines reach. A quoted cell begins with its quotation mark; behind the one that closes it stands a separator or nothing.
fn reach(text: &str, separator: Separator) -> Reach {
    let is_end = |c: char| separator.is(c) || matches!(c, '\n' | '\r');
    let (mut rest, mut cells, mut joined) = (text, 0_usize, Vec::new());
    loop {
        cells += 1;
        rest = rest.trim_start_matches(|c: char| matches!(c, ' ' | '\t') && !(separator == Separator::Tab && c == '\t'));
        if let Some(inside) = rest.strip_prefix('"') {
            let Some((body, behind)) = quoted(inside) else { return Reach::Open };
            joined.extend(body.split(['\n', '\r']).skip(1));
            rest = behind.trim_start_matches(' ');
            if !(rest.len() < behind.len() && separator == Separator::Blanks || rest.is_empty() || rest.starts_with(is_end)) {
                return Reach::Broken;
            }
        } else {
            rest = rest.find(is_end).and_then(|end| rest.get(end..)).unwrap_or_default();
        }
        if rest.trim_end().is_empty() {
            break;
        }
        if rest.starts_with(['\n', '\r']) {
            return Reach::Broken;
        }
        rest = rest.strip_prefix(|c: char| separator.is(c)).unwrap_or(rest);
    }
    let is_readings = |line: &&str| -> bool {
        let parts: Vec<&str> = line.split(|c: char| separator.is(c)).map(str::trim).collect();
        parts.len() >= cells || parts.len() > 1 && parts.iter().any(|part| part.replace(',', ".").parse::<f64>().is_ok())
    };
    if cells > 1 && joined.iter().any(is_readings) { Reach::Broken } else { Reach::Whole }
}

/// The text of a quoted cell and what stands behind its closing mark; a doubled mark closes nothing.
fn quoted(inside: &str) -> Option<(&str, &str)> {
    let mut from = 0;
    loop {
        let at = from + inside.get(from..)?.find('"')?;
        let behind = inside.get(at + 1..)?;
        if !behind.starts_with('"') {
            return Some((inside.get(..at)?, behind));
        }
        from = at + 2;
    }
}

/// The cells of a line taken for a header; `None` where it cannot be one.
fn header_of(line: &str) -> Option<Vec<HeaderCell>> {
    let (mut cells, separator) = (Vec::new(), Separator::of_header(line));
    if line.len() > MOST_LINE || split_cells(line, separator, &mut cells).is_err() {
        return None;
    }
    let texts = if separator == Separator::Blanks { join_units(&cells) } else { cells.iter().map(ToString::to_string).collect() };
    Some(texts.iter().map(|text| HeaderCell::parse(text)).collect())
}

/// Whether a kind of log is known by a line.
pub(in crate::ingest) fn is_known_header(line: &str) -> bool {
    header_of(line).is_some_and(|header| {
        // `Bar diameter (mm):,40` above a header states a value
        let states_a_value = || {
            let is_station = |cell: &HeaderCell| identify(cell, LEVELS).is_some_and(|(spec, _)| spec.name == "station");
            header.iter().any(|cell| cell.text.starts_with(|c: char| c.is_ascii_digit())) && !header.iter().any(is_station)
        };
        header.len() >= 2 && LogKind::of_header(&header).is_some() && !states_a_value()
    })
}

/// In a header separated by blanks a unit or bracket belongs to the word before it.
pub(in crate::ingest) fn join_units(cells: &[Cow<'_, str>]) -> Vec<String> {
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
