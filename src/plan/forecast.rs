//! What the fit would report: the very same fit, over seeded logs of the scheme.

use super::Scheme;
use super::controls::{Controls, PassErrors, controlled_mean};
use crate::shape::{TaperUncertainty, taper_uncertainty};
use crate::simulate::{Chance, Nature, as_read, read_off};
use crate::trial::{Trial, Truth};
use rayon::prelude::*;

/// What a forecast is for, and so how many logs it takes and which: those of one purpose have no part in another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Purpose {
    /// To choose among schemes: until it is clear on which side of the wanted expanded uncertainty, mm, it lies (three standard errors), or to 0.5 %.
    Search {
        /// The wanted expanded uncertainty; `None` when nothing is wanted.
        wanted_mm: Option<f64>,
    },
    /// What a plan promises: to [`SURE`].
    Promise,
    /// What is shown beside the promise: to 1 %.
    Beside,
}

/// Relative standard error of the expanded uncertainty at which a promise is sure enough.
pub const SURE: f64 = 0.003;
/// The same for what only helps to choose, and for what stands beside the promise.
const FAIRLY_SURE: f64 = 0.005;
const SURE_ENOUGH_TO_SHOW: f64 = 0.01;
/// Standard errors between a forecast and the wanted uncertainty from which the search looks no further.
const CLEAR: f64 = 3.0;
/// Logs to begin with, doubled until they are enough, and at most.
const FIRST: u64 = 12;
const MOST: u64 = 384;
/// Logs of a promise at least: of fewer the standard error itself is known too poorly.
const LEAST_OF_A_PROMISE: u64 = 96;
/// Share of a step from which a reading's noise hides its rounding.
const HIDES_ROUNDING: f64 = 0.5;

impl Purpose {
    /// The first of its logs.
    fn first(self) -> u64 {
        match self {
            Self::Search { .. } => 0,
            Self::Promise => 300_000,
            Self::Beside => 600_000,
        }
    }

    fn is_served_by(self, found: &TaperForecast) -> bool {
        let error = found.relative_error;
        match self {
            Self::Search { wanted_mm: Some(wanted) } => {
                error <= FAIRLY_SURE || (found.expanded_mm - wanted).abs() > CLEAR * error * found.expanded_mm
            }
            Self::Promise => error <= SURE && found.logs >= LEAST_OF_A_PROMISE,
            Self::Search { wanted_mm: None } => error <= FAIRLY_SURE,
            Self::Beside => error <= SURE_ENOUGH_TO_SHOW,
        }
    }
}

/// Uncertainty of the taper that a scheme would give, mm over the tested length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TaperForecast {
    /// Root mean square of the standard uncertainty that the report would state.
    pub standard_uncertainty_mm: f64,
    /// Root mean square of the expanded uncertainty.
    pub expanded_mm: f64,
    /// Standard error of that by the number of logs, as a share of it.
    pub relative_error: f64,
    /// Standard deviation of the expanded uncertainty from log to log, mm.
    pub scatter_mm: f64,
    /// Logs that were simulated.
    pub logs: u64,
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
/// The logs are those of a straight bar: the uncertainty does not depend on the taper but for the small part of the station's scale. Root mean squares are those over all
/// logs, estimated from a few hundred at most with [`Controls`]. `None` when the scheme gives no taper.
#[must_use]
pub fn forecast_taper(trial: &Trial, scheme: &Scheme, scatter: Scatter, purpose: Purpose, seed: u64) -> Option<TaperForecast> {
    // only the finishing passes make the shape
    let passes = Scheme { heavy: None, levels: false, indicator: false, ..scheme.clone() };
    let empty = passes.lay_out(trial);
    let first = seed.wrapping_mul(1_000_003).wrapping_add(purpose.first());
    let mut all: Vec<(TaperUncertainty, Controls)> = Vec::new();
    let mut wanted = FIRST;
    loop {
        // gathered in the order of the draws, so that the sums do not depend on threads
        let more: Option<Vec<_>> =
            (all.len() as u64..wanted).into_par_iter().map(|draw| one_log(&empty, scatter, first.wrapping_add(draw))).collect();
        all.extend(more?);
        let found = summed(&all)?;
        if purpose.is_served_by(&found) || wanted >= MOST {
            return Some(found);
        }
        wanted *= 2;
    }
}

/// What the report would state of one simulated log, and the log's controls.
///
/// Where a reading's noise is at least [`HIDES_ROUNDING`] of a step the controls take the errors as read, of variance `u² + step²/12` (Sheppard, 1899); rounding errors
/// are then as good as independent of the rest. Below, the errors before they are rounded, of variance `u²`.
fn one_log(empty: &Trial, scatter: Scatter, seed: u64) -> Option<(TaperUncertainty, Controls)> {
    let truth = Truth { between_pass_um: Some(scatter.between_pass_um), ..Truth::default() };
    let nature = Nature::stated(empty, &truth, scatter.noise_factor, &mut Chance::new(seed, 0));
    let gauge = &empty.gauge.diameter;
    let (u_mm, step_mm) = (scatter.noise_factor * gauge.u_mm, gauge.resolution_mm);
    let rounded = u_mm >= HIDES_ROUNDING * step_mm;
    let mut fine = empty.clone();
    fine.gauge.diameter.resolution_mm = 0.0;
    let mut log = read_off(&fine, &nature, seed);
    log.gauge.diameter.resolution_mm = step_mm;
    let mut passes: Vec<(u32, PassErrors)> = Vec::new();
    log.diameters.change(|_, reading| {
        if passes.last().is_none_or(|(pass, _)| *pass != reading.pass) {
            passes.push((reading.pass, PassErrors { direction: reading.direction, stations_mm: Vec::new(), errors_mm: Vec::new() }));
        }
        let read_mm = as_read(reading.read_mm, step_mm);
        if let Some((_, errors)) = passes.last_mut() {
            errors.stations_mm.push(reading.station_mm);
            errors.errors_mm.push(if rounded { read_mm } else { reading.read_mm } - empty.bar.diameter_mm);
        }
        (reading.read_mm, reading.diameter_mm) = (read_mm, read_mm);
    });
    let passes: Vec<PassErrors> = passes.into_iter().map(|(_, errors)| errors).collect();
    let variance_mm2 = u_mm * u_mm + if rounded { step_mm * step_mm / 12.0 } else { 0.0 };
    Some((taper_uncertainty(&log, 0)?, Controls::of(&passes, variance_mm2, 0.001 * scatter.between_pass_um)))
}

/// Root mean squares over all logs, from some.
fn summed(all: &[(TaperUncertainty, Controls)]) -> Option<TaperForecast> {
    let controls: Vec<Controls> = all.iter().map(|one| one.1.clone()).collect();
    let mean = |of: fn(&TaperUncertainty) -> f64| {
        let values: Vec<f64> = all.iter().map(|one| of(&one.0)).collect();
        controlled_mean(&values, &controls)
    };
    let (square, error) = mean(|one| one.expanded_mm.powi(2))?;
    let (first, _) = mean(|one| one.expanded_mm)?;
    let (standard, _) = mean(|one| one.standard_uncertainty_mm.powi(2))?;
    // degrees of freedom vary from log to log: their inverses are averaged, infinite ones counting as 0
    let (inverse, _) = mean(|one| one.effective_dof.map_or(0.0, f64::recip))?;
    Some(TaperForecast {
        standard_uncertainty_mm: standard.max(0.0).sqrt(),
        expanded_mm: square.max(0.0).sqrt(),
        relative_error: if square > 0.0 { 0.5 * error / square } else { 0.0 },
        scatter_mm: (square - first * first).max(0.0).sqrt(),
        logs: all.len() as u64,
        effective_dof: (inverse > 0.0).then(|| 1.0 / inverse),
    })
}
