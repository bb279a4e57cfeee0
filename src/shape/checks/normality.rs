//! Normality of the residuals.

use super::super::ShapeTest;
use super::super::pooled::PooledFit;
use super::residuals::scaled;
use super::{LEVEL, made, not_made};
use crate::statistics::{Atoms, Normality, RunRows, anderson_darling_counted, shapiro_wilk};

/// Most residuals of the Shapiro–Wilk test.
const MOST_OF_SHAPIRO_WILK: f64 = 5_000.0;

/// Shapiro–Wilk on residuals scaled to equal variance, Anderson–Darling above 5,000.
pub(super) fn normality_test(drawn: &PooledFit<'_>, atoms: &Atoms, flagged: bool) -> ShapeTest {
    const NAME: &str = "normality";
    let tested = if drawn.dof < 6.0 || drawn.residual_square <= 0.0 { None } else { tested(drawn, atoms) };
    match tested {
        None => {
            not_made(NAME, "Not made: it needs six degrees of freedom and readings that scatter; more stations or repeats would allow it.")
        }
        Some(t) if t.p < LEVEL => made(
            NAME,
            t.statistic,
            t.p,
            if flagged {
                "Residuals are not normal (p below 0.05): flagged readings lie far out; compare the robust taper."
            } else {
                "Residuals are not normal (p below 0.05): coarse rounding, two ways of reading or a few wild readings do that; compare the robust taper."
            },
        ),
        Some(t) => made(NAME, t.statistic, t.p, "Residuals look normal (p not below 0.05)."),
    }
}

fn tested(drawn: &PooledFit<'_>, atoms: &Atoms) -> Option<Normality> {
    let mut residuals: Vec<(f64, f64)> = Vec::with_capacity(atoms.len());
    for block in 0..drawn.model.blocks() {
        for run in drawn.model.block(block) {
            residuals.extend(scaled(drawn, atoms, block, run).into_iter().flatten());
        }
    }
    if residuals.iter().map(|residual| residual.1).sum::<f64>() > MOST_OF_SHAPIRO_WILK {
        return anderson_darling_counted(&mut residuals);
    }
    let all: Vec<f64> = residuals.iter().flat_map(|(value, count)| std::iter::repeat_n(*value, *count as usize)).collect();
    shapiro_wilk(&all)
}
