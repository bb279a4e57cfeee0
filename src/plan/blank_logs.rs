//! The logs of a plan: every reading in measuring order with an empty cell for what is read.

use crate::ingest::{LogKind, explained_header};
use crate::quantities::MM_PER_INCH;
use crate::trial::{Direction, LogUnits, Plane, Trial};

/// A blank log: file name and text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BlankLog {
    /// Kind of log.
    pub kind: LogKind,
    /// File name, such as `diameters-plan.csv`.
    pub name: String,
    /// Whole text, LF line ends.
    pub text: String,
}

/// Logs for all readings of a laid-out trial, in millimetres or inches throughout; the last cell of every row is empty and waits for the reading.
///
/// In inches stations are to a thousandth, depth and feed to a ten-thousandth, as the sheet shows them.
#[must_use]
pub fn blank_logs(planned: &Trial, units: LogUnits) -> Vec<BlankLog> {
    let mut logs = Vec::new();
    let station = |mm: f64| shown(mm, units, 3);
    let cut = |mm: f64| shown(mm, units, 4);
    let mut add = |kind: LogKind, columns: &[&str], rows: Vec<String>| {
        if rows.is_empty() {
            return;
        }
        let mut text = explained_header(kind, columns, units);
        for row in rows {
            text.push_str(&row);
            text.push_str(",\n");
        }
        logs.push(BlankLog { kind, name: format!("{}-plan.csv", kind.name()), text });
    };
    let diameters = planned.diameters.iter().map(|reading| {
        let direction = match reading.direction {
            Direction::ToHeadstock => "to-headstock",
            Direction::ToTailstock => "to-tailstock",
        };
        format!(
            "{},{},{direction},{},{},{},{},{}",
            reading.setting,
            reading.pass,
            cut(reading.depth_mm),
            cut(reading.feed_mm_per_rev),
            reading.edge.as_deref().unwrap_or(""),
            station(reading.station_mm),
            reading.repeat.unwrap_or(1)
        )
    });
    let columns = ["setting", "pass", "direction", "depth", "feed", "edge", "station", "repeat", "diameter"];
    add(LogKind::Diameters, &columns, diameters.collect());
    let levels = planned
        .levels
        .iter()
        .map(|reading| format!("{},{},{}", reading.setting, station(reading.station_mm), if reading.reversed { "yes" } else { "no" }));
    add(LogKind::Levels, &["setting", "station", "reversed", "roll"], levels.collect());
    let indicator = planned.indicator.iter().map(|reading| {
        let plane = match reading.plane {
            Plane::Side => "side",
            Plane::Top => "top",
        };
        format!("{},{},{},{plane}", reading.setting, station(reading.station_mm), short(reading.spindle_deg))
    });
    add(LogKind::Indicator, &["setting", "station", "spindle", "plane", "reading"], indicator.collect());
    logs
}

/// A length of `mm` in the log's unit; in inches with so many decimals, or with fewer where it is written whole with those.
fn shown(mm: f64, units: LogUnits, most: usize) -> String {
    match units {
        LogUnits::Millimetre => short(mm),
        LogUnits::Inch => {
            let inches = mm / MM_PER_INCH;
            let whole = |decimals: &usize| format!("{inches:.decimals$}").parse().is_ok_and(|near: f64| (near - inches).abs() < 1e-9);
            let decimals = (0..most).find(whole).unwrap_or(most);
            format!("{inches:.decimals$}")
        }
    }
}

/// A number without a tail of rounding errors.
fn short(value: f64) -> String {
    format!("{}", (value * 1e6).round() / 1e6)
}
