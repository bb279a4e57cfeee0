//! What the fit would report: the very same fit, over seeded logs of the scheme.

use super::Scheme;
use crate::shape::{TaperUncertainty, taper_uncertainty};
use crate::simulate::{Chance, Nature, read_off};
use crate::trial::{Trial, Truth};
use rayon::prelude::*;

/// Logs of one batch, and batches at most.
const BATCH: u64 = 32;
const BATCHES: u64 = 8;
/// Relative standard error of the root mean square at which it is sure enough.
const SURE: f64 = 0.025;

/// How much work a forecast may take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effort {
    /// This many logs.
    Logs(u64),
    /// Logs until the root mean square is known to 2.5 %, at most 256: schemes of few readings need more.
    UntilSure,
}

/// Uncertainty of the taper that a scheme would give, mm over the tested length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TaperForecast {
    /// Root mean square of the standard uncertainty that the report would state.
    pub standard_uncertainty_mm: f64,
    /// Root mean square of the expanded uncertainty.
    pub expanded_mm: f64,
    /// Effective degrees of freedom, the harmonic mean; `None` when there is no finite number.
    pub effective_dof: Option<f64>,
}

/// What the gauges and the lathe are taken to do in a forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Standard deviation between passes of the taper over the tested length, µm.
    pub between_pass_um: f64,
    /// Noise of the gauges as a multiple of their data sheets.
    pub noise_factor: f64,
}

/// Forecast of the taper's uncertainty under `scheme`, from seeded logs.
///
/// The logs are those of a straight bar: the uncertainty does not depend on the taper but for the small part of the station's scale. `None` when the scheme gives
/// no taper, or for no log.
#[must_use]
pub fn forecast_taper(trial: &Trial, scheme: &Scheme, scatter: Scatter, effort: Effort, seed: u64) -> Option<TaperForecast> {
    // only the finishing passes make the shape
    let passes = Scheme { heavy: None, levels: false, indicator: false, ..scheme.clone() };
    let empty = passes.lay_out(trial);
    let truth = Truth { between_pass_um: Some(scatter.between_pass_um), ..Truth::default() };
    let one = |draw: u64| {
        let own_seed = seed.wrapping_mul(1_000_003).wrapping_add(draw);
        let nature = Nature::stated(&empty, &truth, scatter.noise_factor, &mut Chance::new(own_seed, 0));
        taper_uncertainty(&read_off(&empty, &nature, own_seed), 0)
    };
    let mut all: Vec<TaperUncertainty> = Vec::new();
    let (batch, batches) = match effort {
        Effort::Logs(logs) => (logs, 1),
        Effort::UntilSure => (BATCH, BATCHES),
    };
    for number in 0..batches {
        // gathered in the order of the draws, so that the sums do not depend on threads
        let more: Option<Vec<_>> = (number * batch..(number + 1) * batch).into_par_iter().map(one).collect();
        all.extend(more?);
        if relative_error(&all) <= SURE {
            break;
        }
    }
    let root = |get: fn(&TaperUncertainty) -> f64| (all.iter().map(|one| get(one).powi(2)).sum::<f64>() / all.len() as f64).sqrt();
    let standard_uncertainty_mm = root(|one| one.standard_uncertainty_mm);
    // degrees of freedom vary from log to log: their inverses are averaged, infinite ones counting as 0
    let inverse = all.iter().map(|one| one.effective_dof.map_or(0.0, f64::recip)).sum::<f64>() / all.len().max(1) as f64;
    (!all.is_empty()).then(|| TaperForecast {
        standard_uncertainty_mm,
        expanded_mm: root(|one| one.expanded_mm),
        effective_dof: (inverse > 0.0).then(|| 1.0 / inverse),
    })
}

/// Relative standard error of the root mean square of the standard uncertainties: half that of their mean square.
fn relative_error(all: &[TaperUncertainty]) -> f64 {
    let count = all.len() as f64;
    let squares = || all.iter().map(|one| one.standard_uncertainty_mm.powi(2));
    let mean = squares().sum::<f64>() / count;
    if count < 2.0 || mean <= 0.0 {
        return f64::INFINITY;
    }
    let variance = squares().map(|square| (square - mean).powi(2)).sum::<f64>() / (count - 1.0);
    0.5 * (variance / count).sqrt() / mean
}
