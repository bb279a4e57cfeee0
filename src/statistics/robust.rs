//! Robust regression: Huber's and Tukey's M-estimates.

use super::least_squares::{Fit, FitError, least_squares, quick_coefficients};
use super::summary::median;
use nalgebra::DMatrix;

/// Weight function of an M-estimate, with its tuning constant in units of the scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RobustMethod {
    /// Huber (1964): weight 1 up to `k`, then `k/|u|`. `k` = 1.345 keeps 95 % efficiency under normal scatter.
    Huber(f64),
    /// Tukey's bisquare (Beaton & Tukey 1974): weight `(1 − (u/c)²)²` up to `c`, then 0. `c` = 4.685 keeps 95 %.
    Tukey(f64),
}

impl RobustMethod {
    /// Huber with 1.345.
    pub const HUBER: Self = Self::Huber(1.345);
    /// Tukey with 4.685.
    pub const TUKEY: Self = Self::Tukey(4.685);

    fn weight(self, u: f64) -> f64 {
        match self {
            Self::Huber(k) => {
                if u.abs() <= k {
                    1.0
                } else {
                    k / u.abs()
                }
            }
            Self::Tukey(c) => {
                let part = (u / c) * (u / c);
                if part < 1.0 { (1.0 - part) * (1.0 - part) } else { 0.0 }
            }
        }
    }

    /// Derivative of `u·weight(u)`.
    fn slope(self, u: f64) -> f64 {
        match self {
            Self::Huber(k) => f64::from(u.abs() <= k),
            Self::Tukey(c) => {
                let part = (u / c) * (u / c);
                if part < 1.0 { (1.0 - part) * (1.0 - 5.0 * part) } else { 0.0 }
            }
        }
    }
}

/// A robust fit.
#[derive(Debug, Clone, PartialEq)]
pub struct RobustFit {
    /// One entry a column; `None` where the data cannot give the term.
    pub coefficients: Vec<Option<f64>>,
    /// Standard errors (Huber 1981, 6.5 and 6.8); `None` where missing, without degrees of freedom or at scale 0.
    pub standard_errors: Vec<Option<f64>>,
    /// Scale of the scatter: median |residual|/0.6745.
    pub scale: f64,
    /// Final weights, 0 to 1.
    pub weights: Vec<f64>,
    /// Whether the iteration settled.
    pub settled: bool,
}

/// `Φ⁻¹(0.75)`, four digits as the reference programs use it: median absolute deviation of a normal with standard deviation 1.
const MAD_OF_NORMAL: f64 = 0.6745;
const MOST_ROUNDS: usize = 500;
/// Scale, relative to the largest response, that counts as 0: readings in coarse steps leave half the residuals at rounding errors.
const NO_SCALE: f64 = 1e-11;

/// M-estimate of `response` (n) on `design` (n × p) by iteratively reweighted least squares, scale re-estimated each round by the median absolute
/// residual over 0.6745.
///
/// Huber starts from least squares, Tukey from Huber. Where half the residuals are 0 but for rounding (below 10⁻¹¹ of the largest response) the
/// scale is 0 and the fit so far is returned, which is then near the least absolute residuals.
/// No random numbers: the same data give the same answer.
///
/// # Errors
/// As [`least_squares`].
pub fn robust_regression(design: &DMatrix<f64>, response: &[f64], method: RobustMethod) -> Result<RobustFit, FitError> {
    let plain = least_squares(design, response)?;
    robust_from(design, response, &plain, method)
}

/// As [`robust_regression`], from a plain fit already made of the same data.
///
/// # Errors
/// As [`least_squares`].
pub fn robust_from(design: &DMatrix<f64>, response: &[f64], plain: &Fit, method: RobustMethod) -> Result<RobustFit, FitError> {
    let start = Iterate {
        coefficients: plain.coefficients().to_vec(),
        residuals: plain.residuals().to_vec(),
        weights: vec![1.0; response.len()],
        scale: 0.0,
        settled: false,
    };
    let end = match method {
        RobustMethod::Huber(_) => iterate(design, response, start, method)?,
        RobustMethod::Tukey(_) => iterate(design, response, iterate(design, response, start, RobustMethod::HUBER)?, method)?,
    };
    let standard_errors = standard_errors(plain, &end, method);
    Ok(RobustFit { coefficients: end.coefficients, standard_errors, scale: end.scale, weights: end.weights, settled: end.settled })
}

struct Iterate {
    coefficients: Vec<Option<f64>>,
    residuals: Vec<f64>,
    weights: Vec<f64>,
    scale: f64,
    settled: bool,
}

fn iterate(design: &DMatrix<f64>, response: &[f64], mut now: Iterate, method: RobustMethod) -> Result<Iterate, FitError> {
    let size = response.iter().fold(0.0_f64, |m, y| m.max(y.abs()));
    let mut sizes: Vec<f64> = Vec::with_capacity(response.len());
    now.settled = false;
    for _ in 0..MOST_ROUNDS {
        sizes.clear();
        sizes.extend(now.residuals.iter().map(|r| r.abs()));
        now.scale = median(&sizes).unwrap_or(0.0) / MAD_OF_NORMAL;
        if now.scale <= size * NO_SCALE {
            now.scale = 0.0;
            now.settled = true;
            break;
        }
        now.weights.iter_mut().zip(&now.residuals).for_each(|(w, r)| *w = method.weight(r / now.scale));
        now.coefficients = quick_coefficients(design, response, &now.weights)?;
        let mut change = 0.0_f64;
        for (i, (r, y)) in now.residuals.iter_mut().zip(response).enumerate() {
            let fitted: f64 = design.row(i).iter().zip(&now.coefficients).map(|(x, c)| x * c.unwrap_or(0.0)).sum();
            let new = y - fitted;
            change = change.max((new - *r).abs());
            *r = new;
        }
        if change <= 1e-11 * now.scale {
            now.settled = true;
            break;
        }
    }
    Ok(now)
}

fn standard_errors(plain: &Fit, end: &Iterate, method: RobustMethod) -> Vec<Option<f64>> {
    let n = end.residuals.len() as f64;
    let dof = plain.dof() as f64;
    let slopes: Vec<f64> = end.residuals.iter().map(|r| method.slope(r / end.scale)).collect();
    let mean = slopes.iter().sum::<f64>() / n;
    let spread = slopes.iter().map(|s| (s - mean) * (s - mean)).sum::<f64>() / (n - 1.0);
    let square: f64 = end.residuals.iter().zip(&end.weights).map(|(r, w)| r * w * r * w).sum();
    let factor = (square / dof).sqrt() * (1.0 + plain.rank() as f64 * spread / (n * mean * mean)) / mean;
    (0..end.coefficients.len())
        .map(|k| {
            let error = plain.unscaled_covariance(k, k)?.max(0.0).sqrt() * factor;
            (end.scale > 0.0 && dof > 0.0 && error.is_finite()).then_some(error)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three series of eight readings in steps of a tenth of a thou, one of them wild. Half the residuals vanish but for the rounding
    /// of the diameters to binary; a scale of that size would keep the iteration going for ever.
    #[test]
    fn readings_in_coarse_steps_settle() {
        let tenths = [62, 63, 64, 64, 66, 67, 86, 69, 23, 23, 24, 25, 26, 27, 28, 29, -18, -17, -16, -15, -14, -14, -11, -12];
        let response: Vec<f64> = tenths.iter().map(|t| (1.49 + f64::from(*t) * 1e-4) * 25.4 - 1.4962 * 25.4).collect();
        let x = |row: usize| -1.0 + 2.0 * (row % 8) as f64 / 7.0;
        let design = DMatrix::from_fn(24, 5, |row, column| match column {
            3 => x(row),
            4 => 1.5 * x(row) * x(row) - 0.5,
            _ => f64::from(u8::from(row / 8 == column)),
        });
        for method in [RobustMethod::HUBER, RobustMethod::TUKEY] {
            let robust = robust_regression(&design, &response, method).unwrap();
            assert!(robust.settled, "{method:?}");
            // Seven steps over the length of each series without the wild reading: half of that is the slope.
            let slope = robust.coefficients[3].unwrap();
            assert!((slope - 3.5 * 0.00254).abs() < 0.2 * 0.00254, "{method:?}: slope {slope}");
        }
    }
}
