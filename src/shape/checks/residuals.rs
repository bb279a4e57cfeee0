//! Residuals of a fit, run by run.

use super::super::pooled::PooledFit;
use crate::statistics::{Atoms, RunRows};

/// Leverage so near 1 that a reading fits itself and says nothing about itself.
const FITS_ITSELF: f64 = 1.0 - 1e-9;

/// What a residual of a run is multiplied by for equal variance, `√w/√(1−h)`; `None` for a run whose readings fit themselves. `room` is scratch space of the fit's basis.
pub(super) fn scale(drawn: &PooledFit<'_>, block: usize, run: usize, room: &mut [f64]) -> Option<f64> {
    let leverage = drawn.fit.leverage(&drawn.model, block, run, room);
    (leverage < FITS_ITSELF).then(|| drawn.model.weight(run).sqrt() / (1.0 - leverage).sqrt())
}

/// Residuals of a run scaled so, each with how often it came.
pub(super) fn scaled<'a, 'v>(
    drawn: &PooledFit<'_>,
    atoms: &'a Atoms<'v>,
    block: usize,
    run: usize,
    room: &mut [f64],
) -> Option<impl Iterator<Item = (f64, f64)> + use<'a, 'v>> {
    let fitted = drawn.fit.fitted(&drawn.model, block, run, room);
    let root = scale(drawn, block, run, room)?;
    Some(atoms.run(run).map(move |(value, count)| (root * (value - fitted), count)))
}
