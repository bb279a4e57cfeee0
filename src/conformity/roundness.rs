//! Roundness as two-point diameters see it: the spread of diameter over the angle at the station nearest the headstock.

use super::Knowledge;
use super::measured::{Known, Measured};
use super::profile::{Common, Means, Noise, draw_profiles, generator, range};
use crate::quantities::Told;
use crate::shape::Shape;
use crate::statistics::mixed::NoisePrior;
use crate::trial::{DiameterReading, Direction, Trial};
use std::collections::{BTreeMap, BTreeSet};

/// Scale of the prior of departures from a circle, in standard deviations of a reading: an oval is no curve to be drawn smooth, and a narrow prior
/// would take the edge off one that lies just outside its limit (own choice, no source).
const OUT_OF_ROUND: f64 = 5.0;

/// What is always said with it.
pub(super) const CAUTION: &str = "Diameters between two points cannot see odd lobes: a bar with three or five lobes reads the same all round. A dial \
    indicator on the turning bar, or a roundness instrument, would tell.";

const WHAT_TELLS: &str = "No station was read at several angles: turn the bar and read one station near the chuck at four angles or more (column \
    angle_deg), half a turn counting as the same place.";

/// Diameters at one station by pass and place.
type ByPass = BTreeMap<u32, BTreeMap<i64, Vec<f64>>>;

/// Hundredths of a degree, half a turn being the same diameter: places that are told apart.
fn place(angle_deg: f64) -> i64 {
    (100.0 * angle_deg.rem_euclid(180.0)).round() as i64 % 18_000
}

/// The largest difference of true diameters over the angles read at the station nearest the headstock that was read at two angles or more.
///
/// Readings of one pass and gauge count against their mean there: unlike gauges need not agree in their zero, so that those of the gauge that read most angles are used. Noise of one reading: the gauge's data sheet together with the scatter of readings
/// repeated at one angle.
pub(super) fn roundness(trial: &Trial, shape: &Shape, seed: u64) -> Measured {
    let log = &trial.diameters;
    let in_shape: BTreeSet<(u32, Direction)> = shape.pass_summaries.iter().filter(|p| p.in_shape).map(|p| (p.pass, p.direction)).collect();
    let finishing = |row: &usize| {
        let cut = log.cut(*row);
        log.is_used(*row) && cut.setting == shape.setting && in_shape.contains(&(cut.pass, cut.direction))
    };
    let turned: Vec<(DiameterReading, i64)> = (0..log.len())
        .filter_map(|row| log.angle_deg(row).map(|angle| (row, place(angle))))
        .filter(|(row, _)| finishing(row))
        .filter_map(|(row, angle)| log.get(row).map(|reading| (reading, angle)))
        .collect();
    let mut stations: Vec<f64> = turned.iter().map(|(r, _)| r.station_mm).collect();
    stations.sort_by(f64::total_cmp);
    stations.dedup();
    for station in stations {
        let here: Vec<&(DiameterReading, i64)> = turned.iter().filter(|(r, _)| r.station_mm == station).collect();
        let mut by_gauge: BTreeMap<Option<&str>, ByPass> = BTreeMap::new();
        for (reading, angle) in &here {
            let by_pass = by_gauge.entry(reading.gauge.as_deref()).or_default();
            by_pass.entry(reading.pass).or_default().entry(*angle).or_default().push(reading.diameter_mm);
        }
        let angles_of = |by_pass: &ByPass| by_pass.values().map(|p| p.keys().copied().collect::<Vec<i64>>()).max_by_key(Vec::len);
        let found = by_gauge.into_iter().filter_map(|(gauge, by_pass)| Some((gauge, angles_of(&by_pass)?, by_pass)));
        let Some((gauge, angles, mut by_pass)) = found.max_by_key(|(_, angles, _)| angles.len()).filter(|(_, a, _)| a.len() > 1) else {
            continue;
        };
        // passes that were read at every angle, so that a pass's own size does not look like an angle
        by_pass.retain(|_, read| angles.iter().all(|angle| read.contains_key(angle)));
        return judged(trial, shape, station, &angles, &by_pass, gauge, seed);
    }
    Measured::Unknown(format!("{WHAT_TELLS} {CAUTION}"))
}

fn judged(trial: &Trial, shape: &Shape, station_mm: f64, angles: &[i64], by_pass: &ByPass, gauge: Option<&str>, seed: u64) -> Measured {
    let gauge = trial.gauge.diameter_gauge(gauge);
    let prior = NoisePrior::from_factor(gauge.u_mm.hypot(gauge.resolution_mm / 12.0_f64.sqrt()), trial.prior.gauge_noise_factor);
    let (mut squares, mut repeated) = (0.0, 0.0);
    let mut sums = vec![(0.0, 0.0); angles.len()];
    for read in by_pass.values() {
        let mean_of = |values: &Vec<f64>| values.iter().sum::<f64>() / values.len().max(1) as f64;
        let level = angles.iter().filter_map(|a| read.get(a)).map(mean_of).sum::<f64>() / angles.len() as f64;
        for (sum, values) in sums.iter_mut().zip(angles.iter().filter_map(|a| read.get(a))) {
            let mean = mean_of(values);
            squares += values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
            repeated += values.len() as f64 - 1.0;
            sum.0 += (mean - level) * values.len() as f64;
            sum.1 += values.len() as f64;
        }
    }
    let dof = prior.equivalent_dof() + repeated;
    let sigma = ((prior.equivalent_dof() * prior.median * prior.median + squares) / dof).sqrt();
    let last = (angles.len() - 1).max(1) as f64;
    let means = Means {
        at: (0..angles.len()).map(|i| 2.0 * i as f64 / last - 1.0).collect(),
        mean: sums.iter().map(|(sum, count)| sum / count.max(1.0)).collect(),
        count: sums.iter().map(|(_, count)| count.max(1.0)).collect(),
    };
    let mut rng = generator(seed, shape.setting, 2);
    let drawn = draw_profiles(&means, 0, Noise { sigma, dof: Some(dof), departures: OUT_OF_ROUND }, Common::default(), &mut rng);
    let knowledge = drawn.and_then(|draws| Knowledge::of_draws(draws.iter().map(|profile| range(profile)).collect()));
    match knowledge {
        Some(knowledge) => {
            let few = if angles.len() < 4 { " Fewer than four angles: what lies between them is not seen." } else { "" };
            let note = format!(
                "Largest difference of diameter over {} angles at {}, the station nearest the chuck that one gauge read so.{few} {CAUTION}",
                angles.len(),
                Told::length(station_mm)
            );
            Measured::Known(Known { knowledge, length_mm: None, shrinks: None, note })
        }
        None => Measured::Unknown(format!("{WHAT_TELLS} {CAUTION}")),
    }
}
