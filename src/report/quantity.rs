//! A number ready to be shown: its text, its unit, and where the result file keeps it.

use super::number::{decimals_as_written, decimals_for_figures, decimals_for_uncertainty, fixed, probability};
use super::sentence::{in_inches, without_long_numbers};
use super::units::{ShownUnit, Units};
use crate::quantities::{Interval, Sentence, Told};
use minijinja::Value;
use std::fmt::Write as _;

/// A number ready to be shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Quantity {
    text: String,
    unit: &'static str,
    value: f64,
    key: Key,
}

/// Where a shown number is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Key {
    /// In the result file, by its dotted path.
    Result(String),
    /// On the page only; the name says what it is.
    Page(String),
}

/// The key path of a number in the result file.
pub fn in_result(path: impl Into<String>) -> Key {
    Key::Result(path.into())
}

/// A name for a number that only the page has.
pub fn on_page(name: impl Into<String>) -> Key {
    Key::Page(name.into())
}

impl Quantity {
    /// The same text for another value: a bound such as “above 99 %” keeps the number that it bounds.
    #[must_use]
    pub fn of_value(mut self, value: f64) -> Self {
        self.value = value;
        self
    }

    /// Without its sign, which words say; the value keeps it.
    #[must_use]
    pub fn unsigned(mut self) -> Self {
        self.text = self.text.trim_start_matches(['-', '+', '\u{2212}']).to_owned();
        self
    }

    /// With a plus where `value` is above 0 and does not read 0.
    fn with_plus(mut self, value: f64) -> Self {
        if value > 0.0 && !is_nought(&self.text) {
            self.text.insert(0, '+');
        }
        self
    }

    /// Whether it reads 0 as it is rounded, so that it has no sign to be told.
    #[must_use]
    pub fn reads_nought(&self) -> bool {
        is_nought(&self.text)
    }

    /// Text and unit, for the terminal and for alternative texts.
    #[must_use]
    pub fn plain(&self) -> String {
        if self.unit.is_empty() { self.text.clone() } else { format!("{}\u{202f}{}", self.text, self.unit) }
    }

    /// The number's text without its unit.
    #[must_use]
    pub fn number_text(self) -> String {
        self.text
    }

    /// The `<data>` element and, with `with_unit`, the unit after a narrow no-break space.
    pub fn write_html(&self, out: &mut String, with_unit: bool) {
        let (attribute, path) = match &self.key {
            Key::Result(path) => ("data-key", path),
            Key::Page(name) => ("data-page-key", name),
        };
        let value = serde_json::Number::from_f64(self.value).map_or_else(|| "null".into(), |number| number.to_string());
        let _ = write!(out, "<data value=\"{value}\" {attribute}=\"");
        escape_into(out, path);
        out.push_str("\">");
        escape_into(out, &self.text);
        out.push_str("</data>");
        if with_unit && !self.unit.is_empty() {
            out.push('\u{202f}');
            out.push_str(self.unit);
        }
    }

    /// For a table cell whose column names the unit.
    #[must_use]
    pub fn cell(&self) -> Value {
        let mut out = String::with_capacity(80);
        self.write_html(&mut out, false);
        Value::from_safe_string(out)
    }

    /// With its unit.
    #[must_use]
    pub fn html(&self) -> Value {
        let mut out = String::with_capacity(80);
        self.write_html(&mut out, true);
        Value::from_safe_string(out)
    }
}

/// Decimals of both ends of `interval`, in its unit: those of the estimate, whose uncertainty is the half width; one more where the interval
/// excludes 0 and its nearer end would read 0.
fn decimals_of_ends(interval: Interval) -> usize {
    let decimals = decimals_for_uncertainty(interval.half_width());
    let nearer = interval.low.abs().min(interval.high.abs());
    decimals + usize::from(!interval.contains(0.0) && is_nought(&fixed(nearer, decimals)))
}

/// Whether a number's text shows nothing but noughts.
fn is_nought(text: &str) -> bool {
    !text.bytes().any(|byte| (b'1'..=b'9').contains(&byte))
}

/// Appends `text` with `& < > " '` escaped.
pub fn escape_into(out: &mut String, text: &str) {
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // control characters other than tab and line ends are not allowed in HTML
            control if control.is_control() && !matches!(control, '\t' | '\n' | '\r') => out.push('\u{fffd}'),
            other => out.push(other),
        }
    }
}

/// A number of a sentence on a page in inches, with its unit.
fn told_in_inches(told: Told) -> String {
    let (value, decimals, unit) = told.in_inches();
    format!("{} {unit}", fixed(value, decimals))
}

/// Turns numbers into [`Quantity`] in the page's units.
#[derive(Debug, Clone, Copy)]
pub struct Pen {
    /// Units of the page.
    pub units: Units,
}

impl Pen {
    /// A sentence of the analysis, which is written in millimetres: on a page in inches its lengths are rewritten.
    #[must_use]
    pub fn sentence(&self, text: &str) -> String {
        match self.units {
            Units::Millimetre => without_long_numbers(text),
            Units::Inch => in_inches(&without_long_numbers(text)),
        }
    }

    /// A sentence that knows its numbers: on a page in inches each is converted, and then rounded.
    #[must_use]
    pub fn told(&self, sentence: &Sentence) -> String {
        match self.units {
            Units::Millimetre => self.sentence(sentence),
            Units::Inch => sentence.shown(told_in_inches, |between| self.sentence(between)),
        }
    }

    /// The same where all else is quoted from a log, and stays as it stands there.
    #[must_use]
    pub fn quoting(&self, sentence: &Sentence) -> String {
        match self.units {
            Units::Millimetre => sentence.to_string(),
            Units::Inch => sentence.shown(told_in_inches, str::to_owned),
        }
    }

    fn of(unit: ShownUnit, value_mm: f64, decimals: usize, key: Key) -> Quantity {
        Quantity { text: fixed(value_mm / unit.mm, decimals), unit: unit.symbol, value: value_mm, key }
    }

    /// A difference of diameter, rounded to `u_mm`.
    #[must_use]
    pub fn difference(&self, value_mm: f64, u_mm: f64, key: Key) -> Quantity {
        let unit = self.units.difference();
        Self::of(unit, value_mm, decimals_for_uncertainty(u_mm / unit.mm), key)
    }

    /// The size of a difference of diameter whose sign is said in words.
    #[must_use]
    pub fn size(&self, value_mm: f64, u_mm: f64, key: Key) -> Quantity {
        let unit = self.units.difference();
        Quantity {
            text: fixed(value_mm.abs() / unit.mm, decimals_for_uncertainty(u_mm / unit.mm)),
            unit: unit.symbol,
            value: value_mm,
            key,
        }
    }

    /// A residual or part of an uncertainty, one figure more than `u_mm` asks.
    #[must_use]
    pub fn fine(&self, value_mm: f64, u_mm: f64, key: Key) -> Quantity {
        let unit = self.units.fine();
        Self::of(unit, value_mm, decimals_for_uncertainty(u_mm / unit.mm) + 1, key)
    }

    /// A small value from a data sheet, as it was written.
    #[must_use]
    pub fn fine_as_written(&self, value_mm: f64, key: Key) -> Quantity {
        let unit = self.units.fine();
        Self::of(unit, value_mm, decimals_as_written(value_mm / unit.mm, 3), key)
    }

    /// A difference of diameter that the result file keeps in µm, with its sign, rounded to `u_um`.
    #[must_use]
    pub fn signed_um(&self, value_um: f64, u_um: f64, key: Key) -> Quantity {
        Self::of(self.units.difference(), value_um * 1e-3, self.difference_decimals(u_um), key).with_plus(value_um).of_value(value_um)
    }

    /// The size of such a difference, whose sign is said in words.
    #[must_use]
    pub fn size_um(&self, value_um: f64, u_um: f64, key: Key) -> Quantity {
        let shown = Self::of(self.units.difference(), (value_um * 1e-3).abs(), self.difference_decimals(u_um), key);
        Quantity { value: value_um, ..shown }
    }

    /// An end of an interval of a difference of diameter in mm: both ends get the same decimals, by [`decimals_of_ends`].
    #[must_use]
    pub fn end(&self, value_mm: f64, of_mm: Interval, key: Key) -> Quantity {
        let unit = self.units.difference();
        let of = Interval { low: of_mm.low / unit.mm, high: of_mm.high / unit.mm };
        Self::of(unit, value_mm, decimals_of_ends(of), key)
    }

    /// The same of what is shown in the unit of residuals.
    #[must_use]
    pub fn fine_end(&self, value_mm: f64, of_mm: Interval, key: Key) -> Quantity {
        let unit = self.units.fine();
        let of = Interval { low: of_mm.low / unit.mm, high: of_mm.high / unit.mm };
        Self::of(unit, value_mm, decimals_of_ends(of), key)
    }

    /// The size of such an end, whose sign is said in words.
    #[must_use]
    pub fn end_size(&self, value_mm: f64, of_mm: Interval, key: Key) -> Quantity {
        self.end(value_mm, of_mm, key).unsigned()
    }

    /// The same in µm.
    #[must_use]
    pub fn end_size_um(&self, value_um: f64, of_um: Interval, key: Key) -> Quantity {
        self.signed_end_um(value_um, of_um, key).unsigned()
    }

    /// The same in µm, with its sign.
    #[must_use]
    pub fn signed_end_um(&self, value_um: f64, of_um: Interval, key: Key) -> Quantity {
        let of_mm = Interval { low: of_um.low * 1e-3, high: of_um.high * 1e-3 };
        self.end(value_um * 1e-3, of_mm, key).with_plus(value_um).of_value(value_um)
    }

    /// Whether the shown `change` is the difference of the shown `before` and `after`, all rounded to `u_mm`.
    #[must_use]
    pub fn adds_up(&self, [before_mm, after_mm, change_mm]: [f64; 3], u_mm: f64) -> bool {
        let unit = self.units.difference();
        let step = 10f64.powf(decimals_for_uncertainty(u_mm / unit.mm) as f64);
        let shown = |value: f64| (value / unit.mm * step).round();
        (shown(after_mm) - shown(before_mm) - shown(change_mm)).abs() < 0.5
    }

    fn difference_decimals(&self, u_um: f64) -> usize {
        decimals_for_uncertainty(u_um * 1e-3 / self.units.difference().mm)
    }

    /// A difference of diameter that the result file keeps in µm; one decimal in µm, two in thou.
    #[must_use]
    pub fn micrometres(&self, value_um: f64, key: Key) -> Quantity {
        let unit = self.units.fine();
        let decimals = if self.units == Units::Inch { 2 } else { 1 };
        Quantity { text: fixed(value_um * 1e-3 / unit.mm, decimals), unit: unit.symbol, value: value_um, key }
    }

    /// A station or length as it was written.
    #[must_use]
    pub fn length(&self, value_mm: f64, key: Key) -> Quantity {
        let unit = self.units.length();
        let most = if self.units == Units::Inch { 3 } else { 2 };
        Self::of(unit, value_mm, decimals_as_written(value_mm / unit.mm, most), key)
    }

    /// A depth or feed as it was written.
    #[must_use]
    pub fn cut(&self, value_mm: f64, key: Key) -> Quantity {
        let unit = self.units.length();
        Self::of(unit, value_mm, decimals_as_written(value_mm / unit.mm, 4), key)
    }

    /// A whole diameter, to the step `resolution_mm` of its gauge and `more` figures beyond.
    #[must_use]
    pub fn diameter(&self, value_mm: f64, resolution_mm: f64, more: usize, key: Key) -> Quantity {
        let unit = self.units.length();
        Self::of(unit, value_mm, self.diameter_decimals(resolution_mm) + more, key)
    }

    /// Decimals of a diameter read in steps of `resolution_mm`.
    #[must_use]
    pub fn diameter_decimals(&self, resolution_mm: f64) -> usize {
        let step = resolution_mm / self.units.length().mm;
        if step.is_finite() && step > 0.0 { (-step.log10() - 1e-9).ceil().clamp(0.0, 7.0) as usize } else { 4 }
    }

    /// The statistic of a check: three significant figures, at most three decimals.
    #[must_use]
    pub fn statistic(&self, value: f64, key: Key) -> Quantity {
        self.with_unit(value, decimals_for_figures(value, 3).min(3), "", key)
    }

    /// A number with `decimals` decimals and a unit that does not depend on the page's units.
    #[must_use]
    pub fn with_unit(&self, value: f64, decimals: usize, unit: &'static str, key: Key) -> Quantity {
        Quantity { text: fixed(value, decimals), unit, value, key }
    }

    /// A whole number.
    #[must_use]
    pub fn count(&self, value: usize, key: Key) -> Quantity {
        self.with_unit(value as f64, 0, "", key)
    }

    /// Degrees of freedom: whole ones without decimals.
    #[must_use]
    pub fn dof(&self, value: f64, key: Key) -> Quantity {
        let decimals = if (value - value.round()).abs() < 1e-9 { 0 } else { 1 };
        self.with_unit(value, decimals, "", key)
    }

    /// A tail probability.
    #[must_use]
    pub fn probability(&self, value: f64, key: Key) -> Quantity {
        Quantity { text: probability(value), unit: "", value, key }
    }

    /// A probability as per cent, never rounded to certainty: below 0.5 % `< 1`, above 99.5 % `> 99`.
    #[must_use]
    pub fn probability_as_percent(&self, value: f64, key: Key) -> Quantity {
        let text = if value < 0.005 {
            "<\u{202f}1".to_owned()
        } else if value > 0.995 {
            ">\u{202f}99".to_owned()
        } else {
            fixed(100.0 * value, 0)
        };
        Quantity { text, unit: "%", value, key }
    }

    /// A fraction of one as per cent.
    #[must_use]
    pub fn percent(&self, fraction: f64, decimals: usize, key: Key) -> Quantity {
        Quantity { text: fixed(100.0 * fraction, decimals), unit: "%", value: fraction, key }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_have_the_decimals_of_their_estimate() {
        let ends = |units: Units, low: f64, high: f64| {
            let of = Interval { low, high };
            [low, high].map(|value| Pen { units }.end(value, of, on_page("end")).text)
        };
        let thou = |low: f64, high: f64| ends(Units::Inch, 0.0254 * low, 0.0254 * high);
        // ± 0.098: hundredths; an end that would read 0 has one decimal more, and so has the other
        assert_eq!(thou(-0.246_14, -0.050_27), ["\u{2212}0.25", "\u{2212}0.05"]);
        assert_eq!(thou(-0.198_14, -0.002_27), ["\u{2212}0.198", "\u{2212}0.002"]);
        // and not more than that, whatever it still reads
        assert_eq!(thou(-0.196_14, -0.000_27), ["\u{2212}0.196", "0.000"]);
        // 0 lies inside: nothing is to be kept from reading 0
        assert_eq!(thou(-0.196_14, 0.000_27), ["\u{2212}0.20", "0.00"]);
        assert_eq!(ends(Units::Millimetre, 0.000_2, 0.008_4), ["0.0002", "0.0084"]);
        assert_eq!(ends(Units::Millimetre, 0.000_6, 0.008_8), ["0.001", "0.009"]);
        let um = |value: f64| Pen { units: Units::Millimetre }.signed_end_um(value, Interval { low: -3.2, high: 9.1 }, on_page("end"));
        assert_eq!([um(9.1).text, um(-3.2).text], ["+0.009", "\u{2212}0.003"]);
        assert_eq!((um(9.1).value, um(-3.2).unsigned().text.as_str()), (9.1, "0.003"));
    }

    #[test]
    fn a_difference_of_shown_numbers_is_told_from_one_that_is_not() {
        let pen = Pen { units: Units::Millimetre };
        assert!(pen.adds_up([0.0350, 0.0030, -0.0320], 0.004));
        // 0.035 to 0.003 is −0.032 as shown, and the change −0.0314 reads −0.031
        assert!(!pen.adds_up([0.0346, 0.0032, -0.0314], 0.004));
        assert!(pen.difference(-0.0004, 0.004, on_page("x")).reads_nought() && !pen.difference(0.0006, 0.004, on_page("x")).reads_nought());
    }
}
