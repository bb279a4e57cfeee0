//! Legendre polynomials on a range scaled to [−1, 1].

use super::doubled::Doubled;
use nalgebra::DMatrix;

/// A range of the independent variable, mapped linearly to [−1, 1].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegendreRange {
    from: f64,
    to: f64,
}

impl LegendreRange {
    /// The range `from` to `to`, in the unit of the variable; `None` unless both are finite and `from < to`.
    #[must_use]
    pub fn new(from: f64, to: f64) -> Option<Self> {
        let sensible = from < to && (to - from).is_finite();
        sensible.then_some(Self { from, to })
    }

    /// The range from the smallest to the largest value; `None` unless all are finite and two differ.
    #[must_use]
    pub fn spanning(values: &[f64]) -> Option<Self> {
        if values.iter().any(|v| !v.is_finite()) {
            return None;
        }
        let from = values.iter().copied().fold(f64::INFINITY, f64::min);
        let to = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Self::new(from, to)
    }

    /// Lower end.
    #[must_use]
    pub fn from(&self) -> f64 {
        self.from
    }

    /// Upper end.
    #[must_use]
    pub fn to(&self) -> f64 {
        self.to
    }

    /// `u = ((z − from) − (to − z))/(to − from)`: exactly −1 and 1 at the ends, and free of cancellation far from the origin.
    #[must_use]
    pub fn scaled(&self, z: f64) -> f64 {
        ((z - self.from) - (self.to - z)) / (self.to - self.from)
    }

    /// Design matrix of n values by `order + 1` columns `P₀ … P_order`.
    ///
    /// On evenly spread values the columns are nearly orthogonal; on uneven ones they are not, so the tests of single terms are not independent.
    #[must_use]
    pub fn design(&self, values: &[f64], order: usize) -> DMatrix<f64> {
        let mut matrix = DMatrix::zeros(values.len(), order + 1);
        for (i, z) in values.iter().enumerate() {
            let u = self.scaled(*z);
            let (mut before, mut now) = (0.0, 1.0);
            for k in 0..=order {
                matrix[(i, k)] = now;
                (before, now) = (now, next_legendre(k, u, now, before));
            }
        }
        matrix
    }

    /// Coefficients of `1, z, z², …` of the polynomial `Σ coefficients[k]·P_k(u(z))`, worked in doubled precision.
    ///
    /// Far from the origin these are huge and cancel: they are for comparison with published tables, never for evaluation.
    #[must_use]
    pub fn monomial_coefficients(&self, coefficients: &[f64]) -> Vec<f64> {
        let width = Doubled::new(self.to).plus(-self.from).value();
        let slope = Doubled::new(2.0).over(width);
        let shift = Doubled::new(self.from).plus(self.to).over(width).negated();
        // Clenshaw's recurrence on polynomials in z: b_k = c_k + (2k+1)/(k+1) u b_(k+1) − (k+1)/(k+2) b_(k+2).
        let n = coefficients.len();
        let mut later = vec![Doubled::default(); n];
        let mut latest = vec![Doubled::default(); n];
        for (k, c) in coefficients.iter().enumerate().rev() {
            let count = k as f64;
            let mut now = vec![Doubled::default(); n];
            for (power, slot) in now.iter_mut().enumerate() {
                let same = latest.get(power).copied().unwrap_or_default().times_doubled(shift);
                let raised = power.checked_sub(1).and_then(|p| latest.get(p)).copied().unwrap_or_default().times_doubled(slope);
                let first = same.plus_doubled(raised).times(2.0 * count + 1.0).over(count + 1.0);
                let second = later.get(power).copied().unwrap_or_default().times(-(count + 1.0)).over(count + 2.0);
                *slot = first.plus_doubled(second);
            }
            if let Some(constant) = now.first_mut() {
                *constant = constant.plus(*c);
            }
            later = latest;
            latest = now;
        }
        latest.into_iter().map(Doubled::value).collect()
    }
}

/// `P_(k+1)(u)` from `P_k` and `P_(k−1)` (Abramowitz & Stegun 22.7.10).
#[inline]
fn next_legendre(k: usize, u: f64, now: f64, before: f64) -> f64 {
    let count = k as f64;
    ((2.0 * count + 1.0) * u * now - count * before) / (count + 1.0)
}

/// `P₀(u) … P_order(u)`.
///
/// At u = 1 all are 1; at u = 0 they are 1, 0, −½, 0.
#[must_use]
pub fn legendre_values(order: usize, u: f64) -> Vec<f64> {
    let mut values = Vec::with_capacity(order + 1);
    let (mut before, mut now) = (0.0, 1.0);
    for k in 0..=order {
        values.push(now);
        (before, now) = (now, next_legendre(k, u, now, before));
    }
    values
}
