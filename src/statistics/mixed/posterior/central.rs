//! Central intervals of a mixture of normal distributions, and the t distribution that has the same.

use crate::statistics::distributions::{NORMAL_975, t_quantile};
use crate::statistics::mixed::normal_table::interpolated_cdf;

/// Probability within one standard deviation of a normal distribution.
pub(super) const ONE_SIGMA: f64 = 0.682_689_492_137_085_9;

/// Puts parts whose centre is the common one into classes of width, 2 % apart, each with its mean width.
pub(super) fn merge(parts: Vec<(f64, f64, f64)>) -> Vec<(f64, f64, f64)> {
    let narrowest = parts.iter().fold(f64::INFINITY, |least, part| least.min(part.2));
    if parts.iter().any(|part| part.1.abs() > 1e-6 * part.2) {
        return parts;
    }
    let mut classes: std::collections::BTreeMap<i64, (f64, f64)> = std::collections::BTreeMap::new();
    for (weight, _, width) in parts {
        let class = classes.entry(((width / narrowest).ln() * 50.0).floor() as i64).or_insert((0.0, 0.0));
        class.0 += weight;
        class.1 += weight * width;
    }
    classes.into_values().filter(|class| class.0 > 0.0).map(|(weight, sum)| (weight, 0.0, sum / weight)).collect()
}

/// Solves `Σ w·P(|N(offset, width)| ≤ h) = probability` for `h` by safeguarded Newton steps.
pub(super) fn half_width(parts: &[(f64, f64, f64)], probability: f64) -> f64 {
    let total: f64 = parts.iter().map(|part| part.0).sum();
    let inside = |h: f64| {
        let (mut sum, mut density) = (0.0, 0.0);
        for &(weight, offset, width) in parts {
            let (low, high) = ((-h - offset) / width, (h - offset) / width);
            sum += weight * (interpolated_cdf(high) - interpolated_cdf(low));
            density += weight * ((-0.5 * low * low).exp() + (-0.5 * high * high).exp()) / width;
        }
        (sum / total, density / (total * std::f64::consts::TAU.sqrt()))
    };
    let mut high = parts.iter().map(|part| part.0 * (part.1.abs() + 2.0 * part.2)).sum::<f64>() / total;
    if high <= 0.0 {
        return 0.0;
    }
    let mut low = 0.0;
    while inside(high).0 < probability {
        low = high;
        high *= 2.0;
        if !high.is_finite() {
            return f64::MAX;
        }
    }
    let mut h = 0.5 * (low + high);
    for _ in 0..80 {
        let (reached, slope) = inside(h);
        if reached < probability {
            low = h;
        } else {
            high = h;
        }
        let newton = h + (probability - reached) / slope;
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if (next - h).abs() <= 1e-9 * h || high - low <= 1e-12 * high {
            return next;
        }
        h = next;
    }
    h
}

/// Scale and degrees of freedom of the t distribution with these central 68.27 % and 95 % half-widths.
pub(super) fn matching_t(half_width68: f64, half_width95: f64) -> (f64, Option<f64>) {
    let (upper68, upper95) = (0.5 + 0.5 * ONE_SIGMA, 0.975);
    let normal_ratio = NORMAL_975;
    if half_width68 <= 0.0 {
        return (0.0, None);
    }
    let ratio = half_width95 / half_width68;
    if ratio <= normal_ratio * (1.0 + 1e-5) {
        return (half_width95 / normal_ratio, None);
    }
    // The ratio falls as the degrees of freedom grow; near the normal, ratio − 1.96 is nearly in proportion to their inverse.
    // Regula falsi (Illinois) on the inverse, whose excess over the wanted ratio changes sign between 0 and 2.
    let excess = |inverse: f64| match (t_quantile(upper95, inverse.recip()), t_quantile(upper68, inverse.recip())) {
        (Some(wide), Some(narrow)) => (wide / narrow / ratio).ln(),
        _ => (normal_ratio / ratio).ln(),
    };
    let (mut low, mut high) = ((1e-7, (normal_ratio / ratio).ln()), (2.0, excess(2.0)));
    let mut inverse = 2.0;
    let mut last_side = 0;
    for _ in 0..60 {
        if high.1 <= 0.0 {
            break;
        }
        inverse = low.0 + (high.0 - low.0) * low.1 / (low.1 - high.1);
        let here = excess(inverse);
        if here.abs() < 1e-9 || !here.is_finite() {
            break;
        }
        let side = if here < 0.0 { -1 } else { 1 };
        if side < 0 {
            low = (inverse, here);
        } else {
            high = (inverse, here);
        }
        if side == last_side {
            if side < 0 { high.1 *= 0.5 } else { low.1 *= 0.5 }
        }
        last_side = side;
    }
    let dof = inverse.recip();
    match t_quantile(upper95, dof) {
        Some(factor) => (half_width95 / factor, Some(dof)),
        None => (half_width95 / normal_ratio, None),
    }
}
