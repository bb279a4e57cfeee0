//! The standard normal distribution.

use super::error_function::{scaled_erfc, small_erf};
use super::valid_probability;
use statrs::function::erf::erfc_inv;

/// 97.5 % point of the standard normal distribution: half of it on each side is the central 95 %.
pub const NORMAL_975: f64 = 1.959_963_984_540_054;

/// Density `exp(−z²/2)/√(2π)`.
#[must_use]
pub fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() * 0.398_942_280_401_432_7
}

/// `(smaller, larger)` tail of `|z|`.
fn tails(z: f64) -> Option<(f64, f64)> {
    if z.is_nan() {
        return None;
    }
    let z = z.abs();
    let x = z * std::f64::consts::FRAC_1_SQRT_2;
    let small = if x < 0.468_75 {
        0.5 - 0.5 * small_erf(x)
    } else if z < 40.0 {
        // The exponent in two parts, the first exact, so that far tails keep their digits (Cody).
        let near = (z * 16.0).trunc() / 16.0;
        0.5 * (-0.5 * near * near).exp() * (-0.5 * (z - near) * (z + near)).exp() * scaled_erfc(x)
    } else {
        0.0
    };
    Some((small, 1.0 - small))
}

/// Upper tail `P(Z > z)`; `None` for NaN.
///
/// `½ erfc(z/√2)` (Abramowitz & Stegun 26.2.29) by the approximations of Cody (1969). About 0.0249979 at 1.96.
#[must_use]
pub fn normal_sf(z: f64) -> Option<f64> {
    // What is left beyond is less than half a unit in the last place of 1.
    if z < -8.5 {
        return Some(1.0);
    }
    let (small, large) = tails(z)?;
    Some(if z >= 0.0 { small } else { large })
}

/// `P(Z ≤ z)`; `None` for NaN.
#[must_use]
pub fn normal_cdf(z: f64) -> Option<f64> {
    normal_sf(-z)
}

/// `P(|Z| > |z|)`; `None` for NaN.
#[must_use]
pub fn normal_two_sided_p(z: f64) -> Option<f64> {
    Some(2.0 * tails(z)?.0)
}

/// The `z` with `P(Z ≤ z) = p`; `None` unless `0 < p < 1`.
///
/// `−√2 erfc⁻¹(2p)` (Abramowitz & Stegun 26.2.29 inverted; statrs' rational approximations). About 1.959964 at 0.975.
#[must_use]
pub fn normal_quantile(p: f64) -> Option<f64> {
    valid_probability(p).then(|| -std::f64::consts::SQRT_2 * erfc_inv(2.0 * p))
}

#[cfg(test)]
mod tests {
    use super::normal_sf;

    /// Where the far side is given as 1 without working it out, it would come out as 1: what is left is below half of 2⁻⁵³.
    #[test]
    fn beyond_the_last_place_nothing_is_left() {
        for z in [8.4, 8.5, 8.500_001, 12.0, 38.0] {
            let left = normal_sf(z).unwrap();
            assert!(left < 2.0_f64.powi(-54), "{z}: {left}");
            assert_eq!(normal_sf(-z), Some(1.0 - left));
        }
        assert!(normal_sf(-7.0).unwrap() < 1.0);
    }
}
