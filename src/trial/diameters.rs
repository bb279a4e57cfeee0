//! All diameters of a trial, in columns: a log of ten million rows takes some 20 bytes a row.

use super::dictionary::Dictionary;
use super::readings::{DiameterReading, Direction, Place};
use std::borrow::Borrow;
use std::hash::{Hash, Hasher};
use std::sync::Arc;

/// A number that can be looked up: equal where the bits are.
#[derive(Debug, Clone, Copy, Default)]
pub struct Bits(pub f64);

impl PartialEq for Bits {
    fn eq(&self, other: &Self) -> bool {
        self.0.to_bits() == other.0.to_bits()
    }
}

impl Eq for Bits {}

impl Hash for Bits {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.0.to_bits().hash(state);
    }
}

/// What all readings of one cut have in common.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Cut {
    /// State of the feet.
    pub setting: u32,
    /// Number of the cut within its setting.
    pub pass: u32,
    /// Which way it was cut.
    pub direction: Direction,
    /// Radial depth, mm.
    pub depth_mm: Bits,
    /// Feed, mm per revolution.
    pub feed_mm_per_rev: Bits,
    /// Edge that cut.
    pub edge: Option<Arc<str>>,
    /// Shift of the tool along `z`, mm.
    pub tool_shift_mm: Bits,
}

impl Default for Cut {
    fn default() -> Self {
        Self {
            setting: 0,
            pass: 1,
            direction: Direction::ToHeadstock,
            depth_mm: Bits(0.0),
            feed_mm_per_rev: Bits(0.0),
            edge: None,
            tool_shift_mm: Bits(0.0),
        }
    }
}

/// A column of numbers that may be missing: no room at all where all are, else a number a row, not-a-number for a missing one.
#[derive(Debug, Clone, Default)]
struct Numbers {
    values: Vec<f64>,
}

impl Numbers {
    fn push(&mut self, rows: usize, value: Option<f64>) {
        if value.is_some() && self.values.is_empty() {
            self.values.resize(rows, f64::NAN);
        }
        if value.is_some() || !self.values.is_empty() {
            self.values.push(value.unwrap_or(f64::NAN));
        }
    }

    fn append(&mut self, rows: usize, other: &Self, other_rows: usize) {
        if self.values.is_empty() && other.values.is_empty() {
            return;
        }
        self.values.resize(rows, f64::NAN);
        self.values.extend_from_slice(&other.values);
        self.values.resize(rows + other_rows, f64::NAN);
    }

    #[inline]
    fn get(&self, row: usize) -> Option<f64> {
        self.values.get(row).copied().filter(|value| !value.is_nan())
    }
}

/// Rows that stand one under the other in one file.
#[derive(Debug, Clone, Copy)]
struct Run {
    first: usize,
    place: Place,
}

type Texts = Dictionary<Option<Arc<str>>>;

/// The diameters of a trial, in the log's order.
///
/// A reading is put together when it is asked for. What repeats from row to row (cut, station, texts) is kept once with a number a row; a
/// column that nothing was logged in takes no room. Numbers must be finite.
#[derive(Debug, Clone, Default)]
pub struct Diameters {
    read_mm: Vec<f64>,
    /// Diameters at 20 °C, empty where all are as read.
    diameter_mm: Vec<f64>,
    cuts: Dictionary<Cut>,
    stations: Dictionary<Bits>,
    repeats: Dictionary<Option<u32>>,
    angles: Numbers,
    times: Numbers,
    temperatures: Numbers,
    measured_at: Texts,
    operators: Texts,
    gauges: Texts,
    excluded: Texts,
    notes: Texts,
    /// How many readings each stands for, missing where only for itself, and their squared deviations from it.
    counts: Numbers,
    squares: Numbers,
    runs: Vec<Run>,
}

/// What readings must have in common to be repeats of one another: cut, station, gauge, exclusion, time.
type Alike = Option<(u32, u32, u32, bool, Option<Bits>)>;

impl Diameters {
    /// Number of readings.
    #[must_use]
    pub fn len(&self) -> usize {
        self.read_mm.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.read_mm.is_empty()
    }

    /// Adds a reading.
    pub fn push(&mut self, reading: impl Borrow<DiameterReading>) {
        let reading = reading.borrow();
        let cut = Cut {
            setting: reading.setting,
            pass: reading.pass,
            direction: reading.direction,
            depth_mm: Bits(reading.depth_mm),
            feed_mm_per_rev: Bits(reading.feed_mm_per_rev),
            edge: reading.edge.clone(),
            tool_shift_mm: Bits(reading.tool_shift_mm),
        };
        self.cuts.push(&cut);
        self.push_uncut(reading);
        let row = self.len() - 1;
        self.times.push(row, reading.time_min);
        if reading.diameter_mm.to_bits() != reading.read_mm.to_bits() {
            self.correct(row, reading.diameter_mm);
        } else if !self.diameter_mm.is_empty() {
            self.diameter_mm.push(reading.diameter_mm);
        }
    }

    /// Adds a reading without its cut, time and correction: [`Self::set_cuts`], [`Self::set_times`] and [`Self::correct_all`] follow.
    pub fn push_uncut(&mut self, reading: &DiameterReading) {
        let row = self.len();
        self.read_mm.push(reading.read_mm);
        self.stations.push(&Bits(reading.station_mm));
        self.repeats.push(&reading.repeat);
        self.angles.push(row, reading.angle_deg);
        self.temperatures.push(row, reading.temperature_c);
        self.measured_at.push(&reading.measured_at);
        self.operators.push(&reading.operator);
        self.gauges.push(&reading.gauge);
        self.excluded.push(&reading.excluded);
        self.notes.push(&reading.note);
        self.push_place(row, reading.place);
    }

    fn push_place(&mut self, row: usize, place: Place) {
        let follows = self
            .runs
            .last()
            .is_some_and(|run| run.place.file == place.file && run.place.row.checked_add((row - run.first) as u64) == Some(place.row));
        if !follows {
            self.runs.push(Run { first: row, place });
        }
    }

    /// Adds the rows of `other`, which like these have neither cut, time nor correction yet; their lines count from `lines_before`.
    pub fn append_uncut(&mut self, other: &Self, lines_before: u64) {
        let rows = self.len();
        self.stations.append(&other.stations);
        self.repeats.append(&other.repeats);
        self.angles.append(rows, &other.angles, other.len());
        self.temperatures.append(rows, &other.temperatures, other.len());
        self.measured_at.append(&other.measured_at);
        self.operators.append(&other.operators);
        self.gauges.append(&other.gauges);
        self.excluded.append(&other.excluded);
        self.notes.append(&other.notes);
        for run in &other.runs {
            self.push_place(rows + run.first, Place { row: run.place.row + lines_before, ..run.place });
        }
        self.read_mm.extend_from_slice(&other.read_mm);
    }

    /// Gives every row its cut.
    pub fn set_cuts(&mut self, cuts: Dictionary<Cut>) {
        self.cuts = cuts;
    }

    /// Gives every row its time, minutes, not-a-number for none; an empty list for no times at all.
    pub fn set_times(&mut self, minutes: Vec<f64>) {
        self.times = Numbers { values: minutes };
    }

    fn correct(&mut self, row: usize, diameter_mm: f64) {
        if self.diameter_mm.len() <= row {
            let known = self.diameter_mm.len();
            self.diameter_mm.extend(self.read_mm.iter().skip(known));
        }
        if let Some(slot) = self.diameter_mm.get_mut(row) {
            *slot = diameter_mm;
        }
    }

    /// Brings the readings whose temperature was logged to 20 °C: `at_20(read, temperature)`, mm.
    pub fn correct_all(&mut self, at_20: impl Fn(f64, f64) -> f64) {
        for row in 0..self.temperatures.values.len() {
            if let (Some(celsius), Some(read)) = (self.temperatures.get(row), self.read_mm.get(row).copied()) {
                let diameter_mm = at_20(read, celsius);
                if diameter_mm.to_bits() != read.to_bits() || !self.diameter_mm.is_empty() {
                    self.correct(row, diameter_mm);
                }
            }
        }
    }

    /// A reading; `None` beyond the last.
    #[must_use]
    pub fn get(&self, row: usize) -> Option<DiameterReading> {
        let read_mm = *self.read_mm.get(row)?;
        let cut = self.cut(row);
        Some(DiameterReading {
            place: self.place(row),
            setting: cut.setting,
            pass: cut.pass,
            direction: cut.direction,
            station_mm: self.station_mm(row),
            diameter_mm: self.diameter_mm(row),
            read_mm,
            repeat: *self.repeats.get(row),
            angle_deg: self.angles.get(row),
            depth_mm: cut.depth_mm.0,
            feed_mm_per_rev: cut.feed_mm_per_rev.0,
            edge: cut.edge.clone(),
            time_min: self.time_min(row),
            measured_at: self.measured_at.get(row).clone(),
            tool_shift_mm: cut.tool_shift_mm.0,
            temperature_c: self.temperatures.get(row),
            operator: self.operators.get(row).clone(),
            gauge: self.gauges.get(row).clone(),
            excluded: self.excluded.get(row).clone(),
            note: self.notes.get(row).clone(),
        })
    }

    /// The first reading.
    #[must_use]
    pub fn first(&self) -> Option<DiameterReading> {
        self.get(0)
    }

    /// The last reading.
    #[must_use]
    pub fn last(&self) -> Option<DiameterReading> {
        self.get(self.len().checked_sub(1)?)
    }

    /// All readings.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = DiameterReading> + DoubleEndedIterator + Clone + '_ {
        (0..self.len()).map(|row| self.reading(row))
    }

    fn reading(&self, row: usize) -> DiameterReading {
        self.get(row).unwrap_or_else(|| DiameterReading::bare(Place { file: 0, row: 0 }, 0.0, 0.0))
    }

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
        self.stations.get(row).0
    }

    /// Number of the station of a reading, an index into [`Self::stations`].
    #[inline]
    #[must_use]
    pub fn station_number(&self, row: usize) -> u32 {
        self.stations.number_of(row)
    }

    /// All stations, mm, in no order; there may be some that no reading belongs to.
    #[must_use]
    pub fn stations(&self) -> &[Bits] {
        self.stations.values()
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
            let time = self.time_min(row).map(Bits);
            let alike = Some((self.cut_number(row), self.station_number(row), self.gauge_number(row), self.is_used(row), time));
            let number = places.number(&alike);
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

    /// How many readings a reading stands for, and the sum of their squared deviations from it, mm².
    #[inline]
    #[must_use]
    pub fn stands_for(&self, row: usize) -> (f64, f64) {
        (self.counts.get(row).unwrap_or(1.0), self.squares.get(row).unwrap_or(0.0))
    }

    /// Changes readings one by one.
    pub fn change(&mut self, mut change: impl FnMut(usize, &mut DiameterReading)) {
        *self = self
            .iter()
            .enumerate()
            .map(|(row, mut reading)| {
                change(row, &mut reading);
                reading
            })
            .collect();
    }

    /// Keeps the readings that `wanted` picks.
    pub fn retain(&mut self, mut wanted: impl FnMut(&DiameterReading) -> bool) {
        *self = self.iter().filter(|reading| wanted(reading)).collect();
    }

    /// Keeps the first `count` readings.
    pub fn truncate(&mut self, count: usize) {
        *self = self.iter().take(count).collect();
    }

    /// Takes all readings out.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// The readings one by one, as a list.
    #[must_use]
    pub fn to_vec(&self) -> Vec<DiameterReading> {
        self.iter().collect()
    }
}

impl PartialEq for Diameters {
    fn eq(&self, other: &Self) -> bool {
        self.len() == other.len() && self.iter().eq(other.iter())
    }
}

impl Extend<DiameterReading> for Diameters {
    fn extend<I: IntoIterator<Item = DiameterReading>>(&mut self, readings: I) {
        readings.into_iter().for_each(|reading| self.push(&reading));
    }
}

impl FromIterator<DiameterReading> for Diameters {
    fn from_iter<I: IntoIterator<Item = DiameterReading>>(readings: I) -> Self {
        let mut diameters = Self::default();
        diameters.extend(readings);
        diameters
    }
}

impl From<Vec<DiameterReading>> for Diameters {
    fn from(readings: Vec<DiameterReading>) -> Self {
        readings.into_iter().collect()
    }
}

impl<'a> IntoIterator for &'a Diameters {
    type Item = DiameterReading;
    type IntoIter = Box<dyn Iterator<Item = DiameterReading> + 'a>;

    fn into_iter(self) -> Self::IntoIter {
        Box::new(self.iter())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn full(row: u64) -> DiameterReading {
        let text = |text: &str| (row % 3 == 1).then(|| Arc::from(text));
        DiameterReading {
            setting: u32::try_from(row % 2).unwrap(),
            pass: u32::try_from(row / 4).unwrap(),
            direction: if row.is_multiple_of(5) { Direction::ToTailstock } else { Direction::ToHeadstock },
            diameter_mm: if row == 6 { 37.5 } else { 38.0 + row as f64 },
            repeat: (row > 3).then_some(7),
            angle_deg: (row == 2).then_some(90.0),
            depth_mm: 0.1,
            edge: text("a"),
            time_min: (row > 4).then_some(row as f64),
            measured_at: text("noon"),
            tool_shift_mm: 3.0,
            temperature_c: (row == 6).then_some(24.0),
            operator: text("A"),
            gauge: text("m"),
            excluded: text("chip"),
            note: text("n"),
            ..DiameterReading::bare(Place { file: usize::from(row > 6), row: row + row / 3 }, 10.0 * (row % 4) as f64, 38.0 + row as f64)
        }
    }

    #[test]
    fn what_is_put_in_comes_out() {
        let readings: Vec<DiameterReading> = (0..12).map(full).collect();
        let diameters: Diameters = readings.iter().cloned().collect();
        assert_eq!(diameters.to_vec(), readings);
        assert_eq!(diameters.len(), 12);
        assert_eq!(diameters.get(12), None);
        assert_eq!(diameters.settings(), [0, 1]);
        let mut other = diameters.clone();
        assert_eq!(other, diameters);
        other.change(|row, reading| reading.read_mm += if row == 11 { 1e-9 } else { 0.0 });
        assert_ne!(other, diameters, "one changed in the last figures");
    }

    #[test]
    fn blocks_put_together_are_the_whole() {
        let readings: Vec<DiameterReading> = (0..12)
            .map(|row| DiameterReading {
                setting: 0,
                pass: 1,
                direction: Direction::ToHeadstock,
                depth_mm: 0.0,
                edge: None,
                time_min: None,
                tool_shift_mm: 0.0,
                diameter_mm: 38.0 + row as f64,
                ..full(row)
            })
            .collect();
        for cut in 0..12 {
            let (mut whole, mut second) = (Diameters::default(), Diameters::default());
            for (row, reading) in readings.iter().enumerate() {
                if row < cut {
                    whole.push_uncut(reading);
                } else {
                    let place = Place { row: reading.place.row - cut as u64, ..reading.place };
                    second.push_uncut(&DiameterReading { place, ..reading.clone() });
                }
            }
            whole.append_uncut(&second, cut as u64);
            assert_eq!(whole.to_vec(), readings, "cut at {cut}");
        }
    }
}
