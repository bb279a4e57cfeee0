//! A period along the bar.

use super::super::ShapeTest;
use super::super::cut::Cut;
use super::super::design::Design;
use super::{LEVEL, made, not_made};
use crate::statistics::{Fit, period_search};

/// Strongest period along the bar with its false-alarm probability; shorter than two stations apart is not looked for.
pub(super) fn period_test(cut: &Cut<'_>, both: Option<(&Design, &Fit)>) -> ShapeTest {
    const NAME: &str = "period";
    let positions: Vec<f64> = cut.finishing.iter().flat_map(|p| p.readings.iter().map(|r| r.station_mm)).collect();
    let widest = cut.stations.windows(2).filter_map(|w| Some(w.get(1)? - w.first()?)).fold(0.0_f64, f64::max);
    let equal_gauges = cut.finishing.iter().flat_map(|p| &p.readings).all(|r| r.weight == 1.0);
    let found = both
        .filter(|_| cut.stations.len() >= 8 && equal_gauges)
        .and_then(|(design, fit)| period_search(&design.matrix, fit, &positions, 2.0 * widest));
    match found {
        None => not_made(
            NAME,
            "Not made: it needs eight stations and one gauge; lead screw and rack can only show with stations closer than half their pitch.",
        ),
        Some(t) if t.false_alarm < LEVEL => made(
            NAME,
            t.f,
            t.false_alarm,
            format!(
                "A period of {:.3} mm stands out with an amplitude of {:.4} mm on the diameter (false-alarm probability below 0.05): lead screw, rack or gears may make it; a shorter true period may be aliased into it.",
                t.period, t.amplitude
            ),
        ),
        Some(t) => made(
            NAME,
            t.f,
            t.false_alarm,
            format!(
                "No period from {:.3} mm up stands out (false-alarm probability not below 0.05); shorter ones cannot be seen with these stations.",
                2.0 * widest
            ),
        ),
    }
}
