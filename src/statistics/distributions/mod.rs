//! Probability distributions that the tests and intervals need: normal, Student's t, F and chi-square.
//!
//! The normal's tails come from Cody's rational approximations (1969), those of the others from continued fractions and series for the
//! incomplete beta and gamma functions, with a prefactor by saddle point (Loader 2000) that keeps its digits from half a degree of
//! freedom to 10⁸ and more. Quantiles are roots of those
//! tails. Nothing here panics, hangs or returns a number that is not finite: what is out of range comes back as `None`.

mod chi_square;
mod deviate;
mod error_function;
mod fisher;
mod incomplete_beta;
mod incomplete_gamma;
mod inversion;
mod normal;
mod saddle_point;
mod student;

pub use chi_square::{chi_square_cdf, chi_square_quantile, chi_square_sf, chi_square_upper_quantile};
pub use deviate::{normal_of_uniform, standard_normal};
pub use error_function::scaled_erfc;
pub use fisher::{f_cdf, f_quantile, f_sf, f_upper_quantile};
pub use normal::{NORMAL_975, normal_cdf, normal_density, normal_quantile, normal_sf, normal_two_sided_p};
pub use saddle_point::ln_gamma;
pub use student::{coverage_factor95, t_cdf, t_quantile, t_sf, t_two_sided_p, t_upper_quantile};

/// Degrees of freedom that make sense: at least a millionth; infinite is allowed.
fn valid_dof(dof: f64) -> bool {
    dof >= 1e-6
}

/// A probability strictly between 0 and 1.
fn valid_probability(p: f64) -> bool {
    p > 0.0 && p < 1.0
}
