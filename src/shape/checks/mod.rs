//! Every check on the fit, in the contract's order, with one plain sentence each.
//!
//! A test finds something when its p is below 0.05, the level named in every sentence (common practice, no source). One in twenty
//! tests does so by chance, which the page says.

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
    let lack = lack::lack_of_fit(cut, drawn);
    let flagged = points::flag_outliers(trial, cut, drawn, atoms);
    let strays: Vec<usize> = flagged.as_ref().map(|list| list.iter().map(|(place, _)| *place).collect()).unwrap_or_default();
    let made: [&(dyn Fn() -> ShapeTest + Sync); 10] = [
        &|| lack::lack_test(&lack),
        &|| lack::order_test(drawn, orders),
        &|| lack::direction_test(trial, cut, fitted),
        &|| serial::durbin_watson_test(cut, drawn),
        &|| serial::runs_of_residuals(cut, drawn),
        &|| normality::normality_test(drawn, atoms, !strays.is_empty()),
        &|| spread::between_passes(cut, drawn, atoms),
        &|| spread::between_stations(cut, drawn, atoms),
        &|| points::influence_test(cut, drawn, atoms),
        &|| period::period_test(cut, drawn),
    ];
    let tests =
        if cut.run_count() > MANY { made.par_iter().map(|test| test()).collect() } else { made.iter().map(|test| test()).collect() };
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
