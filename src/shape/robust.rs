//! A robust taper beside the least-squares one.

use super::Robust;
use super::cut::Cut;
use super::design::design;
use super::slopes::Slopes;
use super::taper_fit::TaperFit;
use crate::statistics::{RobustMethod, robust_regression};

/// Tukey's bisquare (constant 4.685, scale by the median absolute residual) on the model of the taper without random terms.
///
/// Huber's with 1.345 where the bisquare does not settle. Too few readings, or a log too large for it, leave the least-squares
/// taper and say so in the method.
pub(super) fn robust_taper(cut: &Cut<'_>, fit: &TaperFit) -> Robust {
    let order = if fit.barrel.is_some() { 2 } else { 1 };
    let split = fit.barrel_by_direction;
    let tried = design(cut, order, Slopes::ByDirection, split).filter(|d| d.response.len() > d.matrix.ncols() + 1).and_then(|design| {
        [(RobustMethod::TUKEY, "tukey 4.685"), (RobustMethod::HUBER, "huber 1.345")].into_iter().find_map(|(method, name)| {
            let robust = robust_regression(&design.matrix, &design.response, method).ok().filter(|r| r.settled)?;
            let slopes: Option<Vec<f64>> =
                robust.coefficients.get(design.first_term..design.first_term + design.slots)?.iter().copied().collect();
            let slopes = slopes?;
            Some(Robust { method: name.to_owned(), value: 2.0 * slopes.iter().sum::<f64>() / slopes.len() as f64 })
        })
    });
    tried.unwrap_or_else(|| Robust { method: "least squares: too few readings for a robust fit".to_owned(), value: fit.taper.value })
}
