//! The one place where numbers become text.
//!
//! Rule: a value is rounded to the last figure of its uncertainty, which keeps two significant figures when its first is
//! 1 or 2 and otherwise one (JCGM 100:2008, 7.2.6 allows at most two). Minus is U+2212; from ten thousand on, digits
//! before the point are grouped by a narrow no-break space (ISO 80000-1:2022, 7.3.2).

pub use crate::quantities::decimals_as_written;

/// The rule above, as the page states it.
pub const RULE: &str = "A value is rounded to the last figure of its uncertainty; an uncertainty keeps two figures when its first is 1 or 2, otherwise one. \
     Tables of parts keep one figure more; so do the ends of an interval that does not reach 0 where one would else read 0.";

const NARROW_SPACE: char = '\u{202f}';
const MINUS: char = '\u{2212}';
const MOST_DECIMALS: i32 = 9;

/// Decimals to which a value with uncertainty `u` is rounded, in the unit of `u`; 3 when `u` is zero or not finite.
///
/// ```
/// # use taperwright::report::decimals_for_uncertainty;
/// assert_eq!(decimals_for_uncertainty(0.0041), 3); // ± 0.004
/// assert_eq!(decimals_for_uncertainty(0.0184), 3); // ± 0.018
/// assert_eq!(decimals_for_uncertainty(0.0299), 2); // ± 0.03: it rounds up out of the twenties
/// assert_eq!(decimals_for_uncertainty(12.0), 0);
/// ```
#[must_use]
pub fn decimals_for_uncertainty(u: f64) -> usize {
    if !u.is_finite() || u <= 0.0 {
        return 3;
    }
    let exponent = u.log10().floor();
    let two_figures = (u / 10f64.powf(exponent - 1.0)).round();
    let figures = if two_figures < 29.5 { 2.0 } else { 1.0 };
    to_decimals(figures - 1.0 - exponent)
}

/// Decimals that show `figures` significant figures of `value`.
#[must_use]
pub fn decimals_for_figures(value: f64, figures: usize) -> usize {
    if !value.is_finite() || value == 0.0 {
        return figures.saturating_sub(1);
    }
    to_decimals(figures as f64 - 1.0 - value.abs().log10().floor())
}

fn to_decimals(wanted: f64) -> usize {
    wanted.clamp(0.0, f64::from(MOST_DECIMALS)) as usize
}

/// `value` with `decimals` decimals, proper minus sign and grouped digits; a zero has no sign; `–` when not finite.
///
/// ```
/// # use taperwright::report::fixed;
/// assert_eq!(fixed(-0.0212, 3), "\u{2212}0.021");
/// assert_eq!(fixed(-0.0001, 3), "0.000");
/// assert_eq!(fixed(100_000.0, 0), "100\u{202f}000");
/// ```
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".into();
    }
    let digits = format!("{:.*}", decimals, value.abs());
    let (whole, fraction) = digits.split_once('.').unwrap_or((&digits, ""));
    let mut text = String::with_capacity(digits.len() + 8);
    if value < 0.0 && digits.bytes().any(|byte| (b'1'..=b'9').contains(&byte)) {
        text.push(MINUS);
    }
    let grouped = whole.len() >= 5;
    for (place, digit) in whole.chars().enumerate() {
        if grouped && place > 0 && (whole.len() - place).is_multiple_of(3) {
            text.push(NARROW_SPACE);
        }
        text.push(digit);
    }
    if !fraction.is_empty() {
        text.push('.');
        text.push_str(fraction);
    }
    text
}

/// A tail probability: two significant figures, `< 0.001` below a thousandth.
#[must_use]
pub fn probability(p: f64) -> String {
    if p < 0.001 {
        "<\u{202f}0.001".into()
    } else if p > 0.0999 {
        fixed(p, 2)
    } else {
        fixed(p, 3)
    }
}
