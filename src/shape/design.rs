//! The drawn model as a dense design, for tests that need its columns.

use super::cut::Cut;
use super::slopes::Slopes;
use crate::statistics::legendre_values;
use nalgebra::DMatrix;

/// Work, readings × terms², up to which the dense tests are made.
const MOST_WORK: f64 = 3e7;

/// Rows scaled by `√weight`: one column a pass, then Legendre terms: slopes as `slopes` says, all terms so when `split`.
pub(super) struct Design {
    /// n readings by p terms.
    pub matrix: DMatrix<f64>,
    /// `√weight·(diameter − first diameter)`, mm.
    pub response: Vec<f64>,
    /// Rows at which a pass begins, the first one left out.
    pub breaks: Vec<usize>,
    /// Column of the first slope.
    pub first_term: usize,
    /// Number of slopes.
    pub slots: usize,
}

/// The design at `order`, or `None` when it would be too large for the tests that need it.
pub(super) fn design(cut: &Cut<'_>, order: usize, slopes: Slopes, split: bool) -> Option<Design> {
    let slots = slopes.count(cut);
    let passes = cut.finishing.len();
    let terms = passes + if split { slots * order } else { slots + order - 1 };
    let readings: usize = cut.finishing.iter().map(|p| p.readings.len()).sum();
    if readings as f64 * (terms * terms) as f64 > MOST_WORK {
        return None;
    }
    let origin = cut.finishing.first()?.readings.first()?.diameter_mm;
    let mut matrix = DMatrix::zeros(readings, terms);
    let mut response = Vec::with_capacity(readings);
    let mut breaks = Vec::with_capacity(passes);
    let mut row = 0;
    for (index, pass) in cut.finishing.iter().enumerate() {
        if index > 0 {
            breaks.push(row);
        }
        let slot = slopes.slot(cut, index, pass);
        for reading in &pass.readings {
            let root = reading.weight.sqrt();
            matrix[(row, index)] = root;
            for (degree, value) in legendre_values(order, reading.x).into_iter().enumerate().skip(1) {
                let place = if degree == 1 || split { (degree - 1) * slots + slot } else { slots + degree - 2 };
                matrix[(row, passes + place)] = root * value;
            }
            response.push(root * (reading.diameter_mm - origin));
            row += 1;
        }
    }
    Some(Design { matrix, response, breaks, first_term: passes, slots })
}
