//! The parts of Loader's saddle-point form of gamma and beta densities, which lose no digits for large parameters.
//!
//! Source: Loader (2000), "Fast and accurate computation of binomial probabilities".

/// Half the logarithm of 2π.
pub(super) const HALF_LN_TWO_PI: f64 = 0.918_938_533_204_672_8;

/// What Stirling's formula leaves out: `δ(a) = ln Γ(a) − [(a − ½) ln a − a + ½ ln 2π]`, for `a > 0`.
///
/// Series (Abramowitz & Stegun 6.1.41) from 16 up; below that by the exact recursion
/// `δ(a) = δ(a + 1) + (a + ½) ln(1 + 1/a) − 1`.
pub(super) fn stirling_error(a: f64) -> f64 {
    let mut shift = 0.0;
    let mut argument = a;
    while argument < 16.0 {
        shift += (argument + 0.5) * (1.0 / argument).ln_1p() - 1.0;
        argument += 1.0;
    }
    let inverse = 1.0 / argument;
    let square = inverse * inverse;
    let series = inverse
        * (1.0 / 12.0
            - square
                * (1.0 / 360.0
                    - square * (1.0 / 1260.0 - square * (1.0 / 1680.0 - square * (1.0 / 1188.0 - square * (691.0 / 360_360.0))))));
    shift + series
}

/// Natural logarithm of the gamma function for `a > 0`; `None` otherwise (statrs' Lanczos sum).
///
/// Checked by hand: `Γ(5) = 24`.
#[must_use]
pub fn ln_gamma(a: f64) -> Option<f64> {
    (a > 0.0 && a.is_finite()).then(|| statrs::function::gamma::ln_gamma(a))
}

/// The deviance part `u ln(u/v) + v − u`, without cancellation where `u` is near `v` (Loader 2000, section 4).
pub(super) fn deviance(u: f64, v: f64) -> f64 {
    let difference = u - v;
    if difference.abs() < 0.1 * (u + v) {
        let ratio = difference / (u + v);
        let mut sum = difference * ratio;
        let mut term = 2.0 * u * ratio;
        let square = ratio * ratio;
        for j in 1..200_u32 {
            term *= square;
            let next = sum + term / f64::from(2 * j + 1);
            if next == sum {
                break;
            }
            sum = next;
        }
        return sum;
    }
    u * (u / v).ln() + v - u
}
