//! Readings of a dial that no lathe makes: another unit, exchanged columns, a slip of a digit. They are used as logged, and asked about.

use super::super::collector::Collector;
use super::super::header::columns::Column;
use super::super::settings::{StatedIn, other_unit, shown};
use super::along::{Spot, coarser, odd_one};
use super::level_slips::shown_near;
use crate::findings::{Finding, Severity};
use crate::trial::{ClampReading, IndicatorReading, Plane};
use std::collections::{BTreeMap, BTreeSet};

/// Longest log whose readings are looked at one by one: longer ones are written by machines.
const SEARCHED: usize = 2_000;
/// Farthest that a dial moves along a bar or while a nut is tightened without a question, mm (common practice, no source).
const MOST_MM: f64 = 1.0;
/// What a dial usually shows, mm.
const USUAL_MM: (f64, f64) = (2e-4, 0.5);
/// Readings that all lie within this share of a dial's uncertainty are read on no dial.
const UNREADABLE: f64 = 0.05;
/// Stations that all lie so near the chuck face beside readings beyond that are readings, mm.
const LIKE_READINGS_MM: f64 = 5.0;
/// Least length along a test bar, mm.
const SHORTEST_MM: f64 = 10.0;

/// A reading of a dial: its row, its station, what it read.
#[derive(Debug, Clone, Copy)]
struct Dial {
    row: u64,
    station_mm: f64,
    read_mm: f64,
}

/// Where the readings of one file stand.
pub(in crate::ingest) struct Place<'r> {
    pub(in crate::ingest) file: &'r str,
    pub(in crate::ingest) station: &'r Column,
    /// The column of readings or changes.
    pub(in crate::ingest) dial: &'r Column,
    /// Standard uncertainty of one reading, mm.
    pub(in crate::ingest) u_mm: f64,
}

/// The indicator runs of one file.
pub(in crate::ingest) fn indicator(readings: &[IndicatorReading], place: &Place<'_>, collector: &mut Collector) {
    let dial = |one: &IndicatorReading| Dial { row: one.place.row, station_mm: one.station_mm, read_mm: one.reading_mm };
    let dials: Vec<Dial> = readings.iter().map(dial).collect();
    if place.swapped(&dials, collector) || place.unreadable(&dials, collector) {
        return;
    }
    place.short(&dials, collector);
    let mut runs: BTreeMap<(u32, bool, u64), Vec<Dial>> = BTreeMap::new();
    for reading in readings {
        let key = (reading.setting, reading.plane == Plane::Top, reading.spindle_deg.to_bits());
        runs.entry(key).or_default().push(dial(reading));
    }
    let spots = |run: &[Dial]| run.iter().map(|one| Spot { at_mm: one.station_mm, read: one.read_mm, known: 0.0 }).collect::<Vec<_>>();
    let u_mm = coarser(place.u_mm, searched(&dials).iter().map(|one| one.read_mm), place.dial);
    let mut told = BTreeSet::new();
    for (key, run) in runs.iter().filter(|_| !searched(&dials).is_empty()) {
        let twins: Vec<Vec<Spot>> = runs
            .iter()
            .filter(|(other, _)| (other.0, other.1) == (key.0, key.1) && other.2 != key.2)
            .map(|(_, twin)| spots(twin))
            .collect();
        let twins: Vec<&[Spot]> = twins.iter().map(Vec::as_slice).collect();
        let Some(odd) = odd_one(&spots(run), &twins, u_mm) else { continue };
        let Some(one) = run.get(odd.index) else { continue };
        place.slip(one, odd.beside, (odd.meant, odd.what), "the places beside it say", collector);
        told.insert(one.row);
    }
    for run in runs.values() {
        let mut rest: Vec<Dial> = run.iter().filter(|one| !told.contains(&one.row)).copied().collect();
        rest.sort_by(|a, b| a.read_mm.total_cmp(&b.read_mm));
        let (Some(low), Some(high), Some(middle)) = (rest.first(), rest.last(), rest.get(rest.len() / 2)) else { continue };
        let span_mm = high.read_mm - low.read_mm;
        if span_mm > MOST_MM {
            let (odd, other) = if middle.read_mm - low.read_mm > high.read_mm - middle.read_mm { (low, high) } else { (high, low) };
            let found = format!(
                "a reading of `{}` in a run along the bar that reads {} elsewhere, {} mm apart",
                place.written(odd.read_mm),
                place.written(other.read_mm),
                shown(span_mm)
            );
            return place.far(odd, span_mm, found, "along a bar a dial moves by hundredths of a millimetre", collector);
        }
    }
}

/// What is looked at one by one: nothing of a log that is longer than [`SEARCHED`].
fn searched(dials: &[Dial]) -> &[Dial] {
    if dials.len() > SEARCHED { &[] } else { dials }
}

/// The changes of one file while the nuts were tightened.
pub(in crate::ingest) fn clamp(readings: &[ClampReading], place: &Place<'_>, collector: &mut Collector) {
    let dial = |one: &ClampReading| Dial { row: one.place.row, station_mm: one.station_mm, read_mm: one.change_mm };
    let dials: Vec<Dial> = readings.iter().map(dial).collect();
    if place.swapped(&dials, collector) || place.unreadable(&dials, collector) {
        return;
    }
    // by setting and station: the change of each foot in the feet's order; a foot that was read twice tells of no slip
    let mut stations: BTreeMap<(u32, u64), BTreeMap<_, Vec<Dial>>> = BTreeMap::new();
    for reading in readings.iter().filter(|_| !searched(&dials).is_empty()) {
        let feet = stations.entry((reading.setting, reading.station_mm.to_bits())).or_default();
        feet.entry(reading.foot).or_default().push(dial(reading));
    }
    let once: Vec<(u32, Vec<Dial>)> = stations
        .into_iter()
        .filter(|(_, feet)| feet.values().all(|changes| changes.len() == 1))
        .map(|((setting, _), feet)| (setting, feet.into_values().flatten().collect()))
        .collect();
    let u_mm = coarser(place.u_mm, searched(&dials).iter().map(|one| one.read_mm), place.dial);
    let mut told = BTreeSet::new();
    for (setting, here) in &once {
        for (_, there) in once.iter().filter(|(other, there)| other == setting && there.len() == here.len()) {
            for index in 0..here.len() {
                let (Some(one), Some(meant)) = (here.get(index), slip_beside(here, there, index, u_mm)) else { continue };
                if told.insert(one.row) {
                    place.slip(one, meant.0, (meant.0, meant.1), "the other feet say", collector);
                }
            }
        }
    }
    let far = |one: &&Dial| one.read_mm.abs() > MOST_MM && !told.contains(&one.row);
    if let Some(one) = dials.iter().find(far) {
        let found = format!("a change of `{}`, {} mm, when one nut was tightened", place.written(one.read_mm), shown(one.read_mm));
        place.far(one, one.read_mm, found, "a nut moves a lathe by thousandths or hundredths of a millimetre", collector);
    }
}

/// Fewest feet that tell a slip in one of them.
const FEET: usize = 4;
/// How far from the others' difference between two stations a slip lies, and how near with the slip taken back, in uncertainties of a reading.
const FAR: f64 = 15.0;
const NEAR: f64 = 3.0;
/// The same as shares of that difference.
const FAR_SHARE: f64 = 3.0;
const NEAR_SHARE: f64 = 0.35;

/// What the change of foot `index` at a station was without a slip of a digit, in mm, and what the slip is: between that station and another all other feet
/// agree in how their changes differ, this foot does not, and with the slip taken back it does and lies among them.
fn slip_beside(here: &[Dial], there: &[Dial], index: usize, u_mm: f64) -> Option<(f64, &'static str)> {
    let difference = |foot: usize| Some(there.get(foot)?.read_mm - here.get(foot)?.read_mm);
    let others = || (0..here.len()).filter(|foot| *foot != index);
    let mut differences: Vec<f64> = others().filter_map(difference).collect();
    differences.sort_by(f64::total_cmp);
    let middle = *differences.get(differences.len() / 2).filter(|_| here.len() >= FEET && here.len() == there.len())?;
    let near_mm = (NEAR * u_mm).max(NEAR_SHARE * middle.abs());
    let agree = |difference: &f64| (difference - middle).abs() <= near_mm;
    let own = difference(index)?;
    if !differences.iter().all(agree) || (own - middle).abs() <= (FAR * u_mm).max(FAR_SHARE * middle.abs()) {
        return None;
    }
    let changes = || others().filter_map(|foot| here.get(foot)).map(|one| one.read_mm);
    let (low, high) = (changes().fold(f64::INFINITY, f64::min) - near_mm, changes().fold(f64::NEG_INFINITY, f64::max) + near_mm);
    let (read_mm, beside) = (here.get(index)?.read_mm, there.get(index)?.read_mm);
    let slips = super::slips::SLIPS.into_iter().filter(|(_, code, _)| *code == "digit-slip");
    slips
        .map(|(times, _, what)| (read_mm / times, what))
        .find(|(meant, _)| agree(&(beside - meant)) && (low..=high).contains(meant) && !(low..=high).contains(&read_mm))
}

impl Place<'_> {
    fn say(&self, code: &'static str, row: u64, column: &Column, found: String, help: &str, collector: &mut Collector) {
        let finding = || Finding::new(code, Severity::Warning, found, help).in_file(self.file).at_row(row);
        collector.remark(|| finding().in_column(column.header.clone()));
    }

    /// A reading as its column writes it.
    fn written(&self, mm: f64) -> String {
        shown(mm / self.dial.measure.step())
    }

    fn swapped(&self, dials: &[Dial], collector: &mut Collector) -> bool {
        let like_readings = dials.iter().all(|one| one.station_mm.abs() < LIKE_READINGS_MM);
        let largest = dials.iter().map(|one| one.read_mm.abs()).fold(0.0, f64::max);
        let Some(first) = dials.first().filter(|_| like_readings && dials.len() > 1 && largest > LIKE_READINGS_MM) else { return false };
        let found = format!(
            "stations within {LIKE_READINGS_MM} mm of the chuck face under `{}` and up to {} under `{}`",
            self.station.header,
            self.written(largest),
            self.dial.header
        );
        let help = format!("the columns of station and {} look swapped: exchange their headers; they are used as logged", self.dial.name);
        self.say("swapped-columns", first.row, self.station, found, &help, collector);
        true
    }

    /// Two readings or more that are not zero, and all far below what the dial reads.
    fn unreadable(&self, dials: &[Dial], collector: &mut Collector) -> bool {
        let mut some = dials.iter().filter(|one| one.read_mm != 0.0);
        let largest = dials.iter().map(|one| one.read_mm.abs()).fold(0.0, f64::max);
        let (Some(first), Some(_)) = (some.next(), some.next()) else { return false };
        if largest >= UNREADABLE * self.u_mm {
            return false;
        }
        let found = format!(
            "at most {} under `{}`, {} mm: the dial reads to {} mm",
            self.written(largest),
            self.dial.header,
            shown(largest),
            shown(self.u_mm)
        );
        let asked = other_unit(largest, StatedIn::of(self.dial.measure.step()), USUAL_MM);
        let help = format!(
            "{asked}. If all are so write that unit in the header; if the dial showed nothing write 0, and if it reads so finely state u_mm in [gauge.indicator]; \
             they are used as logged"
        );
        self.say("unlikely-value", first.row, self.dial, found, &help, collector);
        true
    }

    fn short(&self, dials: &[Dial], collector: &mut Collector) {
        let stations = || dials.iter().map(|one| one.station_mm);
        let (near, far) = (stations().fold(f64::INFINITY, f64::min), stations().fold(f64::NEG_INFINITY, f64::max));
        let Some(first) = dials.first().filter(|_| far > near && far - near < SHORTEST_MM) else { return };
        let found = format!("stations from {} to {} mm along the test bar: hardly any length", shown(near), shown(far));
        let help = "perhaps their unit is another, or the columns are swapped: mend the header; they are used as logged";
        self.say("short-length", first.row, self.station, found, help, collector);
    }

    fn slip(&self, one: &Dial, beside_mm: f64, (meant_mm, what): (f64, &str), who: &str, collector: &mut Collector) {
        let step = self.dial.measure.step();
        let beside = shown_near(beside_mm / step, self.u_mm / step);
        let found = format!("a {} of `{}` where {who} about {beside}", self.dial.name, self.written(one.read_mm));
        let help = format!("perhaps {what}: {}; it is used as logged: mend it, or if it was read so read it again", self.written(meant_mm));
        self.say("digit-slip", one.row, self.dial, found, &help, collector);
    }

    fn far(&self, one: &Dial, size_mm: f64, found: String, usual: &str, collector: &mut Collector) {
        let asked = other_unit(size_mm.abs(), StatedIn::of(self.dial.measure.step()), USUAL_MM);
        let asked = asked.replace("Then write ", if size_mm < 0.0 { "Then it is -" } else { "Then it is " });
        let help = format!(
            "{asked}. If all are so write that unit in the header; {usual}; it is used as logged, and if it did move so nothing is to be mended"
        );
        self.say("unlikely-value", one.row, self.dial, found, &help, collector);
    }
}
