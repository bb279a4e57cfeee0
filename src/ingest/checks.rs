//! What only the whole log can show: too few stations, stations off the bar, swapped columns, slips of a digit.

pub(super) mod along;
pub(super) mod dial_slips;
pub(super) mod level_slips;
pub(super) mod other_logs;
pub(super) mod out_of_round;
pub(super) mod pass_numbers;
pub(super) mod restarts;
pub(super) mod rows_again;
pub(super) mod sizes;
pub(super) mod slips;
pub(super) mod summaries;
pub(super) mod temperature_slips;
pub(super) mod time_order;
pub(super) mod time_slips;
pub(super) mod unlikely;

use super::collector::Collector;
use super::diameter_rows::DiameterRows;
use super::log_kind::LogKind;
use super::near_names::near_log;
use super::passes::at;
use super::settings::{Stated, shown};
use super::words::nearest;
use crate::findings::{Finding, Severity};
use crate::quantities::grouped;
use crate::trial::{MOST_STATIONS, Place, Trial, TrialSource};
use rows_again::{pasted_twice, repeated, two_tables};
use sizes::{DIAMETERS_MM, absurd, by_pass, swapped, units, unlikely, used_rows};
use std::collections::{BTreeMap, BTreeSet};

/// Looks at readings as they were logged, before defaults are filled in. `rows` are what their files say beside them.
pub(super) fn check(stated: &Stated, rows: &DiameterRows, collector: &mut Collector) {
    let (trial, headers) = (&stated.trial, rows.headers.as_slice());
    let mut used: Vec<f64> = used_rows(trial).filter_map(|row| trial.diameters.read_mm().get(row)).copied().collect();
    let first = used_rows(trial).next().map(|row| trial.diameters.place(row));
    if swapped(&by_pass(trial, |_| true)) {
        if let Some(first) = first {
            let found = "stations that all agree and diameters that do not".to_owned();
            let help = "the columns of station and diameter look swapped: mend the header";
            collector.add(at("swapped-columns", Severity::Error, first, &trial.inputs, found, help));
        }
        return;
    }
    many_stations(trial, collector);
    on_the_bar(stated, collector);
    enough_stations(trial, rows, collector);
    let median = median(&mut used);
    if let (Some(first), Some(median)) = (first, median) {
        // of two readings one may be the size of a bar
        let usual = DIAMETERS_MM.contains(&median).then_some(median);
        match usual.or_else(|| used.iter().copied().find(|read_mm| used.len() == 2 && DIAMETERS_MM.contains(read_mm))) {
            Some(usual) => slips::diameters(usual, stated, collector),
            None if collector.errors() == 0 => absurd(median, first, trial, headers, collector),
            None => {}
        }
        if collector.errors() == 0 {
            slips::stations(median, trial, collector);
            unlikely(median, first, trial, collector);
            units(median, first, trial, headers, collector);
        }
        unlike_the_bar(median, first, stated, collector);
    }
    drop(used);
    summaries::check(trial, collector);
    repeated(trial, collector);
    two_tables(trial, collector);
    let finest_mm = rows.finest_mm.values().copied().reduce(f64::min);
    pasted_twice(trial, finest_mm, collector);
    if collector.rows_of("two-tables").is_empty() {
        let least_mm = restarts::least_apart_mm(trial, finest_mm);
        let told = restarts::check(stated, least_mm, &rows.unnumbered, collector);
        if let Some(median) = median.filter(|_| collector.errors() == 0) {
            out_of_round::check(stated, median, least_mm, &told, &rows.unnumbered, collector);
        }
    }
    temperature_slips::check(trial, rows, collector);
    gauges(trial, collector);
    other_logs::check(trial, collector);
    if collector.errors() == 0 {
        unlikely::cuts(stated, &rows.cut_units, collector);
        pass_numbers::check(trial, collector);
    }
}

/// The upper median; the values are put in another order.
fn median(values: &mut [f64]) -> Option<f64> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// Stations that were rounded because too many are different.
fn many_stations(trial: &Trial, collector: &mut Collector) {
    if let Some(step) = trial.diameters.station_step_mm() {
        let found = format!("more than {} different stations", grouped(MOST_STATIONS));
        let help = format!(
            "all are taken as read to {step} mm, so that none moves by more than half of that; write stations no finer than they are measured"
        );
        collector.add(Finding::new("stations-rounded", Severity::Warning, found, help));
    }
}

fn on_the_bar(stated: &Stated, collector: &mut Collector) {
    let trial = &stated.trial;
    let length = if stated.length_missing { f64::INFINITY } else { trial.bar.length_mm * (1.0 + 1e-9) };
    let collars = &trial.bar.collars_mm;
    let on_bar = |station: f64| (0.0..=length).contains(&station);
    let on_metal = |station: f64| collars.is_empty() || collars.iter().any(|span| (span[0] - 1e-6..=span[1] + 1e-6).contains(&station));
    let odd: Vec<bool> = trial.diameters.stations().iter().map(|station| !on_bar(station.0) || !on_metal(station.0)).collect();
    if !odd.iter().any(|odd| *odd) {
        return;
    }
    for row in (0..trial.diameters.len()).filter(|row| odd.get(trial.diameters.station_number(*row) as usize) == Some(&true)) {
        let (station, place) = (trial.diameters.station_mm(row), trial.diameters.place(row));
        if on_bar(station) {
            let help = "no metal is cut there: mend the station, or collars_mm in [bar]";
            let found = || format!("station {} mm, between collars", shown(station));
            collector.remark(|| at("station-off-collar", Severity::Warning, place, &trial.inputs, found(), help).in_column("station"));
        } else {
            collector.error(|| {
                let help = if station < 0.0 {
                    "stations count from the chuck face or the headstock centre towards the tailstock: 0 or more".to_owned()
                } else {
                    format!("the bar is {} mm long: mend the station, or length_mm in [bar]", shown(trial.bar.length_mm))
                };
                at("station-outside-bar", Severity::Error, place, &trial.inputs, format!("station {} mm", shown(station)), &help)
                    .in_column("station")
            });
        }
    }
}

fn enough_stations(trial: &Trial, rows: &DiameterRows, collector: &mut Collector) {
    // by setting: a station, and whether there is another
    let mut stations: BTreeMap<u32, (Option<u32>, bool)> = BTreeMap::new();
    for setting in trial.diameters.settings() {
        stations.insert(setting, (None, false));
    }
    let mut before = None;
    for row in used_rows(trial) {
        let here = (trial.diameters.cut_number(row), trial.diameters.station_number(row));
        if before.replace(here) == Some(here) {
            continue;
        }
        let (first, two) = stations.entry(trial.diameters.cut(row).setting).or_default();
        *two |= *first.get_or_insert(here.1) != here.1;
    }
    let help = "a taper needs readings at two stations or more, in every setting";
    if trial.diameters.is_empty() {
        if collector.errors() == 0 {
            collector.add(no_readings(trial, &rows.headers));
        }
        return;
    }
    // what was refused may be what is missing
    if collector.errors() > 0 {
        return;
    }
    for (setting, (first, _)) in stations.iter().filter(|(_, (_, two))| !two) {
        let Some(row) = (0..trial.diameters.len()).find(|row| trial.diameters.cut(*row).setting == *setting) else { continue };
        let place = trial.diameters.place(row);
        let finding = |found: String, help: &str| at("too-few-stations", Severity::Error, place, &trial.inputs, found, help);
        collector.add(if first.is_some() {
            finding(format!("one station in setting {setting}"), help)
        } else {
            let reason = trial.diameters.excluded(row).map_or_else(String::new, |reason| format!(", the first by `{reason}`"));
            let column = rows.exclude_headers.iter().find(|(file, _)| *file == place.file).map_or("exclude", |(_, header)| header);
            let help =
                "any text but 0, no, false and the like takes a reading out and is the reason: leave the cell empty where a reading stays";
            finding(format!("every reading of setting {setting} is excluded{reason}"), help).in_column(column)
        });
    }
}

/// The fault of a trial without readings: a log without lines, a file that is not read for its name, or neither.
fn no_readings(trial: &Trial, headers: &[(usize, String)]) -> Finding {
    let finding = |found: &str, help: &str| Finding::new("no-readings", Severity::Error, found, help);
    if let Some(input) = headers.first().and_then(|(file, _)| trial.inputs.get(*file)) {
        let help = "turn the bar, read its diameter at two stations or more, and write one reading a row under the header";
        return finding("no readings of diameters yet", help).in_file(input.file.clone());
    }
    if let Some(file) = trial.origin.not_read.iter().find(|file| near_log(file) == Some(LogKind::Diameters)) {
        let found = format!("no readings of diameters: `{file}` is not read, for its name");
        return finding(&found, "call it diameters.csv, or diameters-2.csv where it is not the first").in_file(file.clone());
    }
    if let Some(first) = trial.indicator.first().filter(|_| trial.origin.source != TrialSource::Folder) {
        let help = "a column `reading` is that of an indicator along a test bar. If these are diameters head the column `diameter_mm`; if not add \
                    diameters.csv with columns station_mm and diameter_mm";
        let found = "no readings of diameters: this log is taken for that of an indicator".to_owned();
        return at("no-readings", Severity::Error, first.place, &trial.inputs, found, help).in_column("reading");
    }
    finding(
        "no readings of diameters",
        "add diameters.csv with columns station_mm and diameter_mm; a taper needs readings at two stations or more",
    )
}

/// Readings that are far from the bar's stated diameter: radius for diameter, another unit, another bar.
fn unlike_the_bar(median: f64, first: Place, stated: &Stated, collector: &mut Collector) {
    let bar = stated.trial.bar.diameter_mm;
    let ratio = median / bar;
    if stated.diameter_missing || bar <= 0.0 || (0.8..=1.25).contains(&ratio) {
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
    let found = format!("diameters near {} mm on a bar stated to be {} mm", shown(median), shown(bar));
    collector.add(at("diameter-unlike-bar", Severity::Warning, first, &stated.trial.inputs, found, why).in_column("diameter"));
}

/// Gauges that the log names and the settings do not.
fn gauges(trial: &Trial, collector: &mut Collector) {
    let known = &trial.gauge.diameter_named;
    let default = [trial.gauge.diameter.name.as_deref(), trial.gauge.diameter.serial.as_deref()];
    let mut said = BTreeSet::new();
    for (number, name) in (0_u32..).zip(trial.diameters.gauges()) {
        let Some(name) = name.as_deref() else { continue };
        let Some(row) = (0..trial.diameters.len()).find(|row| trial.diameters.gauge_number(*row) == number) else { continue };
        if known.contains_key(name) || default.contains(&Some(name)) || !said.insert(name) {
            continue;
        }
        let help = match nearest(name, known.keys().map(String::as_str)) {
            Some(word) => format!("perhaps {word}; the data sheet of [gauge.diameter] is used"),
            None => format!("add [gauge.diameter.{name}]; until then the data sheet of [gauge.diameter] is used"),
        };
        let found = format!("gauge `{name}` without a table of its own");
        collector.add(at("unknown-gauge", Severity::Warning, trial.diameters.place(row), &trial.inputs, found, &help).in_column("gauge"));
    }
}
