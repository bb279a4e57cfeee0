//! Linear least squares, plain and weighted.
//!
//! Householder reflections on columns scaled by powers of two, then iterative refinement with residuals in doubled precision. Nothing is
//! ever squared into normal equations. A term that the data cannot give is missing, never 0.

mod basis;
mod fit;
mod householder;
mod refinement;

pub use fit::Fit;

pub(super) use basis::complete_basis;

use householder::Factor;
use nalgebra::DMatrix;

/// Why a fit could not be made at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FitError {
    /// The response or the weights have another length than the design has rows.
    #[error("the design has {rows} rows but {found} values were given")]
    Lengths {
        /// Rows of the design.
        rows: usize,
        /// Length found.
        found: usize,
    },
    /// No rows, or no columns.
    #[error("nothing to fit: the design is empty")]
    Empty,
    /// A value is not finite, or too large to square.
    #[error("a value is not finite or too large to work with")]
    NotFinite,
    /// A weight is negative or not finite.
    #[error("a weight is negative or not finite")]
    Weight,
}

/// A column counts as dependent on those before it when what is left of it after them is below this part of its length.
pub const DEPENDENCE_TOLERANCE: f64 = 1e-12;

/// Least squares of `response` (n) on the columns of `design` (n × p): minimises `Σ (y − Xβ)²`.
///
/// Method: Householder QR (Golub 1965) in the given order of columns, each scaled by a power of two; a column that depends on those before it
/// (to [`DEPENDENCE_TOLERANCE`]) is left out and its term is missing. Then refinement of the augmented system with doubled-precision residuals
/// (Björck 1967). Two readings at (0, 1) and (1, 3) on columns 1 and x give coefficients 1 and 2, rank 2, no degrees of freedom.
///
/// # Errors
/// [`FitError`] when lengths disagree, the design is empty, or a value is not finite.
pub fn least_squares(design: &DMatrix<f64>, response: &[f64]) -> Result<Fit, FitError> {
    solve(design, response, None, None)
}

/// Weighted least squares: minimises `Σ w (y − Xβ)²` with weights `w ≥ 0` (n), proportional to the inverse variance of each reading.
///
/// Readings of weight 0 take no part and do not count in the degrees of freedom. `residual_sd` is then the standard deviation of a reading of
/// weight 1; residuals are unweighted `y − Xβ`.
///
/// # Errors
/// As [`least_squares`]; also [`FitError::Weight`].
pub fn weighted_least_squares(design: &DMatrix<f64>, response: &[f64], weights: &[f64]) -> Result<Fit, FitError> {
    if weights.len() != design.nrows() {
        return Err(FitError::Lengths { rows: design.nrows(), found: weights.len() });
    }
    if weights.iter().any(|w| !(*w >= 0.0 && w.is_finite())) {
        return Err(FitError::Weight);
    }
    solve(design, response, Some(weights), None)
}

/// Least squares of data held in doubled precision: what decimal numbers lose when they are rounded to doubles is kept.
///
/// `design_rest` (n × p) and `response_rest` (n) are added to `design` and `response`, each far below the resolution of its neighbour. Worth it where
/// the rounding of the data themselves, magnified by the condition of the design, would cost digits (powers far from the origin).
///
/// # Errors
/// As [`least_squares`].
pub fn least_squares_doubled(
    design: &DMatrix<f64>,
    design_rest: &DMatrix<f64>,
    response: &[f64],
    response_rest: &[f64],
) -> Result<Fit, FitError> {
    if design_rest.shape() != design.shape() || response_rest.len() != response.len() {
        return Err(FitError::Lengths { rows: design.nrows(), found: design_rest.nrows().min(response_rest.len()) });
    }
    if design_rest.iter().chain(response_rest).any(|v| !v.is_finite()) {
        return Err(FitError::NotFinite);
    }
    solve(design, response, None, Some((design_rest.as_slice(), response_rest)))
}

fn solve(design: &DMatrix<f64>, response: &[f64], weights: Option<&[f64]>, rests: Option<(&[f64], &[f64])>) -> Result<Fit, FitError> {
    let (rows, columns) = design.shape();
    if rows == 0 || columns == 0 {
        return Err(FitError::Empty);
    }
    if response.len() != rows {
        return Err(FitError::Lengths { rows, found: response.len() });
    }
    if design.iter().chain(response).any(|v| !v.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let mut scaled = design.as_slice().to_vec();
    let mut target = response.to_vec();
    if let Some(weights) = weights {
        for column in scaled.chunks_exact_mut(rows) {
            column.iter_mut().zip(weights).for_each(|(v, w)| *v *= w.sqrt());
        }
        target.iter_mut().zip(weights).for_each(|(v, w)| *v *= w.sqrt());
    }
    let scales: Vec<f64> = scaled.chunks_exact_mut(rows).map(scale_to_unit).collect();
    let factor = Factor::new(&scaled, rows, DEPENDENCE_TOLERANCE);
    let solution = match rests {
        None => refinement::refined(&factor, &scaled, &target, None),
        Some((low, target_low)) => {
            let mut scaled_low = low.to_vec();
            for (column, scale) in scaled_low.chunks_exact_mut(rows).zip(&scales) {
                column.iter_mut().for_each(|v| *v /= scale);
            }
            refinement::refined(&factor, &scaled, &target, Some((&scaled_low, target_low)))
        }
    };
    fit::assemble(&factor, &scales, solution, design, response, weights)
}

/// Divides a column by the power of two that brings its largest entry to between 1 and 2; returns that power (1 for a column of zeros).
fn scale_to_unit(column: &mut [f64]) -> f64 {
    let largest = column.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    if largest == 0.0 {
        return 1.0;
    }
    let scale = largest.log2().floor().exp2();
    column.iter_mut().for_each(|v| *v /= scale);
    scale
}
