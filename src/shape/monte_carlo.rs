//! The taper's budget by Monte Carlo (JCGM 101:2008, clause 7), with the distributions that its rows state.

use super::MonteCarlo;
use super::budget::Draw;
use super::taper_fit::FittedContrast;
use crate::quantities::Interval;
use crate::statistics::symmetric_ranks;
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
    let mut streams = (0..=rows.len() as u64).map(|place| stream(seed, index, place));
    let mut of_fit = streams.next()?;
    let mut of_rows: Vec<(&Draw, ChaCha8Rng)> = rows.iter().zip(streams).collect();
    let mut values = vec![0.0; draws];
    for some in values.chunks_mut(TOGETHER) {
        some.iter_mut().for_each(|v| *v = fit.standard_error * fitted.at(of_fit.next_u32()));
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
    let square = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
    let (low, high) = symmetric_ranks(draws, 0.95)?;
    let low = order_statistic(&mut values, low);
    let high = order_statistic(&mut values, high);
    Some(MonteCarlo {
        standard_uncertainty: fit.dof.is_none_or(|dof| dof > 2.0).then(|| (square / (count - 1.0)).sqrt()),
        interval95: Interval { low: fit.value + low, high: fit.value + high },
        draws,
        seed,
    })
}

/// The generator of one row of a setting's budget: `place` 0 is the fit, then the rows in their order.
fn stream(seed: u64, index: u64, place: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(STREAM + (index << 16) + (place << 40));
    rng
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
    use super::super::budget::Vertical;
    use super::*;
    use crate::statistics::distributions::{normal_quantile, t_quantile};

    #[test]
    fn table_agrees_with_the_quantiles() {
        let close = |found: f64, wanted: f64| (found / wanted - 1.0).abs() < 1e-4;
        assert!(!close(1.0002, 1.0));
        let normal = QuantileTable::of_t(None);
        for dof in [1.0, 3.0, 40.0] {
            let student = QuantileTable::of_t(Some(dof));
            for p in [0.5001_f64, 0.501, 0.51, 0.6, 0.75, 0.9, 0.975, 0.999, 0.99999] {
                let bits = ((2.0 * p - 1.0) * 2_147_483_648.0) as u32;
                assert!(close(normal.at(bits), normal_quantile(p).unwrap()), "normal at {p}");
                assert!(close(student.at(bits), t_quantile(p, dof).unwrap()), "t({dof}) at {p}");
                assert_eq!(normal.at(bits | 0x8000_0000), -normal.at(bits), "the highest bit is the sign");
            }
        }
        // the draw nearest the middle, a probability of 2⁻³³ above one half, and the farthest, with 2⁻³³ beyond it
        assert!(close(normal.at(0), (std::f64::consts::TAU).sqrt() / 8_589_934_592.0));
        assert!((normal.at(0x7fff_ffff) / 6.337_958 - 1.0).abs() < 1e-3, "{}", normal.at(0x7fff_ffff));
    }

    fn contrast(value: f64, standard_error: f64, dof: Option<f64>) -> FittedContrast {
        FittedContrast { value, standard_error, dof, half_width95: 0.0, within_share: 1.0 }
    }

    /// One rectangular row, beside the same draws made here: ranks of JCGM 101:2008, 7.7.2, mean square about the mean over `n − 1`.
    #[test]
    fn a_rectangular_row_draw_by_draw() {
        for draws in [1_000_usize, 1_013] {
            let found =
                monte_carlo(&contrast(7.0, 0.0, Some(4.0)), &[Draw::Fit, Draw::Rectangular(2.0), Draw::Nothing], 5, 3, draws).unwrap();
            let mut rng = stream(5, 3, 2);
            let mut values: Vec<f64> =
                (0..draws).map(|_| 12.0_f64.sqrt() * 2.0 * ((f64::from(rng.next_u32()) + 0.5) / 4_294_967_296.0 - 0.5)).collect();
            let mean = values.iter().sum::<f64>() / draws as f64;
            let square: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
            assert!((found.standard_uncertainty.unwrap() - (square / (draws as f64 - 1.0)).sqrt()).abs() < 1e-12);
            values.sort_by(f64::total_cmp);
            // 1,000: q = 950, r = (1000 − 950)/2; 1,013: 962.35 + ½, so q = 962 and r = (1013 − 962 + 1)/2, counted from 1
            let (r, q) = if draws == 1_000 { (25, 950) } else { (26, 962) };
            assert_eq!((found.interval95.low, found.interval95.high), (7.0 + values[r - 1], 7.0 + values[r + q - 1]));
            assert_eq!((found.draws, found.seed), (draws, 5));
        }
        assert!(monte_carlo(&contrast(7.0, 1.0, None), &[], 5, 3, 999).is_none());
    }

    #[test]
    fn distributions_by_their_moments() {
        let close = |found: f64, wanted: f64| (found / wanted - 1.0).abs() < 0.01;
        assert!(!close(1.02, 1.0));
        let draw = |fit: FittedContrast, rows: &[Draw]| monte_carlo(&fit, rows, 1, 0, 200_000).unwrap();
        // a t of 5 degrees of freedom has the variance 5/3 and its 97.5 % point at 2.570582; a normal row adds its own
        let t = draw(contrast(1.0, 2.0, Some(5.0)), &[]);
        assert!(close(t.standard_uncertainty.unwrap(), 2.0 * (5.0_f64 / 3.0).sqrt()) && close(t.interval95.half_width(), 2.0 * 2.570_582));
        assert!((0.5 * (t.interval95.low + t.interval95.high) - 1.0).abs() < 0.05);
        // of two degrees of freedom or fewer there is none: another seed would give another number
        let without = |dof: f64| draw(contrast(1.0, 2.0, Some(dof)), &[]).standard_uncertainty.is_none();
        assert!(without(1.8) && without(2.0) && !without(2.1));
        let both = draw(contrast(0.0, 3.0, None), &[Draw::Normal(4.0)]);
        assert!(close(both.standard_uncertainty.unwrap(), 5.0) && close(both.interval95.half_width(), 5.0 * 1.959_964));
        // p·(2h + 3p) with p normal about 0 with 0.5, h normal about 1 with 0.8: variance 4·0.25·(1 + 0.64) + 2·9·0.0625
        let vertical = Vertical { slope: 2.0, bend: 3.0, pitch_u: 0.5, height: 1.0, height_u: 0.8 };
        let product = draw(contrast(0.0, 0.0, None), &[Draw::Vertical(vertical)]);
        assert!(close(product.standard_uncertainty.unwrap(), (1.64_f64 + 1.125).sqrt()), "{product:?}");
        // the mean of the square is not taken out: 3·0.25 = 0.75 lifts both ends
        let skewed = draw(contrast(0.0, 0.0, None), &[Draw::Vertical(Vertical { slope: 0.0, height_u: 0.0, ..vertical })]);
        assert!(close(skewed.interval95.high, 0.75 * 5.023_886) && skewed.interval95.low >= 0.0, "{skewed:?}");
    }

    #[test]
    fn settings_draw_apart() {
        let of = |index: u64| monte_carlo(&contrast(0.0, 1.0, None), &[], 1, index, 1_000).unwrap().interval95;
        assert!(of(0) == of(0) && of(0) != of(1) && of(1) != of(2));
    }
}
