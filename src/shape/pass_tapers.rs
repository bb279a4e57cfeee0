//! What passes say of the taper by themselves, without the mixed model.

use super::cut::{Cut, Pass};
use super::layout::{Layout, carries_slope};
use crate::quantities::Interval;
use crate::statistics::distributions::t_quantile;
use crate::statistics::mixed::{Group, evaluate};
use nalgebra::Matrix2;

/// Taper of each finishing pass alone with its standard error.
pub(super) fn pass_tapers(cut: &Cut<'_>, layout: &Layout, groups: &[Group], sigma: f64) -> Vec<Option<(f64, f64)>> {
    let mut groups = groups.iter();
    cut.finishing
        .iter()
        .map(|pass| {
            layout.terms(pass.direction)?;
            let group = groups.next()?;
            let (rank, own) = group.own_coefficients();
            if !carries_slope(group) {
                return None;
            }
            let variance = if rank >= 2.0 { group.gram.try_inverse()?[(0, 0)] } else { group.gram[(0, 0)].recip() };
            Some((2.0 * own[0], 2.0 * sigma * variance.max(0.0).sqrt()))
        })
        .collect()
}

/// Plain t interval of the taper without any prior.
///
/// Where passes repeat: the mean of the passes' own tapers (of each direction, then of both) with their scatter. Where none
/// repeats: pooled least squares with the readings' scatter about it. `None` where that leaves no degrees of freedom.
pub(super) fn plain_t(layout: &Layout, groups: &[Group], passes: &[&Pass], own: (f64, f64)) -> Option<Interval> {
    let mut value = 0.0;
    let mut square = 0.0;
    let mut inverse_counts = 0.0;
    let mut dof = 0.0;
    let share = 1.0 / layout.directions.len() as f64;
    for &direction in &layout.directions {
        let tapers: Vec<f64> = groups
            .iter()
            .zip(passes)
            .filter(|(g, p)| p.direction == direction && g.own_coefficients().0 as usize >= layout.columns)
            .map(|(g, _)| 2.0 * g.own_coefficients().1[0])
            .collect();
        if tapers.is_empty() {
            return None;
        }
        let count = tapers.len() as f64;
        let mean = tapers.iter().sum::<f64>() / count;
        value += share * mean;
        square += tapers.iter().map(|t| (t - mean).powi(2)).sum::<f64>();
        inverse_counts += share * share / count;
        dof += count - 1.0;
    }
    if dof > 0.0 {
        let error = (square / dof * inverse_counts).sqrt();
        return Some(Interval::about(value, t_quantile(0.975, dof)? * error));
    }
    let pooled = evaluate(groups, layout.fixed(), &Matrix2::zeros())?;
    let contrast = layout.slope(None) * 2.0;
    let error = (contrast.dot(&(pooled.unscaled_covariance * contrast)) * own.0 / own.1).sqrt();
    Some(Interval::about(contrast.dot(&pooled.coefficients), t_quantile(0.975, own.1)? * error))
}
