//! Dates of calibration against the date of the trial. No clock is asked: only dates that the settings state.

use super::document::{Document, Value};
use crate::findings::{Finding, Severity};
use jiff::civil::Date;

/// Years after which a calibration is remarked on (common practice, no source: micrometers are sent in every year or two).
const OLD_YEARS: i16 = 2;

/// A warning for each gauge that was calibrated after the trial's date, a note for each whose calibration is older than two years then.
pub(super) fn calibrated(document: &Document) -> Vec<Finding> {
    let Some(trial) = document.text("trial.date").and_then(|text| text.trim().parse::<Date>().ok()) else { return Vec::new() };
    let of_gauge = |(place, entry): (&String, &super::document::Entry)| {
        let Value::Text(text) = &entry.value else { return None };
        let ours = place.starts_with("gauge.") && place.ends_with(".calibrated");
        let date: Date = text.trim().parse().ok().filter(|_| ours)?;
        let old = date.year().checked_add(OLD_YEARS)? < trial.year()
            || (date.year().checked_add(OLD_YEARS)? == trial.year() && (date.month(), date.day()) < (trial.month(), trial.day()));
        let (severity, found, help) = if date > trial {
            let found = format!("a calibration of {date}, after the trial of {trial}");
            (
                Severity::Warning,
                found,
                "is one of the two dates wrong? State that of the calibration which the gauge had when the bar was read",
            )
        } else if old {
            let found = format!("a calibration of {date}, more than two years before the trial of {trial}");
            (Severity::Note, found, "if the gauge was calibrated since, state that date; if not, say so to whoever reads the result")
        } else {
            return None;
        };
        Some(document.finding("unlikely-value", severity, place, found, help))
    };
    document.entries.iter().filter_map(of_gauge).collect()
}
