//! How often the taper's interval holds the truth: the judge of the whole between-pass machinery.
//!
//! Each run draws passes with normal readings; the standard deviation of the slope between passes is a stated multiple of the
//! within-pass standard error of one slope. The noise of a reading is drawn from the data sheet's log-normal.

use super::bench_log::{Normals, Truth, drawn, trial};
use rayon::prelude::*;
use taperwright::shape::fit_setting;
use taperwright::trial::Trial;

pub const PASSES: [u32; 7] = [1, 2, 3, 4, 5, 8, 12];
pub const STATIONS: [u32; 5] = [2, 3, 5, 10, 40];
const SEED: u64 = 20_260_314;

/// Spread between passes, in standard errors of one pass's slope.
#[derive(Debug, Clone, Copy)]
pub enum Spread {
    Fixed(f64),
    /// Drawn from the prior: twice a half-t with 3 degrees of freedom.
    Prior,
}

/// Standard error of one pass's taper at σ = 1 with evenly spaced stations: `2/√Σx²`, in exact arithmetic of the design.
fn unit_error(stations: u32) -> f64 {
    let square: f64 = (0..stations).map(|s| (-1.0 + 2.0 * f64::from(s) / f64::from(stations - 1)).powi(2)).sum();
    2.0 / square.sqrt()
}

/// Share of `runs` logs whose 95 % interval holds the taper; `interval` picks centre and half-width from a fit.
pub fn coverage(passes: u32, stations: u32, spread: Spread, runs: u64, interval: impl Fn(&Trial) -> (f64, f64) + Sync) -> f64 {
    let stream = u64::from(passes) * 1_000_000_000
        + u64::from(stations) * 10_000_000
        + match spread {
            Spread::Fixed(k) => (k * 10.0) as u64 * 100_000,
            Spread::Prior => 9_900_000,
        };
    let held = (0..runs)
        .into_par_iter()
        .filter(|run| {
            let mut rng = Normals::new(SEED, stream + run);
            let sigma = 0.002 * (1.5_f64.ln() * rng.draw()).exp();
            let multiple = match spread {
                Spread::Fixed(k) => k,
                Spread::Prior => {
                    let chi = (0..3).map(|_| rng.draw().powi(2)).sum::<f64>();
                    2.0 * (rng.draw() / (chi / 3.0).sqrt()).abs()
                }
            };
            let truth = Truth { taper: 0.02, barrel: 0.0, sigma, between: multiple * sigma * unit_error(stations) };
            let log = trial(drawn(&mut rng, truth, passes, 0, stations, 1, 200.0), 1e-6);
            let (centre, half) = interval(&log);
            (centre - truth.taper).abs() <= half
        })
        .count();
    held as f64 / runs as f64
}

pub fn of_the_fit(log: &Trial) -> (f64, f64) {
    let fit = fit_setting(log, 0).unwrap();
    (fit.taper.value, fit.taper.half_width95)
}

/// The whole proof: `cargo test --release shape::coverage -- --ignored --nocapture`.
#[test]
#[ignore = "560,000 fits: run in release"]
fn whole_proof() {
    let runs = 4_000;
    println!("| passes | stations | spread 0 | 1 | 2 | 3 | over the prior |\n|---|---|---|---|---|---|---|");
    let mut averaged = Vec::new();
    let mut worst = (1.0, String::new());
    let mut worst_many = (1.0, String::new());
    for passes in PASSES {
        for stations in STATIONS {
            let mut row = format!("| {passes} | {stations} |");
            for k in [0.0, 1.0, 2.0, 3.0] {
                let share = coverage(passes, stations, Spread::Fixed(k), runs, of_the_fit);
                row += &format!(" {:.2} |", 100.0 * share);
                let cell = format!("{passes} passes, {stations} stations, spread {k}");
                if share < worst.0 {
                    worst = (share, cell.clone());
                }
                if passes >= 5 && share < worst_many.0 {
                    worst_many = (share, cell);
                }
            }
            let share = coverage(passes, stations, Spread::Prior, runs, of_the_fit);
            averaged.push(share);
            println!("{row} {:.2} |", 100.0 * share);
        }
    }
    let mean = averaged.iter().sum::<f64>() / averaged.len() as f64;
    println!("\naveraged over the prior {mean:.4}; worst cell {worst:?}; worst from five passes up {worst_many:?}");
    assert!((mean - 0.95).abs() <= 0.01);
    assert!(worst.0 >= 0.88);
    assert!(worst_many.0 >= 0.93);
}
