//! Passes of one setting whose tapers lie further apart than their readings explain.

use super::cut::Cut;
use super::taper_fit::{NoiseSource, TaperFit};
use crate::statistics::distributions::f_sf;
use crate::statistics::{BetweenVariance, combine};
use crate::trial::{Direction, Quantity, Trial};

/// Tail probability below which passes are called unlike: rarer than any check of the page, because one look at every log that is in order must
/// seldom cry out.
const RARE: f64 = 0.001;
/// Share of the taper limit from which a difference matters, as for causes.
const SHARE_OF_LIMIT: f64 = 0.2;

/// Passes of one direction that differ in taper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct UnlikePasses {
    /// Direction of cut.
    pub direction: Direction,
    /// Largest taper less the smallest, mm.
    pub range_mm: f64,
    /// Largest standard error of one of them, mm.
    pub standard_error_mm: f64,
    /// Tail probability.
    pub p: f64,
}

/// Whether the tapers `t_i ± s_i` of `k` passes are one taper: `F = Σ((t_i − t̄)/s_i)²/(k − 1)` with `t̄` weighted by `1/s_i²`.
///
/// `k − 1` and `noise_dof` degrees of freedom; with `None`, the noise being that of the data sheet, chi-square (the test of homogeneity of Cochran, 1954). Returns the tail probability; `None` with fewer than two passes or a standard error that is no number above 0.
///
/// Example: tapers 0 and 4 with standard error 1 each: `F = 8`, with chi-square on one degree of freedom p = 0.0047.
fn homogeneity(tapers: &[(f64, f64)], noise_dof: Option<f64>) -> Option<f64> {
    let combined = combine(tapers, BetweenVariance::Common)?;
    match noise_dof {
        Some(dof) => f_sf(combined.birge_ratio.powi(2), combined.count as f64 - 1.0, dof),
        None => Some(combined.q_p),
    }
}

/// The direction whose passes differ most surely, where that is rarer than [`RARE`] and the largest taper less the smallest matters: it exceeds
/// a fifth of the tightest taper limit over the tested length, `2u` of one reading, and two steps of the gauge, by which rounding alone may part two passes.
pub(super) fn unlike_passes(trial: &Trial, cut: &Cut<'_>, fit: &TaperFit) -> Option<UnlikePasses> {
    let limits =
        trial.acceptance.limit.iter().filter(|limit| limit.quantity == Quantity::Taper && limit.applies_to(trial.machine.swing_mm));
    let limit = limits.map(|limit| SHARE_OF_LIMIT * limit.scaled_to(Some(cut.tested.length))).fold(f64::INFINITY, f64::min);
    let least = (2.0 * cut.gauge_u_mm).max(2.0 * cut.resolution_mm).max(if limit.is_finite() { limit } else { 0.0 });
    let noise_dof = (fit.noise != NoiseSource::DataSheet).then_some(fit.within_dof + fit.prior_dof);
    let of_direction = |direction: Direction| {
        let own = cut.finishing.iter().zip(&fit.pass_tapers).filter(|(pass, _)| pass.direction == direction);
        let tapers: Vec<(f64, f64)> = own.filter_map(|(_, taper)| *taper).collect();
        let p = homogeneity(&tapers, noise_dof)?;
        let largest = tapers.iter().map(|(taper, _)| *taper).fold(f64::NEG_INFINITY, f64::max);
        let smallest = tapers.iter().map(|(taper, _)| *taper).fold(f64::INFINITY, f64::min);
        let standard_error_mm = tapers.iter().map(|(_, error)| *error).fold(0.0, f64::max);
        Some(UnlikePasses { direction, range_mm: largest - smallest, standard_error_mm, p })
    };
    let both = [Direction::ToHeadstock, Direction::ToTailstock].into_iter().filter_map(of_direction);
    both.filter(|each| each.p < RARE && each.range_mm > least).min_by(|a, b| a.p.total_cmp(&b.p))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tapers_are_one_or_not() {
        // (0 − 4)²/2 = 8: the normal two-sided tail at √8 is 0.004678
        let p = |tapers: &[(f64, f64)], dof| homogeneity(tapers, dof).unwrap_or(f64::NAN);
        assert!((p(&[(0.0, 1.0), (4.0, 1.0)], None) - 0.004_678).abs() < 1e-6);
        // F(1, 10) = 8 is t(10) = √8, two-sided: 0.017_9
        assert!((p(&[(0.0, 1.0), (4.0, 1.0)], Some(10.0)) - 0.0179).abs() < 1e-4);
        // a weighted mean: (0, 1) and (3, 2) have t̄ = 0.6, 0.36 + 1.44 = 1.8
        assert!((p(&[(0.0, 1.0), (3.0, 2.0)], None) - 0.179_7).abs() < 1e-4);
        assert!(p(&[(2.0, 1.0), (2.0, 1.0), (2.0, 3.0)], Some(9.0)) > 0.999);
        assert_eq!(homogeneity(&[(0.0, 1.0)], None), None);
        assert_eq!(homogeneity(&[(0.0, 1.0), (1.0, 0.0)], None), None);
    }
}
