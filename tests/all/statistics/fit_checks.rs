//! Influence, outliers, Durbin–Watson, normality, equal spread, lack of fit, robust fits: against R (`tests/reference/statistics.R`) and print.

use super::fixture::{Reference, Table};
use super::tolerances::{PRINTED_5, R_ITERATED, R_LINEAR, R_PAN, R_SHAPIRO_P, R_SHAPIRO_W, Tolerance, assert_near};
use nalgebra::DMatrix;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use taperwright::statistics::distributions::{normal_quantile, normal_two_sided_p};
use taperwright::statistics::{
    Atoms, Dense, DurbinWatson, Fit, LegendreRange, PureError, RobustFit, RobustMethod, RunBasis, aicc, anderson_darling, brown_forsythe,
    durbin_watson, influence, lack_of_fit, least_squares, nested_f_test, robust_regression, runs_test, shapiro_wilk,
    weighted_least_squares,
};

fn line(x: &[f64]) -> DMatrix<f64> {
    DMatrix::from_fn(x.len(), 2, |i, j| if j == 0 { 1.0 } else { x[i] })
}

/// The regressions of the reference script.
fn problems() -> Vec<(&'static str, DMatrix<f64>, Vec<f64>)> {
    let read = |file: &str, x: &str, y: &str| {
        let table = Table::read(file);
        (line(table.column(x)), table.column(y).to_vec())
    };
    let young = read("published/natrella-1963/youngs_modulus.csv", "x", "y");
    let norris = read("published/nist-strd-1998/Norris.csv", "x", "y");
    let pressure = read("published/e-handbook/pressure_temperature.csv", "temperature", "pressure");
    let linewidth = read("published/e-handbook/linewidth_calibration.csv", "x", "y");
    let table = Table::read("published/nist-strd-1998/Longley.csv");
    let longley = DMatrix::from_fn(16, 7, |i, j| if j == 0 { 1.0 } else { table.column(&format!("x{j}"))[i] });
    let x = Table::read("published/nist-strd-1998/Norris.csv").column("x").to_vec();
    let cubic = LegendreRange::spanning(&x).unwrap().design(&x, 3);
    vec![
        ("natrella", young.0, young.1),
        ("norris-cubic", cubic, norris.1.clone()),
        ("norris", norris.0, norris.1),
        ("pressure", pressure.0, pressure.1),
        ("linewidth", linewidth.0, linewidth.1),
        ("longley", longley, table.column("y").to_vec()),
    ]
}

fn reference() -> Reference {
    Reference::read("reference/statistics.csv")
}

fn fit_of(design: &DMatrix<f64>, y: &[f64]) -> Fit {
    least_squares(design, y).unwrap()
}

#[test]
fn influence_matches_r() {
    let reference = reference();
    for (name, design, y) in problems() {
        let fit = fit_of(&design, &y);
        let found = influence(&fit);
        for i in 0..y.len() {
            let key = (i + 1).to_string();
            let what = format!("{name} row {key}");
            assert_near(&what, found.externally_studentised[i].unwrap(), reference.value(&format!("student-{name}"), &key), R_LINEAR);
            assert_near(&what, found.cook[i].unwrap(), reference.value(&format!("cook-{name}"), &key), R_LINEAR);
            assert_near(&what, fit.leverage()[i], reference.value(&format!("hat-{name}"), &key), R_LINEAR);
            let (outer, inner, dof) =
                (found.externally_studentised[i].unwrap(), found.internally_studentised[i].unwrap(), fit.dof() as f64);
            assert_near("inner from outer", outer * (dof / (dof - 1.0 + outer * outer)).sqrt(), inner, R_LINEAR);
        }
    }
}

#[test]
fn a_reading_that_fits_itself_has_no_studentised_residual() {
    let design = DMatrix::from_row_slice(4, 2, &[1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0]);
    let found = influence(&fit_of(&design, &[1.0, 2.0, 3.5, 9.0]));
    assert_eq!((found.externally_studentised[3], found.cook[3], found.internally_studentised[3]), (None, None, None));
    assert!(found.externally_studentised[0].is_some());
    let exact = influence(&fit_of(&line(&[0.0, 1.0, 2.0]), &[1.0, 2.0, 3.0]));
    assert_eq!(exact.externally_studentised, vec![None; 3], "an exact fit has no scatter to compare with");
}

#[test]
fn weighted_fits_and_their_influence_match_r() {
    let reference = reference();
    let table = Table::read("published/nist-strd-1998/Norris.csv");
    let x = table.column("x");
    let weights: Vec<f64> = x.iter().map(|x| 1.0 / (1.0 + x)).collect();
    let fit = weighted_least_squares(&line(x), table.column("y"), &weights).unwrap();
    for k in 0..2 {
        assert_near("coefficient", fit.coefficient(k).unwrap(), reference.value("weighted-norris", &format!("b{k}")), R_LINEAR);
        assert_near("standard error", fit.standard_error(k).unwrap(), reference.value("weighted-norris", &format!("se{k}")), R_LINEAR);
    }
    assert_near("sigma", fit.residual_sd().unwrap(), reference.value("weighted-norris", "sigma"), R_LINEAR);
    let found = influence(&fit);
    for i in 0..x.len() {
        let key = (i + 1).to_string();
        assert_near("student", found.externally_studentised[i].unwrap(), reference.value("weighted-student", &key), R_LINEAR);
        assert_near("cook", found.cook[i].unwrap(), reference.value("weighted-cook", &key), R_LINEAR);
    }
}

/// The test of dense rows, one reading each.
fn serial(design: &DMatrix<f64>, residuals: &[f64], breaks: &[usize]) -> Option<DurbinWatson> {
    let rows = Dense::new(design, breaks);
    durbin_watson(&rows, &RunBasis::of(&rows, |_| 1.0), residuals.iter().copied())
}

/// The robust fit of dense rows.
fn robust(design: &DMatrix<f64>, y: &[f64], method: RobustMethod) -> RobustFit {
    let rows = Dense::new(design, &[]);
    robust_regression(&rows, y, &Atoms::of(&rows, y), method)
}

#[test]
fn durbin_watson_matches_r_and_print() {
    let reference = reference();
    for (name, design, y) in problems() {
        let found = serial(&design, fit_of(&design, &y).residuals(), &[]).unwrap();
        let test = format!("dw-{name}");
        assert!(found.exact);
        assert_near(&test, found.statistic, reference.value(&test, "statistic"), R_LINEAR);
        assert_near(&test, found.p_alike, reference.value(&test, "greater"), R_PAN);
        assert_near(&test, found.p_alternating, reference.value(&test, "less"), R_PAN);
    }
    // Recomputed from NBS Handbook 91 (Natrella 1963) worksheet 5-4.1 and e-Handbook 4.4.4, run order.
    let value = |name: &str| reference.value(name, "statistic");
    assert_near("Natrella", value("dw-natrella"), 1.019659, Tolerance::Absolute(5e-7));
    assert_near("pressure", value("dw-pressure"), 1.663562, Tolerance::Absolute(5e-7));
}

#[test]
fn durbin_watson_above_the_exact_limit_joins_the_exact_law() {
    // The same design once below and once above the limit: a sine among noise, tails near 5 %.
    let make = |n: usize| {
        let x: Vec<f64> = (0..n).map(|i| i as f64).collect();
        let y: Vec<f64> =
            x.iter().map(|x| (x * 12.9898).sin() * 43.0 - ((x * 12.9898).sin() * 43.0).floor() + 0.19 * (x * 0.4).sin()).collect();
        let design = line(&x);
        let fit = fit_of(&design, &y);
        serial(&design, fit.residuals(), &[]).unwrap()
    };
    let (exact, fitted) = (make(102), make(103));
    assert!(exact.exact && !fitted.exact);
    assert!((exact.p_alike - fitted.p_alike).abs() < 0.04, "{exact:?} {fitted:?}");
    assert!((fitted.p_alike + fitted.p_alternating - 1.0).abs() < 1e-10);
}

#[test]
fn durbin_watson_takes_no_difference_across_a_break() {
    let y = [1.0, 1.1, 0.9, 1.0, 5.0, 5.1, 4.9, 5.0];
    let design = DMatrix::from_element(8, 1, 1.0);
    let fit = fit_of(&design, &y);
    let e = fit.residuals();
    let total: f64 = e.iter().map(|e| e * e).sum();
    let within: f64 = [1, 2, 3, 5, 6, 7].iter().map(|i: &usize| (e[*i] - e[*i - 1]).powi(2)).sum();
    assert_near("with a break", serial(&design, e, &[4]).unwrap().statistic, within / total, R_LINEAR);
    assert!(serial(&design, &[0.0; 8], &[]).is_none(), "no scatter, no test");
    assert!(serial(&design, e, &[0, 1, 2, 3, 4, 5, 6, 7]).is_none(), "no neighbours, no test");
}

#[test]
fn durbin_watson_bounds_of_the_printed_table_hold_the_exact_five_percent_point() {
    // Half a unit of the last digit is allowed: on a straight line the exact point lies at the upper bound. Durbin & Watson (1951) table 4, one regressor, 5 %: from memory, n = 15: 1.077, 1.361; n = 20: 1.201, 1.411; n = 30: 1.352, 1.489; 40: 1.442, 1.544.
    for (n, low, high) in [(15, 1.077, 1.361), (20, 1.201, 1.411), (30, 1.352, 1.489), (40, 1.442, 1.544)] {
        let x: Vec<f64> = (0..n).map(f64::from).collect();
        let design = line(&x);
        // Residuals whose statistic is the bound, by mixing the smoothest and the roughest direction.
        let p_at = |target: f64| {
            let mix = |share: f64| {
                let y: Vec<f64> = x
                    .iter()
                    .map(|x| (1.0 - share) * (x * std::f64::consts::TAU / f64::from(n)).cos() + share * (x * std::f64::consts::PI).cos())
                    .collect();
                serial(&design, fit_of(&design, &y).residuals(), &[]).unwrap()
            };
            let (mut from, mut to) = (0.0, 1.0);
            for _ in 0..60 {
                let middle = 0.5 * (from + to);
                if mix(middle).statistic < target { from = middle } else { to = middle }
            }
            mix(from).p_alike
        };
        assert!(p_at(low - 0.0005) < 0.05 && p_at(high + 0.0005) > 0.05, "n = {n}: {} {}", p_at(low), p_at(high));
    }
}

#[test]
fn shapiro_wilk_matches_r() {
    let reference = reference();
    for (name, design, y) in problems() {
        let found = shapiro_wilk(fit_of(&design, &y).residuals()).unwrap();
        assert_near(name, found.statistic, reference.value(&format!("shapiro-{name}"), "W"), R_SHAPIRO_W);
        assert_near(name, found.p, reference.value(&format!("shapiro-{name}"), "p"), R_SHAPIRO_P);
    }
    let table = Table::read("published/rosner-1983/values.csv");
    for n in [3, 4, 5, 6, 11, 12, 20, 54] {
        let found = shapiro_wilk(&table.column("y")[..n]).unwrap();
        assert_near("W", found.statistic, reference.value(&format!("shapiro-first-{n}"), "W"), R_SHAPIRO_W);
        assert_near("p", found.p, reference.value(&format!("shapiro-first-{n}"), "p"), R_SHAPIRO_P);
    }
    assert!(
        shapiro_wilk(&[1.0, 1.0, 1.0]).is_none() && shapiro_wilk(&[1.0, 2.0]).is_none() && shapiro_wilk(&[1.0, f64::NAN, 2.0]).is_none()
    );
}

#[test]
fn anderson_darling_matches_a_reference_library_and_keeps_its_level() {
    // statsmodels (tests/reference/normality.py) reports A² itself and the tail of A*².
    let reference = Reference::read("reference/normality.csv");
    let y = Table::read("published/rosner-1983/values.csv").column("y").to_vec();
    for n in [8_u32, 20, 40, 54] {
        let found = anderson_darling(&y[..n as usize]).unwrap();
        let count = f64::from(n);
        let test = format!("anderson-{n}");
        assert_near(&test, found.statistic / (1.0 + 0.75 / count + 2.25 / (count * count)), reference.value(&test, "statistic"), R_LINEAR);
        assert_near(&test, found.p, reference.value(&test, "p"), R_LINEAR);
    }
    let mut random = ChaCha20Rng::seed_from_u64(20);
    let mut draw = || normal_quantile(random.random_range(1e-12..1.0)).unwrap();
    let rejected = (0..2000).filter(|_| anderson_darling(&(0..20).map(|_| draw()).collect::<Vec<_>>()).unwrap().p < 0.05).count();
    assert!((70..=130).contains(&rejected), "{rejected} of 2000 normal samples rejected at 5 %");
    assert!(anderson_darling(&[1.0; 10]).is_none() && anderson_darling(&y[..7]).is_none());
}

#[test]
fn brown_forsythe_matches_r() {
    let reference = reference();
    let table = Table::read("published/e-handbook/machined_pins.csv");
    let groups: Vec<Vec<f64>> = (1..=5)
        .map(|m| table.column("machine").iter().zip(table.column("y")).filter(|(k, _)| **k == f64::from(m)).map(|(_, y)| *y).collect())
        .collect();
    let found = brown_forsythe(&groups).unwrap();
    assert_near("F", found.f, reference.value("brown-pins", "F"), Tolerance::Relative(1e-9));
    assert_near("p", found.p, reference.value("brown-pins", "p"), Tolerance::Relative(1e-9));
    assert!(brown_forsythe(&[vec![1.0, 1.0], vec![2.0, 2.0]]).is_none());
}

#[test]
fn aicc_and_the_nested_f_test_match_r() {
    let reference = reference();
    for (name, design, y) in problems() {
        assert_near(name, aicc(&fit_of(&design, &y)).unwrap(), reference.value(&format!("aicc-{name}"), "value"), R_LINEAR);
    }
    let all = problems();
    let small = fit_of(&all[2].1, &all[2].2);
    let large = fit_of(&all[1].1, &all[1].2);
    let test = nested_f_test(&small, &large).unwrap();
    assert_near("F", test.f, reference.value("nested-norris", "F"), R_LINEAR);
    assert_near("p", test.p, reference.value("nested-norris", "p"), R_LINEAR);
    assert!(nested_f_test(&large, &small).is_none());
    assert!(aicc(&fit_of(&line(&[0.0, 1.0, 2.0]), &[0.0, 1.0, 2.1])).is_none());
}

#[test]
fn lack_of_fit_of_the_linewidth_line_matches_the_e_handbook() {
    // e-Handbook 2.3.6.7.3: intercept and slope, their standard deviations, residual sd and F as printed there (from memory) and recomputed.
    let all = problems();
    let (_, design, y) = &all[4];
    let fit = fit_of(design, y);
    assert_near("intercept", fit.coefficient(0).unwrap(), 0.235_762_290, Tolerance::Absolute(5e-10));
    assert_near("slope", fit.coefficient(1).unwrap(), 0.987_037_714, Tolerance::Absolute(5e-10));
    assert_near("se", fit.standard_error(0).unwrap(), 0.024_300_3, Tolerance::Absolute(5e-8));
    assert_near("se", fit.standard_error(1).unwrap(), 0.003_440_58, Tolerance::Absolute(5e-9));
    assert_near("s", fit.residual_sd().unwrap(), 0.062_032_0, Tolerance::Absolute(5e-8));
    let test = lack_of_fit(design, y, &fit).unwrap();
    assert_near("F", test.f, 0.6918, Tolerance::Absolute(5e-5));
    assert_eq!((test.dof1, test.dof2), (8.0, 30.0));
    assert_near("p", test.p, 0.695_641_141_187_881_8, Tolerance::Relative(1e-9));
    assert!(
        lack_of_fit(&all[0].1, &all[0].2, &fit_of(&all[0].1, &all[0].2)).is_none() || all[0].2.len() != 16,
        "no repeats, no pure error"
    );
}

#[test]
fn weighted_lack_of_fit_matches_r() {
    let reference = reference();
    let (_, design, y) = problems().remove(4);
    let weight = |row: usize| 1.0 + ((row + 1) % 3) as f64;
    let weights: Vec<f64> = (0..y.len()).map(weight).collect();
    let fit = weighted_least_squares(&design, &y, &weights).unwrap();
    let mut rows: Vec<usize> = (0..y.len()).collect();
    rows.sort_by(|a, b| design[(*a, 1)].total_cmp(&design[(*b, 1)]));
    let pure_error = |values: &[f64]| {
        let mut pure = PureError::default();
        for repeats in rows.chunk_by(|a, b| design[(*a, 1)] == design[(*b, 1)]) {
            pure.add(&repeats.iter().map(|row| (values[*row], weights[*row])).collect::<Vec<_>>());
        }
        pure
    };
    let test = pure_error(&y).against(fit.residual_sum_of_squares(), fit.dof() as f64).unwrap();
    let expected = |key: &str| reference.value("weighted-lack-linewidth", key);
    assert_near("F", test.f, expected("F"), R_LINEAR);
    assert_near("p", test.p, expected("p"), R_LINEAR);
    let mut spoilt = y;
    spoilt[7] += 1e-6;
    let other = pure_error(&spoilt).against(fit.residual_sum_of_squares(), fit.dof() as f64).unwrap();
    assert!(!R_LINEAR.accepts(other.f, expected("F")), "a reading off by a millionth is seen");
}

#[test]
fn robust_fits_match_r() {
    let reference = reference();
    let mut cases: Vec<(&str, DMatrix<f64>, Vec<f64>)> =
        problems().into_iter().filter(|p| ["natrella", "pressure", "linewidth"].contains(&p.0)).collect();
    let norris = problems().remove(2);
    let mut spoilt = norris.2;
    spoilt[2] += 400.0;
    spoilt[16] -= 250.0;
    cases.push(("spoilt", norris.1, spoilt));
    for (name, design, y) in cases {
        for (word, method) in [("huber", RobustMethod::HUBER), ("tukey", RobustMethod::TUKEY)] {
            let fit = robust(&design, &y, method);
            let test = format!("{word}-{name}");
            assert!(fit.settled);
            for k in 0..2 {
                assert_near(&test, fit.coefficients[k].unwrap(), reference.value(&test, &format!("b{k}")), R_ITERATED);
                assert_near(&test, fit.standard_errors[k].unwrap(), reference.value(&test, &format!("se{k}")), R_ITERATED);
            }
            assert_near(&test, fit.scale, reference.value(&test, "scale"), R_ITERATED);
            assert_eq!(fit, robust(&design, &y, method), "the same again");
        }
    }
}

#[test]
fn a_robust_fit_of_equal_readings_is_that_reading() {
    let fit = robust(&line(&[0.0, 1.0, 2.0, 3.0]), &[30.0; 4], RobustMethod::HUBER);
    assert_near("level", fit.coefficients[0].unwrap(), 30.0, Tolerance::Relative(1e-14));
    assert_near("slope", fit.coefficients[1].unwrap(), 0.0, Tolerance::Absolute(1e-13));
    assert!(fit.settled && fit.scale == 0.0 && fit.standard_errors == vec![None, None]);
}

#[test]
fn runs_of_the_beam_deflections_match_the_e_handbook() {
    // e-Handbook 1.3.5.13, runs test on LEW.DAT about the median: Z = 2.6938 (from memory), 120 runs, 101 expected (recomputed).
    let y = Table::read("published/nist-strd-1998/Lew.csv").column("y").to_vec();
    let found = runs_test(&y, taperwright::statistics::median(&y).unwrap()).unwrap();
    assert_eq!((found.runs, found.above, found.below, found.expected), (120, 100, 100, 101.0));
    assert_near("sd", found.sd, 7.053_278_933_842_965, R_LINEAR);
    assert_near("Z", found.z, 2.6938, Tolerance::Absolute(5e-5));
    let corrected = normal_two_sided_p((120.0 - 101.0 - 0.5) / found.sd).unwrap();
    assert_near("exact tail against the normal one with continuity correction", found.p_exact, corrected, Tolerance::Relative(0.02));
}

#[test]
fn exact_runs_are_counted_rightly_for_few_values() {
    // Swed & Eisenhart (1943): of the 20 orders of three and three, 2 have two runs, 2 have six: P(R ≤ 2) = 0.1.
    let found = runs_test(&[1.0, 1.0, 1.0, -1.0, -1.0, -1.0], 0.0).unwrap();
    assert_eq!(found.runs, 2);
    assert_near("p", found.p_exact, 0.2, Tolerance::Relative(1e-12));
    assert_near("alternating", runs_test(&[1.0, -1.0, 1.0, -1.0, 1.0, -1.0], 0.0).unwrap().p_exact, 0.2, Tolerance::Relative(1e-12));
    assert!(runs_test(&[1.0, 2.0, 0.0], 0.0).is_none());
    // By counting all orders of four and six.
    let mut counts = [0_u32; 11];
    for bits in 0_u32..1024 {
        if bits.count_ones() == 4 {
            counts[1 + ((bits ^ (bits >> 1)) & 0x1ff).count_ones() as usize] += 1;
        }
    }
    let series = [1.0, 1.0, -1.0, -1.0, 1.0, 1.0, -1.0, -1.0, -1.0, -1.0];
    let low: u32 = counts[..=4].iter().sum();
    assert_near(
        "four and six, four runs",
        runs_test(&series, 0.0).unwrap().p_exact,
        (2.0 * f64::from(low) / 210.0).min(1.0),
        Tolerance::Relative(1e-12),
    );
}

#[test]
fn each_comparison_here_rejects_a_perturbed_value() {
    for (tolerance, too_far) in
        [(R_LINEAR, 3e-9), (R_PAN, 1e-5), (R_ITERATED, 1e-7), (R_SHAPIRO_W, 1e-5), (R_SHAPIRO_P, 1e-3), (PRINTED_5, 2e-5)]
    {
        assert!(tolerance.accepts(0.5, 0.5) && !tolerance.accepts(0.5 * (1.0 + too_far), 0.5), "{tolerance:?}");
    }
}
