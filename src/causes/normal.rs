//! The normal distribution for inner loops: distribution, its logarithm and a draw above a bound.

use crate::statistics::distributions::{normal_cdf, normal_quantile, scaled_erfc};

/// Standard normal distribution function `Φ(z)`; NaN for NaN.
pub(super) fn distribution(z: f64) -> f64 {
    normal_cdf(z).unwrap_or(f64::NAN)
}

/// `ln Φ(z)`, right far into the lower tail.
pub(super) fn log_distribution(z: f64) -> f64 {
    if z > -1.0 { distribution(z).ln() } else { -0.5 * z * z + (0.5 * scaled_erfc(-z * std::f64::consts::FRAC_1_SQRT_2)).ln() }
}

/// The `uniform` quantile of a standard normal that is known to lie above `bound`.
///
/// Inverse of the survival function `S`; beyond 35 standard deviations, where it leaves the range of a double,
/// `z² = bound² − 2 ln(1 − u) + 2 ln(m(z)/m(bound))` is solved with `m(z) = S(z)/φ(z)`: each round adds three digits.
pub(super) fn quantile_above(bound: f64, uniform: f64) -> f64 {
    let u = uniform.clamp(1e-15, 1.0 - 1e-15);
    if bound > 35.0 {
        let mills = |z: f64| scaled_erfc(z * std::f64::consts::FRAC_1_SQRT_2);
        let above = |more: f64| (bound * (1.0 + 2.0 * (more - (1.0 - u).ln()) / (bound * bound)).sqrt()).max(bound);
        return (0..4).fold(above(0.0), |z, _| above((mills(z) / mills(bound)).ln()));
    }
    // P(Z > z) = (1 − u)·P(Z > bound), and P(Z > z) = Φ(−z).
    let tail = (1.0 - u) * distribution(-bound);
    (-normal_quantile(tail).unwrap_or(-bound)).max(bound)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reference: scipy 1.17.1 `scipy.special.ndtr` and `log_ndtr`; script in tests/reference/normal.
    #[test]
    fn distribution_agrees_with_reference_library() {
        let cases: [(f64, f64); 7] = [
            (-8.0, 6.22096057427174e-16),
            (-3.0, 0.001_349_898_031_630_093_3),
            (-0.66, 0.254_626_914_671_336_3),
            (-0.3, 0.382_088_577_811_047_4),
            (0.0, 0.5),
            (0.5, 0.691_462_461_274_013_1),
            (2.5, 0.993_790_334_674_224),
        ];
        for (z, expected) in cases {
            assert!((distribution(z) / expected - 1.0).abs() < 5e-14, "{z}");
            assert!((distribution(z * 1.001 + 1e-6) / expected - 1.0).abs() > 5e-14, "the comparison must see a small change");
        }
        assert!((log_distribution(-40.0) + 804.608442013754).abs() < 1e-9);
        assert!((log_distribution(-1.5) + 2.705_944_400_823_89).abs() < 1e-12);
        assert!((log_distribution(0.5) - 0.691_462_461_274_013_1_f64.ln()).abs() < 1e-14);
    }

    #[test]
    fn quantile_above_inverts_the_survival_function() {
        for bound in [-3.0, 0.0, 2.0, 6.0, 20.0] {
            for u in [0.01, 0.5, 0.99] {
                let z = quantile_above(bound, u);
                let survival = (log_distribution(-z) - log_distribution(-bound)).exp();
                assert!((survival - (1.0 - u)).abs() < 1e-6, "{bound} {u}: {survival}");
            }
        }
    }

    /// Beyond 35 and on both sides of it, by mpmath 1.3.0 (`findroot` on the logarithm of the survival function at 40 digits).
    #[test]
    fn quantile_above_far_out_agrees_with_reference_library() {
        let cases = [
            (35.0, 0.01, 35.000_286_917_440_42),
            (35.0, 0.5, 35.019_782_496_307_18),
            (35.0, 0.99, 35.131_223_548_717_86),
            (36.0, 0.01, 36.000_278_959_999_93),
            (36.0, 0.5, 36.019_234_135_733_06),
            (36.0, 0.99, 36.127_597_138_681_7),
            (60.0, 0.01, 60.000_167_458_873_39),
            (60.0, 0.5, 60.011_548_135_952_89),
            (60.0, 0.99, 60.076_682_559_326_09),
        ];
        for (bound, u, expected) in cases {
            let agrees = |z: f64| (z - expected).abs() < 1e-11;
            assert!(agrees(quantile_above(bound, u)), "{bound} {u}: {:e}", quantile_above(bound, u) - expected);
            assert!(!agrees(bound - (1.0 - u).ln() / bound), "the exponential tail is told apart");
        }
    }

    /// Uniforms at the ends of their range: what lies above is never beyond what 1e-15 of the tail leaves.
    #[test]
    fn uniforms_of_nothing_and_of_all_have_quantiles() {
        assert_eq!((quantile_above(0.5, 0.0), quantile_above(0.5, 1.0)), (quantile_above(0.5, 1e-15), quantile_above(0.5, 1.0 - 1e-15)));
        assert!(quantile_above(0.5, 1.0) > 7.0 && quantile_above(40.0, 1.0) > 40.5 && quantile_above(40.0, 1.0) < 41.0);
        assert_eq!([1e200, f64::INFINITY].map(|bound| quantile_above(bound, 0.5)), [1e200, f64::INFINITY]);
    }
}
