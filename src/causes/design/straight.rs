//! Errors that are a straight line of all diameters of a setting alike: how large they are beforehand.

use super::Passes;
use crate::shape::StraightErrors;
use crate::trial::Trial;
use std::collections::BTreeMap;

/// The straight errors of one setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::causes) struct Straight {
    /// Length over which they are stated, mm.
    pub(in crate::causes) length_mm: f64,
    /// The same of the passes of a longer bar that could be cut next, mm.
    pub(in crate::causes) longer_mm: Option<f64>,
    /// The errors, as the taper's budget has them.
    pub(in crate::causes) errors: StraightErrors,
}

/// The errors of every setting with two stations or more.
///
/// The tested length is that on the bar: a reading that a longer bar would bring does not change what is believed of the present one.
pub(super) fn straight_lines(trial: &Trial, passes: &Passes) -> BTreeMap<u32, Straight> {
    let mut found = BTreeMap::new();
    let mut settings: Vec<u32> = passes.keys().map(|(setting, _)| *setting).collect();
    settings.dedup();
    for setting in settings {
        let own = || passes.range((setting, 0)..=(setting, u32::MAX)).flat_map(|(_, readings)| readings);
        let on_the_bar = own().filter(|r| r.reading.station_mm <= trial.bar.length_mm);
        let span = |(from, to): (f64, f64), z: f64| (from.min(z), to.max(z));
        let tested = on_the_bar.map(|r| r.reading.station_mm).fold((f64::INFINITY, f64::NEG_INFINITY), span);
        let reaches = |readings: &&Vec<super::PassReading>| readings.iter().any(|r| r.reading.station_mm > trial.bar.length_mm);
        let longer = passes.range((setting, 0)..=(setting, u32::MAX)).map(|(_, readings)| readings).filter(reaches).flatten();
        let longer = longer.map(|r| r.reading.station_mm).fold((f64::INFINITY, f64::NEG_INFINITY), span);
        // what has only been laid out has no diameter yet
        let read = |r: &&super::PassReading| r.reading.diameter_mm > 0.0;
        let (sum, count) = own().filter(read).fold((0.0, 0.0), |(sum, count), r| (sum + r.count * r.reading.diameter_mm, count + r.count));
        let logged = own().all(|r| r.reading.temperature_c.is_some());
        if tested.1 > tested.0 {
            let diameter_mm = if count > 0.0 { sum / count } else { trial.bar.diameter_mm };
            let errors = StraightErrors::of(trial, tested, diameter_mm, logged);
            found.insert(
                setting,
                Straight { length_mm: tested.1 - tested.0, longer_mm: Some(longer.1 - longer.0).filter(|mm| *mm > 0.0), errors },
            );
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use crate::causes::block::Scale;
    use crate::causes::design::design;
    use crate::causes::fixture;
    use crate::causes::unknowns::Meaning;
    use crate::shape::{Shape, fit_shapes};
    use crate::trial::Holding;

    fn row(shape: &Shape, name: &str) -> f64 {
        shape.budget.iter().find(|row| row.component == name).map(|row| row.standard_uncertainty).unwrap()
    }

    /// What the joint estimate believes of each line over the tested length is what the taper's budget counts, in every way of holding; a tool height that is
    /// known makes the vertical one by hand 4h₀vL/D.
    #[test]
    fn as_large_as_the_budget_has_them() {
        for holding in [Holding::Chuck, Holding::Centres, Holding::ChuckAndCentre] {
            let mut trial = fixture::everything(holding);
            trial.cutting.tool_height_mm = Some(0.5);
            let design = design(&trial).unwrap();
            let shapes = fit_shapes(&trial, 1, 0).shapes;
            assert_eq!(shapes.len(), 2);
            let near = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-4;
            let sd = |wanted: Meaning| design.model.unknowns.iter().find(|u| u.meaning == wanted).unwrap().sd;
            for shape in &shapes {
                let warmth = sd(Meaning::Warmth { setting: shape.setting, longer: false });
                let budget = row(shape, "temperature-gradient").hypot(row(shape, "hand-warmed-gauge"));
                assert!(near(warmth, budget) && !near(1.001 * warmth, budget), "{holding:?}: {warmth} {budget}");
                // one bar for all settings, of the diameter that it has in the first
                if shape.setting > 0 {
                    continue;
                }
                let vertical = sd(Meaning::Vertical) * shape.tested_length.length;
                let budget = row(shape, "vertical-misalignment");
                assert!(near(vertical, budget) && !near(1.001 * vertical, budget), "{holding:?}: {vertical} {budget}");
                assert!((vertical / (4.0 * 0.5 * 0.08 * 0.18 / 38.0) - 1.0).abs() < 0.02, "{vertical}");
                let taper = &shape.taper;
                let beyond = taper.standard_uncertainty.powi(2) - taper.standard_error.powi(2) - warmth.powi(2) - vertical.powi(2);
                assert!((shape.beyond_draws_mm().powi(2) - beyond).abs() < 1e-4 * warmth.powi(2), "{beyond}");
            }
        }
    }

    /// Every pass has the lines as columns, one for all settings and one for its own, a millimetre over the length and belonging to no cause.
    #[test]
    fn every_pass_has_them() {
        let design = design(&fixture::everything(Holding::Chuck)).unwrap();
        let index = |wanted: Meaning| design.model.unknowns.iter().position(|u| u.meaning == wanted).unwrap();
        let passes: Vec<_> = design.logged.iter().filter(|l| l.pass.is_some()).collect();
        assert!(passes.len() > 2);
        for logged in passes {
            for (wanted, over) in [(Meaning::Vertical, 1.0), (Meaning::Warmth { setting: logged.setting, longer: false }, 180.0)] {
                let target = vec![(index(wanted), 1.0)];
                let column = logged.rows.columns.iter().find(|c| c.targets == target).unwrap();
                assert_eq!((column.cause, column.scale), (None, Scale::One));
                let rise = |a: usize, b: usize| (column.values[b] - column.values[a]) * over / (logged.stations[b] - logged.stations[a]);
                assert!((rise(0, 1) - 1.0).abs() < 1e-9 && (rise(1, 3) - 1.0).abs() < 1e-9 && (rise(0, 1) - 1.001).abs() > 1e-6);
            }
            let others = logged.rows.columns.iter().filter(|c| c.cause.is_none()).count();
            assert_eq!(others, 2);
        }
    }
}
