//! Orthonormal bases of the columns of a design.

use super::DEPENDENCE_TOLERANCE;
use super::householder::Factor;
use nalgebra::DMatrix;

/// Orthonormal columns of the whole space, the first rank of them spanning `design`, whose columns have a length of about 1: n × n values.
pub(in crate::statistics) fn complete_basis(design: &DMatrix<f64>) -> Vec<f64> {
    columns_of_q(&Factor::new(design.as_slice(), design.nrows(), DEPENDENCE_TOLERANCE), design.nrows())
}

fn columns_of_q(factor: &Factor, count: usize) -> Vec<f64> {
    let rows = factor.rows();
    let mut basis = vec![0.0; rows * count];
    for (k, column) in basis.chunks_exact_mut(rows.max(1)).enumerate() {
        if let Some(slot) = column.get_mut(k) {
            *slot = 1.0;
        }
        factor.apply(column);
    }
    basis
}
