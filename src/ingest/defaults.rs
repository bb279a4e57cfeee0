//! What only the readings can fill in: the bar's diameter and length, the resolution of its gauges.

use super::diameter_rows::DiameterRows;
use super::settings::{KEYS, Stated};
use crate::trial::{Assumption, Trial};
use serde_json::json;

/// A resolution when no reading tells one, mm: a micrometer's thousandth.
const TYPICAL_RESOLUTION_MM: f64 = 0.001;

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
    let why = |found: bool| if found { "the finest decimal used" } else { "no reading tells; a micrometer's" };
    if trial.gauge.diameter.resolution_mm <= 0.0 {
        let step = finest(None);
        trial.gauge.diameter.resolution_mm = step.unwrap_or(TYPICAL_RESOLUTION_MM);
        let resolution = trial.gauge.diameter.resolution_mm;
        note(&mut trial, "gauge.diameter.resolution_mm", resolution, why(step.is_some()));
    }
    let unnamed = trial.gauge.diameter.resolution_mm;
    let mut notes = Vec::new();
    for (name, gauge) in trial.gauge.diameter_named.iter_mut().filter(|(_, gauge)| gauge.resolution_mm <= 0.0) {
        let step = finest(Some(name));
        gauge.resolution_mm = step.unwrap_or(unnamed);
        notes.push((format!("gauge.diameter.{name}.resolution_mm"), gauge.resolution_mm, why(step.is_some())));
    }
    for (key, value, why) in notes {
        note(&mut trial, &key, value, why);
    }
    let place = |assumption: &Assumption| KEYS.iter().position(|key| key.path == assumption.key).unwrap_or(KEYS.len());
    trial.assumed.sort_by_key(place);
    trial
}

fn note(trial: &mut Trial, key: &str, value: f64, why: &str) {
    trial.assumed.push(Assumption { key: key.to_owned(), value: json!(value), why: why.to_owned() });
}
