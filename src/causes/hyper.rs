//! What is integrated numerically: roll arm, gain of a move, force factor, compliances, noise levels, spread between passes.
//!
//! Each is a monotone function of its own standard normal deviate, so that the prior of the whole vector is a standard normal: a
//! deviate of 0 is the prior's median. Given them the rest of the model is linear and Gaussian (with half-normals).

use super::block::{Known, Scale};
use super::normal::distribution;
use crate::physics::{Compliances, Support};
use crate::statistics::distributions::normal_quantile;
use std::f64::consts::PI;

/// Factor of the log-normal by which a pass to the tailstock has another radial force (common practice, no source).
pub(super) const TRAILING_EDGE_FACTOR: f64 = 1.3;

/// One quantity that is integrated numerically.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Hyper {
    /// `h`, mm: normal.
    RollArm { mean: f64, sd: f64 },
    /// `G`: log-normal.
    MoveGain { median: f64, factor: f64 },
    /// `q`: log-normal of median 1.
    Force { factor: f64 },
    /// Further factor of passes to the tailstock: log-normal of median 1.
    ForceToTailstock,
    /// `c₂`, µrad/(N·m): half-normal of this scale.
    ChuckTilt { scale: f64 },
    /// `1/k_h`, µm/N: half-normal.
    HeadstockCentre { scale: f64 },
    /// `1/k_t`, µm/N: half-normal.
    TailstockCentre { scale: f64 },
    /// Noise level: log-normal around the data sheet, in the log's unit, with the variance of rounding added.
    Noise { index: usize, median: f64, factor: f64, rounding_variance: f64 },
    /// Spread of the slope between passes, in its scale: half-t with 3 degrees of freedom.
    SlopeSpread,
    /// Spread of the barrel, likewise.
    BarrelSpread,
}

/// The quantities at one point.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Values {
    /// `h`, mm.
    pub(super) roll_arm: f64,
    /// `G`.
    pub(super) gain: f64,
    /// `q`.
    pub(super) force: f64,
    /// Its further factor to the tailstock.
    pub(super) to_tailstock: f64,
    /// What yields.
    pub(super) compliances: Compliances,
    /// `λ`.
    pub(super) grip: f64,
    /// Variance of each noise level.
    pub(super) noise: Vec<f64>,
    /// Spread of slopes in units of its scale.
    pub(super) slope_spread: f64,
    /// Spread of barrels in units of its scale.
    pub(super) barrel_spread: f64,
}

impl Values {
    /// Variance of the noise level with this index.
    pub(super) fn noise_variance(&self, index: usize) -> f64 {
        self.noise[index]
    }

    /// What multiplies a column.
    pub(super) fn scale(&self, scale: Scale) -> f64 {
        match scale {
            Scale::One => 1.0,
            Scale::RollArm => self.roll_arm,
            Scale::Grip => self.grip,
            Scale::Slack => 1.0 - self.grip,
            Scale::RollArmGrip => self.roll_arm * self.grip,
            // An arm within a millimetre of zero would make any roll of worn ways infinite.
            Scale::InverseRollArm => 1.0 / if self.roll_arm.abs() < 1.0 { 1.0_f64.copysign(self.roll_arm) } else { self.roll_arm },
        }
    }

    /// A column's known coefficient.
    pub(super) fn known(&self, known: Known) -> f64 {
        match known {
            Known::None => 0.0,
            Known::Constant(value) => value,
            Known::Gain(value) => value * self.gain,
        }
    }
}

/// All of them for a trial, with what is fixed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hypers {
    /// In the order of the deviates.
    pub(super) kinds: Vec<Hyper>,
    /// The bar as held, with rigid supports.
    pub(super) support: Support,
    /// Number of noise levels.
    pub(super) noise_levels: usize,
}

impl Hypers {
    /// Number of deviates.
    pub(super) fn len(&self) -> usize {
        self.kinds.len()
    }

    /// The quantities at the deviates `x`.
    pub(super) fn values(&self, x: &[f64]) -> Values {
        let mut values = Values {
            roll_arm: 0.0,
            gain: 1.0,
            force: 1.0,
            to_tailstock: 1.0,
            compliances: Compliances::RIGID,
            grip: 1.0,
            noise: vec![1.0; self.noise_levels],
            slope_spread: 0.0,
            barrel_spread: 0.0,
        };
        let (mut tilt, mut head, mut tail) = (0.0, 0.0, 0.0);
        for (kind, x) in self.kinds.iter().zip(x) {
            match *kind {
                Hyper::RollArm { mean, sd } => values.roll_arm = mean + sd * x,
                Hyper::MoveGain { median, factor } => values.gain = median * factor.powf(*x),
                Hyper::Force { factor } => values.force = factor.powf(*x),
                Hyper::ForceToTailstock => values.to_tailstock = TRAILING_EDGE_FACTOR.powf(*x),
                Hyper::ChuckTilt { scale } => tilt = scale * half_normal(*x),
                Hyper::HeadstockCentre { scale } => head = scale * half_normal(*x),
                Hyper::TailstockCentre { scale } => tail = scale * half_normal(*x),
                Hyper::Noise { index, median, factor, rounding_variance } => {
                    values.noise[index] = (median * factor.powf(*x)).powi(2) + rounding_variance;
                }
                Hyper::SlopeSpread => values.slope_spread = half_t3(*x),
                Hyper::BarrelSpread => values.barrel_spread = half_t3(*x),
            }
        }
        values.compliances = Compliances::from_prior_units(tilt, head);
        values.compliances.tailstock_centre_mm_per_n = Compliances::from_prior_units(tilt, tail).tailstock_centre_mm_per_n;
        let mut support = self.support.clone();
        support.compliances = values.compliances;
        values.grip = support.firmness();
        values
    }
}

/// The half-normal deviate whose distribution function is `Φ(x)`.
fn half_normal(x: f64) -> f64 {
    let tail = 0.5 * distribution(-x);
    normal_quantile(tail).map_or(0.0, |z| (-z).max(0.0))
}

/// The half-t deviate with 3 degrees of freedom whose distribution function is `Φ(x)`.
///
/// With `v = t/√3` the distribution function is `(2/π)[atan v + v/(1 + v²)]` and the tail, with `u = 1/v`,
/// `(2/π)[atan u − u/(1 + u²)]` (Abramowitz & Stegun 26.7.3); solved by Newton's method.
pub(super) fn half_t3(x: f64) -> f64 {
    let root3 = 3.0_f64.sqrt();
    if x < 0.0 {
        let goal = 0.5 * PI * distribution(x);
        let mut v = 0.5 * goal;
        for _ in 0..50 {
            let square = 1.0 + v * v;
            let step = (v.atan() + v / square - goal) * square * square / 2.0;
            v = (v - step).max(0.0);
            if step.abs() <= 1e-14 * v {
                break;
            }
        }
        root3 * v
    } else {
        let goal = 0.5 * PI * distribution(-x);
        let mut u = (1.5 * goal).cbrt();
        for _ in 0..50 {
            let square = 1.0 + u * u;
            // For small u both terms cancel; the series 2u³/3 − 4u⁵/5 + 6u⁷/7 keeps the digits.
            let excess = if u < 0.02 { u.powi(3) * (2.0 / 3.0 - 0.8 * u * u + 6.0 / 7.0 * u.powi(4)) } else { u.atan() - u / square };
            let step = (excess - goal) * square * square / (2.0 * u * u);
            u = (u - step).max(0.1 * u);
            if step.abs() <= 1e-13 * u {
                break;
            }
        }
        root3 / u
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Quantiles of Student's t with 3 degrees of freedom: 0.75 → 0.7649, 0.95 → 2.3534, 0.975 → 3.1824, 0.995 → 5.8409
    /// (Abramowitz & Stegun, Table 26.10).
    #[test]
    fn half_t_quantiles_are_those_of_the_table() {
        for (p, expected, half_digit) in [(0.75, 0.765, 6e-4), (0.95, 2.353, 6e-4), (0.975, 3.182, 6e-4), (0.995, 5.841, 6e-4)] {
            let half = 2.0 * p - 1.0;
            let t = half_t3(normal_quantile(half).unwrap());
            assert!((t - expected).abs() < half_digit, "{p}: {t}");
            assert!((half_t3(normal_quantile(half + 0.002).unwrap()) - expected).abs() > half_digit);
        }
        assert!(half_t3(-8.0) > 0.0 && half_t3(-8.0) < 1e-14);
        assert!(half_t3(8.0) > 1e4 && half_t3(8.0).is_finite());
    }

    #[test]
    fn half_normal_median_is_the_quartile() {
        assert!((half_normal(0.0) - 0.674_489_750_196_082).abs() < 1e-12);
        assert!(half_normal(-10.0) < 1e-12 && half_normal(6.0) > 6.0);
    }

    /// The distribution function and the tail by their closed forms, to the digits that subtraction leaves.
    #[test]
    fn half_t_deviates_have_the_probability_of_the_closed_form() {
        for i in -24..=22 {
            let x = f64::from(i) / 4.0;
            let v = half_t3(x) / 3f64.sqrt();
            let (found, expected) = if x < 0.0 {
                ((v.atan() + v / (1.0 + v * v)) * 2.0 / PI, distribution(x))
            } else {
                let u = 1.0 / v;
                ((u.atan() - u / (1.0 + u * u)) * 2.0 / PI, distribution(-x))
            };
            assert!((found / expected - 1.0).abs() < 1e-8, "{x}: {found:e} {expected:e}");
        }
    }

    #[test]
    fn deviates_become_quantities_by_hand() {
        let support = Support::of_bar(&super::super::fixture::bar(crate::trial::Holding::Chuck).bar, Compliances::RIGID);
        let kinds = vec![
            Hyper::RollArm { mean: 150.0, sd: 30.0 },
            Hyper::MoveGain { median: 0.8, factor: 1.5 },
            Hyper::Force { factor: 2.0 },
            Hyper::ForceToTailstock,
            Hyper::ChuckTilt { scale: 20.0 },
            Hyper::HeadstockCentre { scale: 0.05 },
            Hyper::TailstockCentre { scale: 0.03 },
            Hyper::Noise { index: 1, median: 0.002, factor: 1.5, rounding_variance: 7e-7 },
        ];
        let hypers = Hypers { kinds, support, noise_levels: 2 };
        assert_eq!(hypers.len(), 8);
        let values = hypers.values(&[-0.5, 1.0, 2.0, 1.0, 0.0, 0.0, 0.0, 2.0]);
        let near = |found: f64, expected: f64| (found - expected).abs() < 1e-12 * expected.abs();
        assert!(
            near(values.roll_arm, 135.0)
                && near(values.gain, 1.2)
                && near(values.force, 4.0)
                && near(values.to_tailstock, TRAILING_EDGE_FACTOR)
        );
        // the quartile of the normal distribution, 0.67449, times each scale; 1 µrad/(N·m) = 1e-9 rad/(N·mm), 1 µm/N = 1e-3 mm/N
        let q = 0.674_489_750_196_082;
        let c = values.compliances;
        assert!((c.chuck_tilt_rad_per_nmm / (20e-9 * q) - 1.0).abs() < 1e-9);
        assert!(
            (c.headstock_centre_mm_per_n / (50e-6 * q) - 1.0).abs() < 1e-9
                && (c.tailstock_centre_mm_per_n / (30e-6 * q) - 1.0).abs() < 1e-9
        );
        // (0.002 · 2.25)² and the rounding
        assert!(near(values.noise[1], 2.025e-5 + 7e-7) && near(values.noise[0], 1.0));
        assert!(values.grip > 0.0 && values.grip < 1.0);
    }
}
