//! Readings with residual, leverage and influence; outliers.

use super::super::cut::Cut;
use super::super::pooled::PooledFit;
use super::super::{FittedReading, Outlier, ShapeTest};
use super::coarse::Step;
use super::{LEVEL, not_made};
use crate::quantities::Told;
use crate::statistics::{Atoms, RunRows, generalised_esd};
use crate::trial::Trial;
use std::collections::BTreeSet;

/// Readings up to which every one is shown.
pub(super) const MOST_POINTS: usize = 3_000;
/// Equal stretches of the cutting order of which the extremes are shown where there are more readings than that.
const STRETCHES: usize = 600;
/// Readings shown beside those, evenly spread over the cutting order, so that the middle of the scatter is seen too.
const SPREAD: usize = 300;

/// Steps within which a reading of a coarse gauge is not flagged: half a step of rounding, half of the curve, half of the reading's own scatter.
const COARSE_STEPS: f64 = 1.5;

/// One row a reading, in cutting order: all of them up to [`MOST_POINTS`], else those that bound all others.
///
/// Of a longer log: the readings with the least and the greatest residual in each of 600 equal stretches of the cutting order, 300 evenly spread
/// ones, and `strays`. Every number of a reading is that of the fit to all of them; nothing is estimated from those shown.
pub(super) fn points(cut: &Cut<'_>, drawn: &PooledFit<'_>, atoms: &Atoms, strays: &[usize]) -> Vec<FittedReading> {
    let total = cut.readings();
    let shown: Option<BTreeSet<usize>> = (total > MOST_POINTS).then(|| bounding(cut, drawn, strays));
    let mut points = Vec::with_capacity(shown.as_ref().map_or(total, BTreeSet::len));
    let mut room = drawn.fit.basis.scratch();
    for (block, pass) in cut.finishing.iter().enumerate() {
        for run in pass.runs.clone() {
            let readings = cut.of_run(run);
            let here: Vec<usize> = match &shown {
                None => readings.collect(),
                Some(shown) => shown.range(readings).copied().collect(),
            };
            if here.is_empty() {
                continue;
            }
            let fitted = drawn.fit.fitted(&drawn.model, block, run, &mut room);
            let leverage = drawn.fit.leverage(&drawn.model, block, run, &mut room);
            for place in here {
                let residual_mm = cut.values.get(place).map_or(0.0, |value| value - fitted);
                let diameter_mm = cut.diameter_mm(place);
                let (studentised, cook) = studentise(drawn, cut.weight(run), residual_mm, leverage);
                points.push(FittedReading {
                    place: cut.log.place(cut.row(place)),
                    pass: pass.number,
                    direction: pass.direction,
                    station_mm: cut.place(run).station_mm,
                    cutting_order: place + 1,
                    diameter_mm,
                    fitted_mm: diameter_mm - residual_mm,
                    residual_mm,
                    studentised,
                    leverage,
                    cook,
                    rank: 0,
                    outlier: strays.contains(&place),
                });
            }
        }
    }
    rank(&mut points, cut, drawn, atoms);
    points
}

/// Places in cutting order of the readings that bound all others.
fn bounding(cut: &Cut<'_>, drawn: &PooledFit<'_>, strays: &[usize]) -> BTreeSet<usize> {
    let total = cut.readings();
    let spread = (0..SPREAD).map(|k| k * total.saturating_sub(1) / (SPREAD - 1));
    let mut shown: BTreeSet<usize> = strays.iter().copied().chain(spread).collect();
    // place and residual of the least and of the greatest in the stretch at hand
    let mut ends: [Option<(usize, f64)>; 2] = [None, None];
    let mut stretch = 0;
    let end_of = |stretch: usize| (stretch + 1) * total / STRETCHES;
    let mut end = end_of(0);
    let mut place = 0;
    drawn.fit.residuals(&drawn.model, &cut.values).for_each(|residual| {
        if place >= end {
            shown.extend(ends.iter_mut().filter_map(Option::take).map(|(place, _)| place));
            stretch += 1;
            end = end_of(stretch);
        }
        if ends[0].is_none_or(|(_, least)| residual < least) {
            ends[0] = Some((place, residual));
        }
        if ends[1].is_none_or(|(_, most)| residual > most) {
            ends[1] = Some((place, residual));
        }
        place += 1;
    });
    shown.extend(ends.into_iter().flatten().map(|(place, _)| place));
    shown
}

/// Ranks the residuals of `points`: among themselves where they are all, else among all readings.
fn rank(points: &mut [FittedReading], cut: &Cut<'_>, drawn: &PooledFit<'_>, atoms: &Atoms) {
    let mut order: Vec<usize> = (0..points.len()).collect();
    let residual = |place: &usize| points.get(*place).map_or(0.0, |point| point.residual_mm);
    order.sort_by(|a, b| residual(a).total_cmp(&residual(b)));
    let ranks: Vec<usize> = if cut.readings() == points.len() {
        (1..=points.len()).collect()
    } else {
        let shown: Vec<f64> = order.iter().map(residual).collect();
        below(&shown, cut, drawn, atoms).into_iter().map(|readings| readings + 1).collect()
    };
    for (place, rank) in order.into_iter().zip(ranks) {
        if let Some(point) = points.get_mut(place) {
            point.rank = rank;
        }
    }
}

/// How many readings have a residual below each of `shown`, which rise.
fn below(shown: &[f64], cut: &Cut<'_>, drawn: &PooledFit<'_>, atoms: &Atoms) -> Vec<usize> {
    // readings between two neighbours of the list: a residual is below those that follow its place
    let mut numbers = vec![0.0; shown.len() + 1];
    let mut room = drawn.fit.basis.scratch();
    for (block, pass) in cut.finishing.iter().enumerate() {
        for run in pass.runs.clone() {
            let fitted = drawn.fit.fitted(&drawn.model, block, run, &mut room);
            for (value, count) in atoms.run(run) {
                let place = shown.partition_point(|residual| *residual <= value - fitted);
                if let Some(slot) = numbers.get_mut(place) {
                    *slot += count;
                }
            }
        }
    }
    let mut total = 0.0;
    let running = numbers.into_iter().take(shown.len()).map(|number| {
        total += number;
        total as usize
    });
    running.collect()
}

/// Externally studentised residual `e/(s₍ᵢ₎√(1−h))` and Cook's distance `e²h/(p s²(1−h)²)` (Cook, Weisberg 1982, eq. 2.2.7, 3.2.2).
fn studentise(fit: &PooledFit<'_>, weight: f64, residual_mm: f64, leverage: f64) -> (Option<f64>, Option<f64>) {
    let room = 1.0 - leverage;
    if room < 1e-9 || fit.dof <= 0.0 || fit.residual_square <= 0.0 {
        return (None, None);
    }
    let square = weight * residual_mm * residual_mm;
    let terms = fit.readings() as f64 - fit.dof;
    let cook = square * leverage / (terms * fit.residual_square / fit.dof * room * room);
    let without = (fit.residual_square - square / room) / (fit.dof - 1.0);
    let studentised =
        (fit.dof > 1.0 && without > 1e-12 * fit.residual_square).then(|| weight.sqrt() * residual_mm / (without * room).sqrt());
    (studentised, Some(cook))
}

/// Flags outliers by generalised ESD at 0.05 and lists them; they stay in the fit.
///
/// A tenth of the readings, at least one and at most ten, may be flagged (Rosner 1983 for the procedure; the share is common
/// practice, no source). One that lies within one step of its gauge of the curve through the readings not flagged is not: rounding
/// alone puts it there (common practice, no source); within [`COARSE_STEPS`] steps where the step is coarse beside the scatter. The residual listed is the distance from that curve, which the flagged readings
/// have not pulled at.
///
/// # Errors
/// Why this log cannot test it, with what would allow it: too few readings, no scatter, or a log too large for the test.
pub(super) fn flag_outliers(
    trial: &Trial,
    cut: &Cut<'_>,
    drawn: &PooledFit<'_>,
    atoms: &Atoms,
    step: Step,
) -> Result<Vec<(usize, Outlier)>, &'static str> {
    let total = cut.readings();
    let most = (total / 10).clamp(1, 10);
    if total < cut.finishing.len() + drawn.model.columns() + if drawn.model.own_slope() { cut.finishing.len() + 2 } else { 3 } {
        return Err("it takes three readings more than the curve and the passes have terms; more stations or repeats would allow it");
    }
    let esd = generalised_esd(&drawn.model, &cut.values, atoms, &drawn.fit, most, LEVEL);
    if esd.steps.is_empty() {
        return Err("the readings lie on the curve exactly, without scatter to judge a stray by; a gauge that reads finer would allow it");
    }
    let rounding_mm = cut.resolution_mm * if step.is_coarse() { COARSE_STEPS } else { 1.0 };
    let mut outliers = Vec::new();
    let mut room = drawn.fit.basis.scratch();
    for (step, deviation) in esd.flagged().iter().zip(&esd.deviations) {
        let fitted = drawn.fit.fitted(&drawn.model, step.block, step.run, &mut room);
        let residual = deviation.unwrap_or_else(|| cut.values.get(step.index).map_or(0.0, |value| value - fitted));
        if residual.abs() <= rounding_mm * (1.0 + 1e-9) {
            continue;
        }
        let place = cut.log.place(cut.row(step.index));
        let file = trial.inputs.get(place.file).map_or_else(String::new, |input| input.file.clone());
        outliers.push((step.index, Outlier { file, row: place.row, residual, p: step.p }));
    }
    Ok(outliers)
}

/// The largest Cook's distance against 4/n (Bollen, Jackman 1985) and against 1 (Cook, Weisberg 1982).
pub(super) fn influence_test(cut: &Cut<'_>, drawn: &PooledFit<'_>, atoms: &Atoms) -> ShapeTest {
    const NAME: &str = "influence";
    // within a run the distance grows with the residual, so that the ends of each run are enough
    let mut largest: Option<(f64, u32, f64)> = None;
    let mut room = drawn.fit.basis.scratch();
    for (block, pass) in cut.finishing.iter().enumerate() {
        for run in pass.runs.clone() {
            let fitted = drawn.fit.fitted(&drawn.model, block, run, &mut room);
            let leverage = drawn.fit.leverage(&drawn.model, block, run, &mut room);
            for value in atoms.ends_of(run).into_iter().flatten() {
                let (_, cook) = studentise(drawn, cut.weight(run), value - fitted, leverage);
                if let Some(cook) = cook.filter(|cook| largest.is_none_or(|(most, ..)| *cook > most)) {
                    largest = Some((cook, pass.number, cut.place(run).station_mm));
                }
            }
        }
    }
    let Some((cook, pass, station_mm)) = largest.filter(|_| drawn.dof >= 1.0) else {
        return not_made(
            NAME,
            "Not made: no degrees of freedom are left, so that every reading carries the result; more stations or repeats would allow it.",
        );
    };
    let place = format!("pass {pass} at station {}", Told::length(station_mm));
    let interpretation = if cook > 1.0 {
        format!("One reading carries much of the result: {place} has a Cook's distance above 1. Measure it again.")
    } else if cook > 4.0 / cut.readings() as f64 {
        format!(
            "The most influential reading, {place}, has a Cook's distance above 4/n but not above 1: look at it, but the result does not hang on it."
        )
    } else {
        "No reading carries the result: all Cook's distances are at most 4/n.".to_owned()
    };
    ShapeTest { name: NAME, statistic: Some(cook), p: None, interpretation: interpretation.into() }
}
