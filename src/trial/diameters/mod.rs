//! All diameters of a trial, in columns: a log of ten million rows takes some 20 bytes a row.

mod columns;
mod joined;
mod lists;
mod reduced;
mod stations;
mod stretches;
mod values;

pub use joined::Joined;
pub use stations::MOST_STATIONS;
pub use values::{Bits, Cut};

use super::dictionary::Dictionary;
use super::readings::{DiameterReading, Place};
use stations::Stations;
use std::borrow::Borrow;
use std::collections::HashMap;
use values::{Numbers, Run, Texts};

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
    stations: Stations,
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
        self.stations.push(reading.station_mm);
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

    /// Brings the readings of cuts with logged temperatures to 20 °C: `at_20(read, temperature)`, mm. Returns the first row without a temperature that was brought there too, and how many were.
    ///
    /// A row without one is as warm as the row of its cut above it, the first rows of a cut as the first that states one: of rows that were left as read among others that were not,
    /// the bar's expansion would look like taper. They still count as rows without a logged temperature.
    pub fn correct_all(&mut self, at_20: impl Fn(f64, f64) -> f64) -> Option<(usize, usize)> {
        let rows = self.temperatures.values.len();
        let mut first: HashMap<u32, f64> = HashMap::new();
        for row in 0..rows {
            if let Some(celsius) = self.temperatures.get(row) {
                first.entry(self.cut_number(row)).or_insert(celsius);
            }
        }
        let mut last = first;
        let mut carried: Option<(usize, usize)> = None;
        for row in 0..rows {
            let (cut, own) = (self.cut_number(row), self.temperatures.get(row));
            if let Some(celsius) = own {
                last.insert(cut, celsius);
            }
            let (Some(celsius), Some(read)) = (last.get(&cut).copied(), self.read_mm.get(row).copied()) else { continue };
            if own.is_none() {
                carried = Some(carried.map_or((row, 1), |(first, count)| (first, count + 1)));
            }
            let diameter_mm = at_20(read, celsius);
            if diameter_mm.to_bits() != read.to_bits() || !self.diameter_mm.is_empty() {
                self.correct(row, diameter_mm);
            }
        }
        carried
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
}

#[cfg(test)]
mod tests;
