//! Readings at neighbouring stations of one pass as one, for a log of more stations than can be taken one by one.

use super::Diameters;
use super::stretches::{Run, Stretches};
use crate::trial::DiameterReading;
use crate::trial::dictionary::Dictionary;
use std::collections::BTreeMap;

/// Stretches over which a pass must reach for its own slope to be used; of a shorter one the slope is taken as 0.
const OWN_SLOPE: f64 = 10.0;

/// Diameters of which neighbouring ones are joined.
#[derive(Debug, Clone)]
pub struct Joined {
    /// The joined readings.
    pub diameters: Diameters,
    /// Width of a stretch, mm; `None` where only readings at one station were joined.
    pub stretch_mm: Option<f64>,
}

/// What must be equal in readings that are joined: run and stretch.
type Key = Option<(Run, u32)>;

/// The readings of one place: differences from the first of them, summed.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    first: usize,
    count: f64,
    station: f64,
    diameter: f64,
    time: f64,
    stations: f64,
    products: f64,
    diameters: f64,
}

/// The readings of one place: mean station, diameter and time, and the sums of squares and products of the deviations from them.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    first: usize,
    count: f64,
    station_mm: f64,
    diameter_mm: f64,
    time_min: Option<f64>,
    szz: f64,
    szd: f64,
    sdd: f64,
}

/// Places put together one by one, as one list of readings: what a straight line through them needs.
#[derive(Debug, Clone, Copy, Default)]
struct Line {
    count: f64,
    station_mm: f64,
    diameter_mm: f64,
    szz: f64,
    szd: f64,
}

impl Diameters {
    /// The readings with neighbouring ones joined, so that there are at most `most` used places; every used reading is in one of them.
    ///
    /// Joined are used readings of one cut and gauge (all with a time or all without) in one of the equal stretches of the setting's tested length, which are the
    /// same for all passes of a setting; its first and last station stay by themselves. So nothing is joined over a gap as wide as a stretch. A place stands at
    /// the mean station `s` of all readings of the setting in that stretch, whatever pass they belong to: passes have their stations in common. Of its `n`
    /// readings with means `z̄`, `d̄` it has diameter `d̄ + b(s − z̄)`, mean time, and as squared deviations `Σ(d − d̄ − b(z − z̄))²`, with `b` the slope of
    /// the straight line through the whole pass (each run about its own mean; 0 where the pass reaches over fewer than ten stretches), so that taper inside a
    /// stretch is no scatter. [`Self::stands_for`] tells `n` and the squares.
    ///
    /// Error against readings one by one, of a bow of height `h` over the length `L` read evenly in stretches of width `w`: the mean of a stretch lies
    /// `h(w/L)²/3` off the bow, where `z̄` is not `s` less than `4hw/L` more, and the squares are larger by at most `4n(hw/L)²/3`. Times are those of `z̄`.
    ///
    /// Of excluded readings the first of each cut is kept, at the setting's first station: it tells that the pass was cut. Places come in the order of the first
    /// reading of each. Place and cut are kept; repeat, angle, temperature and texts but the gauge are left out, having no part in a joint estimate.
    /// Linear in the readings; keeps some hundred bytes a place. `None` where a run of one cut and gauge would have fewer than `fewest` places left to it.
    #[must_use]
    pub fn joined(&self, most: usize, fewest: usize) -> Option<Joined> {
        let stretches = Stretches::over(self, most, fewest)?;
        let mut keys: Dictionary<Key> = Dictionary::default();
        let mut sums = vec![Sums::default()];
        let mut excluded: Vec<Option<usize>> = vec![None; self.cuts().len()];
        for row in 0..self.len() {
            let run = self.run(row);
            if !self.is_used(row) {
                if let Some(slot) = excluded.get_mut(run.0 as usize) {
                    slot.get_or_insert(row);
                }
                continue;
            }
            let number = keys.number(&Some((run, stretches.number(run.0, self.station_mm(row))))) as usize;
            if sums.len() <= number {
                sums.resize(number + 1, Sums { first: row, ..Sums::default() });
            }
            if let Some(own) = sums.get_mut(number) {
                self.add(own, row);
            }
        }
        let places: Vec<((Run, u32), Stretch)> =
            keys.values().iter().zip(&sums).filter_map(|(key, sums)| Some(((*key)?, self.stretch(sums)))).collect();
        let slopes = self.slopes(&places, OWN_SLOPE * stretches.width_mm());
        let stations = self.common_stations(&places);

        let mut rows: Vec<(usize, Option<usize>)> = places.iter().enumerate().map(|(i, (_, place))| (place.first, Some(i))).collect();
        rows.extend(excluded.into_iter().flatten().map(|row| (row, None)));
        rows.sort_unstable();
        let mut diameters = Self::default();
        for (row, place) in rows {
            let mut reading = DiameterReading {
                repeat: None,
                angle_deg: None,
                measured_at: None,
                temperature_c: None,
                operator: None,
                note: None,
                ..self.reading(row)
            };
            let mut several = None;
            if let Some(((_, number), place)) = place.and_then(|i| places.get(i)) {
                let slope = slopes.get(&(reading.setting, reading.pass)).copied().unwrap_or(0.0);
                reading.station_mm = stations.get(&(reading.setting, *number)).map_or(place.station_mm, |line| line.station_mm);
                reading.diameter_mm = place.diameter_mm + slope * (reading.station_mm - place.station_mm);
                reading.read_mm = reading.diameter_mm;
                reading.time_min = place.time_min;
                let square = (place.sdd - 2.0 * slope * place.szd + slope * slope * place.szz).max(0.0);
                several = (place.count > 1.0).then_some((place.count, square));
            } else {
                reading.station_mm = stretches.first_station_mm(self.cut_number(row)).unwrap_or(reading.station_mm);
            }
            let row = diameters.len();
            diameters.push(&reading);
            diameters.counts.push(row, several.map(|(count, _)| count));
            diameters.squares.push(row, several.map(|(_, square)| square));
        }
        let apart = places.iter().any(|(_, place)| place.szz > 0.0);
        Some(Joined { diameters, stretch_mm: apart.then(|| stretches.width_mm()) })
    }

    /// The run of a reading.
    pub(super) fn run(&self, row: usize) -> Run {
        (self.cut_number(row), self.gauge_number(row), self.time_min(row).is_some())
    }

    fn add(&self, sums: &mut Sums, row: usize) {
        let z = self.station_mm(row) - self.station_mm(sums.first);
        let d = self.diameter_mm(row) - self.diameter_mm(sums.first);
        sums.count += 1.0;
        sums.station += z;
        sums.diameter += d;
        sums.stations += z * z;
        sums.products += z * d;
        sums.diameters += d * d;
        if let (Some(time), Some(first)) = (self.time_min(row), self.time_min(sums.first)) {
            sums.time += time - first;
        }
    }

    fn stretch(&self, sums: &Sums) -> Stretch {
        let Sums { first, count, .. } = *sums;
        Stretch {
            first,
            count,
            station_mm: self.station_mm(first) + sums.station / count,
            diameter_mm: self.diameter_mm(first) + sums.diameter / count,
            time_min: self.time_min(first).map(|time| time + sums.time / count),
            szz: (sums.stations - sums.station * sums.station / count).max(0.0),
            szd: sums.products - sums.station * sums.diameter / count,
            sdd: (sums.diameters - sums.diameter * sums.diameter / count).max(0.0),
        }
    }

    /// Slope of the straight line through each pass, its runs about their own means; of passes that reach over more than `least_mm`.
    fn slopes(&self, places: &[((Run, u32), Stretch)], least_mm: f64) -> BTreeMap<(u32, u32), f64> {
        let mut runs: BTreeMap<Run, Line> = BTreeMap::new();
        let mut reach: BTreeMap<(u32, u32), (f64, f64)> = BTreeMap::new();
        let pass_of = |run: &Run| self.cuts().get(run.0 as usize).map(|cut| (cut.setting, cut.pass));
        for ((run, _), place) in places {
            runs.entry(*run).or_default().add(place);
            let Some(pass) = pass_of(run) else { continue };
            let ends = reach.entry(pass).or_insert((place.station_mm, place.station_mm));
            *ends = (ends.0.min(place.station_mm), ends.1.max(place.station_mm));
        }
        let mut of_pass: BTreeMap<(u32, u32), (f64, f64)> = BTreeMap::new();
        for (run, line) in &runs {
            let Some(pass) = pass_of(run).filter(|pass| reach.get(pass).is_some_and(|(from, to)| to - from > least_mm)) else { continue };
            let sums = of_pass.entry(pass).or_default();
            *sums = (sums.0 + line.szz, sums.1 + line.szd);
        }
        of_pass.into_iter().filter(|(_, (szz, _))| *szz > 0.0).map(|(pass, (szz, szd))| (pass, szd / szz)).collect()
    }

    /// Mean station of all readings in each stretch of each setting.
    fn common_stations(&self, places: &[((Run, u32), Stretch)]) -> BTreeMap<(u32, u32), Line> {
        let mut stations: BTreeMap<(u32, u32), Line> = BTreeMap::new();
        for ((run, number), place) in places {
            if let Some(cut) = self.cuts().get(run.0 as usize) {
                stations.entry((cut.setting, *number)).or_default().add(place);
            }
        }
        stations
    }
}

impl Line {
    /// Adds the readings of a place: sums of squares within it, and that of its mean about the mean of all.
    fn add(&mut self, place: &Stretch) {
        if self.count == 0.0 {
            (self.station_mm, self.diameter_mm) = (place.station_mm, place.diameter_mm);
        }
        let (z, d) = (place.station_mm - self.station_mm, place.diameter_mm - self.diameter_mm);
        let count = self.count + place.count;
        let between = self.count * place.count / count;
        self.szz += place.szz + between * z * z;
        self.szd += place.szd + between * z * d;
        self.station_mm += z * place.count / count;
        self.diameter_mm += d * place.count / count;
        self.count = count;
    }
}

#[cfg(test)]
mod tests;
