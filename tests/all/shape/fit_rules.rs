//! Rules of the fit at their thresholds, and what follows from them by hand: noise, spread between passes, directions, plain intervals.

use super::bench_log::{Normals, reading, trial};
use taperwright::shape::{NoiseSource, Shape, SpreadSource, TaperFit, fit_setting, fit_shapes, taper_uncertainty};
use taperwright::trial::{DiameterReading, Direction, Trial};

const H: Direction = Direction::ToHeadstock;
const T: Direction = Direction::ToTailstock;

/// Passes, each a direction and its readings (station, diameter), mm.
pub fn passes(all: &[(Direction, &[(f64, f64)])]) -> Vec<DiameterReading> {
    let mut readings = Vec::new();
    for (number, (direction, rows)) in (1..).zip(all) {
        for (station, diameter) in *rows {
            readings.push(reading(readings.len() as u64 + 2, number, *direction, *station, *diameter));
        }
    }
    readings
}

/// `stations` stations 20 mm apart, diameters on a line with a scatter of `scatter_mm`, rounded to `step_mm`.
fn one_pass(stations: u32, scatter_mm: f64, step_mm: f64) -> Trial {
    let mut normals = Normals::new(77, u64::from(stations));
    let value = |i: u32| 50.0 + 0.003 * f64::from(i) + scatter_mm * normals.draw();
    let rows: Vec<(f64, f64)> =
        (0..stations).map(|i| 20.0 * f64::from(i)).zip((0..stations).map(value).map(|v| (v / step_mm).round() * step_mm)).collect();
    trial(passes(&[(H, &rows)]), step_mm)
}

pub fn fit(trial: &Trial) -> TaperFit {
    fit_setting(trial, 0).unwrap()
}

pub fn shape(trial: &Trial) -> Shape {
    fit_shapes(trial, 1, 0).shapes.remove(0)
}

#[track_caller]
pub fn close(found: f64, expected: f64, tolerance: f64) {
    let near = |v: f64| (v - expected).abs() <= tolerance;
    assert!(near(found), "{found} for {expected}");
    assert!(!near(expected + 2.0 * tolerance), "the comparison accepts anything");
}

/// Eight degrees of freedom within the passes tell how readings scatter; fewer need the data sheet beside them, worth
/// 1/(2 ln² 1.5) = 3.041 of them; rounding that hides the scatter leaves the data sheet alone.
#[test]
fn where_the_noise_is_known_from() {
    let log = fit(&one_pass(11, 0.002, 1e-6));
    assert_eq!((log.noise, log.within_dof, log.prior_dof), (NoiseSource::Log, 8.0, 0.0));
    let both = fit(&one_pass(10, 0.002, 1e-6));
    assert_eq!((both.noise, both.within_dof), (NoiseSource::LogAndDataSheet, 7.0));
    close(both.prior_dof, 3.041_3, 1e-4);
    // a scatter of 1 µm below a rounding of 20/√12 = 5.8 µm: two degrees of freedom say so, one does not
    let rows = |all: &[f64]| trial(passes(&[(H, &(0..).map(|i| 20.0 * f64::from(i)).zip(all.iter().copied()).collect::<Vec<_>>())]), 0.02);
    let hidden = fit(&rows(&[50.0, 50.001, 50.0, 50.001, 50.0]));
    assert_eq!((hidden.noise, hidden.within_dof, hidden.prior_dof), (NoiseSource::DataSheet, 2.0, 0.0));
    close(hidden.sigma_mm, 0.002, 2e-4);
    let one = fit(&rows(&[50.0, 50.001, 50.0, 50.001]));
    assert_eq!((one.noise, one.within_dof), (NoiseSource::LogAndDataSheet, 1.0));
    assert_eq!(fit(&rows(&[50.0; 4])).noise, NoiseSource::DataSheet, "no scatter at all");
    assert_eq!(fit(&rows(&[50.0; 2])).noise, NoiseSource::DataSheet, "nothing but equal readings");
    assert_eq!(fit(&rows(&[50.0, 50.001])).noise, NoiseSource::LogAndDataSheet);
}

/// Five passes of one direction, or six in two, give the spread between passes; fewer lean on its prior, one pass on nothing else.
#[test]
fn where_the_spread_is_known_from() {
    let rows = |pass: u32| -> Vec<(f64, f64)> {
        (0..5)
            .map(|i| (50.0 * f64::from(i), 50.0 + 0.001 * f64::from((i * i + 3 * i * pass) % 7) + 0.004 * f64::from(i * (pass % 3))))
            .collect()
    };
    let source = |one_way: u32, back: u32| {
        let all: Vec<Vec<(f64, f64)>> = (0..one_way + back).map(rows).collect();
        let listed: Vec<(Direction, &[(f64, f64)])> =
            all.iter().enumerate().map(|(i, rows)| (if (i as u32) < one_way { H } else { T }, rows.as_slice())).collect();
        let fit = fit(&trial(passes(&listed), 1e-6));
        // Σx² of −1, −½, 0, ½, 1 is 2.5: the slope's standard error of a pass is σ/√2.5; the prior's scale is twice that, of the taper four times.
        match fit.spread.prior_scale_mm {
            Some(scale) => close(scale / fit.sigma_mm, 4.0 / 2.5_f64.sqrt(), 1e-9),
            None => assert_eq!(fit.spread.source, SpreadSource::Estimated),
        }
        let (within, between) = (fit.spread.within_standard_error_mm, fit.spread.between_standard_error_mm);
        close(within.hypot(between) / fit.taper.standard_error, 1.0, 1e-9);
        close(within / fit.taper.standard_error, fit.taper.within_share.sqrt(), 1e-9);
        (fit.spread.source, fit.between_pass_mm.is_some())
    };
    use SpreadSource::{Estimated, Prior, PriorAndPasses};
    assert_eq!(
        [source(5, 0), source(4, 0), source(2, 0), source(1, 0)],
        [(Estimated, true), (PriorAndPasses, true), (PriorAndPasses, true), (Prior, false)]
    );
    assert_eq!(
        [source(3, 3), source(3, 2), source(2, 1), source(1, 1)],
        [(Estimated, true), (PriorAndPasses, true), (PriorAndPasses, true), (Prior, false)]
    );
}

/// Repeated passes: the mean of their own tapers with the t interval of those. Tapers of exact parabolas: 10, 14 and 24 µm one way, 30 and 36 the other.
#[test]
fn plain_interval_of_repeated_passes() {
    let parabola = |taper: f64| -> Vec<(f64, f64)> {
        [-1.0_f64, -0.4, 0.0, 0.3, 1.0].iter().map(|x| (100.0 + 100.0 * x, 50.0 + 0.0005 * taper * x - 0.003 * x * x)).collect()
    };
    let (a, b, c, d, e) = (parabola(10.0), parabola(14.0), parabola(24.0), parabola(30.0), parabola(36.0));
    let three = fit(&trial(passes(&[(H, &a), (H, &b), (H, &c)]), 1e-6));
    let plain = three.plain_t.unwrap();
    // mean 16, standard deviation √52, t(2) = 4.302653
    close(0.5 * (plain.low + plain.high), 0.016, 1e-12);
    close(plain.half_width(), 0.001 * 4.302_653 * (52.0_f64 / 3.0).sqrt(), 1e-8);
    let both = fit(&trial(passes(&[(H, &a), (T, &d), (H, &b), (T, &e), (H, &c)]), 1e-6));
    let plain = both.plain_t.unwrap();
    // means 16 and 33; pooled variance (104 + 18)/3; of the mean of both it counts (1/3 + 1/2)/4; t(3) = 3.182446
    close(0.5 * (plain.low + plain.high), 0.024_5, 1e-12);
    close(plain.half_width(), 0.001 * 3.182_446 * (122.0_f64 / 3.0 * (1.0 / 3.0 + 0.5) / 4.0).sqrt(), 1e-8);
    for (pass, (taper, error)) in [10.0, 30.0, 14.0, 36.0, 24.0].iter().zip(both.pass_tapers.iter().map(|own| own.unwrap())) {
        close(taper, 0.001 * pass, 1e-9);
        // Σ(x − x̄)² and the like by hand: the slope's error beside a bend on −1, −0.4, 0, 0.3, 1
        close(error / both.sigma_mm, 2.0 * 0.666_972, 2e-6);
    }
    assert_eq!(both.by_direction.iter().map(|way| (way.0, way.1)).collect::<Vec<_>>(), [(H, 3), (T, 2)]);
    assert!(both.barrel_by_direction && both.direction_difference.is_some() && !fit(&trial(passes(&[(H, &a)]), 1e-6)).barrel_by_direction);
}

/// One pass: pooled least squares with its own scatter. Residuals of +1, −4, +6, −4, +1 µm are orthogonal to lines and parabolas.
#[test]
fn plain_interval_of_one_pass() {
    let error = [1.0, -4.0, 6.0, -4.0, 1.0];
    let rows: Vec<(f64, f64)> =
        error.iter().enumerate().map(|(i, e)| (50.0 * i as f64, 50.0 + 0.006 * (0.5 * i as f64 - 1.0) + 0.001 * e)).collect();
    let plain = fit(&trial(passes(&[(H, &rows)]), 1e-6)).plain_t.unwrap();
    close(0.5 * (plain.low + plain.high), 0.012, 1e-12);
    // 70 µm² on two degrees of freedom, Σx² = 2.5, t(2) = 4.302653
    close(plain.half_width(), 2.0 * 0.001 * (35.0_f64 / 2.5).sqrt() * 4.302_653, 1e-7);
    assert_eq!(fit(&trial(passes(&[(H, &rows[..3])]), 1e-6)).plain_t, None, "three stations of one pass leave nothing");
    let two = fit(&trial(passes(&[(H, &[(0.0, 50.0), (0.0, 50.002), (100.0, 50.01), (100.0, 50.012)])]), 1e-6));
    // twice ±1 µm about two means: 4 µm² on two degrees of freedom; a difference of two means of two
    close(two.plain_t.unwrap().half_width(), 0.001 * 2.0_f64.sqrt() * 4.302_653, 1e-8);
}

/// Passes with one station say nothing of the taper; with two, nothing of a bend of their own.
#[test]
fn passes_with_few_stations() {
    let full = [(0.0, 50.0), (50.0, 50.004), (100.0, 50.007), (200.0, 50.02)];
    let lone = fit(&trial(passes(&[(H, &full), (T, &[(100.0, 50.0)])]), 1e-6));
    assert_eq!((lone.lost_directions.as_slice(), lone.by_direction.len(), lone.pass_tapers[1]), ([T].as_slice(), 1, None));
    assert!(lone.direction_difference.is_none() && lone.pass_tapers[0].is_some());
    let warned = fit_shapes(&trial(passes(&[(H, &full), (T, &[(100.0, 50.0)])]), 1e-6), 1, 0);
    assert!(warned.warnings.iter().any(|w| w.contains("passes cut to the tailstock have one station each")), "{:?}", warned.warnings);
    // the pass with one station is in the log and says nothing of taper, residuals and influence
    let (with, without) = (&warned.shapes[0], shape(&trial(passes(&[(H, &full)]), 1e-6)));
    assert_eq!((with.passes_in_shape, with.readings, without.readings), (2, 5, 4));
    close(with.taper.value, without.taper.value, 1e-12);
    close(with.taper.standard_error, without.taper.standard_error, 1e-12);
    let direction = &with.tests[2];
    assert!(direction.p.is_none() && direction.interpretation.contains("one direction have no slope"), "{direction:?}");
    let lone_point = with.points.iter().find(|point| point.pass == 2).unwrap();
    assert!(lone_point.residual_mm.abs() < 1e-12 && lone_point.studentised.is_none() && (lone_point.leverage - 1.0).abs() < 1e-9);
    let ends = [(0.0, 50.0), (200.0, 50.03)];
    let two = fit(&trial(passes(&[(H, &full), (T, &ends)]), 1e-6));
    assert!(!two.barrel_by_direction && two.barrel.is_some() && two.plain_t.is_none());
    let (taper, error) = two.pass_tapers[1].unwrap();
    // between −1 and 1: Σ(x − x̄)² = 2
    close(taper, 0.03, 1e-12);
    close(error, 2.0 * two.sigma_mm / 2.0_f64.sqrt(), 1e-12);
    let neither = trial(passes(&[(H, &[(0.0, 50.0)]), (H, &[(100.0, 50.0)])]), 1e-6);
    assert!(fit_setting(&neither, 0).is_none() && taper_uncertainty(&neither, 0).is_none());
    let outcome = fit_shapes(&neither, 1, 0);
    assert!(outcome.shapes.is_empty() && outcome.findings[0].code == "no-shape");
}

/// With three stations the bend is fitted, with two it is not; what the log cannot tell is said for each.
#[test]
fn what_the_log_cannot_tell() {
    let rows = |count: u32| -> Vec<(f64, f64)> { (0..count).map(|i| (30.0 * f64::from(i), 50.0 + 0.002 * f64::from(i * i % 5))).collect() };
    let told = |log: &Trial| {
        let shape = shape(log);
        let says = |words: &str| shape.cannot_tell.iter().any(|sentence| sentence.contains(words));
        let all = [
            "Two stations cannot",
            "Three stations give",
            "not in this log",
            "These few passes",
            "data sheet is used beside",
            "Rounding hides",
            "finishing passes were cut one way",
        ];
        (all.map(says), shape.barrel.is_some(), shape.order)
    };
    let one = |count: u32| trial(passes(&[(H, &rows(count))]), 1e-6);
    assert_eq!(told(&one(2)), ([true, false, true, false, true, false, true], false, 1));
    assert_eq!(told(&one(3)), ([false, true, true, false, true, false, true], true, 1));
    assert_eq!(told(&one(4)).0, [false, false, true, false, true, false, true]);
    let long = rows(12);
    assert_eq!(told(&trial(passes(&[(H, &long), (T, &long)]), 1e-6)).0, [false, false, true, false, false, false, false]);
    assert_eq!(told(&trial(passes(&[(H, &long), (T, &long), (T, &long)]), 1e-6)).0, [false, false, false, true, false, false, false]);
    assert_eq!(told(&trial(passes(&[(H, &long), (H, &long)]), 0.1)).0, [false, false, false, true, false, true, true]);
    let five: Vec<(Direction, &[(f64, f64)])> = (0..5).map(|_| (H, long.as_slice())).collect();
    assert_eq!(told(&trial(passes(&five), 1e-6)).0, [false, false, false, false, false, false, true]);
}
