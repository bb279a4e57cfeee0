//! Least squares, mixed models, robust fits, tests and tail probabilities. Knows no lathe.

mod combination;
pub mod distributions;
mod doubled;
mod durbin_watson;
mod equal_spread;
mod influence;
mod lack_of_fit;
pub mod least_squares;
mod legendre;
pub mod mixed;
mod normality;
mod outliers;
mod period;
mod propagation;
mod robust;
mod runs;
mod summary;
mod variance_analysis;
mod welch_satterthwaite;

pub use combination::{BetweenVariance, Combined, combine};
pub use doubled::{Doubled, doubled_sum};
pub use durbin_watson::{DurbinWatson, durbin_watson};
pub use equal_spread::brown_forsythe;
pub use influence::{Influence, influence};
pub use lack_of_fit::{FTest, aicc, lack_of_fit, lack_of_fit_by_group, nested_f_test, pure_error};
pub use least_squares::{Fit, FitError, least_squares, least_squares_doubled, weighted_least_squares};
pub use legendre::{LegendreRange, legendre_values};
pub use normality::{Normality, anderson_darling, shapiro_wilk};
pub use outliers::{Esd, EsdStep, Grubbs, generalised_esd, grubbs, rosner_from_studentised};
pub use period::{Period, period_search};
pub use propagation::{Input, Propagated, propagate};
pub use robust::{RobustFit, RobustMethod, robust_from, robust_regression};
pub use runs::{Runs, runs_test};
pub use summary::{Summary, median};
pub use variance_analysis::{Nested, OneWay, RandomGroups};
pub use welch_satterthwaite::welch_satterthwaite;
