//! The taper's budget by Monte Carlo (JCGM 101:2008, clause 7), with the distributions that its rows state.

use super::MonteCarlo;
use super::budget::Draw;
use super::taper_fit::FittedContrast;
use crate::quantities::Interval;
use rand::{RngCore, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::sync::OnceLock;

/// Stream of the generator that the budget of setting number `index` draws from, apart from all other streams.
const STREAM: u64 = 0x5441_5045;

/// Values that are drawn row after row before the next ones: few enough to stay near the processor.
const TOGETHER: usize = 1024;

/// Draws the budget `draws` times; `None` below 1,000 draws.
///
/// The fit enters as a scaled and shifted t distribution (JCGM 101, 6.4.9), rectangular rows as such (6.4.2), and the
/// vertical misalignment as the product that it is. The interval is the probabilistically symmetric one (7.7.2).
pub(super) fn monte_carlo(fit: &FittedContrast, rows: &[Draw], seed: u64, index: u64, draws: usize) -> Option<MonteCarlo> {
    if draws < 1_000 {
        return None;
    }
    let fitted = QuantileTable::of_t(fit.dof);
    static NORMAL: OnceLock<QuantileTable> = OnceLock::new();
    let normal = NORMAL.get_or_init(|| QuantileTable::of_t(None));
    // Each row has a stream of its own, so that rows may be drawn some values at a time.
    let mut streams = (0..=rows.len() as u64).map(|row| {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(STREAM + (index << 16) + (row << 40));
        rng
    });
    let mut of_fit = streams.next()?;
    let mut of_rows: Vec<(&Draw, ChaCha8Rng)> = rows.iter().zip(streams).collect();
    let mut values = vec![0.0; draws];
    for some in values.chunks_mut(TOGETHER) {
        if fit.standard_error > 0.0 {
            some.iter_mut().for_each(|v| *v = fit.standard_error * fitted.at(of_fit.next_u32()));
        }
        for (row, rng) in &mut of_rows {
            match **row {
                Draw::Fit | Draw::Nothing => {}
                Draw::Rectangular(u) => {
                    let width = 2.0 * u * 3.0_f64.sqrt();
                    some.iter_mut().for_each(|v| *v += width * (unit(rng.next_u32()) - 0.5));
                }
                Draw::Normal(u) => some.iter_mut().for_each(|v| *v += u * normal.at(rng.next_u32())),
                Draw::Vertical(vertical) => some.iter_mut().for_each(|v| {
                    let pitch = vertical.pitch_u * normal.at(rng.next_u32());
                    let height = vertical.height + vertical.height_u * normal.at(rng.next_u32());
                    *v += pitch * (vertical.slope * height + vertical.bend * pitch);
                }),
            }
        }
    }
    let count = draws as f64;
    let mean = values.iter().sum::<f64>() / count;
    let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>();
    let covered = (0.95 * count + 0.5).floor() as usize;
    let low_rank = (draws - covered) / 2;
    let low = order_statistic(&mut values, low_rank);
    let high = order_statistic(&mut values, low_rank + covered);
    Some(MonteCarlo {
        standard_uncertainty: (square / (count - 1.0)).sqrt(),
        interval95: Interval { low: fit.value + low, high: fit.value + high },
        draws,
        seed,
    })
}

fn unit(bits: u32) -> f64 {
    (f64::from(bits) + 0.5) / 4_294_967_296.0
}

fn order_statistic(values: &mut [f64], rank: usize) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let rank = rank.min(values.len() - 1);
    *values.select_nth_unstable_by(rank, f64::total_cmp).1
}

/// Quantiles of a t or normal distribution, tabulated so that a draw costs one look-up.
struct QuantileTable {
    /// Probabilities above one half, in units of one half, and the straight line of quantiles up to each: its value at 0 and its slope.
    lines: Vec<(f64, f64, f64)>,
    /// First line whose probability is at or after each of 2¹² equal classes.
    guide: Vec<usize>,
}

/// Bits of a draw that choose a class.
const CLASS_BITS: u32 = 12;

impl QuantileTable {
    /// Integrates the density by Simpson's rule on quantiles spaced as `sinh`, to where 10⁻¹¹ is left in the tail.
    fn of_t(dof: Option<f64>) -> Self {
        let density = |t: f64| match dof {
            Some(dof) => (-0.5 * (dof + 1.0) * (t * t / dof).ln_1p()).exp(),
            None => (-0.5 * t * t).exp(),
        };
        // The farthest draw has probability 2⁻³³ in its tail: t there is at most about this.
        let far = dof.map_or(7.0, |dof| 7.0 * (23.0 / dof).exp().min(1e12));
        let steps = 1_500;
        let step = far.asinh() / f64::from(steps);
        let mut nodes = vec![(0.0, 0.0)];
        let mut sum = 0.0;
        let at = |v: f64| density(v.sinh()) * v.cosh();
        for k in 0..steps {
            let v = f64::from(k) * step;
            sum += step / 6.0 * (at(v) + 4.0 * at(v + 0.5 * step) + at(v + step));
            nodes.push((sum, (v + step).sinh()));
        }
        nodes.iter_mut().for_each(|node| node.0 /= sum);
        let lines: Vec<(f64, f64, f64)> = nodes
            .windows(2)
            .map(|ends| {
                let ((from, low), (to, high)) = (ends[0], ends[1]);
                let slope = if to > from { (high - low) / (to - from) } else { 0.0 };
                (to, low - slope * from, slope)
            })
            .collect();
        let classes = 1_usize << CLASS_BITS;
        let mut place = 0;
        let guide = (0..classes).map(|class| {
            let p = class as f64 / classes as f64;
            while place + 1 < lines.len() && lines[place].0 < p {
                place += 1;
            }
            place
        });
        Self { guide: guide.collect(), lines }
    }

    /// The quantile that belongs to 32 random bits: the highest is the sign.
    fn at(&self, bits: u32) -> f64 {
        let magnitude = bits & 0x7fff_ffff;
        let p = (f64::from(magnitude) + 0.5) / 2_147_483_648.0;
        let mut place = self.guide.get((magnitude >> (31 - CLASS_BITS)) as usize).copied().unwrap_or(0);
        while place + 1 < self.lines.len() && self.lines.get(place).is_some_and(|line| line.0 < p) {
            place += 1;
        }
        let (_, start, slope) = self.lines.get(place).copied().unwrap_or((1.0, 0.0, 0.0));
        let quantile = start + slope * p;
        if bits >> 31 == 0 { quantile } else { -quantile }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::distributions::{normal_quantile, t_quantile};

    #[test]
    fn table_agrees_with_the_quantiles() {
        let normal = QuantileTable::of_t(None);
        let student = QuantileTable::of_t(Some(3.0));
        for p in [0.51_f64, 0.6, 0.75, 0.9, 0.975, 0.999, 0.99999] {
            let bits = ((2.0 * p - 1.0) * 2_147_483_648.0) as u32;
            assert!((normal.at(bits) / normal_quantile(p).unwrap() - 1.0).abs() < 1e-4, "normal at {p}");
            assert!((student.at(bits) / t_quantile(p, 3.0).unwrap() - 1.0).abs() < 1e-4, "t at {p}");
        }
    }
}
