//! Lack of fit of the drawn curve against pure error.

use super::LackOfFit;
use super::cut::Cut;
use super::pooled::PooledFit;
use crate::statistics::distributions::f_sf;

/// F of lack of fit: repeats at one station within one pass are the pure error (e-Handbook of Statistical Methods, 4.4.4.6).
///
/// `F = ((RSS − SS_pe)/(dof − dof_pe)) / (SS_pe/dof_pe)`; `None` without repeats, without room between curve and stations, or
/// where all repeats agree exactly.
pub(super) fn lack_of_fit(cut: &Cut<'_>, drawn: &PooledFit) -> Option<LackOfFit> {
    let mut pure_square = 0.0;
    let mut dof2 = 0.0;
    for pass in &cut.finishing {
        let mut readings: Vec<_> = pass.readings.iter().map(|r| (r.x, r.source.diameter_mm, r.weight)).collect();
        readings.sort_by(|a, b| a.0.total_cmp(&b.0));
        for place in readings.chunk_by(|a, b| (a.0 - b.0).abs() < 1e-9) {
            let origin = place.first().map_or(0.0, |r| r.1);
            let weights: f64 = place.iter().map(|r| r.2).sum();
            let mean = place.iter().map(|r| r.2 * (r.1 - origin)).sum::<f64>() / weights;
            pure_square += place.iter().map(|r| r.2 * (r.1 - origin - mean).powi(2)).sum::<f64>();
            dof2 += place.len() as f64 - 1.0;
        }
    }
    let dof1 = drawn.dof - dof2;
    if dof2 < 1.0 || dof1 < 1.0 || pure_square <= 0.0 {
        return None;
    }
    let f = ((drawn.residual_square - pure_square).max(0.0) / dof1) / (pure_square / dof2);
    Some(LackOfFit { f, dof1, dof2, p: f_sf(f, dof1, dof2)? })
}
