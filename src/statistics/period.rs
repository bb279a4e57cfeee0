//! A search for a periodic pattern in what a fit left over.

use super::distributions::{f_sf, ln_gamma};
use super::least_squares::{Fit, thin_basis};
use nalgebra::DMatrix;

/// Steps of the search per natural width of a peak, 1/(length of the series).
const STEPS_PER_PEAK: f64 = 8.0;

/// The strongest period found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Period {
    /// Period, in the unit of the positions.
    pub period: f64,
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

/// Least-squares periodogram (Lomb 1976; Scargle 1982) of the residuals of `fit` on `design` (n × p) against `positions` (n), for periods from
/// `shortest` to the whole length.
///
/// At each frequency a sine and a cosine join the terms of the fit, so what the fit already took up is allowed for exactly (Zechmeister & Kürster
/// 2009). False alarm by Baluev (2008, table 1, least-squares power against the residuals): `1 − (1 − p₁)·exp(−m p₁)` with
/// `m = γ W √(ν g/(2(1 − g)))` the number of independent frequencies at this height, `g` the share of the residual sum of squares that the sine
/// explains, `ν` the residual degrees of freedom, `γ = √(2/ν) Γ(ν/2)/Γ((ν − 1)/2)` and `W` the width of the search times the effective length
/// `√(4π var z)`: an upper bound that is nearly attained. Periods shorter than twice the spacing
/// of the positions cannot be told from longer ones: the caller sets `shortest` to at least that. `None` where the range is empty, fewer than three
/// degrees of freedom are left, the fit is weighted or exact.
#[must_use]
pub fn period_search(design: &DMatrix<f64>, fit: &Fit, positions: &[f64], shortest: f64) -> Option<Period> {
    let n = design.nrows();
    if positions.len() != n || fit.residuals().len() != n || fit.weights().is_some() || fit.fits_exactly() {
        return None;
    }
    if !(shortest > 0.0 && shortest.is_finite()) || positions.iter().any(|z| !z.is_finite()) {
        return None;
    }
    let dof = fit.dof() as f64;
    let series = Series::new(design, fit.residuals(), positions)?;
    let (from, to) = (1.0 / series.length, 1.0 / shortest);
    if dof < 3.0 || to < from {
        return None;
    }
    let rss = fit.residual_sum_of_squares();
    let step = 1.0 / (STEPS_PER_PEAK * series.length);
    let steps = ((to - from) / step + 1e-9).floor() as usize + 1;
    let mut best: Option<(f64, Peak)> = None;
    for k in 0..steps {
        let frequency = from + step * k as f64;
        if let Some(peak) = series.peak(frequency)
            && best.as_ref().is_none_or(|(_, b)| peak.gain > b.gain)
        {
            best = Some((frequency, peak));
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
        amplitude: peak.cosine.hypot(peak.sine),
        phase: peak.sine.atan2(peak.cosine),
        f,
        dof2,
        p_single,
        independent_frequencies,
        false_alarm: false_alarm.clamp(0.0, 1.0),
    })
}

/// What a sine at one frequency explains.
#[derive(Debug, Clone, Copy)]
struct Peak {
    gain: f64,
    cosine: f64,
    sine: f64,
}

/// The residuals and the fit's orthonormal basis, summed over readings at the same position: all that the search needs.
struct Series {
    /// Distinct positions, counted from the first.
    places: Vec<f64>,
    counts: Vec<f64>,
    residuals: Vec<f64>,
    /// Row sums of the basis, rank values a place.
    basis: Vec<f64>,
    rank: usize,
    length: f64,
    effective_length: f64,
}

impl Series {
    fn new(design: &DMatrix<f64>, residuals: &[f64], positions: &[f64]) -> Option<Self> {
        let n = positions.len();
        let columns = thin_basis(design);
        let rank = columns.len() / n.max(1);
        let mut order: Vec<usize> = (0..n).collect();
        let position = |i: &usize| positions.get(*i).copied().unwrap_or(0.0);
        order.sort_by(|a, b| position(a).total_cmp(&position(b)));
        let first = position(order.first()?);
        let mut series = Self {
            places: Vec::new(),
            counts: Vec::new(),
            residuals: Vec::new(),
            basis: Vec::new(),
            rank,
            length: 0.0,
            effective_length: 0.0,
        };
        for same in order.chunk_by(|a, b| position(a) == position(b)) {
            series.places.push(position(same.first()?) - first);
            series.counts.push(same.len() as f64);
            series.residuals.push(same.iter().filter_map(|i| residuals.get(*i)).sum());
            for column in columns.chunks_exact(n) {
                series.basis.push(same.iter().filter_map(|i| column.get(*i)).sum());
            }
        }
        series.length = *series.places.last()?;
        let count = n as f64;
        let mean = series.places.iter().zip(&series.counts).map(|(z, c)| z * c).sum::<f64>() / count;
        let variance = series.places.iter().zip(&series.counts).map(|(z, c)| c * (z - mean) * (z - mean)).sum::<f64>() / count;
        series.effective_length = (4.0 * std::f64::consts::PI * variance).sqrt();
        (series.length > 0.0).then_some(series)
    }

    fn peak(&self, frequency: f64) -> Option<Peak> {
        let turn = 2.0 * std::f64::consts::PI * frequency;
        let (mut cc, mut cs, mut ss, mut ce, mut se, mut plain) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        let mut on_cosine = vec![0.0; self.rank];
        let mut on_sine = vec![0.0; self.rank];
        let rows = self.basis.chunks_exact(self.rank.max(1));
        for (((z, count), residual), row) in self.places.iter().zip(&self.counts).zip(&self.residuals).zip(rows) {
            let (s, c) = (turn * z).sin_cos();
            cc += count * c * c;
            cs += count * c * s;
            ss += count * s * s;
            plain += count;
            ce += residual * c;
            se += residual * s;
            for ((a, b), q) in on_cosine.iter_mut().zip(&mut on_sine).zip(row) {
                *a += q * c;
                *b += q * s;
            }
        }
        for (a, b) in on_cosine.iter().zip(&on_sine) {
            cc -= a * a;
            cs -= a * b;
            ss -= b * b;
        }
        let determinant = cc * ss - cs * cs;
        // A sine that the fit already holds says nothing.
        if determinant < 1e-4 * plain * plain * 0.25 {
            return None;
        }
        let cosine = (ss * ce - cs * se) / determinant;
        let sine = (cc * se - cs * ce) / determinant;
        Some(Peak { gain: cosine * ce + sine * se, cosine, sine })
    }

    /// Climbs to the top of the peak by golden-section steps within one step of the search either way.
    fn polish(&self, found: (f64, Peak), step: f64, from: f64, to: f64) -> (f64, Peak) {
        const GOLDEN: f64 = 0.618_033_988_749_894_9;
        let (mut low, mut high) = ((found.0 - step).max(from), (found.0 + step).min(to));
        let mut best = found;
        for _ in 0..30 {
            let (left, right) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
            let (Some(at_left), Some(at_right)) = (self.peak(left), self.peak(right)) else { break };
            for (frequency, peak) in [(left, at_left), (right, at_right)] {
                if peak.gain > best.1.gain {
                    best = (frequency, peak);
                }
            }
            if at_left.gain > at_right.gain {
                high = right;
            } else {
                low = left;
            }
        }
        best
    }
}
