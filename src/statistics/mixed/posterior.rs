use super::cells::median_of_cells;
use super::{Coefficients, Evaluation, FixedCovariance, Group, NoisePrior, evaluate};
use central::{ONE_SIGMA, half_width, matching_t, merge};
use nalgebra::Matrix2;

mod central;

/// Half-t prior on the spread of a random term, its scale in units of one group's own standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpreadPrior {
    /// Degrees of freedom of the half-t.
    pub dof: f64,
    /// Scale, as a multiple of the standard error of one group's own coefficient.
    pub multiple: f64,
}

/// Posterior of the fixed coefficients with the spread between groups and the noise integrated out:
/// a mixture of normal distributions.
#[derive(Debug, Clone)]
pub struct SpreadPosterior {
    nodes: Vec<Node>,
    /// Scale of the prior, and the step of the grid on which spreads stand.
    multiple: f64,
    step: f64,
    /// Posterior median of the noise `σ`.
    pub sigma_median: f64,
}

#[derive(Debug, Clone)]
struct Node {
    evaluation: Evaluation,
    /// Place of each random term's spread on the grid, `v = asinh(ρ/multiple)`.
    places: [f64; 2],
    /// `(weight, σ)` pairs.
    noise: Vec<(f64, f64)>,
    /// How far neighbours of those pairs lie apart in `ln σ`.
    apart: f64,
}

/// Centre, scale, degrees of freedom and 95 % half-width of a contrast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CentralInterval {
    /// Posterior mean.
    pub value: f64,
    /// Scale of the t distribution that has the same central 68.27 % and 95 % intervals.
    pub standard_error: f64,
    /// Its degrees of freedom; `None` when it is normal.
    pub dof: Option<f64>,
    /// Half of the central 95 % interval.
    pub half_width95: f64,
    /// Part of the standard error that the readings' own noise makes: at the posterior median of `σ`, mean over the spread.
    pub within: f64,
}

/// Step of the trapezium rule in `asinh(spread/scale)`, with one and with two random terms.
const STEP: [f64; 2] = [0.2, 0.35];
/// Share of the largest density of `ln σ` down to which there are nodes below its mode and above it.
///
/// What is left out below makes central intervals wider by next to nothing; above, it is the widest part of the mixture. With both and [`noise_step`] half-widths
/// are right to 0.04 % (tested against Student's t from 1 to 200 degrees of freedom).
const NOISE_ENDS: [f64; 2] = [1e-4, 1e-5];
/// Nodes on one side of the mode at most.
const NOISE_SIDE: u32 = 100;

/// Integrates the spread of `columns` random terms (1 or 2) and the noise `σ` over their priors.
///
/// `unit[i]` is the standard error of one group's own coefficient `i` when `σ = 1`. The spread of term `i` is
/// `ρ_i·unit[i]·σ`, `ρ_i ~ multiple·half-t(dof)`, each term on its own (Gelman 2006, Bayesian Analysis 1:515, for the family);
/// `σ` has the prior given, or `1/σ`. Substituting `ρ = multiple·sinh v` makes the trapezium rule converge exponentially.
/// Fixed coefficients have a flat prior, so that given `(ρ, σ)` they are normal about generalised least squares.
///
/// Returns `None` when the groups do not determine the fixed coefficients, or nothing is known of the noise.
#[must_use]
pub fn integrate_spread(
    groups: &[Group],
    fixed: usize,
    columns: usize,
    unit: [f64; 2],
    prior: SpreadPrior,
    noise: Option<NoisePrior>,
) -> Option<SpreadPosterior> {
    let pooled = evaluate(groups, fixed, &Matrix2::zeros())?;
    let own = groups.iter().map(Group::own_residual).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let reference = match noise {
        Some(noise) => noise.median * noise.median,
        None if own.1 > 0.0 && own.0 > 0.0 => own.0 / own.1,
        None => return None,
    };
    let largest = 200.0 + 20.0 * (pooled.weighted_square / reference).sqrt();
    let step = if columns > 1 { STEP[1] } else { STEP[0] };
    let count = ((largest / prior.multiple).asinh() / step).ceil() as usize;
    let second = if columns > 1 { count } else { 1 };
    let mut nodes = Vec::with_capacity(count * second);
    let mut logs = Vec::with_capacity(count * second);
    for i in 0..count {
        let first = spread_node(i, step, prior);
        for j in 0..second {
            let other = if columns > 1 { spread_node(j, step, prior) } else { (0.0, 0.0) };
            let ratio = Matrix2::new((first.0 * unit[0]).powi(2), 0.0, 0.0, (other.0 * unit[1]).powi(2));
            let evaluation = evaluate(groups, fixed, &ratio)?;
            let NoiseNodes { pairs, apart, best } = noise_nodes(&evaluation, noise)?;
            logs.push(best + first.1 + other.1 - 0.5 * evaluation.log_determinant);
            nodes.push(Node { evaluation, places: [place(i, step), place(j, step)], noise: pairs, apart });
        }
    }
    let highest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    for (node, log) in nodes.iter_mut().zip(&logs) {
        let factor = (log - highest).exp();
        node.noise.iter_mut().for_each(|pair| pair.0 *= factor);
    }
    let total: f64 = nodes.iter().flat_map(|node| &node.noise).map(|pair| pair.0).sum();
    if !(total > 0.0 && total.is_finite()) {
        return None;
    }
    for node in &mut nodes {
        node.noise.iter_mut().for_each(|pair| pair.0 /= total);
        node.noise.retain(|pair| pair.0 > 1e-12);
    }
    nodes.retain(|node| !node.noise.is_empty());
    let kept: f64 = nodes.iter().flat_map(|node| &node.noise).map(|pair| pair.0).sum();
    nodes.iter_mut().flat_map(|node| &mut node.noise).for_each(|pair| pair.0 /= kept);
    let cells = nodes.iter().flat_map(|node| node.noise.iter().map(|&(weight, sigma)| (weight, sigma.ln(), node.apart)));
    let sigma_median = median_of_cells(&cells.collect::<Vec<_>>()).exp();
    Some(SpreadPosterior { nodes, multiple: prior.multiple, step, sigma_median })
}

/// Where node `index` stands in `asinh(spread/scale)`: in the middle of its step.
fn place(index: usize, step: f64) -> f64 {
    (index as f64 + 0.5) * step
}

/// Spread and log prior weight of node `index`.
fn spread_node(index: usize, step: f64, prior: SpreadPrior) -> (f64, f64) {
    let v = place(index, step);
    let sinh = v.sinh();
    (prior.multiple * sinh, v.cosh().ln() - 0.5 * (prior.dof + 1.0) * (sinh * sinh / prior.dof).ln_1p())
}

/// The noise given the spread.
struct NoiseNodes {
    /// `(weight, σ)`, relative to the best.
    pairs: Vec<(f64, f64)>,
    /// How far they lie apart in `ln σ`.
    apart: f64,
    /// Log of the best.
    best: f64,
}

fn noise_nodes(evaluation: &Evaluation, noise: Option<NoisePrior>) -> Option<NoiseNodes> {
    let (dof, square) = (evaluation.dof, evaluation.weighted_square);
    let (centre, precision) = noise.map_or((0.0, 0.0), |n| (n.median.ln(), 1.0 / (n.log_deviation * n.log_deviation)));
    let log_density = |l: f64| -dof * l - 0.5 * square * (-2.0 * l).exp() - 0.5 * precision * (l - centre) * (l - centre);
    let mut mode = match (noise, dof > 0.0 && square > 0.0) {
        (None, false) => return None,
        (None, true) => 0.5 * (square / dof).ln(),
        (Some(_), false) => centre - dof / precision,
        (Some(_), true) => 0.5 * ((square + precision * (2.0 * centre).exp()) / (dof + precision)).ln(),
    };
    for _ in 0..50 {
        let pull = square * (-2.0 * mode).exp();
        let slope = -dof + pull - precision * (mode - centre);
        let move_by = (slope / (2.0 * pull + precision)).clamp(-1.0, 1.0);
        mode += move_by;
        if move_by.abs() < 1e-10 {
            break;
        }
    }
    let deviation = (2.0 * square * (-2.0 * mode).exp() + precision).sqrt().recip();
    let apart = noise_step(dof + precision) * deviation;
    let best = log_density(mode);
    let node = |places: f64| {
        let l = mode + places * apart;
        ((log_density(l) - best).exp(), l.exp())
    };
    let mut pairs = vec![node(0.0)];
    for (side, end) in [-1.0, 1.0].into_iter().zip(NOISE_ENDS) {
        pairs.extend((1..=NOISE_SIDE).map(|k| node(side * f64::from(k))).take_while(|pair| pair.0 > end));
    }
    (best.is_finite() && deviation.is_finite()).then_some(NoiseNodes { pairs, apart, best: best + apart.ln() })
}

/// How far nodes of the noise stand apart in standard deviations of `ln σ` at its mode, `known` being the degrees of freedom and the precision of the prior: closer
/// where both are so few that the density is very skew.
fn noise_step(known: f64) -> f64 {
    if known < 3.0 { 0.6 } else { 1.0 }
}

impl SpreadPosterior {
    /// Posterior mean of `contrast'β`.
    #[must_use]
    pub fn mean(&self, contrast: &Coefficients) -> f64 {
        self.nodes.iter().map(|node| node.weight() * contrast.dot(&node.evaluation.coefficients)).sum()
    }

    /// Posterior mean of the covariance of the fixed coefficients in units of `σ²`, for their correlation.
    #[must_use]
    pub fn mean_unscaled_covariance(&self) -> FixedCovariance {
        self.nodes.iter().fold(FixedCovariance::zeros(), |sum, node| sum + node.evaluation.unscaled_covariance * node.weight())
    }

    /// Posterior median of the spread of random term `column`, as a multiple of `unit·σ`.
    #[must_use]
    pub fn relative_spread_median(&self, column: usize) -> f64 {
        let cells = self.nodes.iter().map(|node| (node.weight(), node.places.get(column).copied().unwrap_or(0.0), self.step));
        // Nothing lies below a spread of 0.
        self.multiple * median_of_cells(&cells.collect::<Vec<_>>()).max(0.0).sinh()
    }

    /// Centre and central intervals of `contrast'β`, written as a t distribution that has the same 68.27 % and 95 % ones.
    ///
    #[must_use]
    pub fn interval(&self, contrast: &Coefficients) -> CentralInterval {
        let value = self.mean(contrast);
        let mut parts = Vec::with_capacity(self.nodes.len() * 12);
        let mut within = 0.0;
        for node in &self.nodes {
            let offset = contrast.dot(&node.evaluation.coefficients) - value;
            let unscaled = contrast.dot(&(node.evaluation.unscaled_covariance * contrast));
            within += node.weight() * contrast.dot(&(node.evaluation.unscaled_within * contrast));
            let root = unscaled.max(0.0).sqrt();
            parts.extend(node.noise.iter().map(|&(weight, sigma)| (weight, offset, root * sigma)));
        }
        let parts = merge(parts);
        let half_width95 = half_width(&parts, 0.95);
        let half_width68 = half_width(&parts, ONE_SIGMA);
        let (standard_error, dof) = matching_t(half_width68, half_width95);
        CentralInterval {
            value,
            standard_error,
            dof,
            half_width95,
            within: (within.max(0.0).sqrt() * self.sigma_median).min(standard_error),
        }
    }
}

impl Node {
    fn weight(&self) -> f64 {
        self.noise.iter().map(|pair| pair.0).sum()
    }
}

#[cfg(test)]
mod tests;
