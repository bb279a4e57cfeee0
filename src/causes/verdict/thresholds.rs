//! From which size a cause matters, and what its prior alone allows.

use crate::causes::design::Design;
use crate::causes::draws::{normal_of_uniform, standard_normal};
use crate::causes::hyper::Values;
use crate::causes::posterior::spread;
use crate::causes::values::CauseKind;
use crate::trial::{Quantity, Trial};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;

/// A cause is material above this share of the taper limit.
const SHARE_OF_LIMIT: f64 = 0.2;
/// Draws of the prior for its own bound.
const PRIOR_DRAWS: usize = 300;

/// Change of diameter above which a cause is material, µm: the larger of 20 % of the taper limit scaled to the tested length and `2u` of one
/// reading.
///
/// The tightest taper limit that applies to the machine counts, scaled by [`crate::trial::Limit::scaled_to`]. Without a limit `2u` alone decides.
#[must_use]
pub fn material_threshold_um(trial: &Trial, tested_length_mm: f64) -> f64 {
    let limit = trial
        .acceptance
        .limit
        .iter()
        .filter(|l| l.quantity == Quantity::Taper && l.applies_to(trial.machine.swing_mm))
        .map(|l| l.scaled_to(Some(tested_length_mm)))
        .fold(f64::INFINITY, f64::min);
    let resolution = 2.0 * trial.gauge.diameter.u_mm;
    1000.0 * if limit.is_finite() { resolution.max(SHARE_OF_LIMIT * limit) } else { resolution }
}

/// The 97.5 % bounds of the causes' peaks in a setting under their full priors alone, µm.
pub(in crate::causes) fn prior_bounds_um(design: &Design, setting: u32, seed: u64) -> Vec<(CauseKind, f64)> {
    let Some(reference) = design.references.iter().find(|r| r.main && r.setting == setting) else {
        return CauseKind::ALL.map(|cause| (cause, f64::INFINITY)).to_vec();
    };
    let draws = prior_draws(design, seed);
    let bound = |cause| {
        let mut curve = Vec::new();
        let peaks = draws.iter().map(|(values, unknowns)| {
            reference.curve_into(cause, values, unknowns, &mut curve);
            1000.0 * spread(&curve)
        });
        quantile_975(peaks.collect())
    };
    CauseKind::ALL.map(|cause| (cause, bound(cause))).to_vec()
}

/// The 97.5 % bound of what all causes but `left_out` make together of the end difference in a setting in the way of `sign`, under their full priors alone, µm.
pub(in crate::causes) fn prior_end_bound_um(design: &Design, setting: u32, seed: u64, left_out: &[CauseKind], sign: f64) -> f64 {
    let Some(reference) = design.references.iter().find(|r| r.main && r.setting == setting) else { return f64::INFINITY };
    let others = || CauseKind::ALL.into_iter().filter(|cause| !left_out.contains(cause));
    let sum = |(values, unknowns): &(Values, Vec<f64>)| -> f64 {
        others().map(|cause| 1000.0 * sign.signum() * reference.end_difference_of(cause, values, unknowns)).sum()
    };
    quantile_975(prior_draws(design, seed).iter().map(sum).collect())
}

fn quantile_975(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get((0.975 * PRIOR_DRAWS as f64) as usize).copied().unwrap_or(f64::INFINITY)
}

/// Draws of everything unknown from its full prior.
fn prior_draws(design: &Design, seed: u64) -> Vec<(Values, Vec<f64>)> {
    let model = &design.model;
    let mut rng = ChaCha20Rng::seed_from_u64(seed);
    rng.set_stream(u64::MAX - 1);
    (0..PRIOR_DRAWS)
        .map(|_| {
            let x: Vec<f64> = (0..model.hypers.len()).map(|_| standard_normal(&mut rng)).collect();
            let unknowns = model
                .unknowns
                .iter()
                .map(|u| {
                    let z = u.sd * normal_of_uniform(rng.random::<f64>().max(1e-300));
                    if u.meaning.non_negative() { z.abs() } else { z }
                })
                .collect();
            (model.hypers.values(&x), unknowns)
        })
        .collect()
}

/// The threshold of a setting, µm.
pub(in crate::causes) fn threshold_um(trial: &Trial, design: &Design, setting: u32) -> f64 {
    let reference = design.references.iter().find(|r| r.main && r.setting == setting);
    reference.map_or(0.0, |r| material_threshold_um(trial, r.stations[r.ends.1] - r.stations[r.ends.0]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::Holding;

    /// A fifth of the tightest limit over the tested length, or twice the gauge's u where that is more.
    #[test]
    fn what_matters_is_a_fifth_of_the_tightest_limit_or_twice_the_gauge() {
        let mut trial = crate::causes::fixture::bar(Holding::Chuck);
        trial.gauge.diameter.u_mm = 0.001;
        let limit = |quantity, limit_mm| crate::trial::Limit {
            criterion: None,
            quantity,
            limit_mm,
            over_mm: Some(300.0),
            sense: crate::trial::Sense::Either,
            floor_mm: 0.001,
            clause: None,
            source: None,
            provenance: None,
            swing_from_mm: None,
            swing_to_mm: None,
        };
        let near = |found: f64, expected: f64| (found - expected).abs() < 1e-9;
        assert!(near(material_threshold_um(&trial, 150.0), 2.0));
        trial.acceptance.limit = vec![limit(Quantity::Taper, 0.06), limit(Quantity::Taper, 0.04), limit(Quantity::Barrel, 0.001)];
        assert!(near(material_threshold_um(&trial, 150.0), 4.0), "0.2 · 0.04 · 150/300");
        assert!(near(material_threshold_um(&trial, 300.0), 8.0));
        assert!(near(material_threshold_um(&trial, 60.0), 2.0), "1.6 µm are less than the gauge sees");
        // a limit for other machines does not count
        trial.machine.swing_mm = Some(200.0);
        trial.acceptance.limit[1].swing_from_mm = Some(500.0);
        assert!(near(material_threshold_um(&trial, 150.0), 6.0));
    }
}
