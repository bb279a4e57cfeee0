//! The mixed model behind taper and barrel.

use super::cut::{Cut, Pass};
use super::{Spread, SpreadSource};
use crate::quantities::Interval;
use crate::statistics::distributions::{coverage_factor95, t_quantile};
use crate::statistics::mixed::{
    CentralInterval, Coefficients, FixedCovariance, Group, NoisePrior, RemlFit, Repeated, SpreadPosterior, SpreadPrior, Terms, evaluate,
    fit_reml, integrate_spread,
};
use crate::trial::Direction;
use nalgebra::Matrix2;

/// Within-pass degrees of freedom from which the log alone says how readings scatter (common practice, no source).
pub(crate) const ENOUGH_WITHIN_DOF: f64 = 8.0;
/// Passes of one direction from which the spread between them is estimated rather than integrated over its prior.
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
    /// Origin of the spread between passes.
    pub spread: Spread,
    /// Fixed coefficients per direction `(slope, bend)` and the joint covariance of slope and bend of their mean.
    pub mean_coefficients: [f64; 2],
    /// Covariance of those, on the scale of the standard errors above.
    pub mean_covariance: Matrix2<f64>,
    /// Standard error of the taper of one pass alone, `None` where a pass cannot say.
    pub pass_tapers: Vec<Option<(f64, f64)>>,
}

/// How the fixed coefficients are laid out.
struct Layout {
    directions: Vec<Direction>,
    bends: usize,
    columns: usize,
}

impl Layout {
    fn fixed(&self) -> usize {
        self.directions.len() + self.bends
    }

    fn terms(&self, direction: Direction) -> Option<Terms> {
        let place = self.directions.iter().position(|&d| d == direction)?;
        let mut terms = Terms::zeros();
        terms[(0, place)] = 1.0;
        match self.bends {
            0 => {}
            1 => terms[(1, self.directions.len())] = 1.0,
            _ => terms[(1, self.directions.len() + place)] = 1.0,
        }
        Some(terms)
    }

    fn slope(&self, direction: Option<usize>) -> Coefficients {
        let mut contrast = Coefficients::zeros();
        let count = self.directions.len();
        for place in 0..count {
            if direction.is_none_or(|d| d == place) {
                contrast[place] = if direction.is_some() { 1.0 } else { 1.0 / count as f64 };
            }
        }
        contrast
    }

    fn bend(&self) -> Coefficients {
        let mut contrast = Coefficients::zeros();
        for place in 0..self.bends {
            contrast[self.directions.len() + place] = 1.0 / self.bends as f64;
        }
        contrast
    }
}

/// The runs of a pass, diameters relative to the cut's origin; Legendre `P₁ = x`, `P₂ = (3x² − 1)/2`.
fn rows(cut: &Cut<'_>, pass: &Pass, columns: usize) -> Vec<Repeated> {
    let sums = cut.sums();
    let row = |run: usize| {
        let (place, weight, count) = (cut.place(run), cut.weight(run), cut.of_run(run).len() as f64);
        let bend = if columns > 1 { 1.5 * place.x * place.x - 0.5 } else { 0.0 };
        Repeated { z: [place.x, bend], mean: sums.mean(run), weight: weight * count, count, square: weight * sums.square(run) }
    };
    pass.runs.clone().map(row).collect()
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
        let sigma_square = match (prior, scatter_mm) {
            (None, Some(s)) => s * s,
            _ => cut.gauge_u_mm * cut.gauge_u_mm,
        };
        let structures = [Matrix2::new(1.0, 0.0, 0.0, 0.0), Matrix2::new(0.0, 0.0, 0.0, 1.0)];
        let start = [sigma_square, 0.5 * sigma_square * unit[0] * unit[0], 0.5 * sigma_square * unit[1] * unit[1]];
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
    let (source, between_pass_mm, prior_scale_mm) = match &estimator {
        Estimator::Reml(fit) => (SpreadSource::Estimated, Some(2.0 * fit.random_covariance[(0, 0)].max(0.0).sqrt()), None),
        Estimator::Prior(fit) if replicated > 0 => {
            (SpreadSource::PriorAndPasses, Some(2.0 * fit.relative_spread_median(0) * unit[0] * sigma_mm), Some(prior_scale_mm))
        }
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
        spread,
        mean_coefficients,
        mean_covariance,
        pass_tapers,
    })
}

/// Either way of getting at the spread between passes.
enum Estimator {
    Reml(Box<RemlFit>),
    Prior(SpreadPosterior),
}

impl Estimator {
    fn contrast(&self, contrast: &Coefficients) -> FittedContrast {
        match self {
            Self::Reml(fit) => {
                let (variance, within) = fit.variance(contrast);
                let dof = fit.degrees_of_freedom(contrast);
                let standard_error = variance.max(0.0).sqrt();
                let factor = coverage_factor95(dof);
                FittedContrast {
                    value: contrast.dot(&fit.evaluation.coefficients),
                    standard_error,
                    dof,
                    half_width95: factor * standard_error,
                    within_share: if variance > 0.0 { within / variance } else { 1.0 },
                }
            }
            Self::Prior(fit) => {
                let CentralInterval { value, standard_error, dof, half_width95, within } = fit.interval(contrast);
                let within_share = if standard_error > 0.0 { (within / standard_error).powi(2) } else { 1.0 };
                FittedContrast { value, standard_error, dof, half_width95, within_share }
            }
        }
    }

    fn sigma(&self) -> f64 {
        match self {
            Self::Reml(fit) => fit.sigma_square.sqrt(),
            Self::Prior(fit) => fit.sigma_median,
        }
    }

    fn covariance(&self) -> FixedCovariance {
        match self {
            Self::Reml(fit) => fit.covariance(),
            Self::Prior(fit) => fit.mean_unscaled_covariance(),
        }
    }

    fn coefficients(&self, contrast: &Coefficients) -> f64 {
        match self {
            Self::Reml(fit) => contrast.dot(&fit.evaluation.coefficients),
            Self::Prior(fit) => fit.mean(contrast),
        }
    }
}

/// Groups of the passes whose direction can carry a slope; a bend per direction where each can, else one for all.
fn lay_out(cut: &Cut<'_>, columns: usize) -> Option<(Layout, Vec<Direction>, Vec<Group>)> {
    let mut directions = Vec::new();
    let mut lost = Vec::new();
    let mut full_rank = true;
    for direction in [Direction::ToHeadstock, Direction::ToTailstock] {
        let mut sum: Option<Group> = None;
        for pass in cut.finishing.iter().filter(|p| p.direction == direction) {
            let group = Group::repeated(&rows(cut, pass, columns), Terms::zeros());
            match &mut sum {
                Some(sum) => sum.gram += group.gram,
                None => sum = Some(group),
            }
        }
        let Some(sum) = sum else { continue };
        if sum.gram[(0, 0)] > 1e-12 {
            directions.push(direction);
            full_rank &= sum.own_coefficients().0 as usize >= columns;
        } else {
            lost.push(direction);
        }
    }
    if directions.is_empty() {
        return None;
    }
    let bends = match (columns, full_rank) {
        (1, _) => 0,
        (_, true) => directions.len(),
        (_, false) => 1,
    };
    let layout = Layout { directions, bends, columns };
    let groups: Vec<Group> = cut
        .finishing
        .iter()
        .filter_map(|pass| layout.terms(pass.direction).map(|terms| Group::repeated(&rows(cut, pass, columns), terms)))
        .collect();
    evaluate(&groups, layout.fixed(), &Matrix2::zeros())?;
    Some((layout, lost, groups))
}

/// Standard errors of one average pass's own slope and bend at `σ = 1`: roots of the diagonal of `(mean Z'WZ)⁻¹`.
fn unit_errors(groups: &[Group], columns: usize) -> Option<[f64; 2]> {
    let carrying: Vec<&Group> = groups.iter().filter(|g| g.gram[(0, 0)] > 0.0).collect();
    let mean = carrying.iter().fold(Matrix2::zeros(), |sum: Matrix2<f64>, g| sum + g.gram) / carrying.len().max(1) as f64;
    if columns < 2 {
        return (mean[(0, 0)] > 0.0).then(|| [mean[(0, 0)].sqrt().recip(), 0.0]);
    }
    let inverse = mean.try_inverse()?;
    (inverse[(0, 0)] > 0.0 && inverse[(1, 1)] > 0.0).then(|| [inverse[(0, 0)].sqrt(), inverse[(1, 1)].sqrt()])
}

/// Taper of each finishing pass alone with its standard error.
fn pass_tapers(cut: &Cut<'_>, layout: &Layout, groups: &[Group], sigma: f64) -> Vec<Option<(f64, f64)>> {
    let mut groups = groups.iter();
    cut.finishing
        .iter()
        .map(|pass| {
            layout.terms(pass.direction)?;
            let group = groups.next()?;
            let (rank, own) = group.own_coefficients();
            if group.gram[(0, 0)] <= 1e-12 || rank < 1.0 {
                return None;
            }
            let variance = if rank > 1.5 { group.gram.try_inverse()?[(0, 0)] } else { group.gram[(0, 0)].recip() };
            Some((2.0 * own[0], 2.0 * sigma * variance.max(0.0).sqrt()))
        })
        .collect()
}

/// Plain t interval of the taper without any prior.
///
/// Where passes repeat: the mean of the passes' own tapers (of each direction, then of both) with their scatter. Where none
/// repeats: pooled least squares with the readings' scatter about it. `None` where that leaves no degrees of freedom.
fn plain_t(layout: &Layout, groups: &[Group], passes: &[&Pass], own: (f64, f64)) -> Option<Interval> {
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
        square += tapers.iter().map(|t| (t - mean) * (t - mean)).sum::<f64>();
        inverse_counts += share * share / count;
        dof += count - 1.0;
    }
    if dof > 0.0 {
        let error = (square / dof * inverse_counts).sqrt();
        return Some(Interval::about(value, t_quantile(0.975, dof)? * error));
    }
    if own.1 <= 0.0 {
        return None;
    }
    let pooled = evaluate(groups, layout.fixed(), &Matrix2::zeros())?;
    let contrast = layout.slope(None) * 2.0;
    let error = (contrast.dot(&(pooled.unscaled_covariance * contrast)) * own.0 / own.1).sqrt();
    Some(Interval::about(contrast.dot(&pooled.coefficients), t_quantile(0.975, own.1)? * error))
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
