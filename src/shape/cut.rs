//! The readings that make a setting's shape: the passes of its finishing cut.

use super::TestedLength;
use super::row_numbers::RowNumbers;
use super::runs::Runs;
use crate::statistics::RunSums;
use crate::trial::{Diameters, Direction};
use std::ops::Range;

/// Stations nearer than this, in half tested lengths, count once: a thousand-millionth of the length, as for [`Cut::stations`].
pub(super) const ONE_PLACE: f64 = 2e-9;

/// One pass with its used readings, in the order in which the tool passed them.
#[derive(Debug, Clone)]
pub(super) struct Pass {
    pub number: u32,
    pub direction: Direction,
    pub depth_mm: f64,
    pub feed_mm_per_rev: f64,
    /// Its runs; none for a pass that is not of the finishing cut.
    pub runs: Range<usize>,
    /// Number of its readings.
    pub count: usize,
    /// Mean of its diameters, mm.
    pub mean_mm: f64,
}

/// A station of the finishing cut.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    /// Station, mm.
    pub station_mm: f64,
    /// Scaled to −1 … 1 over the tested length.
    pub x: f64,
    /// `P₂` and `P₃` there.
    pub higher: [f64; 2],
}

/// The passes of one setting, the finishing cut apart from the others.
///
/// Its readings are kept in cutting order, 8 bytes a reading and 4 more where the log has them in another order, and in runs (4 bytes more where every reading has a station of its own): all estimates and tests
/// need no more than that.
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
    /// Distinct stations of the finishing cut, ascending, mm; those nearer than rounding count once.
    pub stations: Vec<f64>,
    /// Every station of the finishing cut, ascending.
    pub places: Vec<Place>,
    pub(super) runs: Runs,
    /// Number in the log of each reading, in cutting order.
    pub(super) rows: RowNumbers,
    /// Diameters less [`Self::origin_mm`], in cutting order, mm.
    pub values: Vec<f64>,
    /// The first diameter, mm.
    pub origin_mm: f64,
    /// Mean and scatter of each run, of [`Self::values`]; empty where runs are so short that they are summed again when asked for.
    pub(super) sums: Vec<[f64; 2]>,
    /// Weights `(u_ref/u)²` from the data sheets of the gauges, by the log's number of the gauge.
    pub(super) weights: Vec<f64>,
    /// Standard uncertainty of a reading of weight 1, mm: that of the gauge used most.
    pub gauge_u_mm: f64,
    /// Resolution of that gauge, mm.
    pub resolution_mm: f64,
    /// Whether no pass has a depth above 0, so that those at depth 0 stand in.
    pub only_spring_passes: bool,
}

impl Cut<'_> {
    /// Number of runs.
    pub fn run_count(&self) -> usize {
        self.runs.len()
    }

    /// Number of readings.
    pub fn readings(&self) -> usize {
        self.values.len()
    }

    /// The readings of a run, as places in cutting order.
    #[inline]
    pub fn of_run(&self, run: usize) -> Range<usize> {
        self.runs.of_run(run)
    }

    /// End of the readings of each run; empty where every run is one reading.
    pub fn run_ends(&self) -> &[u32] {
        self.runs.ends()
    }

    /// Mean and scatter of each run, of [`Self::values`].
    pub fn sums(&self) -> RunSums<'_> {
        RunSums::kept(&self.sums, &self.values, self.runs.ends())
    }

    /// Station of a run.
    #[inline]
    pub fn place(&self, run: usize) -> Place {
        let place = self.places.get(self.runs.place(run) as usize);
        place.copied().unwrap_or(Place { station_mm: 0.0, x: 0.0, higher: [0.0, 0.0] })
    }

    /// Number of the station of a run.
    pub fn place_number(&self, run: usize) -> usize {
        self.runs.place(run) as usize
    }

    /// Weight of each reading of a run.
    #[inline]
    pub fn weight(&self, run: usize) -> f64 {
        self.weights.get(self.runs.gauge(run) as usize).copied().unwrap_or(1.0)
    }

    /// Whether all readings have weight 1.
    pub fn equal_weights(&self) -> bool {
        (0..self.runs.len()).all(|run| self.weight(run) == 1.0)
    }

    /// Number in the log of a reading by its place in cutting order.
    pub fn row(&self, place: usize) -> usize {
        self.rows.get(place).unwrap_or(0)
    }

    /// Diameter of a reading by its place in cutting order, mm.
    pub fn diameter_mm(&self, place: usize) -> f64 {
        self.log.diameter_mm(self.row(place))
    }

    /// Which of the finishing passes a run belongs to.
    pub fn pass_of(&self, run: usize) -> usize {
        self.finishing.partition_point(|pass| pass.runs.end <= run)
    }

    /// All runs by their station, those at one station in cutting order.
    pub fn runs_by_place(&self) -> Vec<u32> {
        let mut next = vec![0_usize; self.places.len() + 1];
        (0..self.runs.len()).for_each(|run| {
            if let Some(slot) = next.get_mut(self.place_number(run) + 1) {
                *slot += 1;
            }
        });
        let mut before = 0;
        for slot in &mut next {
            before += *slot;
            *slot = before;
        }
        let mut sorted = vec![0; self.runs.len()];
        for (number, run) in (0_u32..).zip(0..self.runs.len()) {
            if let Some(at) = next.get_mut(self.place_number(run)) {
                if let Some(slot) = sorted.get_mut(*at) {
                    *slot = number;
                }
                *at += 1;
            }
        }
        sorted
    }

    /// Whether a pass has readings at two stations or more.
    pub fn has_two_places(&self, pass: &Pass) -> bool {
        let x = |run: usize| self.place(run).x;
        let first = x(pass.runs.start);
        pass.runs.clone().any(|run| (x(run) - first).abs() >= ONE_PLACE)
    }

    /// Calls `with` for each station of a pass with the runs there: readings nearer than rounding count as one place, of unlike weights too.
    pub fn each_place(&self, pass: &Pass, mut with: impl FnMut(&[usize])) {
        let mut sorted: Vec<usize> = pass.runs.clone().collect();
        sorted.sort_by_key(|run| self.place_number(*run));
        let x = |run: &usize| self.place(*run).x;
        sorted.chunk_by(|a, b| (x(a) - x(b)).abs() < ONE_PLACE).for_each(&mut with);
    }
}
