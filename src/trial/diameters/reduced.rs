//! One reading in the place of all that repeat it.

use super::{Bits, Diameters};
use crate::trial::dictionary::Dictionary;
use std::collections::HashSet;

/// What readings must have in common to be repeats of one another: cut, station, gauge, exclusion, time.
type Alike = Option<(u32, u32, u32, bool, Option<Bits>)>;

impl Diameters {
    /// One reading in the place of all that repeat it: those of one cut, station, gauge and time, in the order in which the first of each comes.
    ///
    /// Its diameter is their mean, and [`Self::stands_for`] tells their number and scatter: all that a model with one row for each of them needs, exactly.
    /// Repeat, angle and texts are those of the first. Excluded readings stand apart from others.
    #[must_use]
    pub fn reduced(&self) -> Self {
        self.reduced_rows().0
    }

    /// As [`Self::reduced`], with the number that each reading has there.
    #[must_use]
    pub fn reduced_rows(&self) -> (Self, Vec<u32>) {
        let mut places: Dictionary<Alike> = Dictionary::default();
        // by place: first row, number, sum and squares of the differences from the first
        let mut sums: Vec<(usize, f64, f64, f64)> = vec![(usize::MAX, 0.0, 0.0, 0.0)];
        let mut order: Vec<u32> = Vec::new();
        let mut of_row: Vec<u32> = Vec::with_capacity(self.len());
        for row in 0..self.len() {
            let number = places.number(&self.alike(row));
            if sums.len() <= number as usize {
                sums.resize(number as usize + 1, (usize::MAX, 0.0, 0.0, 0.0));
            }
            // places are numbered from 1 in the order in which they first come
            of_row.push(number.saturating_sub(1));
            let Some(sum) = sums.get_mut(number as usize) else { continue };
            if sum.1 == 0.0 {
                sum.0 = row;
                order.push(number);
            }
            let difference = self.diameter_mm(row) - self.diameter_mm(sum.0);
            sum.1 += 1.0;
            sum.2 += difference;
            sum.3 += difference * difference;
        }
        let mut reduced = Self::default();
        for (first, count, sum, square) in order.into_iter().filter_map(|number| sums.get(number as usize).copied()) {
            let mut reading = self.reading(first);
            if count > 1.0 {
                reading.diameter_mm += sum / count;
            }
            let row = reduced.len();
            reduced.push(&reading);
            reduced.counts.push(row, (count > 1.0).then_some(count));
            reduced.squares.push(row, (count > 1.0).then(|| (square - sum * sum / count).max(0.0)));
        }
        (reduced, of_row)
    }

    /// What readings must share with this one to be its repeats.
    fn alike(&self, row: usize) -> Alike {
        let time = self.time_min(row).map(Bits);
        Some((self.cut_number(row), self.station_number(row), self.gauge_number(row), self.is_used(row), time))
    }

    /// Whether [`Self::reduced`] would have more than `most` readings; it is not made for that, and no more than `most` are counted.
    #[must_use]
    pub fn reduces_to_more_than(&self, most: usize) -> bool {
        let mut places: HashSet<Alike> = HashSet::new();
        let mut before = None;
        for row in 0..self.len() {
            let here = self.alike(row);
            // repeats follow one another in most logs: only the first of them can be new
            if before != here && places.insert(here) && places.len() > most {
                return true;
            }
            before = here;
        }
        false
    }

    /// How many readings a reading stands for, and the sum of their squared deviations from it, mm².
    #[inline]
    #[must_use]
    pub fn stands_for(&self, row: usize) -> (f64, f64) {
        (self.counts.get(row).unwrap_or(1.0), self.squares.get(row).unwrap_or(0.0))
    }
}
