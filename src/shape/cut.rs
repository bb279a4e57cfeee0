//! Which readings make a setting's shape: the passes of its finishing cut.

use super::TestedLength;
use crate::trial::{DiameterReading, Direction, Trial};

/// A reading in the fit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reading<'a> {
    /// The log's row.
    pub source: &'a DiameterReading,
    /// Station scaled to −1 … 1 over the tested length.
    pub x: f64,
    /// Weight `(u_ref/u)²` from the data sheets of the gauges.
    pub weight: f64,
}

/// One pass with its used readings, in the order in which the tool passed them.
#[derive(Debug, Clone)]
pub(super) struct Pass<'a> {
    pub number: u32,
    pub direction: Direction,
    pub depth_mm: f64,
    pub feed_mm_per_rev: f64,
    pub readings: Vec<Reading<'a>>,
}

/// The passes of one setting, the finishing cut apart from the others.
#[derive(Debug, Clone)]
pub(super) struct Cut<'a> {
    pub setting: u32,
    pub tested: TestedLength,
    /// Passes of the finishing cut with at least one used reading, in cutting order.
    pub finishing: Vec<Pass<'a>>,
    /// The other passes.
    pub others: Vec<Pass<'a>>,
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

/// Splits the used readings of `setting` into passes and finds its finishing cut; `None` below two stations.
pub(super) fn finishing_cut(trial: &Trial, setting: u32) -> Option<Cut<'_>> {
    let mut passes: Vec<Pass<'_>> = Vec::new();
    for reading in trial.diameters.iter().filter(|r| r.setting == setting && r.excluded.is_none()) {
        let entry = Reading { source: reading, x: 0.0, weight: 1.0 };
        let found = passes.iter_mut().find(|p| {
            p.number == reading.pass
                && p.direction == reading.direction
                && same(p.depth_mm, reading.depth_mm)
                && same(p.feed_mm_per_rev, reading.feed_mm_per_rev)
        });
        match found {
            Some(pass) => pass.readings.push(entry),
            None => passes.push(Pass {
                number: reading.pass,
                direction: reading.direction,
                depth_mm: reading.depth_mm,
                feed_mm_per_rev: reading.feed_mm_per_rev,
                readings: vec![entry],
            }),
        }
    }
    order_passes(&mut passes);
    let least = |values: &mut dyn Iterator<Item = f64>| values.filter(|v| *v > 0.0).fold(f64::INFINITY, f64::min);
    let depth = least(&mut passes.iter().map(|p| p.depth_mm));
    let only_spring_passes = !depth.is_finite();
    let depth = if only_spring_passes { 0.0 } else { depth };
    let feed = least(&mut passes.iter().filter(|p| same(p.depth_mm, depth)).map(|p| p.feed_mm_per_rev));
    let (mut finishing, others): (Vec<_>, Vec<_>) =
        passes.into_iter().partition(|p| same(p.depth_mm, depth) && (!feed.is_finite() || same(p.feed_mm_per_rev, feed)));
    let mut stations: Vec<f64> = finishing.iter().flat_map(|p| p.readings.iter().map(|r| r.source.station_mm)).collect();
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
        reading.x = ((reading.source.station_mm - from) - (to - reading.source.station_mm)) / (to - from);
        let u = trial.gauge.diameter_gauge(reading.source.gauge.as_deref()).u_mm;
        reading.weight = if u > 0.0 && reference.0 > 0.0 { (reference.0 / u).powi(2) } else { 1.0 };
    }
    Some(Cut {
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
fn order_passes(passes: &mut [Pass<'_>]) {
    let time = |p: &Pass<'_>| p.readings.iter().filter_map(|r| r.source.time_min).fold(f64::INFINITY, f64::min);
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
            let along = a.source.station_mm.total_cmp(&b.source.station_mm);
            let along = if direction == Direction::ToHeadstock { along.reverse() } else { along };
            along
                .then(a.source.repeat.cmp(&b.source.repeat))
                .then(a.source.place.file.cmp(&b.source.place.file))
                .then(a.source.place.row.cmp(&b.source.place.row))
        });
    }
}

/// `u` and resolution of the gauge that read most of `passes` (the first by name of equals).
fn reference_gauge(trial: &Trial, passes: &[Pass<'_>]) -> (f64, f64) {
    let mut counts: std::collections::BTreeMap<Option<&str>, usize> = std::collections::BTreeMap::new();
    for reading in passes.iter().flat_map(|p| &p.readings) {
        *counts.entry(reading.source.gauge.as_deref()).or_insert(0) += 1;
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
