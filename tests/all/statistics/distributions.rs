//! Tails and quantiles against 30-digit quadrature (`tests/reference/distributions.py`).

use super::fixture::text;
use super::tolerances::{QUANTILE, ROUND_TRIP, TAIL, TAIL_HUGE_DOF, Tolerance, assert_near, matching_digits};
use taperwright::statistics::distributions as d;

struct Row {
    name: String,
    dof1: f64,
    dof2: f64,
    x: f64,
    lower: f64,
    upper: f64,
}

fn rows() -> Vec<Row> {
    let rows: Vec<Row> = text("reference/distributions.csv")
        .lines()
        .skip(1)
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let number = |i: usize| cells[i].parse::<f64>().unwrap();
            Row { name: cells[0].to_owned(), dof1: number(1), dof2: number(2), x: number(3), lower: number(4), upper: number(5) }
        })
        .collect();
    assert!(rows.len() > 500);
    rows
}

fn huge(row: &Row) -> bool {
    row.dof1.max(row.dof2) >= 1e6
}

#[test]
fn both_tails_match_the_reference() {
    let mut worst = [17.0_f64; 2];
    for row in rows() {
        let Row { dof1, dof2, x, .. } = row;
        let (lower, upper) = match row.name.as_str() {
            "normal" => (d::normal_cdf(x), d::normal_sf(x)),
            "t" => (d::t_cdf(x, dof1), d::t_sf(x, dof1)),
            "chi-square" => (d::chi_square_cdf(x, dof1), d::chi_square_sf(x, dof1)),
            _ => (d::f_cdf(x, dof1, dof2), d::f_sf(x, dof1, dof2)),
        };
        let tolerance = if huge(&row) { TAIL_HUGE_DOF } else { TAIL };
        let what = format!("{} {dof1} {dof2} at {x}", row.name);
        assert_near(&format!("{what}, below"), lower.unwrap(), row.lower, tolerance);
        assert_near(&format!("{what}, above"), upper.unwrap(), row.upper, tolerance);
        let digits = matching_digits(lower.unwrap(), row.lower).min(matching_digits(upper.unwrap(), row.upper));
        let slot = &mut worst[usize::from(huge(&row))];
        *slot = slot.min(digits);
    }
    println!("fewest matching digits of a tail: {:.2}; with huge degrees of freedom {:.2}", worst[0], worst[1]);
}

#[test]
fn quantiles_match_the_reference_on_both_sides() {
    let mut worst = 17.0_f64;
    for row in rows() {
        let Row { dof1, dof2, x, lower, upper, .. } = row;
        let small_below = lower < upper;
        let found = match (row.name.as_str(), small_below) {
            ("normal", true) => d::normal_quantile(lower),
            ("normal", false) => d::normal_quantile(upper).map(|z| -z),
            ("t", _) => d::t_upper_quantile(upper, dof1),
            ("chi-square", true) => d::chi_square_quantile(lower, dof1),
            ("chi-square", false) => d::chi_square_upper_quantile(upper, dof1),
            (_, true) => d::f_quantile(lower, dof1, dof2),
            (_, false) => d::f_upper_quantile(upper, dof1, dof2),
        };
        // In the middle a quantile is only as sharp as its level, which the table rounds to 17 digits.
        let tolerance = if x.abs() < 1e-10 { Tolerance::Absolute(1e-15) } else { QUANTILE };
        assert_near(&format!("{} {dof1} {dof2} at level {lower}/{upper}", row.name), found.unwrap(), x, tolerance);
        if x != 0.0 {
            worst = worst.min(matching_digits(found.unwrap(), x));
        }
    }
    println!("fewest matching digits of a quantile: {worst:.2}");
}

#[test]
fn a_perturbed_reference_is_rejected() {
    for row in rows().iter().filter(|r| r.name == "t") {
        let found = d::t_sf(row.x, row.dof1).unwrap();
        assert!(!TAIL.accepts(found, row.upper * (1.0 + 3e-13)) || huge(row));
        assert!(!TAIL_HUGE_DOF.accepts(found, row.upper * (1.0 + 3e-12)));
        let quantile = d::t_upper_quantile(row.upper, row.dof1).unwrap();
        assert!(row.x.abs() < 1e-10 || !QUANTILE.accepts(quantile, row.x * (1.0 + 1e-13)));
    }
}

#[test]
fn printed_tables_agree() {
    // Abramowitz & Stegun (1964) tables 26.8, 26.9 and 26.10, with their printed digits.
    assert_near("chi-square 0.95, 10", d::chi_square_quantile(0.95, 10.0).unwrap(), 18.3070, Tolerance::Absolute(5e-5));
    assert_near("F 0.95, 5, 10", d::f_quantile(0.95, 5.0, 10.0).unwrap(), 3.33, Tolerance::Absolute(5e-3));
    // JCGM 100:2008 table G.2: t95(9) = 2.26, t99(16) = 2.92.
    assert_near("t95(9)", d::t_quantile(0.975, 9.0).unwrap(), 2.26, Tolerance::Absolute(5e-3));
    assert_near("t99(16)", d::t_quantile(0.995, 16.0).unwrap(), 2.92, Tolerance::Absolute(5e-3));
}

#[test]
fn infinite_degrees_of_freedom_are_the_limit() {
    let z = d::normal_quantile(0.975).unwrap();
    assert_eq!(d::t_quantile(0.975, f64::INFINITY), Some(z));
    assert_near("t at infinite dof", d::t_sf(z, f64::INFINITY).unwrap(), 0.025, TAIL);
    assert_near("F(3, inf)", d::f_sf(2.5, 3.0, f64::INFINITY).unwrap(), d::chi_square_sf(7.5, 3.0).unwrap(), TAIL);
    assert_near(
        "F quantile (3, inf)",
        d::f_quantile(0.95, 3.0, f64::INFINITY).unwrap() * 3.0,
        d::chi_square_quantile(0.95, 3.0).unwrap(),
        TAIL,
    );
    assert_near("F(inf, 3)", d::f_sf(2.5, f64::INFINITY, 3.0).unwrap(), d::chi_square_cdf(1.2, 3.0).unwrap(), TAIL);
}

#[test]
fn nothing_hangs_or_makes_up_a_number() {
    let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, -1.0, 1.0, 1e-320, 5e-324, 1e-300, 1e300, 0.5, 0.3, 1e13, 1e16, 4.0];
    for a in odd {
        for b in odd {
            for c in odd {
                let results = [
                    d::t_sf(a, b),
                    d::t_cdf(a, b),
                    d::t_two_sided_p(a, b),
                    d::t_quantile(a, b),
                    d::t_upper_quantile(a, b),
                    d::chi_square_sf(a, b),
                    d::chi_square_quantile(a, b),
                    d::chi_square_upper_quantile(a, b),
                    d::f_sf(a, b, c),
                    d::f_cdf(a, b, c),
                    d::f_quantile(a, b, c),
                    d::f_upper_quantile(a, b, c),
                    d::normal_quantile(a),
                    d::normal_sf(a),
                    d::normal_two_sided_p(a),
                ];
                assert!(results.iter().flatten().all(|v| v.is_finite()), "{a} {b} {c}: {results:?}");
            }
        }
    }
    assert_eq!((d::t_quantile(0.0, 3.0), d::t_quantile(1.0, 3.0), d::t_quantile(0.5, 0.0)), (None, None, None));
    assert_eq!((d::t_quantile(0.5, 3.0), d::normal_sf(f64::INFINITY), d::f_sf(-1.0, 2.0, 3.0)), (Some(0.0), Some(0.0), Some(1.0)));
    assert!(d::t_upper_quantile(1e-100, 1000.0).is_some_and(|t| t.is_finite()));
}

#[test]
fn quantile_and_tail_undo_each_other_between_the_levels_of_the_table() {
    for dof in [0.7, 1.3, 4.4, 17.3, 250.5, 88_888.8, 123_456.7] {
        for p in [1e-11, 2e-5, 0.013, 0.24, 0.26, 0.49, 0.75, 0.999] {
            assert_near("t", d::t_cdf(d::t_quantile(p, dof).unwrap(), dof).unwrap(), p, ROUND_TRIP);
            assert_near("chi-square", d::chi_square_cdf(d::chi_square_quantile(p, dof).unwrap(), dof).unwrap(), p, ROUND_TRIP);
            assert_near("F", d::f_cdf(d::f_quantile(p, dof, 7.7).unwrap(), dof, 7.7).unwrap(), p, ROUND_TRIP);
        }
    }
}
