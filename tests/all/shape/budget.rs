//! The taper's budget: a decomposition, its sensitivities by hand, and the same by Monte Carlo.

use super::bench_log::{Normals, Truth, drawn, reading, trial};
use taperwright::shape::{Shape, fit_shapes};
use taperwright::trial::{Direction, Trial};

const TRUTH: Truth = Truth { taper: 0.02, barrel: -0.004, sigma: 0.002, between: 0.002 };
const LOGS: [(u32, u32, u32, u32); 8] =
    [(1, 0, 2, 1), (1, 0, 5, 1), (1, 1, 5, 2), (2, 0, 2, 1), (4, 0, 5, 1), (6, 0, 2, 1), (6, 0, 10, 1), (3, 3, 6, 1)];

fn log(case: usize) -> Trial {
    let (passes, back, stations, repeats) = LOGS[case];
    trial(drawn(&mut Normals::new(11, case as u64), TRUTH, passes, back, stations, repeats, 200.0), 0.001)
}

fn shape(log: &Trial, draws: usize) -> Shape {
    fit_shapes(log, 1, draws).shapes.remove(0)
}

fn row(s: &Shape, name: &str) -> f64 {
    s.budget.iter().find(|r| r.component == name).map(|r| r.standard_uncertainty).unwrap()
}

#[test]
fn rows_add_up_and_nothing_is_counted_twice() {
    let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * b.abs();
    assert!(!near(1.001, 1.0));
    for case in 0..LOGS.len() {
        let s = shape(&log(case), 0);
        assert!(near(row(&s, "repeatability").hypot(row(&s, "between-pass")), s.taper.standard_error), "case {case}");
        let sum = s.budget.iter().map(|r| r.standard_uncertainty.powi(2)).sum::<f64>().sqrt();
        assert!(near(sum, s.taper.standard_uncertainty));
        assert!(near(s.budget.iter().map(|r| r.share).sum(), 1.0));
        assert_eq!(row(&s, "calibration"), 0.0);
        assert!(near(s.expanded.value, s.expanded.coverage_factor * s.taper.standard_uncertainty));
        assert!(near(s.taper.interval95.half_width(), s.expanded.value));
        // A sum is never narrower than the fit that is part of it.
        assert!(s.expanded.value >= s.taper.fit_interval95.half_width() * (1.0 - 1e-9));
        // The fit's interval, standard error and degrees of freedom say the same.
        let t = taperwright::statistics::distributions::t_quantile(0.975, s.taper.dof.unwrap()).unwrap();
        assert!((s.taper.fit_interval95.half_width() / (t * s.taper.standard_error) - 1.0).abs() < 1e-6, "case {case}");
    }
}

/// 5 K between the ends of a 50 mm steel bar (11.5·10⁻⁶/K, JCGM 100:2008 H.1) fakes 2.9 µm of taper.
#[test]
fn temperature_gradient_by_hand() {
    let mut log = log(1);
    log.conditions.temperature_spread_c = 5.0;
    let s = shape(&log, 0);
    let half_width = row(&s, "temperature-gradient") * 3.0_f64.sqrt();
    assert!((half_width - 0.002_875).abs() < 1e-6, "{half_width}");
    log.conditions.temperature_spread_c = 2.5;
    assert!((row(&shape(&log, 0), "temperature-gradient") * 3.0_f64.sqrt() - 0.002_875).abs() > 1e-3);
}

#[test]
fn known_tool_height_makes_the_vertical_part_linear() {
    let mut log = log(1);
    log.cutting.tool_height_mm = Some(0.5);
    let s = shape(&log, 0);
    let diameter = 50.0;
    // 4h₀y/D with y = v·z over 200 mm, v = 0.08 mm/m: 4·0.5·0.016/50 mm, and hardly anything of 2y²/D.
    let by_hand = 4.0 * 0.5 * 0.08 * 0.2 / diameter;
    let got = row(&s, "vertical-misalignment");
    assert!((got / by_hand - 1.0).abs() < 2e-2, "{got} {by_hand}");
}

#[test]
fn coarse_gauge_adds_what_rounding_exceeds_the_scatter() {
    let mut rng = Normals::new(3, 9);
    let fine = Truth { sigma: 0.0005, between: 0.0, ..TRUTH };
    let mut log = trial(drawn(&mut rng, fine, 1, 0, 12, 1, 200.0), 0.02);
    log.gauge.diameter.u_mm = 0.001;
    let s = shape(&log, 0);
    // σ is the data sheet's 0.001 here, since the scatter lies below q/√12 = 0.005774: the excess is √(q²/12 − σ²).
    let ratio = row(&s, "resolution") / row(&s, "repeatability");
    let by_hand = (0.02_f64.powi(2) / 12.0 - 0.001_f64.powi(2)).sqrt() / 0.001;
    assert!((ratio / by_hand - 1.0).abs() < 0.02, "{ratio} {by_hand}");
    log.gauge.diameter.resolution_mm = 1e-4;
    assert_eq!(row(&shape(&log, 0), "resolution"), 0.0);
}

/// Where the fit has many degrees of freedom both ways of combining must agree; where it has few, Monte Carlo is at least as wide as the fit.
#[test]
fn monte_carlo_agrees_with_the_quadrature_sum() {
    let steady = Truth { between: 0.0015, ..TRUTH };
    let log = trial(drawn(&mut Normals::new(13, 1), steady, 40, 0, 5, 1, 200.0), 0.001);
    let s = shape(&log, 200_000);
    let mc = s.monte_carlo.as_ref().unwrap();
    let near = |ratio: f64| (ratio - 1.0).abs() < 0.02;
    assert!(near(mc.interval95.half_width() / s.expanded.value), "{mc:?} {:?}", s.expanded);
    assert!(near(mc.standard_uncertainty.unwrap() / s.taper.standard_uncertainty), "{mc:?} {:?}", s.taper);
    assert!(!near(1.03));
    let few = shape(&self::log(1), 50_000);
    let ratio = few.monte_carlo.as_ref().unwrap().interval95.half_width() / few.taper.fit_interval95.half_width();
    assert!((0.98..1.2).contains(&ratio), "{ratio}");
    assert_eq!(few.monte_carlo, shape(&self::log(1), 50_000).monte_carlo, "a seed gives one answer");
}

#[test]
fn two_collars_with_one_reading_each_give_a_taper() {
    let readings = vec![reading(2, 1, Direction::ToHeadstock, 15.0, 38.012), reading(3, 1, Direction::ToHeadstock, 200.0, 38.031)];
    let s = shape(&trial(readings, 0.001), 0);
    assert!((s.taper.value - 0.019).abs() < 1e-12);
    assert!(s.barrel.is_none() && s.taper.plain_t_interval95.is_none());
    assert_eq!(s.order, 1);
    // By hand: the difference of two readings of u = 0.002 mm.
    assert!((row(&s, "repeatability") / (0.002 * 2.0_f64.sqrt()) - 1.0).abs() < 0.05);
    assert!(s.cannot_tell.iter().any(|t| t.contains("Two stations cannot show a barrel")));
}
