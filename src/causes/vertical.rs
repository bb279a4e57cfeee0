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
/// Noise levels on which the posterior is summed: −4 to 4 prior standard deviations of `ln σ`, as close as hundreds of readings know it.
const LEVELS: usize = 161;

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
    let design = DMatrix::from_fn(n, 8, |i, k| rows[i][k]);
    let response = DVector::from_fn(n, |i, _| known[i] - centre);
    let parts = posterior(&design, &response, trial.gauge.indicator.u_mm.max(1e-8), trial.prior.gauge_noise_factor.max(1.0 + 1e-9))?;
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

/// The misalignment's posterior as a mixture over noise levels: at each, `β = P⁻¹Xᵀy/σ²` with `P = XᵀX/σ² + prior`, weighed by prior and likelihood.
fn posterior(design: &DMatrix<f64>, response: &DVector<f64>, u_mm: f64, factor: f64) -> Option<Vec<NormalPart>> {
    let n = response.len() as f64;
    let (gram, right) = (design.transpose() * design, design.transpose() * response);
    let mut parts: Vec<NormalPart> = Vec::with_capacity(LEVELS);
    let mut logs = Vec::with_capacity(LEVELS);
    for level in 0..LEVELS {
        let x = 8.0 * level as f64 / (LEVELS - 1) as f64 - 4.0;
        let sigma = u_mm * factor.powf(x);
        let mut precision = &gram / (sigma * sigma);
        (FLAT..8).for_each(|k| precision[(k, k)] += 1.0);
        let Some(cholesky) = precision.cholesky() else { continue };
        let mean = cholesky.solve(&(&right / (sigma * sigma)));
        let residual = (response - design * &mean) / sigma;
        let square = residual.norm_squared() + mean.rows(FLAT, 8 - FLAT).norm_squared();
        let determinant: f64 = cholesky.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
        let unit = DVector::from_fn(8, |k, _| if k == V { 1.0 } else { 0.0 });
        let sd = cholesky.solve(&unit)[V].max(0.0).sqrt();
        let log = -0.5 * x * x - n * sigma.ln() - determinant - 0.5 * square;
        if log.is_finite() && mean[V].is_finite() && sd.is_finite() {
            logs.push(log);
            parts.push(NormalPart { weight: 0.0, mean: mean[V], sd });
        }
    }
    let largest = logs.iter().copied().reduce(f64::max)?;
    let total: f64 = logs.iter().map(|l| (l - largest).exp()).sum();
    parts.iter_mut().zip(&logs).for_each(|(p, l)| p.weight = (l - largest).exp() / total);
    Some(parts)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::fixture;
    use crate::physics::vertical_misalignment::sag_mm;
    use crate::trial::Place;

    /// Readings on top at three angles, each station twice, that no straight line fits.
    fn trial(times: usize) -> Trial {
        let mut trial = fixture::bar(Holding::Chuck);
        trial.prior.gauge_noise_factor = 1.8;
        let scatter = [0.6, -1.9, 1.3, 0.2, -0.7, 2.1, -1.2, 0.4, 1.6];
        let places = [0.0, 75.0, 200.0].into_iter().flat_map(|deg| [20.0, 90.0, 180.0].map(|z| (deg, z)));
        let run = places.zip(scatter).map(|((spindle_deg, station_mm), um)| IndicatorReading {
            place: Place { file: 0, row: 2 },
            setting: 0,
            station_mm,
            reading_mm: 0.3 + 0.06e-3 * station_mm + 1e-3 * um,
            spindle_deg,
            plane: Plane::Top,
            note: None,
        });
        trial.indicator = std::iter::repeat_n(run, times).flatten().collect();
        trial
    }

    /// Mean and standard uncertainty of the misalignment by generalised least squares with the covariance of noise, certificate, sag and run-out, the
    /// noise summed over a fine grid by its prior and restricted likelihood.
    fn dense(trial: &Trial, diameter_mm: Option<f64>) -> (f64, f64) {
        let (bar, n) = (trial.testbar.as_ref().unwrap(), trial.indicator.len());
        let angle = |i: usize| trial.indicator[i].spindle_deg.to_radians();
        let z = |i: usize| trial.indicator[i].station_mm;
        // a bar of unknown diameter: a rectangle as wide as the sag of a thin one, a tenth of its length
        let sag = |i: usize| sag_mm(z(i), bar.length_mm, diameter_mm.unwrap_or(0.1 * bar.length_mm), 206.0, 7850.0);
        let sag_u = |i: usize| sag(i) * if diameter_mm.is_some() { 0.1 } else { 3.0_f64.sqrt().recip() };
        let known = DMatrix::from_fn(n, n, |i, j| {
            let taper = (0.5 * bar.u_um / 1000.0 / bar.length_mm).powi(2) * z(i) * z(j);
            let phase = (angle(i) - angle(j)).cos();
            taper + sag_u(i) * sag_u(j) + 1e-4 * phase + (0.02_f64 / 300.0).powi(2) * z(i) * z(j) * phase
        });
        let taken = if diameter_mm.is_some() { 1.0 } else { 0.0 };
        let y =
            DVector::from_fn(n, |i, _| trial.indicator[i].reading_mm + taken * sag(i) - 0.5 * bar.taper_um / 1000.0 / bar.length_mm * z(i));
        let x = DMatrix::from_fn(n, 2, |i, k| if k == 0 { 1.0 } else { 0.001 * z(i) });
        let parts: Vec<(f64, f64, f64)> = (-100..=100)
            .map(|step| {
                let deviate = 0.05 * f64::from(step);
                let sigma = trial.gauge.indicator.u_mm * trial.prior.gauge_noise_factor.powf(deviate);
                let factor = (&known + DMatrix::identity(n, n) * sigma * sigma).cholesky().unwrap();
                let precision = (x.transpose() * factor.solve(&x)).cholesky().unwrap();
                let fit = precision.solve(&(x.transpose() * factor.solve(&y)));
                let rest = &y - &x * &fit;
                let logs = |l: &DMatrix<f64>| l.diagonal().iter().map(|d| d.ln()).sum::<f64>();
                let log = -0.5 * deviate * deviate - logs(&factor.l()) - logs(&precision.l()) - 0.5 * rest.dot(&factor.solve(&rest));
                (log, fit[1], precision.inverse()[(1, 1)])
            })
            .collect();
        let largest = parts.iter().map(|p| p.0).fold(f64::MIN, f64::max);
        let total: f64 = parts.iter().map(|p| (p.0 - largest).exp()).sum();
        let mean = parts.iter().map(|p| (p.0 - largest).exp() / total * p.1).sum::<f64>();
        let variance = parts.iter().map(|p| (p.0 - largest).exp() / total * (p.2 + (p.1 - mean).powi(2))).sum::<f64>();
        (mean, variance.sqrt())
    }

    #[test]
    fn misalignment_is_that_of_a_dense_covariance() {
        for times in [1, 9] {
            for diameter_mm in [Some(25.0), None] {
                let mut trial = trial(times);
                let bar = trial.testbar.as_mut().unwrap();
                (bar.diameter_mm, bar.taper_um, bar.u_um) = (diameter_mm, 3.0, 2.0);
                let vertical = vertical_misalignment(&trial);
                let found = &vertical.settings[0];
                let (mean, u) = dense(&trial, diameter_mm);
                let close = |found: f64, expected: f64| (found / expected - 1.0).abs() < 1e-4;
                assert!(close(found.mm_per_m, mean) && close(found.standard_uncertainty, u), "{times} {found:?} {mean} {u}");
                assert!(!close(found.mm_per_m * 1.001, mean) && !close(found.standard_uncertainty * 1.001, u));
                assert_eq!((found.spindle_angles, found.readings, found.sag_removed), (3, 9 * times, diameter_mm.is_some()));
            }
        }
    }

    #[test]
    fn a_certificate_over_no_length_says_nothing_of_the_slope() {
        let mut trial = trial(1);
        trial.testbar.as_mut().unwrap().length_mm = 0.0;
        let found = vertical_misalignment(&trial).settings;
        assert!(found.len() == 1 && found[0].mm_per_m.is_finite() && found[0].standard_uncertainty > 0.0, "{found:?}");
    }
}
