//! Orthonormal bases of the columns of a design.

use super::householder::Factor;
use super::{DEPENDENCE_TOLERANCE, scale_to_unit};
use nalgebra::DMatrix;

fn factor_of(design: &DMatrix<f64>) -> Factor {
    let rows = design.nrows();
    let mut scaled = design.as_slice().to_vec();
    if rows > 0 {
        scaled.chunks_exact_mut(rows).for_each(|column| {
            scale_to_unit(column);
        });
    }
    Factor::new(&scaled, rows, DEPENDENCE_TOLERANCE)
}

/// Orthonormal columns of the whole space, the first rank of them spanning `design`: n × n values.
pub(in crate::statistics) fn complete_basis(design: &DMatrix<f64>) -> Vec<f64> {
    columns_of_q(&factor_of(design), design.nrows())
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
