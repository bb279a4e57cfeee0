//! What a clause of a title says of the way of the tool and of the end that stations count from.

use super::title_ends::{End, end_named, is_number, phrases};
use super::title_words::Said;
use crate::trial::Direction;

pub(in crate::ingest) const STATION: &[&str] = &["station", "stations", "stn", "stns", "position", "positions", "z"];
pub(in crate::ingest) const MEASURED: &[&str] =
    &["distance", "distances", "dist", "measured", "measurements", "counted", "numbered", "readings", "lengths", "origin", "datum"];
pub(in crate::ingest) const CUT: &[&str] = &[
    "cut",
    "cuts",
    "cutting",
    "turned",
    "turning",
    "machined",
    "feed",
    "feeding",
    "fed",
    "tool",
    "traverse",
    "direction",
    "stroke",
    "strokes",
    "travel",
    "travels",
    "travelling",
];
pub(in crate::ingest) const PASS: &[&str] = &["pass", "passes"];

/// Words of a clause that speaks of another thing than the way of a cut: the stroke back, how the tool is set, the sign of a taper, the way one measures.
pub(in crate::ingest) const BARRED: &[&str] = &[
    "returned",
    "return",
    "returns",
    "returning",
    "back",
    "retracted",
    "withdrawn",
    "wound",
    "moved",
    "clear",
    "omitted",
    "height",
    "set",
    "centre",
    "center",
    "point",
    "pointing",
    "projecting",
    "facing",
    "post",
    "edge",
    "angle",
    "angled",
    "lead",
    "offset",
    "slide",
    "compound",
    "taper",
    "larger",
    "bigger",
    "smaller",
    "positive",
    "negative",
    "sign",
    "z",
    "axis",
    "measuring",
    "measurement",
    "measured",
    "seen",
    "viewed",
    "looking",
    "spindle",
    "rotation",
    "coolant",
    "fluid",
];

/// Words of a clause in which a zero is that of a gauge or a slide.
const ZEROED: &[&str] = &[
    "dial",
    "dials",
    "indicator",
    "clock",
    "micrometer",
    "mic",
    "gauge",
    "level",
    "bubble",
    "set",
    "zeroed",
    "reads",
    "reading",
    "readings",
    "taper",
    "offset",
    "slide",
    "over",
];

/// What a clause says of the way of the tool or the way of the stations, and whether that is sure where no other word stands in it; `is_first` where nothing
/// before it says what it speaks of.
pub(in crate::ingest) fn course(clause: &[&str], is_first: bool) -> Vec<(Said, bool)> {
    let has = |known: &[&str]| clause.iter().any(|word| known.contains(word));
    let mut found: Vec<(Said, bool)> = Vec::new();
    let to_tailstock = Said::Cut(Direction::ToTailstock);
    if has(&["not", "no", "without"]) && !has(STATION) {
        return found;
    }
    let is_cut = (has(CUT) || has(PASS)) && !has(BARRED);
    // `Passes cut in both directions`, `Passes alternate`; `Cuts alternate between light and heavy` is of depths
    let alternates = has(&["alternate", "alternately", "alternating"]);
    let in_ways = has(&["direction", "directions", "ways", "way"]) || clause.iter().any(|word| end_named(word).is_some());
    let alone =
        clause.iter().all(|word| [CUT, PASS, &["alternate", "alternately", "alternating", "the"]].iter().any(|known| known.contains(word)));
    if is_cut && (has(&["both"]) && has(&["directions", "ways"]) || alternates && (in_ways || alone)) {
        found.push((to_tailstock, true));
    }
    // `Cut HS-TS`
    for (tool, ends) in clause.iter().zip(clause.get(1..).unwrap_or_default().windows(2)) {
        let named: Vec<End> = ends.iter().filter_map(|word| end_named(word)).collect();
        if is_cut && (CUT.contains(tool) || PASS.contains(tool)) && named == [End::Head, End::Tail] {
            found.push((to_tailstock, true));
        }
    }
    let is_single = clause.iter().any(|word| is_number(word));
    let ways = phrases(clause);
    let names = |end: End| clause.iter().any(|word| end_named(word) == Some(end)) || ways.iter().any(|way| way.end == end);
    let names_both = names(End::Head) && names(End::Tail) || has(&["left"]) && has(&["right"]);
    for phrase in ways {
        // what it is said of: a station where no cut is named, else the nearest word before, else the first behind
        let is = |known: &[&str], word: &&str| known.contains(word);
        let is_any = |word: &&&str| [STATION, MEASURED, CUT, PASS].iter().any(|known| is(known, word));
        let before = clause.get(..=phrase.at).unwrap_or_default().iter().rev().find(is_any);
        let behind = clause.get(phrase.at..).unwrap_or_default().iter().find(is_any);
        // in `Direction of stations` no cut is named
        let only_stations = has(STATION) && !clause.iter().any(|word| CUT.contains(word) && *word != "direction");
        let owner = before.or(behind);
        let of_stations = only_stations || owner.is_some_and(|word| is(STATION, word));
        // `Measured from the tailstock end` may tell the order of reading, `Readings from tailstock to headstock` does; a single measure, as `Distance from
        // tailstock 50 mm`, is of no station
        let is_order = !has(STATION) && !has(&["distance", "distances", "dist", "lengths", "origin", "datum", "counted", "numbered"]);
        let is_else = is_single || is_order && names_both || has(&["first", "last", "direction", "order", "micrometer", "mic", "gauge"]);
        let measured = !is_else && owner.is_some_and(|word| is(MEASURED, word));
        if of_stations || measured {
            if phrase.is_backwards() {
                found.push((Said::FromTailstock, !is_order && (has(STATION) || !names_both)));
            }
        } else if owner.is_some_and(|word| is(CUT, word) || is(PASS, word)) {
            found.extend(phrase.goal().filter(|_| is_cut).map(|goal| (Said::Cut(goal), true)));
        } else if owner.is_none() && is_first && phrase.at == 0 && phrase.is_backwards() && !names_both && clause.iter().all(names_an_end) {
            found.push((Said::FromTailstock, true)); // `From the tailstock end`, and no more
        }
    }
    if has_zero_at_tailstock(clause) {
        // `Zero at tailstock` may be that of a dial
        found.push((Said::FromTailstock, has(STATION) || has(&["origin", "datum", "0", "z0"])));
    }
    found
}

/// Whether a word may stand in `From the free end of the bar`.
fn names_an_end(word: &&str) -> bool {
    const WORDS: &[&str] = &[
        "from",
        "the",
        "end",
        "face",
        "side",
        "of",
        "bar",
        "job",
        "work",
        "workpiece",
        "piece",
        "shaft",
        "free",
        "far",
        "outer",
        "right",
        "hand",
    ];
    WORDS.contains(word) || end_named(word).is_some()
}

/// `Station 0 at the tailstock`, `0 = tailstock end`, `Station 1 next to the tailstock`; a dial or a slide set to zero there is no station.
fn has_zero_at_tailstock(clause: &[&str]) -> bool {
    if clause.iter().any(|word| ZEROED.contains(word)) {
        return false;
    }
    let is_station = |word: Option<&&str>| word.is_some_and(|word| STATION.contains(word));
    let is_small = |word: &&&str| matches!(**word, "at" | "is" | "the" | "near" | "nearest" | "being" | "free" | "end" | "station" | "of");
    let of_stations = clause.iter().any(|word| STATION.contains(word) || matches!(*word, "origin" | "datum"));
    (0..clause.len()).any(|at| {
        let before = at.checked_sub(1).and_then(|index| clause.get(index));
        let counts = match clause.get(at) {
            Some(&("0" | "zero" | "z0")) => at == 0 || of_stations,
            Some(&("1" | "first")) => is_station(before) || is_station(clause.get(at + 1)),
            _ => false,
        };
        let place = clause.get(at + 1..).unwrap_or_default().iter().find(|word| !is_small(word));
        counts && place.is_some_and(|word| end_named(word) == Some(End::Tail))
    })
}
