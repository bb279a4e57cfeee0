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
    /// [`Decision::DoesNotConform`] when at most `1 − p` and one of the limits is broken with probability `p` by itself: where the spread is wider than
    /// the limits are apart, little lies between them wherever the value stands, and that is no fault of what was measured. For one limit `T` that is the
    /// guard band of ISO 14253-1: the value must lie `t_p·u` inside (JCGM 106:2012, 8.3.2), or as far outside; where both limits are active the joint
    /// probability counts for conformity, not a band on each side. Simple: the value alone, ends included (ISO/TR 14253-6:2012).
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
        if knowledge.probability_within(allowed.low, allowed.high) >= self.asked - SLACK {
            return Decision::Conforms;
        }
        let broken = |low: f64, high: f64| knowledge.probability_within(low, high) <= 1.0 - self.asked + SLACK;
        if broken(f64::NEG_INFINITY, allowed.high) || broken(allowed.low, f64::INFINITY) {
            return Decision::DoesNotConform;
        }
        Decision::NotProven
    }
}
