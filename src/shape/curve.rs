//! The mean curve that the page draws, with its band.

use super::CurvePoint;
use super::cut::Cut;
use super::pooled::PooledFit;
use super::taper_fit::TaperFit;
use crate::quantities::Interval;
use crate::statistics::distributions::coverage_factor95;
use crate::statistics::legendre_values;
use nalgebra::Vector2;

/// Points along the tested length.
const POINTS: u32 = 61;

/// The curve of the chosen order relative to its level at mid-length, with a 95 % band.
///
/// Slope and bend are the mixed model's, so that the ends of the drawn line differ by the taper that the page states; a
/// chosen order of 1 leaves the bend out. One of 3 is drawn from the pooled fit of that order. The band is pointwise, `± t·u(x)`, with the fit's
/// covariance of slope and bend (between-pass spread included) and the taper's degrees of freedom.
pub(super) fn mean_curve(cut: &Cut<'_>, fit: &TaperFit, drawn: &PooledFit<'_>) -> Vec<CurvePoint> {
    let factor = coverage_factor95(fit.taper.dof);
    let (line, cubic) = coefficients(fit, drawn);
    let cubic_variance = if drawn.order >= 3 { drawn.higher(3).1 * drawn.residual_sd().powi(2) } else { 0.0 };
    let middle = legendre_values(3, 0.0);
    let above_middle = |values: &[f64], degree: usize| match (values.get(degree), middle.get(degree)) {
        (Some(value), Some(centre)) => value - centre,
        _ => 0.0,
    };
    (0..POINTS)
        .map(|k| {
            let x = -1.0 + 2.0 * f64::from(k) / f64::from(POINTS - 1);
            let values = legendre_values(3, x);
            let bend = if drawn.order >= 2 { above_middle(&values, 2) } else { 0.0 };
            let terms = Vector2::new(x, bend);
            let cube = above_middle(&values, 3);
            let deviation_mm = terms.dot(&line) + cubic * cube;
            let variance = terms.dot(&(fit.mean_covariance * terms)) + cubic_variance * cube * cube;
            CurvePoint {
                station_mm: cut.tested.from + 0.5 * (x + 1.0) * cut.tested.length,
                deviation_mm,
                band: Interval::about(deviation_mm, factor * variance.max(0.0).sqrt()),
            }
        })
        .collect()
}

/// Slope and bend, and the cubic term, of the drawn curve.
fn coefficients(fit: &TaperFit, drawn: &PooledFit<'_>) -> (Vector2<f64>, f64) {
    if drawn.order < 3 || drawn.slots == 0 {
        return (Vector2::from(fit.mean_coefficients), 0.0);
    }
    (Vector2::new(drawn.mean_slope(), drawn.higher(2).0), drawn.higher(3).0)
}
