//! Mixtures of normal distributions.

use super::distributions::normal_cdf;

/// One part of a mixture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalPart {
    /// Its weight, not negative; the weights of a mixture need not add up to 1.
    pub weight: f64,
    /// Its mean.
    pub mean: f64,
    /// Its standard deviation; 0 is a point.
    pub sd: f64,
}

/// Mean and standard deviation of a mixture: `Σwμ` and `√Σw(σ² + (μ − mean)²)`, `w` scaled to add up to 1. `None` without weight.
#[must_use]
pub fn mixture_moments(parts: &[NormalPart]) -> Option<(f64, f64)> {
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    let mean = parts.iter().map(|part| part.weight * part.mean).sum::<f64>() / total;
    let variance = parts.iter().map(|part| part.weight * (part.sd * part.sd + (part.mean - mean).powi(2))).sum::<f64>() / total;
    (mean.is_finite() && variance.is_finite()).then(|| (mean, variance.max(0.0).sqrt()))
}

/// The `x` below which the mixture has the probability `p`, 0 < `p` < 1; `None` as [`mixture_moments`], or for another `p`.
///
/// By halving, from a width that Cantelli's inequality gives: beyond `mean ± sd·√(1/min(p, 1 − p))` less than that is left.
#[must_use]
pub fn mixture_quantile(parts: &[NormalPart], p: f64) -> Option<f64> {
    let (mean, sd) = mixture_moments(parts)?;
    if !(p > 0.0 && p < 1.0) {
        return None;
    }
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    let below = |x: f64| {
        let part =
            |q: &NormalPart| if q.sd > 0.0 { normal_cdf((x - q.mean) / q.sd).unwrap_or(0.5) } else { f64::from(u8::from(x >= q.mean)) };
        parts.iter().map(|q| q.weight * part(q)).sum::<f64>() / total
    };
    let reach = sd / p.min(1.0 - p).sqrt();
    let (mut low, mut high) = (mean - reach, mean + reach);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if below(middle) < p { low = middle } else { high = middle }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::distributions::NORMAL_975;

    /// Against the normal's own 97.5 % point, and mixtures that can be solved by hand.
    #[test]
    fn quantiles_are_those_that_can_be_had_by_hand() {
        let one = [NormalPart { weight: 3.0, mean: 2.0, sd: 0.5 }];
        let close = |x: Option<f64>, expected: f64| x.is_some_and(|x| (x - expected).abs() < 1e-12);
        assert!(close(mixture_quantile(&one, 0.975), 2.0 + 0.5 * NORMAL_975));
        assert!(!close(mixture_quantile(&one, 0.975), 2.0 + 0.5 * (NORMAL_975 + 1e-9)), "the comparison must see a small change");
        // Two halves far apart: the quartiles of the whole are the medians of the parts.
        let two = [NormalPart { weight: 0.5, mean: -100.0, sd: 1.0 }, NormalPart { weight: 0.5, mean: 100.0, sd: 2.0 }];
        assert!(mixture_quantile(&two, 0.25).is_some_and(|x| (x + 100.0).abs() < 1e-9));
        assert!(mixture_quantile(&two, 0.75).is_some_and(|x| (x - 100.0).abs() < 1e-9));
        assert_eq!(mixture_moments(&two), Some((0.0, (100.0_f64.powi(2) + 2.5).sqrt())));
        // A point of weight 0.6 holds the median.
        let point = [NormalPart { weight: 0.6, mean: 1.0, sd: 0.0 }, NormalPart { weight: 0.4, mean: 0.0, sd: 1.0 }];
        assert!(close(mixture_quantile(&point, 0.5), 1.0));
        assert_eq!(mixture_quantile(&[], 0.5), None);
        assert_eq!(mixture_quantile(&one, 1.0), None);
    }
}
