//! The comparators of the statistics tests, and the one table of tolerances by name. Each comparator is itself shown a perturbed value.

/// How near a computed number must come to its reference.
#[derive(Debug, Clone, Copy)]
pub enum Tolerance {
    /// Number of matching digits, `−log₁₀` of the relative error (NIST StRD's measure); of the absolute error where the reference is 0.
    Digits(f64),
    /// Relative error.
    Relative(f64),
    /// Absolute error, in the unit of the number.
    Absolute(f64),
}

use Tolerance::{Absolute, Digits, Relative};

/// Tails of normal, t, chi-square and F against 30-digit quadrature, on the smaller tail.
pub const TAIL: Tolerance = Relative(1e-13);
/// Tails with a million degrees of freedom or more.
pub const TAIL_HUGE_DOF: Tolerance = Relative(1e-12);
/// Quantiles, levels 1e-12 to 1 − 1e-12.
pub const QUANTILE: Tolerance = Relative(2e-14);
/// Quantile and tail must undo each other.
pub const ROUND_TRIP: Tolerance = Relative(1e-12);
/// Algebraic identities of fits on harmless data.
pub const IDENTITY: Tolerance = Relative(1e-12);
/// Values printed with 15 digits that the arithmetic should reach wholly.
pub const ALL_DIGITS: Tolerance = Digits(14.0);
/// Linear algebra against R 4.2.2, whose own rounding is about 1e-10 on the harder data.
pub const R_LINEAR: Tolerance = Relative(1e-9);
/// Iterated robust fits, stopped by R at 1e-13.
pub const R_ITERATED: Tolerance = Relative(1e-9);
/// Durbin–Watson tails against Pan's procedure as R's lmtest has it.
pub const R_PAN: Tolerance = Absolute(1e-7);
/// Shapiro–Wilk's W; R works with rounded constants.
pub const R_SHAPIRO_W: Tolerance = Relative(1e-6);
/// Its tail probability.
pub const R_SHAPIRO_P: Tolerance = Relative(1e-4);
/// Values printed with five significant digits.
pub const PRINTED_5: Tolerance = Relative(1e-5);

/// Matching digits of `found` and `expected`: 17 when they are equal.
pub fn matching_digits(found: f64, expected: f64) -> f64 {
    if found == expected {
        return 17.0;
    }
    let error = (found - expected).abs() / if expected == 0.0 { 1.0 } else { expected.abs() };
    if error.is_finite() { -error.log10() } else { f64::NEG_INFINITY }
}

impl Tolerance {
    /// Whether `found` is near enough to `expected`. What is not finite never is.
    pub fn accepts(self, found: f64, expected: f64) -> bool {
        if !found.is_finite() || !expected.is_finite() {
            return false;
        }
        match self {
            Digits(digits) => matching_digits(found, expected) >= digits,
            Relative(part) => (found - expected).abs() <= part * expected.abs(),
            Absolute(size) => (found - expected).abs() <= size,
        }
    }
}

/// Fails with both numbers unless `found` is within `tolerance` of `expected`.
#[track_caller]
pub fn assert_near(what: &str, found: f64, expected: f64, tolerance: Tolerance) {
    assert!(
        tolerance.accepts(found, expected),
        "{what}: found {found:e}, expected {expected:e}, {:.2} digits agree, asked {tolerance:?}",
        matching_digits(found, expected)
    );
}

#[test]
fn each_comparator_rejects_a_perturbed_value() {
    let expected = 1_234.567_890_123;
    for (tolerance, allowed) in [(Digits(9.0), 1e-9), (Relative(1e-9), 1e-9), (Absolute(1e-6), 1e-6 / expected)] {
        for sign in [-1.0, 1.0] {
            assert!(tolerance.accepts(expected * (1.0 + sign * 0.9 * allowed), expected), "{tolerance:?} is too strict");
            assert!(!tolerance.accepts(expected * (1.0 + sign * 1.2 * allowed), expected), "{tolerance:?} is too lax");
        }
        assert!(tolerance.accepts(expected, expected));
        assert!(!tolerance.accepts(-expected, expected));
        assert!(!tolerance.accepts(f64::NAN, expected) && !tolerance.accepts(f64::INFINITY, f64::INFINITY));
    }
    assert!(Digits(9.0).accepts(0.9e-9, 0.0) && !Digits(9.0).accepts(1.2e-9, 0.0));
    assert!(!Relative(0.1).accepts(1e-300, 0.0), "a relative tolerance around nothing allows nothing");
}

#[test]
fn a_failing_comparison_fails() {
    let caught = std::panic::catch_unwind(|| assert_near("deliberately wrong", 1.0 + 1e-6, 1.0, Relative(1e-9)));
    assert!(caught.is_err());
}
