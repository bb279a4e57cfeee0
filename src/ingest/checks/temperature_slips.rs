//! One temperature of a pass that the others contradict: it would move its diameter by as much as a taper.

use super::super::collector::Collector;
use super::super::diameter_rows::DiameterRows;
use super::super::header::Measure;
use super::super::passes::at;
use super::super::settings::shown;
use super::sizes::used_rows;
use crate::findings::Severity;
use crate::quantities::celsius_from_fahrenheit;
use crate::trial::Trial;

/// Longest log whose temperatures are looked at: longer ones are written by machines.
const SEARCHED: usize = 100_000;
/// Fewest temperatures of a pass that tell of one.
const TEMPERATURES: usize = 3;
/// How far from the middle one of its pass a temperature may lie, K (common practice, no source).
const FAR_K: f64 = 10.0;
/// The same where no slip explains it.
const FARTHER_K: f64 = 20.0;
/// How far out of the range of the others, in that range: a bar that is warm at one end is warm beside it too.
const RANGES: f64 = 3.0;
/// How near to the others a temperature is that a slip explains, K.
const NEAR_K: f64 = 4.0;

/// Warnings where a temperature of a pass lies more than [`FAR_K`] from the middle one, or [`FARTHER_K`] where no slip explains it, and far out of the range of the
/// others, which must be two thirds.
pub(in crate::ingest) fn check(trial: &Trial, rows: &DiameterRows, collector: &mut Collector) {
    let log = &trial.diameters;
    if log.len() > SEARCHED {
        return;
    }
    let mut passes: Vec<Vec<(usize, f64)>> = vec![Vec::new(); log.cuts().len()];
    for row in used_rows(trial) {
        if let (Some(celsius), Some(pass)) = (log.temperature_c(row), passes.get_mut(log.cut_number(row) as usize)) {
            pass.push((row, celsius));
        }
    }
    for pass in passes.iter().filter(|pass| pass.len() >= TEMPERATURES) {
        let mut sorted: Vec<f64> = pass.iter().map(|(_, celsius)| *celsius).collect();
        sorted.sort_by(f64::total_cmp);
        let Some(middle) = sorted.get(sorted.len() / 2).copied() else { continue };
        let near: Vec<f64> = sorted.iter().copied().filter(|celsius| (celsius - middle).abs() <= FAR_K).collect();
        let (Some(low), Some(high)) = (near.first().copied(), near.last().copied()) else { continue };
        if 3 * near.len() < 2 * pass.len() {
            continue;
        }
        for (row, celsius) in pass {
            let out_k = (low - celsius).max(celsius - high);
            if (celsius - middle).abs() > FAR_K && out_k > RANGES * (high - low) {
                let place = log.place(*row);
                let (header, measure) = rows
                    .temperatures
                    .iter()
                    .find(|(file, ..)| *file == place.file)
                    .map_or(("temperature_c", Measure::Times(1.0)), |(_, header, measure)| (header.as_str(), *measure));
                let meant = meant(*celsius, middle, measure);
                if meant.is_none() && (celsius - middle).abs() <= FARTHER_K {
                    continue;
                }
                collector.remark(|| {
                    let written = |celsius: f64| shown(written(celsius, measure));
                    let cut = log.cut(*row);
                    let found = format!(
                        "`{}` under `{header}`, where the others of pass {} of setting {} are near {}",
                        written(*celsius),
                        cut.pass,
                        cut.setting,
                        written(middle)
                    );
                    let help = format!(
                        "{}; the diameter is brought to 20 °C with it as logged: mend it, or leave the cell empty; if the bar was so there nothing is to be mended",
                        meant.as_deref().unwrap_or("perhaps a slip")
                    );
                    at("unlike-temperature", Severity::Warning, place, &trial.inputs, found, &help).in_column(header)
                });
            }
        }
    }
}

/// A temperature as its column writes it.
fn written(celsius: f64, measure: Measure) -> f64 {
    match measure {
        Measure::Fahrenheit => celsius * 1.8 + 32.0,
        _ => celsius,
    }
}

/// What the temperature may have been: of the other scale, or with a slip of a digit.
fn meant(celsius: f64, middle: f64, measure: Measure) -> Option<String> {
    let number = written(celsius, measure);
    let near = |celsius: f64| (celsius - middle).abs() <= NEAR_K;
    let rounded = |value: f64| shown((10.0 * value).round() / 10.0);
    let is_fahrenheit = measure == Measure::Fahrenheit;
    if !is_fahrenheit && near(celsius_from_fahrenheit(number)) {
        return Some(format!("is it in °F? Then write {}", rounded(celsius_from_fahrenheit(number))));
    }
    if is_fahrenheit && near(number) {
        return Some(format!("is it in °C? Then write {}", rounded(number * 1.8 + 32.0)));
    }
    let slip = [10.0, 0.1, 100.0, 0.01]
        .into_iter()
        .map(|times| number / times)
        .find(|meant| near(if is_fahrenheit { celsius_from_fahrenheit(*meant) } else { *meant }));
    slip.map(|meant| format!("perhaps a slip of a digit: {}", shown(meant)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_meant_is_told_in_the_column_s_scale() {
        let scale = Measure::Times(1.0);
        assert_eq!(meant(68.8, 20.6, scale).as_deref(), Some("is it in °F? Then write 20.4"));
        assert_eq!(meant(2.06, 20.6, scale).as_deref(), Some("perhaps a slip of a digit: 20.6"));
        assert_eq!(meant(45.0, 20.6, scale), None);
        assert_eq!(meant(celsius_from_fahrenheit(20.4), 20.6, Measure::Fahrenheit).as_deref(), Some("is it in °C? Then write 68.7"));
        assert_eq!(meant(celsius_from_fahrenheit(6.89), 20.6, Measure::Fahrenheit).as_deref(), Some("perhaps a slip of a digit: 68.9"));
    }
}
