//! Which readings a simulated trial takes, their values still empty.

use crate::trial::{
    ClampReading, DiameterReading, Diameters, Direction, Foot, IndicatorReading, LevelReading, Move, Place, Plane, SimulationRequest, Trial,
};
use std::sync::Arc;

/// Stations when nobody states any.
const DEFAULT_STATIONS: u32 = 10;

/// `trial` with one empty reading for everything that `request` asks for; readings that it had are dropped.
///
/// Diameters: every setting, pass, direction (in turn), station and repeat; a pass number for each cut. Levels at `level_stations_mm`, in every
/// setting. Indicator at the stations and spindle angles, on the side, and on top where the truth has a vertical misalignment. Clamp in
/// the first setting at the first and last station for each foot. Moves as listed, whether or not they are logged.
#[must_use]
pub fn laid_out(trial: &Trial, request: &SimulationRequest) -> Trial {
    let mut trial = trial.clone();
    let stations = stations(&trial, request);
    let wants = |log: &str| request.logs.iter().any(|name| name == log);
    trial.diameters = diameters(&trial, request, &stations);
    trial.levels = if wants("levels") { levels(request, &stations) } else { Vec::new() };
    trial.indicator = if wants("indicator") { indicator(request, &stations) } else { Vec::new() };
    trial.clamp = if wants("clamp") { clamp(&stations) } else { Vec::new() };
    trial.moves = request
        .moves
        .iter()
        .enumerate()
        .map(|(index, wanted)| Move {
            place: place(index),
            from_setting: wanted.from_setting,
            to_setting: wanted.to_setting,
            foot: wanted.foot,
            raise_mm: Some(wanted.raise_mm),
            turns: None,
            note: None,
        })
        .collect();
    trial
}

/// The stations of a request, rising: as stated, else ten evenly from 5 to 95 % of the bar, or the middles of the collars.
fn stations(trial: &Trial, request: &SimulationRequest) -> Vec<f64> {
    let mut stations = request.stations_mm.clone();
    if stations.is_empty() && !trial.bar.collars_mm.is_empty() {
        stations = trial.bar.collars_mm.iter().map(|[from, to]| 0.5 * (from + to)).collect();
    }
    if stations.is_empty() {
        let step = 0.9 * trial.bar.length_mm / f64::from(DEFAULT_STATIONS - 1);
        stations = (0..DEFAULT_STATIONS).map(|i| 0.05 * trial.bar.length_mm + f64::from(i) * step).collect();
    }
    stations.sort_by(f64::total_cmp);
    stations.into_iter().map(|station| (station * 1000.0).round() / 1000.0).collect()
}

fn place(index: usize) -> Place {
    // The header is line 1.
    Place { file: 0, row: index as u64 + 2 }
}

fn in_turn(list: &[f64], pass: u32, otherwise: f64) -> f64 {
    if list.is_empty() { otherwise } else { list.get((pass as usize - 1) % list.len()).copied().unwrap_or(otherwise) }
}

fn diameters(trial: &Trial, request: &SimulationRequest, stations: &[f64]) -> Diameters {
    let directions: &[Direction] = if request.directions.is_empty() { &[Direction::ToHeadstock] } else { &request.directions };
    let mut readings = Diameters::default();
    let mut cut = 0_u32;
    for setting in 0..request.settings {
        let mut pass = 0;
        for _ in 0..request.passes {
            for &direction in directions {
                pass += 1;
                cut += 1;
                let edge: Arc<str> = Arc::from(format!("edge-{}", if request.fresh_edges { cut } else { 1 }));
                for &station_mm in stations {
                    for repeat in 1..=request.repeats {
                        readings.push(&DiameterReading {
                            setting,
                            pass,
                            direction,
                            repeat: Some(repeat),
                            depth_mm: in_turn(&request.depths_mm, pass, trial.cutting.depth_mm),
                            feed_mm_per_rev: in_turn(&request.feeds_mm_per_rev, pass, trial.cutting.feed_mm_per_rev),
                            edge: Some(Arc::clone(&edge)),
                            ..DiameterReading::bare(place(readings.len()), station_mm, 0.0)
                        });
                    }
                }
            }
        }
    }
    readings
}

fn levels(request: &SimulationRequest, stations: &[f64]) -> Vec<LevelReading> {
    let places = if request.level_stations_mm.is_empty() { stations } else { &request.level_stations_mm };
    let ways: &[bool] = if request.levels_reversed { &[false, true] } else { &[false] };
    let mut readings = Vec::new();
    for setting in 0..request.settings {
        for &station_mm in places {
            for &reversed in ways {
                readings.push(LevelReading {
                    place: place(readings.len()),
                    setting,
                    station_mm,
                    roll_mm_per_m: 0.0,
                    reversed,
                    reference_roll_mm_per_m: None,
                    note: None,
                });
            }
        }
    }
    readings
}

fn indicator(request: &SimulationRequest, stations: &[f64]) -> Vec<IndicatorReading> {
    let angles: &[f64] = if request.spindle_deg.is_empty() { &[0.0, 180.0] } else { &request.spindle_deg };
    let planes: &[Plane] = if request.truth.vertical_mm_per_m.is_some() { &[Plane::Side, Plane::Top] } else { &[Plane::Side] };
    let mut readings = Vec::new();
    for setting in 0..request.settings {
        for &plane in planes {
            for &spindle_deg in angles {
                for &station_mm in stations {
                    readings.push(IndicatorReading {
                        place: place(readings.len()),
                        setting,
                        station_mm,
                        reading_mm: 0.0,
                        spindle_deg,
                        plane,
                        note: None,
                    });
                }
            }
        }
    }
    readings
}

fn clamp(stations: &[f64]) -> Vec<ClampReading> {
    let ends: Vec<f64> = stations.first().into_iter().chain(stations.last().filter(|_| stations.len() > 1)).copied().collect();
    let mut readings = Vec::new();
    for foot in Foot::ALL {
        for &station_mm in &ends {
            readings.push(ClampReading { place: place(readings.len()), setting: 0, foot, station_mm, change_mm: 0.0, note: None });
        }
    }
    readings
}
