//! The noise integrated out without a data sheet leaves Student's t, whose quantiles are in every table.

use super::*;
use crate::statistics::mixed::Terms;

/// Two-sided 95 % points of Student's t, from printed tables.
const TABLE: [(u32, f64); 9] =
    [(1, 12.7062), (2, 4.30265), (3, 3.18245), (4, 2.77645), (6, 2.44691), (10, 2.22814), (20, 2.08596), (60, 2.00030), (200, 1.97190)];

/// Half-width of a slope through the origin of `dof + 1` readings without a spread to speak of, in its standard errors from their scatter.
fn in_standard_errors(dof: u32) -> f64 {
    let x = |i: u32| 1.0 + f64::from(i % 3);
    let y = |i: u32| 0.3 * x(i) + 0.01 * f64::from((7 * i) % 11) - 0.04;
    let rows: Vec<_> = (0..=dof).map(|i| ([x(i), 0.0], y(i), 1.0)).collect();
    let mut terms = Terms::zeros();
    terms[(0, 0)] = 1.0;
    let prior = SpreadPrior { dof: 40.0, multiple: 1e-7 };
    let posterior = integrate_spread(&[Group::new(&rows, terms)], 1, 1, [1.0, 0.0], prior, None).unwrap();
    let (sxx, sxy) = (0..=dof).fold((0.0, 0.0), |(a, b), i| (a + x(i) * x(i), b + x(i) * y(i)));
    let square: f64 = (0..=dof).map(|i| (y(i) - sxy / sxx * x(i)).powi(2)).sum();
    let found = posterior.interval(&Coefficients::new(1.0, 0.0, 0.0, 0.0));
    found.half_width95 / (square / f64::from(dof) / sxx).sqrt()
}

/// The same with nodes at −4 to 4 standard deviations of `ln σ`.
fn of_nine_nodes(dof: u32) -> f64 {
    let n = f64::from(dof);
    let node = |k: i32| {
        let l = f64::from(k) / (2.0 * n).sqrt();
        ((-n * l - 0.5 * n * (-2.0 * l).exp()).exp(), 0.0, l.exp())
    };
    half_width(&(-4..=4).map(node).collect::<Vec<_>>(), 0.95)
}

#[test]
fn half_widths_without_a_data_sheet_are_those_of_students_t() {
    for (dof, table) in TABLE {
        let close = |found: f64| (found / table - 1.0).abs() < 4e-4;
        let found = in_standard_errors(dof);
        assert!(close(found) && !close(found * 1.001), "{dof}: {found}");
        assert_eq!(close(of_nine_nodes(dof)), dof > 10, "{dof}: {}", of_nine_nodes(dof));
    }
}
