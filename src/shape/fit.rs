//! From a trial to the shapes of its settings.

use super::budget::{barrel_resolution, taper_budget};
use super::checks::{Checked, check_fit};
use super::combined::{beside_the_fit, combined};
use super::curve::mean_curve;
use super::cut::{Cut, Pass};
use super::finishing::finishing_cut;
use super::monte_carlo::monte_carlo;
use super::order::choose_order;
use super::robust::robust_taper;
use super::slopes::{Slopes, slopes_of};
use super::taper_fit::{TaperFit, fit_taper};
use super::unlike_passes::unlike_passes;
use super::words;
use super::zeros::unlike_zeros;
use super::{Barrel, DirectionTaper, PassSummary, Shape, StationReadings, Taper};
use crate::findings::{Finding, Severity};
use crate::quantities::{included_angle_arcsec, taper_per_foot_in, taper_per_length_mm};
use crate::statistics::Atoms;
use crate::trial::Trial;

/// The shapes of a trial's settings, with what should be said of them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ShapeOutcome {
    /// One entry a setting that has a shape, by setting.
    pub shapes: Vec<Shape>,
    /// Remarks on the log.
    pub findings: Vec<Finding>,
    /// Sentences for the top of the page.
    pub warnings: Vec<String>,
}

/// Taper, barrel, their uncertainty and every check, setting by setting.
///
/// `seed` and `draws` are those of the Monte Carlo budget (none below 1,000 draws). A setting whose passes have fewer than
/// two stations, or no pass with two, has no shape; a finding says so.
#[must_use]
pub fn fit_shapes(trial: &Trial, seed: u64, draws: usize) -> ShapeOutcome {
    let settings = trial.diameters.settings();
    let mut outcome = ShapeOutcome::default();
    for (index, &setting) in settings.iter().enumerate() {
        let fitted = finishing_cut(trial, setting)
            .and_then(|cut| fit_taper(&cut, trial.prior.gauge_noise_factor).map(|fit| (cut, fit)))
            .and_then(|(cut, fit)| assemble(trial, &cut, &fit, seed, index as u64, draws, &mut outcome.warnings));
        match fitted {
            Some(shape) => outcome.shapes.push(shape),
            None => outcome.findings.push(Finding::new(
                "no-shape",
                Severity::Warning,
                format!("setting {setting} has no pass of its finishing cut with two stations"),
                "read at least two stations after one pass of the lightest cut",
            )),
        }
    }
    outcome
}

/// The mixed model of one setting's finishing cut alone, without checks and budget; `None` as in [`fit_shapes`].
#[must_use]
pub fn fit_setting(trial: &Trial, setting: u32) -> Option<TaperFit> {
    fit_taper(&finishing_cut(trial, setting)?, trial.prior.gauge_noise_factor)
}

/// The readings of the finishing cut by pass and station, in cutting order; `None` below two stations.
#[must_use]
pub fn station_readings(trial: &Trial, setting: u32) -> Option<Vec<StationReadings>> {
    let cut = finishing_cut(trial, setting)?;
    let of_pass = |pass: &Pass| {
        let (pass, direction, runs) = (pass.number, pass.direction, pass.runs.clone());
        let (cut, sums) = (&cut, cut.sums());
        runs.map(move |run| StationReadings {
            pass,
            direction,
            station_mm: cut.place(run).station_mm,
            readings: cut.of_run(run).len() as f64,
            mean_mm: cut.origin_mm + sums.mean(run),
            squares_mm2: sums.square(run),
        })
    };
    Some(cut.finishing.iter().flat_map(of_pass).collect())
}

/// Taper of one setting and its uncertainty as [`fit_shapes`] reports them, without anything else.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TaperUncertainty {
    /// Taper, mm.
    pub value_mm: f64,
    /// Standard uncertainty, mm.
    pub standard_uncertainty_mm: f64,
    /// Expanded uncertainty, mm.
    pub expanded_mm: f64,
    /// Effective degrees of freedom; `None` when there is no finite number.
    pub effective_dof: Option<f64>,
}

/// The numbers of [`TaperUncertainty`]; `None` where [`fit_shapes`] has no shape.
#[must_use]
pub fn taper_uncertainty(trial: &Trial, setting: u32) -> Option<TaperUncertainty> {
    let cut = finishing_cut(trial, setting)?;
    let fit = fit_taper(&cut, trial.prior.gauge_noise_factor)?;
    let budget = taper_budget(trial, &cut, &fit, &unlike_zeros(trial, &cut, &fit));
    Some(TaperUncertainty {
        value_mm: fit.taper.value,
        standard_uncertainty_mm: budget.standard_uncertainty,
        expanded_mm: budget.expanded.value,
        effective_dof: budget.effective_dof,
    })
}

fn assemble(
    trial: &Trial,
    cut: &Cut<'_>,
    fit: &TaperFit,
    seed: u64,
    index: u64,
    draws: usize,
    warnings: &mut Vec<String>,
) -> Option<Shape> {
    let slopes = slopes_of(cut);
    let (drawn, orders) = choose_order(cut, slopes)?;
    let zeros = unlike_zeros(trial, cut, fit);
    let budget = taper_budget(trial, cut, fit, &zeros);
    let value = fit.taper.value;
    let length = cut.tested.length;
    let atoms = Atoms::of(&drawn.model, &cut.values);
    let robust = robust_taper(cut, &atoms, fit);
    let Checked { tests, lack_of_fit, outliers, outliers_untested, points } = check_fit(trial, cut, fit, &drawn, &atoms, &orders);
    // the zeros of the gauges are those of each direction's own contrast
    let other = beside_the_fit(&budget.rows);
    let resolution = budget.rows.get(2).map_or(0.0, |r| r.standard_uncertainty);
    let taper = Taper {
        value,
        standard_error: fit.taper.standard_error,
        dof: fit.taper.dof,
        fit_interval95: fit.taper.interval95(),
        plain_t_interval95: fit.plain_t,
        standard_uncertainty: budget.standard_uncertainty,
        effective_dof: budget.effective_dof,
        interval95: budget.interval95,
        per_300: taper_per_length_mm(value, length, 300.0),
        per_foot_in: taper_per_foot_in(value, length),
        angle_arcsec: included_angle_arcsec(value, length),
        robust,
    };
    let by_direction: Vec<DirectionTaper> = fit
        .by_direction
        .iter()
        .map(|(direction, passes, contrast)| {
            let calibration = zeros.of(*direction);
            let (standard_uncertainty, effective_dof, interval95) = combined(contrast, other.hypot(calibration));
            DirectionTaper {
                direction: *direction,
                passes: *passes,
                value: contrast.value,
                standard_uncertainty,
                effective_dof,
                interval95,
                calibration,
            }
        })
        .collect();
    let barrel = fit.barrel.as_ref().map(|contrast| {
        let (standard_uncertainty, effective_dof, interval95) =
            combined(contrast, barrel_resolution(fit, contrast, resolution).hypot(zeros.barrel));
        Barrel {
            value: contrast.value,
            standard_error: contrast.standard_error,
            dof: contrast.dof,
            standard_uncertainty,
            effective_dof,
            interval95,
        }
    });
    if let Some(unlike) = unlike_passes(trial, cut, fit) {
        words::warn_of_unlike(cut.setting, &unlike, warnings);
    }
    words::warn(cut, fit, &taper, &by_direction, &zeros, &outliers, warnings);
    Some(Shape {
        setting: cut.setting,
        tested_length: cut.tested,
        readings: cut.readings(),
        passes: cut.finishing.len() + cut.others.len(),
        passes_in_shape: cut.finishing.len(),
        monte_carlo: monte_carlo(&fit.taper, &budget.draws, seed, index, draws),
        taper,
        by_direction,
        barrel,
        repeatability: fit.sigma_mm,
        between_pass: fit.between_pass_mm,
        order: drawn.order,
        lack_of_fit,
        tests,
        outliers,
        outliers_untested,
        budget: budget.rows,
        expanded: budget.expanded,
        spread: fit.spread.clone(),
        curve: mean_curve(cut, fit, &drawn),
        cannot_tell: words::cannot_tell(cut, fit),
        pass_summaries: summaries(cut, fit, &drawn.levels_mm),
        orders,
        slope_by_pass: slopes == Slopes::ByPass,
        points,
    })
}

/// All passes of the setting in cutting order.
fn summaries(cut: &Cut<'_>, fit: &TaperFit, levels: &[f64]) -> Vec<PassSummary> {
    let summary = |pass: &Pass, in_shape: bool, level: Option<f64>, taper: Option<(f64, f64)>| PassSummary {
        pass: pass.number,
        direction: pass.direction,
        depth_mm: pass.depth_mm,
        feed_mm_per_rev: pass.feed_mm_per_rev,
        readings: pass.count,
        in_shape,
        level_mm: level.unwrap_or(pass.mean_mm),
        taper_mm: taper.map(|t| t.0),
        taper_standard_error_mm: taper.map(|t| t.1),
    };
    let mut all: Vec<PassSummary> = cut
        .finishing
        .iter()
        .enumerate()
        .map(|(i, pass)| summary(pass, true, levels.get(i).copied(), fit.pass_tapers.get(i).copied().flatten()))
        .chain(cut.others.iter().map(|pass| summary(pass, false, None, None)))
        .collect();
    all.sort_by(|a, b| a.pass.cmp(&b.pass).then(a.direction.cmp(&b.direction)).then(a.depth_mm.total_cmp(&b.depth_mm)));
    all
}
