//! What only the whole log can show: too few stations, stations off the bar, swapped columns, slips of a digit.

use super::collector::Collector;
use super::passes::at;
use super::settings::Stated;
use super::words::nearest;
use crate::findings::{Finding, Severity};
use crate::trial::{DiameterReading, InputFile, Trial};
use std::collections::{BTreeMap, BTreeSet};

/// Looks at readings as they were logged, before defaults are filled in.
pub(super) fn check(stated: &Stated, collector: &mut Collector) {
    let trial = &stated.trial;
    let used: Vec<&DiameterReading> = trial.diameters.iter().filter(|reading| reading.excluded.is_none()).collect();
    if swapped(&used) {
        if let Some(first) = used.first() {
            let found = "stations that all agree and diameters that do not".to_owned();
            let help = "the columns of station and diameter look swapped: mend the header";
            collector.add(at("swapped-columns", Severity::Error, first, &trial.inputs, found, help));
        }
        return;
    }
    on_the_bar(stated, collector);
    enough_stations(&used, trial, collector);
    slips(&used, &trial.inputs, collector);
    unlike_the_bar(&used, stated, collector);
    repeated(trial, collector);
    gauges(trial, collector);
    moved_settings(trial, collector);
}

/// A turned bar whose diameters span more than half of the largest, at stations within a hundredth of one another.
fn swapped(used: &[&DiameterReading]) -> bool {
    let range = |value: fn(&DiameterReading) -> f64| {
        used.iter()
            .map(|reading| value(reading))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
    };
    let (stations, diameters) = (range(|reading| reading.station_mm), range(|reading| reading.read_mm));
    used.len() >= 2 && stations.0 > 0.0 && stations.1 - stations.0 < 0.01 * stations.1 && diameters.1 - diameters.0 > 0.5 * diameters.1
}

fn on_the_bar(stated: &Stated, collector: &mut Collector) {
    let trial = &stated.trial;
    let length = if stated.length_missing { f64::INFINITY } else { trial.bar.length_mm * (1.0 + 1e-9) };
    let collars = &trial.bar.collars_mm;
    for reading in &trial.diameters {
        let station = reading.station_mm;
        if station < 0.0 || station > length {
            collector.error(|| {
                let help = if station < 0.0 {
                    "stations count from the chuck face or the headstock centre towards the tailstock: 0 or more".to_owned()
                } else {
                    format!("the bar is {} mm long: mend the station, or length_mm in [bar]", trial.bar.length_mm)
                };
                at("station-outside-bar", Severity::Error, reading, &trial.inputs, format!("station {station} mm"), &help)
                    .in_column("station")
            });
        } else if !collars.is_empty() && !collars.iter().any(|span| (span[0] - 1e-6..=span[1] + 1e-6).contains(&station)) {
            let help = "no metal is cut there: mend the station, or collars_mm in [bar]";
            let found = format!("station {station} mm, between collars");
            collector.add(at("station-off-collar", Severity::Warning, reading, &trial.inputs, found, help).in_column("station"));
        }
    }
}

fn enough_stations(used: &[&DiameterReading], trial: &Trial, collector: &mut Collector) {
    let mut stations: BTreeMap<u32, BTreeSet<u64>> = BTreeMap::new();
    for reading in &trial.diameters {
        stations.entry(reading.setting).or_default();
    }
    for reading in used {
        stations.entry(reading.setting).or_default().insert(reading.station_mm.to_bits());
    }
    let help = "a taper needs readings at two stations or more, in every setting";
    if trial.diameters.is_empty() {
        if collector.errors() == 0 {
            let file = trial.inputs.iter().find(|input| input.file.to_lowercase().starts_with("diameters"));
            let finding = |found: &str, help: &str| Finding::new("no-readings", Severity::Error, found, help);
            collector.add(match file {
                Some(input) => finding(
                    "no readings of diameters yet",
                    "turn the bar, read its diameter at two stations or more, and write one reading a row under the header",
                )
                .in_file(input.file.clone()),
                None => finding(
                    "no readings of diameters",
                    "add diameters.csv with columns station_mm and diameter_mm; a taper needs readings at two stations or more",
                ),
            });
        }
        return;
    }
    for (setting, stations) in stations.iter().filter(|(_, stations)| stations.len() < 2) {
        let found = match stations.len() {
            0 => format!("every reading of setting {setting} is excluded"),
            _ => format!("one station in setting {setting}"),
        };
        if let Some(reading) = trial.diameters.iter().find(|reading| reading.setting == *setting) {
            collector.add(at("too-few-stations", Severity::Error, reading, &trial.inputs, found, help));
        }
    }
}

/// A reading ten times, a tenth, 25.4 times or 1/25.4 of the median diameter: flagged only.
fn slips(used: &[&DiameterReading], inputs: &[InputFile], collector: &mut Collector) {
    if used.len() < 3 {
        return;
    }
    let mut sorted: Vec<f64> = used.iter().map(|reading| reading.read_mm).collect();
    let middle = sorted.len() / 2;
    let (_, median, _) = sorted.select_nth_unstable_by(middle, f64::total_cmp);
    let median = *median;
    for reading in used {
        let ratio = reading.read_mm / median;
        let near = |target: f64| (ratio / target - 1.0).abs() < 0.1;
        let (code, what) = if near(10.0) || near(0.1) {
            ("digit-slip", "a digit too many or too few, or a misplaced decimal mark")
        } else if near(25.4) || near(1.0 / 25.4) {
            ("unit-slip", "an inch reading among millimetres, or the other way")
        } else {
            continue;
        };
        let found = format!("a diameter of {} mm where the others are near {median} mm", reading.read_mm);
        let help = format!("perhaps {what}; it is used as logged: mend it, or exclude it with a reason");
        collector.add(at(code, Severity::Warning, reading, inputs, found, &help).in_column("diameter"));
    }
}

/// Readings that are far from the bar's stated diameter: radius for diameter, another unit, another bar.
fn unlike_the_bar(used: &[&DiameterReading], stated: &Stated, collector: &mut Collector) {
    let bar = stated.trial.bar.diameter_mm;
    let Some(first) = used.first().filter(|_| !stated.diameter_missing && bar > 0.0) else { return };
    let mut sorted: Vec<f64> = used.iter().map(|reading| reading.read_mm).collect();
    let middle = sorted.len() / 2;
    let median = *sorted.select_nth_unstable_by(middle, f64::total_cmp).1;
    let ratio = median / bar;
    if (0.8..=1.25).contains(&ratio) {
        return;
    }
    let near = |target: f64| (ratio / target - 1.0).abs() < 0.1;
    let why = if near(25.4) || near(1.0 / 25.4) {
        "perhaps the header names another unit than was read"
    } else if near(0.5) {
        "perhaps radii were logged"
    } else {
        "mend diameter_mm in [bar], or look whether this is the right bar"
    };
    let found = format!("diameters near {median} mm on a bar stated to be {bar} mm");
    collector.add(at("diameter-unlike-bar", Severity::Warning, first, &stated.trial.inputs, found, why).in_column("diameter"));
}

/// The same numbered repeat twice at one station of one pass.
fn repeated(trial: &Trial, collector: &mut Collector) {
    let mut seen = BTreeSet::new();
    for reading in trial.diameters.iter().filter(|reading| reading.repeat.is_some()) {
        let angle = reading.angle_deg.map(f64::to_bits);
        let who = (reading.operator.as_deref(), reading.gauge.as_deref());
        let fresh = seen.insert((reading.setting, reading.pass, reading.station_mm.to_bits(), reading.repeat, angle, who));
        if !fresh {
            let found = format!("repeat {} at station {} mm once more", reading.repeat.unwrap_or_default(), reading.station_mm);
            let help = "both are used: number repeats upwards, or take the copy out";
            collector.add(at("repeat-twice", Severity::Warning, reading, &trial.inputs, found, help).in_column("repeat"));
        }
    }
}

/// Moves to or from settings of which nothing was measured.
fn moved_settings(trial: &Trial, collector: &mut Collector) {
    let known: BTreeSet<u32> =
        trial.diameters.iter().map(|reading| reading.setting).chain(trial.levels.iter().map(|level| level.setting)).collect();
    for step in &trial.moves {
        for setting in [step.from_setting, step.to_setting].into_iter().filter(|setting| !known.contains(setting)) {
            let found = format!("setting {setting}, of which there is no reading");
            let help = "a move tells most when both settings were measured: mend the number, or measure";
            let file = super::passes::file_name(&trial.inputs, step.place.file);
            collector.add(Finding::new("setting-not-measured", Severity::Warning, found, help).in_file(file).at_row(step.place.row));
        }
    }
}

/// Gauges that the log names and the settings do not.
fn gauges(trial: &Trial, collector: &mut Collector) {
    let known = &trial.gauge.diameter_named;
    let default = [trial.gauge.diameter.name.as_deref(), trial.gauge.diameter.serial.as_deref()];
    let mut said = BTreeSet::new();
    for reading in &trial.diameters {
        let Some(name) = reading.gauge.as_deref() else { continue };
        if known.contains_key(name) || default.contains(&Some(name)) || !said.insert(name) {
            continue;
        }
        let help = match nearest(name, known.keys().map(String::as_str)) {
            Some(word) => format!("perhaps {word}; the data sheet of [gauge.diameter] is used"),
            None => format!("add [gauge.diameter.{name}]; until then the data sheet of [gauge.diameter] is used"),
        };
        let found = format!("gauge `{name}` without a table of its own");
        collector.add(at("unknown-gauge", Severity::Warning, reading, &trial.inputs, found, &help).in_column("gauge"));
    }
}
