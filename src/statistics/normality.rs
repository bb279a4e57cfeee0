//! Whether values look normal.

use super::distributions::{normal_quantile, normal_sf};
use super::doubled::Doubled;
use super::summary::Summary;
use rayon::iter::{IndexedParallelIterator as _, IntoParallelRefIterator as _, ParallelIterator as _};
use rayon::slice::{ParallelSlice as _, ParallelSliceMut as _};

/// Values that are summed at a time.
const BLOCK: usize = 1 << 14;

/// A test of normality.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Normality {
    /// `W` of Shapiro and Wilk, or `A*²` of Anderson and Darling.
    pub statistic: f64,
    /// Tail probability.
    pub p: f64,
}

/// Shapiro–Wilk test by Royston's approximation (Royston 1995, algorithm AS R94), 3 to 5,000 values.
///
/// `None` outside that, when not finite, or when all values are equal.
#[must_use]
pub fn shapiro_wilk(values: &[f64]) -> Option<Normality> {
    let n = values.len();
    if !(3..=5000).contains(&n) {
        return None;
    }
    let summary = Summary::of(values)?;
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let range = sorted.last()? - sorted.first()?;
    if range <= 0.0 {
        return None;
    }
    let weights = royston_weights(n)?;
    let numerator: f64 = weights.iter().zip(&sorted).map(|(a, x)| a * ((x - summary.mean) / range)).sum();
    let squares: f64 = sorted.iter().map(|x| ((x - summary.mean) / range) * ((x - summary.mean) / range)).sum();
    let weight_squares: f64 = weights.iter().map(|a| a * a).sum();
    let w = (numerator * numerator / (squares * weight_squares)).min(1.0);
    Some(Normality { statistic: w, p: royston_p(w, n)? })
}

/// Antisymmetric weights for sorted values.
fn royston_weights(n: usize) -> Option<Vec<f64>> {
    let count = n as f64;
    if n == 3 {
        let half = std::f64::consts::FRAC_1_SQRT_2;
        return Some(vec![-half, 0.0, half]);
    }
    let mut m = Vec::with_capacity(n);
    for i in 1..=n {
        m.push(normal_quantile((i as f64 - 0.375) / (count + 0.25))?);
    }
    let square: f64 = m.iter().map(|v| v * v).sum();
    let root = square.sqrt();
    let u = 1.0 / count.sqrt();
    let last = polynomial(&[0.0, 0.221_157, -0.147_981, -2.071_190, 4.434_685, -2.706_056], u) + m.last()? / root;
    let next = polynomial(&[0.0, 0.042_981, -0.293_762, -1.752_461, 5.682_633, -3.582_633], u) + m.get(n - 2)? / root;
    let (largest, second) = (*m.last()?, *m.get(n - 2)?);
    let ends = if n > 5 { 2 } else { 1 };
    let scale = if n > 5 {
        ((square - 2.0 * largest * largest - 2.0 * second * second) / (1.0 - 2.0 * last * last - 2.0 * next * next)).sqrt()
    } else {
        ((square - 2.0 * largest * largest) / (1.0 - 2.0 * last * last)).sqrt()
    };
    let mut weights: Vec<f64> = m.iter().map(|v| v / scale).collect();
    for (k, value) in [last, next].into_iter().take(ends).enumerate() {
        *weights.get_mut(n - 1 - k)? = value;
        *weights.get_mut(k)? = -value;
    }
    Some(weights)
}

fn royston_p(w: f64, n: usize) -> Option<f64> {
    let count = n as f64;
    if n == 3 {
        let p = 6.0 / std::f64::consts::PI * (w.sqrt().asin() - 0.75_f64.sqrt().asin());
        return Some(p.clamp(0.0, 1.0));
    }
    let short = 1.0 - w;
    if short <= 0.0 {
        return Some(1.0);
    }
    let ln_n = count.ln();
    let (y, mean, sd) = if n <= 11 {
        let gamma = -2.273 + 0.459 * count;
        let ln_short = short.ln();
        if ln_short >= gamma {
            return Some(1e-99);
        }
        (
            -(gamma - ln_short).ln(),
            polynomial(&[0.544, -0.399_78, 0.025_054, -6.714e-4], count),
            polynomial(&[1.3822, -0.778_57, 0.062_767, -0.002_032_2], count).exp(),
        )
    } else {
        (
            short.ln(),
            polynomial(&[-1.5861, -0.310_82, -0.083_751, 0.003_891_5], ln_n),
            polynomial(&[-0.4803, -0.082_676, 0.003_030_2], ln_n).exp(),
        )
    };
    normal_sf((y - mean) / sd)
}

/// Anderson–Darling test with mean and standard deviation estimated (Stephens 1974; tail probability by D'Agostino & Stephens 1986, table 4.9).
///
/// Statistic `A*² = A²(1 + 0.75/n + 2.25/n²)`. For any number of values from 8; `None` below, when not finite, or when all are equal.
#[must_use]
pub fn anderson_darling(values: &[f64]) -> Option<Normality> {
    if values.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let mut sorted: Vec<(f64, f64)> = values.iter().map(|v| (*v, 1.0)).collect();
    anderson_darling_counted(&mut sorted)
}

/// As [`anderson_darling`], of values each of which came as often as is said. The list is put in order.
#[must_use]
pub fn anderson_darling_counted(values: &mut [(f64, f64)]) -> Option<Normality> {
    let standard = Standard::of(|| values.iter().copied())?;
    Some(standard.test(&standard.terms(values, 0.0)?))
}

/// As [`anderson_darling_counted`], of values that are given as often as asked and not kept: gone over once for mean and standard deviation, and once for each of
/// four parts of their range, of which one at a time is listed.
#[must_use]
pub fn anderson_darling_in_parts<I: Iterator<Item = (f64, f64)>>(values: impl Fn() -> I) -> Option<Normality> {
    let standard = Standard::of(&values)?;
    let mut terms = Vec::new();
    let mut before = 0.0;
    for part in 0..=PARTS.len() {
        let bound = |place: Option<usize>| place.and_then(|place| PARTS.get(place)).map(|z| standard.mean + z * standard.sd);
        let (low, high) = (bound(part.checked_sub(1)).unwrap_or(f64::NEG_INFINITY), bound(Some(part)).unwrap_or(f64::INFINITY));
        let mut own: Vec<(f64, f64)> = values().filter(|value| value.0 >= low && value.0 < high).collect();
        terms.extend(standard.terms(&mut own, before)?);
        before += own.iter().map(|value| value.1).sum::<f64>();
    }
    Some(standard.test(&terms))
}

/// Where the parts of [`anderson_darling_in_parts`] meet, in standard deviations from the mean: a quarter of normal values in each.
const PARTS: [f64; 3] = [-0.67, 0.0, 0.67];

/// Number, mean and standard deviation of the values.
struct Standard {
    count: f64,
    mean: f64,
    sd: f64,
}

impl Standard {
    fn of<I: Iterator<Item = (f64, f64)>>(values: impl Fn() -> I) -> Option<Self> {
        let (mut count, mut sum) = (0.0, Doubled::default());
        for value in values() {
            if !value.0.is_finite() {
                return None;
            }
            count += value.1;
            sum = sum.plus_product(value.0, value.1);
        }
        if count < 8.0 {
            return None;
        }
        let mean = sum.over(count);
        let square = values().fold(Doubled::default(), |sum, v| {
            let d = mean.negated().plus(v.0);
            sum.plus_doubled(d.times_doubled(d).times(v.1))
        });
        let (mean, sd) = (mean.value(), square.over(count - 1.0).value().max(0.0).sqrt());
        (sd > 0.0).then_some(Self { count, mean, sd })
    }

    /// The sum, block by block of a fixed size so that it does not depend on the number of threads; `before` values are smaller than these, which are put in
    /// order. Doubled: of ten million values the sum is 10¹⁴, and the statistic what is left of it beside their number.
    fn terms(&self, values: &mut [(f64, f64)], before: f64) -> Option<Vec<Doubled>> {
        values.par_sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        // over the m places from i on, Σ(2i + 1) = m(2i + m) goes with what lies below, Σ(2(n − i) − 1) = m(2(n − i) − m) with what lies above
        let term = |value: &(f64, f64), place: f64| -> Option<f64> {
            let (z, m) = ((value.0 - self.mean) / self.sd, value.1);
            let below = normal_sf(-z)?.max(f64::MIN_POSITIVE);
            let above = normal_sf(z)?.max(f64::MIN_POSITIVE);
            Some(m * (2.0 * place + m) * below.ln() + m * (2.0 * (self.count - place) - m) * above.ln())
        };
        // places from which each block begins
        let mut starts = Vec::with_capacity(values.len().div_ceil(BLOCK));
        let mut start = before;
        for block in values.chunks(BLOCK) {
            starts.push(start);
            start += block.iter().map(|value| value.1).sum::<f64>();
        }
        let of_block = |(values, start): (&[(f64, f64)], &f64)| -> Option<Doubled> {
            let (mut place, mut sum) = (*start, Doubled::default());
            for value in values {
                sum = sum.plus(term(value, place)?);
                place += value.1;
            }
            Some(sum)
        };
        values.par_chunks(BLOCK).zip(starts.par_iter()).map(of_block).collect()
    }

    fn test(&self, terms: &[Doubled]) -> Normality {
        let count = self.count;
        let sum = terms.iter().fold(Doubled::default(), |sum, block| sum.plus_doubled(*block));
        let a = -sum.over(count).plus(count).value() * (1.0 + 0.75 / count + 2.25 / (count * count));
        let p = if a < 0.2 {
            1.0 - (-13.436 + 101.14 * a - 223.73 * a * a).exp()
        } else if a < 0.34 {
            1.0 - (-8.318 + 42.796 * a - 59.938 * a * a).exp()
        } else if a < 0.6 {
            (0.9177 - 4.279 * a - 1.38 * a * a).exp()
        } else if a < 153.0 {
            (1.2937 - 5.709 * a + 0.0186 * a * a).exp()
        } else {
            0.0
        };
        Normality { statistic: a, p: p.clamp(0.0, 1.0) }
    }
}

fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// More values than are summed at a time, against the defining sum `A² = −n − Σ(2i − 1)(ln Φ(zᵢ) + ln(1 − Φ(zₙ₊₁₋ᵢ)))/n` (Stephens 1974) on the sorted list.
    #[test]
    fn many_values_give_the_defining_sum() {
        let value = |k: usize| (((k * 7_919) % 40_009) as f64 / 40_009.0 - 0.5) * 3.0 + ((k * 31) % 17) as f64 * 0.1;
        let values: Vec<f64> = (0..40_000).map(value).collect();
        let defining = |values: &[f64]| {
            let mut sorted = values.to_vec();
            sorted.sort_by(f64::total_cmp);
            let n = sorted.len() as f64;
            let mean = sorted.iter().sum::<f64>() / n;
            let sd = (sorted.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (n - 1.0)).sqrt();
            let upper = |v: f64| normal_sf((v - mean) / sd).unwrap();
            let terms = sorted.iter().zip(sorted.iter().rev()).zip(0_u32..);
            let sum: f64 = terms.map(|((low, high), i)| f64::from(2 * i + 1) * ((1.0 - upper(*low)).ln() + upper(*high).ln())).sum();
            (-n - sum / n) * (1.0 + 0.75 / n + 2.25 / (n * n))
        };
        let found = anderson_darling(&values).unwrap().statistic;
        let expected = defining(&values);
        assert!((found / expected - 1.0).abs() < 1e-9, "{found} {expected}");
        let in_parts = |values: &[f64]| anderson_darling_in_parts(|| values.iter().map(|v| (*v, 1.0))).unwrap().statistic;
        assert!((in_parts(&values) / expected - 1.0).abs() < 1e-9, "in parts of the range");
        assert!((in_parts(&values[1..]) / expected - 1.0).abs() > 1e-9, "one value is left out");
        let mut twice: Vec<(f64, f64)> = values.iter().map(|v| (*v, 2.0)).collect();
        let (found, expected) = (anderson_darling_counted(&mut twice).unwrap().statistic, defining(&[values.as_slice(), &values].concat()));
        assert!((found / expected - 1.0).abs() < 1e-9, "{found} {expected}");
        let other = defining(&[&values[1..], &[values[0] + 0.5]].concat());
        assert!((found / other - 1.0).abs() > 1e-9, "one value is moved");
    }
}
