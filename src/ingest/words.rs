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
    let all = known.join(", ");
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
    let word = word.strip_prefix("cut-").unwrap_or(&word);
    let word = ["towards-", "toward-", "to-", "into-"].iter().find_map(|prefix| word.strip_prefix(prefix)).unwrap_or(word);
    let word = word.strip_prefix("the-").unwrap_or(word);
    match word {
        "headstock" | "head" | "hs" | "h" | "chuck" | "from-tailstock" | "from-the-tailstock" | "toheadstock" => {
            Some(Direction::ToHeadstock)
        }
        "tailstock" | "tail" | "ts" | "t" | "from-headstock" | "from-the-headstock" | "from-chuck" | "totailstock" => {
            Some(Direction::ToTailstock)
        }
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
    matches!(word, "keep" | "kept" | "ok" | "okay" | "good" | "valid" | "use" | "used" | "include" | "included")
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
/// another language, and words that say that it stays.
pub(super) fn excludes(text: &str) -> bool {
    if text.is_empty() {
        return false;
    }
    let word = text.trim().to_lowercase();
    !matches!(word.as_str(), "" | "0") && !is_no(&word) && !stays(&word)
}
