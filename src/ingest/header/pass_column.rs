//! The header of a pass in a wide sheet: its number, its direction and its unit.

use super::super::words::{direction, nearest};
use super::arrows::is_sign;
use super::beside_name::known_mend;
use super::column_specs::DIAMETERS;
use super::{HeaderCell, Holds, MOST_WORDS, Measure, Unit};
use crate::trial::Direction;

/// A pass column: `[pass [no. ]]N[ to-headstock|to-tailstock][ (unit)]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::ingest) struct PassColumn {
    pub(in crate::ingest) pass: u32,
    /// Whether the number stands alone, without `pass` and without a direction.
    pub(in crate::ingest) bare: bool,
    pub(in crate::ingest) direction: Option<Direction>,
    /// How many words come before the unit.
    pub(in crate::ingest) named: usize,
}

/// Whether a column is headed as a pass.
pub(in crate::ingest) fn is_pass(cell: &HeaderCell) -> bool {
    pass_column(&opened(cell)).is_some()
}

/// A header with a direction in brackets put before them, as in `Pass 1 (to headstock)`.
pub(in crate::ingest) fn opened(cell: &HeaderCell) -> HeaderCell {
    let word = |index: usize| cell.words.get(index).map_or("", String::as_str);
    let behind = match (word(0), word(1)) {
        ("pass" | "cut", "no" | "nr" | "number") => 3,
        ("pass" | "cut" | "p", _) => 2,
        _ => 1,
    };
    let longest = |words: &Vec<String>| (1..=words.len().min(MOST_WORDS)).rev().find(|count| direction_of(words, *count).is_some());
    let found = (0..).zip(cell.brackets()).find_map(|(bracket, words)| Some((bracket, longest(words)?)));
    found.filter(|_| cell.words.len() >= behind).map_or_else(|| cell.clone(), |(bracket, count)| cell.opened(bracket, count, behind))
}

/// The direction that the first `count` words name.
fn direction_of(words: &[String], count: usize) -> Option<Direction> {
    // one letter in a bracket may mean anything
    words.get(..count).filter(|words| words.iter().any(|word| word.len() > 1)).and_then(|words| direction(&words.join(" ")))
}

/// Whether a column is headed nearly as a pass: its readings would be lost if it were passed over.
pub(in crate::ingest) fn is_nearly_a_pass(cell: &HeaderCell) -> bool {
    let first = cell.words.first().map_or("", String::as_str);
    matches!(first, "pass" | "cut" | "p") || first.starts_with(|c: char| c.is_ascii_digit()) || nearest(first, ["pass"]).is_some()
}

/// The number of the pass that a column is headed with in words which are no header of a pass: 1 of `Pass 1 heavy`, `1st cut`, `Cut 1a (mm)`. Fewer headers
/// than [`is_nearly_a_pass`] takes: here no other column shows that the sheet is a wide one.
pub(in crate::ingest) fn number_of_pass(cell: &HeaderCell) -> Option<u32> {
    let word = |index: usize| cell.words.get(index).map_or("", String::as_str);
    let number = |word: &str| {
        let digits = word.bytes().take_while(u8::is_ascii_digit).count();
        word.get(..digits).filter(|_| !word.contains('.')).and_then(|digits| digits.parse().ok())
    };
    let named = |word: &str| matches!(word, "pass" | "cut");
    match (word(0), word(1)) {
        (first, "no" | "nr" | "number") if named(first) => number(word(2)),
        (first, second) if named(first) => number(second),
        (first, second) if named(second) => number(first),
        (first, _) => first.strip_prefix("pass").or_else(|| first.strip_prefix('p')).and_then(number),
    }
}

/// What is right where the words `odd` stand over a pass with this number and direction, whose column is in `known`.
pub(in crate::ingest) fn pass_mend(pass: u32, direction: Option<Direction>, odd: &[String], known: Option<Measure>) -> String {
    let any = |words: &[&str]| odd.iter().any(|word| words.contains(&word.as_str()));
    let unit = DIAMETERS.iter().find(|spec| spec.name == "diameter").filter(|_| known.is_some()).map(|spec| spec.header_in(known));
    let unit = unit.as_deref().and_then(|header| header.strip_prefix("diameter_")).map_or_else(String::new, |unit| format!(" ({unit})"));
    let with = |direction: &str| format!("`pass {pass}{direction}{unit}`");
    let right = match direction {
        Some(Direction::ToHeadstock) => with(" to-headstock"),
        Some(Direction::ToTailstock) => with(" to-tailstock"),
        None => format!("{}, with the way of the tool {} or {}", with(""), with(" to-headstock"), with(" to-tailstock")),
    };
    if let Some(mend) = known_mend("diameter", odd) {
        return mend.replace("`{header}`", &right);
    }
    if any(&["repeat", "repeated", "again", "rep", "second"]) {
        return format!(
            "a cut of its own has a number of its own; what was read twice of one cut belongs into a log with a line for each reading and the columns \
             station, diameter, pass and repeat. If neither is meant write {right}"
        );
    }
    let depths = ["heavy", "light", "rough", "roughing", "finish", "finishing", "fine", "deep", "depth", "spring"];
    let depth = if any(&depths) {
        "depths are read in a log with a line for each reading and the columns station, diameter, pass and depth; "
    } else {
        ""
    };
    format!("{depth}over a pass its number, direction and unit are read: write {right}, and put other words into a `#` line")
}

/// Takes a header for that of a pass; `None` where it is none.
pub(in crate::ingest) fn pass_column(cell: &HeaderCell) -> Option<PassColumn> {
    let words: Vec<&str> = cell.words.iter().map(String::as_str).collect();
    let (first, mut named) = match words.as_slice() {
        ["pass" | "cut", "no" | "nr" | "number", number, ..] => (*number, 3),
        ["pass" | "cut" | "p", number, ..] => (*number, 2),
        [number, ..] => (number.strip_prefix("pass").or_else(|| number.strip_prefix('p')).unwrap_or(number), 1),
        [] => return None,
    };
    if first.len() > 9 || !first.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let pass = first.parse().ok()?;
    let rest = words.get(named..).unwrap_or_default();
    let longest = (1..=rest.len().min(MOST_WORDS)).rev().find_map(|count| Some((count, direction(&rest.get(..count)?.join(" "))?)));
    let direction = longest.map(|(count, direction)| {
        named += count;
        direction
    });
    let bare = direction.is_none() && words.first().is_some_and(|word| word.starts_with(|c: char| c.is_ascii_digit()));
    match cell.unit(named, "diameter", Holds::Length)? {
        Unit::Unknown(_) if words.len() > named => None,
        Unit::Beside(odd, _) if bare && !odd.iter().all(|word| is_sign(word)) => None,
        _ => Some(PassColumn { pass, bare, direction, named }),
    }
}
