//! Normality of the residuals.

use super::super::ShapeTest;
use super::super::cut::Cut;
use super::super::pooled::PooledFit;
use super::coarse::{Step, WHY};
use super::residuals::{scale, scaled};
use super::{LEVEL, made, not_made};
use crate::statistics::{Atoms, Normality, RunRows, anderson_darling_counted, anderson_darling_in_parts, shapiro_wilk};

/// Most residuals of the Shapiro–Wilk test.
const MOST_OF_SHAPIRO_WILK: f64 = 5_000.0;
/// Different residuals up to which they are listed; more are gone over part by part.
const MOST_LISTED: usize = 1 << 20;

/// Shapiro–Wilk on residuals scaled to equal variance, Anderson–Darling above 5,000.
///
/// Rounded readings lie on a lattice, which both tests take for a distribution that is not normal. Where that shows, each reading is first spread over the step that
/// it was rounded to, by the fractional parts of multiples of the golden section, which fill the step evenly; above 5,000 readings the test is not made then.
pub(super) fn normality_test(cut: &Cut<'_>, drawn: &PooledFit<'_>, atoms: &Atoms, step: Step, flagged: bool) -> ShapeTest {
    const NAME: &str = "normality";
    let enough = drawn.dof >= 6.0 && !drawn.fit.fits_exactly();
    let spread = step.shows_in_distribution();
    if enough && spread && (step.shows_in_scatter() || cut.readings() as f64 > MOST_OF_SHAPIRO_WILK) {
        return not_made(NAME, WHY);
    }
    let tested = if !enough {
        None
    } else if spread {
        over_the_step(drawn, atoms, cut.resolution_mm)
    } else {
        tested(drawn, atoms)
    };
    let how = if spread { " Each reading was spread over the step that it was rounded to." } else { "" };
    match tested {
        None => {
            not_made(NAME, "Not made: it needs six degrees of freedom and readings that scatter; more stations or repeats would allow it.")
        }
        Some(t) if t.p < LEVEL => made(
            NAME,
            t.statistic,
            t.p,
            format!(
                "Residuals are not normal (p below 0.05): {}; compare the robust taper where there is one.{how}",
                if flagged { "flagged readings lie far out" } else { "two ways of reading or a few wild readings do that" }
            ),
        ),
        Some(t) => made(NAME, t.statistic, t.p, format!("Residuals look normal (p not below 0.05).{how}")),
    }
}

/// The test on residuals of readings spread over the steps of `step_mm` that they were rounded to.
fn over_the_step(drawn: &PooledFit<'_>, atoms: &Atoms, step_mm: f64) -> Option<Normality> {
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    let mut room = drawn.fit.basis.scratch();
    let mut all = Vec::new();
    for (block, run) in (0..drawn.model.blocks()).flat_map(|block| drawn.model.block(block).map(move |run| (block, run))) {
        let Some(scale) = scale(drawn, block, run, &mut room) else { continue };
        for (value, count) in scaled(drawn, atoms, block, run, &mut room).into_iter().flatten() {
            for _ in 0..count as usize {
                let place = (golden * (all.len() + 1) as f64).fract() - 0.5;
                all.push(value + scale * step_mm * place);
            }
        }
    }
    shapiro_wilk(&all)
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
