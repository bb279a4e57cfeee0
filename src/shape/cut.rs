//! Which readings make a setting's shape: the passes of its finishing cut.

use super::TestedLength;
use crate::trial::{Diameters, Direction, Trial};
use std::collections::HashMap;

/// A reading in the fit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reading {
    /// Its number in the log.
    pub row: usize,
    /// Station, mm.
    pub station_mm: f64,
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// Station scaled to −1 … 1 over the tested length.
    pub x: f64,
    /// Weight `(u_ref/u)²` from the data sheets of the gauges.
    pub weight: f64,
}

/// One pass with its used readings, in the order in which the tool passed them.
#[derive(Debug, Clone)]
pub(super) struct Pass {
    pub number: u32,
    pub direction: Direction,
    pub depth_mm: f64,
    pub feed_mm_per_rev: f64,
    pub readings: Vec<Reading>,
}

/// The passes of one setting, the finishing cut apart from the others.
#[derive(Debug, Clone)]
pub(super) struct Cut<'a> {
    /// The whole log.
    pub log: &'a Diameters,
    pub setting: u32,
    pub tested: TestedLength,
    /// Passes of the finishing cut with at least one used reading, in cutting order.
    pub finishing: Vec<Pass>,
    /// The other passes.
    pub others: Vec<Pass>,
    /// Distinct stations of the finishing cut, ascending, mm.
    pub stations: Vec<f64>,
    /// Standard uncertainty of a reading of weight 1, mm: that of the gauge used most.
    pub gauge_u_mm: f64,
    /// Resolution of that gauge, mm.
    pub resolution_mm: f64,
    /// Whether no pass has a depth above 0, so that those at depth 0 stand in.
    pub only_spring_passes: bool,
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1e-12)
}

/// The passes of `setting` in the order in which they first come in the log, without readings, and which of them each cut of the log belongs to.
fn empty_passes(log: &Diameters, setting: u32) -> (Vec<Pass>, Vec<Option<usize>>) {
    let mut passes: Vec<Pass> = Vec::new();
    let mut alike: HashMap<(u32, Direction), Vec<usize>> = HashMap::new();
    let mut place_of = vec![None; log.cuts().len()];
    for (number, cut) in log.cuts().iter().enumerate().filter(|(_, cut)| cut.setting == setting) {
        let (depth_mm, feed_mm_per_rev) = (cut.depth_mm.0, cut.feed_mm_per_rev.0);
        let known = alike.entry((cut.pass, cut.direction)).or_default();
        let found = known
            .iter()
            .copied()
            .find(|place| passes.get(*place).is_some_and(|p| same(p.depth_mm, depth_mm) && same(p.feed_mm_per_rev, feed_mm_per_rev)));
        let place = found.unwrap_or_else(|| {
            known.push(passes.len());
            passes.push(Pass { number: cut.pass, direction: cut.direction, depth_mm, feed_mm_per_rev, readings: Vec::new() });
            passes.len() - 1
        });
        if let Some(slot) = place_of.get_mut(number) {
            *slot = Some(place);
        }
    }
    (passes, place_of)
}

/// Splits the used readings of `setting` into passes and finds its finishing cut; `None` below two stations.
pub(super) fn finishing_cut(trial: &Trial, setting: u32) -> Option<Cut<'_>> {
    let log = &trial.diameters;
    let mut passes = empty_passes(log, setting);
    for row in (0..log.len()).filter(|row| log.is_used(*row)) {
        let place = passes.1.get(log.cut_number(row) as usize).copied().flatten();
        let Some(pass) = place.and_then(|place| passes.0.get_mut(place)) else { continue };
        pass.readings.push(Reading { row, station_mm: log.station_mm(row), diameter_mm: log.diameter_mm(row), x: 0.0, weight: 1.0 });
    }
    let mut passes = passes.0;
    passes.retain(|pass| !pass.readings.is_empty());
    order_passes(log, &mut passes);
    let least = |values: &mut dyn Iterator<Item = f64>| values.filter(|v| *v > 0.0).fold(f64::INFINITY, f64::min);
    let depth = least(&mut passes.iter().map(|p| p.depth_mm));
    let only_spring_passes = !depth.is_finite();
    let depth = if only_spring_passes { 0.0 } else { depth };
    let feed = least(&mut passes.iter().filter(|p| same(p.depth_mm, depth)).map(|p| p.feed_mm_per_rev));
    let (mut finishing, others): (Vec<_>, Vec<_>) =
        passes.into_iter().partition(|p| same(p.depth_mm, depth) && (!feed.is_finite() || same(p.feed_mm_per_rev, feed)));
    let mut stations: Vec<f64> = finishing.iter().flat_map(|p| p.readings.iter().map(|r| r.station_mm)).collect();
    stations.sort_by(f64::total_cmp);
    let scale = stations.last()? - stations.first()?;
    stations.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * scale.max(f64::MIN_POSITIVE));
    let (&from, &to) = (stations.first()?, stations.last()?);
    if stations.len() < 2 {
        return None;
    }
    let reference = reference_gauge(trial, &finishing);
    let gauge_u_mm = if reference.0 > 0.0 { reference.0 } else { reference.1 / 12.0_f64.sqrt() };
    for reading in finishing.iter_mut().flat_map(|p| p.readings.iter_mut()) {
        reading.x = ((reading.station_mm - from) - (to - reading.station_mm)) / (to - from);
        let u = trial.gauge.diameter_gauge(log.gauge(reading.row).map(AsRef::as_ref)).u_mm;
        reading.weight = if u > 0.0 && reference.0 > 0.0 { (reference.0 / u).powi(2) } else { 1.0 };
    }
    Some(Cut {
        log,
        setting,
        tested: TestedLength { from, to, length: to - from },
        finishing,
        others,
        stations,
        gauge_u_mm,
        resolution_mm: reference.1,
        only_spring_passes,
    })
}

/// By time of cutting where every pass has one, else by number; within a pass from the end where the tool starts.
fn order_passes(log: &Diameters, passes: &mut [Pass]) {
    let time = |p: &Pass| p.readings.iter().filter_map(|r| log.time_min(r.row)).fold(f64::INFINITY, f64::min);
    let timed = passes.iter().all(|p| time(p).is_finite());
    passes.sort_by(|a, b| {
        let by_time = if timed { time(a).total_cmp(&time(b)) } else { std::cmp::Ordering::Equal };
        by_time
            .then(a.number.cmp(&b.number))
            .then(a.direction.cmp(&b.direction))
            .then(a.depth_mm.total_cmp(&b.depth_mm))
            .then(a.feed_mm_per_rev.total_cmp(&b.feed_mm_per_rev))
    });
    for pass in passes {
        let direction = pass.direction;
        pass.readings.sort_by(|a, b| {
            let along = a.station_mm.total_cmp(&b.station_mm);
            let along = if direction == Direction::ToHeadstock { along.reverse() } else { along };
            along.then_with(|| log.repeat(a.row).cmp(&log.repeat(b.row))).then_with(|| log.place(a.row).cmp(&log.place(b.row)))
        });
    }
}

/// `u` and resolution of the gauge that read most of `passes` (the first by name of equals).
fn reference_gauge(trial: &Trial, passes: &[Pass]) -> (f64, f64) {
    let mut counts: std::collections::BTreeMap<Option<&str>, usize> = std::collections::BTreeMap::new();
    for reading in passes.iter().flat_map(|p| &p.readings) {
        *counts.entry(trial.diameters.gauge(reading.row).map(AsRef::as_ref)).or_insert(0) += 1;
    }
    let mut best: (Option<&str>, usize) = (None, 0);
    for (name, count) in counts {
        if count > best.1 {
            best = (name, count);
        }
    }
    let gauge = trial.gauge.diameter_gauge(best.0);
    (gauge.u_mm, gauge.resolution_mm)
}
