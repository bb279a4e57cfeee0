//! Stretches without a repair or a move, and whether the taper drifts in them.

use super::values::{Drift, EwmaValue, State, Stretch, StretchPoint, Verdict, Visit};
use crate::quantities::Interval;
use crate::statistics::{Dated, Target, ewma_chart, trend};

/// Weight of the newest value in the moving average, in the range that the NIST/SEMATECH e-Handbook (6.3.2.4) names as usual, and its example's.
pub const EWMA_WEIGHT: f64 = 0.3;
/// Half-width of the chart's limits, standard deviations.
pub const EWMA_WIDTH: f64 = 3.0;
/// A stretch shorter than this, years, is not scaled up to a drift a year (common practice, no source).
pub const LEAST_YEARS: f64 = 0.25;
/// Fewer points make no chart.
const LEAST_FOR_CHART: usize = 3;

/// The stretches of a machine: a new one begins at a repair and after moves.
pub(super) fn stretches(visits: &[Visit]) -> Vec<Stretch> {
    let mut all: Vec<Vec<StretchPoint>> = vec![Vec::new()];
    for (place, visit) in visits.iter().enumerate() {
        if visit.repair.is_some() && place > 0 {
            all.push(Vec::new());
        }
        let moved = visit.found.setting != visit.left.setting;
        if let Some(now) = all.last_mut() {
            now.push(StretchPoint { visit: place, as_left: !moved });
        }
        if moved {
            all.push(vec![StretchPoint { visit: place, as_left: true }]);
        }
    }
    all.into_iter().filter(|points| !points.is_empty()).map(|points| judged(points, visits)).collect()
}

/// The state that a point stands for.
pub(super) fn state(point: StretchPoint, visits: &[Visit]) -> Option<(&Visit, &State)> {
    let visit = visits.get(point.visit)?;
    Some((visit, if point.as_left { &visit.left } else { &visit.found }))
}

fn judged(points: Vec<StretchPoint>, visits: &[Visit]) -> Stretch {
    let states: Vec<(f64, &State)> =
        points.iter().filter_map(|point| state(*point, visits)).map(|(visit, state)| (visit.year, state)).collect();
    let dated: Vec<Dated> = states
        .iter()
        .map(|(year, state)| Dated { time: *year, value: state.taper.value, standard_uncertainty: state.taper.standard_uncertainty })
        .collect();
    let years = states.last().map_or(0.0, |(year, _)| *year) - states.first().map_or(0.0, |(year, _)| *year);
    let line = if years >= LEAST_YEARS { trend(&dated) } else { None };
    let drift = line.map(|line| Drift {
        per_year: line.slope,
        standard_uncertainty: line.standard_uncertainty,
        interval95: Interval { low: line.low, high: line.high },
        years,
        centre: (line.centre_time, line.centre_value),
        scatter: line.scatter,
    });
    let values: Vec<(f64, f64)> = states.iter().map(|(_, state)| (state.taper.value, state.taper.standard_uncertainty)).collect();
    let chart = if values.len() < LEAST_FOR_CHART { None } else { ewma_chart(&values, EWMA_WEIGHT, EWMA_WIDTH, Target::WeightedMean) };
    let ewma: Vec<EwmaValue> = chart
        .iter()
        .flat_map(|chart| &chart.points)
        .map(|point| EwmaValue {
            average: point.average,
            limits: Interval { low: point.low, high: point.high },
            outside: point.is_outside(),
        })
        .collect();
    let outside = ewma.iter().any(|each| each.outside);
    let verdict = match &drift {
        Some(drift) if !drift.interval95.contains(0.0) => Verdict::Drifts,
        _ if outside => Verdict::Unsteady,
        Some(_) => Verdict::NoDriftShown,
        None => Verdict::CannotSay,
    };
    Stretch { points, drift, ewma, ewma_target: chart.map(|chart| chart.target), verdict }
}
