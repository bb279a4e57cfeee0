//! Words that stand beside a column's name in a header: which change nothing, and what is right where others stand.

/// Words that change nothing in what a column means, whichever it is.
const HARMLESS: &[&str] = &["of", "the", "reading", "readings", "measured", "value", "values", "no", "nr", "number", "name", "cut", "bar"];

/// Whether a word beside the name of `column` changes nothing in what it means: a filler, or what the column means anyway.
pub(super) fn is_harmless(column: &str, word: &str) -> bool {
    let own: &[&str] = match column {
        "station" => &["from", "at", "on", "along", "chuck", "face", "headstock", "end", "place", "position", "distance", "z", "bed"],
        "diameter" => &["d", "dia", "diam", "ø", "⌀", "diameter"],
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
        "tool_shift" => &["top", "slide", "tool", "shift", "towards", "tailstock", "positive", "is"],
        _ => &[],
    };
    HARMLESS.contains(&word) || own.contains(&word)
}

/// What is right where other words stand beside the name of `column`, which means `about`.
pub(super) fn mend(column: &str, about: &str, words: &[String]) -> String {
    known_mend(column, words).map_or_else(
        || {
            format!(
                "`{column}` is: {about}. If these words change nothing in that, take them out of the header or put them into a `#` line; \
                 otherwise convert the readings"
            )
        },
        ToOwned::to_owned,
    )
}

/// What is right beside words that are known to change what `column` means.
pub(super) fn known_mend(column: &str, words: &[String]) -> Option<&'static str> {
    let any = |known: &[&str]| words.iter().any(|word| known.contains(&word.as_str()));
    Some(match column {
        "station" if any(&["tailstock", "tail", "ts", "right"]) => {
            "count stations from the headstock end: on a bar of 200 mm a station 10 from the tailstock end is 200 − 10 = 190; then write \
             `station`"
        }
        "roll" | "reference_roll" if any(&["front", "low", "negative", "minus"]) => {
            "rear high is positive: if these readings count the other way turn the sign of each; then write `roll`"
        }
        "reading" | "change" if any(&["out", "pulled", "negative", "minus"]) => {
            "a reading rises as the plunger is pushed in: if these count the other way turn the sign of each, and take the words out"
        }
        "depth" if any(&["diameter", "dia", "diam", "diametral", "d", "both"]) => {
            "the depth of a cut is radial: write half of what comes off the diameter, and `depth`"
        }
        "temperature" if any(&["room", "air", "ambient", "workshop", "shop", "hall"]) => {
            "the column is the temperature of the bar: take it out, and state that of the room as temperature_c in [conditions]"
        }
        "diameter" if any(&["deviation", "difference", "error", "minus", "nominal", "delta", "over", "change"]) => {
            "write whole diameters: add the nominal one to each, then write `diameter`"
        }
        "diameter" if any(&["radius", "radial", "half"]) => "write diameters: twice the radius each; then write `diameter`",
        _ => return None,
    })
}
