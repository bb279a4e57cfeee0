//! A robust taper beside the least-squares one.

use super::Robust;
use super::cut::Cut;
use super::model::Model;
use super::slopes::Slopes;
use super::taper_fit::TaperFit;
use crate::statistics::{Atoms, RobustMethod, RunRows, robust_regression};

/// Tukey's bisquare (constant 4.685, scale by the median absolute residual) on the model of the taper without random terms.
///
/// Huber's with 1.345 where the bisquare does not settle. Too few readings leave the least-squares taper and say so in the method; so does a gauge of such coarse steps
/// that the scale is less than rounding alone makes it, where both tapers differ by no more than a step: half of the readings then lie on a curve by their steps, and
/// those that do not need not stray.
pub(super) fn robust_taper(cut: &Cut<'_>, atoms: &Atoms, fit: &TaperFit) -> Robust {
    let order = if fit.barrel.is_some() { 2 } else { 1 };
    let model = Model::new(cut, order, Slopes::ByDirection, fit.barrel_by_direction);
    let enough = cut.readings() > cut.finishing.len() + model.columns() + 1;
    let tried = [(RobustMethod::TUKEY, "tukey 4.685"), (RobustMethod::HUBER, "huber 1.345")].into_iter().filter(|_| enough);
    // standard deviation of rounding alone
    let rounding_mm = cut.resolution_mm / 12.0_f64.sqrt();
    let found = tried.into_iter().find_map(|(method, name)| {
        let robust = robust_regression(&model, &cut.values, atoms, method);
        let slopes: Option<Vec<f64>> = robust.coefficients.get(..model.slots())?.iter().copied().collect();
        let slopes = slopes.filter(|_| robust.settled)?;
        let value = 2.0 * slopes.iter().sum::<f64>() / slopes.len() as f64;
        if robust.scale < rounding_mm && (value - fit.taper.value).abs() <= cut.resolution_mm {
            let method = "least squares: half of the readings lie on the curve within the gauge’s steps";
            return Some(Robust { method: method.to_owned(), value: fit.taper.value });
        }
        Some(Robust { method: name.to_owned(), value })
    });
    found.unwrap_or_else(|| Robust { method: "least squares: too few readings for a robust fit".to_owned(), value: fit.taper.value })
}
