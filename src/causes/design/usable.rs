//! Which readings of the other logs can be used, and what of a longer bar.

use super::Log;
use crate::physics::CutPoint;
use crate::physics::cutting_path::{cutting_minutes, edge_path_m};
use crate::trial::{ClampReading, Direction, Foot, Holding, TestBar, Trial};
use std::collections::{BTreeMap, BTreeSet};

/// Metal, path and minutes of a pass along a longer bar that could be cut next: its stations reach beyond the present one.
///
/// The tool begins at the longer bar's end, wherever that is: only differences count, each pass having a free constant.
pub(super) fn beyond_the_bar(trial: &Trial, points: &mut [CutPoint]) {
    let length_mm = trial.bar.length_mm;
    let mut longer: BTreeMap<(u32, u32), f64> = BTreeMap::new();
    for reading in trial.diameters.iter().filter(|r| r.station_mm > length_mm) {
        let end_mm = longer.entry((reading.setting, reading.pass)).or_insert(length_mm);
        *end_mm = end_mm.max(reading.station_mm);
    }
    for (reading, point) in trial.diameters.iter().zip(points) {
        let Some(end_mm) = longer.get(&(reading.setting, reading.pass)) else { continue };
        let clamped_m = edge_path_m(trial.bar.diameter_mm, point.metal_mm, reading.feed_mm_per_rev);
        point.metal_mm = match reading.direction {
            Direction::ToHeadstock => end_mm - reading.station_mm,
            Direction::ToTailstock => reading.station_mm,
        };
        point.edge_path_m += edge_path_m(trial.bar.diameter_mm, point.metal_mm, reading.feed_mm_per_rev) - clamped_m;
        if point.minutes.is_some() {
            point.minutes = cutting_minutes(point.metal_mm, reading.feed_mm_per_rev, trial.cutting.rpm);
        }
    }
}

/// Readings by their setting.
pub(super) fn by_setting<T>(readings: &[T], setting: impl Fn(&T) -> u32) -> BTreeMap<u32, Vec<&T>> {
    let mut map: BTreeMap<u32, Vec<&T>> = BTreeMap::new();
    readings.iter().for_each(|r| map.entry(setting(r)).or_default().push(r));
    map
}

/// The test bar that the indicator ran along; `None` where it tells nothing, which is told in `refused`.
pub(in crate::causes) fn usable_test_bar(trial: &Trial, refused: &mut Vec<(Log, String)>, warnings: &mut Vec<String>) -> Option<TestBar> {
    if trial.indicator.is_empty() {
        return None;
    }
    let bar = trial.testbar.clone().unwrap_or_else(|| {
        warnings.push("The indicator ran along a test bar without a certificate: its taper is taken as 0 ± 2 µm over 200 mm.".to_string());
        TestBar { u_um: 2.0, ..TestBar::usual(Holding::Chuck) }
    });
    if bar.turned_here {
        let why = "a bar just turned in this chucking reads constant along its length whatever is wrong with the lathe, because the tool that \
                   made it ran on the same path as the indicator; only a ground test bar can tell";
        refused.push((Log::Indicator, why.to_string()));
        return None;
    }
    if bar.holding == Holding::ChuckAndCentre {
        let why = "a test bar held by chuck and centre together is bent by both; hold it in the chuck, or between centres".to_string();
        refused.push((Log::Indicator, why));
        return None;
    }
    Some(bar)
}

/// Clamp readings by setting and foot, settings whose log cannot tell taken out, which is told in `refused`.
pub(super) fn usable_clamp<'a>(trial: &'a Trial, refused: &mut Vec<(Log, String)>) -> BTreeMap<(u32, Foot), Vec<&'a ClampReading>> {
    let mut map: BTreeMap<(u32, Foot), Vec<&ClampReading>> = BTreeMap::new();
    trial.clamp.iter().for_each(|r| map.entry((r.setting, r.foot)).or_default().push(r));
    let settings: BTreeSet<u32> = trial.clamp.iter().map(|r| r.setting).collect();
    for setting in settings {
        let feet: Vec<_> = Foot::ALL.iter().filter_map(|foot| map.get(&(setting, *foot))).collect();
        let two_places = |readings: &Vec<&ClampReading>| {
            readings.iter().any(|a| readings.first().is_some_and(|b| (a.station_mm - b.station_mm).abs() > 1e-6))
        };
        let why = if feet.len() < 4 {
            Some("the clamp log must hold all four feet, tightened in order from free: the twist is the sum of what each of them adds")
        } else if !feet.iter().all(|readings| two_places(readings)) {
            Some("the clamp log needs two stations or more for each foot: at one station a free constant takes up whatever the foot does")
        } else {
            None
        };
        if let Some(why) = why {
            refused.push((Log::Clamp, format!("setting {setting}: {why}")));
            map.retain(|(s, _), _| *s != setting);
        }
    }
    map
}
