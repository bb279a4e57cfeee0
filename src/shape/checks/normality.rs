//! Normality of the residuals.

use super::super::ShapeTest;
use super::super::pooled::PooledFit;
use super::residuals::scaled;
use super::{LEVEL, made, not_made};
use crate::statistics::{Atoms, Normality, RunRows, anderson_darling_counted, anderson_darling_in_parts, shapiro_wilk};

/// Most residuals of the Shapiro–Wilk test.
const MOST_OF_SHAPIRO_WILK: f64 = 5_000.0;
/// Different residuals up to which they are listed; more are gone over part by part.
const MOST_LISTED: usize = 1 << 20;

/// Shapiro–Wilk on residuals scaled to equal variance, Anderson–Darling above 5,000.
pub(super) fn normality_test(drawn: &PooledFit<'_>, atoms: &Atoms, flagged: bool) -> ShapeTest {
    const NAME: &str = "normality";
    let tested = if drawn.dof < 6.0 { None } else { tested(drawn, atoms) };
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
    let runs = || (0..drawn.model.blocks()).flat_map(|block| drawn.model.block(block).map(move |run| (block, run)));
    let residuals = || {
        let mut room = drawn.fit.basis.scratch();
        runs().flat_map(move |(block, run)| scaled(drawn, atoms, block, run, &mut room).into_iter().flatten())
    };
    if atoms.len() > MOST_LISTED {
        return anderson_darling_in_parts(residuals);
    }
    let mut listed: Vec<(f64, f64)> = residuals().collect();
    if listed.iter().map(|residual| residual.1).sum::<f64>() > MOST_OF_SHAPIRO_WILK {
        return anderson_darling_counted(&mut listed);
    }
    let all: Vec<f64> = listed.iter().flat_map(|(value, count)| std::iter::repeat_n(*value, *count as usize)).collect();
    shapiro_wilk(&all)
}
