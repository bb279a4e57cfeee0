//! Rolls that no level reads or no bed has: another unit, exchanged columns, a slip of a digit. They are used as logged, and asked about.

use super::super::collector::Collector;
use super::super::header::columns::Column;
use super::super::settings::{shown, slopes_asked};
use super::along::{Spot, coarser, odd_one};
use crate::findings::{Finding, Severity};
use crate::trial::LevelReading;
use std::collections::{BTreeMap, BTreeSet};

/// Longest log whose rolls are looked at one by one: longer ones are written by machines.
const SEARCHED: usize = 2_000;
/// Steepest roll that is not asked about, mm/m: beyond it stand only machines that nobody set down on their feet (common practice, no source).
const MOST_ROLL_MM_PER_M: f64 = 5.0;
/// Rolls that all lie within this share of a level's uncertainty are read by no level.
const UNREADABLE: f64 = 0.05;
/// Stations of levels that all lie so near the chuck face are rolls, mm.
const LIKE_ROLLS_MM: f64 = 5.0;
/// Least length along a bed, mm: a level is longer.
const SHORTEST_MM: f64 = 20.0;

/// The rolls of one file, and where they stand.
pub(in crate::ingest) struct Rolls<'r> {
    pub(in crate::ingest) readings: &'r [LevelReading],
    pub(in crate::ingest) file: &'r str,
    pub(in crate::ingest) station: &'r Column,
    pub(in crate::ingest) roll: &'r Column,
    /// Standard uncertainty of one reading, mm/m.
    pub(in crate::ingest) u_mm_per_m: f64,
}

impl Rolls<'_> {
    /// Looks at all of them.
    pub(in crate::ingest) fn check(&self, collector: &mut Collector) {
        if self.swapped(collector) || self.unreadable(collector) {
            return;
        }
        self.short(collector);
        let told = self.slips(collector);
        self.steep(&told, collector);
    }

    fn say(&self, code: &'static str, row: u64, column: &Column, found: String, help: &str, collector: &mut Collector) {
        let finding = || Finding::new(code, Severity::Warning, found, help).in_file(self.file).at_row(row);
        collector.remark(|| finding().in_column(column.header.clone()));
    }

    /// A roll as its column writes it.
    fn written(&self, mm_per_m: f64) -> String {
        shown(mm_per_m / self.roll.measure.step())
    }

    fn largest(&self) -> f64 {
        self.readings.iter().map(|reading| reading.roll_mm_per_m.abs()).fold(0.0, f64::max)
    }

    fn swapped(&self, collector: &mut Collector) -> bool {
        let like_rolls = self.readings.iter().all(|reading| reading.station_mm.abs() < LIKE_ROLLS_MM);
        let Some(first) = self.readings.first().filter(|_| like_rolls && self.largest() > MOST_ROLL_MM_PER_M) else { return false };
        if self.readings.iter().all(|reading| reading.roll_mm_per_m == first.roll_mm_per_m) {
            return false;
        }
        let found = format!(
            "stations within {} mm of the chuck face under `{}` and rolls up to {} under `{}`",
            LIKE_ROLLS_MM,
            self.station.header,
            self.written(self.largest()),
            self.roll.header
        );
        let help = "the columns of station and roll look swapped: exchange their headers; they are used as logged";
        self.say("swapped-columns", first.place.row, self.station, found, help, collector);
        true
    }

    /// Two rolls or more that are not zero, and all far below what the level reads.
    fn unreadable(&self, collector: &mut Collector) -> bool {
        let mut rolls = self.readings.iter().filter(|reading| reading.roll_mm_per_m != 0.0);
        let largest = self.largest();
        let (Some(first), Some(_)) = (rolls.next(), rolls.next()) else { return false };
        if largest >= UNREADABLE * self.u_mm_per_m {
            return false;
        }
        let found = format!(
            "rolls of at most {} under `{}`, {} mm/m: the level reads to {} mm/m",
            self.written(largest),
            self.roll.header,
            shown(largest),
            shown(self.u_mm_per_m)
        );
        let asked = slopes_asked(largest / self.roll.measure.step(), self.roll.measure.step());
        let help = format!(
            "{asked}. If all are so write that unit in the header; if the level showed nothing write 0, and if it reads so finely state u_mm_per_m in [gauge.level]; \
             they are used as logged"
        );
        self.say("unlikely-value", first.place.row, self.roll, found, &help, collector);
        true
    }

    fn short(&self, collector: &mut Collector) {
        let stations = || self.readings.iter().map(|reading| reading.station_mm);
        let (near, far) = (stations().fold(f64::INFINITY, f64::min), stations().fold(f64::NEG_INFINITY, f64::max));
        let Some(first) = self.readings.first().filter(|_| far > near && far - near < SHORTEST_MM) else { return };
        let found = format!("stations from {} to {} mm along the bed: hardly the length of a level", shown(near), shown(far));
        let help = "perhaps their unit is another, or the columns are swapped: mend the header; they are used as logged";
        self.say("short-length", first.place.row, self.station, found, help, collector);
    }

    /// One roll among those along the bed; returns the rows that were told.
    fn slips(&self, collector: &mut Collector) -> BTreeSet<u64> {
        let mut told = BTreeSet::new();
        if self.readings.len() > SEARCHED {
            return told;
        }
        let mut series: BTreeMap<(u32, bool), (Vec<Spot>, Vec<u64>)> = BTreeMap::new();
        for reading in self.readings {
            let known = reading.reference_roll_mm_per_m.unwrap_or(0.0);
            let (spots, rows) = series.entry((reading.setting, reading.reversed)).or_default();
            spots.push(Spot { at_mm: reading.station_mm, read: reading.roll_mm_per_m, known });
            rows.push(reading.place.row);
        }
        let u = coarser(self.u_mm_per_m, self.readings.iter().map(|reading| reading.roll_mm_per_m), self.roll);
        for ((setting, reversed), (spots, rows)) in &series {
            let twins = series.get(&(*setting, !reversed)).map_or(&[][..], |(spots, _)| spots);
            let Some(odd) = odd_one(spots, &[twins], u) else { continue };
            let (Some(spot), Some(row)) = (spots.get(odd.index), rows.get(odd.index)) else { continue };
            let found = format!(
                "a roll of `{}` where the places beside it say about {}",
                self.written(spot.read),
                shown_near(odd.beside / self.roll.measure.step(), self.u_mm_per_m / self.roll.measure.step())
            );
            let help = format!(
                "perhaps {}: {}; it is used as logged: mend it, or if it was read so look for dirt under the level and read it again",
                odd.what,
                self.written(odd.meant)
            );
            self.say("digit-slip", *row, self.roll, found, &help, collector);
            told.insert(*row);
        }
        told
    }

    /// Rolls, against the reference where there is one, that are too steep for a lathe.
    fn steep(&self, told: &BTreeSet<u64>, collector: &mut Collector) {
        let steep = |reading: &&LevelReading| {
            (reading.roll_mm_per_m - reading.reference_roll_mm_per_m.unwrap_or(0.0)).abs() > MOST_ROLL_MM_PER_M
                && !told.contains(&reading.place.row)
        };
        let count = self.readings.iter().filter(steep).count();
        let Some(first) = self.readings.iter().find(steep) else { return };
        let all = if count > 1 { format!("; {count} rows in all lean so, here the first") } else { String::new() };
        let degrees = (first.roll_mm_per_m.abs() / 1000.0).atan().to_degrees();
        let found = format!("a roll of `{}`, {:.1}° across the bed{all}", self.written(first.roll_mm_per_m), degrees);
        let step = self.roll.measure.step();
        let asked = slopes_asked(first.roll_mm_per_m / step, step);
        let help = format!(
            "{asked}. If all are so write that unit in the header; a lathe on its feet leans by less than {MOST_ROLL_MM_PER_M} mm/m; it is used as logged, and if it \
             does lean so nothing is to be mended"
        );
        self.say("unlikely-value", first.place.row, self.roll, found, &help, collector);
    }
}

/// A number no finer than `u`, or its tenth.
pub(in crate::ingest) fn shown_near(value: f64, u: f64) -> String {
    if u <= 0.0 {
        return shown(value);
    }
    let step = 10_f64.powf((0.5 * u).log10().floor());
    let rounded = (value / step).round() * step;
    shown(if rounded == 0.0 { 0.0 } else { rounded })
}
