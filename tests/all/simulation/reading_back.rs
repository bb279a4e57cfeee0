//! What was written is what is read, and the sample trials are what their settings say.

use std::path::{Path, PathBuf};
use taperwright::ingest::{ReadOptions, read_settings, read_trial};
use taperwright::simulate::simulate;
use taperwright::trial::{DiameterReading, Place, Trial};

/// Seed of all sample trials: the program's default.
const SEED: u64 = 1;

fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data")
}

/// Sample folders whose settings have a `[simulate]` table, with what it makes.
fn simulated_samples() -> Vec<(PathBuf, taperwright::simulate::SimulatedLogs)> {
    let mut folders: Vec<PathBuf> = std::fs::read_dir(samples()).unwrap().map(|entry| entry.unwrap().path()).collect();
    folders.extend(std::fs::read_dir(samples().join("quay-lathe-2-years")).unwrap().map(|entry| entry.unwrap().path()));
    folders.retain(|folder| folder.join("trial.toml").is_file());
    folders.sort();
    let made = |folder: PathBuf| {
        let settings = read_settings(&folder, &ReadOptions::default()).unwrap();
        settings.simulate.is_some().then(|| (folder, simulate(&settings, SEED).unwrap()))
    };
    folders.into_iter().filter_map(made).collect()
}

/// A reading without its place: lines and files differ, the rest must not.
fn content(reading: DiameterReading) -> DiameterReading {
    DiameterReading { place: Place { file: 0, row: 0 }, ..reading }
}

/// What differs between the readings of two trials, as a word.
fn first_difference(read: &Trial, simulated: &Trial) -> Option<&'static str> {
    let diameters = |trial: &Trial| trial.diameters.iter().map(content).collect::<Vec<_>>();
    let levels = |trial: &Trial| {
        trial.levels.iter().map(|r| (r.setting, r.station_mm, r.roll_mm_per_m, r.reversed, r.reference_roll_mm_per_m)).collect::<Vec<_>>()
    };
    let indicator =
        |trial: &Trial| trial.indicator.iter().map(|r| (r.setting, r.station_mm, r.reading_mm, r.spindle_deg, r.plane)).collect::<Vec<_>>();
    let clamp = |trial: &Trial| trial.clamp.iter().map(|r| (r.setting, r.foot, r.station_mm, r.change_mm)).collect::<Vec<_>>();
    let moves = |trial: &Trial| trial.moves.iter().map(|r| (r.from_setting, r.to_setting, r.foot, r.raise_mm)).collect::<Vec<_>>();
    [
        ("diameters", diameters(read) != diameters(simulated)),
        ("levels", levels(read) != levels(simulated)),
        ("indicator", indicator(read) != indicator(simulated)),
        ("clamp", clamp(read) != clamp(simulated)),
        ("moves", moves(read) != moves(simulated)),
    ]
    .into_iter()
    .find_map(|(log, differs)| differs.then_some(log))
}

#[test]
fn every_sample_is_what_its_settings_simulate() {
    let samples = simulated_samples();
    assert!(samples.len() >= 12, "{}", samples.len());
    for (folder, logs) in &samples {
        for file in &logs.files {
            // The wide sheet is the same readings laid out by hand; see below.
            if folder.ends_with("wide-sheet") && file.name == "diameters.csv" {
                continue;
            }
            let committed = std::fs::read_to_string(folder.join(&file.name)).unwrap_or_default();
            assert!(committed == file.text, "{} in {} is not what its trial.toml simulates", file.name, folder.display());
        }
    }
}

#[test]
fn reading_a_simulated_trial_gives_the_same_readings() {
    for (folder, logs) in simulated_samples() {
        let mut read = read_trial(&folder, &ReadOptions::default()).unwrap();
        if folder.ends_with("wide-sheet") {
            let values = |trial: &Trial| {
                let mut values: Vec<_> =
                    trial.diameters.iter().map(|r| (r.pass, r.station_mm.to_bits(), r.direction, r.read_mm.to_bits())).collect();
                values.sort_unstable();
                values
            };
            assert_eq!(values(&read), values(&logs.trial));
            continue;
        }
        assert_eq!(first_difference(&read, &logs.trial), None, "{}", folder.display());
        // The comparison can fail: a micrometre on one reading is seen.
        read.diameters.change(|row, reading| reading.read_mm += if row == 0 { 0.001 } else { 0.0 });
        assert_eq!(first_difference(&read, &logs.trial), Some("diameters"));
    }
}

#[test]
fn the_notebook_keeps_its_slip_and_leaves_out_what_it_struck_out() {
    let trial = read_trial(&samples().join("notebook-in-inches"), &ReadOptions::default()).unwrap();
    assert_eq!(trial.diameters.len(), 25);
    let readings = trial.diameters.to_vec();
    let excluded: Vec<&str> = readings.iter().filter_map(|reading| reading.excluded.as_deref()).collect();
    assert_eq!(excluded, ["swarf under the anvil"]);
    let slip = trial.diameters.iter().find(|reading| reading.pass == 1 && (reading.station_mm - 165.1).abs() < 1e-9).unwrap();
    assert!((slip.read_mm - 1.4986 * 25.4).abs() < 1e-9 && slip.excluded.is_none());
    assert!((trial.bar.diameter_mm - 38.1).abs() < 1e-9 && (trial.gauge.diameter.resolution_mm - 0.00254).abs() < 1e-12);
}
