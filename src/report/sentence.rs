//! Lengths inside sentences that the analysis wrote in millimetres, for a page in inches.

use super::inch_units::{fahrenheit, fahrenheit_degrees};
use super::number::{decimals_for_figures, fixed};
use crate::quantities::MM_PER_INCH;

/// Units that are rewritten: as written, as shown, and how many of the first make one of the second.
const REWRITTEN: [(&str, &str, f64); 3] = [("mm/m", "in/ft", 1000.0 / 12.0), ("mm", "in", MM_PER_INCH), ("µm", "thou", MM_PER_INCH)];

/// `text` with every `number mm`, `number µm` and `number mm/m` as inches, thou and inches per foot, to as many figures as were written.
///
/// So are temperatures, `°C` as °F and differences in `K` as degrees of it. Numbers with other units, or none, stay. A number keeps its sign.
///
/// ```
/// # use taperwright::report::in_inches;
/// assert_eq!(in_inches("may be ±0.5 mm wrong at 20 °C"), "may be ±0.020 in wrong at 68 °F");
/// assert_eq!(in_inches("14.2 µm over 254 mm"), "0.559 thou over 10.0 in");
/// ```
#[must_use]
pub fn in_inches(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(start) = rest.find(|letter: char| letter.is_ascii_digit()) {
        let (before, from_number) = rest.split_at(start);
        out.push_str(before);
        let end = from_number.find(|letter: char| !letter.is_ascii_digit() && letter != '.').unwrap_or(from_number.len());
        let (number, after) = from_number.split_at(end);
        rest = match rewritten(number, after) {
            Some((shown, after)) => {
                out.push_str(&shown);
                after
            }
            None => {
                out.push_str(number);
                after
            }
        };
    }
    out.push_str(rest);
    out
}

/// `text` with every number that has more than six decimals, as conversions leave them, rounded to three figures.
///
/// ```
/// # use taperwright::report::without_long_numbers;
/// assert_eq!(without_long_numbers("±0.5555555555555556 K, 20 mm"), "±0.556 K, 20 mm");
/// ```
#[must_use]
pub fn without_long_numbers(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(start) = rest.find(|letter: char| letter.is_ascii_digit()) {
        let (before, from_number) = rest.split_at(start);
        let end = from_number.find(|letter: char| !letter.is_ascii_digit() && letter != '.').unwrap_or(from_number.len());
        let (number, after) = from_number.split_at(end);
        out.push_str(before);
        let long = number.split_once('.').is_some_and(|(_, decimals)| decimals.len() > 6);
        match number.parse::<f64>() {
            Ok(value) if long => out.push_str(&fixed(value, decimals_for_figures(value, 3))),
            _ => out.push_str(number),
        }
        rest = after;
    }
    out.push_str(rest);
    out
}

/// Whether what stands behind a unit belongs to it.
fn goes_on(behind: &str) -> bool {
    behind.starts_with(|letter: char| letter.is_alphanumeric() || matches!(letter, '/' | '²' | '³'))
}

/// The length or temperature that `number` begins, rewritten, and what follows its unit.
fn rewritten<'a>(number: &str, after: &'a str) -> Option<(String, &'a str)> {
    let value: f64 = number.parse().ok()?;
    let gap = after.chars().next().filter(|letter| matches!(letter, ' ' | '\u{a0}' | '\u{202f}'))?;
    let unit_on = after.strip_prefix(gap)?;
    let figures = number.bytes().filter(u8::is_ascii_digit).count()
        - number.bytes().take_while(|byte| matches!(byte, b'0' | b'.')).filter(u8::is_ascii_digit).count();
    if let Some(behind) = unit_on.strip_prefix("°C").filter(|behind| !goes_on(behind)) {
        let decimals = number.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        return Some((format!("{}{gap}°F", fixed(fahrenheit(value), decimals)), behind));
    }
    if let Some(behind) = unit_on.strip_prefix('K').filter(|behind| !goes_on(behind)) {
        let degrees = fahrenheit_degrees(value);
        return Some((format!("{}{gap}°F", fixed(degrees, decimals_for_figures(degrees, figures.max(2)))), behind));
    }
    let (unit, (_, shown, factor)) = REWRITTEN.iter().find_map(|entry| unit_on.strip_prefix(entry.0).map(|behind| (behind, *entry)))?;
    if goes_on(unit) {
        return None;
    }
    let converted = value / factor;
    Some((format!("{}{gap}{shown}", fixed(converted, decimals_for_figures(converted, figures.max(2)))), unit))
}
