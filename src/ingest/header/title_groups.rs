//! Cells above the header of a wide sheet that part its passes: by setting, depth, feed, or bar.

use super::header_words::words;
use super::title_rows::is_label_of_a_value;
use crate::quantities::LengthUnit;
use std::borrow::Cow;

/// What the cells over the passes of a wide sheet part them by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::ingest) enum Groups {
    Settings,
    Depths,
    Feeds,
    Bars,
    /// The columns hold radii.
    Radii,
    /// The columns hold readings of one cut.
    Repeats,
}

impl Groups {
    /// Finds them in the cells of a title, where `over` are the columns of the passes. Two different ones part the passes, or one that begins behind the first
    /// pass under an empty cell; one over all says nothing that is lost.
    pub(in crate::ingest) fn of(cells: &[Cow<'_, str>], over: &[usize]) -> Option<Self> {
        let first = *over.first()?;
        let label = if first > 0 { words(cells.first()?) } else { Vec::new() };
        let found: Vec<(usize, Self, String)> = over
            .iter()
            .filter_map(|index| {
                let cell = words(cells.get(*index)?);
                let (group, name) = heading(&cell, &label)?;
                Some((*index, group, name))
            })
            .collect();
        let (begin, group, name) = found.first()?;
        let parts = found.iter().any(|(_, other, another)| other == group && another != name);
        let behind = *begin > first && label.is_empty() && cells.get(first).is_none_or(|cell| cell.is_empty());
        (parts || behind || matches!(group, Self::Radii | Self::Repeats)).then_some(*group)
    }

    /// What is right instead.
    pub(in crate::ingest) fn help(self) -> String {
        let lines = |column: &str| format!("write a line for each reading, with the columns station, diameter, pass and {column}");
        match self {
            Self::Settings => format!("all passes would count as cut in one setting. If they are not {}", lines("setting")),
            Self::Depths => format!("all passes would count as cut to one depth. If they are not {}", lines("depth")),
            Self::Feeds => format!("all passes would count as cut with one feed. If they are not {}", lines("feed")),
            Self::Bars => {
                "all passes would count as cut on one bar. If they are not write a log for each bar, with its passes alone".to_owned()
            }
            Self::Repeats => format!("each column counts as a cut of its own. If one cut was read more than once {}", lines("repeat")),
            Self::Radii => "the columns of the passes are read as diameters. If they hold radii write twice each".to_owned(),
        }
    }
}

/// What a cell over a pass heads, and its name; `label` are the words of the first cell of its row.
fn heading(cell: &[String], label: &[String]) -> Option<(Groups, String)> {
    let texts: Vec<&str> = cell.iter().map(String::as_str).collect();
    let has = |known: &[&str]| texts.iter().any(|word| known.contains(word));
    let labelled = |known: &[&str]| label.first().is_some_and(|word| known.contains(&word.as_str()));
    let is_number = |word: &&str| word.parse::<f64>().is_ok();
    let number = texts.iter().any(is_number);
    let name = texts.join(" ");
    let settings = &["setting", "settings", "set"];
    let is_setting = match texts.as_slice() {
        ["setting" | "set", rest @ ..] => rest.first().is_some_and(|word| is_number(word) || matches!(*word, "no" | "nr")),
        [alone] if is_number(alone) => labelled(settings),
        // `Setting,A,B`; `Set by,AB,CD` are names
        [alone] if alone.len() <= 3 && !is_label_of_a_value(alone) => {
            !label.is_empty()
                && label.iter().all(|word| matches!(word.as_str(), "setting" | "settings" | "no" | "nr" | "number"))
                && labelled(settings)
        }
        ["before" | "after", rest @ ..] => rest.iter().all(|word| ADJUSTING.contains(word)),
        ["as", "found" | "left" | "adjusted", ..] | ["adjusted" | "unadjusted" | "shimmed" | "unshimmed"] => true,
        _ => false,
    };
    if is_setting {
        return Some((Groups::Settings, name));
    }
    const PIECES: &[&str] = &["bar", "specimen", "workpiece", "sample", "testbar", "testpiece", "piece"];
    let is_name = |word: &&str| word.len() <= 2 && word.chars().all(char::is_alphanumeric) && LengthUnit::parse(word).is_none();
    let is_bar = match texts.as_slice() {
        [piece, "no" | "nr" | "number", id] | [piece, id] => PIECES.contains(piece) && is_name(id),
        [id] => labelled(PIECES) && is_name(id),
        _ => false,
    };
    if is_bar {
        return Some((Groups::Bars, name));
    }
    if matches!(texts.first(), Some(&("radius" | "radii"))) {
        let is_filler = |word: &&str| matches!(*word, "readings" | "reading" | "measured") || LengthUnit::parse(word).is_some();
        return texts.iter().skip(1).all(is_filler).then_some((Groups::Radii, name));
    }
    let is_repeat = match texts.as_slice() {
        ["reading" | "repeat" | "measurement" | "rep", number] if is_number(number) => true,
        ["repeat" | "repeated", "reading" | "readings" | "measurements"] | ["repeats"] => true,
        [number] if is_number(number) => labelled(&["reading", "repeat", "measurement", "rep"]),
        _ => false,
    };
    if is_repeat {
        return Some((Groups::Repeats, name));
    }
    let depths = &["depth", "deep", "doc"];
    let kinds = &["heavy", "light", "rough", "roughing", "finish", "finishing", "spring"];
    let is_kind = texts.first().is_some_and(|word| kinds.contains(word))
        && texts.iter().skip(1).all(|word| matches!(*word, "cut" | "cuts" | "pass" | "passes"));
    if number && (has(depths) || labelled(depths)) || is_kind {
        return Some((Groups::Depths, name));
    }
    (number && (has(&["feed"]) || labelled(&["feed"]))).then_some((Groups::Feeds, name))
}

/// Words behind `before` or `after` that tell of another state of the feet.
const ADJUSTING: &[&str] = &[
    "the",
    "adjustment",
    "adjusting",
    "adjustments",
    "correction",
    "move",
    "moving",
    "shim",
    "shims",
    "shimming",
    "levelling",
    "leveling",
    "alignment",
    "aligning",
    "repair",
    "scraping",
    "setting",
];
