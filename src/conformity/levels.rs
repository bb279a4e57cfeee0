//! Variation of the transverse level along the bed, from the level's own readings.

use super::Knowledge;
use super::measured::{Known, Measured};
use super::profile::{Common, Means, Noise, draw_profiles, generator, range};
use crate::quantities::Told;
use crate::statistics::LegendreRange;
use crate::statistics::mixed::NoisePrior;
use crate::trial::Trial;
use std::collections::BTreeMap;

const WHAT_TELLS: &str = "A level across the ways, or on the carriage, read at three places or more along the bed would tell.";

/// The largest difference of true roll over the places where the level was read in `setting`, mm/m.
///
/// Straight twist with departures, by [`draw_profiles`]; noise from the data sheet together with readings repeated at one place. The level's own
/// zero cancels: where it was read both ways it is taken out, where it was read one way it is common.
pub(super) fn variation(trial: &Trial, setting: u32, seed: u64) -> Measured {
    let mut places: BTreeMap<i64, [Vec<f64>; 2]> = BTreeMap::new();
    for reading in trial.levels.iter().filter(|r| r.setting == setting) {
        let roll = reading.roll_mm_per_m - reading.reference_roll_mm_per_m.unwrap_or(0.0);
        let place = (1e4 * reading.station_mm).round() as i64;
        places.entry(place).or_default()[usize::from(reading.reversed)].push(roll);
    }
    if places.len() < 2 {
        return Measured::Unknown(format!("No level was read at two places of the bed in this setting. {WHAT_TELLS}"));
    }
    let mean = |values: &Vec<f64>| values.iter().sum::<f64>() / values.len().max(1) as f64;
    let both: Vec<f64> = places
        .values()
        .filter(|[plain, turned]| !plain.is_empty() && !turned.is_empty())
        .map(|[plain, turned]| 0.5 * (mean(plain) - mean(turned)))
        .collect();
    let one_way = |turned: usize| places.values().all(|sides| sides[1 - turned].is_empty());
    if both.is_empty() && !one_way(0) && !one_way(1) {
        return Measured::Unknown("The level was turned end for end between places, and read both ways at none: its zero error cannot be told from the roll. Read it both ways at one place.".to_owned());
    }
    let zero = if both.is_empty() { 0.0 } else { mean(&both) };
    let prior = NoisePrior::from_factor(trial.gauge.level.u_mm_per_m, trial.prior.gauge_noise_factor);
    let (mut squares, mut repeated) = (0.0, -f64::from(u8::from(!both.is_empty())));
    let mut means = Means { at: Vec::new(), mean: Vec::new(), count: Vec::new() };
    let stations: Vec<f64> = places.keys().map(|place| *place as f64 / 1e4).collect();
    let Some(span) = LegendreRange::spanning(&stations) else { return Measured::Unknown(WHAT_TELLS.to_owned()) };
    for (station, [plain, turned]) in stations.iter().zip(places.values()) {
        let here: Vec<f64> = plain.iter().map(|v| v - zero).chain(turned.iter().map(|v| v + zero)).collect();
        let middle = mean(&here);
        squares += here.iter().map(|v| (v - middle).powi(2)).sum::<f64>();
        repeated += here.len() as f64 - 1.0;
        means.at.push(span.scaled(*station));
        means.mean.push(middle);
        means.count.push(here.len() as f64);
    }
    let dof = prior.equivalent_dof() + repeated.max(0.0);
    let sigma = ((prior.equivalent_dof() * prior.median * prior.median + squares) / dof).sqrt();
    let mut rng = generator(seed, setting, 5);
    let drawn = draw_profiles(&means, 1, Noise { sigma, dof: Some(dof), departures: 1.0 }, Common::default(), &mut rng);
    let Some(knowledge) = drawn.and_then(|draws| Knowledge::of_draws(draws.iter().map(|profile| range(profile)).collect())) else {
        return Measured::Unknown(WHAT_TELLS.to_owned());
    };
    let reference = trial.levels.iter().any(|r| r.setting == setting && r.reference_roll_mm_per_m.is_some());
    let mut note = format!(
        "Largest difference of roll over {} places from {} to {} along the bed.",
        places.len(),
        Told::length(span.from()),
        Told::length(span.to())
    );
    if !reference {
        note.push_str(
            " No second level stood on the headstock: a machine that tilts as a whole under the moving carriage looks like twist.",
        );
    }
    Measured::Known(Known { knowledge, length_mm: Some(span.to() - span.from()), shrinks: None, note })
}
