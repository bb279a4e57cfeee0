//! The taper of a setting in every draw of the posterior, part by part, and what moving a foot does to it.

use crate::causes::{CauseKind, Posterior};
use crate::physics::moves::twist_per_gain;
use crate::shape::Shape;
use crate::statistics::LegendreRange;
use crate::statistics::distributions::normal_quantile;
use crate::trial::{Direction, Feet, Foot, Trial};
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha20Rng;
use std::collections::BTreeMap;

/// The taper of one setting in every draw.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Response {
    /// Tested length, mm.
    pub(super) length_mm: f64,
    /// Taper that each cause makes, mm, one entry a draw.
    pub(super) parts: BTreeMap<CauseKind, Vec<f64>>,
    /// Their sum: the taper as cut.
    pub(super) total: Vec<f64>,
    /// Standard uncertainty that neither readings nor draws show (rounding, zeros of gauges, stations), from the shape's budget, mm.
    pub(super) unseen_mm: f64,
    /// Standard uncertainty of the taper in a measurement like this one, mm.
    pub(super) measured_u_mm: f64,
    /// Roll arm in each draw, mm.
    pub(super) roll_arm_mm: Vec<f64>,
    /// Gain of a move in each draw; the prior's where no move was logged.
    pub(super) gain: Vec<f64>,
}

/// Weights of the taper `2a₁` of the order-2 Legendre fit to a curve at `stations` (order 1 with two): taper = Σ weight·value.
pub(super) fn taper_weights(stations: &[f64]) -> Option<Vec<f64>> {
    let range = LegendreRange::spanning(stations)?;
    let mut distinct = stations.to_vec();
    distinct.sort_by(f64::total_cmp);
    distinct.dedup();
    let design = range.design(stations, if distinct.len() > 2 { 2 } else { 1 });
    let inverse = (design.transpose() * &design).try_inverse()?;
    let rows = inverse * design.transpose();
    Some(rows.row(1).iter().map(|w| 2.0 * w).collect())
}

impl Response {
    /// The taper of the setting of `shape` as cut to the headstock (the other way where nothing else was cut); `None` where the posterior has no curve.
    pub(super) fn of(trial: &Trial, shape: &Shape, posterior: &Posterior, seed: u64) -> Option<Self> {
        let setting = shape.setting;
        let direction = [Direction::ToHeadstock, Direction::ToTailstock]
            .into_iter()
            .find(|d| posterior.cause_curve_mm(setting, *d, CauseKind::BedTwist, 0).is_some())?;
        let (stations, _) = posterior.cause_curve_mm(setting, direction, CauseKind::BedTwist, 0)?;
        let weights = taper_weights(stations)?;
        let length_mm = stations.last()? - stations.first()?;
        let mut parts = BTreeMap::new();
        let mut total = vec![0.0; posterior.len()];
        for cause in CauseKind::ALL {
            let tapers = posterior.weighted_cause_mm(setting, direction, cause, &weights)?;
            total.iter_mut().zip(&tapers).for_each(|(t, part)| *t += part);
            parts.insert(cause, tapers);
        }
        if total.iter().any(|t| !t.is_finite()) {
            return None;
        }
        let taper = &shape.taper;
        let unseen = shape.beyond_draws_mm();
        let gain = if posterior.move_gain.is_empty() {
            prior_gain(trial.prior.move_gain, trial.prior.move_gain_factor, posterior.len(), seed)
        } else {
            posterior.move_gain.clone()
        };
        Some(Self {
            length_mm,
            parts,
            total,
            unseen_mm: if unseen.is_finite() { unseen } else { 0.0 },
            measured_u_mm: if taper.standard_uncertainty.is_finite() { taper.standard_uncertainty } else { 0.0 },
            roll_arm_mm: posterior.roll_arm_mm.clone(),
            gain,
        })
    }

    /// Taper that one millimetre of raise of `foot` adds in each draw, mm: `2hG·(±10⁶/(bL_f))·length/10⁶`; `None` when the feet have no size.
    pub(super) fn per_mm_of(&self, foot: Foot, feet: &Feet) -> Option<Vec<f64>> {
        let twist = twist_per_gain(foot, 1.0, feet)?;
        Some(self.per_twist().iter().zip(&self.gain).map(|(per_twist, gain)| per_twist * gain * twist).collect())
    }

    /// Taper that one (mm/m)/m of twist adds in each draw, mm: `2h·length/10⁶` (a bar held in the chuck alone).
    pub(super) fn per_twist(&self) -> Vec<f64> {
        self.roll_arm_mm.iter().map(|arm| 2.0 * arm * self.length_mm / 1e6).collect()
    }

    /// The taper without what `others` make of it.
    pub(super) fn without(&self, others: &[CauseKind]) -> Vec<f64> {
        let mut rest = self.total.clone();
        for part in others.iter().filter_map(|cause| self.parts.get(cause)) {
            rest.iter_mut().zip(part).for_each(|(r, p)| *r -= p);
        }
        rest
    }
}

/// The log-normal prior of the gain in `draws` equally likely parts, in random order.
fn prior_gain(median: f64, factor: f64, draws: usize, seed: u64) -> Vec<f64> {
    let mut gain: Vec<f64> =
        (0..draws).map(|i| normal_quantile((i as f64 + 0.5) / draws as f64).map_or(median, |z| median * factor.max(1.0).powf(z))).collect();
    gain.shuffle(&mut ChaCha20Rng::seed_from_u64(seed));
    gain
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A straight line's taper is its slope times the length, whatever bow lies on it; with two stations it is the difference.
    #[test]
    fn taper_of_a_line_with_a_bow() {
        let stations = [10.0, 30.0, 80.0, 140.0, 200.0];
        let weights = taper_weights(&stations).unwrap();
        let taper = |curve: &dyn Fn(f64) -> f64| stations.iter().zip(&weights).map(|(z, w)| curve(*z) * w).sum::<f64>();
        assert!((taper(&|z| 3.0 + 1e-4 * z) - 0.019).abs() < 1e-12);
        assert!((taper(&|z| 1e-4 * z + 2e-6 * (z - 105.0) * (z - 105.0)) - 0.019).abs() < 1e-12);
        let two = taper_weights(&[0.0, 100.0]).unwrap();
        assert!((two[0] + 1.0).abs() < 1e-12 && (two[1] - 1.0).abs() < 1e-12);
        assert!(taper_weights(&[50.0, 50.0]).is_none());
    }

    #[test]
    fn the_prior_of_the_gain_has_its_quantiles() {
        let mut gain = prior_gain(0.8, 1.5, 4000, 1);
        assert_ne!(gain[0], gain.iter().copied().fold(f64::INFINITY, f64::min), "shuffled");
        gain.sort_by(f64::total_cmp);
        assert!((gain[2000] - 0.8).abs() < 1e-3);
        assert!((gain[(4000.0 * 0.841_345) as usize] - 1.2).abs() < 3e-3);
    }
}
