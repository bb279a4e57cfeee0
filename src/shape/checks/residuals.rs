//! Residuals of a fit, run by run.

use super::super::pooled::PooledFit;
use crate::statistics::{Atoms, RunRows};

/// Leverage so near 1 that a reading fits itself and says nothing about itself.
const FITS_ITSELF: f64 = 1.0 - 1e-9;

/// Residuals `√w·e/√(1−h)` of a run, each with how often it came; `None` for a run whose readings fit themselves.
pub(super) fn scaled<'a>(
    drawn: &PooledFit<'_>,
    atoms: &'a Atoms,
    block: usize,
    run: usize,
) -> Option<impl Iterator<Item = (f64, f64)> + 'a> {
    let mut room = drawn.fit.basis.scratch();
    let fitted = drawn.fit.fitted(&drawn.model, block, run, &mut room);
    let leverage = drawn.fit.leverage(&drawn.model, block, run, &mut room);
    let root = drawn.model.weight(run).sqrt() / (1.0 - leverage).sqrt();
    (leverage < FITS_ITSELF).then(|| atoms.run(run).map(move |(value, count)| (root * (value - fitted), count)))
}
