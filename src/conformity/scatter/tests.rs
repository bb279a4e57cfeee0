//! Scatter of readings and passes against the analysis of variance of balanced logs.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;

const AT: [f64; 5] = [-1.0, -0.5, 0.0, 0.5, 1.0];
const GAUGE: Gauge = Gauge { u_mm: 0.0015, resolution_mm: 0.0001, noise_factor: 1.5 };

/// A pass over five stations of a bar with a step, each read `1 µm` above and below its diameter, or once.
fn pass(direction: usize, step_mm: f64, twice: bool) -> CutPass {
    let cell = |station: usize| {
        let mut cell = Cell::empty(station);
        let diameter = [0.0, 0.0, 0.5, 1.0, 1.0][station] * step_mm;
        let errors: &[f64] = if twice { &[0.001, -0.001] } else { &[0.0] };
        errors.iter().for_each(|error| cell.add_all(1.0, diameter + error, 0.0));
        cell
    };
    CutPass { direction, cells: (0..5).map(cell).collect() }
}

#[test]
fn a_step_is_no_noise() {
    let of = |step: f64| scatter(&[0, 0, 0].map(|direction| pass(direction, step, true)), &AT, GAUGE).unwrap();
    let (plain, step) = (of(0.0), of(0.03));
    assert!((plain.noise.sigma - step.noise.sigma).abs() < 1e-9 && (plain.common.bend_t - step.common.bend_t).abs() < 1e-9);
    // 30 readings less 3 levels, 3 slopes, 3 bends and 2 further shapes of the stations
    assert!((step.noise.dof.unwrap() - 19.0).abs() < 1e-9);
    assert!((0.0009..0.0014).contains(&step.noise.sigma), "{}", step.noise.sigma);
}

#[test]
fn passes_the_other_way_tell_of_the_noise_too() {
    let both = scatter(&[pass(0, 0.03, true), pass(1, -0.02, true)], &AT, GAUGE).unwrap();
    // 20 readings less 2 levels, 2 slopes, 2 bends and 2 further shapes in each direction
    assert!((both.noise.dof.unwrap() - 10.0).abs() < 1e-9);
    let alone = scatter(&[pass(0, 0.03, true)], &AT, GAUGE).unwrap();
    assert!(both.common.slope_t < 1.05 * alone.common.slope_t);
}

#[test]
fn single_readings_tell_no_scatter() {
    assert_eq!(scatter(&[pass(0, 0.03, false)], &AT, GAUGE), None);
    assert_eq!(scatter(&[pass(0, 0.03, false), pass(1, 0.03, false)], &AT, GAUGE), None);
}

/// Readings of a pass at each of five stations, most in the middle: the weights make P₁ and P₂ orthogonal to the level and to each other.
const COUNTS: [usize; 5] = [1, 2, 3, 2, 1];
/// One micrometre: how far repeats lie from their mean.
const E: f64 = 0.001;

/// A cell of one, two or three readings at and about `mean`.
fn about(station: usize, count: usize, mean: f64) -> Cell {
    let mut cell = Cell::empty(station);
    let errors: &[f64] = match count {
        1 => &[0.0],
        2 => &[E, -E],
        _ => &[-E, 0.0, E],
    };
    errors.iter().for_each(|error| cell.add_all(1.0, mean + error, 0.0));
    cell
}

/// A pass with a level, slope and bend of its own over the common step.
fn bent(direction: usize, slope: f64, bend: f64) -> CutPass {
    let at = |station: usize| {
        let x = AT[station];
        [0.0, 0.0, 0.015, 0.030, 0.030][station] + 0.3 * slope + slope * x + bend * (1.5 * x * x - 0.5)
    };
    CutPass { direction, cells: COUNTS.iter().enumerate().map(|(station, count)| about(station, *count, at(station))).collect() }
}

fn variance(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (values.len() - 1) as f64
}

fn near(found: f64, expected: f64) -> bool {
    (found - expected).abs() <= 1e-4 * expected.abs()
}

const SLOPES: [f64; 6] = [0.004, -0.002, 0.001, 0.006, -0.005, 0.003];
const BENDS: [f64; 6] = [-0.003, 0.004, 0.001, 0.002, -0.004, 0.0];

/// Balanced passes: restricted maximum likelihood is the analysis of variance (Searle, Casella and McCulloch 1992, chapter 4).
#[test]
fn many_passes_have_the_spread_of_the_analysis_of_variance() {
    for passes in [5, 6] {
        let (slopes, bends) = (&SLOPES[..passes], &BENDS[..passes]);
        let cut: Vec<CutPass> = slopes.iter().zip(bends).map(|(slope, bend)| bent(0, *slope, *bend)).collect();
        let found = scatter(&cut, &AT, GAUGE).unwrap();
        let count = passes as f64;
        // a pass has 9 readings, a level, a slope and a bend; two further shapes of the stations; the repeats' squares are 6 E²
        let dof = 6.0 * count - 2.0;
        let noise = 6.0 * count * E * E / dof;
        assert!((found.noise.dof.unwrap() - dof).abs() < 1e-9);
        assert!(near(found.noise.sigma, noise.sqrt()), "{} {}", found.noise.sigma, noise.sqrt());
        // Σ n·P₁² = 3 and Σ n·P₂² = 2.8125
        assert!(near(found.common.slope_t, ((variance(slopes) - noise / 3.0) / count).sqrt()), "{}", found.common.slope_t);
        assert!(near(found.common.bend_t, ((variance(bends) - noise / 2.8125) / count).sqrt()), "{}", found.common.bend_t);
        // nearly all of it is between passes, so nearly one less than their number
        assert!((found.common.dof.unwrap() - (count - 1.0)).abs() < 0.5, "{:?}", found.common.dof);
    }
}

/// The other direction's passes have a mean of their own and count towards the same spread.
#[test]
fn passes_the_other_way_tell_of_the_spread_too() {
    let there = SLOPES[..5].iter().zip(&BENDS).map(|(slope, bend)| bent(0, *slope, *bend));
    let back = SLOPES[1..].iter().zip(&BENDS[1..]).map(|(slope, bend)| bent(1, slope + 0.1, bend - 0.05));
    let cut: Vec<CutPass> = there.chain(back).collect();
    let found = scatter(&cut, &AT, GAUGE).unwrap();
    let noise = 60.0 * E * E / 56.0;
    assert!(near(found.noise.sigma, noise.sqrt()), "{}", found.noise.sigma);
    let pooled = |list: &[f64; 6]| 0.5 * (variance(&list[..5]) + variance(&list[1..]));
    assert!(near(found.common.slope_t, ((pooled(&SLOPES) - noise / 3.0) / 5.0).sqrt()), "{}", found.common.slope_t);
    assert!(near(found.common.bend_t, ((pooled(&BENDS) - noise / 2.8125) / 5.0).sqrt()), "{}", found.common.bend_t);
}

#[test]
fn two_stations_have_slopes_and_no_bends() {
    let cut = |slope: f64| CutPass { direction: 0, cells: vec![about(0, 2, -slope), about(1, 2, slope)] };
    let passes: Vec<CutPass> = SLOPES.iter().map(|slope| cut(*slope)).collect();
    let found = scatter(&passes, &[-1.0, 1.0], GAUGE).unwrap();
    // four readings, a level and a slope a pass; Σ n·x² = 4
    let noise = 24.0 * E * E / 12.0;
    assert!(near(found.noise.sigma, noise.sqrt()) && (found.noise.dof.unwrap() - 12.0).abs() < 1e-9);
    assert!(near(found.common.slope_t, ((variance(&SLOPES) - noise / 4.0) / 6.0).sqrt()), "{}", found.common.slope_t);
    assert!(found.common.bend_t == 0.0);
    // from eight degrees of freedom on the log alone says how readings scatter; with six the data sheet helps
    let sheet = NoisePrior::from_factor(GAUGE.u_mm, GAUGE.noise_factor).equivalent_dof();
    let dof = |count: usize| scatter(&passes[..count], &[-1.0, 1.0], GAUGE).unwrap().noise.dof.unwrap();
    assert!((dof(4) - 8.0).abs() < 1e-9 && (dof(3) - 6.0 - sheet).abs() < 1e-9, "{} {}", dof(4), dof(3));
    let few = scatter(&passes[..2], &[-1.0, 1.0], GAUGE).unwrap();
    assert!(few.common.bend_t == 0.0 && few.common.slope_t > 0.0);
    // as few passes as integrate the spread, and far apart in slope: wider than between many, as the t with one degree of freedom is
    assert!(few.common.slope_t > (0.5 * variance(&SLOPES[..2])).sqrt() * 0.5);
}

#[test]
fn rounding_hides_scatter() {
    let coarse = Gauge { resolution_mm: 0.01, ..GAUGE };
    let passes: Vec<CutPass> = SLOPES.iter().map(|slope| bent(0, *slope, 0.0)).collect();
    // repeats a micrometre apart, rounding of 2.9 µm
    assert_eq!(scatter(&passes, &AT, coarse), None);
    // one pair of repeats and one degree of freedom: 1.4 µm may be chance, and the rounding is stated
    let once = CutPass { direction: 0, cells: vec![about(0, 1, 0.0), about(1, 2, 0.0), about(2, 1, 0.0)] };
    let found = scatter(std::slice::from_ref(&once), &[-1.0, 0.0, 1.0], coarse).unwrap();
    assert!((found.noise.sigma - 0.01 / 12f64.sqrt()).abs() < 1e-9, "{}", found.noise.sigma);
    let sheet = NoisePrior::from_factor(coarse.u_mm, coarse.noise_factor).equivalent_dof();
    assert!((found.noise.dof.unwrap() - 1.0 - sheet).abs() < 1e-9, "{:?} {sheet}", found.noise.dof);
    // two such pairs, exactly two degrees of freedom
    let twice = CutPass { direction: 0, cells: vec![about(0, 2, 0.0), about(1, 2, 0.0), about(2, 1, 0.0)] };
    assert_eq!(scatter(&[twice], &[-1.0, 0.0, 1.0], coarse), None);
    // readings that agree to the last digit tell nothing
    let alike = |station: usize| Cell { count: 2.0, ..Cell::empty(station) };
    assert_eq!(scatter(&[CutPass { direction: 0, cells: (0..5).map(alike).collect() }], &AT, GAUGE), None);
}

#[test]
fn cells_put_together_are_one_cell() {
    let values = [1.0, 4.0, 2.0, 9.0, 5.0];
    let mut one_by_one = Cell::empty(0);
    values.iter().for_each(|value| one_by_one.add_all(1.0, *value, 0.0));
    // two groups: mean 2.5 with squares 4.5 (1 and 4), mean 16/3 with squares 74/3
    let mut grouped = Cell::empty(0);
    grouped.add_all(2.0, 2.5, 4.5);
    grouped.add_all(0.0, 7.0, 3.0);
    grouped.add_all(3.0, 16.0 / 3.0, 74.0 / 3.0);
    // mean 4.2, squares 127 − 5·4.2²
    for cell in [one_by_one, grouped] {
        assert!(
            (cell.count - 5.0).abs() < 1e-12 && (cell.mean_mm - 4.2).abs() < 1e-12 && (cell.squares_mm2 - 38.8).abs() < 1e-9,
            "{cell:?}"
        );
    }
}

/// Three passes integrate the spread over its prior: near the plain standard error of their mean where it is far above the noise, and no less than half of it.
#[test]
fn few_passes_have_spread_of_both_kinds() {
    let cut = |slopes: &[f64], bends: &[f64]| -> Scatter {
        let passes: Vec<CutPass> = slopes.iter().zip(bends).map(|(slope, bend)| bent(0, *slope, *bend)).collect();
        scatter(&passes, &AT, GAUGE).unwrap()
    };
    let plain = |list: &[f64]| (variance(list) / 3.0).sqrt();
    let (slopes, bends) = ([0.03, -0.02, 0.01], [-0.02, 0.03, 0.0]);
    let both = cut(&slopes, &bends).common;
    assert!((0.5..3.0).contains(&(both.slope_t / plain(&slopes))) && (0.5..3.0).contains(&(both.bend_t / plain(&bends))), "{both:?}");
    let quiet = [0.0; 3];
    assert!(cut(&slopes, &quiet).common.bend_t < 0.2 * both.bend_t && cut(&quiet, &bends).common.slope_t < 0.2 * both.slope_t);
}

/// Passes the other way that skip a station are taken in with those that they read.
#[test]
fn a_direction_may_skip_a_station() {
    let there = SLOPES[..5].iter().zip(&BENDS).map(|(slope, bend)| bent(0, *slope, *bend));
    let back = SLOPES[..5].iter().zip(&BENDS).map(|(slope, bend)| {
        let mut pass = bent(1, *slope, *bend);
        pass.cells.remove(1);
        pass
    });
    let found = scatter(&there.chain(back).collect::<Vec<_>>(), &AT, GAUGE).unwrap();
    // 9 and 7 readings less three coefficients, less two further shapes of five stations and one of four; squares 6 and 4 E²
    let dof = 5.0 * 6.0 - 2.0 + 5.0 * 4.0 - 1.0;
    assert!((found.noise.dof.unwrap() - dof).abs() < 1e-9, "{:?} {dof}", found.noise.dof);
    assert!(near(found.noise.sigma, (50.0 * E * E / dof).sqrt()), "{}", found.noise.sigma);
}
