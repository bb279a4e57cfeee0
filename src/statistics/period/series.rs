//! Residuals against position, and what a sine takes up of them.

use super::patterns::Patterns;
use crate::statistics::repeated::{RunFit, RunRows, RunSums};

/// Turns each sine and cosine on by an angle.
pub(super) fn turn(waves: &mut [(f64, f64)], turns: &[(f64, f64)]) {
    for ((s, c), (by_s, by_c)) in waves.iter_mut().zip(turns) {
        (*s, *c) = (*s * by_c + *c * by_s, *c * by_c - *s * by_s);
    }
}

/// What a sine at one frequency explains.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peak {
    pub gain: f64,
    pub cosine: f64,
    pub sine: f64,
}

/// The residuals and the fit's orthonormal basis, summed over readings at the same position: all that the search needs.
pub(super) struct Series {
    /// Distinct positions, counted from the first.
    places: Vec<f64>,
    counts: Vec<f64>,
    residuals: Vec<f64>,
    /// Sums of the shared basis vectors, `rank` values a place.
    basis: Vec<f64>,
    rank: usize,
    /// What the blocks' own terms take up.
    patterns: Patterns,
    pub length: f64,
    pub effective_length: f64,
}

impl Series {
    pub fn new(rows: &impl RunRows, fit: &RunFit, sums: &RunSums<'_>, position: impl Fn(usize) -> Option<f64>) -> Option<Self> {
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
            patterns: Patterns::new(distinct.len()),
            length: 0.0,
            effective_length: 0.0,
        };
        let has_own = rows.own_level() || rows.own_slope();
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
            let mut own: Vec<(u32, u32)> = Vec::new();
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
                if has_own {
                    own.push((u32::try_from(place).ok()?, u32::try_from(rows.count(run)).ok()?));
                }
                if rows.own_slope() && !series.patterns.lies_at(place, *row.first()?) {
                    return None;
                }
            }
            if has_own {
                let (mean, square) = (fit.basis.first_mean(block), fit.basis.first_square(block));
                series.patterns.add(own, rows.own_level(), mean, square);
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
    pub fn work(&self) -> f64 {
        20.0 * self.places.len() as f64 + 6.0 * self.patterns.entries() as f64
    }

    /// Sine and cosine of a frequency at each place.
    pub fn waves(&self, frequency: f64) -> Vec<(f64, f64)> {
        let turn = 2.0 * std::f64::consts::PI * frequency;
        self.places.iter().map(|z| (turn * z).sin_cos()).collect()
    }

    pub fn peak(&self, waves: &[(f64, f64)]) -> Option<Peak> {
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
        self.patterns.each(waves, take);
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
    pub fn polish(&self, found: (f64, Peak), step: f64, from: f64, to: f64) -> (f64, Peak) {
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
