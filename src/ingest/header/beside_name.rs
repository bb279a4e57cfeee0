//! Words that stand beside a column's name in a header: which change nothing, and what is right where others stand.

use super::arrows::is_sign;

/// Words that change nothing in what a column means, whichever it is.
const HARMLESS: &[&str] = &["of", "the", "reading", "readings", "measured", "value", "values", "no", "nr", "number", "name", "cut", "bar"];

/// Whether the word at `index` beside the name of `column` changes nothing in what it means: a filler, or what the column means anyway.
pub(in crate::ingest) fn is_harmless(column: &str, words: &[String], index: usize) -> bool {
    let Some(word) = words.get(index).map(String::as_str) else { return true };
    let own: &[&str] = match column {
        "station" => match word {
            // a bar has two ends and two faces: what they belong to says which
            "end" => return belongs(words, index, &["chuck", "headstock", "tailstock"]),
            "face" => return belongs(words, index, &["chuck", "headstock", "jaw", "jaws"]),
            "front" => return belongs(words, index, &["jaw", "jaws"]),
            _ => &["from", "at", "on", "along", "chuck", "jaw", "jaws", "headstock", "place", "position", "distance", "z", "bed"],
        },
        "diameter" => &[
            "d",
            "dia",
            "diam",
            "ø",
            "⌀",
            "diameter",
            "after",
            "mean",
            "average",
            "avg",
            "final",
            "finished",
            "turned",
            "actual",
            "outside",
            "od",
            "micrometer",
            "mic",
        ],
        "depth" => &["radial", "radially", "radius", "on", "doc"],
        "feed" => &["rate", "per", "rev", "revolution", "turn"],
        "angle" => &["angular", "spindle"],
        "spindle" => &["angle"],
        "temperature" => &["temp"],
        "roll" => &["level", "roll", "rear", "high", "positive", "is"],
        "reference_roll" => &["level", "roll", "headstock", "on", "rear", "high", "positive", "is"],
        "reading" => &["indicator", "dial", "dti", "plunger"],
        "change" => &["indicator", "dial", "plunger"],
        "raise" => &["foot", "raised", "by"],
        "turns" => &[
            "clockwise",
            "cw",
            "positive",
            "plus",
            "ve",
            "is",
            "rev",
            "revs",
            "revolution",
            "revolutions",
            "turn",
            "turns",
            "full",
            "whole",
            "screw",
            "foot",
            "seen",
            "from",
            "above",
        ],
        "tool_shift" => &["top", "slide", "tool", "shift", "towards", "tailstock", "positive", "is"],
        _ => &[],
    };
    HARMLESS.contains(&word) || own.contains(&word)
}

/// Whether one of `owners` stands before or behind a word, with nothing but small words between.
fn belongs(words: &[String], index: usize, owners: &[&str]) -> bool {
    const BETWEEN: &[&str] = &["of", "the", "at", "face", "jaw", "jaws", "chuck", "bar", "side"];
    let next = |word: &&String| !BETWEEN.contains(&word.as_str()) || owners.contains(&word.as_str());
    let (before, behind) = (words.get(..index).unwrap_or_default(), words.get(index + 1..).unwrap_or_default());
    [before.iter().rev().find(next), behind.iter().find(next)].into_iter().flatten().any(|word| owners.contains(&word.as_str()))
}

/// Whether the numbers of a column have a sign, so that a minus sign in the header turns it.
pub(in crate::ingest) fn is_signed(column: &str) -> bool {
    matches!(column, "roll" | "reference_roll" | "reading" | "change" | "raise" | "turns" | "tool_shift")
}

/// What is right where other words stand beside the name of `column`, which means `about` and is well headed `header`.
pub(in crate::ingest) fn mend(column: &str, about: &str, words: &[String], header: &str) -> String {
    known_mend(column, words).map_or_else(
        || {
            format!(
                "`{column}` is: {about}. If these words change nothing in that write `{header}`, and put them into a `#` line; otherwise \
                 convert the readings"
            )
        },
        |known| known.replace("{header}", header),
    )
}

/// What is right beside words that are known to change what `column` means, or to leave it open; `{header}` stands for the right header.
pub(in crate::ingest) fn known_mend(column: &str, words: &[String]) -> Option<&'static str> {
    let any = |known: &[&str]| words.iter().any(|word| known.contains(&word.as_str()));
    let sign = words.iter().any(|word| is_sign(word));
    Some(match column {
        "roll" | "reference_roll" if sign => {
            "signs of a direction are not read: rear high is positive. If these readings count the other way turn the sign of each; then write \
             `{header}`"
        }
        "turns" if sign => {
            "signs of a direction are not read: clockwise, seen from above, is positive. If these count the other way turn the sign of each; then \
             write `turns`"
        }
        "raise" if sign => {
            "signs of a direction are not read: raised is positive, lowered negative. If these count the other way turn the sign of each; then \
             write `{header}`"
        }
        "reading" | "change" if sign => {
            "signs of a direction are not read: a reading rises as the plunger is pushed in. If these count the other way turn the sign of each; \
             then write `{header}`"
        }
        "pass" | "direction" if sign => {
            "signs of a direction are not read: write to-headstock or to-tailstock, the way of the tool as it cuts, into a column direction"
        }
        "station" if sign => {
            "signs of a direction are not read: stations count from the headstock end towards the tailstock; if these do write `{header}`"
        }
        "diameter" if sign => {
            "signs of a direction are not read: over a pass write its number and to-headstock or to-tailstock, the way of the tool as it cuts; else take \
             the sign out"
        }
        _ if sign => "signs of a direction are not read: say it in the words of the column, or take the sign out",
        "station" if any(&["tailstock", "tail", "ts", "right", "free", "far", "outer"]) => {
            "count stations from the headstock end: on a bar of 200 mm a station 10 from the tailstock end is 200 − 10 = 190; then write \
             `{header}`"
        }
        "station" if any(&["end", "ends", "left", "face", "front", "edge"]) => {
            "from which end? Stations count from the front of the chuck’s jaws, between centres from the headstock centre: if these do write \
             `{header}`; if they count from the free end, on a bar of 200 mm a station 10 is 200 − 10 = 190"
        }
        "station" if any(&["no", "nr", "number"]) => {
            "a running number is no length: write how far each station is from the front of the chuck’s jaws, under `{header}`"
        }
        "roll" | "reference_roll" if any(&["front", "low", "negative", "minus"]) => {
            "rear high is positive: if these readings count the other way turn the sign of each; then write `{header}`"
        }
        "roll" | "reference_roll" if has_fraction(words) => {
            "if these readings are divisions of that size head them `roll_div`, and state it as division_mm_per_m in [gauge.level]; if not write \
             `{header}`"
        }
        "reading" | "change" if any(&["out", "pulled", "negative", "minus"]) => {
            "a reading rises as the plunger is pushed in: if these count the other way turn the sign of each; then write `{header}`"
        }
        "reading" if words.iter().any(|word| word.parse::<u32>().is_ok()) => {
            "a log has one column `reading`, that of an indicator. If these are diameters head each `pass 1 (mm)`, `pass 2 (mm)` where a column is a cut; \
             where one cut was read more than once write a line for each reading, with the columns station, diameter and repeat. If they are those of \
             an indicator write a line for each, and `{header}`"
        }
        "depth" if any(&["diameter", "dia", "diam", "diametral", "d", "both"]) => {
            "the depth of a cut is radial: write half of what comes off the diameter, and `{header}`"
        }
        "temperature" if any(&["room", "air", "ambient", "workshop", "shop", "hall"]) => {
            "the column is the temperature of the bar: take it out, and state that of the room as temperature_c in [conditions]"
        }
        "diameter" if any(&["deviation", "difference", "error", "minus", "nominal", "delta", "over", "change"]) => {
            "write whole diameters: add the nominal one to each, then write `{header}`"
        }
        "diameter" if any(&["radius", "radial", "half"]) => "write diameters: twice the radius each; then write `{header}`",
        "turns" if any(&["deg", "degree", "degrees"]) => "write turns, 45 degrees as 0.125; then write `turns`",
        "turns" if any(&["anticlockwise", "counterclockwise", "ccw", "acw", "anti", "counter", "left", "below", "negative", "minus"]) => {
            "clockwise, seen from above, is positive: if these count the other way turn the sign of each; then write `turns`"
        }
        "turns" if any(&["mm", "um", "µm", "in", "inch", "thou"]) => {
            "turns are those of the screw: how far the foot was raised is `raise_mm`"
        }
        "turns"
            if words.iter().any(|word| word.parse::<f64>().is_ok()) || any(&["quarter", "quarters", "half", "flats", "flat", "per"]) =>
        {
            "write whole turns and their decimals, a quarter as 0.25, a flat of a hexagon as 0.1667; then write `turns`"
        }
        "exclude" if any(&["keep", "kept", "use", "used", "include", "included", "ok", "good", "valid"]) => {
            "any text but 0, no, false and the like takes the reading out: turn yes and no round; then write `exclude`"
        }
        "direction" if any(&["return", "carriage"]) => "the column is the way of the tool as it cuts, to-headstock or to-tailstock",
        "foot" if any(&["loosened", "slackened", "loose"]) => {
            "a change is that as the foot’s nut is tightened: turn the sign of each; then write `foot`"
        }
        "diameter" | "station" | "reading" | "change" | "raise" | "depth" | "tool_shift" if has_fraction(words) => {
            "a number in a header is not read: if the readings count steps of that size multiply each by it; if it is the gauge’s step or \
             uncertainty state it in the gauge’s table of trial.toml; then write `{header}`"
        }
        _ => return None,
    })
}

/// Whether one of the words is a number with decimals: a step or a tolerance.
fn has_fraction(words: &[String]) -> bool {
    words.iter().any(|word| word.contains('.') && word.parse::<f64>().is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bar has two ends: which one is meant is told by the word that the end belongs to.
    #[test]
    fn an_end_is_harmless_beside_its_owner_alone() {
        let harmless = |text: &str, word: &str| {
            let words: Vec<String> = text.split(' ').map(str::to_owned).collect();
            let index = words.iter().position(|other| other == word).unwrap_or(0);
            is_harmless("station", &words, index)
        };
        for text in ["from headstock end", "from end of the chuck", "from the end at the headstock", "from chuck bar end"] {
            assert!(harmless(text, "end"), "{text}");
        }
        for text in ["from end", "from bar end", "from end along bar chuck", "end", "from the end of the bed"] {
            assert!(!harmless(text, "end"), "{text}");
        }
        assert!(harmless("from the chuck face", "face") && harmless("from front of the chuck jaws", "front"));
        assert!(!harmless("from face", "face") && !harmless("from front", "front"));
    }
}
