use super::evaluation::shrinkage;
use super::{Coefficients, Evaluation, FixedCovariance, Group, NoisePrior, evaluate};
use nalgebra::{DMatrix, DVector, Matrix2};

/// A fit by restricted maximum likelihood.
#[derive(Debug, Clone)]
pub struct RemlFit {
    /// Generalised least squares at the estimated covariances.
    pub evaluation: Evaluation,
    /// Noise variance `σ²` of a reading of weight 1.
    pub sigma_square: f64,
    /// Covariance `D` of the random terms.
    pub random_covariance: Matrix2<f64>,
    /// The variance parameters: `σ²`, then one for each structure.
    pub parameters: Vec<f64>,
    /// Expected information of those parameters, the noise prior's included.
    pub information: DMatrix<f64>,
    /// `−2 ln` restricted likelihood at the estimate, without the prior's part.
    pub deviance: f64,
    /// Whether the iteration settled.
    pub converged: bool,
    /// `(X'V⁻¹V_iV⁻¹X)` for each parameter: how the information on `β` changes with it.
    sensitivities: Vec<FixedCovariance>,
}

impl RemlFit {
    /// Covariance of the fixed coefficients, `(X'V⁻¹X)⁻¹`.
    #[must_use]
    pub fn covariance(&self) -> FixedCovariance {
        self.evaluation.unscaled_covariance * self.sigma_square
    }

    /// Variance of `contrast'β`, and its part that comes from the readings' own noise.
    #[must_use]
    pub fn variance(&self, contrast: &Coefficients) -> (f64, f64) {
        let total = contrast.dot(&(self.evaluation.unscaled_covariance * contrast)) * self.sigma_square;
        let within = contrast.dot(&(self.evaluation.unscaled_within * contrast)) * self.sigma_square;
        (total, within.min(total))
    }

    /// Degrees of freedom of that variance, `2v²/(g'I⁻¹g)` (Satterthwaite 1946; Giesbrecht, Burns 1985, eq. 5).
    ///
    /// `g` is the gradient of `v = contrast'(X'V⁻¹X)⁻¹contrast` in the variance parameters and `I` their **expected**
    /// information. A variance that ended at 0 keeps its row in `I`: the log could have said otherwise, and the degrees of
    /// freedom must say so. In a balanced design with one direction this is exactly the number of groups minus one.
    /// `None` when the information is singular.
    #[must_use]
    pub fn degrees_of_freedom(&self, contrast: &Coefficients) -> Option<f64> {
        let spread = self.covariance() * contrast;
        let variance = contrast.dot(&spread);
        let gradient = DVector::from_iterator(self.sensitivities.len(), self.sensitivities.iter().map(|s| spread.dot(&(s * spread))));
        let solved = solve_scaled(&self.information, &gradient)?;
        let spread_of_variance = gradient.dot(&solved);
        (spread_of_variance > 0.0).then(|| 2.0 * variance * variance / spread_of_variance)
    }
}

/// What one step of the iteration needs at given parameters.
struct Step {
    evaluation: Evaluation,
    objective: f64,
    score: DVector<f64>,
    information: DMatrix<f64>,
    sensitivities: Vec<FixedCovariance>,
}

/// Restricted maximum likelihood of `σ²` and of `D = Σ θ_i·structures[i]`, with an optional prior on `σ`.
///
/// Fisher scoring on the variances with step halving; a diagonal structure's variance is kept at 0 or above, and one
/// that wants to be negative rests at 0 (the boundary). The prior, a log-normal of `σ`, is a penalty: without it the
/// estimate is plain REML (Patterson, Thompson 1971; Pinheiro, Bates 2000, section 2.2.5).
///
/// `start` is a first guess of `σ²` and of each `θ`. Returns `None` when the groups do not determine the fixed
/// coefficients, or neither readings nor prior say anything of the noise.
#[must_use]
pub fn fit_reml(groups: &[Group], fixed: usize, structures: &[Matrix2<f64>], prior: Option<NoisePrior>, start: &[f64]) -> Option<RemlFit> {
    let bounded: Vec<bool> = std::iter::once(true).chain(structures.iter().map(|s| s[(0, 1)] == 0.0 && s[(1, 0)] == 0.0)).collect();
    let mut parameters: Vec<f64> = start.iter().copied().take(structures.len() + 1).collect();
    parameters.resize(structures.len() + 1, 0.0);
    let mut step = take_step(groups, fixed, structures, prior, &parameters)?;
    let mut converged = false;
    for _ in 0..200 {
        let free: Vec<usize> =
            (0..parameters.len()).filter(|&i| !(bounded.get(i) == Some(&true) && parameters[i] <= 0.0 && step.score[i] <= 0.0)).collect();
        let Some(direction) = scoring_direction(&step, &free, parameters.len()) else { break };
        let mut length = 1.0;
        let mut accepted = None;
        for _ in 0..40 {
            let trial: Vec<f64> = (0..parameters.len())
                .map(|i| {
                    let moved = parameters[i] + length * direction[i];
                    match (i, bounded.get(i)) {
                        (0, _) => moved.max(0.1 * parameters[0]),
                        (_, Some(true)) => moved.max(0.0),
                        _ => moved,
                    }
                })
                .collect();
            if let Some(next) = take_step(groups, fixed, structures, prior, &trial)
                && next.objective <= step.objective + 1e-13 * step.objective.abs()
            {
                accepted = Some((trial, next));
                break;
            }
            length *= 0.5;
        }
        let Some((trial, next)) = accepted else {
            converged = true;
            break;
        };
        let scale = parameters[0] * random_scale(groups);
        let moved = trial.iter().zip(&parameters).enumerate().fold(0.0_f64, |worst, (i, (new, old))| {
            let unit = if i == 0 { old.abs() } else { old.abs().max(scale) };
            worst.max((new - old).abs() / unit)
        });
        parameters = trial;
        step = next;
        if moved < 1e-12 {
            converged = true;
            break;
        }
    }
    let sigma_square = parameters[0];
    Some(RemlFit {
        deviance: step.evaluation.deviance(sigma_square),
        evaluation: step.evaluation,
        sigma_square,
        random_covariance: combine(structures, &parameters),
        information: step.information,
        sensitivities: step.sensitivities,
        parameters,
        converged,
    })
}

/// A small random variance, in units of `σ²`: a thousandth of what one group's noise makes of its own coefficient.
fn random_scale(groups: &[Group]) -> f64 {
    let largest = groups.iter().fold(0.0_f64, |best, group| best.max(group.gram.diagonal().max()));
    if largest > 0.0 { 1e-3 / largest } else { 1.0 }
}

fn combine(structures: &[Matrix2<f64>], parameters: &[f64]) -> Matrix2<f64> {
    structures.iter().zip(parameters.iter().skip(1)).fold(Matrix2::zeros(), |sum, (s, &theta)| sum + s * theta)
}

/// Newton direction with the expected information over the free parameters.
fn scoring_direction(step: &Step, free: &[usize], count: usize) -> Option<DVector<f64>> {
    let information = DMatrix::from_fn(free.len(), free.len(), |i, j| step.information[(free[i], free[j])]);
    let score = DVector::from_fn(free.len(), |i, _| step.score[free[i]]);
    let solved = solve_scaled(&information, &score)?;
    let mut direction = DVector::zeros(count);
    for (&place, &value) in free.iter().zip(solved.iter()) {
        direction[place] = value;
    }
    Some(direction)
}

/// Solves a symmetric system after scaling its diagonal to 1; a flat direction is damped rather than followed.
fn solve_scaled(matrix: &DMatrix<f64>, right: &DVector<f64>) -> Option<DVector<f64>> {
    let scale = matrix.diagonal().map(|d| if d > 0.0 { d.sqrt().recip() } else { 0.0 });
    if scale.iter().any(|&s| s == 0.0) {
        return None;
    }
    let scaled = DMatrix::from_fn(matrix.nrows(), matrix.ncols(), |i, j| matrix[(i, j)] * scale[i] * scale[j]);
    let target = right.component_mul(&scale);
    let factor = scaled.clone().cholesky().or_else(|| {
        let damped = &scaled + DMatrix::identity(matrix.nrows(), matrix.ncols()) * 1e-9;
        damped.cholesky()
    })?;
    Some(factor.solve(&target).component_mul(&scale))
}

/// Score and expected information at `parameters`; `None` where `D` is not positive semi-definite or a fixed term is lost.
fn take_step(groups: &[Group], fixed: usize, structures: &[Matrix2<f64>], prior: Option<NoisePrior>, parameters: &[f64]) -> Option<Step> {
    let sigma_square = *parameters.first()?;
    let random = combine(structures, parameters);
    // without a noise above 0 and finite the objective below is no number
    if random.trace() < 0.0 || random.determinant() < 0.0 {
        return None;
    }
    let ratio = random / sigma_square;
    let evaluation = evaluate(groups, fixed, &ratio)?;
    let c = evaluation.unscaled_covariance;
    let count = structures.len();
    // In units of σ²: G = ST, U = ST², per group; Q = ΣB'UB, F_i = ΣN'E_iN with N = GB.
    let mut q = FixedCovariance::zeros();
    let mut q3 = FixedCovariance::zeros();
    let mut f = vec![FixedCovariance::zeros(); count];
    let (mut square_square, mut trace_v, mut trace_vv) = (0.0, 0.0, 0.0);
    let mut quadratic = vec![0.0; count];
    for group in groups {
        let (t, _) = shrinkage(&ratio, &group.gram);
        let g = group.gram * t;
        let u = g * t;
        let n = g * group.terms;
        q += group.terms.transpose() * u * group.terms;
        q3 += group.terms.transpose() * (u * t) * group.terms;
        let cross = group.cross - group.gram * (group.terms * evaluation.coefficients);
        let w = t.transpose() * cross;
        let fitted = group.terms * evaluation.coefficients;
        let residual_square = group.square - 2.0 * fitted.dot(&group.cross) + fitted.dot(&(group.gram * fitted));
        let shrunk = ratio * w;
        square_square += residual_square - 2.0 * shrunk.dot(&cross) + shrunk.dot(&(group.gram * shrunk));
        let lost = t * (ratio * group.gram);
        trace_v += group.contrasts - lost.trace();
        trace_vv += group.contrasts - 2.0 * lost.trace() + (lost * lost).trace();
        for (i, structure) in structures.iter().enumerate() {
            f[i] += n.transpose() * structure * n;
            quadratic[i] += w.dot(&(structure * w));
        }
    }
    let cq = c * q;
    let mut score = DVector::zeros(count + 1);
    let mut information = DMatrix::zeros(count + 1, count + 1);
    let s2 = sigma_square;
    score[0] = 0.5 * (square_square / (s2 * s2) - (trace_v - cq.trace()) / s2);
    information[(0, 0)] = 0.5 * (trace_vv - 2.0 * (c * q3).trace() + (cq * cq).trace()) / (s2 * s2);
    for i in 0..count {
        let mut trace_p = 0.0;
        let mut trace_pp = 0.0;
        for group in groups {
            let (t, _) = shrinkage(&ratio, &group.gram);
            let g = group.gram * t;
            let u = g * t;
            let (n, m) = (g * group.terms, u * group.terms);
            trace_p += (structures[i] * (g - n * c * n.transpose())).trace();
            let pp = u - m * c * n.transpose() - n * c * m.transpose() + n * (cq * c) * n.transpose();
            trace_pp += (structures[i] * pp).trace();
        }
        score[i + 1] = 0.5 * (quadratic[i] / (s2 * s2) - trace_p / s2);
        information[(0, i + 1)] = 0.5 * trace_pp / (s2 * s2);
        information[(i + 1, 0)] = information[(0, i + 1)];
        for j in 0..=i {
            let mut trace = (c * f[j] * c * f[i]).trace();
            for group in groups {
                let (t, _) = shrinkage(&ratio, &group.gram);
                let g = group.gram * t;
                let n = g * group.terms;
                let projected = n * c * n.transpose();
                trace += (structures[i] * g * structures[j] * (g - projected * 2.0)).trace();
            }
            information[(i + 1, j + 1)] = 0.5 * trace / (s2 * s2);
            information[(j + 1, i + 1)] = information[(i + 1, j + 1)];
        }
    }
    let mut objective = evaluation.deviance(s2);
    if let Some(prior) = prior {
        objective += prior.penalty(s2.sqrt());
        let log_square = 4.0 * prior.log_deviation * prior.log_deviation;
        score[0] -= (s2 / (prior.median * prior.median)).ln() / (log_square * s2);
        information[(0, 0)] += 1.0 / (log_square * s2 * s2);
    }
    if !objective.is_finite() || information[(0, 0)] <= 0.0 {
        return None;
    }
    let unit = s2.recip() * s2.recip();
    let sensitivities = std::iter::once(q * unit).chain(f.iter().map(|m| m * unit)).collect();
    Some(Step { evaluation, objective, score, information, sensitivities })
}

#[cfg(test)]
#[path = "reml/tests.rs"]
mod tests;
