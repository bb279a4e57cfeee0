//! Readings as log files, in the formats that the program reads.

use super::SimulatedFile;
use crate::trial::{Direction, Plane, Trial};

/// The logs of a trial as CSV: one file a kind of reading that it has; moves only where `with_moves`.
///
/// UTF-8, comma, decimal point, one header line, LF. Numbers have up to six decimals, so reading a file gives the same readings back.
#[must_use]
pub fn log_files(trial: &Trial, with_moves: bool) -> Vec<SimulatedFile> {
    let mut files = Vec::new();
    let mut add = |name: &str, header: &[&str], rows: Vec<Vec<String>>| {
        if let Some(text) = table(header, &rows) {
            files.push(SimulatedFile { name: name.to_owned(), text });
        }
    };
    add(
        "diameters.csv",
        &["setting", "pass", "direction", "depth_mm", "feed_mm_per_rev", "edge", "station_mm", "repeat", "diameter_mm"],
        diameters(trial),
    );
    add("levels.csv", &["setting", "station_mm", "roll_mm_per_m", "reversed"], levels(trial));
    add("indicator.csv", &["setting", "station_mm", "spindle_deg", "plane", "reading_mm"], indicator(trial));
    add("clamp.csv", &["setting", "foot", "station_mm", "change_mm"], clamp(trial));
    if with_moves {
        add("moves.csv", &["from_setting", "to_setting", "foot", "raise_mm"], moves(trial));
    }
    files
}

/// Header and rows as CSV text, cells quoted where they must be; `None` without rows.
fn table(header: &[&str], rows: &[Vec<String>]) -> Option<String> {
    if rows.is_empty() {
        return None;
    }
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(header).ok()?;
    for row in rows {
        writer.write_record(row).ok()?;
    }
    String::from_utf8(writer.into_inner().ok()?).ok()
}

fn diameters(trial: &Trial) -> Vec<Vec<String>> {
    let row = |reading: crate::trial::DiameterReading| {
        vec![
            reading.setting.to_string(),
            reading.pass.to_string(),
            direction(reading.direction).to_owned(),
            number(reading.depth_mm, 0),
            number(reading.feed_mm_per_rev, 0),
            reading.edge.as_deref().unwrap_or("").to_owned(),
            number(reading.station_mm, 0),
            reading.repeat.unwrap_or(1).to_string(),
            number(reading.read_mm, decimals(trial.gauge.diameter_gauge(reading.gauge.as_deref()).resolution_mm)),
        ]
    };
    trial.diameters.iter().map(row).collect()
}

fn levels(trial: &Trial) -> Vec<Vec<String>> {
    let row = |reading: &crate::trial::LevelReading| {
        let reversed = if reading.reversed { "yes" } else { "no" };
        vec![reading.setting.to_string(), number(reading.station_mm, 0), number(reading.roll_mm_per_m, 3), reversed.to_owned()]
    };
    trial.levels.iter().map(row).collect()
}

fn indicator(trial: &Trial) -> Vec<Vec<String>> {
    let row = |reading: &crate::trial::IndicatorReading| {
        let plane = match reading.plane {
            Plane::Side => "side",
            Plane::Top => "top",
        };
        vec![
            reading.setting.to_string(),
            number(reading.station_mm, 0),
            number(reading.spindle_deg, 0),
            plane.to_owned(),
            number(reading.reading_mm, 4),
        ]
    };
    trial.indicator.iter().map(row).collect()
}

fn clamp(trial: &Trial) -> Vec<Vec<String>> {
    let row = |reading: &crate::trial::ClampReading| {
        vec![reading.setting.to_string(), reading.foot.name().to_owned(), number(reading.station_mm, 0), number(reading.change_mm, 4)]
    };
    trial.clamp.iter().map(row).collect()
}

fn moves(trial: &Trial) -> Vec<Vec<String>> {
    let row = |logged: &crate::trial::Move| {
        vec![
            logged.from_setting.to_string(),
            logged.to_setting.to_string(),
            logged.foot.name().to_owned(),
            number(logged.raise_mm.unwrap_or(0.0), 0),
        ]
    };
    trial.moves.iter().map(row).collect()
}

fn direction(direction: Direction) -> &'static str {
    match direction {
        Direction::ToHeadstock => "to-headstock",
        Direction::ToTailstock => "to-tailstock",
    }
}

/// Six decimals without trailing zeros, but at least `least` of them.
fn number(value: f64, least: usize) -> String {
    let full = format!("{value:.6}");
    let Some((whole, fraction)) = full.split_once('.') else { return full };
    let kept = fraction.trim_end_matches('0').len().max(least);
    match fraction.get(..kept) {
        Some(digits) if !digits.is_empty() => format!("{whole}.{digits}"),
        _ => whole.to_owned(),
    }
}

/// Decimals that a resolution shows: 3 for 0.001, 4 for 0.0005, at most 6.
fn decimals(resolution: f64) -> usize {
    if resolution <= 0.0 {
        return 6;
    }
    (0..6)
        .find(|places| {
            let scaled = resolution * 10f64.powi(*places);
            (scaled - scaled.round()).abs() < 1e-6 && scaled.round() >= 1.0
        })
        .map_or(6, |places| places as usize)
}
