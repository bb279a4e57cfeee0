//! What it does to taper and barrel that unlike gauges need not agree in their zero.

use super::cut::{Cut, Pass};
use super::layout::{lay_out, rows_of};
use super::taper_fit::TaperFit;
use crate::statistics::mixed::{Group, evaluate};
use crate::trial::Trial;

/// What the sum of sensitivities of gauges that read alike leaves of rounding is less than this, mm.
const ROUNDING_MM: f64 = 1e-12;

/// Standard uncertainties, mm, that the calibration of the gauges leaves in contrasts of the fit; 0 with one gauge.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Zeros {
    /// Of the taper.
    pub taper: f64,
    /// Of the barrel.
    pub barrel: f64,
    /// Number of gauges in the shape.
    pub gauges: usize,
}

/// `√Σ(s·u)²` over the gauges, `u` the standard uncertainty of a gauge's calibration and `s` what a contrast of the fit changes by if all readings of that gauge grow by one
/// (JCGM 100:2008, 5.1.3).
///
/// `s` is the contrast of readings that are 1 for this gauge and 0 for the others, with the spread between passes that was found, taken as known. The sum of `s` over all gauges is 0: one gauge, or gauges that
/// all read the same stations in the same passes as often, change nothing.
pub(super) fn unlike_zeros(trial: &Trial, cut: &Cut<'_>, fit: &TaperFit) -> Zeros {
    let numbers = cut.runs.gauges();
    let gauges = numbers.len();
    let none = Zeros { gauges, ..Zeros::default() };
    let Some((layout, _, _)) = lay_out(cut, if fit.barrel.is_some() { 2 } else { 1 }).filter(|_| gauges > 1) else { return none };
    let rows = |pass: &Pass, gauge: u32| rows_of(cut, pass, layout.columns, |run| (f64::from(u8::from(cut.runs.gauge(run) == gauge)), 0.0));
    let mut squares = [0.0, 0.0];
    for gauge in numbers {
        let groups: Vec<Group> = cut
            .finishing
            .iter()
            .filter_map(|pass| layout.terms(pass.direction).map(|terms| Group::repeated(&rows(pass, gauge), terms)))
            .collect();
        let Some(found) = evaluate(&groups, layout.fixed(), &fit.relative_spread) else { return none };
        let name = cut.log.gauges().get(gauge as usize).and_then(|name| name.as_deref());
        let u = trial.gauge.diameter_gauge(name).calibration_u_mm;
        squares[0] += (2.0 * layout.slope(None).dot(&found.coefficients) * u).powi(2);
        squares[1] += (1.5 * layout.bend().dot(&found.coefficients) * u).powi(2);
    }
    // gauges that read alike leave rounding
    let [taper, barrel] = squares.map(|square: f64| if square < ROUNDING_MM * ROUNDING_MM { 0.0 } else { square.sqrt() });
    Zeros { taper, barrel, gauges }
}
