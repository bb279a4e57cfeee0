//! Decisions over time: which limit is decided otherwise than the time before.

use super::values::{DecisionChange, State, StateOf, Visit};
use crate::conformity::Judgement;
use crate::trial::Quantity;

/// One limit over time: by its quantity, where it comes from, and which of those it is.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitOverTime<'v> {
    /// What is judged.
    pub quantity: Quantity,
    /// The set of limits, or `trial.toml`.
    pub criterion: &'v str,
    /// Each state in which it was judged, in order.
    pub judged: Vec<Judged<'v>>,
    /// Its number among the limits of this quantity and set in one state.
    nth: usize,
}

/// A limit in one state of the machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged<'v> {
    /// The state.
    pub state: StateOf,
    /// Its number in the state's `conformity`.
    pub place: usize,
    /// What was found and decided.
    pub judgement: &'v Judgement,
}

/// The states of a machine in order: as found where feet were moved, then as left.
pub(super) fn states(visits: &[Visit]) -> Vec<(StateOf, &State)> {
    let mut states = Vec::with_capacity(visits.len());
    for (place, visit) in visits.iter().enumerate() {
        if visit.found.setting != visit.left.setting {
            states.push((StateOf { visit: place, as_left: false }, &visit.found));
        }
        states.push((StateOf { visit: place, as_left: true }, &visit.left));
    }
    states
}

/// Every limit of a machine's trials, in the order in which they first appear.
#[must_use]
pub fn limits_over_time(visits: &[Visit]) -> Vec<LimitOverTime<'_>> {
    let mut limits: Vec<LimitOverTime<'_>> = Vec::new();
    for (of, state) in states(visits) {
        for (place, (nth, judgement)) in numbered(state).enumerate() {
            let judged = Judged { state: of, place, judgement };
            let same = |limit: &&mut LimitOverTime<'_>| {
                (limit.quantity, limit.criterion, limit.nth) == (judgement.quantity, judgement.criterion.as_str(), nth)
            };
            match limits.iter_mut().find(same) {
                Some(limit) => limit.judged.push(judged),
                None => {
                    let (quantity, criterion) = (judgement.quantity, judgement.criterion.as_str());
                    limits.push(LimitOverTime { quantity, criterion, judged: vec![judged], nth });
                }
            }
        }
    }
    limits
}

/// The limits of a state, each with its number among those of the same quantity and set.
fn numbered(state: &State) -> impl Iterator<Item = (usize, &Judgement)> {
    state
        .conformity
        .iter()
        .enumerate()
        .map(|(place, judged)| (state.conformity.iter().take(place).filter(|other| alike(other, judged)).count(), judged))
}

fn alike(one: &Judgement, other: &Judgement) -> bool {
    (one.quantity, &one.criterion) == (other.quantity, &other.criterion)
}

/// Whether the two were decided by another limit or another rule.
fn restated(one: &Judgement, other: &Judgement) -> bool {
    let stated = |judged: &Judgement| (judged.limit, judged.over, judged.sense, judged.decision_rule, judged.asked);
    stated(one) != stated(other)
}

/// Every decision that differs from that of the state before in which the same limit was judged; limits in the order in which they first appear.
pub(super) fn decision_changes(visits: &[Visit]) -> Vec<DecisionChange> {
    let mut changes = Vec::new();
    for limit in limits_over_time(visits) {
        changes.extend(limit.judged.windows(2).filter_map(|pair| match pair {
            [before, after] if before.judgement.decision != after.judgement.decision => Some(DecisionChange {
                quantity: limit.quantity,
                criterion: limit.criterion.to_owned(),
                before: before.state,
                after: after.state,
                was: before.judgement.decision,
                is: after.judgement.decision,
                restated: restated(before.judgement, after.judgement),
            }),
            _ => None,
        }));
    }
    changes
}

/// A sentence where trials do not state the same limits.
pub(super) fn limit_remark(visits: &[Visit]) -> Option<String> {
    let states = states(visits);
    let same = |pair: &[(StateOf, &State)]| match pair {
        [(_, one), (_, other)] => {
            one.conformity.len() == other.conformity.len()
                && numbered(one)
                    .zip(numbered(other))
                    .all(|((nth, one), (other_nth, other))| nth == other_nth && alike(one, other) && !restated(one, other))
        }
        _ => true,
    };
    (!states.windows(2).all(same)).then(|| {
        "The trials do not all state the same limits and rule of decision: a decision may differ because another limit was applied, not because the machine changed.".to_owned()
    })
}
