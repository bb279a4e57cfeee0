//! The outcome of a least-squares fit, as a value.

use super::FitError;
use super::householder::Factor;
use super::refinement::Solution;
use nalgebra::DMatrix;

/// A fit: coefficients, their covariance, residuals and leverage.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    coefficients: Vec<Option<f64>>,
    /// Place of each term among the estimated ones.
    places: Vec<Option<usize>>,
    /// `(XᵀWX)⁻¹` of the estimated terms, rank × rank.
    unscaled: Vec<f64>,
    residuals: Vec<f64>,
    leverage: Vec<f64>,
    weights: Option<Vec<f64>>,
    residual_sum_of_squares: f64,
    /// Largest weighted reading, which bounds the rounding of a residual.
    size: f64,
    counted: usize,
    rank: usize,
}

pub(super) fn assemble(
    factor: &Factor,
    scales: &[f64],
    solution: Solution,
    design: &DMatrix<f64>,
    response: &[f64],
    weights: Option<&[f64]>,
) -> Result<Fit, FitError> {
    let rank = factor.rank();
    let mut coefficients = vec![None; factor.columns()];
    let mut places = vec![None; factor.columns()];
    let mut kept_scales = Vec::with_capacity(rank);
    for (place, (column, value)) in factor.kept().iter().zip(&solution.coefficients).enumerate() {
        let scale = scales.get(*column).copied().unwrap_or(1.0);
        kept_scales.push(scale);
        if let (Some(slot), Some(at)) = (coefficients.get_mut(*column), places.get_mut(*column)) {
            *slot = Some(value / scale);
            *at = Some(place);
        }
    }
    let mut unscaled = vec![0.0; rank * rank];
    for (k, (column, scale)) in unscaled.chunks_exact_mut(rank.max(1)).zip(&kept_scales).enumerate() {
        if let Some(slot) = column.get_mut(k) {
            *slot = 1.0 / scale;
        }
        factor.solve_upper_transpose(column);
        factor.solve_upper(column);
        column.iter_mut().zip(&kept_scales).for_each(|(v, s)| *v /= s);
    }
    let residual_sum_of_squares: f64 = solution.residuals.iter().map(|r| r * r).sum();
    let residuals = match weights {
        None => solution.residuals,
        Some(_) => response
            .iter()
            .enumerate()
            .map(|(i, y)| y - design.row(i).iter().zip(&coefficients).map(|(x, c)| x * c.unwrap_or(0.0)).sum::<f64>())
            .collect(),
    };
    let finite = coefficients.iter().flatten().chain(&unscaled).chain(&residuals).all(|v| v.is_finite());
    if !finite || !residual_sum_of_squares.is_finite() {
        return Err(FitError::NotFinite);
    }
    let size =
        response.iter().enumerate().map(|(i, y)| y.abs() * weights.and_then(|w| w.get(i)).map_or(1.0, |w| w.sqrt())).fold(0.0, f64::max);
    let counted = weights.map_or(response.len(), |w| w.iter().filter(|w| **w > 0.0).count());
    Ok(Fit {
        coefficients,
        places,
        unscaled,
        residuals,
        leverage: factor.leverage(),
        weights: weights.map(<[f64]>::to_vec),
        residual_sum_of_squares,
        size,
        counted,
        rank,
    })
}

impl Fit {
    /// One entry a column of the design; `None` where the data cannot give the term.
    #[must_use]
    pub fn coefficients(&self) -> &[Option<f64>] {
        &self.coefficients
    }

    /// Coefficient of column `term`; `None` when missing or out of range.
    #[must_use]
    pub fn coefficient(&self, term: usize) -> Option<f64> {
        self.coefficients.get(term).copied().flatten()
    }

    /// Columns whose term could not be estimated.
    #[must_use]
    pub fn missing(&self) -> Vec<usize> {
        self.places.iter().enumerate().filter(|(_, place)| place.is_none()).map(|(term, _)| term).collect()
    }

    /// Number of independent columns.
    #[must_use]
    pub fn rank(&self) -> usize {
        self.rank
    }

    /// Residual degrees of freedom: readings of positive weight minus rank.
    #[must_use]
    pub fn dof(&self) -> usize {
        self.counted.saturating_sub(self.rank)
    }

    /// Readings of positive weight.
    #[must_use]
    pub fn readings(&self) -> usize {
        self.counted
    }

    /// `Σ w (y − Xβ)²`.
    #[must_use]
    pub fn residual_sum_of_squares(&self) -> f64 {
        self.residual_sum_of_squares
    }

    /// Whether the residuals are nothing but rounding: `RSS ≤ n (4 ε max|y|)²` with ε the resolution of a double. Ratios to them mean nothing then.
    #[must_use]
    pub fn fits_exactly(&self) -> bool {
        let rounding = 4.0 * f64::EPSILON * self.size;
        self.residual_sum_of_squares <= self.counted as f64 * rounding * rounding
    }

    /// Residual standard deviation `√(RSS/dof)`; `None` without degrees of freedom.
    #[must_use]
    pub fn residual_sd(&self) -> Option<f64> {
        (self.dof() > 0).then(|| (self.residual_sum_of_squares / self.dof() as f64).sqrt())
    }

    /// Residuals `y − Xβ`, unweighted, in the order of the rows.
    #[must_use]
    pub fn residuals(&self) -> &[f64] {
        &self.residuals
    }

    /// Leverage of each row: the diagonal of the hat matrix of the (weighted) problem, 0 to 1, adding up to the rank.
    #[must_use]
    pub fn leverage(&self) -> &[f64] {
        &self.leverage
    }

    /// The weights of a weighted fit; `None` for a plain one.
    #[must_use]
    pub fn weights(&self) -> Option<&[f64]> {
        self.weights.as_deref()
    }

    /// Entry of `(XᵀWX)⁻¹`; `None` when a term is missing. Times the variance of a reading it is the covariance.
    #[must_use]
    pub fn unscaled_covariance(&self, first: usize, second: usize) -> Option<f64> {
        let i = self.places.get(first).copied().flatten()?;
        let j = self.places.get(second).copied().flatten()?;
        self.unscaled.get(j * self.rank + i).copied()
    }

    /// Covariance of two coefficients with the variance estimated from the residuals; `None` when a term is missing or there are no degrees of freedom.
    #[must_use]
    pub fn covariance(&self, first: usize, second: usize) -> Option<f64> {
        let sd = self.residual_sd()?;
        Some(self.unscaled_covariance(first, second)? * sd * sd)
    }

    /// Standard error of a coefficient; `None` as for [`Fit::covariance`].
    #[must_use]
    pub fn standard_error(&self, term: usize) -> Option<f64> {
        Some(self.unscaled_covariance(term, term)?.max(0.0).sqrt() * self.residual_sd()?)
    }

    /// Value of `Σ weights[k]·β_k` and its unscaled variance `wᵀ(XᵀWX)⁻¹w`; `None` when it needs a missing term or the length is wrong.
    ///
    /// With a row of the design as weights this is the fitted mean there; its variance is the second number times the variance of a reading.
    #[must_use]
    pub fn combination(&self, weights: &[f64]) -> Option<(f64, f64)> {
        if weights.len() != self.coefficients.len() {
            return None;
        }
        let mut value = 0.0;
        let mut variance = 0.0;
        for (i, a) in weights.iter().enumerate().filter(|(_, a)| **a != 0.0) {
            value += a * self.coefficient(i)?;
            for (j, b) in weights.iter().enumerate().filter(|(_, b)| **b != 0.0) {
                variance += a * b * self.unscaled_covariance(i, j)?;
            }
        }
        Some((value, variance.max(0.0)))
    }
}
