//! What the fit would report: the very same fit, over seeded logs of the scheme.

use super::Scheme;
use crate::shape::taper_uncertainty;
use crate::simulate::{Chance, Nature, read_off};
use crate::trial::{Trial, Truth};
use rayon::prelude::*;

/// Uncertainty of the taper that a scheme would give, mm over the tested length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TaperForecast {
    /// Root mean square of the standard uncertainty that the report would state.
    pub standard_uncertainty_mm: f64,
    /// Root mean square of the expanded uncertainty.
    pub expanded_mm: f64,
}

/// What the gauges and the lathe are taken to do in a forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Standard deviation between passes of the taper over the tested length, µm.
    pub between_pass_um: f64,
    /// Noise of the gauges as a multiple of their data sheets.
    pub noise_factor: f64,
}

/// Forecast of the taper's uncertainty under `scheme`, from `draws` seeded logs.
///
/// The logs are those of a straight bar: the uncertainty does not depend on the taper but for the small part of the station's scale. `None` when the scheme gives
/// no taper, or for no draw.
#[must_use]
pub fn forecast_taper(trial: &Trial, scheme: &Scheme, scatter: Scatter, draws: u64, seed: u64) -> Option<TaperForecast> {
    // only the finishing passes make the shape
    let passes = Scheme { heavy: false, levels: false, indicator: false, ..scheme.clone() };
    let empty = passes.lay_out(trial);
    let truth = Truth { between_pass_um: Some(scatter.between_pass_um), ..Truth::default() };
    let one = |draw: u64| {
        let own_seed = seed.wrapping_mul(1_000_003).wrapping_add(draw);
        let nature = Nature::stated(&empty, &truth, scatter.noise_factor, &mut Chance::new(own_seed, 0));
        taper_uncertainty(&read_off(&empty, &nature, own_seed), 0)
    };
    // gathered in the order of the draws, so that the sums do not depend on threads
    let all: Vec<(f64, f64)> = (0..draws).into_par_iter().map(one).collect::<Option<_>>()?;
    let root = |get: fn(&(f64, f64)) -> f64| (all.iter().map(|one| get(one).powi(2)).sum::<f64>() / all.len() as f64).sqrt();
    (!all.is_empty()).then(|| TaperForecast { standard_uncertainty_mm: root(|one| one.0), expanded_mm: root(|one| one.1) })
}
