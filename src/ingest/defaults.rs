//! What only the readings can fill in: the bar's diameter and length, the resolution of its gauges.

use super::diameter_rows::DiameterRows;
use super::settings::{KEYS, Stated};
use crate::trial::{Assumption, Trial};
use serde_json::json;

/// A resolution when no reading tells one, mm: a micrometer's thousandth.
pub(super) const TYPICAL_RESOLUTION_MM: f64 = 0.001;

/// Finest step that any gauge shows, mm: readings converted by a formula have more decimals than were read.
pub(super) const FINEST_RESOLUTION_MM: f64 = 1e-5;

/// Fills the gaps of a trial from its readings; each is noted as assumed.
pub(super) fn fill(stated: Stated, rows: &DiameterRows) -> Trial {
    let mut trial = stated.trial;
    let log = &trial.diameters;
    let used = || (0..log.len()).filter(|row| log.is_used(*row));
    let count = used().count();
    #[allow(clippy::cast_precision_loss, reason = "a count of readings")]
    let mean = (count > 0).then(|| used().map(|row| log.diameter_mm(row)).sum::<f64>() / count as f64);
    let last = used().map(|row| log.station_mm(row)).reduce(f64::max);
    if let (true, Some(mean)) = (stated.diameter_missing, mean) {
        trial.bar.diameter_mm = mean;
        note(&mut trial, "bar.diameter_mm", mean, "the mean reading");
    }
    if let (true, Some(last)) = (stated.length_missing, last) {
        let furthest = trial.bar.collars_mm.iter().map(|span| span[1]).fold(last, f64::max);
        trial.bar.length_mm = furthest;
        let why = if furthest > last { "the end of the last collar" } else { "the last station" };
        note(&mut trial, "bar.length_mm", furthest, why);
    }
    let finest = |gauge: Option<&str>| {
        let named = |name: &Option<std::sync::Arc<str>>| match gauge {
            Some(gauge) => name.as_deref() == Some(gauge),
            None => true,
        };
        rows.finest_mm.iter().filter(|(name, _)| named(name)).map(|(_, step)| *step).reduce(f64::min)
    };
    let credible = |step: Option<f64>| step.filter(|step| *step >= FINEST_RESOLUTION_MM * (1.0 - 1e-9));
    let why = |step: Option<f64>| match step {
        Some(_) if credible(step).is_some() => "the finest decimal used",
        Some(_) => "the readings have more decimals than a gauge shows, as after a conversion; a micrometer's",
        None => "no reading tells; a micrometer's",
    };
    if trial.gauge.diameter.resolution_mm <= 0.0 {
        let step = finest(None);
        trial.gauge.diameter.resolution_mm = credible(step).unwrap_or(TYPICAL_RESOLUTION_MM);
        let resolution = trial.gauge.diameter.resolution_mm;
        note(&mut trial, "gauge.diameter.resolution_mm", resolution, why(step));
    }
    let unnamed = trial.gauge.diameter.resolution_mm;
    let mut notes = Vec::new();
    for (name, gauge) in trial.gauge.diameter_named.iter_mut().filter(|(_, gauge)| gauge.resolution_mm <= 0.0) {
        let step = finest(Some(name));
        gauge.resolution_mm = credible(step).unwrap_or(unnamed);
        notes.push((format!("gauge.diameter.{name}.resolution_mm"), gauge.resolution_mm, why(step)));
    }
    for (key, value, why) in notes {
        note(&mut trial, &key, value, why);
    }
    drop_idle_floors(&mut trial);
    let place = |assumption: &Assumption| KEYS.iter().position(|key| key.path == assumption.key).unwrap_or(KEYS.len());
    trial.assumed.sort_by_key(place);
    trial
}

/// Takes out the assumed floors of limits that have no part in what is allowed over the stations that were read.
fn drop_idle_floors(trial: &mut Trial) {
    let log = &trial.diameters;
    let used = || (0..log.len()).filter(|row| log.is_used(*row)).map(|row| log.station_mm(row));
    let length = used().reduce(f64::max).zip(used().reduce(f64::min)).map(|(last, first)| last - first);
    let own = trial.acceptance.limit.iter().filter(|limit| limit.criterion.is_none());
    let idle: Vec<String> = own
        .enumerate()
        .filter(|(_, limit)| !limit.floor_counts(length))
        .map(|(place, _)| format!("acceptance.limit[{place}].floor_mm"))
        .collect();
    trial.assumed.retain(|assumption| !idle.contains(&assumption.key));
}

fn note(trial: &mut Trial, key: &str, value: f64, why: &str) {
    trial.assumed.push(Assumption { key: key.to_owned(), value: json!(value), why: why.to_owned() });
}
