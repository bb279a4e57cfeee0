use super::Foot;
use schemars::JsonSchema;
use serde::Serialize;
use std::sync::Arc;

/// Where a reading stands: the file's index in [`super::Trial::inputs`] and the line as an editor shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Index into the trial's inputs.
    pub file: usize,
    /// Line, from 1.
    pub row: u64,
}

/// Which way a pass was cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// From the free or tailstock end to the headstock: the usual way.
    ToHeadstock,
    /// From the headstock outwards.
    ToTailstock,
}

/// One diameter read at one station after one pass.
#[derive(Debug, Clone, PartialEq)]
pub struct DiameterReading {
    /// Where it stands.
    pub place: Place,
    /// State of the feet.
    pub setting: u32,
    /// Number of the cut within its setting.
    pub pass: u32,
    /// Which way the pass was cut.
    pub direction: Direction,
    /// Station `z`, mm.
    pub station_mm: f64,
    /// Diameter brought to 20 °C where the bar's temperature is logged, mm.
    pub diameter_mm: f64,
    /// Diameter as read, mm.
    pub read_mm: f64,
    /// Number of the repeat.
    pub repeat: Option<u32>,
    /// Angle of the bar at which it was read, degrees.
    pub angle_deg: Option<f64>,
    /// Radial depth of the pass, mm; 0 for a return or spring stroke.
    pub depth_mm: f64,
    /// Feed of the pass, mm per revolution.
    pub feed_mm_per_rev: f64,
    /// Edge that cut; a new name is a fresh edge.
    pub edge: Option<Arc<str>>,
    /// Time of cutting, minutes since the earliest time of cutting in the trial.
    pub time_min: Option<f64>,
    /// When it was measured, as written.
    pub measured_at: Option<Arc<str>>,
    /// How far the top slide was moved along `z`, mm: bed position = station − shift of the tool.
    pub tool_shift_mm: f64,
    /// Temperature of the bar there, °C.
    pub temperature_c: Option<f64>,
    /// Who read it.
    pub operator: Option<Arc<str>>,
    /// Gauge that read it.
    pub gauge: Option<Arc<str>>,
    /// Why it is excluded, or `None` when it is used.
    pub excluded: Option<Arc<str>>,
    /// Free note.
    pub note: Option<Arc<str>>,
}

impl DiameterReading {
    /// A reading with nothing but what every row has: pass 1 of setting 0, cut to the headstock.
    #[must_use]
    pub fn bare(place: Place, station_mm: f64, read_mm: f64) -> Self {
        Self {
            place,
            setting: 0,
            pass: 1,
            direction: Direction::ToHeadstock,
            station_mm,
            diameter_mm: read_mm,
            read_mm,
            repeat: None,
            angle_deg: None,
            depth_mm: 0.0,
            feed_mm_per_rev: 0.0,
            edge: None,
            time_min: None,
            measured_at: None,
            tool_shift_mm: 0.0,
            temperature_c: None,
            operator: None,
            gauge: None,
            excluded: None,
            note: None,
        }
    }
}

/// One reading of a level on the carriage or ways.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelReading {
    /// Where it stands.
    pub place: Place,
    /// State of the feet.
    pub setting: u32,
    /// Place on the bed `Z`, from the chuck face, mm.
    pub station_mm: f64,
    /// Roll, mm/m, positive = rear high.
    pub roll_mm_per_m: f64,
    /// Whether the level was turned end for end: its zero error then enters with the other sign.
    pub reversed: bool,
    /// A second level on the headstock, mm/m.
    pub reference_roll_mm_per_m: Option<f64>,
    /// Free note.
    pub note: Option<Arc<str>>,
}

/// The plane in which an indicator touches the test bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Plane {
    /// At axis height on the operator's side.
    Side,
    /// On top.
    Top,
}

/// One reading of an indicator along a test bar.
#[derive(Debug, Clone, PartialEq)]
pub struct IndicatorReading {
    /// Where it stands.
    pub place: Place,
    /// State of the feet.
    pub setting: u32,
    /// Station `z`, mm.
    pub station_mm: f64,
    /// Reading, mm; rises as the plunger is pushed in.
    pub reading_mm: f64,
    /// Angle of the spindle, degrees.
    pub spindle_deg: f64,
    /// Side or top.
    pub plane: Plane,
    /// Free note.
    pub note: Option<Arc<str>>,
}

/// What an indicator on the carriage did while one foot's nut was tightened.
#[derive(Debug, Clone, PartialEq)]
pub struct ClampReading {
    /// Where it stands.
    pub place: Place,
    /// State of the feet.
    pub setting: u32,
    /// Foot tightened.
    pub foot: Foot,
    /// Station at which the carriage stood, mm.
    pub station_mm: f64,
    /// Change of the reading, mm.
    pub change_mm: f64,
    /// Free note.
    pub note: Option<Arc<str>>,
}

/// One adjustment of one foot between two settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Move {
    /// Where it stands.
    pub place: Place,
    /// Setting before.
    pub from_setting: u32,
    /// Setting after.
    pub to_setting: u32,
    /// Foot moved.
    pub foot: Foot,
    /// How far it was raised, mm; `None` when only turns are logged and the screw is not known.
    pub raise_mm: Option<f64>,
    /// Turns of the screw, positive = clockwise; `None` when a raise was logged.
    pub turns: Option<f64>,
    /// Free note.
    pub note: Option<Arc<str>>,
}
