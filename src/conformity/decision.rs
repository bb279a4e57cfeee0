use super::{Allowed, Knowledge};
use crate::trial::{Acceptance, DecisionRule};
use schemars::JsonSchema;
use serde::Serialize;

/// Probability of conformity that is asked for where nobody states another (default of ISO 14253-1:2017, read at second hand).
pub const ASKED: f64 = 0.95;
/// How near to the asked probability counts as reaching it: rounding in the last digits decides nothing.
const SLACK: f64 = 1e-9;

/// Whether a quantity keeps its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Decision {
    /// It does, as surely as asked.
    Conforms,
    /// It does not, as surely as asked.
    DoesNotConform,
    /// Neither is proven: no decision, in the sense of ISO 14253-1.
    NotProven,
}

/// A rule of decision with the probability that it asks for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Rule {
    /// The rule.
    pub rule: DecisionRule,
    /// The probability of conformity that it asks for; simple acceptance asks for none.
    pub asked: f64,
}

impl Decision {
    /// Its name, as the contract writes it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Conforms => "conforms",
            Self::DoesNotConform => "does-not-conform",
            Self::NotProven => "not-proven",
        }
    }
}

impl Default for Rule {
    fn default() -> Self {
        Self { rule: DecisionRule::GuardBand, asked: ASKED }
    }
}

impl Rule {
    /// The rule of a trial's `[acceptance]`; a probability that is stated with no rule asks for that probability.
    #[must_use]
    pub fn of(acceptance: &Acceptance) -> Self {
        let rule = match (acceptance.decision_rule, acceptance.probability) {
            (Some(DecisionRule::Simple), _) => DecisionRule::Simple,
            (Some(DecisionRule::Probability), _) | (_, Some(_)) => DecisionRule::Probability,
            (Some(DecisionRule::GuardBand) | None, None) => DecisionRule::GuardBand,
        };
        Self { rule, asked: acceptance.probability.unwrap_or(ASKED) }
    }

    /// The decision on a quantity of which `knowledge` is known.
    ///
    /// Guard band and probability: [`Decision::Conforms`] when the probability that all active limits hold is at least the asked one `p`,
    /// [`Decision::DoesNotConform`] when at most `1 − p`. For one limit `T` that is the guard band of ISO 14253-1: the value must lie `t_p·u` inside
    /// (JCGM 106:2012, 8.3.2); where both limits are active the joint probability counts, not a band on each side. Simple: the value alone, ends
    /// included (ISO/TR 14253-6:2012).
    ///
    /// ```
    /// # use taperwright::conformity::{Allowed, Decision, Knowledge, Rule};
    /// let length = Knowledge::Spread { value: 0.034, standard_uncertainty: 0.004, dof: None };
    /// let allowed = Allowed { low: f64::NEG_INFINITY, high: 0.040 };
    /// assert_eq!(Rule::default().decide(&length, allowed), Decision::NotProven); // probability 0.933
    /// ```
    #[must_use]
    pub fn decide(self, knowledge: &Knowledge, allowed: Allowed) -> Decision {
        if self.rule == DecisionRule::Simple {
            return if allowed.contains(knowledge.value()) { Decision::Conforms } else { Decision::DoesNotConform };
        }
        self.from_probability(knowledge.probability_within(allowed.low, allowed.high))
    }

    /// The decision that a probability of conformity makes, rules of probability only.
    #[must_use]
    pub fn from_probability(self, probability: f64) -> Decision {
        if probability >= self.asked - SLACK {
            Decision::Conforms
        } else if probability <= 1.0 - self.asked + SLACK {
            Decision::DoesNotConform
        } else {
            Decision::NotProven
        }
    }
}
