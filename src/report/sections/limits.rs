//! Each limit with what was found, how surely it holds, and what is decided.

use super::criteria_file::{FromFile, from_file};
use super::limit_words::{allowed, amount, source, stated};
pub use super::limit_words::{name, stated_limit};
use super::priors::changed;
use crate::analysis::Analysis;
use crate::conformity::{Decision, Judgement};
use crate::report::prose::Prose;
use crate::report::quantity::{Pen, in_result};
use crate::report::words;
use crate::trial::{Acceptance, DecisionRule, Provenance};
use minijinja::Value;
use serde::Serialize;

/// The section on limits.
#[derive(Serialize)]
pub struct Limits {
    title: Option<String>,
    criterion: Option<String>,
    source: Option<String>,
    file: Option<FromFile>,
    priors: Vec<Value>,
    from_memory: bool,
    rule: Value,
    left_out: Option<String>,
    settings: Vec<OfSetting>,
}

#[derive(Serialize)]
struct OfSetting {
    setting: u32,
    lead: Value,
    rows: Vec<Row>,
}

/// One limit.
#[derive(Serialize)]
pub struct Row {
    name: &'static str,
    allowed: Value,
    found: Value,
    probability: Value,
    decision: &'static str,
    sign: &'static str,
    stated: Value,
    from: String,
    from_memory: bool,
    risk: Option<Value>,
    note: String,
}

/// Every limit judged, the latest setting first; `None` where no limit is stated.
pub fn limits(analysis: &Analysis, pen: Pen) -> Option<Limits> {
    if analysis.conformity.is_empty() {
        return None;
    }
    let acceptance = &analysis.trial.acceptance;
    let mut settings: Vec<u32> = analysis.conformity.iter().map(|judged| judged.setting).collect();
    settings.dedup();
    settings.reverse();
    let of_setting = |setting: &u32| OfSetting {
        setting: *setting,
        lead: lead(analysis, *setting).html(),
        rows: of(analysis, *setting)
            .map(|(place, judged)| Row { from: source(judged, acceptance.file.as_ref()), ..row(place, judged, pen) })
            .collect(),
    };
    Some(Limits {
        title: acceptance.title.clone(),
        criterion: acceptance.criteria.clone().filter(|_| acceptance.limit.iter().any(|limit| limit.criterion.is_some())),
        source: acceptance.source.clone(),
        file: from_file(acceptance, pen),
        priors: changed(&analysis.trial, pen),
        from_memory: analysis.conformity.iter().any(|judged| judged.provenance == Some(Provenance::FromMemory)),
        rule: rule(acceptance, pen).html(),
        left_out: (acceptance.left_out > 0).then(|| {
            format!(
                "{} left out, being for other swings than this machine’s.",
                words::sentence_case(&words::counted(acceptance.left_out, "limit of the set is", "limits of the set are"))
            )
        }),
        settings: settings.iter().map(of_setting).collect(),
    })
}

/// The judgements of one setting with their places in the result.
pub fn of(analysis: &Analysis, setting: u32) -> impl Iterator<Item = (usize, &Judgement)> {
    analysis.conformity.iter().enumerate().filter(move |(_, judged)| judged.setting == setting)
}

/// The rule by which is decided, as a sentence.
pub fn rule(acceptance: &Acceptance, pen: Pen) -> Prose {
    let rule = crate::conformity::Rule::of(acceptance);
    let asked =
        || pen.percent(rule.asked, if (100.0 * rule.asked).fract() == 0.0 { 0 } else { 1 }, crate::report::quantity::on_page("asked"));
    match rule.rule {
        DecisionRule::Simple => Prose::new(
            "Simple acceptance: the value alone decides, its uncertainty left out of account. Near a limit that is wrong about as often as right; the probability stands beside each decision.",
        ),
        DecisionRule::GuardBand => Prose::new("Guard band: a thing conforms when the probability that it keeps all limits of the quantity is ")
            .number(asked())
            .text(" or more, does not conform when the probability that it breaks one of them is as large, and is not proven otherwise. For one limit that is the guard band of ISO 14253-1: the value must lie inside by 1.645 standard uncertainties, more with few degrees of freedom."),
        DecisionRule::Probability => Prose::new("Stated probability: a thing conforms when the probability that it keeps all limits of the quantity is ")
            .number(asked())
            .text(" or more, does not conform when the probability that it breaks one of them is as large, and is not proven otherwise (JCGM 106:2012)."),
    }
}

/// What is decided in a setting, in a sentence.
pub fn lead(analysis: &Analysis, setting: u32) -> Prose {
    lead_of(&of(analysis, setting).map(|(_, judged)| judged).collect::<Vec<_>>())
}

/// What is decided of some limits of one setting, in a sentence.
pub fn lead_of(all: &[&Judgement]) -> Prose {
    let named = |decision: Option<Decision>| -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for judged in all.iter().filter(|judged| judged.decision == decision) {
            let own = judged.criterion == "trial.toml" && all.iter().any(|other| other.criterion != "trial.toml");
            let name = if own { format!("{} by the trial’s own limit", name(judged.quantity)) } else { name(judged.quantity).to_owned() };
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names
    };
    let (good, bad, open) = (named(Some(Decision::Conforms)), named(Some(Decision::DoesNotConform)), named(Some(Decision::NotProven)));
    let mut prose = Prose::default();
    let mut parts = 0;
    for (word, names) in [("Does not conform", bad), ("Not proven", open), ("Conforms", good)] {
        if !names.is_empty() {
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            prose = prose.text(if parts > 0 { " " } else { "" }).strong(word).text(format!(": {}.", words::listed(&names, "and")));
            parts += 1;
        }
    }
    if parts == 0 { Prose::new("No limit could be applied to this bar.") } else { prose }
}

/// One limit as the page shows it; `place` is its index in the result file.
pub fn row(place: usize, judged: &Judgement, pen: Pen) -> Row {
    row_at(&format!("conformity.{place}"), judged, pen)
}

/// One limit as a page shows it, whose numbers stand under `path`.
pub fn row_at(path: &str, judged: &Judgement, pen: Pen) -> Row {
    let key = |name: &str| in_result(format!("{path}.{name}"));
    let u = judged.expanded_uncertainty.unwrap_or(0.0);
    let found =
        match (judged.value, judged.expanded_uncertainty) {
            (Some(value), Some(expanded)) => Prose::default()
                .number(amount(judged, value, u, pen, key("value")))
                .text(" ± ")
                .number(amount(judged, expanded, u, pen, key("expanded_uncertainty"))),
            _ => Prose::new("not known"),
        };
    let risk = match (judged.consumers_risk, judged.producers_risk) {
        (Some(risk), _) => Some(
            Prose::new("Whoever accepts it on this runs a risk of ")
                .number(pen.probability_as_percent(risk, key("consumers_risk")))
                .text(" that the limit is broken all the same (specific consumer’s risk)."),
        ),
        (_, Some(risk)) => Some(
            Prose::new("Whoever rejects it on this runs a risk of ")
                .number(pen.probability_as_percent(risk, key("producers_risk")))
                .text(" that the limit is kept all the same (specific producer’s risk)."),
        ),
        _ => None,
    };
    Row {
        name: name(judged.quantity),
        allowed: allowed(path, judged, pen).html(),
        found: found.html(),
        probability: judged.probability.map_or_else(|| Value::from("–"), |p| pen.probability_as_percent(p, key("probability")).html()),
        decision: decision(judged.decision),
        sign: sign(judged.decision),
        stated: stated(path, judged, pen).html(),
        from: source(judged, None),
        from_memory: judged.provenance == Some(Provenance::FromMemory),
        risk: risk.map(|prose| prose.html()),
        note: pen.told(&judged.note),
    }
}

/// A decision in words.
pub fn decision(decision: Option<Decision>) -> &'static str {
    match decision {
        Some(Decision::Conforms) => "conforms",
        Some(Decision::DoesNotConform) => "does not conform",
        Some(Decision::NotProven) => "not proven",
        None => "not applied",
    }
}

fn sign(decision: Option<Decision>) -> &'static str {
    match decision {
        Some(Decision::Conforms) => "●",
        Some(Decision::DoesNotConform) => "✕",
        Some(Decision::NotProven) => "○",
        None => "–",
    }
}
