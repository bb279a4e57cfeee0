//! Which readings make a setting's shape: its finishing cut is found among all passes.

use super::TestedLength;
use super::cut::{Cut, Place};
use super::lightest_cut::LightestCut;
use super::open_pass::{OpenPass, empty_passes, in_cutting_order, order_passes};
use super::row_numbers::RowNumbers;
use super::runs::Runs;
use crate::statistics::{RunSums, legendre_values};
use crate::trial::{Diameters, Trial};
use rayon::iter::{IndexedParallelIterator as _, IntoParallelIterator as _, IntoParallelRefIterator as _, ParallelIterator as _};
use std::collections::BTreeMap;

/// Splits the used readings of `setting` into passes and finds its finishing cut; `None` below two stations.
pub(super) fn finishing_cut(trial: &Trial, setting: u32) -> Option<Cut<'_>> {
    let log = &trial.diameters;
    let (mut passes, place_of) = empty_passes(log, setting);
    u32::try_from(log.len()).ok()?;
    let places = passes.len();
    let place = |row: usize| place_of.get(log.cut_number(row) as usize).copied().flatten();
    for row in (0..log.len()).filter(|row| log.is_used(*row)) {
        let Some(pass) = place(row).and_then(|place| passes.get_mut(place)) else { continue };
        pass.count += 1;
        pass.first_min = pass.first_min.min(log.time_min(row).unwrap_or(f64::INFINITY));
    }
    passes.retain(|pass| pass.count > 0);
    order_passes(&mut passes);
    let lightest = LightestCut::of(passes.iter().map(|p| (p.depth_mm, p.feed_mm_per_rev)));
    let only_spring_passes = lightest.depth_mm == 0.0;
    let (finishing, others): (Vec<_>, Vec<_>) = passes.into_iter().partition(|p| lightest.holds(p.depth_mm, p.feed_mm_per_rev));

    let (mut rows, other_sums) = rows_of(log, place, places, &finishing);
    let others = others.iter().map(|pass| pass.closed(0..0, other_sums.get(pass.place).copied().unwrap_or(0.0))).collect();
    let (every, rank_of) = stations_of(log, &rows);
    let mut stations = every.clone();
    let scale = stations.last()? - stations.first()?;
    stations.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * scale.max(f64::MIN_POSITIVE));
    let (&from, &to) = (stations.first()?, stations.last()?);
    if stations.len() < 2 {
        return None;
    }
    let reference = reference_gauge(trial, &rows);
    let gauge_u_mm = if reference.0 > 0.0 { reference.0 } else { reference.1 / 12.0_f64.sqrt() };
    let weights: Vec<f64> = log
        .gauges()
        .iter()
        .map(|gauge| {
            let u = trial.gauge.diameter_gauge(gauge.as_deref()).u_mm;
            if u > 0.0 && reference.0 > 0.0 { (reference.0 / u).powi(2) } else { 1.0 }
        })
        .collect();
    let places = every
        .iter()
        .map(|&station_mm| {
            let x = ((station_mm - from) - (to - station_mm)) / (to - from);
            let values = legendre_values(3, x);
            Place { station_mm, x, higher: [values.get(2).copied().unwrap_or(0.0), values.get(3).copied().unwrap_or(0.0)] }
        })
        .collect();
    let in_place_order = log.is_in_place_order();
    let mut rest = rows.as_mut_slice();
    let mut parts = Vec::with_capacity(finishing.len());
    for pass in &finishing {
        let (own, others) = std::mem::take(&mut rest).split_at_mut_checked(pass.count)?;
        parts.push((pass.direction, own));
        rest = others;
    }
    let runs: Vec<Runs> =
        parts.into_par_iter().map(|(direction, own)| in_cutting_order(log, direction, own, &rank_of, in_place_order)).collect();
    let mut cut = Cut {
        log,
        setting,
        tested: TestedLength { from, to, length: to - from },
        finishing: Vec::with_capacity(finishing.len()),
        others,
        stations,
        places,
        runs: Runs::with_room(runs.iter().map(Runs::len).sum()),
        rows: RowNumbers::of(Vec::new()),
        values: Vec::new(),
        origin_mm: rows.first().map_or(0.0, |row| log.diameter_mm(*row as usize)),
        weights,
        sums: Vec::new(),
        gauge_u_mm,
        resolution_mm: reference.1,
        only_spring_passes,
    };
    let mut before = 0;
    for (pass, runs) in finishing.iter().zip(runs) {
        let first = cut.runs.len();
        let end = before + pass.count;
        cut.runs.append(&runs);
        let sum_mm = rows.get(before..end)?.iter().map(|row| log.diameter_mm(*row as usize)).sum();
        cut.finishing.push(pass.closed(first..cut.runs.len(), sum_mm));
        before = end;
    }
    let origin = cut.origin_mm;
    rows.par_iter().map(|row| log.diameter_mm(*row as usize) - origin).collect_into_vec(&mut cut.values);
    cut.rows = RowNumbers::of(rows);
    cut.sums = RunSums::to_keep(cut.runs.len(), |run| cut.of_run(run), &cut.values);
    Some(cut)
}

/// The used readings of the `finishing` passes by their number in the log, pass by pass, in the log's order within each; and the sum of the diameters of every other
/// pass, mm, by its place. `place` tells that of a reading's pass, of which there are `places`.
fn rows_of(log: &Diameters, place: impl Fn(usize) -> Option<usize>, places: usize, finishing: &[OpenPass]) -> (Vec<u32>, Vec<f64>) {
    let mut next: Vec<Option<usize>> = vec![None; places];
    let mut total = 0;
    for pass in finishing {
        if let Some(slot) = next.get_mut(pass.place) {
            *slot = Some(total);
        }
        total += pass.count;
    }
    let mut rows = vec![0; total];
    let mut sums = vec![0.0; places];
    for row in (0..log.len()).filter(|row| log.is_used(*row)) {
        let Some(place) = place(row) else { continue };
        match (next.get_mut(place), sums.get_mut(place)) {
            (Some(Some(at)), _) => {
                if let (Some(slot), Ok(row)) = (rows.get_mut(*at), u32::try_from(row)) {
                    *slot = row;
                }
                *at += 1;
            }
            (_, Some(sum)) => *sum += log.diameter_mm(row),
            _ => {}
        }
    }
    (rows, sums)
}

/// The distinct stations of some readings, rising, and the place of each of the log's stations among them.
fn stations_of(log: &Diameters, rows: &[u32]) -> (Vec<f64>, Vec<u32>) {
    let mut seen = vec![false; log.stations().len()];
    for row in rows {
        if let Some(slot) = seen.get_mut(log.station_number(*row as usize) as usize) {
            *slot = true;
        }
    }
    let mut stations: Vec<f64> = log.stations().iter().zip(&seen).filter(|(_, seen)| **seen).map(|(station, _)| station.0).collect();
    stations.sort_by(f64::total_cmp);
    stations.dedup();
    let rank = |z: f64| u32::try_from(stations.partition_point(|station| *station < z)).unwrap_or(u32::MAX);
    let ranks = log.stations().iter().map(|station| rank(station.0)).collect();
    (stations, ranks)
}

/// `u` and resolution of the gauge that read most of `rows` (the first by name of equals).
fn reference_gauge(trial: &Trial, rows: &[u32]) -> (f64, f64) {
    let log = &trial.diameters;
    let mut numbers = vec![0_usize; log.gauges().len()];
    for row in rows {
        if let Some(count) = numbers.get_mut(log.gauge_number(*row as usize) as usize) {
            *count += 1;
        }
    }
    let counts: BTreeMap<Option<&str>, usize> = log.gauges().iter().map(|gauge| gauge.as_deref()).zip(numbers).collect();
    let mut best: (Option<&str>, usize) = (None, 0);
    for (name, count) in counts {
        if count > best.1 {
            best = (name, count);
        }
    }
    let gauge = trial.gauge.diameter_gauge(best.0);
    (gauge.u_mm, gauge.resolution_mm)
}
