//! One column, or one cell of it, asked for by row.

use super::{Bits, Cut, Diameters};
use crate::trial::readings::Place;
use std::sync::Arc;

impl Diameters {
    /// Where a reading stands.
    #[must_use]
    pub fn place(&self, row: usize) -> Place {
        let after = self.runs.partition_point(|run| run.first <= row);
        match after.checked_sub(1).and_then(|index| self.runs.get(index)) {
            Some(run) => Place { file: run.place.file, row: run.place.row + (row - run.first) as u64 },
            None => Place { file: 0, row: 0 },
        }
    }

    /// Whether each reading stands below the one before it, or in a later file.
    #[must_use]
    pub fn is_in_place_order(&self) -> bool {
        self.runs.is_sorted_by_key(|run| run.place)
    }

    /// The cut of a reading.
    #[inline]
    #[must_use]
    pub fn cut(&self, row: usize) -> &Cut {
        self.cuts.get(row)
    }

    /// Number of the cut of a reading, an index into [`Self::cuts`].
    #[inline]
    #[must_use]
    pub fn cut_number(&self, row: usize) -> u32 {
        self.cuts.number_of(row)
    }

    /// All cuts; there may be some that no reading belongs to.
    #[must_use]
    pub fn cuts(&self) -> &[Cut] {
        self.cuts.values()
    }

    /// Station of a reading, mm.
    #[inline]
    #[must_use]
    pub fn station_mm(&self, row: usize) -> f64 {
        self.stations.column().get(row).0
    }

    /// Number of the station of a reading, an index into [`Self::stations`].
    #[inline]
    #[must_use]
    pub fn station_number(&self, row: usize) -> u32 {
        self.stations.column().number_of(row)
    }

    /// Step to which stations are rounded, mm, because too many are different ([`super::MOST_STATIONS`]); `None` where they stand as they were written.
    #[must_use]
    pub fn station_step_mm(&self) -> Option<f64> {
        self.stations.step_mm()
    }

    /// All stations, mm, in no order; there may be some that no reading belongs to.
    #[must_use]
    pub fn stations(&self) -> &[Bits] {
        self.stations.column().values()
    }

    /// Diameter of a reading at 20 °C, mm.
    #[inline]
    #[must_use]
    pub fn diameter_mm(&self, row: usize) -> f64 {
        self.diameter_mm.get(row).or_else(|| self.read_mm.get(row)).copied().unwrap_or(0.0)
    }

    /// Diameters as read, mm.
    #[must_use]
    pub fn read_mm(&self) -> &[f64] {
        &self.read_mm
    }

    /// Whether any reading was brought to 20 °C.
    #[must_use]
    pub fn is_corrected(&self) -> bool {
        !self.diameter_mm.is_empty()
    }

    /// Number of the repeat.
    #[inline]
    #[must_use]
    pub fn repeat(&self, row: usize) -> Option<u32> {
        *self.repeats.get(row)
    }

    /// Whether repeats were numbered.
    #[must_use]
    pub fn has_repeats(&self) -> bool {
        self.repeats.values().len() > 1
    }

    /// Angle of the bar, degrees.
    #[inline]
    #[must_use]
    pub fn angle_deg(&self, row: usize) -> Option<f64> {
        self.angles.get(row)
    }

    /// Minutes since the first time of cutting.
    #[inline]
    #[must_use]
    pub fn time_min(&self, row: usize) -> Option<f64> {
        self.times.get(row)
    }

    /// Whether any reading has a time.
    #[must_use]
    pub fn has_times(&self) -> bool {
        !self.times.values.is_empty()
    }

    /// Temperature of the bar, °C.
    #[inline]
    #[must_use]
    pub fn temperature_c(&self, row: usize) -> Option<f64> {
        self.temperatures.get(row)
    }

    /// Whether a reading is used, not excluded.
    #[inline]
    #[must_use]
    pub fn is_used(&self, row: usize) -> bool {
        self.excluded.number_of(row) == 0
    }

    /// Why a reading is excluded; `None` when it is used.
    #[must_use]
    pub fn excluded(&self, row: usize) -> Option<&Arc<str>> {
        self.excluded.get(row).as_ref()
    }

    /// Gauge of a reading.
    #[inline]
    #[must_use]
    pub fn gauge(&self, row: usize) -> Option<&Arc<str>> {
        self.gauges.get(row).as_ref()
    }

    /// Number of the gauge of a reading, an index into [`Self::gauges`].
    #[inline]
    #[must_use]
    pub fn gauge_number(&self, row: usize) -> u32 {
        self.gauges.number_of(row)
    }

    /// The gauges; the first stands for none named, whether a reading has none or not.
    #[must_use]
    pub fn gauges(&self) -> &[Option<Arc<str>>] {
        self.gauges.values()
    }

    /// Who read: every name that occurs.
    #[must_use]
    pub fn operators(&self) -> &[Option<Arc<str>>] {
        self.operators.values()
    }

    /// Number of who read a reading.
    #[inline]
    #[must_use]
    pub fn operator_number(&self, row: usize) -> u32 {
        self.operators.number_of(row)
    }

    /// When it was measured: every text that occurs.
    #[must_use]
    pub fn measured_at(&self) -> &[Option<Arc<str>>] {
        self.measured_at.values()
    }

    /// The notes: every text that occurs.
    #[must_use]
    pub fn notes(&self) -> &[Option<Arc<str>>] {
        self.notes.values()
    }

    /// Place of a reading's note among [`Self::notes`].
    #[must_use]
    pub fn note_number(&self, row: usize) -> u32 {
        self.notes.number_of(row)
    }

    /// Whether any reading has a note.
    #[must_use]
    pub fn has_notes(&self) -> bool {
        self.notes.values().len() > 1
    }

    /// The settings that readings belong to, rising.
    #[must_use]
    pub fn settings(&self) -> Vec<u32> {
        let mut settings: Vec<u32> = self.used_cuts(|_| true).into_iter().map(|cut| cut.setting).collect();
        settings.sort_unstable();
        settings.dedup();
        settings
    }

    /// The cuts to which readings that `wanted` picks belong, in the order in which they first came.
    #[must_use]
    pub fn used_cuts(&self, wanted: impl Fn(usize) -> bool) -> Vec<&Cut> {
        let mut seen = vec![false; self.cuts().len()];
        (0..self.len())
            .filter_map(|row| {
                let first =
                    seen.get_mut(self.cut_number(row) as usize).is_some_and(|slot| !*slot && wanted(row) && !std::mem::replace(slot, true));
                first.then(|| self.cut(row))
            })
            .collect()
    }
}
