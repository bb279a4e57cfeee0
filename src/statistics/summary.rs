//! Mean, standard deviation and autocorrelation of a series.

use super::doubled::{Doubled, doubled_sum};

/// What a series is like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// Number of values.
    pub count: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Standard deviation with divisor n − 1; `None` for one value.
    pub sd: Option<f64>,
    /// Lag-1 autocorrelation `Σ(xᵢ − x̄)(xᵢ₊₁ − x̄)/Σ(xᵢ − x̄)²`, as NIST StRD defines it; `None` where all values are equal.
    pub lag1: Option<f64>,
}

impl Summary {
    /// Summary of a series, sums in doubled precision about a mean in doubled precision; `None` when empty or not finite.
    ///
    /// Of 1, 2, 3: mean 2, standard deviation 1, autocorrelation 0.
    #[must_use]
    pub fn of(values: &[f64]) -> Option<Self> {
        if values.is_empty() || values.iter().any(|v| !v.is_finite()) {
            return None;
        }
        let mean = mean_of(values);
        let centred: Vec<Doubled> = values.iter().map(|v| mean.negated().plus(*v)).collect();
        let square = centred.iter().fold(Doubled::default(), |sum, d| sum.plus_doubled(d.times_doubled(*d)));
        let product = centred
            .iter()
            .zip(centred.iter().skip(1))
            .fold(Doubled::default(), |sum, (a, b)| sum.plus_doubled(a.times_doubled(*b)))
            .value();
        let total = square.value();
        let count = values.len();
        let summary = Self {
            count,
            mean: mean.value(),
            sd: (count > 1).then(|| square.over(count as f64 - 1.0).value().max(0.0).sqrt()),
            lag1: (total > 0.0).then(|| product / total),
        };
        (summary.mean.is_finite() && total.is_finite()).then_some(summary)
    }
}

/// Mean in doubled precision; 0 for none.
pub(super) fn mean_of(values: &[f64]) -> Doubled {
    doubled_sum(values).over(values.len().max(1) as f64)
}

/// Sum of weight times squared deviation from the weighted mean of values with their weights, in doubled precision; 0 without weight.
pub(super) fn squares_about_weighted_mean(values: &[(f64, f64)]) -> f64 {
    let weights: f64 = values.iter().map(|v| v.1).sum();
    if weights.is_nan() || weights <= 0.0 {
        return 0.0;
    }
    let mean = values.iter().fold(Doubled::default(), |sum, v| sum.plus_product(v.0, v.1)).over(weights);
    values
        .iter()
        .fold(Doubled::default(), |sum, v| {
            let d = mean.negated().plus(v.0);
            sum.plus_doubled(d.times_doubled(d).times(v.1))
        })
        .value()
}

/// Median; `None` when empty or a value is not a number.
///
/// Of 1, 2, 3, 10: 2.5.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    if values.is_empty() || values.iter().any(|v| v.is_nan()) {
        return None;
    }
    let mut work = values.to_vec();
    let middle = work.len() / 2;
    let even = work.len().is_multiple_of(2);
    let (below, upper, _) = work.select_nth_unstable_by(middle, f64::total_cmp);
    let upper = *upper;
    if !even {
        return Some(upper);
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(0.5 * lower + 0.5 * upper)
}
