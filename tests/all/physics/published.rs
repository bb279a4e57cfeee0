//! Comparing a computed number with a printed one.

/// Whether `value` rounds to `printed`: it is at most half a unit of the last printed digit away (with a grain for binary fractions).
pub fn rounds_to(value: f64, printed: &str) -> bool {
    let decimals = printed.split_once('.').map_or(0, |(_, fraction)| fraction.len());
    let half_unit = 0.5 * 10f64.powi(-(decimals as i32));
    let expected: f64 = printed.parse().expect("a printed number");
    (value - expected).abs() <= half_unit * (1.0 + 1e-9)
}

/// Whether two numbers agree to a relative tolerance (absolute below 1e-12).
pub fn close(value: f64, expected: f64, relative: f64) -> bool {
    (value - expected).abs() <= relative * expected.abs().max(1e-12)
}

#[test]
fn the_comparators_reject_what_is_off_by_a_digit() {
    assert!(rounds_to(65.8357, "65.84"));
    assert!(!rounds_to(65.8464, "65.84"));
    assert!(!rounds_to(65.8346, "65.84"));
    assert!(!rounds_to(-65.84, "65.84"));
    assert!(!rounds_to(f64::NAN, "65.84"));
    assert!(close(1.0 + 1e-9, 1.0, 1e-8));
    assert!(!close(1.0 + 1e-7, 1.0, 1e-8));
    assert!(!close(f64::NAN, 1.0, 1e-8));
}
