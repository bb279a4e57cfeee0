use crate::simulate::laid_out;
use crate::trial::{
    DiameterReading, Direction, Holding, IndicatorReading, LevelReading, Place, PlanRequest, Plane, SimulationRequest, TestBar, Trial,
};
use std::sync::Arc;

/// Places at which a level or an indicator is read.
const PLACES: u32 = 5;
/// The first station of a plain bar in a chuck stands at least this far from the front of its jaws, mm (common practice, no source): half a
/// micrometer's anvil (3.5), the relief groove in which the pass ends (3), and room between the jaws and tool, holder and carriage (8.5).
pub const CLEAR_OF_JAWS_MM: f64 = 15.0;
/// Length over which levels are read when neither the feet nor the distance between centres are stated, mm (common practice, no source).
const BED_MM: f64 = 500.0;

/// How far from the end of the distance between centres the tool stands when the carriage meets the tailstock that was run back, mm: half a carriage and half a tailstock
/// (common practice, no source). On a short bed no more than half of it is given away.
const CLEAR_OF_TAILSTOCK_MM: f64 = 100.0;

/// Which readings are taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Scheme {
    /// Stations of every pass, mm, rising.
    pub stations_mm: Vec<f64>,
    /// Passes in each direction.
    pub passes: u32,
    /// Whether passes are cut both ways in turn, not only to the headstock.
    pub both_ways: bool,
    /// Readings at each station.
    pub repeats: u32,
    /// How many times as deep as the others the pass is that is cut last; `None` for no such pass (see [`crate::causes::heavy_times`]).
    pub heavy: Option<f64>,
    /// Whether levels are read along the bed.
    pub levels: bool,
    /// Whether an indicator is run along a ground test bar.
    pub indicator: bool,
}

impl Scheme {
    /// Number of cuts, the heavy one included.
    #[must_use]
    pub fn cuts(&self) -> u32 {
        self.finishing_cuts() + u32::from(self.heavy.is_some())
    }

    fn finishing_cuts(&self) -> u32 {
        self.passes * if self.both_ways { 2 } else { 1 }
    }

    /// Diameters to be read.
    #[must_use]
    pub fn diameters(&self) -> usize {
        self.cuts() as usize * self.stations_mm.len() * self.repeats as usize
    }

    /// Readings of every kind.
    #[must_use]
    pub fn readings(&self) -> usize {
        self.diameters() + 2 * PLACES as usize * (usize::from(self.levels) + usize::from(self.indicator))
    }

    /// Time it takes, minutes, by the `[plan]` table: passes, readings, and one setting-up for each kind of measurement.
    #[must_use]
    pub fn minutes(&self, plan: Option<&PlanRequest>) -> f64 {
        let setups = 1 + usize::from(self.levels) + usize::from(self.indicator);
        PlanRequest::minutes(plan, self.cuts() as usize, self.readings(), setups)
    }

    /// Metal that the passes take off the diameter, mm: twice the sum of the radial depths.
    #[must_use]
    pub fn metal_mm(&self, depth_mm: f64) -> f64 {
        2.0 * depth_mm * (f64::from(self.finishing_cuts()) + self.heavy.unwrap_or(0.0))
    }

    /// `trial` with one empty reading for each that the scheme takes, in measuring order; readings that it had are dropped.
    #[must_use]
    pub fn lay_out(&self, trial: &Trial) -> Trial {
        let request = SimulationRequest {
            passes: self.passes,
            directions: if self.both_ways { vec![Direction::ToHeadstock, Direction::ToTailstock] } else { vec![Direction::ToHeadstock] },
            repeats: self.repeats,
            stations_mm: self.stations_mm.clone(),
            ..SimulationRequest::default()
        };
        let mut planned = laid_out(trial, &request);
        planned.simulate = None;
        if let Some(times) = self.heavy {
            // Last: a light pass right after it would carry part of what it left, and count in the taper with that.
            let pass = self.cuts();
            let heavy = planned.diameters.iter().filter(|reading| reading.pass == 1);
            let heavy: Vec<DiameterReading> =
                heavy.map(|reading| DiameterReading { pass, depth_mm: times * reading.depth_mm, ..reading }).collect();
            planned.diameters.extend(heavy);
        }
        let edge: Arc<str> = Arc::from("edge-1");
        planned.diameters.change(|index, reading| {
            reading.place = place(index);
            reading.edge = Some(Arc::clone(&edge));
        });
        if self.levels {
            planned.levels = levels(trial);
        }
        if self.indicator {
            let held = if trial.bar.holding == Holding::Centres { Holding::Centres } else { Holding::Chuck };
            let bar = planned.testbar.get_or_insert_with(|| TestBar::usual(held));
            planned.indicator = indicator(bar.length_mm);
        }
        planned
    }
}

fn place(index: usize) -> Place {
    Place { file: 0, row: index as u64 + 2 }
}

/// Levels along the bed, each read a second time with the level turned end for end: where the carriage gets between jaws and tailstock.
fn levels(trial: &Trial) -> Vec<LevelReading> {
    let length = trial.machine.between_centres_mm.or(trial.machine.feet.as_ref().map(|feet| feet.spacing_along_mm)).unwrap_or(BED_MM);
    let last = (length - CLEAR_OF_TAILSTOCK_MM).max(0.5 * length);
    let first = CLEAR_OF_JAWS_MM.min(0.1 * last);
    let mut readings = Vec::new();
    for step in 0..PLACES {
        for reversed in [false, true] {
            readings.push(LevelReading {
                place: place(readings.len()),
                setting: 0,
                station_mm: (first + (last - first) * f64::from(step) / f64::from(PLACES - 1)).round(),
                roll_mm_per_m: 0.0,
                reversed,
                reference_roll_mm_per_m: None,
                note: None,
            });
        }
    }
    readings
}

/// An indicator on the operator's side along a test bar, at two angles of the spindle.
fn indicator(length_mm: f64) -> Vec<IndicatorReading> {
    let mut readings = Vec::new();
    for spindle_deg in [0.0, 180.0] {
        for step in 0..PLACES {
            readings.push(IndicatorReading {
                place: place(readings.len()),
                setting: 0,
                station_mm: (length_mm * (0.05 + 0.9 * f64::from(step) / f64::from(PLACES - 1))).round(),
                reading_mm: 0.0,
                spindle_deg,
                plane: Plane::Side,
                note: None,
            });
        }
    }
    readings
}

/// Where a bar is read: `count` stations, evenly from 5 % to 95 % of it, to a whole millimetre; on collars the middle of each.
///
/// In a chuck the first stands at least [`CLEAR_OF_JAWS_MM`] from the jaws. Fewer than two come back for a bar that is too short for that.
#[must_use]
pub fn stations(trial: &Trial, count: u32) -> Vec<f64> {
    let bar = &trial.bar;
    let mut stations: Vec<f64> = if bar.collars_mm.is_empty() {
        let whole = |z: f64| if bar.length_mm >= 40.0 { z.round() } else { (10.0 * z).round() / 10.0 };
        let clear = if bar.holding == Holding::Centres { 0.0 } else { CLEAR_OF_JAWS_MM };
        let (first, last) = ((0.05 * bar.length_mm).max(clear), 0.95 * bar.length_mm);
        let step = |step: u32| first + (last - first) * f64::from(step) / f64::from(count.max(2) - 1);
        if last > first { (0..count).map(|place| whole(step(place))).collect() } else { Vec::new() }
    } else {
        bar.collars_mm.iter().map(|[from, to]| 0.5 * (from + to)).collect()
    };
    stations.sort_by(f64::total_cmp);
    stations.dedup();
    stations
}
