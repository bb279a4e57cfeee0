//! What was written is what is read, and the sample trials are what their settings say.

use proptest::prelude::*;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use taperwright::ingest::{ReadOptions, TrialFiles, read_files, read_settings, read_trial};
use taperwright::simulate::simulate;
use taperwright::trial::{DiameterReading, Origin, Place, Trial};

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

/// How a log may be written otherwise than the program writes it.
#[derive(Debug, Clone)]
struct Dress {
    separator: char,
    decimal_comma: bool,
    end: &'static str,
    quoted: bool,
    /// Columns are put into the order of these numbers.
    order: Vec<u32>,
    /// An empty line and a comment after every so many rows.
    pause: usize,
    /// A separator after the last cell.
    trailing: bool,
    marked: bool,
}

fn dress() -> impl Strategy<Value = Dress> {
    let marks = (proptest::sample::select(vec![',', ';', '\t', ' ']), any::<bool>(), proptest::sample::select(vec!["\n", "\r\n", "\r"]));
    let rest = (any::<bool>(), proptest::collection::vec(0_u32..1_000, 12), 1_usize..6, any::<bool>(), any::<bool>());
    (marks, rest).prop_map(|((separator, decimal_comma, end), (quoted, order, pause, trailing, marked))| Dress {
        // Blanks cannot keep an empty cell, and a comma is both marks only in quotes.
        quoted: quoted || (separator == ',' && decimal_comma),
        trailing: trailing && separator != ' ',
        separator,
        decimal_comma,
        end,
        order,
        pause,
        marked,
    })
}

impl Dress {
    /// The same log in this dress.
    fn on(&self, text: &str) -> String {
        let rows: Vec<Vec<&str>> = text.lines().map(|line| line.split(',').collect()).collect();
        let mut columns: Vec<usize> = (0..rows[0].len()).collect();
        columns.sort_by_key(|column| (self.order[*column], *column));
        let empty = rows.iter().flatten().any(|cell| cell.is_empty());
        let separator = if empty && self.separator == ' ' { '\t' } else { self.separator };
        let mut all = if self.marked { "\u{feff}".to_owned() } else { String::new() };
        for (at, row) in rows.iter().enumerate() {
            let cell = |column: &usize| {
                let cell = if self.decimal_comma && at > 0 { row[*column].replace('.', ",") } else { row[*column].to_owned() };
                if self.quoted { format!("\"{cell}\"") } else { cell }
            };
            all += &columns.iter().map(cell).collect::<Vec<_>>().join(&separator.to_string());
            if self.trailing {
                all.push(separator);
            }
            all += self.end;
            if at % self.pause == 0 {
                all += &format!("{0}# tea{0}", self.end);
            }
        }
        all
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    /// All five logs, written by the program from any seed and dressed otherwise, give the readings that were written, to the bit.
    #[test]
    fn written_logs_in_any_dress_are_what_was_written(
        sample in any::<prop::sample::Index>(),
        seed in 0_u64..1_000_000,
        dresses in proptest::collection::vec(dress(), 5),
    ) {
        let folder = samples().join(sample.get(&["first-move", "second-move", "headstock-only", "wear-both-ways"]));
        let settings = std::fs::read(folder.join("trial.toml")).expect("a sample");
        let mut trial = read_settings(&folder, &ReadOptions::default()).expect("a sample");
        let request = trial.simulate.as_mut().expect("a sample that is simulated");
        request.logs = ["diameters", "levels", "indicator", "clamp", "moves"].map(str::to_owned).to_vec();
        request.logs.truncate(if request.moves.is_empty() { 4 } else { 5 });
        let written = simulate(&trial, seed).expect("logs");
        let mut files = BTreeMap::from([("trial.toml".to_owned(), Some(settings))]);
        for (file, dress) in written.files.iter().filter(|file| file.name.ends_with(".csv")).zip(&dresses) {
            prop_assert!(!file.text.contains('"'));
            files.insert(file.name.clone(), Some(dress.on(&file.text).into_bytes()));
        }
        let read = read_files(&TrialFiles::in_memory(&Origin::default(), files), &ReadOptions::default());
        let mut read = read.unwrap_or_else(|rejected| panic!("{:?}", rejected.findings));
        prop_assert_eq!(first_difference(&read, &written.trial), None);
        if let Some(level) = read.levels.first_mut() {
            level.reversed = !level.reversed;
            prop_assert_eq!(first_difference(&read, &written.trial), Some("levels"));
        }
    }
}
