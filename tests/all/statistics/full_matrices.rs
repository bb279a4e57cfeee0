//! A mixed model written out in full matrices, as the textbooks have it (Laird & Ware 1982).

use nalgebra::{DMatrix, DVector, Matrix2};
use taperwright::statistics::mixed::{Row, Terms};

/// Contrasts of all readings with unit noise, their columns, and the design of the fixed coefficients, group below group.
pub struct Full {
    /// Contrasts.
    pub y: DVector<f64>,
    /// Columns of the random terms, a matrix a group.
    pub columns: Vec<DMatrix<f64>>,
    /// Columns of the fixed coefficients.
    pub design: DMatrix<f64>,
}

/// A group's columns follow these fixed coefficients.
pub fn terms(follows: &[usize]) -> Terms {
    let mut terms = Terms::zeros();
    follows.iter().enumerate().for_each(|(column, coefficient)| terms[(column, *coefficient)] = 1.0);
    terms
}

impl Full {
    /// `own_level`: a constant of each group is taken out by orthonormal contrasts.
    pub fn new(groups: &[(Vec<Row>, Terms)], fixed: usize, own_level: bool) -> Self {
        let (mut y, mut columns, mut design) = (Vec::new(), Vec::new(), Vec::new());
        for (rows, terms) in groups {
            let root = DVector::from_iterator(rows.len(), rows.iter().map(|row| row.2.sqrt()));
            let n = rows.len();
            let contrasts = if own_level {
                let away = DMatrix::identity(n, n) - &root * root.transpose() / root.norm_squared();
                let eigen = away.symmetric_eigen();
                let kept: Vec<_> =
                    (0..n).filter(|k| eigen.eigenvalues[*k] > 0.5).map(|k| eigen.eigenvectors.column(k).transpose()).collect();
                DMatrix::from_rows(&kept)
            } else {
                DMatrix::identity(n, n)
            };
            let z = &contrasts * DMatrix::from_fn(n, 2, |i, j| root[i] * rows[i].0[j]);
            y.extend((&contrasts * DVector::from_fn(n, |i, _| root[i] * rows[i].1)).iter().copied());
            let own = &z * DMatrix::from_fn(2, fixed, |i, j| terms[(i, j)]);
            design.extend(own.row_iter().map(nalgebra::Matrix::into_owned));
            columns.push(z);
        }
        Self { y: DVector::from_vec(y), columns, design: DMatrix::from_rows(&design) }
    }

    /// Derivative of the covariance with respect to the noise (`None`) or to a structure.
    pub fn part(&self, structure: Option<&Matrix2<f64>>) -> DMatrix<f64> {
        let Some(structure) = structure else { return DMatrix::identity(self.y.len(), self.y.len()) };
        let mut part = DMatrix::zeros(self.y.len(), self.y.len());
        let mut at = 0;
        for z in &self.columns {
            let n = z.nrows();
            part.view_mut((at, at), (n, n)).copy_from(&(z * structure * z.transpose()));
            at += n;
        }
        part
    }

    pub fn covariance(&self, noise: f64, random: &Matrix2<f64>) -> DMatrix<f64> {
        self.part(None) * noise + self.part(Some(random))
    }

    /// `P = V⁻¹ − V⁻¹X(X'V⁻¹X)⁻¹X'V⁻¹`, `(X'V⁻¹X)⁻¹` and `V⁻¹`.
    pub fn projection(&self, v: &DMatrix<f64>) -> [DMatrix<f64>; 3] {
        let inverse = v.clone().try_inverse().unwrap();
        let covariance = (self.design.transpose() * &inverse * &self.design).try_inverse().unwrap();
        let p = &inverse - &inverse * &self.design * &covariance * self.design.transpose() * &inverse;
        [p, covariance, inverse]
    }

    /// `−2 ln` restricted likelihood: `(n − p) ln 2π + ln|V| + ln|X'V⁻¹X| + y'Py`.
    pub fn deviance(&self, noise: f64, random: &Matrix2<f64>) -> f64 {
        let v = self.covariance(noise, random);
        let [p, covariance, _] = self.projection(&v);
        let count = (self.y.len() - self.design.ncols()) as f64;
        count * std::f64::consts::TAU.ln() + v.determinant().ln() - covariance.determinant().ln() + self.y.dot(&(p * &self.y))
    }
}
