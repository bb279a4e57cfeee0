//! A search for a periodic pattern in what a fit left over.

mod patterns;
mod series;

use super::distributions::{f_sf, ln_gamma};
use super::repeated::{RunFit, RunRows, RunSums};
use rayon::iter::{IntoParallelRefIterator as _, ParallelIterator as _};
use series::{Peak, Series, turn};

/// Steps of the search per natural width of a peak, 1/(length of the series).
const STEPS_PER_PEAK: f64 = 8.0;

/// Most additions that the search may cost: a longer one begins at a longer period.
const MOST_WORK: f64 = 4e9;

/// Neighbouring frequencies whose sines and cosines are turned from one to the next before they are worked out afresh: rounding grows by one unit a turn.
const TURNED: usize = 32;

/// The strongest period found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Period {
    /// Period, in the unit of the positions.
    pub period: f64,
    /// The shortest period that was looked for: as asked for, or longer where that would have been too much work.
    pub shortest: f64,
    /// Amplitude of its sine, half of peak to valley, in the unit of the response.
    pub amplitude: f64,
    /// Phase φ of `amplitude·cos(2π z/period − φ)`, radians, `z` counted from the first position.
    pub phase: f64,
    /// F ratio of the sine, with 2 and `dof2` degrees of freedom.
    pub f: f64,
    /// Degrees of freedom below.
    pub dof2: f64,
    /// Tail probability of that F if this period alone had been asked about.
    pub p_single: f64,
    /// Number of independent frequencies that the search amounts to, at this height.
    pub independent_frequencies: f64,
    /// Probability that noise alone makes a peak as high anywhere in the search.
    pub false_alarm: f64,
}

/// Least-squares periodogram (Lomb 1976; Scargle 1982) of what `fit` leaves of readings with `sums` against the position of each run, for periods from
/// `shortest` to the whole length.
///
/// At each frequency a sine and a cosine join the terms of the fit, so what the fit already took up is allowed for exactly (Zechmeister & Kürster
/// 2009). False alarm by Baluev (2008, table 1, least-squares power against the residuals): `1 − (1 − p₁)·exp(−m p₁)` with
/// `m = γ W √(ν g/(2(1 − g)))` the number of independent frequencies at this height, `g` the share of the residual sum of squares that the sine
/// explains, `ν` the residual degrees of freedom, `γ = √(2/ν) Γ(ν/2)/Γ((ν − 1)/2)` and `W` the width of the search times the effective length
/// `√(4π var z)`: an upper bound that is nearly attained. Periods shorter than twice the spacing
/// of the positions cannot be told from longer ones: the caller sets `shortest` to at least that. Readings must have equal weights, and where blocks have slopes of their own the first column must be a matter of the position. `None` where it is not, where the range
/// is empty, a position is missing, fewer than three degrees of freedom are left, or the fit is exact.
#[must_use]
pub fn period_search(
    rows: &impl RunRows,
    fit: &RunFit,
    sums: &RunSums<'_>,
    position: impl Fn(usize) -> Option<f64>,
    shortest: f64,
) -> Option<Period> {
    if !(shortest > 0.0 && shortest.is_finite()) || fit.fits_exactly() {
        return None;
    }
    let dof = fit.dof();
    let series = Series::new(rows, fit, sums, position)?;
    let step = 1.0 / (STEPS_PER_PEAK * series.length);
    let most = (MOST_WORK / series.work()).max(1.0);
    let (from, to) = (1.0 / series.length, (1.0 / shortest).min(1.0 / series.length + step * most));
    if dof < 3.0 || to < from {
        return None;
    }
    let rss = fit.residual_square;
    let steps = ((to - from) / step + 1e-9).floor() as usize + 1;
    let turns = series.waves(step);
    let firsts: Vec<usize> = (0..steps).step_by(TURNED).collect();
    let of = |first: &usize| {
        let mut waves = series.waves(from + step * *first as f64);
        let number = TURNED.min(steps - first);
        let next = (0..number).map(|_| {
            let peak = series.peak(&waves);
            turn(&mut waves, &turns);
            peak
        });
        next.collect::<Vec<Option<Peak>>>()
    };
    let peaks: Vec<Vec<Option<Peak>>> = firsts.par_iter().map(of).collect();
    let mut best: Option<(f64, Peak)> = None;
    for (k, peak) in peaks.into_iter().flatten().enumerate() {
        if let Some(peak) = peak
            && best.as_ref().is_none_or(|(_, b)| peak.gain > b.gain)
        {
            best = Some((from + step * k as f64, peak));
        }
    }
    let (frequency, peak) = best.map(|b| series.polish(b, step, from, to))?;
    let share = (peak.gain / rss).clamp(0.0, 1.0);
    let dof2 = dof - 2.0;
    let f = share / 2.0 / ((1.0 - share).max(f64::MIN_POSITIVE) / dof2);
    let p_single = f_sf(f, 2.0, dof2)?;
    let width = (to - from) * series.effective_length;
    let factor = (ln_gamma(0.5 * dof)? - ln_gamma(0.5 * (dof - 1.0))?).exp() * (2.0 / dof).sqrt();
    let independent_frequencies = factor * width * (0.5 * dof * share / (1.0 - share).max(f64::MIN_POSITIVE)).sqrt();
    let false_alarm = 1.0 - (1.0 - p_single) * (-independent_frequencies * p_single).exp();
    Some(Period {
        period: 1.0 / frequency,
        shortest: shortest.max(1.0 / to),
        amplitude: peak.cosine.hypot(peak.sine),
        phase: peak.sine.atan2(peak.cosine),
        f,
        dof2,
        p_single,
        independent_frequencies,
        false_alarm: false_alarm.clamp(0.0, 1.0),
    })
}
