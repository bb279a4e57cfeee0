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
    use super::*;
    use crate::causes::block::Scale;
    use crate::causes::design::design;
    use crate::causes::fixture;
    use crate::causes::rows::{PassReading, rigid_support};
    use crate::causes::unknowns::Meaning;
    use crate::physics::{ForceFactors, cut_points};
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

    /// Lines of a bar of 220 mm read at these stations, each with a diameter (0: not cut yet) and how many readings it stands for.
    fn lines(readings: &[(u32, f64, f64, f64)]) -> BTreeMap<u32, Straight> {
        let mut trial = fixture::everything(Holding::Chuck);
        let first = trial.diameters.iter().next().unwrap();
        let reading = |&(pass, station_mm, diameter_mm, _): &(u32, f64, f64, f64)| crate::trial::DiameterReading {
            pass,
            station_mm,
            diameter_mm,
            ..first.clone()
        };
        trial.diameters = readings.iter().map(reading).collect();
        let points = cut_points(&trial, &rigid_support(&trial.bar), ForceFactors::default());
        let mut passes = Passes::new();
        for ((reading, point), &(_, _, _, count)) in trial.diameters.iter().zip(points).zip(readings) {
            let own = PassReading { reading, point, noise: 0, count, square: 0.0 };
            passes.entry((own.reading.setting, own.reading.pass)).or_default().push(own);
        }
        straight_lines(&trial, &passes)
    }

    fn errors(from_mm: f64, to_mm: f64, diameter_mm: f64) -> StraightErrors {
        StraightErrors::of(&fixture::bar(Holding::Chuck), (from_mm, to_mm), diameter_mm, false)
    }

    /// The mean diameter counts readings by their number, and leaves out what is not cut yet; without any it is the bar's.
    #[test]
    fn the_diameter_is_that_of_the_readings() {
        let found = lines(&[(1, 20.0, 36.0, 3.0), (1, 220.0, 40.0, 1.0), (2, 20.0, 0.0, 1.0), (2, 220.0, 0.0, 1.0)])[&0];
        assert_eq!((found.length_mm, found.longer_mm, found.errors), (200.0, None, errors(20.0, 220.0, 37.0)));
        assert_ne!(errors(20.0, 220.0, 37.0), errors(20.0, 220.0, 37.001));
        let laid_out = lines(&[(1, 20.0, 0.0, 1.0), (1, 220.0, 0.0, 1.0)])[&0];
        assert_eq!(laid_out.errors, errors(20.0, 220.0, 38.0));
    }

    /// Stations on the bar of 220 mm make the tested length; passes that go beyond it have a length of their own, over all of their stations.
    #[test]
    fn what_a_longer_bar_would_bring_has_its_own_length() {
        let own = [(1, 20.0, 38.0, 1.0), (1, 220.0, 38.0, 1.0)];
        let with = |more: &[(u32, f64, f64, f64)]| lines(&[&own[..], more].concat())[&0];
        assert_eq!(with(&[]).longer_mm, None);
        let longer = with(&[(2, 100.0, 0.0, 1.0), (2, 300.0, 0.0, 1.0)]);
        assert_eq!((longer.length_mm, longer.longer_mm, longer.errors), (200.0, Some(200.0), errors(20.0, 220.0, 38.0)));
        assert_eq!(with(&[(2, 120.0, 0.0, 1.0), (2, 300.0, 0.0, 1.0)]).longer_mm, Some(180.0));
        assert_eq!(with(&[(2, 300.0, 0.0, 1.0)]).longer_mm, None, "one station has no length");
    }

    #[test]
    fn one_station_has_no_line() {
        assert!(lines(&[(1, 20.0, 38.0, 1.0), (2, 20.0, 38.0, 1.0)]).is_empty());
    }

    /// A pass that goes beyond the bar of 220 mm leans by the line over its own length, one that ends there by that of the bar.
    #[test]
    fn a_pass_leans_by_the_line_of_its_length() {
        let mut trial = fixture::everything(Holding::Chuck);
        let first = trial.diameters.iter().next().unwrap();
        let rows = [(1, 20.0), (1, 220.0), (2, 120.0), (2, 300.0)];
        let reading = |(pass, station_mm): (u32, f64)| crate::trial::DiameterReading { pass, station_mm, ..first.clone() };
        trial.diameters = rows.into_iter().map(reading).collect();
        let design = design(&trial).unwrap();
        // 200 mm of the bar, 180 mm of the longer one: a millimetre over each
        for (pass, longer) in [(1, false), (2, true)] {
            let logged = design.logged.iter().find(|l| l.pass == Some(pass)).unwrap();
            let leans = |longer: bool| {
                let wanted = Meaning::Warmth { setting: 0, longer };
                let target = vec![(design.model.unknowns.iter().position(|u| u.meaning == wanted).unwrap(), 1.0)];
                logged.rows.columns.iter().find(|c| c.targets == target).map(|c| c.values[1] - c.values[0])
            };
            assert!(leans(longer).is_some_and(|rise| (rise - 1.0).abs() < 1e-9), "{pass}: {:?}", leans(longer));
            assert_eq!(leans(!longer), None, "{pass}");
        }
    }
}
