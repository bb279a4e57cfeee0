//! Linear mixed models in which each group has its own random slope and bend about fixed ones.
//!
//! The model of group `p` with `n` readings is `y = Z(Bβ + u) + e`, `u ~ N(0, D)`, `e ~ N(0, σ²W⁻¹)`:
//! up to two columns in `Z`, up to four fixed coefficients in `β`, and `B` says which of them this group follows.
//! A free constant per group is taken out beforehand ([`Group::centred`]); restricted likelihood of what is left is
//! the same as that of the full model. Each group enters only through `Z'WZ`, `Z'Wy` and `y'Wy`, so that cost goes
//! with the number of readings and no matrix of `n × n` is ever made.
//!
//! With many groups the spread is estimated by restricted maximum likelihood ([`fit_reml`]) with degrees of freedom
//! after Satterthwaite; with few it is integrated over a half-t prior ([`integrate_spread`]).

mod cells;
mod evaluation;
mod group;
mod noise;
mod normal_table;
mod posterior;
mod reml;

pub use evaluation::{Evaluation, evaluate};
pub use group::{Group, Repeated};
pub use noise::NoisePrior;
pub use posterior::{CentralInterval, SpreadPosterior, SpreadPrior, integrate_spread};
pub use reml::{RemlFit, fit_reml};

use nalgebra::{Matrix4, SMatrix, SVector};

/// Largest number of fixed coefficients.
pub const FIXED: usize = 4;
/// One reading of a group: its columns of `Z`, its value, its weight.
pub type Row = ([f64; 2], f64, f64);
/// Which fixed coefficients a group's columns follow: 2 columns by 4 coefficients.
pub type Terms = SMatrix<f64, 2, FIXED>;
/// Fixed coefficients, or a contrast of them; unused ones are 0.
pub type Coefficients = SVector<f64, FIXED>;
/// Covariance of the fixed coefficients.
pub type FixedCovariance = Matrix4<f64>;
