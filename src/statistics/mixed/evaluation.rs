use super::{Coefficients, FixedCovariance, Group};
use nalgebra::{Matrix2, Vector2};

/// Generalised least squares at one assumed covariance of the random terms.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaluation {
    /// Fixed coefficients `β`.
    pub coefficients: Coefficients,
    /// Covariance of `β` divided by `σ²`.
    pub unscaled_covariance: FixedCovariance,
    /// The part of that which the readings' own noise makes; the rest comes from between the groups.
    pub unscaled_within: FixedCovariance,
    /// `σ²(y − Xβ)'V⁻¹(y − Xβ)`.
    pub weighted_square: f64,
    /// `ln|V/σ²| + ln|σ²X'V⁻¹X|`.
    pub log_determinant: f64,
    /// Contrasts minus fixed coefficients.
    pub dof: f64,
}

impl Evaluation {
    /// `−2 ln` restricted likelihood at noise `σ²`: `dof·ln(2πσ²) + log_determinant + weighted_square/σ²`.
    ///
    /// Equal to the REML criterion of general mixed-model programs (the term `ln|X'X|` is left out).
    #[must_use]
    pub fn deviance(&self, sigma_square: f64) -> f64 {
        self.dof * (std::f64::consts::TAU * sigma_square).ln() + self.log_determinant + self.weighted_square / sigma_square
    }

    /// The noise variance that maximises the restricted likelihood, `weighted_square/dof`; `None` without degrees of freedom.
    #[must_use]
    pub fn profiled_sigma_square(&self) -> Option<f64> {
        (self.dof > 0.0).then(|| self.weighted_square / self.dof)
    }
}

/// `(I + RS)⁻¹` and the determinant of `I + RS`.
pub(super) fn shrinkage(ratio: &Matrix2<f64>, gram: &Matrix2<f64>) -> (Matrix2<f64>, f64) {
    let a = Matrix2::identity() + ratio * gram;
    let determinant = a.determinant();
    (Matrix2::new(a[(1, 1)], -a[(0, 1)], -a[(1, 0)], a[(0, 0)]) / determinant, determinant)
}

/// Coefficients of the `fixed` first columns by generalised least squares, with `ratio = D/σ²`.
///
/// With `T = (I + RS)⁻¹` and `S = Z'WZ` per group, `σ²Z'V⁻¹Z = ST` and `σ²Z'V⁻¹y = T'Z'Wy` (Woodbury's identity), so that
/// neither `D` nor `S` need have an inverse. Returns `None` when the groups do not determine all fixed coefficients.
///
/// Laird, Ware (1982), Biometrics 38:963; Pinheiro, Bates (2000), section 2.2.
#[must_use]
pub fn evaluate(groups: &[Group], fixed: usize, ratio: &Matrix2<f64>) -> Option<Evaluation> {
    let mut information = FixedCovariance::zeros();
    let mut within = FixedCovariance::zeros();
    let mut right = Coefficients::zeros();
    let mut square = 0.0;
    let mut log_determinant = 0.0;
    let mut contrasts = 0.0;
    for group in groups {
        let (t, determinant) = shrinkage(ratio, &group.gram);
        let weight = group.gram * t;
        let reduced: Vector2<f64> = t.transpose() * group.cross;
        information += group.terms.transpose() * weight * group.terms;
        within += group.terms.transpose() * (t.transpose() * weight) * group.terms;
        right += group.terms.transpose() * reduced;
        square += group.square - group.cross.dot(&(ratio * reduced));
        log_determinant += determinant.ln();
        contrasts += group.contrasts;
    }
    for unused in fixed..super::FIXED {
        information[(unused, unused)] = 1.0;
    }
    let (covariance, log_information) = invert(&information)?;
    let mut unscaled_covariance = covariance;
    for unused in fixed..super::FIXED {
        unscaled_covariance[(unused, unused)] = 0.0;
    }
    let coefficients = unscaled_covariance * right;
    Some(Evaluation {
        unscaled_within: unscaled_covariance * within * unscaled_covariance,
        weighted_square: (square - right.dot(&coefficients)).max(0.0),
        log_determinant: log_determinant + log_information,
        dof: contrasts - fixed as f64,
        coefficients,
        unscaled_covariance,
    })
}

/// Inverse and log-determinant of a symmetric matrix, scaled to unit diagonal first; `None` when it is singular.
fn invert(matrix: &FixedCovariance) -> Option<(FixedCovariance, f64)> {
    let mut scale = Coefficients::zeros();
    for i in 0..super::FIXED {
        scale[i] = matrix[(i, i)].sqrt().recip();
    }
    let scaling = FixedCovariance::from_diagonal(&scale);
    let factor = (scaling * matrix * scaling).cholesky()?;
    let smallest = factor.l_dirty().diagonal().min();
    if smallest < 1e-6 {
        return None;
    }
    let log_determinant = 2.0 * factor.l_dirty().diagonal().map(f64::ln).sum() - 2.0 * scale.map(f64::ln).sum();
    Some((scaling * factor.inverse() * scaling, log_determinant))
}
