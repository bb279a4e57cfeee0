use super::{Allowed, Decision};
use crate::quantities::Sentence;
use crate::trial::{DecisionRule, Limit, Provenance, Quantity, Sense};
use schemars::JsonSchema;
use serde::Serialize;

/// One limit judged in one setting. Serialises as the contract's `conformity` entry, with more keys after the contract's.
///
/// `value`, `expanded_uncertainty`, `standard_uncertainty` and `allowed` are in `unit` and belong to `length`; positive is larger at the tailstock
/// end, barrel, away from the tool, upwards.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Judgement {
    /// State of the feet.
    pub setting: u32,
    /// The set that the limit comes from; `trial.toml` where the trial states it itself.
    pub criterion: String,
    /// Clause of the source.
    pub clause: Option<String>,
    /// Source of the limit.
    pub source: Option<String>,
    /// Whether its value was read in the source.
    pub provenance: Option<Provenance>,
    /// What is limited.
    pub quantity: Quantity,
    /// The limit as stated.
    pub limit: f64,
    /// The length to which it is stated, mm.
    pub over: Option<f64>,
    /// The deviation that is allowed.
    pub sense: Sense,
    /// What it allows at least after scaling and, of a directional limit, the other way; `None` where that has no part in what is allowed (page only).
    #[serde(skip)]
    pub floor: Option<f64>,
    /// What was found; `None` when the logs cannot say.
    pub value: Option<f64>,
    /// Half of the 95 % interval.
    pub expanded_uncertainty: Option<f64>,
    /// Probability that the limit holds.
    pub probability: Option<f64>,
    /// The decision; `None` only where the rule has no meaning for this bar.
    pub decision: Option<Decision>,
    /// How it was judged, what to mind, what would settle it: sentences, lengths in mm.
    pub note: Sentence,
    /// Unit of the numbers above.
    pub unit: &'static str,
    /// Length to which the value belongs, mm.
    pub length: Option<f64>,
    /// What the limit allows over that length.
    pub allowed: Option<Allowed>,
    /// Standard uncertainty.
    pub standard_uncertainty: Option<f64>,
    /// Rule of decision.
    pub decision_rule: DecisionRule,
    /// Probability of conformity that it asks for; `None` for simple acceptance.
    pub asked: Option<f64>,
    /// Probability that what is called conforming is not: the specific consumer's risk (JCGM 106:2012, 9.3.2).
    pub consumers_risk: Option<f64>,
    /// Probability that what is called not conforming is: the specific producer's risk.
    pub producers_risk: Option<f64>,
    /// Standard uncertainty at which a limit that is not proven would be decided.
    pub uncertainty_needed: Option<f64>,
    /// Passes in all that would bring it.
    pub passes_needed: Option<usize>,
}

impl Judgement {
    /// A judgement of `limit` about which nothing is known yet.
    pub(super) fn open(setting: u32, limit: &Limit, rule: super::Rule) -> Self {
        Self {
            setting,
            criterion: limit.criterion.clone().unwrap_or_else(|| "trial.toml".to_owned()),
            clause: limit.clause.clone(),
            source: limit.source.clone(),
            provenance: limit.provenance,
            quantity: limit.quantity,
            limit: limit.limit_mm,
            over: limit.over_mm,
            sense: limit.sense,
            floor: limit.floor_counts(None).then_some(limit.floor_mm),
            value: None,
            expanded_uncertainty: None,
            probability: None,
            decision: Some(Decision::NotProven),
            note: Sentence::default(),
            unit: limit.quantity.unit(),
            length: None,
            allowed: None,
            standard_uncertainty: None,
            decision_rule: rule.rule,
            asked: (rule.rule != DecisionRule::Simple).then_some(rule.asked),
            consumers_risk: None,
            producers_risk: None,
            uncertainty_needed: None,
            passes_needed: None,
        }
    }
}
