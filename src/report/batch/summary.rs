//! One row a setting and cause: what `summary.csv` and `summary.parquet` hold.

use super::entry::{BatchEntry, BatchOutcome, SettingLine};
use super::parquet_file::{CannotPack, pack};
use super::table::{Cells, Table};
use crate::causes::{CauseEstimate, ContributionUm, Verdict};
use polars::prelude::PolarsResult;

/// One row: a cause of a setting of a trial; a setting without causes; a trial without settings.
struct Row<'a> {
    entry: &'a BatchEntry,
    line: Option<&'a SettingLine>,
    cause: Option<&'a CauseEstimate>,
}

fn rows(entries: &[BatchEntry]) -> Vec<Row<'_>> {
    let mut rows = Vec::with_capacity(entries.len());
    for entry in entries {
        let settings = match &entry.outcome {
            BatchOutcome::Reported { settings, .. } => settings.as_slice(),
            _ => &[],
        };
        if settings.is_empty() {
            rows.push(Row { entry, line: None, cause: None });
        }
        for line in settings {
            if line.causes.is_empty() {
                rows.push(Row { entry, line: Some(line), cause: None });
            }
            rows.extend(line.causes.iter().map(|cause| Row { entry, line: Some(line), cause: Some(cause) }));
        }
    }
    rows
}

/// The table of a batch, trials in the order of `entries`, settings and causes in theirs. A rejected or failed trial has one row. Lengths in mm, contributions in µm,
/// whatever pages show; what belongs to a setting or a trial is repeated in its rows.
#[must_use]
pub fn summary(entries: &[BatchEntry]) -> Table {
    let rows = rows(entries);
    let text = |of: &dyn Fn(&Row<'_>) -> Option<String>| Cells::Text(rows.iter().map(of).collect());
    let stated = |of: &dyn Fn(&BatchOutcome) -> Option<String>| text(&|row| of(&row.entry.outcome));
    let count = |of: &dyn Fn(&Row<'_>) -> Option<usize>| {
        Cells::Count(rows.iter().map(|row| of(row).and_then(|count| i64::try_from(count).ok())).collect())
    };
    let counted = |of: &dyn Fn(&SettingLine) -> usize| count(&|row| row.line.map(of));
    let length = |of: &dyn Fn(&SettingLine) -> Option<f64>| Cells::Number(rows.iter().map(|row| row.line.and_then(of)).collect());
    let number = |of: &dyn Fn(&CauseEstimate) -> Option<f64>| Cells::Number(rows.iter().map(|row| row.cause.and_then(of)).collect());
    let contribution = |of: &dyn Fn(&ContributionUm) -> f64| number(&|cause| cause.contribution_um.as_ref().map(of));
    let columns = vec![
        ("trial", text(&|row| Some(row.entry.trial.clone()))),
        ("state", text(&|row| Some(row.entry.outcome.state().to_owned()))),
        ("page", stated(&|outcome| if let BatchOutcome::Reported { file, .. } = outcome { Some(format!("{file}.html")) } else { None })),
        ("date", stated(&|outcome| if let BatchOutcome::Reported { date, .. } = outcome { date.clone() } else { None })),
        ("machine", stated(&|outcome| if let BatchOutcome::Reported { machine, .. } = outcome { machine.clone() } else { None })),
        ("serial", stated(&|outcome| if let BatchOutcome::Reported { serial, .. } = outcome { serial.clone() } else { None })),
        ("setting", count(&|row| row.line.map(|line| line.setting as usize))),
        ("readings", counted(&|line| line.readings)),
        ("passes", counted(&|line| line.passes)),
        ("tested_from_mm", length(&|line| Some(line.from_mm))),
        ("tested_to_mm", length(&|line| Some(line.to_mm))),
        ("taper_mm", length(&|line| Some(line.taper_mm))),
        ("taper_standard_uncertainty_mm", length(&|line| Some(line.standard_uncertainty_mm))),
        ("taper_interval95_low_mm", length(&|line| Some(line.low_mm))),
        ("taper_interval95_high_mm", length(&|line| Some(line.high_mm))),
        ("barrel_mm", length(&|line| line.barrel.map(|(value, _)| value))),
        ("barrel_standard_uncertainty_mm", length(&|line| line.barrel.map(|(_, u)| u))),
        ("outliers", counted(&|line| line.outliers)),
        ("warnings", count(&|row| if let BatchOutcome::Reported { warnings, .. } = &row.entry.outcome { Some(*warnings) } else { None })),
        ("decision", text(&|row| row.line?.limits.worst().map(|worst| worst.name().to_owned()))),
        ("limits_conform", counted(&|line| line.limits.conforms)),
        ("limits_not_proven", counted(&|line| line.limits.not_proven)),
        ("limits_do_not_conform", counted(&|line| line.limits.does_not_conform)),
        ("limits_not_applied", counted(&|line| line.limits.not_applied)),
        ("cause", text(&|row| row.cause.map(|cause| cause.cause.name().to_owned()))),
        ("cause_unit", text(&|row| row.cause.map(|cause| cause.unit.to_owned()))),
        ("cause_estimate", number(&|cause| cause.estimate)),
        ("cause_standard_uncertainty", number(&|cause| cause.standard_uncertainty)),
        ("cause_interval95_low", number(&|cause| cause.interval95.map(|interval| interval.low))),
        ("cause_interval95_high", number(&|cause| cause.interval95.map(|interval| interval.high))),
        ("contribution_um", contribution(&|um| um.estimate)),
        ("contribution_standard_uncertainty_um", contribution(&|um| um.standard_uncertainty)),
        ("contribution_interval95_low_um", contribution(&|um| um.interval95.low)),
        ("contribution_interval95_high_um", contribution(&|um| um.interval95.high)),
        ("peak_um", number(&|cause| cause.peak_um.map(|um| um.estimate))),
        ("peak_standard_uncertainty_um", number(&|cause| cause.peak_um.map(|um| um.standard_uncertainty))),
        ("presence_probability", number(&|cause| cause.presence_probability)),
        ("material_probability", number(&|cause| cause.material_probability)),
        ("material_threshold_um", number(&|cause| cause.material_threshold_um)),
        ("verdict", text(&|row| row.cause.map(|cause| verdict(cause.verdict).to_owned()))),
        ("reason", text(&|row| row.cause.map(|cause| cause.reason.to_string()))),
        (
            "rejected_because",
            stated(&|outcome| match outcome {
                BatchOutcome::Reported { .. } => None,
                BatchOutcome::Rejected { first, .. } => Some(first.clone()),
                BatchOutcome::Failed { why } => Some(why.clone()),
            }),
        ),
    ];
    Table { columns }
}

/// A verdict as the result file writes it.
fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Present => "present",
        Verdict::Absent => "absent",
        Verdict::NotSettled => "not-settled",
        Verdict::NotApplicable => "not-applicable",
    }
}

/// [`summary`] as CSV.
///
/// # Errors
/// When the table cannot be put together, which no input should bring about.
pub fn summary_csv(table: &Table) -> PolarsResult<Vec<u8>> {
    table.csv()
}

/// [`summary`] as a Parquet file, with every text as it is: no program takes a cell of it for a formula.
///
/// # Errors
/// As [`summary_csv`].
pub fn summary_parquet(table: &Table) -> Result<Vec<u8>, CannotPack> {
    pack(table)
}
