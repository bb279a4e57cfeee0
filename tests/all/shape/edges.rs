//! Logs at the very edge of a rule, and passes that say less than others.

use super::bench_log::trial;
use super::fit_rules::{close, fit, passes, shape};
use taperwright::shape::{NoiseSource, Shape, ShapeTest, fit_shapes};
use taperwright::trial::{Direction, Trial};

const H: Direction = Direction::ToHeadstock;
const T: Direction = Direction::ToTailstock;

/// Passes with readings (station mm, µm above `diameter` mm), of a gauge that reads to a nanometre.
fn log_of(diameter: f64, all: &[(Direction, &[(f64, f64)])]) -> Trial {
    let rows: Vec<Vec<(f64, f64)>> = all.iter().map(|(_, rows)| rows.iter().map(|r| (r.0, diameter + 1e-3 * r.1)).collect()).collect();
    trial(passes(&all.iter().zip(&rows).map(|((way, _), rows)| (*way, rows.as_slice())).collect::<Vec<_>>()), 1e-6)
}

fn test<'a>(shape: &'a Shape, name: &str) -> &'a ShapeTest {
    shape.tests.iter().find(|t| t.name == name).unwrap()
}

fn made(shape: &Shape, name: &str) -> bool {
    test(shape, name).statistic.is_some()
}

/// A pass of even stations 50 mm apart.
fn even(um: &[f64]) -> Vec<(f64, f64)> {
    (0..).map(|i| 50.0 * f64::from(i)).zip(um.iter().copied()).collect()
}

/// A scatter of 0.676 µm: 0, 1, 0, 1, 0 µm have the square 1.2 about their mean and 2²/14 less about a parabola, on two degrees of freedom. It is hidden by steps from
/// 0.676·√12 = 2.34 µm on. Readings that agree exactly have no scatter, however fine the gauge.
#[test]
fn steps_that_hide_the_scatter() {
    let with = |step_mm: f64| {
        let mut log = log_of(50.0, &[(H, &even(&[0.0, 1.0, 0.0, 1.0, 0.0]))]);
        log.gauge.diameter.resolution_mm = step_mm;
        fit(&log).noise
    };
    assert_eq!([0.002_3, 0.002_4].map(with), [NoiseSource::LogAndDataSheet, NoiseSource::DataSheet]);
    let exact = |um: f64| {
        let mut log = log_of(32.0, &[(H, &[(0.0, 0.0), (0.0, um), (100.0, 15.625), (100.0, 15.625)])]);
        log.gauge.diameter.resolution_mm = 0.0;
        fit(&log).noise
    };
    assert_eq!([0.0, 0.01].map(exact), [NoiseSource::DataSheet, NoiseSource::LogAndDataSheet]);
}

/// Directions by the t test of two samples, which the mixed model is for balanced passes: tapers of 10, 14, 24 and of 12, 22, 20 µm have means 2 apart, a variance of
/// (104 + 56)/4 and so t² = 4/(40·2/3) = 0.15 with four degrees of freedom, p = 0.71826.
#[test]
fn directions_that_do_not_differ() {
    let line = |taper: f64| even(&[0.0, 0.25, 0.5, 0.75, 1.0].map(|share| taper * share));
    let all = [10.0, 12.0, 14.0, 22.0, 24.0, 20.0].map(line);
    let rows: Vec<(Direction, &[(f64, f64)])> =
        all.iter().zip([H, T].into_iter().cycle()).map(|(rows, way)| (way, rows.as_slice())).collect();
    let found = shape(&log_of(50.0, &rows));
    let direction = test(&found, "direction");
    close(direction.statistic.unwrap(), 0.15, 1e-6);
    close(direction.p.unwrap(), 0.718_26, 1e-5);
    assert!(direction.interpretation.contains("does not differ between the directions"), "{direction:?}");
    let one_way = shape(&log_of(50.0, &[(H, &all[0]), (H, &all[1])]));
    assert!(test(&one_way, "direction").interpretation.contains("all finishing passes were cut one way"));
}

/// A pass with one station, wherever it lies, has no slope, no influence and no curve of its own; the other passes' numbers stay.
#[test]
fn a_pass_with_one_station() {
    let full = even(&[0.0, 4.0, 7.0, 12.0, 20.0]);
    let without = shape(&log_of(50.0, &[(H, &full)]));
    for way in [H, T] {
        let with = shape(&log_of(50.0, &[(H, &full), (way, &[(50.0, 3.0)])]));
        close(with.taper.value, without.taper.value, 1e-12);
        let lone = with.points.iter().find(|point| point.pass == 2).unwrap();
        assert!(lone.cook.is_none() && lone.studentised.is_none() && with.readings == 6, "{lone:?}");
        let scale = |shape: &Shape| shape.spread.prior_scale_mm.unwrap() / shape.repeatability;
        close(scale(&with) / scale(&without), 1.0, 1e-9);
        // two stations nearer than rounding, 0.7 thousand-millionths of the length apart, are one
        let near = shape(&log_of(50.0, &[(H, &full), (way, &[(50.0, 3.0), (50.0 + 1.4e-7, 5.0)])]));
        close(near.taper.value, without.taper.value, 1e-9);
    }
    // slopes of their own need one in every pass
    let unlike = |taper: f64, e: f64| [(0.0, e), (50.0, 0.5 * taper - 2.0 * e), (100.0, taper + e)];
    let (a, b, c) = (unlike(0.0, 0.1), unlike(400.0, -0.1), unlike(900.0, 0.2));
    assert!(shape(&log_of(50.0, &[(H, &a), (H, &b), (H, &c)])).slope_by_pass);
    assert!(!shape(&log_of(50.0, &[(H, &a), (H, &b), (H, &c), (H, &[(50.0, 1.0)])])).slope_by_pass);
}

/// Three readings at one station are two degrees of freedom of scatter and no taper, though three times its place by three may be another number. Two passes between
/// −1 and 1 with 10 and 14 µm: mean 12, t(1) = 12.7062 times √(8/2); Σ(x − x̄)² = 2 makes the prior's scale 4/√2 of σ.
#[test]
fn one_station_read_three_times() {
    let thrice = [(1.0, 0.0), (1.0, 2.0), (1.0, 1.0)];
    let found = fit(&log_of(50.0, &[(H, &[(0.0, 0.0), (200.0, 10.0)]), (H, &[(0.0, 0.0), (200.0, 14.0)]), (H, &thrice)]));
    close(found.within_dof, 2.0, 1e-12);
    let plain = found.plain_t.unwrap();
    close(0.5 * (plain.low + plain.high), 0.012, 1e-12);
    close(plain.half_width(), 0.001 * 12.706_205 * 2.0, 1e-8);
    close(found.spread.prior_scale_mm.unwrap() / found.sigma_mm, 4.0 / 2.0_f64.sqrt(), 1e-9);
    assert!(found.barrel.is_none() && found.pass_tapers[2].is_none() && found.pass_tapers[1].is_some());
}

/// A straight line through two stations: the band at its ends is half of the taper's interval, and nothing in the middle.
#[test]
fn the_band_of_two_stations() {
    let found = shape(&log_of(50.0, &[(H, &[(0.0, 0.0), (200.0, 10.0)])]));
    for (place, share) in [(0, 0.5), (15, 0.25), (30, 0.0), (60, 0.5)] {
        close(found.curve[place].band.half_width() / found.taper.fit_interval95.half_width(), share, 1e-9);
    }
}

/// Residuals of readings that all differ ten or a hundred times as much are studentised to the same numbers.
#[test]
fn studentised_residuals_have_no_unit() {
    let um = [0.7, -1.1, 0.4, 1.3, -0.9, -0.2, 1.0, -1.2];
    let of = |factor: f64| -> Vec<f64> {
        shape(&log_of(40.0, &[(H, &even(&um.map(|v| factor * v)))])).points.iter().map(|p| p.studentised.unwrap()).collect()
    };
    let whole = of(1.0);
    for factor in [0.1, 0.01, 100.0] {
        of(factor).iter().zip(&whole).for_each(|(found, wanted)| close(*found, *wanted, 1e-6));
    }
}

/// One reading more than passes, terms and one are enough for the robust taper: five stations of one pass, not four. A curve through three of five leaves half of them
/// no scatter: that is a robust fit where it differs from the plain one by more than a step of the gauge.
#[test]
fn readings_that_are_enough_for_a_robust_fit() {
    let method = |count: usize, step_mm: f64| {
        let mut log = log_of(40.0, &[(H, &even(&[0.0, 1.3, 1.8, 3.1, 4.2][..count]))]);
        log.gauge.diameter.resolution_mm = step_mm;
        shape(&log).taper.robust.method
    };
    assert_eq!(method(5, 1e-6), "tukey 4.685");
    assert!(method(5, 0.01).contains("within the gauge’s steps"), "{}", method(5, 0.01));
    assert!(method(4, 1e-6).contains("too few readings"));
}

/// A taper of a millimetre over readings that agree is no disagreement of the two fits.
#[test]
fn a_large_taper_is_no_robust_difference() {
    let um: Vec<f64> = (0..12).map(|i| 90.0 * f64::from(i) + f64::from(i * 7 % 5)).collect();
    let warnings = fit_shapes(&log_of(40.0, &[(H, &even(&um))]), 1, 0).warnings;
    assert!(warnings.iter().all(|w| !w.contains("robust")), "{warnings:?}");
}

/// Two stations with six readings each are compared as stations, with five they are not.
#[test]
fn scatter_of_two_stations() {
    let um = [0.0, 1.0, 3.0, 2.0, 1.0, 4.0, 10.0, 14.0, 11.0, 12.0, 13.0, 11.0];
    let of = |each: usize| {
        let rows: Vec<(f64, f64)> =
            um.iter().enumerate().filter(|(i, _)| i % 6 < each).map(|(i, um)| (if i < 6 { 0.0 } else { 200.0 }, *um)).collect();
        test(&shape(&log_of(40.0, &[(H, &rows)])), "equal-spread-stations").interpretation.to_string()
    };
    assert_eq!(of(6), "Readings scatter alike in all stations (p not below 0.05).");
    assert!(of(5).starts_with("Not made: it needs six readings at two stations"));
}

/// Three passes of three readings with slopes of their own leave three degrees of freedom and six pairs of neighbours: just enough for the runs; two passes do not.
#[test]
fn runs_of_three_degrees_of_freedom() {
    let pass = |taper: f64, e: f64| even(&[e, 0.5 * taper - 2.0 * e, taper + e]);
    let all = [pass(0.0, 0.1), pass(400.0, -0.1), pass(900.0, 0.2)];
    let of = |count: usize| shape(&log_of(40.0, &all.iter().take(count).map(|rows| (H, rows.as_slice())).collect::<Vec<_>>()));
    // what a line leaves of three even readings is some number times 1, −2, 1: it changes sides twice for certain
    let found = of(3);
    assert!(found.slope_by_pass);
    close(test(&found, "runs").statistic.unwrap(), 0.0, 1e-6);
    close(test(&found, "runs").p.unwrap(), 1.0, 1e-6);
    assert!(!made(&of(2), "runs"));
}

/// What rounding to binary leaves of a line has no side: ten exact stations add nothing to the four pairs of the other pass, where a scatter of a nanometre does.
#[test]
fn residuals_of_rounding_have_no_side() {
    let scattered = even(&[1.0, -4.0, 6.0, -4.0, 1.0]);
    let with = |um: f64| {
        let line: Vec<(f64, f64)> =
            (0..10).map(|i| (f64::from(i) * 200.0 / 9.0, 0.7 * f64::from(i) + um * f64::from(i * i * 5 % 7))).collect();
        made(&shape(&log_of(40.1, &[(H, &scattered), (T, &line)])), "runs")
    };
    assert_eq!([with(0.0), with(1e-3)], [false, true]);
    // of a bar of steps the first may be thin: the last digits of a thick one are more than those of the first, and still nothing
    let taper: Vec<(f64, f64)> = (0..10).map(|i| (20.0 * f64::from(i), 0.7 * f64::from(i))).collect();
    let steps = |um: f64| {
        let mut log = log_of(100.0, &[(H, &taper), (H, &taper)]);
        log.diameters.change(|_, r| {
            r.diameter_mm += 1e-3 * um * f64::from((r.station_mm as u32 / 20) * 7 % 4) - if r.pass == 1 { 99.9 } else { 0.0 };
        });
        made(&shape(&log), "runs")
    };
    assert_eq!([steps(0.0), steps(1e-3)], [false, true]);
}

/// A slip of a hundred says nothing of the taper; a scatter of a tenth of a millimetre does, and so does a taper of metres that is sure.
#[test]
fn a_taper_that_may_be_metres_either_way_says_nothing() {
    let says_nothing = |diameters: &[f64]| {
        let rows: Vec<(f64, f64)> = diameters.iter().enumerate().map(|(i, d)| (30.0 * i as f64, 1e3 * (d - 40.0))).collect();
        shape(&log_of(40.0, &[(H, &rows)])).says_nothing()
    };
    assert!(says_nothing(&[40.0, 4000.1, 40.0, 40.1, 40.0]));
    assert!(!says_nothing(&[40.0, 40.1, 40.0, 40.2, 40.0]));
    assert!(!says_nothing(&[40.0, 2040.0, 4040.0, 6050.0, 8040.0]));
}
