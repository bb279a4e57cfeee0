//! Simulated logs: hand formulas without noise, moments of the noise, same seed same bytes.

mod reading_back;

use crate::made::trial;
use crate::physics::published::close;
use std::collections::BTreeMap;
use std::f64::consts::PI;
use taperwright::physics::way_wear::straight_end_difference;
use taperwright::simulate::{Chance, Nature, SimulatedLogs, laid_out, read_off, simulate, true_diameters};
use taperwright::trial::*;

/// A request for everything, without noise.
fn request() -> SimulationRequest {
    SimulationRequest {
        logs: ["diameters", "levels", "indicator", "clamp", "moves"].map(String::from).to_vec(),
        settings: 2,
        passes: 2,
        directions: vec![Direction::ToHeadstock, Direction::ToTailstock],
        stations_mm: vec![10.0, 80.0, 150.0, 210.0],
        noise_factor: 0.0,
        level_stations_mm: vec![0.0, 250.0, 500.0],
        levels_reversed: true,
        moves: vec![SimulatedMove { from_setting: 0, to_setting: 1, foot: Foot::TailstockRear, raise_mm: -0.05 }],
        truth: Truth {
            yaw_mm_per_m: Some(0.03),
            twist_mm_per_m_per_m: Some(0.25),
            wear_um_per_m: Some(9.0),
            force_factor: Some(1.4),
            chuck_tilt_urad_per_nm: Some(20.0),
            move_gain: Some(0.7),
            free_twist_mm_per_m_per_m: Some(0.05),
            level_zero_mm_per_m: Some(0.04),
            run_out_mm: Some(0.006),
            ..Truth::default()
        },
        ..SimulationRequest::default()
    }
}

fn simulated(request: SimulationRequest, seed: u64) -> SimulatedLogs {
    let mut trial = trial(Holding::Chuck);
    trial.gauge.diameter.resolution_mm = 1e-6;
    trial.testbar =
        Some(TestBar { taper_um: 2.0, u_um: 1.0, length_mm: 220.0, diameter_mm: None, holding: Holding::Chuck, turned_here: false });
    trial.simulate = Some(request);
    simulate(&trial, seed).expect("a request that can be met")
}

fn text<'a>(logs: &'a SimulatedLogs, name: &str) -> &'a str {
    logs.files.iter().find(|file| file.name == name).map(|file| file.text.as_str()).expect("the file")
}

/// Rows of a simulated log as maps from header to cell.
fn rows(text: &str) -> Vec<BTreeMap<&str, &str>> {
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().expect("a header").split(',').collect();
    lines.map(|line| header.iter().copied().zip(line.split(',')).collect()).collect()
}

fn value(row: &BTreeMap<&str, &str>, column: &str) -> f64 {
    row[column].parse().expect("a number")
}

/// Twist of the second setting by hand: 0.25 + 0.7·(−0.05)·10⁶/(150·700).
const TWISTS: [f64; 2] = [0.25, 0.25 - 0.7 * 0.05e6 / 105_000.0];

#[test]
fn diameters_without_noise_follow_the_formulas_by_hand() {
    let logs = simulated(request(), 7);
    let rows = rows(text(&logs, "diameters.csv"));
    assert_eq!(rows.len(), 2 * 4 * 4);
    let second_moment = PI * 38f64.powi(4) / 64.0;
    let force = 1.4 * 0.7 * 1780.0 * 0.05 * 0.1f64.powf(0.83);
    let by_hand = |row: &BTreeMap<&str, &str>| {
        let (z, setting) = (value(row, "station_mm"), value(row, "setting") as usize);
        let metal = if row["direction"] == "to-headstock" { 220.0 - z } else { z };
        2.0 * 0.03 * z / 1000.0
            + 2.0 * 143.75 * TWISTS[setting] * z / 1e6
            + 2.0 * 9.0 * metal / 1e6
            + 2.0 * force * (z.powi(3) / (3.0 * 206_000.0 * second_moment) + 20e-9 * z * z)
    };
    for row in &rows {
        let first = rows
            .iter()
            .find(|other| other["setting"] == row["setting"] && other["pass"] == row["pass"] && other["station_mm"] == "10")
            .expect("the pass has a first station");
        let (seen, expected) = (value(row, "diameter_mm") - value(first, "diameter_mm"), by_hand(row) - by_hand(first));
        assert!((seen - expected).abs() < 2e-6, "{row:?}: {seen} against {expected}");
    }
    // Each cut takes twice its depth: 38.0, 37.9, 37.8, ... give or take what the causes add.
    let base = |pass: &str| value(rows.iter().find(|row| row["setting"] == "0" && row["pass"] == pass).expect("a pass"), "diameter_mm");
    assert!((base("1") - base("3") - 0.2).abs() < 1e-6);
}

#[test]
fn other_logs_without_noise_follow_the_formulas_by_hand() {
    let logs = simulated(request(), 7);
    for row in rows(text(&logs, "levels.csv")) {
        let zero = if row["reversed"] == "yes" { -0.04 } else { 0.04 };
        let expected = zero + TWISTS[value(&row, "setting") as usize] * value(&row, "station_mm") / 1000.0;
        assert!((value(&row, "roll_mm_per_m") - expected).abs() <= 0.000_51, "{row:?}: {expected}");
    }
    for row in rows(text(&logs, "indicator.csv")) {
        let (z, twist) = (value(&row, "station_mm"), TWISTS[value(&row, "setting") as usize]);
        let run_out = 0.006 * value(&row, "spindle_deg").to_radians().cos();
        let expected = -(0.03 / 1000.0 + 143.75 * twist / 1e6) * z + 0.5 * 0.002 / 220.0 * z + run_out;
        assert!((value(&row, "reading_mm") - expected).abs() <= 0.000_051, "{row:?}: {expected}");
    }
    // The four feet together make the twist less that of the free bed: between the two stations −h(τ − free)(210 − 10)/10⁶.
    let clamp = rows(text(&logs, "clamp.csv"));
    let feet: Vec<&str> = clamp.iter().map(|row| row["foot"]).step_by(2).collect();
    assert_eq!(feet, ["headstock-front", "headstock-rear", "tailstock-front", "tailstock-rear"]);
    let growth: f64 = clamp.iter().map(|row| value(row, "change_mm") * if row["station_mm"] == "210" { 1.0 } else { -1.0 }).sum();
    assert!((growth + 143.75 * 0.20 * 200.0 / 1e6).abs() < 8.0 * 0.000_05, "{growth}");
    assert_eq!(text(&logs, "moves.csv"), "from_setting,to_setting,foot,raise_mm\n0,1,tailstock-rear,-0.05\n");
}

#[test]
fn between_centres_twist_shows_nowhere_and_offset_is_straight() {
    let mut trial = trial(Holding::Centres);
    trial.gauge.diameter.resolution_mm = 1e-6;
    trial.simulate = Some(SimulationRequest {
        noise_factor: 0.0,
        stations_mm: vec![0.0, 55.0, 110.0, 220.0],
        truth: Truth {
            twist_mm_per_m_per_m: Some(0.5),
            yaw_mm_per_m: Some(0.2),
            offset_mm: Some(0.01),
            way_wear_um: Some(12.0),
            way_wear_length_mm: Some(60.0),
            ..Truth::default()
        },
        ..SimulationRequest::default()
    });
    let logs = simulate(&trial, 1).expect("possible");
    for row in rows(text(&logs, "diameters.csv")) {
        let z = value(&row, "station_mm");
        let expected = 38.0 + 0.02 * z / 220.0 + 0.012 * (-z / 60.0).exp();
        assert!((value(&row, "diameter_mm") - expected).abs() < 1e-6, "{row:?}: {expected}");
    }
}

#[test]
fn the_truth_file_says_what_each_cause_contributes() {
    let logs = simulated(request(), 7);
    let truth: serde_json::Value = serde_json::from_str(text(&logs, "truth.json")).expect("JSON");
    let contribution = |setting: usize, cause: &str| truth["settings"][setting]["contribution_um"][cause].as_f64().expect("a number");
    assert!(close(contribution(0, "headstock-yaw"), 2.0 * 0.03 * 200.0, 1e-6));
    assert!(close(contribution(1, "bed-twist"), 2.0 * 143.75 * TWISTS[1] * 200.0 / 1000.0, 1e-6));
    // The reference pass is cut to the headstock: wear leaves the headstock end larger.
    assert!(close(contribution(0, "tool-wear"), -2.0 * 9.0 * 200.0 / 1000.0, 1e-6));
    assert_eq!(contribution(0, "tailstock-offset"), 0.0);
    assert!(contribution(0, "deflection") > 0.0);
    let peak = truth["settings"][0]["peak_um"]["tool-wear"].as_f64().expect("a number");
    assert!(close(peak, 3.6, 1e-6));
    let first = &truth["diameters"][0];
    let parts: f64 = first["parts_um"].as_object().expect("parts").values().map(|um| um.as_f64().expect("a number")).sum();
    assert!((first["diameter_mm"].as_f64().expect("a number") - 38.0 - parts / 1000.0).abs() < 1e-8);
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_one_log_more_changes_no_other() {
    let noisy = || SimulationRequest { noise_factor: 1.0, ..request() };
    let files = |logs: SimulatedLogs| logs.files;
    assert_eq!(files(simulated(noisy(), 11)), files(simulated(noisy(), 11)));
    assert_ne!(files(simulated(noisy(), 11)), files(simulated(noisy(), 12)));
    let fewer = SimulationRequest { logs: vec!["diameters".into(), "indicator".into()], ..noisy() };
    let (all, few) = (simulated(noisy(), 11), simulated(fewer, 11));
    for name in ["diameters.csv", "indicator.csv"] {
        assert_eq!(text(&all, name), text(&few, name));
    }
    assert!(few.files.iter().all(|file| file.name != "levels.csv" && file.name != "moves.csv"));
}

/// Mean and standard deviation of the residuals, and their correlation with the one before.
fn moments(residuals: &[f64]) -> [f64; 3] {
    let n = residuals.len() as f64;
    let mean = residuals.iter().sum::<f64>() / n;
    let variance = residuals.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let lagged = residuals.windows(2).map(|pair| (pair[0] - mean) * (pair[1] - mean)).sum::<f64>() / (n - 1.0) / variance;
    [mean, variance.sqrt(), lagged]
}

/// A sample of n normal numbers has a mean within 4/√n and a standard deviation within 4/√(2n) of the truth (63 in a million fall outside).
fn is_standard_normal(residuals: &[f64]) -> bool {
    let n = residuals.len() as f64;
    let [mean, sd, lagged] = moments(residuals);
    mean.abs() < 4.0 / n.sqrt() && (sd - 1.0).abs() < 4.0 / (2.0 * n).sqrt() && lagged.abs() < 4.0 / n.sqrt()
}

#[test]
fn noise_has_the_moments_of_the_data_sheets() {
    let mut trial = trial(Holding::Chuck);
    trial.gauge.diameter.resolution_mm = 1e-6;
    trial.gauge.diameter.calibration_u_mm = 0.0;
    trial.simulate = Some(SimulationRequest {
        logs: ["diameters", "levels", "indicator"].map(String::from).to_vec(),
        repeats: 500,
        passes: 2,
        noise_factor: 1.5,
        level_stations_mm: (0..4000).map(|i| f64::from(i) * 0.1).collect(),
        stations_mm: (0..10).map(|i| 10.0 + 20.0 * f64::from(i)).collect(),
        spindle_deg: (0..400).map(f64::from).collect(),
        truth: Truth { yaw_mm_per_m: Some(0.03), ..Truth::default() },
        ..SimulationRequest::default()
    });
    let logs = simulate(&trial, 3).expect("possible");
    let truths = true_diameters(&logs.trial, &logs.nature, 3);
    let diameters: Vec<f64> =
        logs.trial.diameters.iter().zip(&truths).map(|(reading, truth)| (reading.read_mm - truth.diameter_mm) / 0.003).collect();
    assert!(is_standard_normal(&diameters), "{:?}", moments(&diameters));
    // The judge can fail: 3 % too wide, or off by a twentieth, is seen in 10 000 readings.
    let wider: Vec<f64> = diameters.iter().map(|r| 1.04 * r).collect();
    let shifted: Vec<f64> = diameters.iter().map(|r| r + 0.06).collect();
    assert!(!is_standard_normal(&wider) && !is_standard_normal(&shifted));
    let levels: Vec<f64> = logs.trial.levels.iter().map(|reading| reading.roll_mm_per_m / 0.015).collect();
    assert!(is_standard_normal(&levels), "{:?}", moments(&levels));
    let indicator: Vec<f64> =
        logs.trial.indicator.iter().map(|reading| (reading.reading_mm + 0.03 * reading.station_mm / 1000.0) / 0.0015).collect();
    assert!(is_standard_normal(&indicator), "{:?}", moments(&indicator));
}

#[test]
fn passes_spread_and_gauges_err_together_as_asked() {
    let mut trial = trial(Holding::Chuck);
    trial.gauge.diameter = DiameterGauge { resolution_mm: 1e-6, u_mm: 0.0, calibration_u_mm: 0.002, ..trial.gauge.diameter };
    trial.cutting.depth_mm = 0.001;
    let asked = SimulationRequest {
        passes: 2000,
        noise_factor: 1.0,
        stations_mm: vec![10.0, 110.0, 210.0],
        truth: Truth { between_pass_um: Some(4.0), ..Truth::default() },
        ..SimulationRequest::default()
    };
    trial.simulate = Some(asked);
    let logs = simulate(&trial, 5).expect("possible");
    let tapers: Vec<f64> = logs.trial.diameters.to_vec().chunks(3).map(|pass| (pass[2].read_mm - pass[0].read_mm) / 0.004).collect();
    assert!(is_standard_normal(&tapers), "{:?}", moments(&tapers));
    // A calibration error is one number for all readings of a gauge.
    let truths = true_diameters(&logs.trial, &logs.nature, 5);
    let common: Vec<f64> = logs.trial.diameters.iter().zip(&truths).map(|(r, t)| r.read_mm - t.diameter_mm).collect();
    assert!(common.iter().all(|error| (error - common[0]).abs() < 2e-6) && common[0].abs() > 1e-5);
}

#[test]
fn readings_are_rounded_to_the_gauge() {
    let mut trial = trial(Holding::Chuck);
    trial.gauge.diameter.resolution_mm = 0.005;
    trial.simulate = Some(SimulationRequest::default());
    let logs = simulate(&trial, 1).expect("possible");
    for row in rows(text(&logs, "diameters.csv")) {
        let steps = value(&row, "diameter_mm") / 0.005;
        assert!((steps - steps.round()).abs() < 1e-6, "{row:?}");
        assert_eq!(row["diameter_mm"].split_once('.').expect("a decimal").1.len(), 3, "trailing zeros are kept: {row:?}");
    }
}

#[test]
fn what_cannot_be_simulated_is_said_all_at_once() {
    let mut trial = trial(Holding::Chuck);
    assert_eq!(simulate(&trial, 1).expect_err("no table").len(), 1);
    trial.machine.feet = None;
    trial.cutting.rpm = None;
    trial.simulate = Some(SimulationRequest {
        logs: vec!["photographs".into()],
        settings: 0,
        noise_factor: f64::NAN,
        stations_mm: vec![10.0, 900.0],
        truth: Truth { thermal_drift_um_per_min: Some(-0.2), ..Truth::default() },
        ..request()
    });
    let faults = simulate(&trial, 1).expect_err("faults");
    assert_eq!(faults.len(), 7, "{faults:#?}");
    assert!(faults.iter().all(taperwright::findings::Finding::is_error));
    // Nobody waits for 36 thousand million readings.
    trial.simulate = Some(SimulationRequest { repeats: 4_000_000_000, passes: 9, ..SimulationRequest::default() });
    assert_eq!(simulate(&trial, 1).expect_err("too many").len(), 1);
}

#[test]
fn drawn_natures_have_the_moments_of_the_priors() {
    let base = trial(Holding::Centres);
    let empty = laid_out(&base, &SimulationRequest { settings: 1, fresh_edges: true, ..SimulationRequest::default() });
    let mut chance = Chance::new(21, 9);
    let draws: Vec<Nature> = (0..8000).map(|_| Nature::drawn(&empty, &mut chance)).collect();
    let root_mean_square = |f: &dyn Fn(&Nature) -> f64| (draws.iter().map(|n| f(n).powi(2)).sum::<f64>() / 8000.0).sqrt();
    // Half the draws are 20 times smaller: √(½(1 + 1/400)) of the full scale.
    let mixture = (0.5f64 * (1.0 + 1.0 / 400.0)).sqrt();
    for (seen, scale) in [
        (root_mean_square(&|n| n.yaw_mm_per_m), 0.08),
        (root_mean_square(&|n| n.twist(0)), 0.4),
        (root_mean_square(&|n| n.offset(0)), 0.05),
        (root_mean_square(&|n| n.wear_um_per_m.values().next().copied().unwrap_or(f64::NAN)), 12.0),
        (root_mean_square(&|n| n.thermal_drift_um_per_min), 0.2),
    ] {
        assert!((seen / scale / mixture - 1.0).abs() < 0.05, "{seen} for {scale}");
    }
    // Worn ways: no mean and no straight part over the bar, which count as yaw and twist; but some size.
    let stations: Vec<f64> = empty.diameters.iter().map(|reading| reading.station_mm).collect();
    for nature in draws.iter().take(50) {
        let curve: Vec<f64> = stations.iter().map(|z| nature.worn_ways.diameter_mm(*z)).collect();
        assert!(straight_end_difference(&stations, &curve).expect("stations").abs() < 1e-12);
        assert!(curve.iter().sum::<f64>().abs() < 1e-12 && curve.iter().any(|mm| mm.abs() > 1e-8));
    }
    assert!(draws.iter().all(|n| n.wear_um_per_m.values().all(|wear| *wear >= 0.0)));
    let logs: Vec<f64> = draws.iter().map(|n| n.force.all.ln() / 2f64.ln()).collect();
    let gains: Vec<f64> = draws.iter().map(|n| (n.move_gain / 0.8).ln() / 1.5f64.ln()).collect();
    let arms: Vec<f64> = draws.iter().map(|n| (n.roll_arm_mm - 143.75) / 28.75).collect();
    assert!(is_standard_normal(&logs) && is_standard_normal(&gains) && is_standard_normal(&arms));
    // A nature can be read off again and again; the seed decides.
    assert_eq!(read_off(&empty, &draws[0], 4), read_off(&empty, &draws[0], 4));
    assert_ne!(read_off(&empty, &draws[0], 4).diameters, read_off(&empty, &draws[0], 5).diameters);
}
