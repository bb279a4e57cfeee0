//! Whether neighbours in cutting order are alike.

use super::super::ShapeTest;
use super::super::design::Design;
use super::{LEVEL, made, not_made};
use crate::statistics::{Fit, durbin_watson, sign_changes};

/// Durbin–Watson in cutting order, no difference taken from one pass to the next.
pub(super) fn durbin_watson_test(both: Option<(&Design, &Fit)>) -> ShapeTest {
    const NAME: &str = "durbin-watson";
    let tested = both.and_then(|(design, fit)| durbin_watson(&design.matrix, fit.residuals(), &design.breaks));
    match tested {
        None => not_made(NAME, "Not made: it needs three degrees of freedom and readings that scatter; more stations would allow it."),
        Some(t) if t.p_two_sided() < LEVEL && t.p_alike < t.p_alternating => made(
            NAME,
            t.statistic,
            t.p_two_sided(),
            "Neighbouring residuals are alike (p below 0.05): the bar has shape that the curve does not follow, or passes have unlike slopes.",
        ),
        Some(t) if t.p_two_sided() < LEVEL => made(
            NAME,
            t.statistic,
            t.p_two_sided(),
            "Neighbouring residuals alternate (p below 0.05): look for a period of two stations, or for two ways of reading.",
        ),
        Some(t) => {
            made(NAME, t.statistic, t.p_two_sided(), "Neighbouring residuals are no more alike than chance makes them (p not below 0.05).")
        }
    }
}

/// Runs of residuals above and below 0 in cutting order, by the changes of sign between neighbours of one pass.
pub(super) fn runs_of_residuals(both: Option<(&Design, &Fit)>) -> ShapeTest {
    const NAME: &str = "runs";
    let tested = both
        .filter(|(_, fit)| fit.dof() >= 3 && !fit.fits_exactly())
        .and_then(|(design, fit)| sign_changes(&design.matrix, fit, &design.breaks));
    match tested {
        None => {
            not_made(NAME, "Not made: it needs seven readings that scatter about the curve on both sides; more stations would allow it.")
        }
        Some(t) if t.p < LEVEL && t.z < 0.0 => made(
            NAME,
            t.z,
            t.p,
            "Residuals keep to one side longer than chance allows, in cutting order (p below 0.05): something drifts, or the curve misses shape.",
        ),
        Some(t) if t.p < LEVEL => made(
            NAME,
            t.z,
            t.p,
            "Residuals change sides more often than chance allows, in cutting order (p below 0.05): look for a period or two ways of reading.",
        ),
        Some(t) => made(NAME, t.z, t.p, "Residuals change sides as often as chance makes them, in cutting order (p not below 0.05)."),
    }
}
