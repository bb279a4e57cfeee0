//! Words of a title that name an end of the bar: `from the tailstock`, `towards the chuck`.

use crate::quantities::LengthUnit;
use crate::trial::Direction;

/// Words that may stand before the name of an end.
const SMALL: &[&str] = &["the", "its", "bar", "bars", "s", "of", "very"];

/// An end of the bar, or its end without a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::ingest) enum End {
    Head,
    Tail,
    Unnamed,
}

/// Some words that name an end: `from the tailstock`, `towards the chuck`.
#[derive(Debug, Clone, Copy)]
pub(in crate::ingest) struct Phrase {
    /// Index of its first word.
    pub(in crate::ingest) at: usize,
    pub(in crate::ingest) is_from: bool,
    /// Whether it says towards, or has the other end before it: `tailstock to headstock`.
    pub(in crate::ingest) is_course: bool,
    pub(in crate::ingest) end: End,
}

impl Phrase {
    /// The way of a tool that goes so.
    pub(in crate::ingest) fn goal(self) -> Option<Direction> {
        match (self.end, self.is_from) {
            (End::Head, false) | (End::Tail, true) => Some(Direction::ToHeadstock),
            (End::Tail, false) | (End::Head, true) => Some(Direction::ToTailstock),
            (End::Unnamed, _) => None,
        }
    }

    /// Whether stations that go so count from the wrong end, or from an end that is not named.
    pub(in crate::ingest) fn is_backwards(self) -> bool {
        if self.is_from { self.end != End::Head } else { self.is_course && self.end == End::Head }
    }
}

/// The phrases of a clause, in their order. `10 mm from the chuck` is a place, and `close to the chuck` too.
pub(in crate::ingest) fn phrases(clause: &[&str]) -> Vec<Phrase> {
    let word = |index: usize| clause.get(index).copied().unwrap_or("");
    let is_length = |at: usize| at > 1 && LengthUnit::parse(word(at - 1)).is_some() && is_number(word(at - 2));
    let mut found = Vec::new();
    for (at, preposition) in clause.iter().enumerate() {
        let before = at.checked_sub(1).map_or("", word);
        let is_from = match *preposition {
            // `10 mm from the chuck` is a place
            "from" if before.starts_with(|c: char| c.is_ascii_digit()) || is_length(at) => continue,
            "from" => true,
            "to" if matches!(before, "close" | "next" | "near" | "nearest" | "nearer" | "adjacent" | "due" | "fitted" | "fixed" | "up") => {
                continue;
            }
            "to" | "towards" | "toward" | "into" => false,
            "left" if before != "from" && (word(at + 1), word(at + 2)) == ("to", "right") => {
                found.push(Phrase { at, is_from: true, is_course: true, end: End::Head });
                continue;
            }
            "right" if before != "from" && (word(at + 1), word(at + 2)) == ("to", "left") => {
                found.push(Phrase { at, is_from: true, is_course: true, end: End::Tail });
                continue;
            }
            // `Direction of cut: TS`
            "direction" => {
                let behind = (at + 1..clause.len())
                    .find(|index| !matches!(word(*index), "of" | "cut" | "cutting" | "feed" | "travel" | "the" | "is"))
                    // in `Direction: TS to HS` a course begins
                    .filter(|index| {
                        !clause.get(index + 1..).unwrap_or_default().iter().any(|word| matches!(*word, "to" | "towards" | "toward"))
                    });
                let named = behind.and_then(|index| end_at(clause, index)).filter(|end| *end != End::Unnamed);
                found.extend(named.map(|end| Phrase { at, is_from: false, is_course: true, end }));
                continue;
            }
            _ => continue,
        };
        let Some(end) = (at + 1..clause.len()).find(|index| !SMALL.contains(&word(*index))).and_then(|index| end_at(clause, index)) else {
            continue;
        };
        let is_opposite = matches!((end_named(before), end), (Some(End::Head), End::Tail) | (Some(End::Tail), End::Head));
        found.push(Phrase { at, is_from, is_course: is_opposite || *preposition != "to", end });
    }
    found
}

/// The end that the words from `index` name.
fn end_at(clause: &[&str], index: usize) -> Option<End> {
    let word = |index: usize| clause.get(index).copied().unwrap_or("");
    if let Some(end) = end_named(word(index)) {
        return Some(end);
    }
    let owner_of = |index: usize| (index..clause.len()).map(word).find(|word| !SMALL.contains(word) && *word != "to");
    match word(index) {
        "free" | "far" | "outer" if matches!(word(index + 1), "end" | "face" | "side") => Some(End::Tail),
        "right" if matches!(word(index + 1), "end" | "hand" | "side" | "to") => Some(End::Tail),
        "left" if word(index + 1) == "to" => Some(End::Head),
        // `the end of the chuck` is the chuck’s, `the end of March` nobody’s
        "end" if matches!(word(index + 1), "of" | "at") => {
            let owner = (index + 2..clause.len()).map(word).find(|word| *word != "the")?;
            end_named(owner).or_else(|| matches!(owner, "bar" | "job" | "work" | "workpiece" | "piece" | "shaft").then_some(End::Unnamed))
        }
        // `from end to end`
        "end" if (word(index + 1), word(index + 2)) == ("to", "end") => None,
        "end" if matches!(word(index + 1), "nearest" | "next" | "near" | "nearer" | "by" | "face" | "side" | "collar") => {
            owner_of(index + 2).and_then(end_named).filter(|_| word(index + 1) != "collar")
        }
        "end" => Some(End::Unnamed),
        _ => None,
    }
}

pub(in crate::ingest) fn end_named(word: &str) -> Option<End> {
    match word {
        "headstock" | "head" | "hs" | "chuck" | "jaws" | "jaw" => Some(End::Head),
        "tailstock" | "tail" | "ts" => Some(End::Tail),
        _ => None,
    }
}

/// Whether a word is a number.
pub(in crate::ingest) fn is_number(word: &str) -> bool {
    word.parse::<f64>().is_ok()
}
