//! Readings that follow one another at one station, kept in little room.

use crate::statistics::places_of;
use std::collections::BTreeSet;
use std::ops::Range;

/// Runs of readings in cutting order: readings that follow one another at one station of one pass, all of one gauge.
///
/// Where every run is one reading, or all have one gauge, nothing is kept of it: a log whose stations are all different takes 4 bytes a reading.
#[derive(Debug, Clone, Default)]
pub(super) struct Runs {
    /// Station of each run, an index into the stations of the cut.
    places: Vec<u32>,
    /// End of the readings of each run; they begin where those of the run before end. Empty where every run is one reading.
    ends: Vec<u32>,
    /// Number of the gauge of each run in the log. Empty where all have the first one's.
    gauges: Vec<u32>,
    first_gauge: u32,
}

impl Runs {
    /// Number of runs.
    pub fn len(&self) -> usize {
        self.places.len()
    }

    /// Number of readings.
    pub fn readings(&self) -> usize {
        self.ends.last().map_or(self.places.len(), |end| *end as usize)
    }

    /// The readings of a run, as places in cutting order.
    #[inline]
    pub fn of_run(&self, run: usize) -> Range<usize> {
        let (Range { start, end }, most) = (places_of(&self.ends, run), self.readings());
        start.min(most)..end.min(most)
    }

    /// End of the readings of each run; empty where every run is one reading.
    pub fn ends(&self) -> &[u32] {
        &self.ends
    }

    /// Number of the station of a run.
    #[inline]
    pub fn place(&self, run: usize) -> u32 {
        self.places.get(run).copied().unwrap_or(0)
    }

    /// Number of the gauge of a run.
    #[inline]
    pub fn gauge(&self, run: usize) -> u32 {
        self.gauges.get(run).copied().unwrap_or(self.first_gauge)
    }

    /// Numbers of all gauges.
    pub fn gauges(&self) -> BTreeSet<u32> {
        if self.gauges.is_empty() { BTreeSet::from([self.first_gauge]) } else { self.gauges.iter().copied().collect() }
    }

    /// Adds a run of `readings` readings.
    fn push(&mut self, place: u32, gauge: u32, readings: u32) {
        let before = u32::try_from(self.readings()).unwrap_or(u32::MAX);
        if readings != 1 && self.ends.is_empty() {
            self.ends.extend(1..=before);
        }
        if self.places.is_empty() {
            self.first_gauge = gauge;
        }
        if gauge != self.first_gauge && self.gauges.is_empty() {
            self.gauges.resize(self.places.len(), self.first_gauge);
        }
        if gauge != self.first_gauge || !self.gauges.is_empty() {
            self.gauges.push(gauge);
        }
        if readings != 1 || !self.ends.is_empty() {
            self.ends.push(before.saturating_add(readings));
        }
        self.places.push(place);
    }

    /// Adds a reading: to the last run where it is like that one.
    pub fn add_reading(&mut self, place: u32, gauge: u32) {
        let last = self.places.last().copied();
        if last != Some(place) || self.gauge(self.places.len() - 1) != gauge {
            return self.push(place, gauge, 1);
        }
        if self.ends.is_empty() {
            self.ends.extend(1..=u32::try_from(self.places.len()).unwrap_or(u32::MAX));
        }
        if let Some(end) = self.ends.last_mut() {
            *end = end.saturating_add(1);
        }
    }

    /// Adds the runs of `other` behind these.
    pub fn append(&mut self, other: &Self) {
        let alone = |runs: &Self| runs.ends.is_empty() && runs.gauges.is_empty();
        let one_gauge = self.places.is_empty() || other.places.is_empty() || self.first_gauge == other.first_gauge;
        if alone(self) && alone(other) && one_gauge {
            if self.places.is_empty() {
                self.first_gauge = other.first_gauge;
            }
            self.places.extend_from_slice(&other.places);
            return;
        }
        for run in 0..other.len() {
            self.push(other.place(run), other.gauge(run), u32::try_from(other.of_run(run).len()).unwrap_or(u32::MAX));
        }
    }

    /// Makes room for `runs` runs.
    pub fn with_room(runs: usize) -> Self {
        Self { places: Vec::with_capacity(runs), ..Self::default() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Place, gauge and readings of every run.
    fn listed(runs: &Runs) -> Vec<(u32, u32, Range<usize>)> {
        (0..runs.len()).map(|run| (runs.place(run), runs.gauge(run), runs.of_run(run))).collect()
    }

    fn of(readings: &[(u32, u32)]) -> Runs {
        let mut runs = Runs::default();
        readings.iter().for_each(|(place, gauge)| runs.add_reading(*place, *gauge));
        runs
    }

    #[test]
    fn readings_alike_make_a_run() {
        assert_eq!(listed(&of(&[(3, 0), (2, 0), (1, 0)])), [(3, 0, 0..1), (2, 0, 1..2), (1, 0, 2..3)]);
        assert_eq!(listed(&of(&[(3, 4), (2, 4), (2, 4), (1, 4)])), [(3, 4, 0..1), (2, 4, 1..3), (1, 4, 3..4)]);
        assert_eq!(listed(&of(&[(3, 1), (3, 2), (3, 2), (2, 1)])), [(3, 1, 0..1), (3, 2, 1..3), (2, 1, 3..4)]);
        assert_eq!(listed(&of(&[(3, 5), (3, 6), (2, 6)])), [(3, 5, 0..1), (3, 6, 1..2), (2, 6, 2..3)]);
        let alone = of(&[(7, 2), (6, 2)]);
        assert!(alone.ends.is_empty() && alone.gauges.is_empty() && alone.readings() == 2);
        assert!(of(&[]).len() == 0 && of(&[]).of_run(0).is_empty() && alone.of_run(2).is_empty());
    }

    /// Put together in two parts, wherever they are cut between two stations, the runs are the same.
    #[test]
    fn parts_make_the_whole() {
        for readings in [
            vec![(9, 1), (8, 1), (7, 1), (6, 1)],
            vec![(9, 1), (8, 2)],
            vec![(9, 1), (8, 2), (8, 2), (7, 1), (6, 3)],
            vec![(9, 4), (9, 4), (8, 4), (7, 4), (7, 4)],
            vec![(9, 4), (8, 4), (7, 4), (7, 2)],
        ] {
            for cut in (0..=readings.len()).filter(|cut| *cut == 0 || *cut == readings.len() || readings[*cut - 1].0 != readings[*cut].0) {
                let mut joined = Runs::with_room(readings.len());
                joined.append(&of(&readings[..cut]));
                joined.append(&of(&readings[cut..]));
                assert_eq!(listed(&joined), listed(&of(&readings)), "{readings:?} cut at {cut}");
                assert_eq!(joined.readings(), readings.len());
            }
        }
    }
}
