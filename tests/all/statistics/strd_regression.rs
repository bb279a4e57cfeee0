//! Linear regression sets of the NIST Statistical Reference Datasets (public domain), `tests/published/nist-strd-1998`.
//!
//! The measure is StRD's: matching digits of the worst coefficient, standard error and residual standard deviation.

use super::fixture::{Table, json, number, text};
use super::tolerances::{ALL_DIGITS, Tolerance, assert_near, matching_digits};
use nalgebra::DMatrix;
use taperwright::statistics::{Doubled, Fit, LegendreRange, least_squares, least_squares_doubled};

struct Set {
    name: &'static str,
    /// What R 4.2's `lm` reaches in the worst coefficient (measured); to be reached but for Wampler2, where both have all that its rounded data can give (asserted below).
    r_digits: f64,
    /// What ours must reach; higher than R where refinement gives it.
    digits: f64,
    standard_error_digits: f64,
}

const SETS: [Set; 9] = [
    Set { name: "Norris", r_digits: 12.5, digits: 14.0, standard_error_digits: 13.5 },
    Set { name: "NoInt1", r_digits: 14.7, digits: 14.7, standard_error_digits: 14.5 },
    Set { name: "NoInt2", r_digits: 14.7, digits: 15.0, standard_error_digits: 14.5 },
    Set { name: "Longley", r_digits: 13.0, digits: 14.5, standard_error_digits: 12.0 },
    Set { name: "Filip", r_digits: 7.2, digits: 7.2, standard_error_digits: 7.0 },
    Set { name: "Wampler1", r_digits: 9.8, digits: 15.0, standard_error_digits: 9.0 },
    Set { name: "Wampler2", r_digits: 13.5, digits: 13.2, standard_error_digits: 13.0 },
    Set { name: "Wampler3", r_digits: 9.3, digits: 15.0, standard_error_digits: 10.0 },
    Set { name: "Wampler5", r_digits: 5.5, digits: 15.0, standard_error_digits: 10.0 },
];

fn design_of(table: &Table, certified: &serde_json::Value) -> DMatrix<f64> {
    let n = table.column("y").len();
    let intercept = certified["intercept"].as_bool().unwrap();
    let mut columns: Vec<Vec<f64>> = Vec::new();
    if intercept {
        columns.push(vec![1.0; n]);
    }
    match certified["degree"].as_i64() {
        Some(degree) => (1..=degree).for_each(|k| columns.push(table.column("x").iter().map(|x| x.powi(k as i32)).collect())),
        None => table.names().iter().filter(|name| *name != "y").for_each(|name| columns.push(table.column(name).to_vec())),
    }
    DMatrix::from_iterator(n, columns.len(), columns.concat())
}

fn certified_terms(certified: &serde_json::Value) -> Vec<(f64, f64)> {
    let terms = certified["certified"]["params"].as_object().unwrap();
    let first = usize::from(!terms.contains_key("B0"));
    (first..first + terms.len())
        .map(|k| {
            (
                number(certified, &format!("/certified/params/B{k}/estimate")),
                number(certified, &format!("/certified/params/B{k}/std_error")),
            )
        })
        .collect()
}

fn fit_of(name: &str) -> (Fit, serde_json::Value, Table) {
    let certified = json(&format!("published/nist-strd-1998/{name}.json"));
    let table = Table::read(&format!("published/nist-strd-1998/{name}.csv"));
    let fit = least_squares(&design_of(&table, &certified), table.column("y")).unwrap();
    (fit, certified, table)
}

#[test]
fn coefficients_standard_errors_and_residual_sd_match_the_certified_values() {
    let mut faults = Vec::new();
    for set in &SETS {
        let (fit, certified, table) = fit_of(set.name);
        let terms = certified_terms(&certified);
        assert_eq!(fit.rank(), terms.len(), "{}: no rank may be lost", set.name);
        assert_eq!(fit.missing(), Vec::<usize>::new());
        assert_eq!(fit.dof(), table.column("y").len() - terms.len());
        let worst = terms.iter().enumerate().map(|(k, t)| matching_digits(fit.coefficient(k).unwrap(), t.0)).fold(17.0, f64::min);
        let worst_error = terms.iter().enumerate().map(|(k, t)| matching_digits(fit.standard_error(k).unwrap(), t.1)).fold(17.0, f64::min);
        let sd_digits = matching_digits(fit.residual_sd().unwrap(), number(&certified, "/certified/residual_sd"));
        println!("{:<9} coefficients {worst:5.2}  standard errors {worst_error:5.2}  residual sd {sd_digits:5.2}", set.name);
        // Wampler2's decimals, rounded to doubles, have 13.2 digits in them; R's 13.5 are luck, and the doubled fit below reaches them all.
        assert!(set.digits >= set.r_digits || set.name == "Wampler2");
        if worst < set.digits || worst_error < set.standard_error_digits || sd_digits < set.standard_error_digits {
            faults.push(format!("{}: {worst:.2} {worst_error:.2} {sd_digits:.2}", set.name));
        }
    }
    assert!(faults.is_empty(), "too few digits: {faults:?}");
}

#[test]
fn filip_by_legendre_polynomials_beats_the_raw_powers() {
    let certified = json("published/nist-strd-1998/Filip.json");
    let table = Table::read("published/nist-strd-1998/Filip.csv");
    let range = LegendreRange::spanning(table.column("x")).unwrap();
    let fit = least_squares(&range.design(table.column("x"), 10), table.column("y")).unwrap();
    let legendre: Vec<f64> = fit.coefficients().iter().map(|c| c.unwrap()).collect();
    let raw = range.monomial_coefficients(&legendre);
    let worst = certified_terms(&certified).iter().zip(&raw).map(|(t, c)| matching_digits(*c, t.0)).fold(17.0, f64::min);
    println!(
        "Filip by Legendre polynomials: coefficients {worst:.2}, residual sd {:.2}",
        matching_digits(fit.residual_sd().unwrap(), number(&certified, "/certified/residual_sd"))
    );
    assert!(worst >= 13.0, "only {worst:.2} digits");
    assert_near("Filip residual sd", fit.residual_sd().unwrap(), number(&certified, "/certified/residual_sd"), Tolerance::Digits(12.0));
}

#[test]
fn the_comparison_with_certified_values_can_fail() {
    let (fit, certified, _) = fit_of("Norris");
    let certified_slope = certified_terms(&certified)[1].0;
    assert!(ALL_DIGITS.accepts(fit.coefficient(1).unwrap(), certified_slope));
    assert!(!ALL_DIGITS.accepts(fit.coefficient(1).unwrap() * (1.0 + 3e-14), certified_slope));
}

/// A printed decimal in doubled precision.
fn decimal(printed: &str) -> Doubled {
    let digits: f64 = printed.trim().replace('.', "").parse().unwrap();
    let places = printed.trim().split_once('.').map_or(0, |(_, after)| after.len());
    assert!(digits.abs() < 9e15 && places <= 22, "{printed}");
    Doubled::new(digits).over(10_f64.powi(places as i32))
}

#[test]
fn decimals_and_powers_kept_in_doubled_precision_reach_all_certified_digits() {
    // R 4.2's lm reaches 7.2 digits on Filip and 13.5 on Wampler2; the rounding of the data to doubles alone allows 7.6 and 13.2.
    for (name, powers, digits) in [("Filip", 10, 13.5), ("Wampler2", 5, 14.5), ("Wampler5", 5, 14.5), ("Norris", 1, 14.0)] {
        let certified = json(&format!("published/nist-strd-1998/{name}.json"));
        let table = text(&format!("published/nist-strd-1998/{name}.csv"));
        let rows: Vec<(Doubled, Doubled)> =
            table.lines().skip(1).filter_map(|line| line.split_once(',')).map(|(y, x)| (decimal(y), decimal(x))).collect();
        let entry = |i: usize, j: usize| (0..j).fold(Doubled::new(1.0), |power, _| power.times_doubled(rows[i].1)).parts();
        let design = DMatrix::from_fn(rows.len(), powers + 1, |i, j| entry(i, j).0);
        let rest = DMatrix::from_fn(rows.len(), powers + 1, |i, j| entry(i, j).1);
        let (y, y_rest): (Vec<f64>, Vec<f64>) = rows.iter().map(|row| row.0.parts()).unzip();
        let fit = least_squares_doubled(&design, &rest, &y, &y_rest).unwrap();
        let worst = certified_terms(&certified)
            .iter()
            .enumerate()
            .map(|(k, t)| matching_digits(fit.coefficient(k).unwrap(), t.0))
            .fold(17.0, f64::min);
        println!("{name:<9} doubled: coefficients {worst:.2}");
        assert!(worst >= digits, "{name}: {worst:.2} digits");
        let near = fit.coefficient(0).unwrap() * (1.0 + 3.0 * 10_f64.powf(-digits));
        assert!(matching_digits(near, certified_terms(&certified)[0].0) < digits, "the check can fail");
    }
}
