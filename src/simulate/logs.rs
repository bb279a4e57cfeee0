//! Readings as log files, in the formats that the program reads.

use super::SimulatedFile;
use crate::trial::{Direction, Plane, Trial};
use std::fmt::Write;

/// The logs of a trial as CSV: one file a kind of reading that it has; moves only where `with_moves`.
///
/// UTF-8, comma, decimal point, one header line, LF. Numbers have up to six decimals, so reading a file gives the same readings back.
#[must_use]
pub fn log_files(trial: &Trial, with_moves: bool) -> Vec<SimulatedFile> {
    let mut files = Vec::new();
    let mut add = |name: &str, header: &str, rows: Vec<String>| {
        if !rows.is_empty() {
            let mut text = String::from(header);
            text.push('\n');
            for row in rows {
                text.push_str(&row);
                text.push('\n');
            }
            files.push(SimulatedFile { name: name.to_owned(), text });
        }
    };
    add("diameters.csv", "setting,pass,direction,depth_mm,feed_mm_per_rev,edge,station_mm,repeat,diameter_mm", diameters(trial));
    add("levels.csv", "setting,station_mm,roll_mm_per_m,reversed", levels(trial));
    add("indicator.csv", "setting,station_mm,spindle_deg,plane,reading_mm", indicator(trial));
    add("clamp.csv", "setting,foot,station_mm,change_mm", clamp(trial));
    if with_moves {
        add("moves.csv", "from_setting,to_setting,foot,raise_mm", moves(trial));
    }
    files
}

fn diameters(trial: &Trial) -> Vec<String> {
    let row = |reading: &crate::trial::DiameterReading| {
        let mut row = format!("{},{},{},", reading.setting, reading.pass, direction(reading.direction));
        let _ = write!(
            row,
            "{},{},{},{},{},{}",
            number(reading.depth_mm, 0),
            number(reading.feed_mm_per_rev, 0),
            reading.edge.as_deref().unwrap_or(""),
            number(reading.station_mm, 0),
            reading.repeat.unwrap_or(1),
            number(reading.read_mm, decimals(trial.gauge.diameter_gauge(reading.gauge.as_deref()).resolution_mm)),
        );
        row
    };
    trial.diameters.iter().map(row).collect()
}

fn levels(trial: &Trial) -> Vec<String> {
    let row = |reading: &crate::trial::LevelReading| {
        let reversed = if reading.reversed { "yes" } else { "no" };
        format!("{},{},{},{reversed}", reading.setting, number(reading.station_mm, 0), number(reading.roll_mm_per_m, 3))
    };
    trial.levels.iter().map(row).collect()
}

fn indicator(trial: &Trial) -> Vec<String> {
    let row = |reading: &crate::trial::IndicatorReading| {
        let plane = match reading.plane {
            Plane::Side => "side",
            Plane::Top => "top",
        };
        let (station, angle) = (number(reading.station_mm, 0), number(reading.spindle_deg, 0));
        format!("{},{station},{angle},{plane},{}", reading.setting, number(reading.reading_mm, 4))
    };
    trial.indicator.iter().map(row).collect()
}

fn clamp(trial: &Trial) -> Vec<String> {
    let row = |reading: &crate::trial::ClampReading| {
        let station = number(reading.station_mm, 0);
        format!("{},{},{station},{}", reading.setting, reading.foot.name(), number(reading.change_mm, 4))
    };
    trial.clamp.iter().map(row).collect()
}

fn moves(trial: &Trial) -> Vec<String> {
    let row = |logged: &crate::trial::Move| {
        let raise = number(logged.raise_mm.unwrap_or(0.0), 0);
        format!("{},{},{},{raise}", logged.from_setting, logged.to_setting, logged.foot.name())
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
