//! Seeded chance: the same seed gives the same numbers.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use std::f64::consts::TAU;

/// A stream of random numbers (ChaCha with 20 rounds).
///
/// Each kind of log has a stream of its own, so asking for one more log does not change the others.
#[derive(Debug, Clone)]
pub struct Chance {
    generator: ChaCha20Rng,
    spare: Option<f64>,
}

impl Chance {
    /// The stream numbered `stream` of `seed`.
    #[must_use]
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut generator = ChaCha20Rng::seed_from_u64(seed);
        generator.set_stream(stream);
        Self { generator, spare: None }
    }

    /// Uniform in [0, 1).
    pub fn uniform(&mut self) -> f64 {
        self.generator.random()
    }

    /// Normal with mean 0 and standard deviation 1 (G. E. P. Box and M. E. Muller, 1958: `√(−2 ln u)·cos 2πv`, and the sine for the next).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        let angle = TAU * self.uniform();
        self.spare = Some(radius * angle.sin());
        radius * angle.cos()
    }

    /// Log-normal with median 1 and multiplicative standard deviation `factor`: `factor^z`.
    pub fn log_normal(&mut self, factor: f64) -> f64 {
        factor.powf(self.normal())
    }

    /// Half-normal of scale 1: the size of a normal number.
    pub fn half_normal(&mut self) -> f64 {
        self.normal().abs()
    }
}
