//! Every statistic on repeated readings one by one and in runs: the same to nine figures.

use super::{Atoms, Dense, RunBasis, RunFit, RunRows, RunSums};
use crate::statistics::mixed::{Group, Repeated, Terms, fit_reml};
use crate::statistics::{
    EqualSpread, PureError, Repeats, RobustMethod, anderson_darling, anderson_darling_counted, brown_forsythe, durbin_watson,
    generalised_esd, lack_of_fit, least_squares, legendre_values, period_search, robust_regression, sign_changes,
};
use nalgebra::{DMatrix, Matrix2};
use std::ops::Range;

/// Passes along a bar, each with a level, perhaps a slope, of its own and a common curve.
struct Passes {
    /// By pass: station of each run, scaled to −1 … 1, and how often it was read.
    passes: Vec<Vec<(f64, usize)>>,
    of_run: Vec<(f64, usize)>,
    starts: Vec<usize>,
    /// Ends of the runs, told where readings are seldom repeated.
    ends: Vec<u32>,
    own_slope: bool,
    order: usize,
}

impl Passes {
    fn new(passes: usize, stations: usize, own_slope: bool, order: usize, seldom: bool) -> Self {
        let x = |k: usize| -1.0 + 2.0 * k as f64 / (stations - 1) as f64;
        // every pass leaves out other stations and repeats others
        let count = |k: usize, p: usize| if seldom { 1 + usize::from((k * 3 + p).is_multiple_of(4)) } else { 1 + (k * 3 + p) % 4 };
        let pass = |p: usize| (0..stations).filter(|k| (k + p) % 5 != 4).map(|k| (x(k), count(k, p))).collect();
        let passes: Vec<Vec<(f64, usize)>> = (0..passes).map(pass).collect();
        let starts: Vec<usize> = passes
            .iter()
            .flatten()
            .scan(0, |end, (_, count)| {
                let start = *end;
                *end += count;
                Some(start)
            })
            .collect();
        let total: usize = passes.iter().flatten().map(|(_, count)| count).sum();
        let ends = starts.iter().skip(1).copied().chain([total]).map(|end| end as u32);
        let ends = if seldom { ends.collect() } else { Vec::new() };
        let of_run = passes.iter().flatten().copied().collect();
        Self { passes, of_run, starts, ends, own_slope, order }
    }

    fn run(&self, run: usize) -> (f64, usize) {
        self.of_run[run]
    }

    /// The same model, a row a reading: levels, slopes, higher terms.
    fn dense(&self) -> DMatrix<f64> {
        let blocks = self.passes.len();
        let slopes = if self.own_slope { blocks } else { 1 };
        let mut rows = Vec::new();
        for (block, pass) in self.passes.iter().enumerate() {
            for (x, count) in pass {
                let mut row = vec![0.0; blocks + slopes + self.order - 1];
                row[block] = 1.0;
                let values = legendre_values(self.order, *x);
                row[blocks + if self.own_slope { block } else { 0 }] = *x;
                row[blocks + slopes..].copy_from_slice(&values[2..]);
                rows.extend(std::iter::repeat_n(row, *count));
            }
        }
        DMatrix::from_fn(rows.len(), rows[0].len(), |i, j| rows[i][j])
    }

    fn breaks(&self) -> Vec<usize> {
        let sizes = self.passes.iter().map(|pass| pass.iter().map(|(_, count)| count).sum::<usize>());
        sizes
            .scan(0, |end, size| {
                *end += size;
                Some(*end)
            })
            .collect()
    }

    /// A taper, a bow, a wave and noise, to the thousandth, with two strays.
    fn values(&self) -> Vec<f64> {
        let mut state = 20_260_314_u64;
        let mut noise = || {
            (0..6)
                .map(|_| {
                    state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    (state >> 40) as f64 / 16_777_216.0 - 0.5
                })
                .sum::<f64>()
        };
        let mut values = Vec::new();
        for (block, pass) in self.passes.iter().enumerate() {
            for (x, count) in pass {
                for _ in 0..*count {
                    let y = 0.02 * x + 0.004 * x * x - 0.05 * block as f64 + 0.0015 * (9.0 * x).sin() + 0.003 * noise();
                    values.push((1000.0 * y).round() / 1000.0);
                }
            }
        }
        let last = values.len() - 3;
        values[5] += 0.03;
        values[last] -= 0.04;
        values
    }
}

impl RunRows for Passes {
    fn runs(&self) -> usize {
        self.starts.len()
    }
    fn readings(&self, run: usize) -> Range<usize> {
        self.starts[run]..self.starts[run] + self.run(run).1
    }
    fn ends(&self) -> &[u32] {
        &self.ends
    }
    fn weight(&self, _run: usize) -> f64 {
        1.0
    }
    fn blocks(&self) -> usize {
        self.passes.len()
    }
    fn block(&self, block: usize) -> Range<usize> {
        let before: usize = self.passes.iter().take(block).map(Vec::len).sum();
        before..before + self.passes[block].len()
    }
    fn own_level(&self) -> bool {
        true
    }
    fn own_slope(&self) -> bool {
        self.own_slope
    }
    fn columns(&self) -> usize {
        self.order
    }
    fn row(&self, _block: usize, run: usize, into: &mut [f64]) {
        into.copy_from_slice(&legendre_values(self.order, self.run(run).0)[1..]);
    }
}

/// Nine figures, relative to the larger; false for a change of a hundred-millionth.
fn agrees(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs())
}

#[test]
fn nine_figures_are_told_from_eight() {
    assert!(agrees(0.5, 0.5 + 1e-10) && !agrees(0.5, 0.5 + 5e-9) && !agrees(f64::NAN, f64::NAN) && !agrees(0.0, 1e-300));
}

#[test]
fn every_statistic_is_the_same_one_by_one_and_in_runs() {
    for (passes, stations, own_slope, order, seldom) in [
        (2, 9, false, 1, false),
        (4, 9, false, 2, false),
        (4, 12, true, 3, false),
        (12, 30, false, 3, false),
        (9, 25, true, 2, false),
        (4, 12, true, 3, true),
        (6, 30, false, 2, true),
        // runs enough to be gone over side by side, in several parts of a pass
        (2, 5600, false, 2, true),
    ] {
        let what = format!("{passes} passes, {stations} stations, own slopes {own_slope}, order {order}, repeated seldom {seldom}");
        let rows = Passes::new(passes, stations, own_slope, order, seldom);
        let values = rows.values();
        let matrix = rows.dense();
        let dense = Dense::new(&matrix, &rows.breaks());
        let check =
            |name: &str, runs: f64, single: f64| assert!(agrees(runs, single), "{name} of {what}: {runs} in runs, {single} one by one");

        // least squares: by Householder one by one, and by blocks of runs
        let plain = least_squares(&matrix, &values).unwrap();
        let (sums, single_sums) = (RunSums::of_rows(&rows, &values), RunSums::of_rows(&dense, &values));
        let (fit, dense_fit) = (RunFit::of(&rows, &sums), RunFit::of(&dense, &single_sums));
        check("residual square", fit.residual_square, plain.residual_sum_of_squares());
        check("residual square of dense rows", dense_fit.residual_square, plain.residual_sum_of_squares());
        assert_eq!((fit.dof(), dense_fit.dof()), (plain.dof() as f64, plain.dof() as f64), "{what}");
        for (place, coefficient) in fit.shared.iter().rev().enumerate() {
            check("coefficient", *coefficient, plain.coefficient(matrix.ncols() - 1 - place).unwrap());
        }
        let mut room = fit.basis.scratch();
        for block in 0..rows.blocks() {
            for run in rows.block(block) {
                check("leverage", fit.leverage(&rows, block, run, &mut room), plain.leverage()[rows.readings(run).start]);
            }
        }
        // what values bring to a basis, with it and to it, and the fit without its step of refinement
        let weighed = |run: usize| [rows.count(run) as f64, sums.mean(run)];
        let (basis, brought) = RunBasis::with_values(&rows, &weighed);
        let again = basis.projections(&rows, &|_, run, _| weighed(run));
        for (with, to) in brought.own.iter().flatten().zip(again.own.iter().flatten()).chain(brought.shared.iter().zip(&again.shared)) {
            assert!((with - to).abs() < 1e-11, "projections of {what}: {with} {to}");
        }
        let moved = |run: usize| [weighed(run)[0], weighed(run)[1] + if run == 0 { 1e-6 } else { 0.0 }];
        let other = basis.projections(&rows, &|_, run, _| moved(run));
        assert!((other.own[0][0] - brought.own[0][0]).abs() > 1e-11, "a value moved by 1e-6 is seen");
        let other = RunFit::once(&rows, &moved).fitted(&rows, 0, 0, &mut room);
        assert!((other - fit.fitted(&rows, 0, 0, &mut room)).abs() > 1e-12, "a value moved by 1e-6 is seen");
        let once = RunFit::once(&rows, &weighed);
        for block in 0..rows.blocks() {
            for run in rows.block(block) {
                let refined = fit.fitted(&rows, block, run, &mut room);
                assert!((once.fitted(&rows, block, run, &mut room) - refined).abs() < 1e-12, "fit of {what} in one step");
            }
        }
        for (runs, single) in fit.residuals(&rows, &values).zip(plain.residuals()) {
            assert!((runs - single).abs() < 1e-12, "residual of {what}");
        }

        // order and lack of fit
        let mut pure = PureError::default();
        for run in 0..rows.runs() {
            pure.add_repeats(&[Repeats { count: rows.count(run), weight: 1.0, mean: sums.mean(run), square: sums.square(run) }]);
        }
        let (runs, single) = (pure.against(fit.residual_square, fit.dof()).unwrap(), lack_of_fit(&matrix, &values, &plain).unwrap());
        check("lack of fit", runs.f, single.f);
        check("p of lack of fit", runs.p, single.p);

        // robust
        let (atoms, single_atoms) = (Atoms::of(&rows, &values), Atoms::of(&dense, &values));
        assert!((atoms.len() < single_atoms.len()) != seldom && single_atoms.len() == values.len());
        assert!(atoms.are_short() == seldom && single_atoms.are_short());
        for method in [RobustMethod::HUBER, RobustMethod::TUKEY] {
            let runs = robust_regression(&rows, &values, &atoms, method);
            let single = robust_regression(&dense, &values, &single_atoms, method);
            assert!(runs.settled && single.settled);
            check("robust scale", runs.scale, single.scale);
            let of_dense = single.coefficients.iter().rev().zip(single.standard_errors.iter().rev());
            for ((runs, error), (single, single_error)) in
                runs.coefficients.iter().rev().zip(runs.standard_errors.iter().rev()).zip(of_dense)
            {
                check("robust coefficient", runs.unwrap(), single.unwrap());
                check("robust standard error", error.unwrap(), single_error.unwrap());
            }
        }

        // outliers
        let runs = generalised_esd(&rows, &values, &atoms, &fit, 6, 0.05);
        let alone = generalised_esd(&dense, &values, &single_atoms, &dense_fit, 6, 0.05);
        assert_eq!(runs.outliers, alone.outliers, "{what}");
        assert!(runs.outliers >= 2, "both strays of {what}");
        for (runs, single) in runs.steps.iter().zip(&alone.steps) {
            assert_eq!(values[runs.index], values[single.index], "{what}");
            check("studentised", runs.studentised, single.studentised);
            check("p of the outlier", runs.p, single.p);
        }
        for (runs, single) in runs.deviations.iter().zip(&alone.deviations) {
            check("deviation of the outlier", runs.unwrap(), single.unwrap());
        }

        // autocorrelation
        let serial = durbin_watson(&rows, &fit.basis, fit.residuals(&rows, &values)).unwrap();
        let other = durbin_watson(&dense, &dense_fit.basis, plain.residuals().iter().copied()).unwrap();
        assert_eq!(serial.exact, other.exact);
        check("Durbin–Watson", serial.statistic, other.statistic);
        check("its tail", serial.p_alike, other.p_alike);
        let changes = sign_changes(&rows, &fit.basis, fit.residuals(&rows, &values)).unwrap();
        let other = sign_changes(&dense, &dense_fit.basis, dense_fit.residuals(&dense, &values)).unwrap();
        assert_eq!((changes.pairs, changes.changes), (other.pairs, other.changes), "{what}");
        check("changes expected", changes.expected, other.expected);
        check("their tail", changes.p, other.p);

        // period
        let stations: Vec<f64> = (0..rows.runs()).flat_map(|run| std::iter::repeat_n(rows.run(run).0, rows.count(run))).collect();
        let runs = period_search(&rows, &fit, &sums, |run| Some(rows.run(run).0), 0.5).unwrap();
        let other = period_search(&dense, &dense_fit, &single_sums, |run| stations.get(run).copied(), 0.5).unwrap();
        check("period", runs.period, other.period);
        check("F of the period", runs.f, other.f);
        check("false alarm", runs.false_alarm, other.false_alarm);

        // normality and equal spread
        let scaled: Vec<f64> = plain.residuals().iter().zip(plain.leverage()).map(|(e, h)| e / (1.0 - h).sqrt()).collect();
        let of_run = |block: usize, run: usize, room: &mut Vec<f64>| -> Vec<(f64, f64)> {
            let fitted = fit.fitted(&rows, block, run, room);
            let root = (1.0 - fit.leverage(&rows, block, run, room)).sqrt();
            atoms.run(run).map(|(value, count)| ((value - fitted) / root, count)).collect()
        };
        let (mut all, mut spread) = (Vec::new(), EqualSpread::default());
        for block in 0..rows.blocks() {
            let mut group: Vec<(f64, f64)> = rows.block(block).flat_map(|run| of_run(block, run, &mut room)).collect();
            all.extend(group.clone());
            spread.add(&mut group);
        }
        let (runs, single) = (anderson_darling_counted(&mut all).unwrap(), anderson_darling(&scaled).unwrap());
        check("Anderson–Darling", runs.statistic, single.statistic);
        check("its tail", runs.p, single.p);
        let ends = rows.breaks();
        let groups: Vec<Vec<f64>> =
            ends.iter().zip(std::iter::once(&0).chain(&ends)).map(|(end, start)| scaled[*start..*end].to_vec()).collect();
        check("equal spread", spread.test().unwrap().f, brown_forsythe(&groups).unwrap().f);

        // the mixed model
        let mut terms = Terms::zeros();
        terms[(0, 0)] = 1.0;
        terms[(1, 1)] = 1.0;
        let z = |run: usize| [rows.run(run).0, legendre_values(2, rows.run(run).0)[2]];
        let reduced: Vec<Group> = (0..rows.blocks())
            .map(|block| {
                let row = |run: usize| {
                    let count = rows.count(run) as f64;
                    Repeated { z: z(run), mean: sums.mean(run), weight: count, count, square: sums.square(run) }
                };
                Group::repeated(&rows.block(block).map(row).collect::<Vec<_>>(), terms)
            })
            .collect();
        let whole: Vec<Group> = (0..rows.blocks())
            .map(|block| {
                let single: Vec<_> = rows.block(block).flat_map(|run| rows.readings(run).map(move |place| (run, place))).collect();
                Group::centred(&single.iter().map(|(run, place)| (z(*run), values[*place], 1.0)).collect::<Vec<_>>(), terms)
            })
            .collect();
        let structures = [Matrix2::new(1.0, 0.0, 0.0, 0.0), Matrix2::new(0.0, 0.0, 0.0, 1.0)];
        let reml = |groups: &[Group]| fit_reml(groups, 2, &structures, None, &[1e-5, 1e-6, 1e-6]).unwrap();
        let (runs, single) = (reml(&reduced), reml(&whole));
        check("noise by REML", runs.sigma_square, single.sigma_square);
        check("slope by REML", runs.evaluation.coefficients[0], single.evaluation.coefficients[0]);
        check("bend by REML", runs.evaluation.coefficients[1], single.evaluation.coefficients[1]);
        check("its variance", runs.covariance()[(0, 0)], single.covariance()[(0, 0)]);
    }
}
