//! Readings with residual, leverage and influence; outliers.

use super::super::cut::Cut;
use super::super::design::Design;
use super::super::pooled::{PooledFit, PooledRow};
use super::super::{FittedReading, Outlier, ShapeTest};
use super::{LEVEL, not_made};
use crate::statistics::{EsdStep, generalised_esd, least_squares};
use crate::trial::Trial;

/// One row a reading, in cutting order.
pub(super) fn points(cut: &Cut<'_>, drawn: &PooledFit) -> Vec<FittedReading> {
    let readings = cut.finishing.iter().flat_map(|pass| pass.readings.iter().map(move |reading| (pass, reading)));
    readings
        .zip(&drawn.rows)
        .enumerate()
        .map(|(index, ((pass, reading), row))| {
            let (studentised, cook) = studentise(drawn, row);
            FittedReading {
                place: cut.log.place(reading.row),
                pass: pass.number,
                direction: pass.direction,
                station_mm: reading.station_mm,
                cutting_order: index + 1,
                diameter_mm: reading.diameter_mm,
                fitted_mm: reading.diameter_mm - row.residual_mm,
                residual_mm: row.residual_mm,
                studentised,
                leverage: row.leverage,
                cook,
                outlier: false,
            }
        })
        .collect()
}

/// Externally studentised residual `e/(s₍ᵢ₎√(1−h))` and Cook's distance `e²h/(p s²(1−h)²)` (Cook, Weisberg 1982, eq. 2.2.7, 3.2.2).
fn studentise(fit: &PooledFit, row: &PooledRow) -> (Option<f64>, Option<f64>) {
    let room = 1.0 - row.leverage;
    if room < 1e-9 || fit.dof <= 0.0 || fit.residual_square <= 0.0 {
        return (None, None);
    }
    let square = row.weight * row.residual_mm * row.residual_mm;
    let terms = fit.rows.len() as f64 - fit.dof;
    let cook = square * row.leverage / (terms * fit.residual_square / fit.dof * room * room);
    let without = (fit.residual_square - square / room) / (fit.dof - 1.0);
    let studentised =
        (fit.dof > 1.0 && without > 1e-12 * fit.residual_square).then(|| row.weight.sqrt() * row.residual_mm / (without * room).sqrt());
    (studentised, Some(cook))
}

/// Flags outliers by generalised ESD at 0.05 and lists them; they stay in the fit.
///
/// A tenth of the readings, at least one and at most ten, may be flagged (Rosner 1983 for the procedure; the share is common
/// practice, no source). One that lies within one step of its gauge of the curve through the readings not flagged is not: rounding
/// alone puts it there (common practice, no source). The residual listed is the distance from that curve, which the flagged readings
/// have not pulled at.
///
/// # Errors
/// Why this log cannot test it, with what would allow it: too few readings, no scatter, or a log too large for the test.
pub(super) fn flag_outliers(
    trial: &Trial,
    step_mm: f64,
    design: Option<&Design>,
    points: &mut [FittedReading],
) -> Result<Vec<Outlier>, &'static str> {
    let design = design.ok_or("the log is too large for it; the residuals show strays to the eye")?;
    let most = (points.len() / 10).clamp(1, 10);
    if points.len() < design.matrix.ncols() + 3 {
        return Err("it takes three readings more than the curve and the passes have terms; more stations or repeats would allow it");
    }
    let esd = generalised_esd(&design.matrix, &design.response, most, LEVEL).map_err(|_| "the curve has no unique fit")?;
    if esd.steps.is_empty() {
        return Err("the readings lie on the curve exactly, without scatter to judge a stray by; a gauge that reads finer would allow it");
    }
    let deviations = deviations_from_the_others(design, esd.flagged());
    let mut outliers = Vec::new();
    for (step, deviation) in esd.flagged().iter().zip(deviations) {
        let Some(point) = points.get_mut(step.index) else { continue };
        let residual = deviation.unwrap_or(point.residual_mm);
        if residual.abs() <= step_mm * (1.0 + 1e-9) {
            continue;
        }
        point.outlier = true;
        let file = trial.inputs.get(point.place.file).map_or_else(String::new, |input| input.file.clone());
        outliers.push(Outlier { file, row: point.place.row, residual, p: step.p });
    }
    Ok(outliers)
}

/// Distance of each flagged reading from the curve through all others, mm; `None` where that curve does not reach it.
fn deviations_from_the_others(design: &Design, flagged: &[EsdStep]) -> Vec<Option<f64>> {
    let left: Vec<usize> = (0..design.response.len()).filter(|row| flagged.iter().all(|step| step.index != *row)).collect();
    let values: Vec<f64> = left.iter().filter_map(|row| design.response.get(*row)).copied().collect();
    let fit = least_squares(&design.matrix.select_rows(&left), &values).ok();
    flagged
        .iter()
        .map(|step| {
            let fit = fit.as_ref()?;
            let row = design.matrix.row(step.index);
            let mut predicted = 0.0;
            for (column, value) in row.iter().enumerate().filter(|(_, value)| **value != 0.0) {
                predicted += value * fit.coefficient(column)?;
            }
            let root = row.iter().take(design.first_term).copied().fold(0.0_f64, f64::max);
            (root > 0.0).then(|| design.response.get(step.index).map(|response| (response - predicted) / root)).flatten()
        })
        .collect()
}

/// The largest Cook's distance against 4/n (Bollen, Jackman 1985) and against 1 (Cook, Weisberg 1982).
pub(super) fn influence_test(drawn: &PooledFit, points: &[FittedReading]) -> ShapeTest {
    const NAME: &str = "influence";
    let largest = points
        .iter()
        .filter_map(|p| p.cook.map(|cook| (cook, p)))
        .fold(None, |best: Option<(f64, &FittedReading)>, next| if best.is_none_or(|b| next.0 > b.0) { Some(next) } else { best });
    let Some((cook, point)) = largest.filter(|_| drawn.dof >= 1.0) else {
        return not_made(
            NAME,
            "Not made: no degrees of freedom are left, so that every reading carries the result; more stations or repeats would allow it.",
        );
    };
    let place = format!("pass {} at station {} mm", point.pass, point.station_mm);
    let interpretation = if cook > 1.0 {
        format!("One reading carries much of the result: {place} has a Cook's distance above 1. Measure it again.")
    } else if cook > 4.0 / points.len() as f64 {
        format!(
            "The most influential reading, {place}, has a Cook's distance above 4/n but not above 1: look at it, but the result does not hang on it."
        )
    } else {
        "No reading carries the result: all Cook's distances are at most 4/n.".to_owned()
    };
    ShapeTest { name: NAME, statistic: Some(cook), p: None, interpretation }
}
