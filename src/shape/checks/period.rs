//! A period along the bar.

use super::super::ShapeTest;
use super::super::cut::Cut;
use super::super::pooled::PooledFit;
use super::{LEVEL, made, not_made};
use crate::quantities::Told;
use crate::statistics::period_search;

/// Strongest period along the bar with its false-alarm probability; shorter than two stations apart is not looked for.
pub(super) fn period_test(cut: &Cut<'_>, drawn: &PooledFit<'_>) -> ShapeTest {
    const NAME: &str = "period";
    let length = |value_mm: f64| Told { decimals: 3, ..Told::length(value_mm) };
    let widest = cut.stations.windows(2).filter_map(|w| Some(w.get(1)? - w.first()?)).fold(0.0_f64, f64::max);
    let position = |run: usize| Some(cut.place(run).station_mm);
    let found = (cut.stations.len() >= 8 && cut.equal_weights())
        .then(|| period_search(&drawn.model, &drawn.fit, &cut.sums(), position, 2.0 * widest))
        .flatten();
    match found {
        None => not_made(
            NAME,
            "Not made: it needs eight stations and one gauge; lead screw and rack can only show with stations closer than half their pitch.",
        ),
        Some(t) if t.false_alarm < LEVEL && t.period > 0.5 * cut.tested.length => made(
            NAME,
            t.f,
            t.false_alarm,
            format!(
                "A wave of {} stands out with an amplitude of {} on the diameter (false-alarm probability below 0.05). Less than twice in the tested length, it is no sign of lead screw, rack or gears: more likely a curve of the bar that the fitted one does not follow.",
                length(t.period),
                Told::difference(t.amplitude, 4)
            ),
        ),
        Some(t) if t.false_alarm < LEVEL => made(
            NAME,
            t.f,
            t.false_alarm,
            format!(
                "A period of {} stands out with an amplitude of {} on the diameter (false-alarm probability below 0.05): lead screw, rack or gears may make it; a shorter true period may be aliased into it.",
                length(t.period),
                Told::difference(t.amplitude, 4)
            ),
        ),
        Some(t) => made(
            NAME,
            t.f,
            t.false_alarm,
            format!(
                "No period from {} up stands out (false-alarm probability not below 0.05); {}",
                length(t.shortest),
                if t.shortest > 2.0 * widest * (1.0 + 1e-9) {
                    "shorter ones were not looked for, because the stations are too many."
                } else {
                    "shorter ones cannot be seen with these stations."
                }
            ),
        ),
    }
}
