//! The stations of a log, kept apart as far as anybody could measure them.

use super::values::Bits;
use crate::trial::dictionary::Dictionary;

/// Most different stations that are kept as they were written.
pub const MOST_STATIONS: usize = 1 << 18;

/// Steps a millimetre that stations are rounded to where more are different, the finest first.
const PER_MM: [f64; 4] = [1000.0, 100.0, 10.0, 1.0];

/// A station for each reading.
///
/// A gauge that works its station out from feed and time writes digits that nobody measured, so that no two readings have the same one. Where more than
/// [`MOST_STATIONS`] are different, all are rounded to 0.001 mm, or to ten times that until no more are. On a bar that tapers by 0.02 mm a metre, half of 0.001 mm along it
/// changes the diameter by 10⁻⁸ mm; what is rounded to 0.1 mm can be told from what is not (`tests/all/shape/long_logs.rs`).
#[derive(Debug, Clone)]
pub(super) struct Stations {
    column: Dictionary<Bits>,
    most: usize,
    per_mm: Option<f64>,
}

impl Default for Stations {
    fn default() -> Self {
        Self { column: Dictionary::default(), most: MOST_STATIONS, per_mm: None }
    }
}

impl Stations {
    /// Step to which stations are rounded, mm; `None` where they stand as they were written.
    pub fn step_mm(&self) -> Option<f64> {
        self.per_mm.map(f64::recip)
    }

    /// Adds a reading at a station, mm.
    pub fn push(&mut self, station_mm: f64) {
        self.column.push(&rounded(self.per_mm, Bits(station_mm)));
        self.bound();
    }

    /// Adds all of another log; both are as coarse as the coarser one then.
    pub fn append(&mut self, other: &Self) {
        if let Some(steps) = other.per_mm.filter(|steps| self.per_mm.is_none_or(|now| *steps < now)) {
            self.round(steps);
        }
        let per_mm = self.per_mm;
        self.column.append_changed(&other.column, |station| rounded(per_mm, *station));
        self.bound();
    }

    fn bound(&mut self) {
        // the default value is there whether a reading has it or not
        while self.column.values().len() > self.most + 1 {
            let coarser = PER_MM.into_iter().find(|steps| self.per_mm.is_none_or(|now| *steps < now));
            let Some(coarser) = coarser else { return };
            self.round(coarser);
        }
    }

    fn round(&mut self, per_mm: f64) {
        self.per_mm = Some(per_mm);
        self.column = std::mem::take(&mut self.column).map(|_, station| rounded(self.per_mm, *station));
    }

    /// The different stations, mm, and which of them each reading has.
    pub fn column(&self) -> &Dictionary<Bits> {
        &self.column
    }
}

fn rounded(per_mm: Option<f64>, station: Bits) -> Bits {
    per_mm.map_or(station, |steps| Bits((station.0 * steps).round() / steps))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bounded(most: usize) -> Stations {
        Stations { most, ..Stations::default() }
    }

    fn first(stations: &Stations, readings: usize) -> Vec<f64> {
        (0..readings).map(|row| stations.column().get(row).0).collect()
    }

    /// As many as may be stand as they were written; one more rounds all of them, those before and those after.
    #[test]
    fn too_many_are_rounded() {
        let written: Vec<f64> = (0..10).map(|k| 10.0 + f64::from(k) * 0.000_31).collect();
        let mut stations = bounded(10);
        written.iter().for_each(|z| stations.push(*z));
        assert_eq!((first(&stations, 10), stations.step_mm()), (written, None));
        stations.push(10.01);
        let thousandths = [10.0, 10.0, 10.001, 10.001, 10.001, 10.002, 10.002, 10.002, 10.002, 10.003, 10.01];
        assert_eq!((first(&stations, 11), stations.step_mm()), (thousandths.to_vec(), Some(0.001)));
        stations.push(10.02449);
        assert_eq!(stations.column().get(11).0, 10.024);
        // still too many: hundredths, then tenths; whole millimetres are not rounded further
        (0..9).for_each(|k| stations.push(11.0 + f64::from(k) * 0.02));
        assert_eq!(stations.step_mm(), Some(0.1));
        (0..30).for_each(|k| stations.push(20.0 + f64::from(k)));
        assert_eq!((stations.step_mm(), stations.column().get(50).0), (Some(1.0), 49.0));
    }

    /// The same whether readings come one by one or by parts.
    #[test]
    fn parts_are_rounded_like_single_ones() {
        let written: Vec<f64> = (0..40).map(|k| 30.0 + f64::from((k * 7) % 40) * 0.000_3).collect();
        let mut single = bounded(16);
        written.iter().for_each(|z| single.push(*z));
        assert_eq!(single.step_mm(), Some(0.001));
        for (size, most) in [(1, 16), (7, 16), (40, MOST_STATIONS), (40, 16), (20, 16)] {
            let mut joined = bounded(16);
            for part in written.chunks(size) {
                let mut own = bounded(most);
                part.iter().for_each(|z| own.push(*z));
                joined.append(&own);
            }
            assert_eq!((first(&joined, 40), joined.step_mm()), (first(&single, 40), single.step_mm()), "parts of {size}, at most {most}");
        }
    }
}
