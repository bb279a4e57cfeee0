//! Times reading and fitting of a long log apart: `cargo bench --bench long_log -- long.csv`.
//!
//! Prints seconds for the whole reader with its checks, for the mixed model's fit, for all shapes with their checks, and the peak of memory (Linux).
//! `tests/bench/long_compare.sh` sets them beside the same work done by general-purpose libraries.

use std::path::Path;
use std::time::Instant;
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::shape::{fit_setting, fit_shapes};

fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|text| text.split_whitespace().next()).and_then(|kb| kb.parse::<f64>().ok()).map_or(f64::NAN, |kb| kb / 1000.0)
}

fn main() {
    let Some(path) = std::env::args().skip(1).find(|word| !word.starts_with('-')) else {
        println!("usage: cargo bench --bench long_log -- LOG.csv");
        return;
    };
    let started = Instant::now();
    let trial = match read_trial(Path::new(&path), &ReadOptions::default()) {
        Ok(trial) => trial,
        Err(rejected) => {
            println!("{rejected}");
            return;
        }
    };
    let read = started.elapsed().as_secs_f64();
    let after_reading = peak_mb();
    let setting = trial.diameters.settings().first().copied().unwrap_or(0);
    let started = Instant::now();
    let taper = fit_setting(&trial, setting).map_or(f64::NAN, |fit| fit.taper.value);
    let fit = started.elapsed().as_secs_f64();
    let started = Instant::now();
    let shapes = fit_shapes(&trial, 1, 100_000).shapes.len();
    let whole = started.elapsed().as_secs_f64();
    println!(
        "{}",
        serde_json::json!({
            "rows": trial.diameters.len(), "read_s": read, "fit_s": fit, "shapes_s": whole, "shapes": shapes, "taper_mm": taper,
            "read_mb": after_reading, "peak_mb": peak_mb(),
        })
    );
}
