//! A table for each limit: what every trial found, and what was decided.

use crate::conformity::Judgement;
use crate::history::{Judged, LimitOverTime, Machine, limits_over_time};
use crate::report::quantity::Pen;
use crate::report::sections::limits;
use crate::report::words;
use crate::trial::DecisionRule;
use minijinja::{Value, context};

/// The tables of a machine, limits in the order in which they first appear; none where no trial states a limit.
pub fn limit_tables(machine: &Machine, place: usize, pen: Pen) -> Vec<Value> {
    let table = |limit: LimitOverTime<'_>| {
        let name = limits::name(limit.quantity);
        let from = if limit.criterion == "trial.toml" { "stated for the trial" } else { limit.criterion };
        let rows: Vec<Value> = limit.judged.iter().filter_map(|judged| row(machine, place, judged, pen)).collect();
        context! { name, title => words::sentence_case(name), from, rows }
    };
    limits_over_time(&machine.visits).into_iter().map(table).collect()
}

fn row(machine: &Machine, place: usize, judged: &Judged<'_>, pen: Pen) -> Option<Value> {
    let visit = machine.visits.get(judged.state.visit)?;
    let moved = visit.found.setting != visit.left.setting;
    let (of, which) = if judged.state.as_left { ("left", "as left") } else { ("found", "as found") };
    let path = format!("machines.{place}.visits.{}.{of}.conformity.{}", judged.state.visit, judged.place);
    Some(context! {
        trial => &visit.trial,
        date => &visit.date,
        which => if moved { which } else { "" },
        rule => rule(judged.judgement),
        limit => Value::from_serialize(limits::row_at(&path, judged.judgement, pen)),
    })
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
