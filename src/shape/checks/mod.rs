//! Every check on the fit, in the contract's order, with one plain sentence each.
//!
//! A test finds something when its p is below 0.05, the level named in every sentence (common practice, no source). Where nothing is
//! wrong it does so in one log of twenty by chance, which the page says; a test that the gauge's step keeps from that is not made.

mod coarse;
mod lack;
mod period;
mod points;
mod residuals;
mod normality;
mod serial;
mod spread;

use super::cut::Cut;
use super::pooled::PooledFit;
use super::taper_fit::TaperFit;
use super::{FittedReading, LackOfFit, OrderCandidate, Outlier, ShapeTest};
use crate::quantities::Sentence;
use crate::statistics::Atoms;
use crate::trial::Trial;
use coarse::Step;
use rayon::iter::{IntoParallelRefIterator as _, ParallelIterator as _};

/// What the checks give to the shape.
pub(super) struct Checked {
    pub tests: Vec<ShapeTest>,
    pub lack_of_fit: Option<LackOfFit>,
    pub outliers: Vec<Outlier>,
    pub outliers_untested: Option<&'static str>,
    pub points: Vec<FittedReading>,
}

/// Runs of readings from which tests are made side by side.
const MANY: usize = 50_000;

/// Level of every test on the page.
const LEVEL: f64 = 0.05;

/// All checks of the drawn curve; `fitted` is the mixed model, which alone judges the directions.
pub(super) fn check_fit(
    trial: &Trial,
    cut: &Cut<'_>,
    fitted: &TaperFit,
    drawn: &PooledFit<'_>,
    atoms: &Atoms,
    orders: &[OrderCandidate],
) -> Checked {
    let step = Step::of(cut, drawn);
    let lack = lack::lack_of_fit(cut, drawn).and_then(|lack| if step.is_coarse() { Err(coarse::WHY) } else { Ok(lack) });
    let flagged = points::flag_outliers(trial, cut, drawn, atoms, step);
    let strays: Vec<usize> = flagged.as_ref().map(|list| list.iter().map(|(place, _)| *place).collect()).unwrap_or_default();
    let made: [&(dyn Fn() -> ShapeTest + Sync); 10] = [
        &|| lack::lack_test(&lack),
        &|| lack::order_test(drawn, orders),
        &|| lack::direction_test(trial, cut, fitted),
        &|| serial::durbin_watson_test(cut, drawn),
        &|| serial::runs_of_residuals(cut, drawn),
        &|| normality::normality_test(cut, drawn, atoms, step, !strays.is_empty()),
        &|| spread::between_passes(cut, drawn, atoms),
        &|| spread::between_stations(cut, drawn, atoms),
        &|| points::influence_test(cut, drawn, atoms),
        &|| period::period_test(cut, drawn),
    ];
    let checked = |test: &&(dyn Fn() -> ShapeTest + Sync)| coarse::unless_broken(step, test());
    let tests = if cut.run_count() > MANY { made.par_iter().map(checked).collect() } else { made.iter().map(checked).collect() };
    let points = points::points(cut, drawn, atoms, &strays);
    let (outliers, outliers_untested) = match flagged {
        Ok(outliers) => (outliers.into_iter().map(|(_, outlier)| outlier).collect(), None),
        Err(why) => (Vec::new(), Some(why)),
    };
    Checked { tests, lack_of_fit: lack.ok(), outliers, outliers_untested, points }
}

fn made(name: &'static str, statistic: f64, p: f64, interpretation: impl Into<Sentence>) -> ShapeTest {
    ShapeTest { name, statistic: Some(statistic), p: Some(p), interpretation: interpretation.into() }
}

fn not_made(name: &'static str, why: &str) -> ShapeTest {
    ShapeTest { name, statistic: None, p: None, interpretation: why.into() }
}
