//! A pass whose stations start over at other diameters: another cut, whose number nobody wrote.

use super::super::collector::Collector;
use super::super::passes::at;
use super::super::settings::{Stated, shown};
use super::sizes::used_rows;
use crate::findings::Severity;
use crate::trial::{Diameters, Trial};
use std::collections::{BTreeMap, BTreeSet};

/// Longest log that is looked through: longer ones are written by machines, which number their passes.
const SEARCHED: usize = 100_000;
/// Two readings of a round bar differ by fewer of their standard uncertainties.
const APART: f64 = 10.0;
/// Beyond this, mm, no bar is out of round that is turned in one cut; below, it may be, and is asked about (common practice, no source).
pub(in crate::ingest) const OUT_OF_ROUND_MM: f64 = 0.03;
/// Differences of decimal numbers are exact to so much, mm.
pub(in crate::ingest) const ROUNDING_MM: f64 = 1e-9;
/// Stations that both must have.
const STATIONS: usize = 2;

/// One time along the stations of a pass.
#[derive(Debug, Clone)]
struct Run {
    first: usize,
    last: usize,
    /// The row above its last.
    above: usize,
    /// Rows of its last station, which a run back may begin with.
    at_last: usize,
    /// Sum and number of the readings by station.
    stations: BTreeMap<u32, (f64, usize)>,
}

/// A warning where one pass goes along its stations again and most diameters, at 20 °C, lie off those before by more than [`APART`] standard uncertainties of
/// one reading, `least_mm`; beyond [`OUT_OF_ROUND_MM`] as well an error in files that number no passes, `unnumbered`.
/// Readings that state another angle, repeat, gauge or operator are of one cut here, and [`out_of_round`](super::out_of_round) looks at them; so are those that agree.
///
/// The passes that were told, by the number of their cut.
pub(in crate::ingest) fn check(stated: &Stated, least_mm: f64, unnumbered: &BTreeSet<usize>, collector: &mut Collector) -> BTreeSet<u32> {
    let trial = &stated.trial;
    let log = &trial.diameters;
    let mut told = BTreeSet::new();
    if log.len() > SEARCHED {
        return told;
    }
    let mut passes: BTreeMap<u32, Vec<Run>> = BTreeMap::new();
    for row in used_rows(trial) {
        let runs = passes.entry(log.cut_number(row)).or_default();
        add(runs, row, trial);
    }
    for runs in passes.into_values() {
        let Some((before, behind, apart)) = again(&runs, trial, least_mm) else { continue };
        told.insert(log.cut_number(behind.first));
        let (cut, first) = (log.cut(behind.first), log.place(before.first));
        let size = shown(apart.middle_mm.abs());
        let found = format!(
            "pass {} of setting {} goes along the stations of rows {} to {} again, and is {} there",
            cut.pass,
            cut.setting,
            first.row,
            log.place(before.last).row,
            match (apart.one_side, apart.middle_mm < 0.0) {
                (false, _) => format!("off by {size} mm or more at most of them"),
                (true, true) => format!("{size} mm smaller"),
                (true, false) => format!("{size} mm larger"),
            }
        );
        let help = "if another pass begins here write its number in a column pass; if the same cut was read again say how in a column repeat, angle_deg \
                    or gauge, and of a bar that had not cooled its temperature in a column temperature_c";
        let place = log.place(behind.first);
        let refused = apart.middle_mm.abs() > OUT_OF_ROUND_MM + ROUNDING_MM && unnumbered.contains(&place.file);
        let severity = if refused { Severity::Error } else { Severity::Warning };
        collector.add(at("pass-starts-over", severity, place, &trial.inputs, found, help).in_column("station"));
    }
    told
}

/// Coarsest step of a gauge that is told from the readings, mm: two thousandths of an inch.
const COARSEST_MM: f64 = 0.0508;

/// How far apart two readings of a round bar lie that are not of one cut, mm: [`APART`] standard uncertainties of one reading, that of touch and reading, and
/// the step of the gauge over √12: the one stated, or `finest_mm`, the step of the last digit, or where it is more the least difference of two unlike readings, as
/// of a caliper that shows 0.02 mm.
pub(in crate::ingest) fn least_apart_mm(trial: &Trial, finest_mm: Option<f64>) -> f64 {
    let gauge = &trial.gauge.diameter;
    let log = &trial.diameters;
    let step_mm = if gauge.resolution_mm > 0.0 || log.len() > SEARCHED {
        gauge.resolution_mm.max(finest_mm.filter(|_| gauge.resolution_mm <= 0.0).unwrap_or(0.0))
    } else {
        let mut read: Vec<f64> = used_rows(trial).filter_map(|row| log.read_mm().get(row)).copied().collect();
        read.sort_by(f64::total_cmp);
        let steps = read.windows(2).filter_map(|pair| if let [a, b] = pair { Some(b - a) } else { None });
        let least = steps.filter(|step| *step > ROUNDING_MM).fold(COARSEST_MM, f64::min);
        finest_mm.unwrap_or(0.0).max(least)
    };
    let u_mm = trial.gauge.diameter_named.values().map(|gauge| gauge.u_mm).fold(gauge.u_mm, f64::max);
    APART * u_mm.hypot(step_mm / 12_f64.sqrt())
}

/// Adds a row to the last run of its pass, or begins the next where its station is behind that run already.
fn add(runs: &mut Vec<Run>, row: usize, trial: &Trial) {
    let log = &trial.diameters;
    let (station, diameter_mm) = (log.station_number(row), log.diameter_mm(row));
    if let Some(run) = runs.last_mut() {
        let goes_on = log.station_number(run.last) == station;
        if goes_on || !run.stations.contains_key(&station) {
            let (sum, count) = run.stations.entry(station).or_insert((0.0, 0));
            (*sum, *count) = (*sum + diameter_mm, *count + 1);
            run.at_last = if goes_on { run.at_last + 1 } else { 1 };
            (run.above, run.last) = (run.last, row);
            return;
        }
    }
    let mut next = Run { first: row, last: row, above: row, at_last: 1, stations: BTreeMap::from([(station, (diameter_mm, 1))]) };
    // there and back: of two readings at the far end, where all others have one, the second belongs to the way back
    if let Some(run) = runs.last_mut() {
        let turned = run.at_last == 2 && run.stations.len() > 1 && run.stations.values().filter(|(_, count)| *count > 1).count() == 1;
        let end = log.station_number(run.last);
        if turned && let Some((sum, count)) = run.stations.get_mut(&end) {
            let last_mm = log.diameter_mm(run.last);
            (*sum, *count) = (*sum - last_mm, *count - 1);
            next.stations.insert(end, (last_mm, 1));
            next.first = run.last;
            run.last = run.above;
        }
    }
    runs.push(next);
}

/// How a reading was taken, as far as its row tells: repeat, angle, gauge and operator.
pub(in crate::ingest) fn how(log: &Diameters, row: usize) -> (Option<u32>, Option<u64>, u32, u32) {
    (log.repeat(row), log.angle_deg(row).map(f64::to_bits), log.gauge_number(row), log.operator_number(row))
}

/// How the readings of a run lie off those of another.
#[derive(Debug, Clone, Copy)]
struct Apart {
    /// Of the differences in order of their size the lower middle one, mm.
    middle_mm: f64,
    /// Whether most are to its side.
    one_side: bool,
}

/// The first run that lies off the last one before it that was read in the same way.
fn again<'r>(runs: &'r [Run], trial: &Trial, least_mm: f64) -> Option<(&'r Run, &'r Run, Apart)> {
    let log = &trial.diameters;
    runs.iter().enumerate().find_map(|(number, behind)| {
        let alike = |before: &&Run| how(log, before.first) == how(log, behind.first);
        let before = runs.iter().take(number).rev().find(alike)?;
        Some((before, behind, apart(before, behind, least_mm)?))
    })
}

/// How the readings of `behind` lie off those of `before` at the stations of both; `None` where they may be of one cut.
fn apart(before: &Run, behind: &Run, least_mm: f64) -> Option<Apart> {
    let mean = |(sum, count): &(f64, usize)| sum / *count as f64;
    let mut differences: Vec<f64> =
        behind.stations.iter().filter_map(|(station, own)| Some(mean(own) - mean(before.stations.get(station)?))).collect();
    differences.sort_by(|one, other| one.abs().total_cmp(&other.abs()));
    let middle_mm = differences.get(differences.len().saturating_sub(1) / 2).copied().filter(|_| differences.len() >= STATIONS)?;
    let beside = differences.iter().filter(|one| (**one < 0.0) == (middle_mm < 0.0)).count();
    (middle_mm.abs() > least_mm).then_some(Apart { middle_mm, one_side: 4 * beside >= 3 * differences.len() })
}
