//! Sentences whose numbers are rounded once: in millimetres where they stand by themselves, in a page's own unit on a page.

use super::length::MM_PER_INCH;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};
use std::borrow::Cow;
use std::fmt;
use std::ops::{Deref, Range};

/// `text` with its first letter large.
#[must_use]
pub fn sentence_case(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// What a number of a sentence is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A difference of diameter, written in mm; thou in inches.
    Difference,
    /// The same, written in µm.
    Fine,
    /// A length or place, written with no more decimals than it has.
    Length,
    /// A slope, mm/m; in/ft in inches.
    Slope,
    /// A twist, (mm/m)/m; (in/ft)/ft in inches.
    Twist,
}

/// A number of a sentence before it is rounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// What it is.
    pub kind: Kind,
    /// In mm, mm/m or (mm/m)/m.
    pub value: f64,
    /// Decimals that it is given in mm, µm, mm/m or (mm/m)/m; for a length the most.
    pub decimals: usize,
}

/// Begins and ends a number in a text on its way into a [`Sentence`].
const MARKS: [char; 2] = ['\u{91}', '\u{92}'];

impl fmt::Display for Told {
    /// The number with its mark, which a [`Sentence`] takes out.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let letter = match self.kind {
            Kind::Difference => 'd',
            Kind::Fine => 'f',
            Kind::Length => 'l',
            Kind::Slope => 's',
            Kind::Twist => 't',
        };
        write!(f, "{}{letter}{}:{:e}{}", MARKS[0], self.decimals, self.value, MARKS[1])
    }
}

impl Told {
    /// A difference of diameter in mm.
    #[must_use]
    pub fn difference(value_mm: f64, decimals: usize) -> Self {
        Self { kind: Kind::Difference, value: value_mm, decimals }
    }

    /// A difference of diameter, written in µm with one decimal.
    #[must_use]
    pub fn fine(value_mm: f64) -> Self {
        Self { kind: Kind::Fine, value: value_mm, decimals: 1 }
    }

    /// A length or place with at most two decimals of a millimetre.
    #[must_use]
    pub fn length(value_mm: f64) -> Self {
        Self { kind: Kind::Length, value: value_mm, decimals: 2 }
    }

    /// A slope in mm/m with three decimals.
    #[must_use]
    pub fn slope(value_mm_per_m: f64) -> Self {
        Self { kind: Kind::Slope, value: value_mm_per_m, decimals: 3 }
    }

    /// A twist in (mm/m)/m with two decimals.
    #[must_use]
    pub fn twist(value_mm_per_m_per_m: f64) -> Self {
        Self { kind: Kind::Twist, value: value_mm_per_m_per_m, decimals: 2 }
    }

    /// Number, decimals and unit in millimetres.
    #[must_use]
    pub fn in_millimetres(self) -> (f64, usize, &'static str) {
        match self.kind {
            Kind::Difference => (self.value, self.decimals, "mm"),
            Kind::Fine => (1e3 * self.value, self.decimals, "µm"),
            Kind::Length => (self.value, decimals_as_written(self.value, self.decimals), "mm"),
            Kind::Slope => (self.value, self.decimals, "mm/m"),
            Kind::Twist => (self.value, self.decimals, "(mm/m)/m"),
        }
    }

    /// Number, decimals and unit in inches, about as fine as in millimetres: converted, not yet rounded.
    ///
    /// ```
    /// # use taperwright::quantities::Told;
    /// let (twist, decimals, unit) = Told::twist(0.43).in_inches();
    /// // a millimetre per metre is 0.012 inches per foot, and a metre 1/0.3048 feet
    /// assert!((twist - 0.43 * 0.012 * 0.3048).abs() < 1e-12);
    /// assert_eq!((decimals, unit), (5, "(in/ft)/ft"));
    /// ```
    #[must_use]
    pub fn in_inches(self) -> (f64, usize, &'static str) {
        let (inch, foot) = (self.value / MM_PER_INCH, 12.0 / 1000.0);
        match self.kind {
            Kind::Difference => (1e3 * inch, self.decimals.saturating_sub(1), "thou"),
            Kind::Fine => (1e3 * inch, self.decimals + 2, "thou"),
            Kind::Length => (inch, decimals_as_written(inch, self.decimals + 1), "in"),
            Kind::Slope => (self.value * foot, self.decimals + 2, "in/ft"),
            Kind::Twist => (self.value * foot * 12.0 * MM_PER_INCH / 1000.0, self.decimals + 3, "(in/ft)/ft"),
        }
    }

    /// The mark that `text` holds.
    fn read(text: &str) -> Option<Self> {
        let (decimals, value) = text.get(1..)?.split_once(':')?;
        let kind = match text.get(..1)? {
            "d" => Kind::Difference,
            "f" => Kind::Fine,
            "l" => Kind::Length,
            "s" => Kind::Slope,
            "t" => Kind::Twist,
            _ => return None,
        };
        let value: f64 = value.parse().ok()?;
        let decimals: usize = decimals.parse().ok()?;
        (value.is_finite() && decimals <= 9).then_some(Self { kind, value, decimals })
    }
}

/// The fewest decimals, at most `most`, at which `value` is shown unrounded (to a billionth of itself).
#[must_use]
pub fn decimals_as_written(value: f64, most: usize) -> usize {
    (0..most)
        .find(|decimals| {
            let scale = 10f64.powi(i32::try_from(*decimals).unwrap_or(9));
            ((value * scale).round() / scale - value).abs() <= 1e-9 * value.abs().max(1e-3)
        })
        .unwrap_or(most)
}

/// A sentence in millimetres that knows its numbers before they were rounded.
///
/// It reads as plain text, and is kept so in the result file; a page in inches takes the numbers themselves.
///
/// ```
/// # use taperwright::quantities::{Sentence, Told};
/// let sentence = Sentence::from(format!("{} over {}", Told::difference(0.02034, 3), Told::length(177.8)));
/// assert_eq!(&*sentence, "0.020 mm over 177.8 mm");
/// ```
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sentence {
    plain: String,
    /// Where each number stands, with its unit, in bytes.
    told: Vec<(Range<usize>, Told)>,
}

impl Sentence {
    /// Goes on with `more`, which may hold marked numbers.
    pub fn push_str(&mut self, more: &str) {
        let mut rest = more;
        while let Some((before, after)) = rest.split_once(MARKS[0]) {
            self.plain.push_str(before);
            rest = after;
            if let Some((told, behind)) = after.split_once(MARKS[1]).and_then(|(mark, behind)| Some((Told::read(mark)?, behind))) {
                let (value, decimals, unit) = told.in_millimetres();
                let start = self.plain.len();
                self.plain.push_str(&format!("{value:.decimals$} {unit}"));
                self.told.push((start..self.plain.len(), told));
                rest = behind;
            }
        }
        self.plain.push_str(rest);
    }

    /// The sentence with each number as `number` shows it and what stands between as `between` does.
    #[must_use]
    pub fn shown(&self, number: impl Fn(Told) -> String, between: impl Fn(&str) -> String) -> String {
        let mut out = String::with_capacity(self.plain.len() + 16);
        let mut last = 0;
        for (range, told) in &self.told {
            out.push_str(&between(self.plain.get(last..range.start).unwrap_or_default()));
            out.push_str(&number(*told));
            last = range.end;
        }
        out.push_str(&between(self.plain.get(last..).unwrap_or_default()));
        out
    }
}

impl<T: AsRef<str>> From<T> for Sentence {
    fn from(text: T) -> Self {
        let mut sentence = Self::default();
        sentence.push_str(text.as_ref());
        sentence
    }
}

impl Deref for Sentence {
    type Target = str;

    fn deref(&self) -> &str {
        &self.plain
    }
}

impl PartialEq<str> for Sentence {
    fn eq(&self, other: &str) -> bool {
        self.plain == other
    }
}

impl PartialEq<&str> for Sentence {
    fn eq(&self, other: &&str) -> bool {
        self.plain == *other
    }
}

impl fmt::Display for Sentence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.plain)
    }
}

impl Serialize for Sentence {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.plain)
    }
}

impl JsonSchema for Sentence {
    fn schema_name() -> Cow<'static, str> {
        "Sentence".into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_is_converted_before_it_is_rounded() {
        // 0.0201 mm is 0.791 thou; rounded to 0.020 mm first it would be 0.787, which is 0.79 as well: 0.0203 and 0.0205 tell the two apart
        for (told, mm, inch) in [
            (Told::difference(0.020_31, 3), "0.020 mm", "0.80 thou"),
            (Told::difference(0.002_54, 3), "0.003 mm", "0.10 thou"),
            (Told::fine(0.004_34), "4.3 µm", "0.171 thou"),
            (Told::length(177.8), "177.8 mm", "7 in"),
            (Told::length(198.0), "198 mm", "7.795 in"),
            (Told::slope(0.0667), "0.067 mm/m", "0.00080 in/ft"),
            (Told::twist(0.4321), "0.43 (mm/m)/m", "0.00158 (in/ft)/ft"),
        ] {
            let sentence = Sentence::from(format!("by {told} or 5 mm"));
            assert_eq!(&*sentence, format!("by {mm} or 5 mm"));
            let number = |told: Told| {
                let (value, decimals, unit) = told.in_inches();
                format!("{value:.decimals$} {unit}")
            };
            assert_eq!(sentence.shown(number, str::to_uppercase), format!("BY {inch} OR 5 MM"));
        }
    }

    #[test]
    fn what_is_no_mark_loses_only_its_first_letter() {
        for text in ["\u{91}", "\u{91}d3", "\u{91}x3:1\u{92}", "\u{91}d3:nan\u{92}", "a\u{91}é:1\u{92}"] {
            assert_eq!(&*Sentence::from(text), text.replace('\u{91}', ""), "{text:?}");
        }
        let mut sentence = Sentence::from("a ");
        sentence.push_str(&Told::length(5.0).to_string());
        assert_eq!((&*sentence, serde_json::to_string(&sentence).ok().as_deref()), ("a 5 mm", Some("\"a 5 mm\"")));
    }
}
