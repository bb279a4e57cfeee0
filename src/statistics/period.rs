//! A search for a periodic pattern in what a fit left over.

use super::distributions::{f_sf, ln_gamma};
use super::repeated::{RunFit, RunRows, RunSums};
use rayon::iter::{IntoParallelRefIterator as _, ParallelIterator as _};
use std::collections::BTreeMap;

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
/// of the positions cannot be told from longer ones: the caller sets `shortest` to at least that. Readings must have equal weights. `None` where the range
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

/// Turns each sine and cosine on by an angle.
fn turn(waves: &mut [(f64, f64)], turns: &[(f64, f64)]) {
    for ((s, c), (by_s, by_c)) in waves.iter_mut().zip(turns) {
        (*s, *c) = (*s * by_c + *c * by_s, *c * by_c - *s * by_s);
    }
}

/// What a sine at one frequency explains.
#[derive(Debug, Clone, Copy)]
struct Peak {
    gain: f64,
    cosine: f64,
    sine: f64,
}

/// A block's readings at one place: place, number of readings, first column less its mean.
type OfBlock = Vec<(u32, f64, f64)>;

/// The residuals and the fit's orthonormal basis, summed over readings at the same position: all that the search needs.
struct Series {
    /// Distinct positions, counted from the first.
    places: Vec<f64>,
    counts: Vec<f64>,
    residuals: Vec<f64>,
    /// Sums of the shared basis vectors, `rank` values a place.
    basis: Vec<f64>,
    rank: usize,
    /// What the blocks' own terms take up: blocks read at the same places as often are alike, so that each pattern is kept once, with how many there are,
    /// whether there is a level, and the first column's sum of squares (0 without a slope).
    patterns: Vec<(f64, bool, f64, OfBlock)>,
    length: f64,
    effective_length: f64,
}

impl Series {
    fn new(rows: &impl RunRows, fit: &RunFit, sums: &RunSums<'_>, position: impl Fn(usize) -> Option<f64>) -> Option<Self> {
        // put in order whenever as many came as there are different ones, so that the work stays in proportion
        let mut distinct: Vec<f64> = Vec::new();
        let mut room = 1 << 16;
        for run in 0..rows.runs() {
            let z = position(run).filter(|z| z.is_finite())?;
            if distinct.last() != Some(&z) {
                distinct.push(z);
            }
            if distinct.len() > room {
                distinct.sort_unstable_by(f64::total_cmp);
                distinct.dedup();
                room = room.max(2 * distinct.len());
            }
        }
        distinct.sort_unstable_by(f64::total_cmp);
        distinct.dedup();
        let first = *distinct.first()?;
        let rank = rows.shared();
        let mut series = Self {
            places: distinct.iter().map(|z| z - first).collect(),
            counts: vec![0.0; distinct.len()],
            residuals: vec![0.0; distinct.len()],
            basis: vec![0.0; distinct.len() * rank],
            rank,
            patterns: Vec::new(),
            length: 0.0,
            effective_length: 0.0,
        };
        let mut known: BTreeMap<Vec<(u32, u64)>, usize> = BTreeMap::new();
        let (mut row, mut at) = (fit.basis.scratch(), vec![0.0; fit.basis.width()]);
        // readings mostly follow one another along the bar, so that the next place is a neighbour
        let mut last = 0_usize;
        let mut place_of = |z: f64| {
            let is = |place: &usize| distinct.get(*place) == Some(&z);
            last = [last, last.wrapping_add(1), last.wrapping_sub(1)]
                .into_iter()
                .find(is)
                .unwrap_or_else(|| distinct.partition_point(|d| *d < z));
            last
        };
        for block in 0..rows.blocks() {
            let mut own: OfBlock = Vec::new();
            for run in rows.block(block) {
                let place = place_of(position(run)?);
                let count = rows.count(run) as f64;
                let residual = count * (sums.mean(run) - fit.fitted(rows, block, run, &mut row));
                fit.basis.at(rows, block, run, &mut row, &mut at);
                let add = |slot: Option<&mut f64>, value: f64| {
                    if let Some(slot) = slot {
                        *slot += value;
                    }
                };
                add(series.counts.get_mut(place), count);
                add(series.residuals.get_mut(place), residual);
                for (column, value) in at.iter().skip(2).enumerate() {
                    add(series.basis.get_mut(place * rank + column), count * value);
                }
                let column = if rows.columns() > 0 { row.first().copied().unwrap_or(0.0) } else { 0.0 };
                own.push((u32::try_from(place).ok()?, count, column - fit.basis.first_mean(block)));
            }
            if !rows.own_level() && !rows.own_slope() {
                continue;
            }
            own.sort_by_key(|entry| entry.0);
            let pattern: Vec<(u32, u64)> = own.iter().map(|entry| (entry.0, entry.1.to_bits())).collect();
            match known.get(&pattern).and_then(|at| series.patterns.get_mut(*at)) {
                Some(alike) => alike.0 += 1.0,
                None => {
                    if known.len() < 1 << 12 {
                        known.insert(pattern, series.patterns.len());
                    }
                    series.patterns.push((1.0, rows.own_level(), fit.basis.first_square(block), own));
                }
            }
        }
        series.length = *series.places.last()?;
        let count = fit.readings as f64;
        let mean = series.places.iter().zip(&series.counts).map(|(z, c)| z * c).sum::<f64>() / count;
        let variance = series.places.iter().zip(&series.counts).map(|(z, c)| c * (z - mean) * (z - mean)).sum::<f64>() / count;
        series.effective_length = (4.0 * std::f64::consts::PI * variance).sqrt();
        (series.length > 0.0).then_some(series)
    }

    /// Additions that one frequency costs, in round figures.
    fn work(&self) -> f64 {
        let own: usize = self.patterns.iter().map(|pattern| pattern.3.len()).sum();
        20.0 * self.places.len() as f64 + 6.0 * own as f64
    }

    /// Sine and cosine of a frequency at each place.
    fn waves(&self, frequency: f64) -> Vec<(f64, f64)> {
        let turn = 2.0 * std::f64::consts::PI * frequency;
        self.places.iter().map(|z| (turn * z).sin_cos()).collect()
    }

    fn peak(&self, waves: &[(f64, f64)]) -> Option<Peak> {
        let (mut cc, mut cs, mut ss, mut ce, mut se, mut plain) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        let mut on_cosine = vec![0.0; self.rank];
        let mut on_sine = vec![0.0; self.rank];
        for (place, (((s, c), count), residual)) in waves.iter().zip(&self.counts).zip(&self.residuals).enumerate() {
            cc += count * c * c;
            cs += count * c * s;
            ss += count * s * s;
            plain += count;
            ce += residual * c;
            se += residual * s;
            let row = self.basis.get(place * self.rank..(place + 1) * self.rank).unwrap_or(&[]);
            for ((a, b), q) in on_cosine.iter_mut().zip(&mut on_sine).zip(row) {
                *a += q * c;
                *b += q * s;
            }
        }
        let mut take = |a: f64, b: f64, times: f64| {
            cc -= times * a * a;
            cs -= times * a * b;
            ss -= times * b * b;
        };
        for (a, b) in on_cosine.iter().zip(&on_sine) {
            take(*a, *b, 1.0);
        }
        for (alike, level, square, own) in &self.patterns {
            let (mut total, mut c_sum, mut s_sum, mut c_slope, mut s_slope) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for (place, count, x) in own {
                let (s, c) = waves.get(*place as usize).copied().unwrap_or((0.0, 0.0));
                total += count;
                c_sum += count * c;
                s_sum += count * s;
                c_slope += count * x * c;
                s_slope += count * x * s;
            }
            if *level && total > 0.0 {
                take(c_sum, s_sum, alike / total);
            }
            if *square > 0.0 {
                take(c_slope, s_slope, alike / square);
            }
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
            let (Some(at_left), Some(at_right)) = rayon::join(|| self.peak(&self.waves(left)), || self.peak(&self.waves(right))) else {
                break;
            };
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
