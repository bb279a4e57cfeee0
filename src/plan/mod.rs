//! Before cutting: is the bar stiff enough, which readings are needed for the wanted decision, and how sure they would make it.
//!
//! The forecast of the taper's uncertainty is the report's own fit, run over seeded logs of the scheme; whether causes would separate is asked of
//! the equations of the joint estimate. What is promised of the advised scheme comes from logs that had no part in choosing it.

mod blank_logs;
mod choose;
mod controls;
mod forecast;
mod scheme;
mod stiffness;
mod target;

pub use blank_logs::{BlankLog, blank_logs};
pub use choose::{ENOUGH_STATIONS, MARGIN, foresee_scheme, one_pass_um};
pub use controls::{Controls, PassErrors, controlled_mean};
pub use forecast::{Purpose, SURE, Scatter, TaperForecast, forecast_taper};
pub use scheme::{CLEAR_OF_JAWS_MM, Scheme, stations};
pub use stiffness::{Refusal, Stiff, Stiffness};
pub use target::{SHARE_OF_LIMIT, Target};

use crate::causes::{CauseKind, Foreseen};
use crate::statistics::detectable_effect;
use crate::trial::Trial;

/// A taper shows when its 95 % interval leaves nought out.
const LEVEL: f64 = 0.05;
/// Probability with which the detectable taper shows.
const POWER: f64 = 0.9;

/// A scheme with its price and what it would give.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanOption {
    /// The readings.
    pub scheme: Scheme,
    /// Time, minutes.
    pub minutes: f64,
    /// Metal off the diameter, mm.
    pub metal_mm: f64,
    /// Promised standard uncertainty of the taper over the tested length, mm.
    pub standard_uncertainty_mm: f64,
    /// Promised expanded uncertainty, mm: the root mean square over such tests.
    pub expanded_mm: f64,
    /// Standard error of that by the number of simulated logs, as a share of it.
    pub relative_error: f64,
    /// Standard deviation of the expanded uncertainty from one such test to another, mm.
    pub scatter_mm: f64,
    /// Simulated logs that these come from.
    pub logs: u64,
    /// Whether those had no part in choosing the scheme and make its figure as sure as a promise is ([`SURE`]).
    pub promised: bool,
    /// Expanded uncertainty if passes differ by as much as the standard error of one of them, mm.
    pub expanded_with_spread_mm: f64,
    /// Effective degrees of freedom of the promise; `None` when there is no finite number.
    pub effective_dof: Option<f64>,
    /// Whether the promise is small enough, [`MARGIN`] standard errors added; `None` when nothing is wanted.
    pub meets: Option<bool>,
}

/// What should be done before cutting.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The trial's settings with the advised readings laid out, their values empty.
    pub planned: Trial,
    /// Seed of the forecasts.
    pub seed: u64,
    /// What is wanted of the advised scheme's tested length.
    pub target: Target,
    /// The bar against the cut.
    pub stiffness: Stiffness,
    /// Schemes, cheapest first.
    pub options: Vec<PlanOption>,
    /// Which of them is advised.
    pub advised: usize,
    /// Scatter that the forecasts take.
    pub scatter: Scatter,
    /// Causes that `[plan] settle` asks for.
    pub wanted: Vec<CauseKind>,
    /// What the advised readings would tell of each cause that can act.
    pub foreseen: Vec<Foreseen>,
}

impl Plan {
    /// The advised option; `None` when there is none.
    #[must_use]
    pub fn option(&self) -> Option<&PlanOption> {
        self.options.get(self.advised)
    }

    /// The taper that the advised readings would show with 90 % probability (its 95 % interval leaving nought out), mm, by the power of the
    /// t test; `None` where degrees of freedom are too few to say.
    #[must_use]
    pub fn detectable_mm(&self) -> Option<f64> {
        let option = self.option()?;
        Some(option.standard_uncertainty_mm * detectable_effect(POWER, option.effective_dof, LEVEL)?)
    }

    /// Wanted causes that the advised readings would not tell from the others, or that cannot act on a bar held so.
    #[must_use]
    pub fn not_separated(&self) -> Vec<CauseKind> {
        let separate = |cause: &CauseKind| self.foreseen.iter().any(|one| one.cause == *cause && one.separate);
        self.wanted.iter().copied().filter(|cause| !separate(cause)).collect()
    }
}

/// Plans a trial from its settings; readings that it has are not used.
///
/// A bar that must not be cut as planned gets no scheme and no readings, only its refusal. `None` when the bar is too short for two stations.
#[must_use]
pub fn plan_trial(trial: &Trial, seed: u64) -> Option<Plan> {
    let settle = trial.plan.as_ref().map_or(&[][..], |plan| &plan.settle);
    let wanted: Vec<CauseKind> = CauseKind::ALL.into_iter().filter(|cause| settle.iter().any(|name| name == cause.name())).collect();
    let places = stations(trial, 5);
    let tested = places.last()? - places.first()?;
    if tested <= 0.0 {
        return None;
    }
    if Refusal::of(trial).is_some() {
        return Some(refused(trial, &places, seed, wanted));
    }
    let truth = trial.simulate.as_ref().map(|simulate| &simulate.truth);
    let scatter = Scatter { between_pass_um: truth.and_then(|truth| truth.between_pass_um).unwrap_or(0.0), noise_factor: 1.0 };
    let (options, advised) = choose::options(trial, choose::extras_for(trial, &wanted), scatter, seed);
    let scheme = &options.get(advised)?.scheme;
    let tested = scheme.stations_mm.last()? - scheme.stations_mm.first()?;
    Some(Plan {
        planned: scheme.lay_out(trial),
        seed,
        target: Target::of(trial, tested),
        stiffness: Stiffness::of(trial, &scheme.stations_mm),
        foreseen: foresee_scheme(trial, scheme),
        scatter,
        wanted,
        advised,
        options,
    })
}

/// The plan of a bar that must not be cut as planned.
fn refused(trial: &Trial, places_mm: &[f64], seed: u64, wanted: Vec<CauseKind>) -> Plan {
    let tested = places_mm.last().zip(places_mm.first()).map_or(0.0, |(last, first)| last - first);
    let mut planned = Trial { simulate: None, ..trial.clone() };
    (planned.diameters, planned.levels, planned.indicator) = Default::default();
    Plan {
        planned,
        seed,
        target: Target::of(trial, tested),
        stiffness: Stiffness::of(trial, places_mm),
        foreseen: Vec::new(),
        scatter: Scatter { between_pass_um: 0.0, noise_factor: 1.0 },
        wanted,
        advised: 0,
        options: Vec::new(),
    }
}
