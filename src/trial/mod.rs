//! The typed vocabulary of a trial: machine, bar, gauges, readings of each kind, limits and priors. No input or output.

mod acceptance;
mod bar;
mod conditions;
mod cutting;
mod diameters;
mod dictionary;
mod gauges;
mod identity;
mod machine;
mod materials;
mod origin;
mod overhang;
mod photograph;
mod prior;
mod readings;
mod requests;

pub use acceptance::{Acceptance, CriteriaFile, DecisionRule, Limit, LimitStated, Provenance, Quantity, Sense, UnlikeBuiltIn};
pub use bar::{Bar, Holding, Material};
pub use conditions::Conditions;
pub use cutting::Cutting;
pub use diameters::{Bits, Cut, Diameters, Joined, MOST_STATIONS};
pub use dictionary::Dictionary;
pub use gauges::{DiameterGauge, Gauges, IndicatorGauge, LevelGauge, TestBar};
pub use identity::Identity;
pub use machine::{Feet, Foot, Machine, ScrewSense};
pub use materials::MaterialConstants;
pub use origin::{LeftOut, LogUnits, Origin, TrialSource, WhyLeftOut};
pub use overhang::{GOOD_OVERHANG, MOST_OVERHANG};
pub use photograph::Photograph;
pub use prior::Prior;
pub use readings::{ClampReading, DiameterReading, Direction, IndicatorReading, LevelReading, Move, Place, Plane};
pub use requests::{PlanRequest, SimulatedMove, SimulationRequest, Truth};

use crate::findings::Finding;
use schemars::JsonSchema;
use serde::Serialize;

/// A value that nobody stated: the key it stands for, what was taken, and why that.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Assumption {
    /// Dotted key of `trial.toml`, such as `bar.holding`.
    pub key: String,
    /// The value taken: a JSON number, text, flag or list.
    pub value: serde_json::Value,
    /// Why: one short clause for the page.
    pub why: String,
}

/// A file that was read, and what became of its rows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct InputFile {
    /// Path relative to the trial, with `/`.
    pub file: String,
    /// SHA-256 of its bytes, lower-case hexadecimal.
    pub sha256: String,
    /// Size in bytes.
    pub bytes: u64,
    /// Rows of data (0 for settings).
    pub rows: u64,
    /// Rows that were read and not left out by whoever kept the log. Where an estimate could not take them a warning says so.
    pub used: u64,
    /// Rows flagged as outliers (still used).
    pub flagged: u64,
    /// Rows that the log's `exclude` column takes out.
    pub excluded: u64,
    /// Its bytes, packed; `None` where they are too many for a page to carry.
    #[serde(skip)]
    pub packed: Option<Vec<u8>>,
}

/// Everything that is known about one trial, in millimetres, defaults filled in.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Trial {
    /// Name, date, purpose, people.
    #[serde(flatten)]
    pub identity: Identity,
    /// The lathe.
    pub machine: Machine,
    /// The bar that was turned.
    pub bar: Bar,
    /// The cut, where the log does not say.
    pub cutting: Cutting,
    /// Gauges and their data sheets.
    pub gauge: Gauges,
    /// The ground test bar of an indicator log.
    pub testbar: Option<TestBar>,
    /// Temperatures.
    pub conditions: Conditions,
    /// Prior standard deviations of the causes.
    pub prior: Prior,
    /// Limits to judge by.
    pub acceptance: Acceptance,
    /// What to simulate.
    pub simulate: Option<SimulationRequest>,
    /// What to plan for.
    pub plan: Option<PlanRequest>,
    /// Diameters, in the log's order.
    #[serde(skip)]
    pub diameters: Diameters,
    /// Level readings, in the log's order.
    #[serde(skip)]
    pub levels: Vec<LevelReading>,
    /// Indicator readings, in the log's order.
    #[serde(skip)]
    pub indicator: Vec<IndicatorReading>,
    /// Clamp readings, in the log's order.
    #[serde(skip)]
    pub clamp: Vec<ClampReading>,
    /// Moves of the feet, in the log's order.
    #[serde(skip)]
    pub moves: Vec<Move>,
    /// What nobody stated.
    #[serde(skip)]
    pub assumed: Vec<Assumption>,
    /// Files read, settings first, then logs in name order.
    #[serde(skip)]
    pub inputs: Vec<InputFile>,
    /// How the files were come by.
    #[serde(skip)]
    pub origin: Origin,
    /// Photographs for the acceptance paper, by name.
    #[serde(skip)]
    pub photographs: Vec<Photograph>,
    /// Notes and warnings about the inputs (a trial with an error is never made).
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// How the reason of an assumed prior begins that an analysis widened.
pub const WIDENED: &str = "widened";

impl Trial {
    /// Whether an analysis widened the prior with this key for a taper that no usual machine makes.
    #[must_use]
    pub fn has_widened(&self, key: &str) -> bool {
        self.assumed.iter().any(|each| each.key.strip_prefix("prior.") == Some(key) && each.why.starts_with(WIDENED))
    }

    /// How many times the default the prior of yaw, twist or offset is that an analysis widened most; 1 where it widened none.
    #[must_use]
    pub fn widened_by(&self) -> f64 {
        let (own, usual) = (&self.prior, Prior::default());
        let times = [
            ("yaw_mm_per_m", own.yaw_mm_per_m / usual.yaw_mm_per_m),
            ("twist_mm_per_m_per_m", own.twist_mm_per_m_per_m / usual.twist_mm_per_m_per_m),
            ("offset_mm", own.offset_mm / usual.offset_mm),
        ];
        times.into_iter().filter(|(key, _)| self.has_widened(key)).map(|(_, times)| times).fold(1.0, f64::max)
    }

    /// The same trial with other diameters; those that it has are not copied.
    #[must_use]
    pub fn with_diameters(&self, diameters: Diameters) -> Self {
        Self {
            diameters,
            identity: self.identity.clone(),
            machine: self.machine.clone(),
            bar: self.bar.clone(),
            cutting: self.cutting.clone(),
            gauge: self.gauge.clone(),
            testbar: self.testbar.clone(),
            conditions: self.conditions.clone(),
            prior: self.prior.clone(),
            acceptance: self.acceptance.clone(),
            simulate: self.simulate.clone(),
            plan: self.plan.clone(),
            levels: self.levels.clone(),
            indicator: self.indicator.clone(),
            clamp: self.clamp.clone(),
            moves: self.moves.clone(),
            assumed: self.assumed.clone(),
            inputs: self.inputs.clone(),
            origin: self.origin.clone(),
            photographs: self.photographs.clone(),
            findings: self.findings.clone(),
        }
    }
}
