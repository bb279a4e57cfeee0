//! What a title above a log says in plain words: which way the tool went, which end stations count from, in which unit readings are.
//!
//! A title is free text: a machine's name, a date, the size of the bar. Only words that say something about the readings count, in the same clause as what
//! they are said of: `Passes cut towards the tailstock` is a direction, `Bar supported by the tailstock` is none.

use super::header_words::words;
use super::title_courses::{BARRED, CUT, MEASURED, PASS, STATION, course};
use super::title_ends::{end_named, is_number, phrases};
use crate::quantities::LengthUnit;
use crate::trial::Direction;

/// What a clause says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::ingest) enum Said {
    /// Which way the tool went.
    Cut(Direction),
    /// Stations count from the tailstock, the right, or an end that is not named.
    FromTailstock,
    /// Readings are in this unit.
    Unit(Subject, LengthUnit),
}

/// A thing that a clause says, or seems to say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::ingest) struct Statement {
    pub(in crate::ingest) said: Said,
    /// Whether the clause says nothing else: `Stations from the tailstock end`. Free text may mean anything.
    pub(in crate::ingest) is_plain: bool,
}

/// What a unit is said of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::ingest) enum Subject {
    Readings,
    Stations,
    All,
}

/// Words beside those of a cell that names what the next one speaks of.
const BESIDE: &[&str] = &["the", "of", "all", "is", "are", "unit", "units", "dimensions", "way", "travel"];

/// What the clauses of some cells of a title say. A cell that has no word of its own for what it speaks of, as in `Direction,to tailstock`, speaks of what the
/// cell before it names.
pub(in crate::ingest) fn said<'c>(cells: impl IntoIterator<Item = &'c str>) -> Vec<Statement> {
    let (mut all, mut before) = (Vec::new(), Vec::new());
    for clause in cells.into_iter().flat_map(|cell| cell.split([',', ';']).flat_map(|part| part.split(". "))) {
        let own = words(clause);
        if own.is_empty() {
            continue;
        }
        let names = |known: &[&str]| own.iter().any(|word| known.contains(&word.as_str()));
        let has_subject = [STATION, MEASURED, CUT, PASS].iter().any(|known| names(known)) || subject_of(&texts(&own)).is_some();
        let names_subject = |word: &String| [STATION, MEASURED, CUT, PASS, BESIDE].iter().any(|known| known.contains(&word.as_str()));
        let inherits = !has_subject && before.iter().all(names_subject);
        let joined: Vec<String> = if inherits { before.iter().chain(&own).cloned().collect() } else { own.clone() };
        let clause = texts(&joined);
        let is_plain = clause.iter().all(|word| is_plain(word));
        // `Collet,from tailstock` and `Measuring direction,from tailstock` are of no station
        let is_first = inherits || before.is_empty();
        all.extend(course(&clause, is_first).into_iter().map(|(said, is_sure)| Statement { said, is_plain: is_plain && is_sure }));
        all.extend(unit(&clause).map(|(subject, unit)| Statement { said: Said::Unit(subject, unit), is_plain }));
        before = own;
    }
    all
}

/// Whether a word may stand in a clause that says but one thing.
fn is_plain(word: &str) -> bool {
    const SMALL: &[&str] = &[
        "from",
        "to",
        "towards",
        "toward",
        "into",
        "in",
        "at",
        "an",
        "and",
        "were",
        "was",
        "each",
        "every",
        "second",
        "other",
        "both",
        "directions",
        "ways",
        "end",
        "ends",
        "face",
        "free",
        "far",
        "outer",
        "right",
        "left",
        "hand",
        "side",
        "its",
        "bar",
        "job",
        "work",
        "workpiece",
        "piece",
        "shaft",
        "run",
        "count",
        "start",
        "zero",
        "z0",
        "only",
        "even",
        "odd",
        "alternate",
        "alternately",
        "alternating",
        "thousandths",
        "thousandth",
        "imperial",
        "metric",
        "first",
    ];
    let known = [STATION, MEASURED, CUT, PASS, BESIDE, SMALL, ALL, READINGS];
    known.iter().any(|known| known.contains(&word)) || is_number(word) || end_named(word).is_some() || LengthUnit::parse(word).is_some()
}

fn texts(words: &[String]) -> Vec<&str> {
    words.iter().map(String::as_str).collect()
}

/// The way that a cell over a pass names, where it speaks of nothing else: `to tailstock`, `Tool from TS`.
pub(in crate::ingest) fn way(cell: &str) -> Option<Direction> {
    let all = words(cell);
    let clause = texts(&all);
    // `To tailstock (return)` is a way of the tool, `Tool returned to tailstock` is none
    let is_of_another = |word: &&str| STATION.contains(word) || MEASURED.contains(word) || *word != "return" && BARRED.contains(word);
    let is_none = clause.iter().any(is_of_another);
    phrases(&clause).into_iter().filter(|_| !is_none).map(|phrase| phrase.goal()).next_back()?
}

const ALL: &[&str] = &["all", "everything", "dimensions", "figures", "values", "data", "measurements", "units", "unit"];
const READINGS: &[&str] = &["readings", "diameters", "diameter", "sizes", "results", "readout"];

/// What a unit in a clause would be said of.
fn subject_of(clause: &[&str]) -> Option<Subject> {
    let has = |known: &[&str]| clause.iter().any(|word| known.contains(word));
    match (has(ALL), has(READINGS), has(&["stations", "positions", "distances"])) {
        (true, _, _) | (_, true, true) => Some(Subject::All),
        (_, true, false) => Some(Subject::Readings),
        (_, false, true) => Some(Subject::Stations),
        _ => None,
    }
}

/// The unit that a clause says readings are in: `Readings in inches`, `Units: inch`. How finely or how surely one reads is none.
fn unit(clause: &[&str]) -> Option<(Subject, LengthUnit)> {
    const NONE: &[&str] = &[
        "uncertainty",
        "resolution",
        "accuracy",
        "error",
        "errors",
        "repeatability",
        "division",
        "divisions",
        "graduated",
        "tolerance",
        "converted",
        "convert",
        "taper",
        "step",
        "steps",
        "limits",
        "deviations",
        "drawing",
    ];
    let subject = subject_of(clause)?;
    if clause.iter().any(|word| NONE.contains(word) || is_number(word)) {
        return None;
    }
    let word = |index: usize| clause.get(index).copied().unwrap_or("");
    let unit_at = |at: usize| match word(at) {
        _ if word(at + 1) == "per" => None,
        "thousandths" | "thousandth" => Some(LengthUnit::Thou),
        "imperial" => Some(LengthUnit::Inch),
        "metric" => Some(LengthUnit::Millimetre),
        "m" => None,
        "in" if at + 1 < clause.len() => None, // perhaps a quotation mark
        word => LengthUnit::parse(word),
    };
    let named = (0..clause.len()).find_map(|at| match word(at) {
        "in" => unit_at(at + 1),
        "unit" | "units" | "dimensions" => {
            unit_at(at + 1).or_else(|| if matches!(word(at + 1), "are" | "is") { unit_at(at + 2) } else { None })
        }
        _ => None,
    });
    Some((subject, named?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_titles_say() {
        let to_tailstock = Said::Cut(Direction::ToTailstock);
        let to_headstock = Said::Cut(Direction::ToHeadstock);
        let inch = |subject| Said::Unit(subject, LengthUnit::Inch);
        for (text, wanted) in [
            ("Passes cut towards the tailstock", vec![to_tailstock]),
            ("All passes cut from the headstock to the tailstock", vec![to_tailstock, to_tailstock]),
            ("Direction: TS", vec![to_tailstock]),
            ("Direction of cut,to tailstock", vec![to_tailstock]),
            ("Direction,tailstock", vec![to_tailstock]),
            ("Pass 1 to headstock, pass 2 to tailstock", vec![to_headstock, to_tailstock]),
            ("Cut from tailstock to headstock", vec![to_headstock, to_headstock]),
            ("Passes cut from left to right", vec![to_tailstock]),
            ("Passes cut left to right", vec![to_tailstock]),
            ("Cut in both directions", vec![to_tailstock]),
            ("Passes alternate", vec![to_tailstock]),
            ("Cuts HS-TS", vec![to_tailstock]),
            ("Stations right to left", vec![Said::FromTailstock]),
            ("Stations in mm from tailstock end", vec![Said::FromTailstock, Said::Unit(Subject::Stations, LengthUnit::Millimetre)]),
            ("Stations from the tailstock end", vec![Said::FromTailstock]),
            ("Stations of each pass from the tailstock end", vec![Said::FromTailstock]),
            ("Stations: from TS", vec![Said::FromTailstock]),
            ("Stations,from tailstock", vec![Said::FromTailstock]),
            ("From tailstock", vec![Said::FromTailstock]),
            ("Distances measured from the end", vec![Said::FromTailstock]),
            ("Stations count from the right-hand end", vec![Said::FromTailstock]),
            ("Stations measured from the free end of the bar", vec![Said::FromTailstock]),
            ("Stations run towards the headstock", vec![Said::FromTailstock]),
            ("Station 0 at the tailstock end", vec![Said::FromTailstock]),
            ("0 = tailstock", vec![Said::FromTailstock]),
            ("Stations measured from tailstock; readings in inches", vec![Said::FromTailstock, inch(Subject::Readings)]),
            ("Units: inch", vec![inch(Subject::All)]),
            ("Units,in", vec![inch(Subject::All)]),
            ("All dimensions in inches", vec![inch(Subject::All)]),
            ("Readings in thousandths of an inch", vec![Said::Unit(Subject::Readings, LengthUnit::Thou)]),
        ] {
            let (all, plain): (Vec<Said>, Vec<bool>) = said([text]).iter().map(|found| (found.said, found.is_plain)).unzip();
            assert!(all == wanted && plain.iter().all(|plain| *plain), "{text}: {all:?} {plain:?}");
        }
        for text in [
            "Quay Lathe 2, bar test, 12 March",
            "Machine: L2",
            "Operator: AB",
            "Bar 40 mm EN1A, stick-out 150 mm",
            "Taper test between headstock and tailstock",
            "Distance from headstock to tailstock 600 mm",
            "Bar between chuck and tailstock centre, tailstock set over 0.1 mm",
            "Stations from the headstock to the tailstock",
            "Stations counted towards the tailstock",
            "Stations from the end of the chuck",
            "Stations from chuck, tailstock at the far end",
            "Station 0 at the chuck and 200 at the tailstock",
            "First station 10 mm from the chuck jaws, cuts 0.1 deep",
            "Test cut, begun 5 mm from the end of the bar",
            "Cut close to the tailstock, light centre",
            "Turning test, headstock to tailstock",
            "Turned between centres, headstock to tailstock 600 mm",
            "Readings from the tailstock end first",
            "Return stroke to tailstock not measured",
            "Cut TS-HS",
            "Passes cut right to left",
            "Tailstock removed; headstock clamped to bed",
            "Head Turner: C. Tail",
            "6 inch lathe, 1 in. bar, inch micrometer reading to 0.0001 in",
            "Micrometer graduated in inches, readings converted",
            "Readings: uncertainty in µm",
            "Levels read in mm/m",
            "Readings in mm/m",
            "Measured in the inspection room, from the end of March",
            "All data in \"Lathe book\"",
            "Lathe in unit 3, measured in May",
            "From tailstock side 12 mm",
        ] {
            let odd: Vec<Said> =
                said([text]).into_iter().map(|found| found.said).filter(|said| *said != Said::Cut(Direction::ToHeadstock)).collect();
            assert_eq!(odd, [], "{text}");
        }
    }

    #[test]
    fn a_cell_over_a_pass_names_its_way() {
        for (cell, wanted) in [
            ("To headstock", Some(Direction::ToHeadstock)),
            ("cut from TS", Some(Direction::ToHeadstock)),
            ("tailstock to headstock", Some(Direction::ToHeadstock)),
            ("Towards the tailstock (return)", Some(Direction::ToTailstock)),
            ("Tailstock", None),
            ("stations from TS", None),
            ("12 mm from chuck", None),
        ] {
            assert_eq!(way(cell), wanted, "{cell}");
        }
    }
}
