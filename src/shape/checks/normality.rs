//! Normality of the residuals.

use super::super::pooled::PooledFit;
use super::super::{FittedReading, ShapeTest};
use super::{LEVEL, made, not_made};
use crate::statistics::{anderson_darling, shapiro_wilk};

/// Shapiro–Wilk on residuals scaled to equal variance, Anderson–Darling above 5,000.
pub(super) fn normality_test(drawn: &PooledFit, points: &[FittedReading]) -> ShapeTest {
    const NAME: &str = "normality";
    let scaled: Vec<f64> = drawn
        .rows
        .iter()
        .filter(|row| row.leverage < 1.0 - 1e-9)
        .map(|row| row.weight.sqrt() * row.residual_mm / (1.0 - row.leverage).sqrt())
        .collect();
    let tested = if drawn.dof < 6.0 || drawn.residual_square <= 0.0 {
        None
    } else if scaled.len() <= 5_000 {
        shapiro_wilk(&scaled)
    } else {
        anderson_darling(&scaled)
    };
    match tested {
        None => {
            not_made(NAME, "Not made: it needs six degrees of freedom and readings that scatter; more stations or repeats would allow it.")
        }
        Some(t) if t.p < LEVEL => made(
            NAME,
            t.statistic,
            t.p,
            if points.iter().any(|p| p.outlier) {
                "Residuals are not normal (p below 0.05): flagged readings lie far out; compare the robust taper."
            } else {
                "Residuals are not normal (p below 0.05): coarse rounding, two ways of reading or a few wild readings do that; compare the robust taper."
            },
        ),
        Some(t) => made(NAME, t.statistic, t.p, "Residuals look normal (p not below 0.05)."),
    }
}
