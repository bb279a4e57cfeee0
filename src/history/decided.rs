//! Decisions over time: which limit is decided otherwise than the time before.

use super::values::{DecisionChange, State, StateOf, Visit};
use crate::conformity::Judgement;
use crate::trial::Quantity;

/// What a limit is known by from trial to trial: its quantity, where it comes from, and which of those it is.
type Key<'a> = (Quantity, &'a str, usize);

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

/// The limits of a state with their keys.
fn keyed(state: &State) -> impl Iterator<Item = (Key<'_>, &Judgement)> {
    state.conformity.iter().enumerate().map(|(place, judged)| {
        let alike = |other: &&Judgement| (other.quantity, &other.criterion) == (judged.quantity, &judged.criterion);
        let before = state.conformity.iter().take(place).filter(alike).count();
        ((judged.quantity, judged.criterion.as_str(), before), judged)
    })
}

/// Whether the two were decided by another limit or another rule.
fn restated(one: &Judgement, other: &Judgement) -> bool {
    let stated = |judged: &Judgement| (judged.limit, judged.over, judged.sense, judged.decision_rule, judged.asked);
    stated(one) != stated(other)
}

/// Every decision that differs from that of the state before in which the same limit was judged; limits in the order in which they first appear.
pub(super) fn decision_changes(visits: &[Visit]) -> Vec<DecisionChange> {
    let states = states(visits);
    let mut keys: Vec<Key<'_>> = Vec::new();
    for (key, _) in states.iter().flat_map(|(_, state)| keyed(state)) {
        if !keys.contains(&key) {
            keys.push(key);
        }
    }
    let mut changes = Vec::new();
    for key in keys {
        let judged: Vec<(StateOf, &Judgement)> = states
            .iter()
            .filter_map(|(of, state)| keyed(state).find(|(other, _)| *other == key).map(|(_, judged)| (*of, judged)))
            .collect();
        changes.extend(judged.windows(2).filter_map(|pair| match pair {
            [(before, was), (after, is)] if was.decision != is.decision => Some(DecisionChange {
                quantity: key.0,
                criterion: key.1.to_owned(),
                before: *before,
                after: *after,
                was: was.decision,
                is: is.decision,
                restated: restated(was, is),
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
                && keyed(one).zip(keyed(other)).all(|((key, judged), (other_key, other))| key == other_key && !restated(judged, other))
        }
        _ => true,
    };
    (!states.windows(2).all(same)).then(|| {
        "The trials do not all state the same limits and rule of decision: a decision may differ because another limit was applied, not because the machine changed.".to_owned()
    })
}
