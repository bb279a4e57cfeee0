//! Whether neighbours in cutting order are alike.

use super::super::ShapeTest;
use super::super::cut::Cut;
use super::super::pooled::PooledFit;
use super::{LEVEL, made, not_made};
use crate::statistics::{durbin_watson, sign_changes};

/// Durbin–Watson in cutting order, no difference taken from one pass to the next.
pub(super) fn durbin_watson_test(cut: &Cut<'_>, drawn: &PooledFit<'_>) -> ShapeTest {
    const NAME: &str = "durbin-watson";
    let (model, fit) = (&drawn.model, &drawn.fit);
    let tested = durbin_watson(model, &fit.basis, fit.residuals(model, &cut.values));
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
pub(super) fn runs_of_residuals(cut: &Cut<'_>, drawn: &PooledFit<'_>) -> ShapeTest {
    const NAME: &str = "runs";
    let (model, fit) = (&drawn.model, &drawn.fit);
    let tested = (drawn.dof >= 3.0 && !fit.fits_exactly())
        .then(|| {
            // a residual that is nothing but the rounding of diameters to binary has no sign
            let nothing = 8.0 * f64::EPSILON * cut.origin_mm.abs();
            let signed = fit.residuals(model, &cut.values).map(move |e| if e.abs() <= nothing { 0.0 } else { e });
            sign_changes(model, &fit.basis, signed)
        })
        .flatten();
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
