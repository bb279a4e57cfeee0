//! How readings scatter about the true diameters of their stations, and passes about their mean, whatever the bar's shape.

use super::profile::{Common, Means, Noise, weighted};
use crate::shape::{ENOUGH_PASSES, ENOUGH_WITHIN_DOF, SPREAD_PRIOR};
use crate::statistics::mixed::{Coefficients, Group, NoisePrior, Row, Terms, fit_reml, integrate_spread};
use nalgebra::{DMatrix, DVector, Matrix2};

/// A reading of a pass: place scaled to −1 … 1, index of its station, diameter less the pass's level, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    pub(super) at: f64,
    pub(super) station: usize,
    pub(super) deviation_mm: f64,
}

/// Noise of one reading and the spread of slope and bend that passes leave in their mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scatter {
    pub(super) noise: Noise,
    /// Without the part that no reading shows.
    pub(super) common: Common,
}

/// What is known of one reading's noise before the readings, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gauge {
    pub(super) u_mm: f64,
    pub(super) resolution_mm: f64,
    pub(super) noise_factor: f64,
}

/// The mixed model `y = f_s + level_p + b_p P₁ + c_p P₂ + e` of passes in one direction, a free diameter `f_s` at each of the stations of `means`.
///
/// The taper's own fit has a quadratic for `f_s`; on a bar with a step its misfit counts as noise there, and three bands of a few µm look as uncertain as their
/// steps are large. So the misfit of the station means against the quadratic is taken out of every reading first, and its `S − 3` degrees of freedom out of the
/// passes' contrasts, in equal shares. That is exact where every pass reads the same stations equally often; elsewhere part of the misfit stays in the noise,
/// which is then stated too large. Spread of slopes and bends: as the taper's, a half-t(3) prior below five passes and restricted maximum likelihood from five up.
/// Noise: the log's own from 8 degrees of freedom, with the data sheet below that, and the data sheet's where rounding hides it.
///
/// `None` where no place was read twice, so that noise and departures cannot be told apart, or the passes carry no slope.
pub(super) fn scatter(passes: &[Vec<Reading>], means: &Means, gauge: Gauge) -> Option<Scatter> {
    let columns = if means.at.len() > 2 { 2 } else { 1 };
    let misfit = misfit(means, columns)?;
    let rows = |pass: &Vec<Reading>| -> Vec<Row> {
        let row = |r: &Reading| {
            let bend = if columns > 1 { 1.5 * r.at * r.at - 0.5 } else { 0.0 };
            ([r.at, bend], r.deviation_mm - misfit.get(r.station).copied().unwrap_or(0.0), 1.0)
        };
        pass.iter().map(row).collect()
    };
    let mut terms = Terms::zeros();
    terms[(0, 0)] = 1.0;
    terms[(1, 1)] = f64::from(u8::from(columns > 1));
    let mut groups: Vec<Group> = passes.iter().map(|pass| Group::centred(&rows(pass), terms)).filter(|g| g.gram[(0, 0)] > 1e-12).collect();
    let spent = means.at.len().saturating_sub(columns + 1) as f64 / groups.len().max(1) as f64;
    groups.iter_mut().for_each(|group| group.contrasts -= spent);
    let own = groups.iter().map(Group::own_residual).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    if own.1 < 1.0 - 1e-9 {
        return None;
    }
    let scatter_mm = (own.0 / own.1).sqrt();
    let rounding = gauge.resolution_mm / 12.0_f64.sqrt();
    let hidden = scatter_mm <= 0.0 || scatter_mm < rounding && own.1 >= 2.0;
    let sheet = NoisePrior::from_factor(gauge.u_mm, gauge.noise_factor);
    let (prior, dof) = if hidden {
        (Some(NoisePrior { log_deviation: 0.02, ..sheet }), None)
    } else if own.1 >= ENOUGH_WITHIN_DOF {
        (None, Some(own.1))
    } else {
        (Some(sheet), Some(own.1 + sheet.equivalent_dof()))
    };
    let unit = unit_errors(&groups, columns)?;
    let [slope, bend] = [0, 1].map(|place| {
        let mut contrast = Coefficients::zeros();
        contrast[place] = 1.0;
        contrast
    });
    let (sigma, slope_t, bend_t, common_dof) = if groups.len() >= ENOUGH_PASSES {
        let square = if prior.is_none() { scatter_mm * scatter_mm } else { gauge.u_mm * gauge.u_mm };
        let structures = [Matrix2::new(1.0, 0.0, 0.0, 0.0), Matrix2::new(0.0, 0.0, 0.0, 1.0)];
        let start = [square, 0.5 * square * unit[0] * unit[0], 0.5 * square * unit[1] * unit[1]];
        let fit = fit_reml(&groups, columns, structures.get(..columns)?, prior, start.get(..=columns)?)?;
        let between = |contrast: &Coefficients| {
            let (all, within) = fit.variance(contrast);
            (all - within).max(0.0).sqrt()
        };
        (fit.sigma_square.sqrt(), between(&slope), between(&bend), fit.degrees_of_freedom(&slope))
    } else {
        let fit = integrate_spread(&groups, columns, columns, unit, SPREAD_PRIOR, prior)?;
        let between = |contrast: &Coefficients| {
            let whole = fit.interval(contrast);
            (whole.standard_error * whole.standard_error - whole.within * whole.within).max(0.0).sqrt()
        };
        let bend_t = if columns > 1 { between(&bend) } else { 0.0 };
        (fit.sigma_median, between(&slope), bend_t, fit.interval(&slope).dof)
    };
    let bend_t = if columns > 1 { bend_t } else { 0.0 };
    // rounding that the scatter does not show is part of what one mean may be wrong
    let sigma = sigma.max(rounding).max(1e-7);
    let noise = Noise { sigma, dof, departures: 1.0 };
    Some(Scatter { noise, common: Common { slope_t, slope_normal: 0.0, bend_t, dof: common_dof } })
}

/// What the station means leave beside their least-squares line (one column) or parabola, mm a station.
fn misfit(means: &Means, columns: usize) -> Option<Vec<f64>> {
    let legendre = |x: f64| [1.0, x, 1.5 * x * x - 0.5];
    let design = DMatrix::from_fn(means.at.len(), columns + 1, |i, k| legendre(means.at[i])[k.min(2)]);
    let mean = DVector::from_column_slice(&means.mean);
    let variance: Vec<f64> = means.count.iter().map(|count| 1.0 / count).collect();
    let (fit, _) = weighted(&design, &mean, &variance)?;
    Some((mean - design * fit).iter().copied().collect())
}

/// Standard errors of one average pass's own slope and bend at `σ = 1`.
fn unit_errors(groups: &[Group], columns: usize) -> Option<[f64; 2]> {
    let mean = groups.iter().fold(Matrix2::zeros(), |sum: Matrix2<f64>, group| sum + group.gram) / groups.len().max(1) as f64;
    if columns < 2 {
        return (mean[(0, 0)] > 0.0).then(|| [mean[(0, 0)].sqrt().recip(), 0.0]);
    }
    let inverse = mean.try_inverse()?;
    (inverse[(0, 0)] > 0.0 && inverse[(1, 1)] > 0.0).then(|| [inverse[(0, 0)].sqrt(), inverse[(1, 1)].sqrt()])
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::*;

    /// Three passes over five stations, twice each, on a bar with a step of 30 µm: errors of a fixed pattern whose mean square is 1 µm².
    fn stepped(step_mm: f64) -> (Vec<Vec<Reading>>, Means) {
        let at = [-1.0, -0.5, 0.0, 0.5, 1.0];
        let shape = [0.0, 0.0, 0.5, 1.0, 1.0].map(|share| share * step_mm);
        let pass = || -> Vec<Reading> {
            (0..5).flat_map(|s| [0.001, -0.001].map(|e| Reading { at: at[s], station: s, deviation_mm: shape[s] + e })).collect()
        };
        let means = Means { at: at.to_vec(), mean: shape.to_vec(), count: vec![6.0; 5] };
        (vec![pass(), pass(), pass()], means)
    }

    #[test]
    fn a_step_is_no_noise() {
        let gauge = Gauge { u_mm: 0.0015, resolution_mm: 0.0001, noise_factor: 1.5 };
        let plain = scatter(&stepped(0.0).0, &stepped(0.0).1, gauge).unwrap();
        let step = scatter(&stepped(0.03).0, &stepped(0.03).1, gauge).unwrap();
        assert!((plain.noise.sigma - step.noise.sigma).abs() < 1e-9 && (plain.common.bend_t - step.common.bend_t).abs() < 1e-9);
        // 30 readings less 3 levels, 3 slopes, 3 bends and 2 further shapes of the stations
        assert!((step.noise.dof.unwrap() - 19.0).abs() < 1e-9);
        assert!((0.0009..0.0014).contains(&step.noise.sigma), "{}", step.noise.sigma);
    }

    #[test]
    fn single_readings_tell_no_scatter() {
        let (passes, means) = stepped(0.03);
        let single: Vec<Vec<Reading>> = vec![passes[0].iter().copied().step_by(2).collect()];
        assert_eq!(scatter(&single, &means, Gauge { u_mm: 0.001, resolution_mm: 0.001, noise_factor: 1.5 }), None);
    }
}
