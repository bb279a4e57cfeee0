//! The taper's uncertainty budget, a decomposition: nothing is counted twice.

use super::combined::{Budget, CALIBRATION, combine};
use super::cut::Cut;
use super::straight::StraightErrors;
use super::taper_fit::{FittedContrast, NoiseSource, TaperFit};
use super::zeros::Zeros;
use super::{BudgetRow, SpreadSource};
use crate::trial::Trial;

/// Half-width of how far a hand warms a gauge between the first and the last station, K (common practice, no source).
pub(super) const GAUGE_WARMING_K: f64 = 1.0;
/// Thermal expansion of a steel gauge, 10⁻⁶/K (JCGM 100:2008, example H.1).
pub(super) const GAUGE_EXPANSION_UM_PER_M_K: f64 = 11.5;
/// Half-width of the error of the tested length by rule or carriage dial, mm (common practice, no source).
pub(super) const STATION_HALF_WIDTH_MM: f64 = 0.5;
/// Half-width of what two logged temperatures may be wrong against each other, K (common practice, no source).
pub(crate) const THERMOMETER_HALF_WIDTH_K: f64 = 0.5;

/// Which distribution a row has in the Monte Carlo of the same budget.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Draw {
    /// Scaled and shifted t: part of the fit, drawn once for all of them.
    Fit,
    /// Rectangular with this standard deviation.
    Rectangular(f64),
    /// Normal with this standard deviation.
    Normal(f64),
    /// `first·(known + second)·z₁ + third·z₁²` of the vertical misalignment, mm.
    Vertical(Vertical),
    /// Contributes nothing.
    Nothing,
}

/// `(4h₀y + 2y²)/D` over the tested length with `y = v·z`: `slope·h₀·v + bend·v²`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Vertical {
    pub slope: f64,
    pub bend: f64,
    pub pitch_u: f64,
    pub height: f64,
    pub height_u: f64,
}

impl Vertical {
    /// Root of the mean square of the effect on the taper; what is not known is not corrected.
    pub(super) fn standard_uncertainty(&self) -> f64 {
        let first = self.slope * self.pitch_u * self.height.hypot(self.height_u);
        let second = self.bend * self.pitch_u * self.pitch_u * 3.0_f64.sqrt();
        first.hypot(second)
    }
}

/// Rows of the setting's taper, in the order of the page: the fit's two parts first, then what no scatter shows.
///
/// The fit's parts are estimated together: the scatter has degrees of freedom of its own, the spread between passes those that the fit's ([`FittedContrast::dof`])
/// leave it, where that is one or more: then Welch–Satterthwaite over both rows gives the fit's.
pub(super) fn taper_budget(trial: &Trial, cut: &Cut<'_>, fit: &TaperFit, zeros: &Zeros) -> Budget {
    let diameter = mean_diameter(cut);
    let (within, between) = fit_parts(&fit.taper);
    let mut rows = Vec::with_capacity(8);
    let mut draws = Vec::with_capacity(8);
    let mut add = |component: &str, u: f64, dof: Option<f64>, draw: Draw, how: String| {
        rows.push(BudgetRow { component: component.to_owned(), standard_uncertainty: u, dof, share: 0.0, how });
        draws.push(if u > 0.0 { draw } else { Draw::Nothing });
    };
    let noise = match fit.noise {
        NoiseSource::Log => "scatter of the readings about their own pass's curve, through the fit",
        NoiseSource::LogAndDataSheet => "scatter of the readings and the gauge's data sheet together, through the fit",
        NoiseSource::DataSheet => "the gauge's data sheet, through the fit: rounding hides the scatter of these readings",
    };
    add("repeatability", within, scatter_dof(fit), Draw::Fit, noise.to_owned());
    let spread = match fit.spread.source {
        SpreadSource::Estimated => "spread of the passes' tapers, by restricted maximum likelihood",
        SpreadSource::PriorAndPasses => "spread of the passes' tapers: half-t(3) prior and these few passes",
        SpreadSource::Prior => "spread of the passes' tapers: the half-t(3) prior alone, since nothing was repeated",
    };
    add("between-pass", between, spread_dof(fit, within, between), Draw::Fit, spread.to_owned());
    let resolution = resolution_part(cut, fit, within);
    add(
        "resolution",
        resolution,
        None,
        Draw::Normal(resolution),
        if resolution > 0.0 {
            format!("rounding to {} mm, rectangular, as far as it exceeds the scatter", told(cut.resolution_mm))
        } else {
            "rounding is already part of the scatter".to_owned()
        },
    );
    add(
        CALIBRATION,
        zeros.taper,
        None,
        Draw::Normal(zeros.taper),
        match (zeros.gauges, zeros.taper > 0.0) {
            (0 | 1, _) => "common to all readings: its sensitivity to the taper is 0".to_owned(),
            (gauges, false) if zeros.by_direction.iter().any(|(_, u)| *u > 0.0) => {
                format!("{gauges} gauges whose zeros cancel in the mean of the directions, not in the taper of each")
            }
            (gauges, false) => format!("{gauges} gauges that read alike: the sensitivity of the taper to their zeros is 0"),
            (gauges, true) => format!("{gauges} gauges at unlike stations: their zeros may differ by their calibration"),
        },
    );
    let logged = (0..cut.readings()).all(|place| cut.log.temperature_c(cut.row(place)).is_some());
    let straight = StraightErrors::of(trial, (cut.tested.from, cut.tested.to), diameter, logged);
    let StraightErrors { half_k, gradient_mm: gradient, warming_mm: warming, vertical } = straight;
    add(
        "temperature-gradient",
        gradient,
        None,
        Draw::Rectangular(gradient),
        if logged {
            format!("the bar's ends may be read ±{half_k} K wrong against each other, rectangular")
        } else {
            format!("the bar's ends may be ±{half_k} K unlike, rectangular")
        },
    );
    add(
        "hand-warmed-gauge",
        warming,
        None,
        Draw::Rectangular(warming),
        format!("the gauge may warm by ±{GAUGE_WARMING_K} K from the first station to the last, rectangular"),
    );
    let position = fit.taper.value.abs() * STATION_HALF_WIDTH_MM / cut.tested.length / 3.0_f64.sqrt();
    add(
        "station-scale",
        position,
        None,
        Draw::Rectangular(position),
        format!("the tested length may be ±{STATION_HALF_WIDTH_MM} mm wrong, rectangular, times the taper per length"),
    );
    add(
        "vertical-misalignment",
        straight.vertical_mm(),
        None,
        Draw::Vertical(vertical),
        format!(
            "bar out of line with the ways vertically by {} mm/m, tool {} ± {} mm off centre height",
            told(trial.prior.yaw_mm_per_m),
            told(vertical.height),
            told(vertical.height_u)
        ),
    );
    combine(rows, draws, &fit.taper)
}

/// A stated number without what converting it to millimetres leaves behind its eighth decimal.
fn told(value: f64) -> f64 {
    (value * 1e8).round() / 1e8
}

/// Resolution's part of the barrel: the taper's, scaled by the two fits' within-pass errors.
pub(super) fn barrel_resolution(fit: &TaperFit, barrel: &FittedContrast, taper_resolution: f64) -> f64 {
    let (taper, _) = fit_parts(&fit.taper);
    let (bend, _) = fit_parts(barrel);
    if taper > 0.0 { taper_resolution * bend / taper } else { 0.0 }
}

fn fit_parts(contrast: &FittedContrast) -> (f64, f64) {
    let share = contrast.within_share.clamp(0.0, 1.0);
    (contrast.standard_error * share.sqrt(), contrast.standard_error * (1.0 - share).sqrt())
}

/// Degrees of freedom of the scatter: of the readings about their own pass's curve, and what the gauge's data sheet is worth beside them; `None` where it
/// stands in for them.
fn scatter_dof(fit: &TaperFit) -> Option<f64> {
    match fit.noise {
        NoiseSource::Log => Some(fit.within_dof),
        NoiseSource::LogAndDataSheet => Some(fit.within_dof + fit.prior_dof),
        NoiseSource::DataSheet => None,
    }
}

/// Degrees of freedom that the fit leaves the spread between passes: `b⁴/(e⁴/ν − w⁴/ν_w)` with the fit's standard error `e` and degrees `ν`, its parts `w` within and `b` between
/// passes, and the scatter's degrees `ν_w`; `None` where that is less than one, the scatter alone accounts for the fit's, or there is no spread.
fn spread_dof(fit: &TaperFit, within: f64, between: f64) -> Option<f64> {
    let left = fit.taper.standard_error.powi(4) / fit.taper.dof? - scatter_dof(fit).map_or(0.0, |dof| within.powi(4) / dof);
    (left > 0.0 && between > 0.0).then(|| between.powi(4) / left).filter(|dof| *dof >= 1.0)
}

/// Rounding beyond the scatter, with one rounding error a station and pass: repeats that round alike do not average it.
fn resolution_part(cut: &Cut<'_>, fit: &TaperFit, within: f64) -> f64 {
    let excess = cut.resolution_mm * cut.resolution_mm / 12.0 - fit.sigma_mm * fit.sigma_mm;
    if excess <= 0.0 {
        return 0.0;
    }
    let readings = cut.readings();
    let mut places = 0_usize;
    cut.finishing.iter().for_each(|pass| cut.each_place(pass, |_| places += 1));
    let repeats = readings as f64 / places.max(1) as f64;
    within / fit.sigma_mm * (excess * repeats).sqrt()
}

fn mean_diameter(cut: &Cut<'_>) -> f64 {
    let count = cut.readings() as f64;
    cut.finishing.iter().map(|pass| pass.mean_mm * pass.count as f64).sum::<f64>() / count
}
