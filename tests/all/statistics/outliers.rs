//! Generalised ESD and Grubbs' test against print.

use super::fixture::Table;
use super::tolerances::{R_LINEAR, Tolerance, assert_near};
use nalgebra::DMatrix;
use taperwright::statistics::{Atoms, Dense, Esd, RunFit, RunSums, generalised_esd, grubbs, rosner_from_studentised};

/// The procedure on dense rows, one reading each.
fn esd_of(design: &DMatrix<f64>, y: &[f64], most: usize) -> Esd {
    let rows = Dense::new(design, &[]);
    generalised_esd(&rows, y, &Atoms::of(&rows, y), &RunFit::of(&rows, &RunSums::of_rows(&rows, y)), most, 0.05)
}

fn sample(n: usize) -> DMatrix<f64> {
    DMatrix::from_element(n, 1, 1.0)
}

/// Rosner (1983) table 1 as the e-Handbook 1.3.5.17.3 reprints it: R and λ of steps 1 to 10, truncated to three decimals (from memory).
const ROSNER: [(f64, f64); 10] = [
    (3.118, 3.158),
    (2.942, 3.151),
    (3.179, 3.143),
    (2.810, 3.136),
    (2.815, 3.128),
    (2.848, 3.120),
    (2.279, 3.111),
    (2.310, 3.103),
    (2.101, 3.094),
    (2.067, 3.085),
];

#[test]
fn rosners_example_has_three_outliers_though_the_first_two_steps_alone_say_none() {
    let y = Table::read("published/rosner-1983/values.csv").column("y").to_vec();
    let esd = esd_of(&sample(y.len()), &y, 10);
    assert_eq!(esd.steps.len(), 10);
    for (i, (step, (r, lambda))) in esd.steps.iter().zip(ROSNER).enumerate() {
        let left = y.len() - i;
        assert_near("R", rosner_from_studentised(step.studentised, left), r + 0.0005, Tolerance::Absolute(0.00055));
        assert_near("λ", rosner_from_studentised(step.critical, left), lambda + 0.0005, Tolerance::Absolute(0.00055));
    }
    let removed: Vec<f64> = esd.flagged().iter().map(|s| y[s.index]).collect();
    assert_eq!((esd.outliers, removed), (3, vec![6.01, 5.42, 5.34]));
    assert!(esd.steps[0].studentised.abs() < esd.steps[0].critical && esd.steps[1].studentised.abs() < esd.steps[1].critical);
    // The recomputed first and third statistic, all digits.
    assert_near("R1", rosner_from_studentised(esd.steps[0].studentised, 54), 3.118_906_048_982_441_6, R_LINEAR);
    assert_near("λ3", rosner_from_studentised(esd.steps[2].critical, 52), 3.143_889_685_031_995, R_LINEAR);
    assert!(esd.steps.iter().all(|s| (s.p < 0.05) == (s.studentised.abs() > s.critical)));
}

#[test]
fn grubbs_of_the_uranium_readings() {
    // Tietjen & Moore (1972) by way of the e-Handbook 1.3.5.17.1: G = 2.4687, one-sided critical value 2.032 (both from memory).
    let y = Table::read("published/tietjen-moore-1972/uranium.csv").column("y").to_vec();
    let found = grubbs(&y, 0.05).unwrap();
    assert_near("G", found.statistic, 2.468_764_611_212_45, R_LINEAR);
    assert_near("G, printed", found.statistic, 2.4687, Tolerance::Absolute(1e-4));
    assert_near("one-sided", found.critical_one_sided, 2.032, Tolerance::Absolute(5e-4));
    assert_near("two-sided", found.critical_two_sided, 2.126_645_087_195_466_7, R_LINEAR);
    assert_eq!(y[found.index], 245.57);
    assert!(grubbs(&[1.0, 1.0, 1.0], 0.05).is_none() && grubbs(&[1.0, 2.0], 0.05).is_none());
}

#[test]
fn on_a_line_the_spoilt_reading_is_found_and_the_end_is_not() {
    let x: Vec<f64> = (0..12).map(f64::from).collect();
    let design = DMatrix::from_fn(12, 2, |i, j| if j == 0 { 1.0 } else { x[i] });
    let mut y: Vec<f64> = x.iter().map(|x| 2.0 + 0.1 * x + 0.01 * (x * 7.0).sin()).collect();
    assert_eq!(esd_of(&design, &y, 3).outliers, 0);
    y[11] += 0.3;
    let esd = esd_of(&design, &y, 3);
    assert_eq!(esd.flagged().iter().map(|s| s.index).collect::<Vec<_>>(), vec![11]);
    // Exact line and equal readings: nothing to judge.
    let exact: Vec<f64> = x.iter().map(|x| 1.0 + x).collect();
    assert_eq!(esd_of(&design, &exact, 3).outliers, 0);
    assert_eq!(esd_of(&sample(5), &[30.0; 5], 3).steps.len(), 0);
    let rounded: Vec<f64> = x.iter().map(|x| 1.0 / 3.0 + 0.1 * x).collect();
    assert_eq!(esd_of(&design, &rounded, 3).steps.len(), 0, "residuals are rounding alone");
    assert_eq!(esd_of(&sample(7), &[30.0, 30.0, 30.0_f64.next_up(), 30.0, 30.0, 30.0, 30.0], 3).steps.len(), 0, "one last digit");
    assert!(esd_of(&sample(7), &[30.0, 30.0, 30.0 + 1e-9, 30.0, 30.0, 30.0, 30.0], 3).outliers > 0, "and one that is more");
    // One slip of the pen among readings that agree exactly is an outlier beyond doubt, and nothing else is.
    let mut slip = exact;
    slip[4] += 0.02;
    let esd = esd_of(&design, &slip, 3);
    assert_eq!(esd.flagged().iter().map(|s| (s.index, s.p)).collect::<Vec<_>>(), vec![(4, 0.0)]);
    let esd = esd_of(&sample(5), &[30.0, 30.0, 30.02, 30.0, 30.0], 2);
    assert_eq!(esd.flagged().iter().map(|s| s.index).collect::<Vec<_>>(), vec![2]);
}
