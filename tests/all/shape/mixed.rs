//! Mixed models against published data (restricted maximum likelihood).

use nalgebra::Matrix2;
use std::collections::BTreeMap;
use taperwright::statistics::mixed::{Coefficients, Group, NoisePrior, RemlFit, SpreadPrior, Terms, fit_reml, integrate_spread};

/// Whether `got` agrees with `wanted` to `relative`.
fn close(got: f64, wanted: f64, relative: f64) -> bool {
    (got - wanted).abs() <= relative * wanted.abs()
}

/// Asserts agreement, and that the same comparison rejects a value that is wrong by three times the tolerance.
#[track_caller]
fn agrees(what: &str, got: f64, wanted: f64, relative: f64) {
    assert!(close(got, wanted, relative), "{what}: {got} for {wanted}");
    assert!(!close(wanted * (1.0 + 3.0 * relative), wanted, relative), "{what}: the comparison accepts anything");
}

/// Rows of a published file as text cells, header dropped.
fn cells(path: &str) -> Vec<Vec<String>> {
    let full = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/published").join(path);
    let text = std::fs::read_to_string(full).unwrap();
    text.lines().skip(1).filter(|l| !l.is_empty()).map(|l| l.split(',').map(|c| c.trim_matches('"').to_owned()).collect()).collect()
}

fn terms(columns: usize) -> Terms {
    let mut terms = Terms::zeros();
    for i in 0..columns {
        terms[(i, i)] = 1.0;
    }
    terms
}

fn contrast(place: usize) -> Coefficients {
    let mut c = Coefficients::zeros();
    c[place] = 1.0;
    c
}

/// One-way layout: a random mean per group.
fn one_way(path: &str, group: usize, value: usize) -> Vec<Group> {
    let mut by_group: BTreeMap<String, Vec<([f64; 2], f64, f64)>> = BTreeMap::new();
    for row in cells(path) {
        by_group.entry(row[group].clone()).or_default().push(([1.0, 0.0], row[value].parse().unwrap(), 1.0));
    }
    by_group.values().map(|rows| Group::new(rows, terms(1))).collect()
}

fn one_way_fit(groups: &[Group], start: [f64; 2]) -> RemlFit {
    fit_reml(groups, 1, &[Matrix2::new(1.0, 0.0, 0.0, 0.0)], None, &start).unwrap()
}

/// Davies (1957), dyestuff yields; balanced, so that REML is the analysis of variance: exact values to 1e-10.
#[test]
fn dyestuff() {
    let fit = one_way_fit(&one_way("davies-1957/dyestuff.csv", 0, 1), [2000.0, 1000.0]);
    assert!(fit.converged);
    agrees("mean", fit.evaluation.coefficients[0], 1527.5, 1e-12);
    agrees("within", fit.sigma_square, 2451.25, 1e-10);
    agrees("between", fit.random_covariance[(0, 0)], 1764.05, 1e-10);
    agrees("standard error", fit.variance(&contrast(0)).0.sqrt(), 19.383412152319, 1e-10);
    // lme4 1.1-31: REML criterion at convergence.
    agrees("criterion", fit.deviance, 319.654276842, 1e-10);
    // Balanced one-way layout by hand: the mean has the degrees of freedom of the batches, 6 − 1.
    agrees("degrees of freedom", fit.degrees_of_freedom(&contrast(0)).unwrap(), 5.0, 1e-8);
}

/// Box, Tiao (1973), simulated yields: the between-batch estimate rests on its boundary 0.
#[test]
fn dyestuff2_rests_on_the_boundary() {
    for start in [[10.0, 10.0], [1.0, 100.0], [30.0, 0.0]] {
        let fit = one_way_fit(&one_way("davies-1957/dyestuff2.csv", 0, 1), start);
        assert_eq!(fit.random_covariance[(0, 0)], 0.0);
        // lme4 1.1-31: residual 3.71568427, criterion 161.828277812; mean of all readings 5.6656.
        agrees("within", fit.sigma_square.sqrt(), 3.71568427, 1e-8);
        agrees("mean", fit.evaluation.coefficients[0], 5.6656, 1e-12);
        agrees("criterion", fit.deviance, 161.828277812, 1e-9);
    }
}

/// Rail travel times: Pinheiro, Bates (2000), section 1.1.
#[test]
fn rail() {
    let fit = one_way_fit(&one_way("pinheiro-bates-2000/rail.csv", 0, 1), [1.0, 1.0]);
    agrees("mean", fit.evaluation.coefficients[0], 66.5, 1e-12);
    agrees("between", fit.random_covariance[(0, 0)].sqrt(), 24.8054653476026, 1e-10);
    agrees("within", fit.sigma_square.sqrt(), 4.02077936060494, 1e-10);
    agrees("standard error", fit.variance(&contrast(0)).0.sqrt(), 10.171037311897, 1e-10);
    agrees("criterion", fit.deviance, 122.177000809, 1e-10);
}

/// Arsenic in oyster tissue by 29 laboratories, one of which gave two readings where the others gave five (NIST Dataplot's data
/// folder): the one-way layout where the analysis of variance no longer gives the answer. lme4 1.1-31, good to its optimiser.
#[test]
fn unbalanced_oysters() {
    let fit = one_way_fit(&one_way("nist-dataplot/oyster_arsenic.csv", 1, 0), [1.0, 1.0]);
    assert!(fit.converged);
    agrees("mean", fit.evaluation.coefficients[0], 13.2275647975, 1e-7);
    agrees("standard error", fit.variance(&contrast(0)).0.sqrt(), 0.262147378637, 1e-5);
    agrees("between", fit.random_covariance[(0, 0)], 1.873183039524, 1e-5);
    agrees("within", fit.sigma_square, 0.571383387476, 1e-5);
    agrees("criterion", fit.deviance, 405.331843921, 1e-9);
}

/// Growth of 27 children at four ages, random level and slope with a covariance: Pinheiro, Bates (2000), section 4.1.
#[test]
fn orthodont() {
    let mut by_child: BTreeMap<String, Vec<([f64; 2], f64, f64)>> = BTreeMap::new();
    for row in cells("pinheiro-bates-2000/orthodont.csv") {
        let age: f64 = row[1].parse().unwrap();
        by_child.entry(row[2].clone()).or_default().push(([1.0, age - 11.0], row[0].parse().unwrap(), 1.0));
    }
    let groups: Vec<Group> = by_child.values().map(|rows| Group::new(rows, terms(2))).collect();
    let structures = [Matrix2::new(1.0, 0.0, 0.0, 0.0), Matrix2::new(0.0, 0.0, 0.0, 1.0), Matrix2::new(0.0, 1.0, 1.0, 0.0)];
    let fit = fit_reml(&groups, 2, &structures, None, &[1.0, 1.0, 0.1, 0.0]).unwrap();
    assert!(fit.converged);
    let d = fit.random_covariance;
    agrees("level", fit.evaluation.coefficients[0], 24.0231481481481, 1e-11);
    agrees("slope", fit.evaluation.coefficients[1], 0.660185185185185, 1e-11);
    agrees("s.e. level", fit.variance(&contrast(0)).0.sqrt(), 0.42966048248586, 1e-9);
    agrees("s.e. slope", fit.variance(&contrast(1)).0.sqrt(), 0.0712532707708714, 1e-9);
    agrees("sigma", fit.sigma_square.sqrt(), 1.31003958096834, 1e-9);
    agrees("sd level", d[(0, 0)].sqrt(), 2.13433094663025, 1e-9);
    agrees("sd slope", d[(1, 1)].sqrt(), 0.226427884534098, 1e-9);
    agrees("correlation", d[(0, 1)] / (d[(0, 0)] * d[(1, 1)]).sqrt(), 0.502624156997856, 1e-8);
    agrees("log-likelihood", -0.5 * fit.deviance, -221.318343, 1e-8);
}

/// One pass and no noise left to learn: the interval is that of a half-t mixture, here by an independent quadrature.
#[test]
fn prior_alone_by_quadrature() {
    // Stations −1 and 1: Z'Z = 2, the slope's standard error at σ = 1 is 1/√2.
    let group = Group::centred(&[([-1.0, 0.0], 0.0, 1.0), ([1.0, 0.0], 2.0, 1.0)], terms(1));
    let prior = SpreadPrior { dof: 3.0, multiple: 2.0 };
    let noise = NoisePrior { median: 1.0, log_deviation: 1e-3 };
    let posterior = integrate_spread(&[group], 1, 1, [0.5_f64.sqrt(), 0.0], prior, Some(noise)).unwrap();
    let interval = posterior.interval(&contrast(0));
    agrees("mean", interval.value, 1.0, 1e-12);
    // P(|slope − 1| ≤ h) = ∫ (2Φ(h√2/√(1+ρ²)) − 1) p(ρ) dρ, ρ = 2√3·tan φ, weight (4/π)cos²φ, by the midpoint rule in φ.
    let coverage = |h: f64| {
        let steps = 4000;
        (0..steps)
            .map(|k| {
                let phi = std::f64::consts::FRAC_PI_2 * (f64::from(k) + 0.5) / f64::from(steps);
                let rho = 2.0 * 3.0_f64.sqrt() * phi.tan();
                let z = h * 2.0_f64.sqrt() / (1.0 + rho * rho).sqrt();
                let inside = 1.0 - taperwright::statistics::distributions::normal_two_sided_p(z).unwrap();
                4.0 / std::f64::consts::PI * phi.cos().powi(2) * inside
            })
            .sum::<f64>()
            * std::f64::consts::FRAC_PI_2
            / f64::from(steps)
    };
    agrees("coverage of the interval", coverage(interval.half_width95), 0.95, 2e-4);
}

/// Slopes and bends of seven passes on unlike stations, against lme4 and pbkrtest (tests/reference/random-slopes/make.R).
#[test]
fn random_slopes_on_unlike_stations() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/random-slopes");
    let expected: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(folder.join("expected.json")).unwrap()).unwrap();
    let want = |path: &str| expected.pointer(path).and_then(serde_json::Value::as_f64).unwrap();
    let mut passes: BTreeMap<u32, Vec<([f64; 2], f64, f64)>> = BTreeMap::new();
    let log = std::fs::read_to_string(folder.join("log.csv")).unwrap();
    for line in log.lines().skip(1) {
        let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
        let x = (cells[1] - 110.0) / 100.0;
        passes.entry(cells[0] as u32).or_default().push(([x, 1.5 * x * x - 0.5], cells[2] - 38.0, 1.0));
    }
    let groups: Vec<Group> = passes.values().map(|rows| Group::centred(rows, terms(2))).collect();
    let structures = [Matrix2::new(1.0, 0.0, 0.0, 0.0), Matrix2::new(0.0, 0.0, 0.0, 1.0)];
    let fit = fit_reml(&groups, 2, &structures, None, &[1e-6, 1e-6, 1e-6]).unwrap();
    assert!(fit.converged);
    // The other program's optimiser stops at about 1e-7 of the criterion: 1e-5 on what it estimates.
    agrees("sigma", fit.sigma_square.sqrt(), want("/sigma"), 1e-5);
    agrees("spread of slopes", fit.random_covariance[(0, 0)].sqrt(), want("/sd_slope"), 1e-5);
    agrees("spread of bends", fit.random_covariance[(1, 1)].sqrt(), want("/sd_bend"), 1e-4);
    for (name, place, factor) in [("taper", 0, 2.0), ("barrel", 1, -1.5)] {
        let c = contrast(place) * factor;
        agrees(name, c.dot(&fit.evaluation.coefficients), want(&format!("/{name}/value")), 1e-6);
        agrees(name, fit.variance(&c).0.sqrt(), want(&format!("/{name}/standard_error")), 1e-5);
        let dof = fit.degrees_of_freedom(&c).unwrap();
        agrees(name, dof, want(&format!("/{name}/dof_expected_information")), 1e-4);
        agrees(name, dof, want(&format!("/{name}/dof_kenward_roger")), 1e-4);
    }
}
