//! The mixed model behind taper and barrel.

use super::cut::{Cut, Pass};
use super::estimator::{Estimator, first_guess};
use super::layout::{Layout, lay_out, unit_errors};
use super::pass_tapers::{pass_tapers, plain_t};
use super::{Spread, SpreadSource};
use crate::quantities::Interval;
use crate::statistics::mixed::{Group, NoisePrior, SpreadPrior, fit_reml, integrate_spread};
use crate::trial::Direction;
use nalgebra::{Matrix2, Vector2};

/// Within-pass degrees of freedom from which the log alone says how readings scatter (common practice, no source).
pub(crate) const ENOUGH_WITHIN_DOF: f64 = 8.0;
/// Finishing passes from which the spread between them is estimated rather than integrated over its prior: this many cut one way, one more in all where
/// both ways were cut, so that passes less directions are at least four.
pub(crate) const ENOUGH_PASSES: usize = 5;
/// Half-t(3) prior of the spread, its scale twice the standard error of one pass's slope.
pub(crate) const SPREAD_PRIOR: SpreadPrior = SpreadPrior { dof: 3.0, multiple: 2.0 };

/// A contrast of the fit: its value, standard error and degrees of freedom, and the 95 % interval that follows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedContrast {
    /// Value, mm.
    pub value: f64,
    /// Standard error, mm.
    pub standard_error: f64,
    /// Degrees of freedom; `None` when there is no finite number.
    pub dof: Option<f64>,
    /// Half of the 95 % interval, mm.
    pub half_width95: f64,
    /// Share of the squared standard error that the readings' own scatter makes.
    pub within_share: f64,
}

impl FittedContrast {
    /// The 95 % interval.
    #[must_use]
    pub fn interval95(&self) -> Interval {
        Interval::about(self.value, self.half_width95)
    }
}

/// Where the noise of one reading is known from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoiseSource {
    /// From the scatter of this log.
    Log,
    /// From its scatter and the gauge's data sheet together.
    LogAndDataSheet,
    /// From the data sheet: rounding hides the scatter.
    DataSheet,
}

/// Taper and barrel of one setting with what the mixed model says of both.
#[derive(Debug, Clone)]
pub struct TaperFit {
    /// Taper, the mean of the directions.
    pub taper: FittedContrast,
    /// Barrel; `None` with two stations.
    pub barrel: Option<FittedContrast>,
    /// Taper cut to the tailstock minus taper cut to the headstock; `None` where only one direction has a taper.
    pub direction_difference: Option<FittedContrast>,
    /// Whether each direction has a barrel of its own in the model.
    pub barrel_by_direction: bool,
    /// Taper by direction, with the number of passes.
    pub by_direction: Vec<(Direction, usize, FittedContrast)>,
    /// Directions whose passes have one station each and say nothing of the taper.
    pub lost_directions: Vec<Direction>,
    /// Plain t interval of the taper; `None` without degrees of freedom.
    pub plain_t: Option<Interval>,
    /// Noise of one reading of weight 1, mm.
    pub sigma_mm: f64,
    /// Degrees of freedom of the scatter within passes.
    pub within_dof: f64,
    /// Degrees of freedom that the gauge's data sheet is worth beside the scatter; 0 where it is not used.
    pub prior_dof: f64,
    /// Origin of the noise.
    pub noise: NoiseSource,
    /// Standard deviation between passes of the taper, mm.
    pub between_pass_mm: Option<f64>,
    /// Covariance of slope and bend between passes over the variance of one reading: estimated, or of the medians of their posterior.
    pub relative_spread: Matrix2<f64>,
    /// Origin of the spread between passes.
    pub spread: Spread,
    /// Fixed coefficients per direction `(slope, bend)` and the joint covariance of slope and bend of their mean.
    pub mean_coefficients: [f64; 2],
    /// Covariance of those, on the scale of the standard errors above.
    pub mean_covariance: Matrix2<f64>,
    /// Standard error of the taper of one pass alone, `None` where a pass cannot say.
    pub pass_tapers: Vec<Option<(f64, f64)>>,
}

/// Fits the finishing cut of a setting: `y = level_p + (a₁ + b_p)P₁ + (a₂ + c_p)P₂ + e`.
///
/// Taper `2a₁` and barrel `−1.5a₂`; with two stations the bend is left out. `noise_factor` is the multiplicative standard
/// deviation of a gauge's noise about its data sheet. Returns `None` when no pass has two stations.
pub(super) fn fit_taper(cut: &Cut<'_>, noise_factor: f64) -> Option<TaperFit> {
    let full = if cut.stations.len() > 2 { 2 } else { 1 };
    let (layout, lost_directions, groups) = lay_out(cut, full).or_else(|| lay_out(cut, 1))?;
    let passes: Vec<&Pass> = cut.finishing.iter().filter(|p| layout.terms(p.direction).is_some()).collect();
    let own = groups.iter().map(Group::own_residual).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let scatter_mm = (own.1 > 0.0).then(|| (own.0 / own.1).sqrt());
    let rounding = cut.resolution_mm / 12.0_f64.sqrt();
    let all_equal = groups.iter().all(|g| g.square <= 0.0);
    let noise = match scatter_mm {
        Some(s) if s < rounding && own.1 >= 2.0 || s <= 0.0 => NoiseSource::DataSheet,
        Some(_) if own.1 >= ENOUGH_WITHIN_DOF => NoiseSource::Log,
        _ if all_equal => NoiseSource::DataSheet,
        _ => NoiseSource::LogAndDataSheet,
    };
    let prior = match noise {
        NoiseSource::Log => None,
        NoiseSource::LogAndDataSheet => Some(NoisePrior::from_factor(cut.gauge_u_mm, noise_factor)),
        NoiseSource::DataSheet => Some(NoisePrior { median: cut.gauge_u_mm, log_deviation: 0.02 }),
    };
    let unit = unit_errors(&groups, layout.columns)?;
    let replicated = passes.len().saturating_sub(layout.directions.len());
    let estimator = if replicated + 1 >= ENOUGH_PASSES {
        let sigma_mm = scatter_mm.filter(|_| prior.is_none()).unwrap_or(cut.gauge_u_mm);
        let structures = [Matrix2::new(1.0, 0.0, 0.0, 0.0), Matrix2::new(0.0, 0.0, 0.0, 1.0)];
        let start = first_guess(sigma_mm, unit);
        Estimator::Reml(Box::new(fit_reml(&groups, layout.fixed(), &structures[..layout.columns], prior, &start)?))
    } else {
        Estimator::Prior(integrate_spread(&groups, layout.fixed(), layout.columns, unit, SPREAD_PRIOR, prior)?)
    };
    let taper = estimator.contrast(&(layout.slope(None) * 2.0));
    let barrel = (layout.bends > 0).then(|| estimator.contrast(&(layout.bend() * -1.5)));
    let direction_difference =
        (layout.directions.len() > 1).then(|| estimator.contrast(&((layout.slope(Some(1)) - layout.slope(Some(0))) * 2.0)));
    let by_direction = layout
        .directions
        .iter()
        .enumerate()
        .map(|(place, &direction)| {
            let count = passes.iter().filter(|p| p.direction == direction).count();
            (direction, count, estimator.contrast(&(layout.slope(Some(place)) * 2.0)))
        })
        .collect();
    let sigma_mm = estimator.sigma();
    let pass_tapers = pass_tapers(cut, &layout, &groups, sigma_mm);
    let prior_scale_mm = 2.0 * SPREAD_PRIOR.multiple * unit[0] * sigma_mm;
    let relative_spread = match &estimator {
        Estimator::Reml(fit) => fit.random_covariance / (sigma_mm * sigma_mm),
        // a term that is not there has no spread
        Estimator::Prior(fit) => Matrix2::from_diagonal(&Vector2::from_fn(|a, _| (fit.relative_spread_median(a) * unit[a]).powi(2))),
    };
    let between_mm = 2.0 * relative_spread[(0, 0)].max(0.0).sqrt() * sigma_mm;
    let (source, between_pass_mm, prior_scale_mm) = match &estimator {
        Estimator::Reml(_) => (SpreadSource::Estimated, Some(between_mm), None),
        Estimator::Prior(_) if replicated > 0 => (SpreadSource::PriorAndPasses, Some(between_mm), Some(prior_scale_mm)),
        Estimator::Prior(_) => (SpreadSource::Prior, None, Some(prior_scale_mm)),
    };
    let spread = Spread {
        source,
        prior_scale_mm,
        between_standard_error_mm: taper.standard_error * (1.0 - taper.within_share).max(0.0).sqrt(),
        within_standard_error_mm: taper.standard_error * taper.within_share.max(0.0).sqrt(),
    };
    let (mean_coefficients, mean_covariance) = mean_curve(&layout, &estimator, &taper, barrel.as_ref());
    Some(TaperFit {
        plain_t: plain_t(&layout, &groups, &passes, own),
        taper,
        barrel,
        direction_difference,
        barrel_by_direction: layout.bends > 1,
        by_direction,
        lost_directions,
        sigma_mm,
        within_dof: own.1,
        prior_dof: prior.filter(|_| noise == NoiseSource::LogAndDataSheet).map_or(0.0, |p| p.equivalent_dof()),
        noise,
        between_pass_mm,
        relative_spread,
        spread,
        mean_coefficients,
        mean_covariance,
        pass_tapers,
    })
}

/// Slope and bend of the mean curve, and their covariance scaled to the standard errors of taper and barrel.
fn mean_curve(layout: &Layout, estimator: &Estimator, taper: &FittedContrast, barrel: Option<&FittedContrast>) -> ([f64; 2], Matrix2<f64>) {
    let (slope, bend) = (layout.slope(None), layout.bend());
    let covariance = estimator.covariance();
    let variances = (slope.dot(&(covariance * slope)), bend.dot(&(covariance * bend)));
    let product = variances.0 * variances.1;
    let correlation = if product > 0.0 { slope.dot(&(covariance * bend)) / product.sqrt() } else { 0.0 };
    let slope_error = 0.5 * taper.standard_error;
    let bend_error = barrel.map_or(0.0, |b| b.standard_error / 1.5);
    let cross = correlation * slope_error * bend_error;
    (
        [estimator.coefficients(&slope), estimator.coefficients(&bend)],
        Matrix2::new(slope_error * slope_error, cross, cross, bend_error * bend_error),
    )
}
