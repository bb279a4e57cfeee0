//! A pass whose stations start over at other diameters: another cut, whose number nobody wrote.

use super::collector::Collector;
use super::passes::at;
use super::settings::{Stated, shown};
use super::sizes::used_rows;
use crate::findings::Severity;
use crate::trial::Trial;
use std::collections::BTreeMap;

/// Longest log that is looked through: longer ones are written by machines, which number their passes.
const SEARCHED: usize = 100_000;
/// Two readings of a round bar differ by fewer of their standard uncertainties.
const APART: f64 = 10.0;
/// Beyond this, mm, no bar is out of round that is turned in one cut; below, it may be, and is asked about (common practice, no source).
const OUT_OF_ROUND_MM: f64 = 0.03;
/// Stations that both must have, and how far one of them may lie from the middle difference, as a share of it.
const STATIONS: usize = 2;
const ALIKE: f64 = 0.5;

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

/// A warning where one pass goes along its stations again and all diameters, at 20 °C, lie to one side of those before, by more than [`APART`] standard
/// uncertainties of one reading (that of touch and reading, and the step of the gauge, `finest_mm` where none is stated, over √12); an error beyond
/// [`OUT_OF_ROUND_MM`] as well. Readings that state another angle, repeat, gauge or operator are of one cut; so are those that agree.
pub(super) fn check(stated: &Stated, finest_mm: Option<f64>, collector: &mut Collector) {
    let trial = &stated.trial;
    let log = &trial.diameters;
    if log.len() > SEARCHED {
        return;
    }
    let gauge = &trial.gauge.diameter;
    let step_mm = if gauge.resolution_mm > 0.0 { gauge.resolution_mm } else { finest_mm.unwrap_or(0.0) };
    let u_mm = trial.gauge.diameter_named.values().map(|gauge| gauge.u_mm).fold(gauge.u_mm, f64::max);
    let least_mm = APART * u_mm.hypot(step_mm / 12_f64.sqrt());
    let mut passes: BTreeMap<u32, Vec<Run>> = BTreeMap::new();
    for row in used_rows(trial) {
        let runs = passes.entry(log.cut_number(row)).or_default();
        add(runs, row, trial);
    }
    for runs in passes.into_values() {
        let Some((before, behind, difference_mm)) =
            runs.windows(2).find_map(|pair| if let [a, b] = pair { Some((a, b, apart(a, b, trial, least_mm)?)) } else { None })
        else {
            continue;
        };
        let (cut, first) = (log.cut(behind.first), log.place(before.first));
        let found = format!(
            "pass {} of setting {} goes along the stations of rows {} to {} again, and is {} mm {} there",
            cut.pass,
            cut.setting,
            first.row,
            log.place(before.last).row,
            shown(difference_mm.abs()),
            if difference_mm < 0.0 { "smaller" } else { "larger" }
        );
        let help = "if another pass begins here number the passes in a column pass; if the same cut was read again say how in a column repeat, angle_deg \
                    or gauge, and of a bar that had not cooled its temperature in a column temperature_c";
        let severity = if difference_mm.abs() > OUT_OF_ROUND_MM { Severity::Error } else { Severity::Warning };
        let place = log.place(behind.first);
        collector.add(at("pass-starts-over", severity, place, &trial.inputs, found, help).in_column("station"));
    }
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

/// By how much the readings of `behind` lie from those of `before` at the stations of both, in the middle, mm; `None` where they may be of one cut.
fn apart(before: &Run, behind: &Run, trial: &Trial, least_mm: f64) -> Option<f64> {
    let log = &trial.diameters;
    let how = |row: usize| (log.repeat(row), log.angle_deg(row).map(f64::to_bits), log.gauge_number(row), log.operator_number(row));
    if how(before.first) != how(behind.first) {
        return None;
    }
    let mean = |(sum, count): &(f64, usize)| sum / *count as f64;
    let mut differences: Vec<f64> =
        behind.stations.iter().filter_map(|(station, own)| Some(mean(own) - mean(before.stations.get(station)?))).collect();
    differences.sort_by(f64::total_cmp);
    let middle = differences.get(differences.len() / 2).copied().filter(|_| differences.len() >= STATIONS)?;
    let together = differences.iter().all(|one| (one - middle).abs() <= ALIKE * middle.abs());
    (together && middle.abs() > least_mm).then_some(middle)
}
