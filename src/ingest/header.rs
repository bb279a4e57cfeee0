pub(super) mod arrows;
pub(super) mod beside;
pub(super) mod beside_name;
pub(super) mod column_specs;
pub(super) mod columns;
pub(super) mod diameter_column;
pub(super) mod empty_columns;
pub(super) mod header_lines;
pub(super) mod header_words;
pub(super) mod pass_column;
pub(super) mod title_courses;
pub(super) mod title_ends;
pub(super) mod title_groups;
pub(super) mod title_rows;
pub(super) mod title_words;
pub(super) mod titles;
use crate::quantities::{ARCSEC_PER_RADIAN, LengthUnit, celsius_from_fahrenheit};
use crate::trial::LogUnits;
use arrows::arrows;
use beside_name::{is_harmless, is_signed, known_mend};
use header_words::{has_minus, unquoted, words};

/// A cell of a header line, taken apart: `Diameter (mm)`, `dia_in`, `D [thou]`, `Roll mm/m`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct HeaderCell {
    /// As written.
    pub(super) text: String,
    /// Its words outside brackets, lower case; `"` is `in`, `/` is `per`, `°` is `deg`.
    pub(super) words: Vec<String>,
    /// Words of each bracket.
    brackets: Vec<Vec<String>>,
    /// Whether a minus sign stands in it, as in `(anticlockwise -)`.
    has_minus: bool,
    /// Signs of a direction in it, such as `→`.
    arrows: Vec<String>,
}

/// Words that may follow the name of a column without a unit: `Dir. of cut`, `Pass No.`, `Edge name`.
const FILLERS: &[&str] = &["of", "the", "cut", "no", "nr", "number", "name", "id"];

/// What the cells of a column hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holds {
    Length,
    Feed,
    Slope,
    Temperature,
    Degrees,
    Whole,
    Turns,
    Text,
}

/// How a number of a column becomes metric.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Measure {
    /// Times a factor.
    Times(f64),
    /// From degrees Fahrenheit.
    Fahrenheit,
    /// Times the level's division, mm/m.
    Divisions,
}

impl Measure {
    /// The number in mm, mm/rev, mm/m, °C or degrees. Divisions stay divisions.
    pub(super) fn metric(self, number: f64) -> f64 {
        match self {
            Self::Times(factor) => number * factor,
            Self::Fahrenheit => celsius_from_fahrenheit(number),
            Self::Divisions => number,
        }
    }

    /// Factor of a step in the last digit.
    pub(super) fn step(self) -> f64 {
        match self {
            Self::Times(factor) => factor,
            Self::Fahrenheit => 5.0 / 9.0,
            Self::Divisions => 1.0,
        }
    }
}

/// The unit of a header cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Unit {
    Known(Measure),
    Missing,
    Unknown(String),
    /// Words beside the name that may change what the column means, and the unit beside them.
    Beside(Vec<String>, Option<Measure>),
}

/// Most words of a header's cell that name something: a cell of thousands of words is no header's.
pub(super) const MOST_WORDS: usize = 8;

impl HeaderCell {
    pub(super) fn parse(text: &str) -> Self {
        let text = unquoted(text.trim());
        // no stroke of a quotient
        let written = text.replace("+/-", "±");
        let (mut outside, mut brackets, mut inside) = (String::new(), Vec::new(), None::<String>);
        for character in written.chars() {
            match character {
                '(' | '[' | '{' if inside.is_none() => inside = Some(String::new()),
                ')' | ']' | '}' if inside.is_some() => brackets.push(words(&inside.take().unwrap_or_default())),
                _ => inside.as_mut().unwrap_or(&mut outside).push(character),
            }
        }
        outside.push(' ');
        outside.push_str(&inside.unwrap_or_default());
        Self {
            text: text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect(),
            words: words(&outside),
            brackets,
            has_minus: has_minus(&written),
            arrows: arrows(text),
        }
    }

    /// The words of each bracket.
    pub(super) fn brackets(&self) -> &[Vec<String>] {
        &self.brackets
    }

    /// The same with so many words of a bracket put behind its first words, as if they stood outside it.
    pub(super) fn opened(&self, bracket: usize, words: usize, behind: usize) -> Self {
        let mut cell = self.clone();
        if let Some(inside) = cell.brackets.get_mut(bracket) {
            let moved: Vec<String> = inside.drain(..words.min(inside.len())).collect();
            let at = behind.min(cell.words.len());
            cell.words.splice(at..at, moved);
        }
        cell
    }

    /// Whether it is empty.
    pub(super) fn is_empty(&self) -> bool {
        self.text.is_empty()
    }

    /// The unit of `column`, outside brackets or in one, where the first `named` words are its name; `None` when words follow the name of a column that has
    /// no unit. Every other word must change nothing in what the column means.
    pub(super) fn unit(&self, named: usize, column: &str, holds: Holds) -> Option<Unit> {
        let rest = self.words.get(named..).unwrap_or_default();
        if matches!(holds, Holds::Text | Holds::Whole) && !rest.iter().all(|word| FILLERS.contains(&word.as_str())) {
            return None;
        }
        // beside a name or a remark a sign of direction changes nothing
        let is_text = holds == Holds::Text && !matches!(column, "direction" | "foot" | "plane" | "reversed");
        if !self.arrows.is_empty() && !is_text {
            let (known, mut odd) = match self.without_arrows().unit(named, column, holds)? {
                Unit::Known(measure) => (Some(measure), Vec::new()),
                Unit::Beside(odd, known) => (known, odd),
                Unit::Missing => (None, Vec::new()),
                Unit::Unknown(text) => (None, vec![text]),
            };
            odd.extend(self.arrows.iter().cloned());
            return Some(Unit::Beside(odd, known));
        }
        if matches!(holds, Holds::Text | Holds::Whole | Holds::Turns) {
            return Some(self.without_unit(rest, column, holds));
        }
        let (outside, mut odd) = unit_among(rest, column, holds);
        let mut known = outside;
        for bracket in &self.brackets {
            let (inside, others) = unit_among(bracket, column, holds);
            odd.extend(others);
            match (known, inside) {
                // in `Diameter in (mm)` it is no inch
                (Some(_), Some(inside)) if rest.last().is_some_and(|word| word == "in") && outside == known => known = Some(inside),
                (Some(one), Some(inside)) if one != inside => odd.extend(bracket.iter().cloned()),
                (None, inside) => known = inside,
                _ => {}
            }
        }
        if self.has_minus && is_signed(column) {
            odd.push("minus".to_owned());
        }
        // `Station no.` without a unit counts stations
        let numbers = |word: &&String| matches!(word.as_str(), "no" | "nr" | "number");
        if known.is_none() && column == "station" {
            odd.extend(rest.iter().chain(self.brackets.iter().flatten()).find(numbers).cloned());
        }
        Some(match (known, odd.as_slice()) {
            (Some(measure), []) => Unit::Known(measure),
            (None, []) if holds == Holds::Degrees => Unit::Known(Measure::Times(1.0)),
            (None, []) => Unit::Missing,
            (None, odd) if (odd.len() == 1 && known_mend(column, odd).is_none()) || odd.iter().any(|word| word == "per") => {
                Unit::Unknown(odd.concat())
            }
            _ => Unit::Beside(odd, known),
        })
    }

    fn without_arrows(&self) -> Self {
        Self { arrows: Vec::new(), ..self.clone() }
    }

    /// What the words beside a name say that has no unit: nothing, or something else than the column means.
    fn without_unit(&self, rest: &[String], column: &str, holds: Holds) -> Unit {
        let beside: Vec<String> = rest.iter().chain(self.brackets.iter().flatten()).cloned().collect();
        let is_unit = |words: &&Vec<String>| [Holds::Length, Holds::Degrees].iter().any(|holds| unit_of(&words.concat(), *holds).is_some());
        match holds {
            Holds::Whole => {
                let unit = self.brackets.iter().find(is_unit);
                unit.map_or(Unit::Known(Measure::Times(1.0)), |unit| Unit::Unknown(unit.concat()))
            }
            Holds::Turns => {
                let mut odd: Vec<String> = (0..beside.len())
                    .filter(|index| !is_harmless(column, &beside, *index))
                    .filter_map(|index| beside.get(index).cloned())
                    .collect();
                if self.has_minus {
                    odd.push("minus".to_owned());
                }
                if odd.is_empty() { Unit::Known(Measure::Times(1.0)) } else { Unit::Beside(odd, None) }
            }
            _ if known_mend(column, &beside).is_some() => Unit::Beside(beside, None),
            // a text has no length: such a column may hold readings
            Holds::Text => {
                let is_length = |words: &&Vec<String>| unit_of(&words.concat(), Holds::Length).is_some();
                let unit = self.brackets.iter().find(is_length);
                unit.map_or(Unit::Known(Measure::Times(1.0)), |unit| Unit::Unknown(unit.concat()))
            }
            _ => Unit::Known(Measure::Times(1.0)),
        }
    }
}

/// The unit among some words beside a column's name, and the words that are neither one nor harmless.
fn unit_among(words: &[String], column: &str, holds: Holds) -> (Option<Measure>, Vec<String>) {
    // `Diameter / mm`: a quantity over its unit, as ISO 80000-1 writes it (from memory)
    let words = words.strip_prefix(&["per".to_owned()]).unwrap_or(words);
    if let Some(measure) = unit_of(&words.concat(), holds) {
        return (Some(measure), Vec::new());
    }
    // in `Diameter in mm` it is no inch: a unit of its own follows
    let unit_behind = |index: usize| words.get(index + 1..).is_some_and(|behind| unit_of(&behind.concat(), holds).is_some());
    let is_preposition = |index: usize, word: &String| word == "in" && index + MOST_WORDS > words.len() && unit_behind(index);
    let kept: Vec<String> = (0..)
        .zip(words)
        .filter(|(index, word)| !is_harmless(column, words, *index) && !is_preposition(*index, word))
        .map(|(_, word)| word.clone())
        .collect();
    for odd in 0..kept.len().min(MOST_WORDS) {
        let (before, unit) = kept.split_at(odd);
        if let Some(measure) = unit_of(&unit.concat(), holds) {
            return (Some(measure), before.to_vec());
        }
    }
    let first = kept.split_first().and_then(|(first, others)| Some((unit_of(first, holds)?, others.to_vec())));
    let first = first.filter(|(_, others)| others.first().is_none_or(|word| word != "per"));
    first.map_or((None, kept), |(measure, others)| (Some(measure), others))
}

/// The measure that `--log-units` gives a column without a unit.
pub(super) fn default_measure(holds: Holds, units: LogUnits) -> Option<Measure> {
    match (holds, units) {
        (Holds::Length | Holds::Feed, LogUnits::Millimetre) => Some(Measure::Times(LengthUnit::Millimetre.mm())),
        (Holds::Length | Holds::Feed, LogUnits::Inch) => Some(Measure::Times(LengthUnit::Inch.mm())),
        (Holds::Slope, LogUnits::Millimetre) => Some(Measure::Times(1.0)),
        _ => None,
    }
}

/// The measure written as `text`, words joined: `mm`, `inperft`, `degf`.
pub(super) fn unit_of(text: &str, holds: Holds) -> Option<Measure> {
    let length = |text: &str| LengthUnit::parse(text).map(LengthUnit::mm);
    match holds {
        Holds::Length => length(text).map(Measure::Times),
        Holds::Feed => match text {
            "ipr" => Some(Measure::Times(LengthUnit::Inch.mm())),
            _ => {
                let per = ["perrevolution", "perrev", "perr", "perturn"].iter().find_map(|tail| text.strip_suffix(tail));
                length(per.unwrap_or(text)).map(Measure::Times)
            }
        },
        Holds::Slope => Some(match text {
            "mmperm" | "mmpermetre" | "mmpermeter" | "mrad" => Measure::Times(1.0),
            "umperm" | "µmperm" | "μmperm" | "urad" | "µrad" | "μrad" => Measure::Times(1e-3),
            "inperft" | "inperfoot" | "inchperft" | "inchesperfoot" | "inchperfoot" | "inperf" => Measure::Times(1000.0 / 12.0),
            "inper10in" | "inper10" | "inchper10inch" | "inper10inches" | "inchesper10inches" => Measure::Times(100.0),
            "thouperft" | "thouperfoot" => Measure::Times(1.0 / 12.0),
            "thouper10in" => Measure::Times(0.1),
            "arcsec" | "arcsecs" | "arcs" | "arcsecond" | "arcseconds" | "secondsofarc" => Measure::Times(1000.0 / ARCSEC_PER_RADIAN),
            "div" | "divs" | "division" | "divisions" => Measure::Divisions,
            _ => return None,
        }),
        Holds::Temperature => match text {
            "c" | "degc" | "celsius" | "degcelsius" | "degreesc" => Some(Measure::Times(1.0)),
            "f" | "degf" | "fahrenheit" | "degfahrenheit" | "degreesf" => Some(Measure::Fahrenheit),
            _ => None,
        },
        Holds::Degrees => matches!(text, "deg" | "degree" | "degrees").then_some(Measure::Times(1.0)),
        Holds::Whole | Holds::Turns | Holds::Text => None,
    }
}
