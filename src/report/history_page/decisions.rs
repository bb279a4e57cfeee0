//! A table for each limit: what every trial found, and what was decided.

use crate::conformity::Judgement;
use crate::history::{Machine, State, Visit};
use crate::report::quantity::Pen;
use crate::report::sections::limits;
use crate::report::words;
use crate::trial::DecisionRule;
use minijinja::{Value, context};

/// The tables of a machine, limits in the order in which they first appear; none where no trial states a limit.
pub fn limit_tables(machine: &Machine, place: usize, pen: Pen) -> Vec<Value> {
    let mut tables: Vec<(&Judgement, usize, Vec<Value>)> = Vec::new();
    for (row, visit) in machine.visits.iter().enumerate() {
        let moved = visit.found.setting != visit.left.setting;
        let path = |which: &str| format!("machines.{place}.visits.{row}.{which}");
        if moved {
            add(&mut tables, visit, &visit.found, &path("found"), "as found", pen);
        }
        add(&mut tables, visit, &visit.left, &path("left"), if moved { "as left" } else { "" }, pen);
    }
    tables
        .into_iter()
        .map(|(judged, _, rows)| {
            let name = limits::name(judged.quantity);
            let from = if judged.criterion == "trial.toml" { "stated for the trial" } else { judged.criterion.as_str() };
            context! { name, title => words::sentence_case(name), from, rows }
        })
        .collect()
}

/// Adds the limits of `state` to the tables of the same quantity and origin.
fn add<'m>(tables: &mut Vec<(&'m Judgement, usize, Vec<Value>)>, visit: &Visit, state: &'m State, path: &str, which: &str, pen: Pen) {
    for (index, judged) in state.conformity.iter().enumerate() {
        let alike = |other: &&Judgement| (other.quantity, &other.criterion) == (judged.quantity, &judged.criterion);
        let before = state.conformity.iter().take(index).filter(alike).count();
        let row = context! {
            trial => &visit.trial,
            date => &visit.date,
            which,
            rule => rule(judged),
            limit => Value::from_serialize(limits::row_at(&format!("{path}.conformity.{index}"), judged, pen)),
        };
        match tables.iter_mut().find(|(known, nth, _)| alike(known) && *nth == before) {
            Some((_, _, rows)) => rows.push(row),
            None => tables.push((judged, before, vec![row])),
        }
    }
}

/// The rule of decision in two words, with the probability that it asks for.
fn rule(judged: &Judgement) -> String {
    let asked = judged.asked.map_or_else(String::new, |asked| {
        format!(", {} %", crate::report::fixed(100.0 * asked, if (100.0 * asked).fract() < 1e-9 { 0 } else { 1 }))
    });
    match judged.decision_rule {
        DecisionRule::Simple => "simple acceptance".to_owned(),
        DecisionRule::GuardBand => format!("guard band{asked}"),
        DecisionRule::Probability => format!("probability{asked}"),
    }
}
