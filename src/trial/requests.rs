use super::{Direction, Foot};
use schemars::JsonSchema;
use serde::Serialize;

/// The `[simulate]` table: which logs to make.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SimulationRequest {
    /// Logs to write: `diameters`, `levels`, `indicator`, `clamp`, `moves`.
    pub logs: Vec<String>,
    /// Number of settings.
    pub settings: u32,
    /// Passes per setting and direction.
    pub passes: u32,
    /// Directions cut in each setting.
    pub directions: Vec<Direction>,
    /// Readings at each station.
    pub repeats: u32,
    /// Stations, mm; empty: ten evenly along the bar.
    pub stations_mm: Vec<f64>,
    /// Noise as a multiple of the data sheets.
    pub noise_factor: f64,
    /// Radial depth of each pass in turn, mm, begun again when the list is used up; empty: `[cutting]` says.
    pub depths_mm: Vec<f64>,
    /// Feed of each pass in turn, mm per revolution, likewise.
    pub feeds_mm_per_rev: Vec<f64>,
    /// Whether every pass has an edge of its own; otherwise one edge cuts the whole trial.
    pub fresh_edges: bool,
    /// Places on the bed at which levels are read, mm; empty: the stations.
    pub level_stations_mm: Vec<f64>,
    /// Whether every level reading is taken a second time with the level turned end for end.
    pub levels_reversed: bool,
    /// Angles of the spindle at which the indicator runs, degrees; empty: 0 and 180.
    pub spindle_deg: Vec<f64>,
    /// Moves between settings.
    pub moves: Vec<SimulatedMove>,
    /// The causes to simulate.
    pub truth: Truth,
}

impl Default for SimulationRequest {
    /// Diameters of one setting: one pass to the headstock, one reading a station, noise as on the data sheets.
    fn default() -> Self {
        Self {
            logs: vec!["diameters".to_string()],
            settings: 1,
            passes: 1,
            directions: vec![Direction::ToHeadstock],
            repeats: 1,
            stations_mm: Vec::new(),
            noise_factor: 1.0,
            depths_mm: Vec::new(),
            feeds_mm_per_rev: Vec::new(),
            fresh_edges: false,
            level_stations_mm: Vec::new(),
            levels_reversed: false,
            spindle_deg: Vec::new(),
            moves: Vec::new(),
            truth: Truth::default(),
        }
    }
}

/// A move to simulate.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SimulatedMove {
    /// Setting before.
    pub from_setting: u32,
    /// Setting after.
    pub to_setting: u32,
    /// Foot moved.
    pub foot: Foot,
    /// How far it was raised, mm.
    pub raise_mm: f64,
}

/// The `[simulate.truth]` table: the keys of `[prior]`, signed; what is `None` is absent.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
#[allow(missing_docs, reason = "same keys and units as `Prior`")]
pub struct Truth {
    pub yaw_mm_per_m: Option<f64>,
    pub twist_mm_per_m_per_m: Option<f64>,
    pub wear_um_per_m: Option<f64>,
    pub force_factor: Option<f64>,
    pub chuck_tilt_urad_per_nm: Option<f64>,
    pub centre_compliance_um_per_n: Option<f64>,
    pub gauge_noise_factor: Option<f64>,
    pub fresh_edge_um: Option<f64>,
    pub fresh_edge_m: Option<f64>,
    pub offset_mm: Option<f64>,
    pub way_wear_um: Option<f64>,
    pub way_wear_length_mm: Option<f64>,
    pub thermal_drift_um_per_min: Option<f64>,
    pub free_twist_mm_per_m_per_m: Option<f64>,
    pub move_gain: Option<f64>,
    /// Standard deviation between passes of the taper over the tested length, µm.
    pub between_pass_um: Option<f64>,
    /// Factor on the cutting force of a pass cut to the tailstock.
    pub to_tailstock_force_factor: Option<f64>,
    /// Zero error of the level, mm/m: it changes sign when the level is turned end for end.
    pub level_zero_mm_per_m: Option<f64>,
    /// Run-out of the test bar near the chuck, mm.
    pub run_out_mm: Option<f64>,
    /// Vertical misalignment of the axis, mm/m, positive = free end up.
    pub vertical_mm_per_m: Option<f64>,
}

/// The `[plan]` table. Ingest fills in the minutes; the wanted uncertainty depends on the limits.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct PlanRequest {
    /// Causes that must be settled.
    pub settle: Vec<String>,
    /// Wanted expanded uncertainty of the taper, mm; default a quarter of the limit.
    pub target_expanded_mm: Option<f64>,
    /// Minutes that one pass takes.
    pub minutes_per_pass: Option<f64>,
    /// Minutes that one reading takes.
    pub minutes_per_reading: Option<f64>,
    /// Minutes that setting up takes.
    pub minutes_per_setup: Option<f64>,
}

impl PlanRequest {
    /// Minutes of one pass when nobody states them: cut, clean, let the bar cool (common practice, no source).
    pub const MINUTES_PER_PASS: f64 = 5.0;
    /// Minutes of one reading when nobody states them (common practice, no source).
    pub const MINUTES_PER_READING: f64 = 0.3;
    /// Minutes of setting up one kind of measurement when nobody states them (common practice, no source).
    pub const MINUTES_PER_SETUP: f64 = 10.0;

    /// Minutes of so many passes, readings and settings-up, by the `[plan]` table or, where it is silent, by the defaults above.
    #[must_use]
    pub fn minutes(plan: Option<&Self>, passes: usize, readings: usize, setups: usize) -> f64 {
        let stated = |get: fn(&Self) -> Option<f64>, otherwise: f64| plan.and_then(get).unwrap_or(otherwise);
        passes as f64 * stated(|plan| plan.minutes_per_pass, Self::MINUTES_PER_PASS)
            + readings as f64 * stated(|plan| plan.minutes_per_reading, Self::MINUTES_PER_READING)
            + setups as f64 * stated(|plan| plan.minutes_per_setup, Self::MINUTES_PER_SETUP)
    }
}
