//! What a buyer asks of the notebook: what was read, with which gauges, by whom and when, and what was left out.

use crate::analysis::Analysis;
use crate::report::prose::Prose;
use crate::report::quantity::{Pen, in_result, on_page};
use crate::report::{thinned, words};
use crate::trial::{Cut, DiameterGauge, Direction, Plane, Trial};
use minijinja::Value;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Most places that are named for one reason to leave readings out.
const MOST_PLACES: usize = 3;

/// One gauge and its papers.
#[derive(Serialize)]
pub struct Gauge {
    what: &'static str,
    name: String,
    serial: String,
    calibrated: String,
    certificate: String,
    uncertainty: Value,
}

fn or_not_stated(text: &Option<String>) -> String {
    text.clone().unwrap_or_else(|| "not stated".to_owned())
}

/// Every gauge with which something was read, diameters first.
pub fn gauges(trial: &Trial, pen: Pen) -> Vec<Gauge> {
    let named: BTreeSet<&str> = trial
        .diameters
        .gauges()
        .iter()
        .flatten()
        .map(AsRef::as_ref)
        .filter(|name| trial.gauge.diameter_named.contains_key(*name))
        .collect();
    let log = &trial.diameters;
    let plain = (0..log.len()).any(|row| log.gauge(row).is_none_or(|name| !named.contains(name.as_ref())));
    let place = |key: &str, number: &str| {
        // a gauge whose name would break the path is named on the page only
        let path = format!("{key}.{number}");
        if key.matches('.').count() > 3 { on_page(path) } else { in_result(path) }
    };
    let diameter = |name: String, gauge: &DiameterGauge, key: String| Gauge {
        what: "diameters",
        name: gauge.name.clone().unwrap_or(name),
        serial: or_not_stated(&gauge.serial),
        calibrated: or_not_stated(&gauge.calibrated),
        certificate: or_not_stated(&gauge.certificate),
        uncertainty: Prose::new("step ")
            .number(pen.fine_as_written(gauge.resolution_mm, place(&key, "resolution_mm")))
            .text(", u ")
            .number(pen.fine_as_written(gauge.u_mm, place(&key, "u_mm")))
            .html(),
    };
    let mut rows = Vec::new();
    if plain {
        rows.push(diameter("not named".to_owned(), &trial.gauge.diameter, "trial.gauge.diameter".to_owned()));
    }
    for name in named {
        if let Some(gauge) = trial.gauge.diameter_named.get(name) {
            rows.push(diameter(name.to_owned(), gauge, format!("trial.gauge.diameter_named.{name}")));
        }
    }
    if !trial.levels.is_empty() {
        let level = &trial.gauge.level;
        let u = pen.slope_as_written(level.u_mm_per_m, in_result("trial.gauge.level.u_mm_per_m"));
        rows.push(Gauge {
            what: "level",
            name: level.name.clone().unwrap_or_else(|| "not named".to_owned()),
            serial: or_not_stated(&level.serial),
            calibrated: or_not_stated(&level.calibrated),
            certificate: or_not_stated(&level.certificate),
            uncertainty: Prose::new("u ").number(u).html(),
        });
    }
    if !trial.indicator.is_empty() || !trial.clamp.is_empty() {
        let indicator = &trial.gauge.indicator;
        rows.push(Gauge {
            what: "indicator",
            name: indicator.name.clone().unwrap_or_else(|| "not named".to_owned()),
            serial: or_not_stated(&indicator.serial),
            calibrated: or_not_stated(&indicator.calibrated),
            certificate: or_not_stated(&indicator.certificate),
            uncertainty: Prose::new("u ").number(pen.fine_as_written(indicator.u_mm, in_result("trial.gauge.indicator.u_mm"))).html(),
        });
    }
    rows
}

/// What was done, in sentences, for one setting.
pub fn tested(analysis: &Analysis, setting: Option<u32>, pen: Pen) -> Vec<String> {
    let trial = &analysis.trial;
    let log = &trial.diameters;
    let of_setting = |row: &usize| Some(log.cut(*row).setting) == setting;
    let cuts: Vec<&Cut> = log.used_cuts(|row| of_setting(&row));
    let count = (0..log.len()).filter(of_setting).count();
    let hundredths = |value: f64| (100.0 * value).round() as i64;
    let stations: BTreeSet<u32> = (0..log.len()).filter(of_setting).map(|row| log.station_number(row)).collect();
    let stations: BTreeSet<i64> =
        stations.into_iter().filter_map(|number| log.stations().get(number as usize)).map(|station| hundredths(station.0)).collect();
    let mut sentences = Vec::new();
    let ways: Vec<String> = [Direction::ToHeadstock, Direction::ToTailstock]
        .into_iter()
        .filter_map(|direction| {
            let passes = cuts.iter().filter(|cut| cut.direction == direction).map(|cut| cut.pass).collect::<BTreeSet<u32>>().len();
            (passes > 0).then(|| format!("{} cut {}", words::counted(passes, "pass", "passes"), words::direction(direction)))
        })
        .collect();
    let ways: Vec<&str> = ways.iter().map(String::as_str).collect();
    let depths: BTreeSet<i64> = cuts.iter().map(|cut| (1e4 * cut.depth_mm.0).round() as i64).collect();
    let depth = match (depths.first(), depths.last()) {
        (Some(least), Some(most)) if least == most => format!(", radial depth {} mm", *least as f64 / 1e4),
        (Some(least), Some(most)) => format!(", radial depth {} to {} mm", *least as f64 / 1e4, *most as f64 / 1e4),
        _ => String::new(),
    };
    sentences.push(pen.sentence(&format!(
        "A bar was turned ({}{depth}) and {} read at {}.",
        words::listed(&ways, "and"),
        words::counted(count, "diameter was", "diameters were"),
        words::counted(stations.len(), "station", "stations"),
    )));
    let mut angles: BTreeMap<(u32, u32), BTreeSet<Option<i64>>> = BTreeMap::new();
    for row in (0..log.len()).filter(of_setting) {
        angles.entry((log.cut(row).pass, log.station_number(row))).or_default().insert(log.angle_deg(row).map(hundredths));
    }
    sentences.extend(angles_read(&angles.into_values().collect::<Vec<_>>()));
    let of = |count: usize, one: &str, many: &str| words::sentence_case(&words::counted(count, one, many));
    let levels = trial.levels.iter().filter(|r| Some(r.setting) == setting).count();
    if levels > 0 {
        sentences.push(format!("{} taken along the bed.", of(levels, "reading of a level was", "readings of a level were")));
    }
    for (plane, side) in [(Plane::Side, "at its side"), (Plane::Top, "on top")] {
        let count = trial.indicator.iter().filter(|r| Some(r.setting) == setting && r.plane == plane).count();
        if count > 0 {
            sentences.push(format!(
                "{} along a ground test bar, {side}.",
                of(count, "indicator reading was taken", "indicator readings were taken")
            ));
        }
    }
    let clamp = trial.clamp.iter().filter(|r| Some(r.setting) == setting).count();
    if clamp > 0 {
        sentences
            .push(format!("{} while the feet were tightened.", of(clamp, "indicator reading was taken", "indicator readings were taken")));
    }
    if analysis.shape.len() > 1 {
        sentences.push("The feet were moved between settings; this sheet is about the latest.".to_owned());
    }
    sentences
}

/// At how many angles each station of each pass was read; `None` where no angle is stated, or only one in all.
fn angles_read(of_stations: &[BTreeSet<Option<i64>>]) -> Option<String> {
    let all: BTreeSet<i64> = of_stations.iter().flatten().flatten().copied().collect();
    let counts = || of_stations.iter().map(|angles| angles.iter().flatten().count());
    let (least, most) = (counts().min()?, counts().max()?);
    let count = |angles: usize| words::counted(angles, "angle", "angles of the bar");
    match (least, most) {
        _ if all.len() < 2 => None,
        (1, 1) => Some(format!("Each was read at one angle of the bar; {} occur in all.", words::counted(all.len(), "angle", "angles"))),
        (_, 0 | 1) => {
            Some(format!("Some were read at a stated angle of the bar; {} occur in all.", words::counted(all.len(), "angle", "angles")))
        }
        (least, most) if least == most => Some(format!("Every station was read at {}.", count(most))),
        (2.., most) => Some(format!(
            "Every station was read at {} or more angles of the bar, some at {}.",
            words::counted(least, "", "").trim(),
            words::counted(most, "", "").trim()
        )),
        (_, most) => Some(format!("Some stations were read at up to {}.", count(most))),
    }
}

/// Who read, and when, as far as the log says.
pub fn hands(trial: &Trial) -> Vec<String> {
    let listed = |texts: &[Option<Arc<str>>]| -> Vec<String> {
        texts.iter().flatten().map(|text| text.as_ref().to_owned()).collect::<BTreeSet<String>>().into_iter().collect()
    };
    let mut sentences = Vec::new();
    let who = listed(trial.diameters.operators());
    if !who.is_empty() {
        let who: Vec<&str> = who.iter().take(6).map(String::as_str).collect();
        sentences.push(format!("Diameters were read by {}.", words::listed(&who, "and")));
    }
    let when = listed(trial.diameters.measured_at());
    match (when.first(), when.last()) {
        (Some(first), Some(last)) if first == last => sentences.push(format!("They were measured at {first}.")),
        (Some(first), Some(last)) => sentences.push(format!("They were measured from {first} to {last}.")),
        _ => sentences.push("The log does not say at which hour each diameter was measured.".to_owned()),
    }
    sentences
}

/// What became of the readings: all printed, which left out and why, which flagged.
pub fn untouched(analysis: &Analysis, setting: Option<u32>) -> Vec<String> {
    let trial = &analysis.trial;
    let log = &trial.diameters;
    let own = || (0..log.len()).filter(|row| Some(log.cut(*row).setting) == setting);
    let printed = if log.len() > thinned::MOST_ROWS {
        "Of the many diameters that were logged a part is printed further on as it was read"
    } else {
        "Every diameter that was logged is printed further on as it was read"
    };
    let mut sentences = vec![format!(
        "{printed}; the files’ SHA-256 stand there too, and {} of {} enter the numbers.",
        own().filter(|row| log.is_used(*row)).count(),
        own().count()
    )];
    let mut reasons: BTreeMap<&str, (usize, Vec<String>)> = BTreeMap::new();
    for row in own() {
        if let Some(reason) = log.excluded(row) {
            let place = log.place(row);
            let file = trial.inputs.get(place.file).map_or("", |input| input.file.as_str());
            let (count, places) = reasons.entry(reason).or_default();
            *count += 1;
            if places.len() < MOST_PLACES {
                places.push(format!("{file} line {}", place.row));
            }
        }
    }
    if reasons.is_empty() {
        sentences.push("None was left out.".to_owned());
    }
    for (reason, (count, places)) in reasons.iter().take(5) {
        let more = if *count > MOST_PLACES { format!(" and {} more", count - MOST_PLACES) } else { String::new() };
        let shown: Vec<&str> = places.iter().map(String::as_str).collect();
        let count = words::sentence_case(&words::counted(*count, "reading was", "readings were"));
        sentences.push(format!("{count} left out by whoever kept the log, with the reason “{reason}”: {}{more}.", shown.join(", ")));
    }
    if reasons.len() > 5 {
        sentences.push("More were left out for other reasons: see the readings.".to_owned());
    }
    let flagged: usize = analysis.shape.iter().filter(|shape| Some(shape.setting) == setting).map(|shape| shape.outliers.len()).sum();
    sentences.push(match flagged {
        0 => "No other reading stands out.".to_owned(),
        count => {
            format!("{} flagged as standing out, and kept.", words::sentence_case(&words::counted(count, "reading is", "readings are")))
        }
    });
    sentences
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_is_said_only_where_every_station_has_its_angles() {
        let of = |list: &[&[i64]]| list.iter().map(|angles| angles.iter().map(|angle| Some(*angle)).collect()).collect::<Vec<_>>();
        let said = |list: &[&[i64]]| angles_read(&of(list));
        assert_eq!(said(&[&[0, 90], &[0, 90]]).as_deref(), Some("Every station was read at two angles of the bar."));
        assert_eq!(said(&[&[0, 90], &[0]]).as_deref(), Some("Some stations were read at up to two angles of the bar."));
        assert_eq!(said(&[&[0, 90], &[]]).as_deref(), Some("Some stations were read at up to two angles of the bar."));
        assert_eq!(
            said(&[&[0, 90], &[0, 60, 120]]).as_deref(),
            Some("Every station was read at two or more angles of the bar, some at three.")
        );
        assert_eq!(said(&[&[0], &[0]]), None);
    }
}
