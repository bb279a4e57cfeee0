//! The vertical misalignment from an indicator on top of a test bar. It makes next to no taper, so it is none of the seven causes.

use super::design::usable_test_bar;
use super::logs::{RUN_OUT_MM, RUN_OUT_PER_MM};
use crate::physics::{indicator, vertical_misalignment::test_bar_sag_mm};
use crate::quantities::Interval;
use crate::statistics::{NormalPart, mixture_moments, mixture_quantile};
use crate::trial::{Holding, IndicatorReading, Plane, TestBar, Trial};
use nalgebra::{DMatrix, DVector};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// How well the sag of a bar of stated diameter is known: centre holes, a shank, a hollow (common practice, no source).
const SAG_SHARE: f64 = 0.1;
/// A bar of unknown diameter is taken to be at least this share of its length thick (common practice, no source).
const THIN: f64 = 0.1;
/// Place of the misalignment among the unknowns: constant, misalignment, taper of the bar, sag, four of run-out.
const V: usize = 1;
/// Unknowns without a prior: the constant and the misalignment.
const FLAT: usize = 2;
/// Noise levels at a time that are looked at or summed.
const LEVELS: usize = 161;
/// Levels that must matter before they are summed: so many over about 18 standard deviations of the posterior are a seventh of one apart.
const MATTER: usize = 120;
/// Levels more than this below the largest log density do not matter: 4·10⁻¹⁸ of it.
const NOTHING: f64 = 40.0;

/// How much the axis rises towards the free end, in one setting.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct VerticalMisalignment {
    /// State of the feet.
    pub setting: u32,
    /// How the test bar was held. In a chuck it shows the spindle's axis, between centres the line through both centres.
    pub held: Holding,
    /// Rise of the axis, mm/m, positive = free (tailstock) end up.
    pub mm_per_m: f64,
    /// Its standard uncertainty, mm/m.
    pub standard_uncertainty: f64,
    /// Central 95 % interval, mm/m.
    pub interval95: Interval,
    /// Length of the test bar, mm.
    pub bar_length_mm: f64,
    /// Readings on top that were used.
    pub readings: usize,
    /// Angles of the spindle at which they were taken.
    pub spindle_angles: usize,
    /// Whether the sag of the test bar was taken off; without its diameter it is in the uncertainty only.
    pub sag_removed: bool,
}

/// What the readings on top say, and why some say nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Vertical {
    /// One entry a setting with usable readings.
    pub settings: Vec<VerticalMisalignment>,
    /// A sentence for each setting or log that cannot tell.
    pub refused: Vec<String>,
}

/// Estimates the vertical misalignment `v` of each setting from `y = c + vz/1000 − sag(z) + (bar's taper)/2·z + (A + Bz)cos(θ − α) + noise`.
///
/// Constant and misalignment have flat priors, the bar's taper that of its certificate, run-out the prior of the side plane; the noise is
/// log-normal about the data sheet (`gauge_noise_factor`), summed over. Readings half a turn apart cancel run-out of themselves (ISO 230-1, test
/// mandrel read at 0° and 180°); a single angle leaves its growth along the bar in the uncertainty. Needs two stations or more; a bar turned
/// in the machine, or held by chuck and centre, is refused.
#[must_use]
pub fn vertical_misalignment(trial: &Trial) -> Vertical {
    let mut by_setting: BTreeMap<u32, Vec<&IndicatorReading>> = BTreeMap::new();
    trial.indicator.iter().filter(|r| r.plane == Plane::Top).for_each(|r| by_setting.entry(r.setting).or_default().push(r));
    let mut vertical = Vertical::default();
    if by_setting.is_empty() {
        return vertical;
    }
    // The joint estimate refuses the same bars and says why.
    let Some(bar) = usable_test_bar(trial, &mut Vec::new(), &mut Vec::new()) else { return vertical };
    for (setting, readings) in by_setting {
        match estimate(trial, &bar, setting, &readings) {
            Some(found) => vertical.settings.push(found),
            None => vertical.refused.push(format!(
                "indicator: setting {setting} has readings on top of the test bar at one station only; two stations or more show how the axis rises."
            )),
        }
    }
    vertical
}

fn estimate(trial: &Trial, bar: &TestBar, setting: u32, readings: &[&IndicatorReading]) -> Option<VerticalMisalignment> {
    let n = readings.len();
    let first = readings.first()?.station_mm;
    if readings.iter().all(|r| (r.station_mm - first).abs() < 1e-6) {
        return None;
    }
    let (design, response) = rows_of(bar, readings);
    let parts = posterior(design, &response, trial.gauge.indicator.u_mm.max(1e-8), trial.prior.gauge_noise_factor.max(1.0 + 1e-9))?;
    let (mean, standard_uncertainty) = mixture_moments(&parts)?;
    let mut angles: Vec<f64> = readings.iter().map(|r| r.spindle_deg.rem_euclid(360.0)).collect();
    angles.sort_by(f64::total_cmp);
    angles.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    Some(VerticalMisalignment {
        setting,
        held: bar.holding,
        mm_per_m: mean,
        standard_uncertainty,
        interval95: Interval { low: mixture_quantile(&parts, 0.025)?, high: mixture_quantile(&parts, 0.975)? },
        bar_length_mm: bar.length_mm,
        readings: n,
        spindle_angles: angles.len(),
        sag_removed: bar.diameter_mm.is_some(),
    })
}

/// A row of eight coefficients for each reading, and the readings less what is known and their mean.
fn rows_of(bar: &TestBar, readings: &[&IndicatorReading]) -> (DMatrix<f64>, DVector<f64>) {
    let n = readings.len();
    let thin = THIN * bar.length_mm;
    let sag: Vec<f64> = readings.iter().map(|r| test_bar_sag_mm(r.station_mm, bar, bar.diameter_mm.unwrap_or(thin))).collect();
    // Stated: taken off, a tenth of it uncertain. Unknown: not taken off, half-width of a rectangle.
    let (taken, unsure) = if bar.diameter_mm.is_some() { (1.0, SAG_SHARE) } else { (0.0, 1.0 / 3f64.sqrt()) };
    let per_um = if bar.length_mm > 0.0 { 1.0 / (1000.0 * bar.length_mm) } else { 0.0 };
    let rows: Vec<[f64; 8]> = readings
        .iter()
        .zip(&sag)
        .map(|(r, sag)| {
            let says = indicator::top(r.station_mm, r.spindle_deg);
            let [a, b, c, d] = says.run_out;
            let taper = says.bar_taper * per_um * bar.u_um;
            [says.constant, says.vertical, taper, -unsure * sag, RUN_OUT_MM * a, RUN_OUT_MM * b, RUN_OUT_PER_MM * c, RUN_OUT_PER_MM * d]
        })
        .collect();
    let known: Vec<f64> = readings
        .iter()
        .zip(&sag)
        .map(|(r, sag)| r.reading_mm + taken * sag - indicator::top(r.station_mm, r.spindle_deg).bar_taper * per_um * bar.taper_um)
        .collect();
    let centre = known.iter().sum::<f64>() / n as f64;
    (DMatrix::from_fn(n, 8, |i, k| rows[i][k]), DVector::from_fn(n, |i, _| known[i] - centre))
}

/// The readings, reduced: orthogonal transformations leave eight rows and the square of what none of the unknowns reaches.
struct Reduced {
    gram: DMatrix<f64>,
    right: DVector<f64>,
    triangle: DMatrix<f64>,
    turned: DVector<f64>,
    rest: f64,
    readings: f64,
}

impl Reduced {
    fn of(design: DMatrix<f64>, response: &DVector<f64>) -> Self {
        let readings = response.len() as f64;
        let (q, triangle) = design.qr().unpack();
        let turned = q.transpose() * response;
        let rest = (response - q * &turned).norm_squared();
        Self { gram: triangle.transpose() * &triangle, right: triangle.transpose() * &turned, triangle, turned, rest, readings }
    }

    /// Log density of the deviate `x` with noise `σ`, and the misalignment given it: `β = P⁻¹Xᵀy/σ²` with `P = XᵀX/σ² + prior`.
    fn level(&self, x: f64, sigma: f64) -> Option<(f64, NormalPart)> {
        let variance = sigma * sigma;
        let mut precision = &self.gram / variance;
        (FLAT..8).for_each(|k| precision[(k, k)] += 1.0);
        let cholesky = precision.cholesky()?;
        let mean = cholesky.solve(&(&self.right / variance));
        let fitted = (&self.turned - &self.triangle * &mean).norm_squared();
        let square = (fitted + self.rest) / variance + mean.rows(FLAT, 8 - FLAT).norm_squared();
        let determinant: f64 = cholesky.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
        let unit = DVector::from_fn(8, |k, _| if k == V { 1.0 } else { 0.0 });
        let sd = cholesky.solve(&unit)[V].max(0.0).sqrt();
        let log = -0.5 * x * x - self.readings * sigma.ln() - determinant - 0.5 * square;
        // the square holds every mean, the determinant what `sd` divides by
        log.is_finite().then_some((log, NormalPart { weight: 0.0, mean: mean[V], sd }))
    }
}

/// The misalignment's posterior as a mixture over levels of noise `σ = u·factor^x`, weighed by prior and likelihood.
///
/// Where the density of `x` can have a maximum is known: its slope is `ln factor·(pull − readings) − x` with `0 ≤ pull ≤ ‖y‖²/σ²`. Levels over that, and nine
/// prior standard deviations more on both sides, are drawn together to those that matter until most of them do: their step follows what the readings know of
/// the noise, some `1/√(2n)` in `ln σ`, at a cost that does not grow with them. The trapezium rule then converges exponentially.
fn posterior(design: DMatrix<f64>, response: &DVector<f64>, u_mm: f64, factor: f64) -> Option<Vec<NormalPart>> {
    let reduced = Reduced::of(design, response);
    let log_factor = factor.ln();
    let highest = ((response.norm() / u_mm).ln() / log_factor).max(log_factor).max(0.0);
    let (mut low, mut high) = (-9.0 - log_factor * reduced.readings, 9.0 + highest);
    let mut found = Vec::new();
    // Each round at least halves the range, or is the last.
    for _ in 0..100 {
        let step = (high - low) / (LEVELS - 1) as f64;
        let at = |level: usize| low + step * level as f64;
        found = (0..LEVELS).filter_map(|level| Some((level, reduced.level(at(level), u_mm * (log_factor * at(level)).exp())?))).collect();
        let largest = found.iter().map(|(_, (log, _))| *log).reduce(f64::max)?;
        found.retain(|(_, (log, _))| *log > largest - NOTHING);
        let (first, last) = (found.first()?.0, found.last()?.0);
        if last - first >= MATTER {
            break;
        }
        (low, high) = (at(first) - step, at(last) + step);
    }
    let largest = found.iter().map(|(_, (log, _))| *log).reduce(f64::max)?;
    let total: f64 = found.iter().map(|(_, (log, _))| (log - largest).exp()).sum();
    Some(found.into_iter().map(|(_, (log, part))| NormalPart { weight: (log - largest).exp() / total, ..part }).collect())
}

#[cfg(test)]
mod tests;
