//! Passes while the finishing cut is found: which there are, in which order they were cut, and the order of the readings in each.

use super::cut::Pass;
use super::lightest_cut::same;
use super::runs::Runs;
use crate::trial::{Diameters, Direction};
use std::collections::HashMap;
use std::ops::Range;

/// A pass of which only number and kind are known yet.
#[derive(Debug)]
pub(super) struct OpenPass {
    pub number: u32,
    pub direction: Direction,
    pub depth_mm: f64,
    pub feed_mm_per_rev: f64,
    /// Its place in the order in which passes first come in the log.
    pub place: usize,
    /// Number of its used readings.
    pub count: usize,
    /// Its first time of cutting, minutes; infinite without one.
    pub first_min: f64,
}

impl OpenPass {
    /// The pass with these runs; the diameters of its readings sum up to `sum_mm`.
    pub fn closed(&self, runs: Range<usize>, sum_mm: f64) -> Pass {
        Pass {
            number: self.number,
            direction: self.direction,
            depth_mm: self.depth_mm,
            feed_mm_per_rev: self.feed_mm_per_rev,
            runs,
            count: self.count,
            mean_mm: sum_mm / self.count.max(1) as f64,
        }
    }
}

/// The passes of `setting` in the order in which they first come in the log, without readings, and which of them each cut of the log belongs to.
pub(super) fn empty_passes(log: &Diameters, setting: u32) -> (Vec<OpenPass>, Vec<Option<usize>>) {
    let mut passes: Vec<OpenPass> = Vec::new();
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
            passes.push(OpenPass {
                number: cut.pass,
                direction: cut.direction,
                depth_mm,
                feed_mm_per_rev,
                place: passes.len(),
                count: 0,
                first_min: f64::INFINITY,
            });
            passes.len() - 1
        });
        if let Some(slot) = place_of.get_mut(number) {
            *slot = Some(place);
        }
    }
    (passes, place_of)
}

/// By time of cutting where every pass has one, else by number.
pub(super) fn order_passes(passes: &mut [OpenPass]) {
    let timed = passes.iter().all(|p| p.first_min.is_finite());
    passes.sort_by(|a, b| {
        let by_time = if timed { a.first_min.total_cmp(&b.first_min) } else { std::cmp::Ordering::Equal };
        by_time
            .then(a.number.cmp(&b.number))
            .then(a.direction.cmp(&b.direction))
            .then(a.depth_mm.total_cmp(&b.depth_mm))
            .then(a.feed_mm_per_rev.total_cmp(&b.feed_mm_per_rev))
    });
}

/// Puts the readings of a pass in order from the end where the tool starts, repeats by their number, and tells its runs.
///
/// `rows` are its readings by their number in the log; `rank_of` tells the place of each of the log's stations among those of the cut.
pub(super) fn in_cutting_order(log: &Diameters, direction: Direction, rows: &mut [u32], rank_of: &[u32], in_place_order: bool) -> Runs {
    let place = |row: u32| rank_of.get(log.station_number(row as usize) as usize).copied().unwrap_or(0);
    let along = |row: u32| if direction == Direction::ToHeadstock { u32::MAX - place(row) } else { place(row) };
    let repeat = |row: u32| log.repeat(row as usize).map_or(0, |repeat| u64::from(repeat) + 1);
    let mut keyed: Vec<(u32, u64, u32)> = rows.iter().map(|row| (along(*row), repeat(*row), *row)).collect();
    if in_place_order {
        keyed.sort_by_key(|(along, repeat, _)| (*along, *repeat));
    } else {
        keyed.sort_by_key(|(along, repeat, row)| (*along, *repeat, log.place(*row as usize)));
    }
    rows.iter_mut().zip(&keyed).for_each(|(row, key)| *row = key.2);
    drop(keyed);
    let mut runs = Runs::with_room(rows.len());
    rows.iter().for_each(|row| runs.add_reading(place(*row), log.gauge_number(*row as usize)));
    runs
}
