//! Where the search for a period begins and ends, what it passes over, and what blocks take up, against sines joined to dense rows.

use super::layout::Layout;
use super::tolerances::{Tolerance, assert_near};
use nalgebra::DMatrix;
use std::f64::consts::TAU;
use std::ops::Range;
use taperwright::statistics::{Dense, Period, RunFit, RunRows, RunSums, least_squares, nested_f_test, period_search};

const NEAR: Tolerance = Tolerance::Relative(1e-9);

/// What the tests below compare with: a dense design, its values and places counted from the first.
struct Log {
    design: DMatrix<f64>,
    values: Vec<f64>,
    places: Vec<f64>,
}

impl Log {
    /// A level, and a column of each of `others` at the places.
    fn new(places: &[f64], others: &[&dyn Fn(f64) -> f64], value: impl Fn(f64) -> f64) -> Self {
        let noise = |i: usize| 0.05 * ((i * i * 37 + i * 7919 + 13) % 101) as f64 / 101.0;
        let column = |i: usize, j: usize| if j == 0 { 1.0 } else { others[j - 1](places[i] - places[0]) };
        Self {
            design: DMatrix::from_fn(places.len(), others.len() + 1, column),
            values: places.iter().enumerate().map(|(i, z)| value(z - places[0]) + noise(i)).collect(),
            places: places.to_vec(),
        }
    }

    fn search(&self, shortest: f64) -> Option<Period> {
        let rows = Dense::new(&self.design, &[]);
        let sums = RunSums::of_rows(&rows, &self.values);
        period_search(&rows, &RunFit::of(&rows, &sums), &sums, |run| self.places.get(run).copied(), shortest)
    }

    /// F, amplitude and phase of a sine and cosine joined to the design.
    fn with_sine(&self, frequency: f64) -> [f64; 3] {
        let own = self.design.ncols();
        let wide = DMatrix::from_fn(self.places.len(), own + 2, |i, j| match j.checked_sub(own) {
            None => self.design[(i, j)],
            Some(k) => {
                let turn = TAU * frequency * (self.places[i] - self.places[0]);
                if k == 0 { turn.cos() } else { turn.sin() }
            }
        });
        let fit = least_squares(&wide, &self.values).unwrap();
        let [cosine, sine] = [0, 1].map(|k| fit.coefficient(own + k).unwrap());
        let f = nested_f_test(&least_squares(&self.design, &self.values).unwrap(), &fit).unwrap().f;
        [f, cosine.hypot(sine), sine.atan2(cosine)]
    }

    fn compare(&self, found: &Period) {
        let [f, amplitude, phase] = self.with_sine(1.0 / found.period);
        assert_near("F", found.f, f, NEAR);
        assert_near("amplitude", found.amplitude, amplitude, NEAR);
        assert_near("phase", found.phase, phase, NEAR);
        assert!(!NEAR.accepts(found.f, f * (1.0 + 1e-8)) && !NEAR.accepts(found.phase, phase + 1e-6));
    }
}

fn wave(frequency: f64, phase: f64) -> impl Fn(f64) -> f64 {
    move |z: f64| (TAU * frequency * z + phase).cos()
}

/// Length 8 and shortest period 4: frequencies 1/8 to 1/4 in steps of 1/64, all in binary. Waves beyond either end are best told at that end itself.
#[test]
fn both_ends_are_looked_at() {
    let places: Vec<f64> = (0..17).map(|i| 0.5 * f64::from(i)).collect();
    let short = Log::new(&places, &[], wave(0.27, 0.3)).search(4.0).unwrap();
    assert_eq!((short.period, short.shortest), (4.0, 4.0));
    let far = Log::new(&places, &[], wave(0.4, 0.3)).search(4.0).unwrap();
    assert!(far.period >= 4.0, "{far:?}");
    let long = Log::new(&places, &[], wave(0.1, 1.2)).search(4.0).unwrap();
    assert_eq!(long.period, 8.0);
    let log = Log::new(&places, &[], wave(0.27, 0.3));
    log.compare(&short);
    for step in 0..=1000 {
        let frequency = 0.125 + 0.125 * f64::from(step) / 1000.0;
        assert!(log.with_sine(frequency)[0] <= short.f * (1.0 + 1e-9), "{frequency}");
    }
    // one frequency only, that of the whole length
    let one = log.search(8.0).unwrap();
    assert_eq!((one.period, log.search(8.5)), (8.0, None));
}

/// Forty waves' widths to search, a strong wave between the places of coarser steps and a weak one on them; places count from the first, and the shortest period
/// is told as asked for where it is below 1.
#[test]
fn the_strongest_of_two_waves_is_found_between_coarse_steps() {
    let places: Vec<f64> = (0..=160).map(|i| 100.0 + 0.25 * f64::from(i)).collect();
    let value = |z: f64| wave(37.3 / 40.0, 0.5)(z) + 0.4 * wave(17.0 / 40.0, 2.0)(z);
    let log = Log::new(&places, &[], value);
    let found = log.search(40.0 / 41.0).unwrap();
    assert_near("period", found.period, 40.0 / 37.3, Tolerance::Relative(1e-3));
    assert_near("amplitude", found.amplitude, 1.0, Tolerance::Absolute(0.02));
    assert_near("phase", found.phase, -0.5, Tolerance::Absolute(0.05));
    assert_near("shortest", found.shortest, 40.0 / 41.0, Tolerance::Relative(1e-12));
    log.compare(&found);
}

/// Three degrees of freedom leave one beside a sine, two leave none. Of noise the false alarm is that of Baluev's formula, away from 0 and from 1.
#[test]
fn the_fewest_degrees_of_freedom() {
    let places = |n: u32| (0..n).map(f64::from).collect::<Vec<_>>();
    let five = Log::new(&places(5), &[&|z| z], |z| [0.0, 0.9, -0.4, 0.8, 0.1][z as usize]);
    // the one frequency that is searched: of several, one would go through all five
    let found = five.search(4.0).unwrap();
    assert_eq!((found.dof2, found.period), (1.0, 4.0));
    five.compare(&found);
    let four = Log::new(&places(4), &[&|z| z], |z| [0.0, 0.9, -0.4, 0.8][z as usize]);
    assert_eq!(four.search(3.0), None);
    let noise = Log::new(&places(20), &[], |_| 0.0);
    let found = noise.search(4.0).unwrap();
    noise.compare(&found);
    let (p, m) = (found.p_single, found.independent_frequencies);
    assert!((0.01..0.5).contains(&p) && (0.05..0.95).contains(&found.false_alarm), "{found:?}");
    assert_near("false alarm", found.false_alarm, 1.0 - (1.0 - p) * (-m * p).exp(), Tolerance::Relative(1e-12));
    assert!(!Tolerance::Relative(1e-12).accepts(found.false_alarm, 1.0 - (1.0 + p) * (-m * p).exp()));
}

/// A fit that holds a sine of frequency `f₀` says nothing near it: where a sine and a cosine keep less than a ten-thousandth of the determinant that they have alone,
/// `(n/2)²`. `f₀` lies 0.37 of a step beyond one frequency of the search, which keeps half of that, and 0.63 before the next, which keeps four times that.
#[test]
fn a_wave_that_the_fit_holds_is_passed_over() {
    let places: Vec<f64> = (0..81).map(|i| 0.1 * f64::from(i)).collect();
    let step = 1.0 / 64.0;
    let at = |k: f64| 0.125 + step * k;
    let held = TAU * at(11.37);
    let log = Log::new(&places, &[&|z| (held * z).cos(), &|z| (held * z).sin()], |z| (z - 4.0) * (held * z + 0.4).cos());
    let kept = |frequency: f64| {
        let own: [f64; 3] = [(0, 0), (0, 1), (1, 1)].map(|(a, b)| {
            let of = |k: usize| -> Vec<f64> {
                let sine = |z: &f64| if k == 0 { (TAU * frequency * z).cos() } else { (TAU * frequency * z).sin() };
                least_squares(&log.design, &places.iter().map(sine).collect::<Vec<_>>()).unwrap().residuals().to_vec()
            };
            of(a).iter().zip(of(b)).map(|(a, b)| a * b).sum()
        });
        (own[0] * own[2] - own[1] * own[1]) / 40.5_f64.powi(2)
    };
    assert!((4e-5..6e-5).contains(&kept(at(11.0))) && (3.8e-4..4.6e-4).contains(&kept(at(12.0))), "{} {}", kept(at(11.0)), kept(at(12.0)));
    let found = log.search(2.0).unwrap();
    assert_near("frequency", 1.0 / found.period, at(12.0), Tolerance::Relative(1e-12));
    assert!(log.with_sine(at(11.0))[0] > found.f, "what is passed over would be the strongest");
    log.compare(&found);
}

/// Rows whose blocks have a slope each of their own, and a level or none.
struct Sloped<R> {
    rows: R,
    level: bool,
}

impl<R: RunRows> RunRows for Sloped<R> {
    fn runs(&self) -> usize {
        self.rows.runs()
    }
    fn readings(&self, run: usize) -> Range<usize> {
        self.rows.readings(run)
    }
    fn weight(&self, run: usize) -> f64 {
        self.rows.weight(run)
    }
    fn blocks(&self) -> usize {
        self.rows.blocks()
    }
    fn block(&self, block: usize) -> Range<usize> {
        self.rows.block(block)
    }
    fn own_level(&self) -> bool {
        self.level
    }
    fn own_slope(&self) -> bool {
        true
    }
    fn columns(&self) -> usize {
        self.rows.columns()
    }
    fn row(&self, block: usize, run: usize, into: &mut [f64]) {
        self.rows.row(block, run, into);
    }
}

/// Blocks read at the same places as often, and others: levels, slopes, both, or slopes alone.
#[test]
fn alike_and_unlike_blocks_take_up_what_they_do_one_by_one() {
    let runs = |shift: usize| (0..9).filter(|k| (k + shift) % 4 != 3).map(|k| (k as f64 / 4.0 - 1.0, 1 + (k + shift) % 2, 1.0)).collect();
    let blocks: Vec<Vec<(f64, usize, f64)>> = [0, 1, 0, 0, 2].map(runs).to_vec();
    let layout = |own_slope: bool| Layout { blocks: blocks.clone(), own_slope };
    let compare = |rows: &dyn Fn() -> (RunFit, Period), design: DMatrix<f64>, values: Vec<f64>, places: Vec<f64>| {
        let (fit, found) = rows();
        let log = Log { design, values, places };
        assert_near(
            "residual square",
            fit.residual_square,
            least_squares(&log.design, &log.values).unwrap().residual_sum_of_squares(),
            NEAR,
        );
        log.compare(&found);
        for step in 0..=60 {
            let frequency = 0.5 + f64::from(step) / 60.0;
            assert!(log.with_sine(frequency)[0] <= found.f * (1.0 + 1e-9), "{frequency}");
        }
    };
    let places: Vec<f64> = blocks.iter().flatten().flat_map(|run| std::iter::repeat_n(run.0, run.1)).collect();
    for own_slope in [false, true] {
        let rows = layout(own_slope);
        let values = rows.values();
        let search = || {
            let sums = RunSums::of_rows(&rows, &values);
            let fit = RunFit::of(&rows, &sums);
            let found = period_search(&rows, &fit, &sums, |run| Some(rows.at(run).0), 2.0 / 3.0).unwrap();
            (fit, found)
        };
        compare(&search, rows.dense().0, values.clone(), places.clone());
    }
    let rows = Sloped { rows: layout(true), level: false };
    let values = rows.rows.values();
    let search = || {
        let sums = RunSums::of_rows(&rows, &values);
        let fit = RunFit::of(&rows, &sums);
        let found = period_search(&rows, &fit, &sums, |run| Some(rows.rows.at(run).0), 2.0 / 3.0).unwrap();
        (fit, found)
    };
    let design = rows.rows.dense().0;
    compare(&search, design.columns(rows.blocks(), design.ncols() - rows.blocks()).into_owned(), values.clone(), places);
}

/// Blocks with slopes of their own on a column that is not the same at one position cannot be summed by position: nothing is found, where the same column by position is searched.
#[test]
fn a_column_of_slopes_is_a_matter_of_the_position() {
    let position = |run: usize| (run % 20) as f64;
    let values: Vec<f64> = (0..40).map(|run| (1.3 * position(run)).sin() + 0.1 * ((run * 31 % 17) as f64)).collect();
    for (shift, found) in [(0.0, true), (1e-3, false)] {
        let design = DMatrix::from_fn(40, 1, |run, _| position(run) + if run >= 20 { shift } else { 0.0 });
        let rows = Sloped { rows: Dense::new(&design, &[20]), level: true };
        let sums = RunSums::of_rows(&rows, &values);
        let fit = RunFit::of(&rows, &sums);
        assert_eq!(period_search(&rows, &fit, &sums, |run| Some(position(run)), 2.0).is_some(), found, "{shift}");
    }
}

/// A strong wave a little shorter than the shortest period asked for is not looked at, however many frequencies are; asked for, it is found.
#[test]
fn nothing_shorter_than_asked_for_is_found() {
    let places: Vec<f64> = (0..200).map(f64::from).collect();
    let log = Log::new(&places, &[&|z| z], |z| (TAU * z / 9.9).sin());
    let (without, with) = (log.search(10.0).unwrap(), log.search(9.0).unwrap());
    assert!(without.period >= 10.0 - 1e-9, "{}", without.period);
    assert!((with.period - 9.9).abs() < 0.05 && with.f > without.f, "{}", with.period);
}
