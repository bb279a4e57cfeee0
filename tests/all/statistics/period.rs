//! The search for a period: finds what is there, and raises no more false alarms than it says.

use super::tolerances::{Tolerance, assert_near};
use nalgebra::DMatrix;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use taperwright::statistics::distributions::{ln_gamma, normal_quantile};
use taperwright::statistics::{Dense, LegendreRange, Period, RunFit, RunSums, least_squares, nested_f_test, period_search};

/// Passes over the same places with a level each and a common polynomial.
fn design(places: &[f64], passes: usize, order: usize) -> (DMatrix<f64>, Vec<f64>) {
    let positions: Vec<f64> = (0..passes).flat_map(|_| places.to_vec()).collect();
    let polynomials = LegendreRange::spanning(&positions).unwrap().design(&positions, order);
    let n = places.len();
    let matrix = DMatrix::from_fn(positions.len(), passes + order, |i, j| {
        if j < passes { f64::from(u8::from(i / n == j)) } else { polynomials[(i, j - passes + 1)] }
    });
    (matrix, positions)
}

/// The search on dense rows, one reading each.
fn search(design: &DMatrix<f64>, y: &[f64], positions: &[f64], shortest: f64) -> Option<Period> {
    let rows = Dense::new(design, &[]);
    let sums = RunSums::of_rows(&rows, y);
    period_search(&rows, &RunFit::of(&rows, &sums), &sums, |run| positions.get(run).copied(), shortest)
}

fn noise(random: &mut ChaCha20Rng, n: usize) -> Vec<f64> {
    (0..n).map(|_| normal_quantile(random.random_range(1e-12..1.0)).unwrap()).collect()
}

#[test]
fn a_lead_screw_period_is_found_with_its_amplitude() {
    let places: Vec<f64> = (0..41).map(|i| 5.0 * f64::from(i)).collect();
    let (matrix, positions) = design(&places, 3, 2);
    let mut random = ChaCha20Rng::seed_from_u64(11);
    let y: Vec<f64> = positions
        .iter()
        .zip(noise(&mut random, positions.len()))
        .map(|(z, e)| 30.0 + 1e-4 * z + 3.0 * (z * std::f64::consts::TAU / 23.0 - 0.6).cos() + 0.8 * e)
        .collect();
    let fit = least_squares(&matrix, &y).unwrap();
    let found = search(&matrix, &y, &positions, 10.0).unwrap();
    assert_near("period", found.period, 23.0, Tolerance::Relative(0.01));
    assert_near("amplitude", found.amplitude, 3.0, Tolerance::Absolute(0.35));
    assert_near("phase", found.phase, 0.6, Tolerance::Absolute(0.3));
    assert!(found.false_alarm < 1e-10);
    // The F is exactly that of the sine and cosine added to the fit's own terms.
    let with_sine = |period: f64| {
        let turn = std::f64::consts::TAU / period;
        let wide = DMatrix::from_fn(positions.len(), matrix.ncols() + 2, |i, j| match j.checked_sub(matrix.ncols()) {
            None => matrix[(i, j)],
            Some(0) => (turn * positions[i]).cos(),
            Some(_) => (turn * positions[i]).sin(),
        });
        let wide = least_squares(&wide, &y).unwrap();
        let [cosine, sine] = [0, 1].map(|k| wide.coefficient(matrix.ncols() + k).unwrap());
        (nested_f_test(&fit, &wide).unwrap(), cosine, sine)
    };
    let (test, cosine, sine) = with_sine(found.period);
    assert_near("F", found.f, test.f, Tolerance::Relative(1e-9));
    assert_near("p", found.p_single, test.p, Tolerance::Relative(1e-6));
    assert_near("amplitude", found.amplitude, cosine.hypot(sine), Tolerance::Relative(1e-8));
    assert_near("phase", found.phase, sine.atan2(cosine), Tolerance::Relative(1e-8));
    assert_eq!(found.dof2, fit.dof() as f64 - 2.0);
    // it is the top of the peak, to a millionth of the period, and no other period does better
    assert!([-1e-6, 1e-6].iter().all(|step| with_sine(found.period * (1.0 + step)).0.f < found.f));
    assert!((0..400).all(|k| with_sine(1.0 / (0.005 + 0.095 * f64::from(k) / 400.0)).0.f <= found.f));
    // Baluev (2008): p₁ and the number of independent frequencies, W·γ·√(ν g/(2(1 − g))), by hand
    let nu = fit.dof() as f64;
    let gamma = (ln_gamma(0.5 * nu).unwrap() - ln_gamma(0.5 * (nu - 1.0)).unwrap()).exp() * (2.0 / nu).sqrt();
    let mean = positions.iter().sum::<f64>() / positions.len() as f64;
    let variance = positions.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / positions.len() as f64;
    let width = (1.0 / 10.0 - 1.0 / 200.0) * (4.0 * std::f64::consts::PI * variance).sqrt();
    let independent = width * gamma * (test.f * nu / (nu - 2.0)).sqrt();
    assert_near("independent frequencies", found.independent_frequencies, independent, Tolerance::Relative(1e-8));
    assert_near("false alarm", found.false_alarm, 1.0 - (1.0 - test.p) * (-independent * test.p).exp(), Tolerance::Absolute(1e-15));
    assert_eq!(found.shortest, 10.0);
}

#[test]
fn false_alarms_are_as_rare_as_stated() {
    let even: Vec<f64> = (0..12).map(|i| 20.0 * f64::from(i)).collect();
    let uneven: Vec<f64> = even.iter().enumerate().map(|(i, z)| z + [0.0, 3.0, -2.0, 5.0][i % 4]).collect();
    for (places, passes, order) in [(&even, 1, 1), (&even, 3, 2), (&uneven, 2, 3)] {
        let (matrix, positions) = design(places, passes, order);
        let mut random = ChaCha20Rng::seed_from_u64(4);
        let runs = 500;
        let alarms = (0..runs)
            .filter(|_| {
                let y = noise(&mut random, positions.len());
                search(&matrix, &y, &positions, 40.0).unwrap().false_alarm < 0.05
            })
            .count();
        println!("{passes} passes, order {order}: {alarms} false alarms of {runs} at 5 %");
        assert!((8..=42).contains(&alarms), "{alarms} of {runs}");
    }
}

#[test]
fn nothing_to_search_is_nothing() {
    let places: Vec<f64> = (0..6).map(f64::from).collect();
    let (matrix, positions) = design(&places, 1, 1);
    let y = [1.0, 2.0, 1.0, 3.0, 1.0, 2.0];
    assert!(search(&matrix, &y, &positions, 2.0).is_some());
    assert!(search(&matrix, &y, &positions, 20.0).is_none(), "longer than the bar");
    assert!(search(&matrix, &y, &positions, 0.0).is_none() && search(&matrix, &y, &positions[1..], 2.0).is_none());
    assert!(search(&matrix, &[1.0, 2.0, 3.0, 4.0, 5.0, 6.0], &positions, 2.0).is_none());
}
