//! One reading along the bed that those beside it contradict: a bed and a ground bar are smooth, a slip of a digit is not.

use super::super::header::columns::Column;
use super::super::numbers::decimals;
use super::super::settings::shown;
use super::slips::SLIPS;

/// Longest series that is looked through: longer ones are written by machines.
const LONGEST: usize = 200;
/// Fewest places that tell a slip among them.
const PLACES: usize = 4;
/// How far a slip lies from what the others say, in their largest own departure or the gauge's uncertainty.
const FAR: f64 = 8.0;
/// How near it lies to it once the slip is taken back.
const NEAR: f64 = 2.0;
/// A reading of the same place that departs the same way, by this share or more, shows that the place is so.
const SAME: f64 = 1.0 / 3.0;
/// Beyond so many times the way between the two nearest places nothing is drawn out.
const REACH: f64 = 2.0;

/// A reading along the bed: its place in mm, what was read there, and what of it is known otherwise (a reference).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::ingest) struct Spot {
    pub(in crate::ingest) at_mm: f64,
    pub(in crate::ingest) read: f64,
    pub(in crate::ingest) known: f64,
}

impl Spot {
    fn value(self) -> f64 {
        self.read - self.known
    }
}

/// A reading that a slip explains.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::ingest) struct Odd {
    /// Which of the series it is.
    pub(in crate::ingest) index: usize,
    /// What those beside it say, and what it was without the slip, both as readings.
    pub(in crate::ingest) beside: f64,
    pub(in crate::ingest) meant: f64,
    /// What the slip is.
    pub(in crate::ingest) what: &'static str,
}

/// What a reading is expected to be from others of its series, and by how much more than theirs its departure scatters.
struct Expected {
    value: f64,
    spread: f64,
}

/// The value at the place of `index` by the places beside it, without itself and `without`: readings of the same place, else the line through the two places
/// around it, at an end through the two nearest.
fn expected(series: &[Spot], index: usize, without: Option<usize>) -> Option<Expected> {
    let here = series.get(index)?;
    let others = || series.iter().enumerate().filter(|(other, _)| *other != index && Some(*other) != without).map(|(_, spot)| *spot);
    let same: Vec<f64> = others().filter(|spot| spot.at_mm == here.at_mm).map(Spot::value).collect();
    if !same.is_empty() {
        let count = same.len() as f64;
        return Some(Expected { value: same.iter().sum::<f64>() / count, spread: (1.0 + 1.0 / count).sqrt() });
    }
    let below = others().filter(|spot| spot.at_mm < here.at_mm).max_by(|a, b| a.at_mm.total_cmp(&b.at_mm));
    let above = others().filter(|spot| spot.at_mm > here.at_mm).min_by(|a, b| a.at_mm.total_cmp(&b.at_mm));
    let line = |near: Spot, far: Spot| {
        let share = (here.at_mm - near.at_mm) / (far.at_mm - near.at_mm);
        let share = if share < -REACH { 0.0 } else { share };
        let value = near.value() + share * (far.value() - near.value());
        Expected { value, spread: (1.0 + (1.0 - share).powi(2) + share.powi(2)).sqrt() }
    };
    match (below, above) {
        (Some(below), Some(above)) => Some(line(below, above)),
        (Some(near), None) => {
            let far = others().filter(|spot| spot.at_mm < near.at_mm).max_by(|a, b| a.at_mm.total_cmp(&b.at_mm))?;
            Some(line(near, far))
        }
        (None, Some(near)) => {
            let far = others().filter(|spot| spot.at_mm > near.at_mm).min_by(|a, b| a.at_mm.total_cmp(&b.at_mm))?;
            Some(line(near, far))
        }
        (None, None) => None,
    }
}

/// The uncertainty that tells slips of a column: the gauge's, or half a step of the finest reading where that is more.
pub(in crate::ingest) fn coarser(u: f64, readings: impl Iterator<Item = f64>, column: &Column) -> f64 {
    let step = column.measure.step();
    let digits = readings.filter_map(|reading| decimals(&shown(reading / step))).max().unwrap_or(0);
    u.max(0.5 * step * 10_f64.powf(-f64::from(digits)))
}

/// The one reading of a series that stands out from what the others say and, with a slip of a digit or a sign taken back, does not. `u` is the standard
/// uncertainty of a reading, `twins` the readings of the same places with the gauge the other way: where they depart as well the bed is so. `None` below four
/// places.
pub(in crate::ingest) fn odd_one(series: &[Spot], twins: &[&[Spot]], u: f64) -> Option<Odd> {
    if series.len() > LONGEST || twins.iter().any(|twins| twins.len() > LONGEST) {
        return None;
    }
    let mut places: Vec<f64> = series.iter().map(|spot| spot.at_mm).collect();
    places.sort_by(f64::total_cmp);
    places.dedup();
    if places.len() < PLACES {
        return None;
    }
    (0..series.len()).filter_map(|index| odd_at(series, twins, u, index)).max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, odd)| odd)
}

/// The reading `index`, where it is such a one, and how far it stands out.
fn odd_at(series: &[Spot], twins: &[&[Spot]], u: f64, index: usize) -> Option<(f64, Odd)> {
    let spot = *series.get(index)?;
    let expect = expected(series, index, None)?;
    let off = spot.value() - expect.value;
    if off.abs() <= FAR * expect.spread * u {
        return None;
    }
    let departure = |other: usize| {
        let expect = expected(series, other, Some(index))?;
        Some((series.get(other)?.value() - expect.value).abs() / expect.spread)
    };
    let largest = (0..series.len()).filter(|other| *other != index).filter_map(departure).fold(u, f64::max);
    let scale = expect.spread * largest;
    let departs_too = |twins: &[Spot], twin: usize| {
        let depart = expected(twins, twin, None).zip(twins.get(twin)).map(|(expect, twin)| twin.value() - expect.value);
        depart.is_some_and(|depart| depart * off.signum() > SAME * off.abs())
    };
    let is_so = |twins: &&[Spot]| {
        (0..twins.len()).any(|twin| twins.get(twin).is_some_and(|twin| twin.at_mm == spot.at_mm) && departs_too(twins, twin))
    };
    if off.abs() <= FAR * scale || twins.iter().any(is_so) {
        return None;
    }
    let sign = (-1.0, "a minus sign too many or too few");
    let slips = SLIPS.into_iter().filter(|(_, code, _)| *code == "digit-slip").map(|(times, _, what)| (times, what)).chain([sign]);
    let (meant, what) = slips
        .map(|(times, what)| (spot.read / times, what))
        .find(|(meant, _)| (meant - spot.known - expect.value).abs() <= NEAR * scale)?;
    Some((off.abs() / scale, Odd { index, beside: expect.value + spot.known, meant, what }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(read: &[f64]) -> Vec<Spot> {
        read.iter().zip(0_u32..).map(|(read, place)| Spot { at_mm: 40.0 + 80.0 * f64::from(place), read: *read, known: 0.0 }).collect()
    }

    fn meant(read: &[f64], twins: &[f64]) -> Option<(usize, f64)> {
        odd_one(&series(read), &[&series(twins)], 0.008).map(|odd| (odd.index, (odd.meant * 1e6).round() / 1e6))
    }

    #[test]
    fn a_slip_stands_out_of_a_smooth_bed() {
        assert_eq!(meant(&[0.057, 0.95, 0.134, 0.177, 0.204, 0.245], &[]), Some((1, 0.095)));
        assert_eq!(meant(&[0.57, 0.095, 0.134, 0.177, 0.204, 0.245], &[]), Some((0, 0.057)));
        assert_eq!(meant(&[0.057, 0.095, 0.134, 0.177, 0.204, 24.5], &[]), Some((5, 0.245)));
        assert_eq!(meant(&[0.057, -0.095, 0.134, 0.177, 0.204, 0.245], &[]), Some((1, 0.095)));
        assert_eq!(meant(&[0.157, 0.195, 0.0234, 0.277, 0.304, 0.345], &[]), Some((2, 0.234)));
        // the other way round the level shows no step there
        let steady = [-0.005, 0.039, 0.069, 0.113, 0.169, 0.188];
        assert_eq!(meant(&[0.057, 0.95, 0.134, 0.177, 0.204, 0.245], &steady), Some((1, 0.095)));
    }

    #[test]
    fn an_honest_bed_is_left_alone() {
        for honest in [
            &[0.057, 0.095, 0.134, 0.177, 0.204, 0.245][..],
            &[0.103, 0.080, 0.065, 0.054, 0.033, 0.029, 0.018, 0.040],
            &[0.2, 0.05, 0.0, 0.05, 0.2],
            &[0.057, 0.95, 0.134],
            &[0.0, 0.0, 0.0, 0.0, 0.02],
            &[],
        ] {
            assert_eq!(meant(honest, &[]), None, "{honest:?}");
        }
        // a worn place shows both ways
        let worn = [-0.005, 0.90, 0.069, 0.113, 0.169, 0.188];
        assert_eq!(meant(&[0.057, 0.95, 0.134, 0.177, 0.204, 0.245], &worn), None);
    }
}
