//! Words that inputs may use, and the nearest known one to a word that is not known.

use crate::trial::{Direction, Foot, Plane};

pub(super) const MATERIALS: &[&str] = &["mild-steel", "alloy-steel", "stainless", "cast-iron", "aluminium", "brass"];
pub(super) const HOLDINGS: &[&str] = &["chuck", "centres", "chuck-and-centre"];
pub(super) const CLOCKWISE: &[&str] = &["lowers", "raises"];
pub(super) const PAPERS: &[&str] = &["acceptance"];
pub(super) const RULES: &[&str] = &["guard-band", "simple", "probability"];
pub(super) const PROVENANCES: &[&str] = &["read", "from-memory"];
pub(super) const LOGS: &[&str] = &["diameters", "levels", "indicator", "clamp", "moves"];
pub(super) const DIRECTIONS: &[&str] = &["to-headstock", "to-tailstock"];
pub(super) const FEET: &[&str] = &["headstock-front", "headstock-rear", "tailstock-front", "tailstock-rear"];
pub(super) const CAUSES: &[&str] =
    &["headstock-yaw", "bed-twist", "tool-wear", "deflection", "way-wear", "tailstock-offset", "thermal-drift"];
pub(super) const QUANTITIES: &[&str] = &[
    "taper",
    "barrel",
    "diameter-consistency",
    "adjacent-bands",
    "roundness",
    "spindle-parallelism-horizontal",
    "spindle-parallelism-vertical",
    "level-variation",
    "tailstock-height",
    "tailstock-offset",
];
pub(super) const SENSES: &[&str] = &[
    "either",
    "larger-at-headstock",
    "larger-at-tailstock",
    "barrel",
    "hourglass",
    "towards-tool",
    "away-from-tool",
    "upwards",
    "downwards",
];

/// Longest text, bytes, that may be a slip of a known word.
const LONGEST_SLIP: usize = 100;

/// The known word nearest to `text` by optimal string alignment, when it is near enough to be a slip of the pen.
pub(super) fn nearest<'k>(text: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    if text.len() > LONGEST_SLIP {
        return None;
    }
    let lower = text.to_lowercase();
    let (distance, word) =
        known.into_iter().map(|word| (strsim::osa_distance(&lower, word), word)).min_by_key(|(distance, _)| *distance)?;
    let reach = (word.chars().count().max(lower.chars().count()) / 3).max(1);
    (distance <= reach).then_some(word)
}

/// Advice that lists the known words, the nearest first where there is one.
pub(super) fn advice(text: &str, known: &[&str]) -> String {
    let meaning = if known == DIRECTIONS { ", the way the tool goes as it cuts" } else { "" };
    let all = format!("{}{meaning}", known.join(", "));
    match nearest(text, known.iter().copied()) {
        Some(word) => format!("perhaps {word}; known are {all}"),
        None => format!("use one of {all}"),
    }
}

/// Lower case, with every run of blanks, `_`, `-`, `.` and `/` as one `-`.
pub(super) fn hyphenated(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.trim().chars().flat_map(char::to_lowercase) {
        if character.is_whitespace() || matches!(character, '_' | '-' | '.' | '/' | '–' | '−') {
            if !out.is_empty() && !out.ends_with('-') {
                out.push('-');
            }
        } else {
            out.push(character);
        }
    }
    out.trim_end_matches('-').to_owned()
}

/// `to-headstock` or `to-tailstock`, however it is spelled.
pub(super) fn direction(text: &str) -> Option<Direction> {
    match text {
        "to-headstock" => return Some(Direction::ToHeadstock),
        "to-tailstock" => return Some(Direction::ToTailstock),
        _ => {}
    }
    let word = hyphenated(text);
    let word = ["cut-", "tool-"].iter().find_map(|prefix| word.strip_prefix(prefix)).unwrap_or(&word);
    if let Some(goal) = course(word) {
        return Some(goal);
    }
    // `TS-HS`: a stroke or a blank between the two names would not say which comes first
    let lower = text.to_lowercase();
    let mut ends = lower.split(['-', '–', '−']).map(str::trim).map(|end| end_named(end).filter(|_| end.len() > 1));
    match (ends.next(), ends.next(), ends.next()) {
        (Some(Some(from)), Some(Some(goal)), None) if from != goal => Some(goal),
        _ => None,
    }
}

/// The goal of `to-the-headstock`, `from-tailstock`, `headstock-to-tailstock`, `from-the-tailstock-towards-the-chuck`.
fn course(word: &str) -> Option<Direction> {
    let start = ["away-from-", "from-"].iter().find_map(|prefix| word.strip_prefix(prefix));
    let both = ["-to-", "-towards-", "-toward-"].iter().find_map(|to| start.unwrap_or(word).split_once(to));
    if let Some((from, goal)) = both {
        let (from, goal) = (end_named(without_end(from))?, end_named(without_end(goal))?);
        return (from != goal).then_some(goal);
    }
    if let Some(start) = start {
        return Some(match end_named(without_end(start)).filter(|_| start.len() > 1)? {
            Direction::ToHeadstock => Direction::ToTailstock,
            Direction::ToTailstock => Direction::ToHeadstock,
        });
    }
    match word {
        "toheadstock" => Some(Direction::ToHeadstock),
        "totailstock" => Some(Direction::ToTailstock),
        _ => {
            let goal = ["towards-", "toward-", "to-", "into-"].iter().find_map(|prefix| word.strip_prefix(prefix));
            end_named(goal.map_or(word, without_end))
        }
    }
}

/// `the-headstock` of `the-headstock-end`: behind `to` and `from` an end is one of a course, alone it may be where a reading was taken.
fn without_end(word: &str) -> &str {
    word.strip_suffix("-end").unwrap_or(word)
}

/// The way towards the end of the bar that a lower-case word names.
fn end_named(word: &str) -> Option<Direction> {
    match word.strip_prefix("the-").unwrap_or(word) {
        "headstock" | "head" | "hs" | "h" | "chuck" => Some(Direction::ToHeadstock),
        "tailstock" | "tail" | "ts" | "t" => Some(Direction::ToTailstock),
        _ => None,
    }
}

/// A foot, however it is spelled: `tailstock rear`, `Rear tailstock`, `TS-rear`.
pub(super) fn foot(text: &str) -> Option<Foot> {
    let word = hyphenated(text);
    let (mut tail, mut rear) = (None, None);
    for part in word.split('-') {
        match part {
            "headstock" | "head" | "hs" if tail.is_none() => tail = Some(false),
            "tailstock" | "tail" | "ts" if tail.is_none() => tail = Some(true),
            "front" | "operator" if rear.is_none() => rear = Some(false),
            "rear" | "back" if rear.is_none() => rear = Some(true),
            "end" | "foot" | "side" | "the" | "at" => {}
            _ => return None,
        }
    }
    match (tail?, rear?) {
        (false, false) => Some(Foot::HeadstockFront),
        (false, true) => Some(Foot::HeadstockRear),
        (true, false) => Some(Foot::TailstockFront),
        (true, true) => Some(Foot::TailstockRear),
    }
}

/// The plane of an indicator.
pub(super) fn plane(text: &str) -> Option<Plane> {
    match hyphenated(text).as_str() {
        "side" | "horizontal" | "h" | "front" => Some(Plane::Side),
        "top" | "vertical" | "v" => Some(Plane::Top),
        _ => None,
    }
}

/// Yes or no.
pub(super) fn yes_no(text: &str) -> Option<bool> {
    match hyphenated(text).as_str() {
        "yes" | "y" | "true" | "1" | "x" | "reversed" | "turned" => Some(true),
        "" | "no" | "n" | "false" | "0" | "normal" => Some(false),
        word => is_no(word).then_some(false),
    }
}

/// Whether a lower-case word says that a reading stays.
fn stays(word: &str) -> bool {
    matches!(word, "keep" | "kept" | "ok" | "okay" | "good" | "valid" | "accept" | "accepted" | "use" | "used" | "include" | "included")
}

/// Whether a lower-case word says no.
fn is_no(word: &str) -> bool {
    const NO: [&str; 18] =
        ["n", "no", "none", "-", "–", "—", "nein", "non", "nee", "nej", "nei", "não", "nao", "ne", "nie", "nu", "нет", "false"];
    NO.contains(&word) || is_false(word)
}

/// Whether a lower-case word is `FALSE` as spreadsheet programs write it in other languages.
fn is_false(word: &str) -> bool {
    matches!(
        word,
        "falsch"
            | "faux"
            | "falso"
            | "onwaar"
            | "falskt"
            | "falsk"
            | "usann"
            | "epätosi"
            | "fałsz"
            | "nepravda"
            | "hamis"
            | "fals"
            | "ложь"
            | "yanlış"
    )
}

/// Whether the text of an `exclude` cell excludes its reading: anything but empty, `0`, `no`, `false` and other words for no (see [`is_no`]), these also in
/// another language or with a full stop behind them, `n/a`, and words that say that it stays.
pub(super) fn excludes(text: &str) -> bool {
    if text.is_empty() {
        return false;
    }
    let word = text.trim().to_lowercase();
    let word = word.strip_suffix('.').filter(|word| word.ends_with(char::is_alphanumeric)).unwrap_or(&word);
    !matches!(word, "" | "0" | "0.0" | "0,0" | "n/a" | "n.a" | "na") && !is_no(word) && !stays(word)
}
