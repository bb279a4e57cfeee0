//! Least squares in runs and blocks against the same model a row a reading.

use super::layout::Layout;
use super::tolerances::{Tolerance, assert_near};
use nalgebra::DMatrix;
use taperwright::statistics::distributions::t_upper_quantile;
use taperwright::statistics::{Atoms, Fit, RunBasis, RunFit, RunRows, RunSums, trend, weighted_least_squares};
use taperwright::statistics::{Dated, Dense, Esd, generalised_esd, influence, least_squares, nested_f_test, period_search};

const NEAR: Tolerance = Tolerance::Relative(1e-9);

fn both(rows: &Layout, values: &[f64]) -> (RunFit, Fit) {
    let (design, weights) = rows.dense();
    (RunFit::of(rows, &RunSums::of_rows(rows, values)), weighted_least_squares(&design, values, &weights).unwrap())
}

#[test]
fn levels_slopes_and_the_common_square_are_those_of_dense_rows() {
    for name in ["small", "large", "plain"] {
        let rows = Layout::new(name);
        let values = rows.values();
        let (fit, dense) = both(&rows, &values);
        let blocks = rows.blocks();
        let square = dense.coefficients().len() - 1;
        assert_eq!((fit.readings, fit.dof(), fit.basis.rank()), (values.len(), dense.dof() as f64, dense.rank()));
        assert_near("residual square", fit.residual_square, dense.residual_sum_of_squares(), NEAR);
        let shared = fit.shared.len();
        assert_near("square", fit.shared[shared - 1], dense.coefficient(square).unwrap(), NEAR);
        let covariance = fit.basis.covariance(shared - 1, shared - 1);
        assert_near("its variance", covariance, dense.unscaled_covariance(square, square).unwrap(), NEAR);
        if shared > 1 {
            assert_near("covariance", fit.basis.covariance(0, 1), dense.unscaled_covariance(square - 1, square).unwrap(), NEAR);
        }
        let mut room = fit.basis.scratch();
        for block in 0..blocks {
            let slope_at = blocks + if rows.own_slope { block } else { 0 };
            let known = dense.coefficient(slope_at).is_some();
            assert_eq!(fit.basis.own_rank_of(block), 1 + usize::from(rows.own_slope && known));
            let (mut sum, mut total) = (0.0, 0.0);
            for run in rows.block(block) {
                let (x, count, weight) = rows.at(run);
                let fitted = fit.fitted(&rows, block, run, &mut room);
                sum += count as f64 * weight * fitted;
                total += count as f64 * weight;
                let reading = rows.readings(run).start;
                assert_near("fitted", fitted, values[reading] - dense.residuals()[reading], NEAR);
                assert_near("leverage", fit.leverage(&rows, block, run, &mut room), dense.leverage()[reading], NEAR);
                assert_near("the curve there", fit.level_at(block, &[x, x * x]), fitted, NEAR);
            }
            assert_near("level", fit.level(block), sum / total, NEAR);
            if known {
                let at = |x: f64| {
                    let term = |place: usize| dense.coefficient(place).unwrap();
                    term(block) + term(slope_at) * x + term(square) * x * x
                };
                for x in [0.0, -2.0, 0.7] {
                    assert_near("the curve elsewhere", fit.level_at(block, &[x, x * x]), at(x), NEAR);
                }
                if rows.own_slope {
                    assert_near("slope", fit.own_slope(block).unwrap(), dense.coefficient(slope_at).unwrap(), NEAR);
                }
            }
        }
        assert_eq!((fit.basis.has_own_slope(), fit.basis.has_all_slopes(), fit.basis.is_full()), (name == "large", name != "large", true));
        assert!(!fit.fits_exactly());
        assert!(!NEAR.accepts(fit.residual_square * (1.0 + 3e-9), dense.residual_sum_of_squares()));
    }
}

#[test]
fn a_square_that_no_block_can_tell_does_not_count() {
    let two = vec![(-1.0, 2, 1.0), (1.0, 2, 1.0)];
    let rows = Layout { blocks: vec![two.clone(), two], own_slope: true };
    let values = [0.0, 0.2, 2.0, 2.2, 5.0, 5.0, 6.0, 6.4];
    let (fit, dense) = both(&rows, &values);
    assert_eq!((fit.basis.is_full(), fit.basis.has_all_slopes(), fit.basis.rank(), dense.rank()), (false, true, 4, 4));
    assert_near("residual square", fit.residual_square, dense.residual_sum_of_squares(), NEAR);
    let line: Vec<f64> = values.iter().enumerate().map(|(i, _)| if (i / 2) % 2 == 0 { 1.0 } else { 3.0 }).collect();
    assert!(both(&rows, &line).0.fits_exactly(), "readings on the line");
    let basis = RunBasis::of(&rows, |run| if run < 2 { 0.0 } else { 1.0 });
    assert_eq!((basis.own_rank_of(0), basis.own_rank_of(1), basis.own_rank_of(9)), (0, 2, 0));
}

#[test]
fn different_values_of_each_run() {
    let rows = Layout { blocks: vec![vec![(-1.0, 4, 1.0), (0.0, 1, 1.0), (1.0, 3, 1.0)]], own_slope: false };
    let atoms = Atoms::of(&rows, &[3.0, 1.0, 3.0, 2.0, 7.0, 5.0, 5.0, 5.0]);
    assert_eq!((atoms.len(), atoms.is_empty(), atoms.are_single()), (5, false, false));
    let run = |run: usize| atoms.run(run).collect::<Vec<_>>();
    assert_eq!((run(0), run(1), run(2), run(3)), (vec![(1.0, 1.0), (2.0, 1.0), (3.0, 2.0)], vec![(7.0, 1.0)], vec![(5.0, 3.0)], vec![]));
    let single = Atoms::of(&rows, &[4.0, 1.0, 3.0, 2.0, 7.0, 5.0, 6.0, 8.0]);
    assert_eq!((single.len(), single.are_single(), single.run(0).last()), (8, true, Some((4.0, 1.0))));
    assert!(Atoms::default().is_empty());
}

fn strays(rows: &impl RunRows, values: &[f64], most: usize) -> Esd {
    generalised_esd(rows, values, &Atoms::of(rows, values), &RunFit::of(rows, &RunSums::of_rows(rows, values)), most, 0.05)
}

/// Step by step, against refitted dense rows.
fn are_the_most_extreme(design: &DMatrix<f64>, values: &[f64], weights: &[f64], esd: &Esd) {
    let mut left = weights.to_vec();
    for step in &esd.steps {
        let fit = weighted_least_squares(design, values, &left).unwrap();
        let outer = influence(&fit).externally_studentised;
        let largest = outer.iter().flatten().fold(0.0_f64, |most, t| most.max(t.abs()));
        assert_near("studentised", step.studentised, outer[step.index].unwrap(), NEAR);
        assert_near("largest", step.studentised.abs(), largest, NEAR);
        assert_near("critical", step.critical, t_upper_quantile(0.025 / fit.readings() as f64, fit.dof() as f64 - 1.0).unwrap(), NEAR);
        left[step.index] = 0.0;
    }
}

/// Of some hundred readings that stray almost alike the most extreme is found, though each that goes changes the others by more than they differ; so is a stray that
/// holds most of the scatter, and one on a few readings that hold the curve.
#[test]
fn the_most_extreme_of_many_alike_is_found() {
    let x = |row: usize| -1.0 + 2.0 * row as f64 / 699.0;
    let design = DMatrix::from_fn(700, 4, |row, column| x(row).powi(column as i32));
    let dense = Dense::new(&design, &[]);
    for wild in [0.0, 0.2, 40.0] {
        let mut values: Vec<f64> =
            (0..700).map(|row| 2.0 * x(row) + if row % 3 == 0 { 1.0 } else { -0.5 } + 1e-4 * (row as f64).sin()).collect();
        values[3] += wild;
        values[699] -= 0.5 * wild;
        let esd = strays(&dense, &values, 10);
        assert_eq!(esd.steps.len(), 10);
        are_the_most_extreme(&design, &values, &[1.0; 700], &esd);
    }
}

/// Step by step the stray is the reading with the largest externally studentised residual of those left, found by refitting dense rows.
#[test]
fn strays_of_one_run_come_one_after_the_other() {
    let rows = Layout::new("large");
    let mut values = rows.values();
    // two readings of one run, equal, a third on the other side, and one elsewhere
    let run = (0..rows.runs()).find(|run| rows.count(*run) == 3 && rows.weight(*run) == 2.0).unwrap();
    let first = rows.readings(run).start;
    (values[first], values[first + 1], values[first + 2]) = (9.0, 9.0, -4.0);
    let last = values.len() - 12;
    values[last] -= 6.0;
    let esd = strays(&rows, &values, 5);
    let (design, weights) = rows.dense();
    are_the_most_extreme(&design, &values, &weights, &esd);
    assert_eq!(esd.steps.len(), 5);
    let places: Vec<usize> = esd.flagged().iter().map(|step| step.index).collect();
    assert!(places.contains(&first) && places.contains(&(first + 1)) && places.contains(&last), "{places:?}");
    let others: Vec<f64> = (0..weights.len()).map(|place| if places.contains(&place) { 0.0 } else { weights[place] }).collect();
    let fit = weighted_least_squares(&design, &values, &others).unwrap();
    for (step, deviation) in esd.flagged().iter().zip(&esd.deviations) {
        assert_near("distance", deviation.unwrap(), fit.residuals()[step.index], NEAR);
    }
}

/// A reading that fits itself is never judged; the stray's distance is that from the mean of the others.
#[test]
fn a_reading_that_fits_itself_is_no_stray() {
    let design = nalgebra::DMatrix::from_fn(12, 2, |i, j| if j == 0 { 1.0 } else { f64::from(u8::from(i == 11)) });
    let dense = Dense::new(&design, &[11]);
    let mut values: Vec<f64> = (0..12).map(|i| [0.0, 0.1, -0.1, 0.05][i % 4]).collect();
    values[3] = 9.0;
    let esd = strays(&dense, &values, 3);
    assert_eq!(esd.flagged().iter().map(|step| step.index).collect::<Vec<_>>(), vec![3]);
    assert_near("distance", esd.deviations[0].unwrap(), 9.0 - values.iter().take(11).sum::<f64>().mul_add(0.1, -0.9), NEAR);
}

/// The line and its interval do not depend on where time begins.
#[test]
fn a_trend_moves_with_its_times() {
    let dated = |shift: f64, value: f64, u: f64, time: f64| Dated { time: time + shift, value, standard_uncertainty: u };
    let line = |shift: f64| {
        [dated(shift, 4.0, 1.0, 0.0), dated(shift, -3.0, 1.5, 0.5), dated(shift, 5.0, 0.75, 1.25), dated(shift, 9.0, 2.0, 3.5)]
    };
    let (here, there) = (trend(&line(0.0)).unwrap(), trend(&line(1024.0)).unwrap());
    for (name, a, b) in [
        ("slope", here.slope, there.slope),
        ("its uncertainty", here.standard_uncertainty, there.standard_uncertainty),
        ("low", here.low, there.low),
        ("centre", here.centre_value, there.centre_value),
        ("time", here.centre_time + 1024.0, there.centre_time),
    ] {
        assert_near(name, a, b, NEAR);
    }
    // the middle of the stated uncertainties: of 0.75, 1, 1.5 and 2
    assert_near("scale", here.prior_scale, 1.25, NEAR);
    for bad in [
        dated(0.0, 1.0, f64::INFINITY, 9.0),
        dated(0.0, 1.0, 0.0, 9.0),
        dated(0.0, 1.0, -1.0, 9.0),
        dated(0.0, 1.0, 1.0, f64::INFINITY),
        dated(0.0, f64::INFINITY, 1.0, 9.0),
    ] {
        assert_eq!(trend(&[line(0.0)[0], line(0.0)[1], bad]), None, "{bad:?}");
    }
}

/// The F of a period in runs is that of a sine and a cosine joined to dense rows, and no other frequency of the search has a greater one.
#[test]
fn a_period_in_runs_is_that_of_dense_rows() {
    for name in ["large", "plain"] {
        let mut rows = Layout::new(name);
        rows.blocks.iter_mut().flatten().for_each(|run| run.2 = 1.0);
        let values = rows.values();
        let (fit, dense) = both(&rows, &values);
        let design = rows.dense().0;
        let places: Vec<f64> = (0..rows.runs()).flat_map(|run| std::iter::repeat_n(rows.at(run).0, rows.count(run))).collect();
        let with_sine = |frequency: f64| {
            let turn = std::f64::consts::TAU * frequency;
            let wide = DMatrix::from_fn(places.len(), design.ncols() + 2, |i, j| match j.checked_sub(design.ncols()) {
                None => design[(i, j)],
                Some(0) => (turn * (places[i] + 1.0)).cos(),
                Some(_) => (turn * (places[i] + 1.0)).sin(),
            });
            let wide = least_squares(&wide, &values).unwrap();
            let [cosine, sine] = [0, 1].map(|k| wide.coefficient(design.ncols() + k).unwrap());
            (nested_f_test(&dense, &wide).unwrap().f, cosine.hypot(sine))
        };
        let found = period_search(&rows, &fit, &RunSums::of_rows(&rows, &values), |run| Some(rows.at(run).0), 0.7).unwrap();
        let (f, amplitude) = with_sine(1.0 / found.period);
        assert_near("F", found.f, f, NEAR);
        assert_near("amplitude", found.amplitude, amplitude, NEAR);
        // the search goes from one wave over the length, 2, to the shortest, in steps of an eighth of that
        for step in 0..=14 {
            let (other, _) = with_sine(0.5 + f64::from(step) / 16.0);
            assert!(other <= found.f * (1.0 + 1e-9), "{name}: {other} at step {step}, {} found", found.f);
        }
    }
}
