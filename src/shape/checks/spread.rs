//! Whether the scatter is the same everywhere.

use super::super::ShapeTest;
use super::super::cut::Cut;
use super::super::pooled::PooledFit;
use super::{LEVEL, made, not_made};
use crate::statistics::brown_forsythe;

/// Residuals `√w·e/√(1−h)` with the pass index and scaled station of each reading.
fn residuals<'a>(cut: &'a Cut<'_>, drawn: &'a PooledFit) -> impl Iterator<Item = (usize, f64, f64)> + 'a {
    cut.finishing
        .iter()
        .enumerate()
        .flat_map(|(index, pass)| pass.readings.iter().map(move |r| (index, r.x)))
        .zip(&drawn.rows)
        .filter(|(_, row)| row.leverage < 1.0 - 1e-9)
        .map(|((pass, x), row)| (pass, x, row.weight.sqrt() * row.residual_mm / (1.0 - row.leverage).sqrt()))
}

/// Brown and Forsythe's test between passes.
pub(super) fn between_passes(cut: &Cut<'_>, drawn: &PooledFit) -> ShapeTest {
    const NAME: &str = "equal-spread-passes";
    let mut groups = vec![Vec::new(); cut.finishing.len()];
    for (pass, _, residual) in residuals(cut, drawn) {
        if let Some(group) = groups.get_mut(pass) {
            group.push(residual);
        }
    }
    groups.retain(|g| g.len() >= 4);
    match enough(drawn, &groups) {
        None => not_made(NAME, "Not made: it needs two passes with four readings each; another pass or more stations would allow it."),
        Some((f, p)) if p < LEVEL => made(
            NAME,
            f,
            p,
            "Some passes scatter more than others (p below 0.05): one standard deviation does not do them all justice; see the residuals by pass.",
        ),
        Some((f, p)) => made(NAME, f, p, "Readings scatter alike in all passes (p not below 0.05)."),
    }
}

/// Brown and Forsythe's test between stations, or between thirds of the tested length where stations have few readings.
pub(super) fn between_stations(cut: &Cut<'_>, drawn: &PooledFit) -> ShapeTest {
    const NAME: &str = "equal-spread-stations";
    let mut sorted: Vec<(f64, f64)> = residuals(cut, drawn).map(|(_, x, residual)| (x, residual)).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let by_station: Vec<Vec<f64>> =
        sorted.chunk_by(|a, b| (a.0 - b.0).abs() < 1e-9).map(|place| place.iter().map(|r| r.1).collect()).collect();
    let (mut groups, places) = if by_station.iter().filter(|g| g.len() >= 4).count() >= 2 {
        (by_station, "stations")
    } else {
        let third = |x: f64| if x < -1.0 / 3.0 { 0 } else { usize::from(x <= 1.0 / 3.0) + 2 * usize::from(x > 1.0 / 3.0) };
        let mut thirds = vec![Vec::new(); 3];
        for (x, residual) in sorted {
            if let Some(group) = thirds.get_mut(third(x)) {
                group.push(residual);
            }
        }
        (thirds, "thirds of the bar")
    };
    groups.retain(|g| g.len() >= 4);
    match enough(drawn, &groups) {
        None => not_made(
            NAME,
            "Not made: it needs four readings at two stations, or in two thirds of the bar; repeats or more stations would allow it.",
        ),
        Some((f, p)) if p < LEVEL => made(
            NAME,
            f,
            p,
            format!(
                "Some {places} scatter more than others (p below 0.05): look for chatter, a rough place or a hard one to measure there."
            ),
        ),
        Some((f, p)) => made(NAME, f, p, format!("Readings scatter alike in all {places} (p not below 0.05).")),
    }
}

fn enough(drawn: &PooledFit, groups: &[Vec<f64>]) -> Option<(f64, f64)> {
    if drawn.dof < 3.0 || drawn.residual_square <= 0.0 || groups.len() < 2 {
        return None;
    }
    brown_forsythe(groups).map(|t| (t.f, t.p))
}
