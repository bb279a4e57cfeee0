//! Every check on the fit, in the contract's order, with one plain sentence each.
//!
//! A test finds something when its p is below 0.05, the level named in every sentence (common practice, no source). One in twenty
//! tests does so by chance, which the page says.

mod lack;
mod period;
mod points;
mod normality;
mod serial;
mod spread;

use super::cut::Cut;
use super::design::design;
use super::pooled::PooledFit;
use super::slopes::Slopes;
use super::taper_fit::TaperFit;
use super::{FittedReading, LackOfFit, OrderCandidate, Outlier, ShapeTest};
use crate::statistics::least_squares;
use crate::trial::Trial;

/// What the checks give to the shape.
pub(super) struct Checked {
    pub tests: Vec<ShapeTest>,
    pub lack_of_fit: Option<LackOfFit>,
    pub outliers: Vec<Outlier>,
    pub outliers_untested: Option<&'static str>,
    pub points: Vec<FittedReading>,
}

/// Level of every test on the page.
const LEVEL: f64 = 0.05;

/// All checks of the drawn curve; `fitted` is the mixed model, which alone judges the directions.
pub(super) fn check_fit(
    trial: &Trial,
    cut: &Cut<'_>,
    fitted: &TaperFit,
    drawn: &PooledFit,
    slopes: Slopes,
    orders: &[OrderCandidate],
) -> Checked {
    let dense = design(cut, drawn.order, slopes, false);
    let fit = dense.as_ref().and_then(|d| least_squares(&d.matrix, &d.response).ok());
    let both = dense.as_ref().zip(fit.as_ref());
    let lack = lack::lack_of_fit(cut, drawn);
    let mut points = points::points(cut, drawn);
    let flagged = points::flag_outliers(trial, cut.resolution_mm, dense.as_ref(), &mut points);
    let tests = vec![
        lack::lack_test(&lack),
        lack::order_test(drawn, orders),
        lack::direction_test(cut, fitted),
        serial::durbin_watson_test(both),
        serial::runs_of_residuals(both),
        normality::normality_test(drawn, &points),
        spread::between_passes(cut, drawn),
        spread::between_stations(cut, drawn),
        points::influence_test(drawn, &points),
        period::period_test(cut, both),
    ];
    let (outliers, outliers_untested) = match flagged {
        Ok(outliers) => (outliers, None),
        Err(why) => (Vec::new(), Some(why)),
    };
    Checked { tests, lack_of_fit: lack.ok(), outliers, outliers_untested, points }
}

fn made(name: &'static str, statistic: f64, p: f64, interpretation: impl Into<String>) -> ShapeTest {
    ShapeTest { name, statistic: Some(statistic), p: Some(p), interpretation: interpretation.into() }
}

fn not_made(name: &'static str, why: &str) -> ShapeTest {
    ShapeTest { name, statistic: None, p: None, interpretation: why.to_owned() }
}
