//! The tests that a user could still make, as the trial with their readings added (values still open).
//!
//! Added readings are known by a file index beyond all inputs. Minutes come from `[plan]` or its defaults.

use super::deepest_cut::{HEAVY_TIMES, heavy_times};
use super::design::Design;
use super::values::NextTestKind;
use crate::trial::{
    ClampReading, DiameterReading, Direction, Foot, GOOD_OVERHANG, Holding, IndicatorReading, LevelReading, Place, PlanRequest, Plane,
    TestBar, Trial,
};

/// Marks a reading that has not been taken.
const OPEN: Place = Place { file: usize::MAX, row: 0 };
/// A bar is worth replacing by one this many times as long.
const LONGER: f64 = 1.2;

/// One test with the trial as it would be.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    pub(super) kind: NextTestKind,
    pub(super) trial: Trial,
    pub(super) minutes: f64,
    pub(super) why: String,
}

/// All tests that make sense for a setting of `trial`.
pub(super) fn candidates(trial: &Trial, design: &Design, setting: u32) -> Vec<Candidate> {
    let minutes = |passes, readings, setups| PlanRequest::minutes(trial.plan.as_ref(), passes, readings, setups);
    let Some(reference) = design.references.iter().find(|r| r.main && r.setting == setting) else { return Vec::new() };
    let own = || trial.diameters.iter().filter(move |r| r.setting == setting && r.excluded.is_none());
    let Some(pattern) = own().find(|r| r.pass == reference.pass) else { return Vec::new() };
    let last_pass = own().map(|r| r.pass).max().unwrap_or(0);
    let mut stations: Vec<f64> = own().filter(|r| r.pass == reference.pass).map(|r| r.station_mm).collect();
    stations.sort_by(f64::total_cmp);
    stations.dedup();
    let holding = trial.bar.holding;
    // More of a log of thousands of readings is no test that anybody would make next; their forecast would only cost time.
    let long = trial.diameters.len() > 5000;
    let pass_like = |pass: u32, direction: Direction, depth_mm: f64| -> Vec<DiameterReading> {
        stations
            .iter()
            .map(|z| DiameterReading {
                place: OPEN,
                pass,
                direction,
                depth_mm,
                station_mm: *z,
                time_min: None,
                repeat: None,
                ..pattern.clone()
            })
            .collect()
    };
    let with = |change: &dyn Fn(&mut Trial)| {
        let mut next = trial.clone();
        change(&mut next);
        next
    };
    let mut list = Vec::new();
    let mut add = |kind: NextTestKind, trial: Trial, minutes: f64, why: &str| {
        list.push(Candidate { kind, trial, minutes, why: why.to_string() });
    };
    let cut = |direction: Direction| own().any(|r| r.direction == direction && r.depth_mm > 0.0);
    for direction in [Direction::ToHeadstock, Direction::ToTailstock] {
        // a bar that stands out too far is not cut once more to learn something
        if !cut(direction) && !trial.bar.hangs_out_too_far() {
            let readings = pass_like(last_pass + 1, direction, pattern.depth_mm);
            let next = with(&|t| t.diameters.extend(readings.iter().cloned()));
            let why = "wear and warming turn over with the direction of the cut, the geometry of the lathe does not";
            add(NextTestKind::PassOtherWay, next, minutes(1, stations.len(), 0), why);
        }
    }
    let deepest = own().map(|r| r.depth_mm).fold(0.0, f64::max);
    // Never so after return strokes alone, since four times nothing is no deeper, nor deeper than the bar bears.
    let times = heavy_times(trial, pattern.depth_mm, pattern.feed_mm_per_rev);
    if let Some(times) = times.filter(|times| deepest < 0.75 * times * pattern.depth_mm && !long) {
        // The light one first: after the heavy one it would carry what that one left, and count in the taper with it.
        let light = pass_like(last_pass + 1, pattern.direction, pattern.depth_mm);
        let heavy = pass_like(last_pass + 2, pattern.direction, times * pattern.depth_mm);
        let next = with(&|t| {
            t.diameters.extend(light.iter().cloned());
            t.diameters.extend(heavy.iter().cloned());
        });
        let bent = heavy_words(times);
        let why = format!(
            "deflection goes with the depth of cut, everything else stays: {bent} shows what the cut bends; cut the light pass first and the \
             heavy one last, since a light pass right after a heavy one carries part of what that one left"
        );
        add(NextTestKind::HeavyAndLightPass, next, minutes(2, 2 * stations.len(), 0), &why);
    }
    if let Some(length_mm) = longer(trial).filter(|_| pattern.depth_mm > 0.0 && !long) {
        let stretch = length_mm / trial.bar.length_mm;
        let mut readings = pass_like(last_pass + 1, pattern.direction, pattern.depth_mm);
        readings.iter_mut().for_each(|r| r.station_mm *= stretch);
        // In a chuck nothing but the length of the cut depends on the bar's length: the present one stays, the pass reaches beyond it.
        let next = with(&|t| t.diameters.extend(readings.iter().cloned()));
        let why = format!(
            "over {length_mm:.0} mm, still within {GOOD_OVERHANG} diameters of the chuck, lean and twist make more taper for the same gauge, and what \
             bends grows with the cube of the length: the two part, and both are seen better"
        );
        add(NextTestKind::LongerBar, next, minutes(1, stations.len(), 1), &why);
    }
    if holding != Holding::Centres && !trial.levels.iter().any(|r| r.setting == setting) {
        let length = trial.machine.between_centres_mm.or(trial.machine.feet.as_ref().map(|f| f.spacing_along_mm)).unwrap_or(500.0);
        let next = with(&|t| {
            for i in 0..5 {
                for reversed in [false, true] {
                    t.levels.push(LevelReading {
                        place: OPEN,
                        setting,
                        station_mm: length * f64::from(i) / 4.0,
                        roll_mm_per_m: 0.0,
                        reversed,
                        reference_roll_mm_per_m: None,
                        note: None,
                    });
                }
            }
        });
        let why = "a level on the carriage sees the twist of the bed and nothing of the headstock";
        add(NextTestKind::Levels, next, minutes(0, 10, 1), why);
    }
    let held = if holding == Holding::Centres { Holding::Centres } else { Holding::Chuck };
    let usable = trial.testbar.as_ref().is_none_or(|b| b.holding == held && !b.turned_here);
    if usable && !trial.indicator.iter().any(|r| r.setting == setting && r.plane == Plane::Side) {
        let next = with(&|t| {
            let bar = t.testbar.get_or_insert_with(|| TestBar::usual(held));
            let length = bar.length_mm;
            for spindle_deg in [0.0, 180.0] {
                for i in 0..5 {
                    let station_mm = length * (0.05 + 0.225 * f64::from(i));
                    t.indicator.push(IndicatorReading {
                        place: OPEN,
                        setting,
                        station_mm,
                        reading_mm: 0.0,
                        spindle_deg,
                        plane: Plane::Side,
                        note: None,
                    });
                }
            }
        });
        let why = "a ground test bar knows nothing of wear and cutting force: it shows how axis and carriage path lie to each other";
        add(NextTestKind::Indicator, next, minutes(0, 10, 1), why);
    }
    if holding != Holding::Centres && !trial.clamp.iter().any(|r| r.setting == setting) {
        let next = with(&|t| {
            for foot in Foot::ALL {
                for station_mm in [0.05, 0.95].map(|share| share * t.bar.length_mm) {
                    t.clamp.push(ClampReading { place: OPEN, setting, foot, station_mm, change_mm: 0.0, note: None });
                }
            }
        });
        let why = "from free to tight, each foot shows the twist that it adds to the bed; isolate the machine first, and have it stand supported \
                   so that it cannot tip while nuts are loose: never loosen hold-downs under a machine that is not supported";
        add(NextTestKind::Clamp, next, minutes(0, 8, 2), why);
    }
    let between: Vec<f64> = stations.windows(2).map(|w| 0.5 * (w[0] + w[1])).collect();
    let metal = |z: f64| trial.bar.collars_mm.is_empty() || trial.bar.collars_mm.iter().any(|c| c[0].min(c[1]) <= z && z <= c[0].max(c[1]));
    let passes: Vec<DiameterReading> = {
        let mut seen = std::collections::BTreeSet::new();
        own().filter(|r| seen.insert(r.pass)).collect()
    };
    if !between.is_empty() && between.iter().all(|z| metal(*z)) && stations.len() < 40 && !long {
        let next = with(&|t| {
            for pass in &passes[passes.len().saturating_sub(1)..] {
                t.diameters.extend(between.iter().map(|z| DiameterReading { place: OPEN, station_mm: *z, time_min: None, ..pass.clone() }));
            }
        });
        let why = "more stations on the pass that is still on the bar show its curve, not only its slope";
        add(NextTestKind::MoreStations, next, minutes(0, between.len(), 0), why);
    }
    if !long {
        let next = with(&|t| {
            for pass in &passes[passes.len().saturating_sub(1)..] {
                t.diameters.extend(stations.iter().map(|z| DiameterReading {
                    place: OPEN,
                    station_mm: *z,
                    time_min: None,
                    ..pass.clone()
                }));
            }
        });
        let why = "a second reading at every station of the last pass halves the variance of the gauge there";
        add(NextTestKind::MoreRepeats, next, minutes(0, stations.len(), 0), why);
    }
    list
}

/// How deep the heavy pass is, in words, and why it is no deeper where the bar does not bear the usual four times.
fn heavy_words(times: f64) -> String {
    let count = match times {
        t if t == HEAVY_TIMES[0] => return "four times the depth".to_string(),
        t if t >= 3.0 => "three times",
        _ => "twice",
    };
    format!("{count} the depth, the most of four, three and two times that this bar bears as it is held,")
}

/// Length of a longer bar of the same thickness that chuck and machine allow, mm: within [`GOOD_OVERHANG`], four fifths of the distance between
/// centres, and twice the present one; `None` where that is not a fifth more, for bars that are not plain or not in a chuck alone.
fn longer(trial: &Trial) -> Option<f64> {
    let bar = &trial.bar;
    if bar.holding != Holding::Chuck || !bar.collars_mm.is_empty() || bar.length_mm <= 0.0 {
        return None;
    }
    let room = trial.machine.between_centres_mm.map_or(f64::INFINITY, |between| 0.8 * between);
    let length_mm = (GOOD_OVERHANG * bar.diameter_mm).min(room).min(2.0 * bar.length_mm);
    // To whole centimetres, as bars are sawn.
    let length_mm = (length_mm / 10.0 + 1e-9).floor() * 10.0;
    (length_mm >= LONGER * bar.length_mm).then_some(length_mm)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::fixture;

    /// On a bar that stands out by 6.5 diameters no heavy pass is suggested, on one of 4.5 only as deep as a light cut.
    #[test]
    fn a_heavy_pass_is_no_deeper_than_the_bar_bears() {
        use crate::causes::design::design;
        use crate::trial::{SimulationRequest, Truth};
        let suggested = |diameter: f64, depth: f64| {
            let mut trial = fixture::bar(Holding::Chuck);
            (trial.bar.diameter_mm, trial.bar.length_mm, trial.cutting.depth_mm) = (diameter, 130.0, depth);
            trial.bar.collars_mm.clear();
            let request = SimulationRequest {
                logs: vec!["diameters".to_string()],
                settings: 1,
                passes: 2,
                directions: vec![Direction::ToHeadstock],
                stations_mm: vec![15.0, 70.0, 120.0],
                truth: Truth::default(),
                ..SimulationRequest::default()
            };
            let trial = fixture::read(&trial, &request, 3);
            let present = design(&trial).expect("a design");
            let heavy = candidates(&trial, &present, 0).into_iter().find(|c| c.kind == NextTestKind::HeavyAndLightPass)?;
            let deepest = heavy.trial.diameters.iter().map(|r| r.depth_mm).fold(0.0, f64::max);
            Some(((1000.0 * deepest).round() / 1000.0, heavy.why))
        };
        assert_eq!(suggested(20.0, 0.5), None);
        assert_eq!(suggested(20.0, 0.02), None, "nor a light one four times as deep");
        let (depth, why) = suggested(29.0, 0.1).expect("twice as deep");
        assert!(depth == 0.2 && why.contains("twice the depth") && why.contains("bears"), "{depth}: {why}");
        let (depth, why) = suggested(40.0, 0.1).expect("four times as deep");
        assert!(depth == 0.4 && why.contains("four times") && !why.contains("bears"), "{depth}: {why}");
    }

    #[test]
    fn how_deep_the_heavy_pass_is_stands_in_words() {
        assert_eq!(heavy_words(4.0), "four times the depth");
        assert!(
            heavy_words(3.0).starts_with("three times the depth, the most") && heavy_words(2.0).starts_with("twice the depth, the most")
        );
    }

    #[test]
    fn loose_nuts_are_not_suggested_without_their_caution() {
        use crate::causes::design::design;
        use crate::trial::{SimulationRequest, Truth};
        let request = SimulationRequest {
            logs: vec!["diameters".to_string()],
            settings: 1,
            passes: 1,
            directions: vec![Direction::ToHeadstock],
            stations_mm: vec![15.0, 70.0],
            truth: Truth::default(),
            ..SimulationRequest::default()
        };
        let trial = fixture::read(&fixture::bar(Holding::Chuck), &request, 3);
        let present = design(&trial).expect("a design");
        let why = candidates(&trial, &present, 0).into_iter().find(|c| c.kind == NextTestKind::Clamp).expect("the test").why;
        assert!(why.contains("isolate the machine first") && why.contains("cannot tip") && why.contains("not supported"), "{why}");
    }

    #[test]
    fn a_longer_bar_stays_within_four_diameters_and_the_machine() {
        let mut trial = fixture::bar(Holding::Chuck);
        (trial.bar.holding, trial.bar.diameter_mm, trial.bar.length_mm) = (Holding::Chuck, 40.0, 120.0);
        trial.machine.between_centres_mm = None;
        assert_eq!(longer(&trial), Some(160.0), "no longer than a chuck holds well");
        trial.bar.diameter_mm = 80.0;
        assert_eq!(longer(&trial), Some(240.0));
        trial.machine.between_centres_mm = Some(200.0);
        assert_eq!(longer(&trial), Some(160.0));
        trial.machine.between_centres_mm = Some(170.0);
        assert_eq!(longer(&trial), None);
        trial.machine.between_centres_mm = None;
        trial.bar.diameter_mm = 35.0;
        assert_eq!(longer(&trial), None);
        // just a fifth more is worth it; a bar of no length is none
        (trial.bar.diameter_mm, trial.bar.length_mm) = (30.0, 100.0);
        assert_eq!(longer(&trial), Some(120.0));
        trial.bar.length_mm = 0.0;
        assert_eq!(longer(&trial), None);
        (trial.bar.diameter_mm, trial.bar.length_mm) = (40.0, 120.0);
        trial.bar.holding = Holding::Centres;
        assert_eq!(longer(&trial), None);
    }
}
