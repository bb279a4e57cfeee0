//! What stands twice in a log: a second table, rows pasted twice, a repeat with the number of another.

use super::super::collector::Collector;
use super::super::defaults::{FINEST_RESOLUTION_MM, TYPICAL_RESOLUTION_MM};
use super::super::passes::at;
use crate::findings::{Finding, Severity};
use crate::trial::Trial;
use rayon::slice::ParallelSliceMut as _;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

/// A header once more in a log, and below it a reading of a pass at a station that stands above it too, with the same number of repeat and angle: nobody
/// knows whether it was read again or cut again.
pub(in crate::ingest) fn two_tables(trial: &Trial, collector: &mut Collector) {
    let log = &trial.diameters;
    for (file, header) in collector.rows_of("header-again") {
        let in_file = |row: &usize| trial.inputs.get(log.place(*row).file).is_some_and(|input| input.file == file);
        let (above, below): (Vec<usize>, Vec<usize>) = (0..log.len()).filter(in_file).partition(|row| log.place(*row).row < header);
        let reading = |row: &usize| {
            let (cut, angle) = (log.cut(*row), log.angle_deg(*row).map(f64::to_bits));
            (cut.setting, cut.pass, log.station_number(*row), log.repeat(*row), angle)
        };
        let stand: HashSet<_> = above.iter().map(reading).collect();
        if below.iter().any(|row| stand.contains(&reading(row))) {
            let found = "a second table: the header once more, and readings of passes and stations that stand above it too";
            let help = "number the passes of the second table on in a column pass, if it was cut again, or its readings in a column repeat, if it \
                        was read again; or put each table into a file of its own";
            collector.add(Finding::new("two-tables", Severity::Error, found, help).in_file(file).at_row(header));
            return;
        }
    }
}

/// Rows in a run that look as if they were pasted twice.
const PASTED: usize = 4;
/// Longest log that is searched for them: longer ones are written by machines.
const SEARCHED: usize = 100_000;
/// Most rows of a run that are counted.
const COUNTED: usize = 64;
/// A run that comes again by chance less often than this was copied.
const BY_CHANCE: f64 = 1e-3;

/// Station, reading, angle and number of the repeat of a row.
type Row = (u32, u64, u64, Option<u32>);

/// Four readings or more in a row, of three diameters or more, that stand above in the same order to the last digit: in the same pass, or in another one that is
/// stated to have cut metal, after which no bar measures the same. `finest_mm` is the finest step of the readings.
///
/// A coarse gauge reads the same again by itself. Two readings of one place, each of standard uncertainty u and shown in steps r, agree with probability
/// `r/(2√π·u)` at most, where r is small against u: the density of their difference at 0 times the step (arithmetic). A run is told when all of it agrees by
/// chance less often than once in a thousand.
pub(in crate::ingest) fn pasted_twice(trial: &Trial, finest_mm: Option<f64>, collector: &mut Collector) {
    let log = &trial.diameters;
    if log.len() < 2 * PASTED || log.len() > SEARCHED {
        return;
    }
    let bits = |angle: Option<f64>| angle.map_or(u64::MAX, f64::to_bits);
    let rows: Vec<Row> =
        log.iter().zip(0..).map(|(r, row)| (log.station_number(row), r.read_mm.to_bits(), bits(r.angle_deg), r.repeat)).collect();
    let gauge = &trial.gauge.diameter;
    let alike = agree_by_chance(if gauge.resolution_mm > 0.0 { Some(gauge.resolution_mm) } else { finest_mm }, gauge.u_mm);
    let mut first: HashMap<&[Row], usize> = HashMap::new();
    for (start, run) in rows.windows(PASTED).enumerate() {
        let kinds: BTreeSet<u64> = run.iter().map(|row| row.1).collect();
        if kinds.len() < 3 {
            continue;
        }
        let before = *first.entry(run).or_insert(start);
        if before + PASTED > start {
            continue;
        }
        let is_copy = |row: &usize| {
            let (cut, above) = (log.cut_number(start + row), log.cut_number(before + row));
            rows.get(before + row) == rows.get(start + row) && (cut, above) == (log.cut_number(start), log.cut_number(before))
        };
        let length = (0..COUNTED.min(rows.len() - start).min(start - before)).take_while(is_copy).count();
        if length < PASTED || alike.powi(i32::try_from(length).unwrap_or(i32::MAX)) > BY_CHANCE {
            continue;
        }
        let (found, help) = if log.cut_number(before) == log.cut_number(start) {
            // repeats have numbers, and the same one twice is told of itself
            if log.has_repeats() {
                continue;
            }
            (
                format!("readings that stand from row {} on, once more in the same order", log.place(before).row),
                "if they were pasted twice take one copy out: as logged they count twice; if they were read again number them in a column repeat",
            )
        } else if log.cut(start).depth_mm.0 > 0.0 && depth_is_stated(trial, start) {
            (
                format!(
                    "readings that stand from row {} on in another pass, to the last digit and in the same order",
                    log.place(before).row
                ),
                "after another cut no bar measures the same: if they were copied take one copy out, as logged they count twice; if nothing was cut \
                 write depth 0",
            )
        } else {
            continue;
        };
        collector.add(at("pasted-twice", Severity::Warning, log.place(start), &trial.inputs, found, help));
        return;
    }
}

/// How often two readings of one place agree to the last digit, at most; a step that nothing tells is taken as fine as that of a micrometer.
fn agree_by_chance(step_mm: Option<f64>, u_mm: f64) -> f64 {
    let step = step_mm.unwrap_or(TYPICAL_RESOLUTION_MM);
    // more decimals than a gauge shows come from a conversion and say nothing of it
    let step = if step < FINEST_RESOLUTION_MM * (1.0 - 1e-9) { TYPICAL_RESOLUTION_MM } else { step };
    (step / (2.0 * std::f64::consts::PI.sqrt() * u_mm)).clamp(0.0, 1.0)
}

/// Whether the log or the settings state the depth of a reading's pass, so that it is none that was assumed.
fn depth_is_stated(trial: &Trial, row: usize) -> bool {
    let assumed = trial.assumed.iter().any(|assumption| assumption.key == "cutting.depth_mm");
    !assumed || trial.diameters.cut(row).depth_mm.0 != trial.cutting.depth_mm
}

/// The same numbered repeat twice at one station of one pass.
pub(in crate::ingest) fn repeated(trial: &Trial, collector: &mut Collector) {
    for row in rows_again(trial) {
        collector.remark(|| {
            let repeat = trial.diameters.repeat(row).unwrap_or_default();
            let found = format!("repeat {repeat} at station {} mm once more", trial.diameters.station_mm(row));
            let help = "both are used: number repeats upwards, or take the copy out";
            at("repeat-twice", Severity::Warning, trial.diameters.place(row), &trial.inputs, found, help).in_column("repeat")
        });
    }
}

/// Rows that repeat another one above, rising.
fn rows_again(trial: &Trial) -> Vec<usize> {
    let log = &trial.diameters;
    if !log.has_repeats() {
        return Vec::new();
    }
    let mut numbers: BTreeMap<(u32, u32), u32> = BTreeMap::new();
    let pass_of: Vec<u32> = log
        .cuts()
        .iter()
        .map(|cut| {
            let next = u32::try_from(numbers.len()).unwrap_or(u32::MAX);
            *numbers.entry((cut.setting, cut.pass)).or_insert(next)
        })
        .collect();
    let pass = |row: usize| pass_of.get(log.cut_number(row) as usize).copied().unwrap_or(0);
    let numbered = || (0..log.len()).filter(|row| log.repeat(*row).is_some());
    // repeats that count upwards at each station of each pass, one station after the other, need no further look
    let mut places = HashSet::new();
    let mut above = None;
    let in_order = numbered().all(|row| {
        let (here, repeat) = ((pass(row), log.station_number(row)), log.repeat(row));
        let rising = above.is_some_and(|(place, before)| place == here && before < repeat);
        above = Some((here, repeat));
        rising || places.insert(here)
    });
    if in_order {
        return Vec::new();
    }
    drop(places);
    let key = |row: u32| {
        let row = row as usize;
        let angle = log.angle_deg(row).map(f64::to_bits);
        (pass(row), log.station_number(row), log.repeat(row), angle, log.operator_number(row), log.gauge_number(row))
    };
    let mut rows: Vec<u32> = numbered().filter_map(|row| u32::try_from(row).ok()).collect();
    rows.par_sort_unstable_by_key(|row| (key(*row), *row));
    let again = rows.windows(2).filter(|pair| matches!(pair, [a, b] if key(*a) == key(*b))).filter_map(|pair| pair.get(1));
    let mut again: Vec<usize> = again.map(|row| *row as usize).collect();
    again.sort_unstable();
    again
}
