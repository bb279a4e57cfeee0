//! The sheet for signing: what was tested and how, with what, what was found against which limits, what was not tested.

use super::criteria_file::{FromFile, from_file};
use super::found::{barrel_sentence, taper_sentence};
use super::limits::{self, Row};
use super::notebook::{Gauge, gauges, hands, tested, untouched};
use super::priors::changed;
use super::untested::untested;
use crate::analysis::Analysis;
use crate::conformity::{Decision, NOT_CARRIED};
use crate::findings::PASSES_MISSING;
use crate::report::prose::Prose;
use crate::report::quantity::{Pen, in_result};
use crate::report::words;
use crate::shape::Shape;
use crate::trial::{Provenance, Quantity, Trial};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use minijinja::Value;
use serde::Serialize;

/// What nobody looks at here, whatever the logs hold: named so that no silence passes for a test.
const NEVER_TESTED: &str =
    "run-out of spindle and centres, facing, threads, feeds and gearbox, cutting under load, noise, electrical safety, guards and brakes";

/// The sheet, with ready strings for its template.
#[derive(Serialize)]
pub struct Sheet {
    sale: bool,
    machine: String,
    particulars: Vec<(&'static str, Value)>,
    tested: Vec<String>,
    gauges: Vec<Gauge>,
    conditions: Value,
    found: Vec<Value>,
    lead: Option<Value>,
    rows: Vec<Row>,
    rule: Option<Value>,
    from_memory: bool,
    set: Option<String>,
    file: Option<FromFile>,
    setting: Option<u32>,
    not_tested: Vec<String>,
    never: &'static str,
    readings: Vec<String>,
    warnings: Vec<Value>,
    photographs: Vec<Picture>,
}

/// A photograph in the page itself.
#[derive(Serialize)]
struct Picture {
    file: String,
    source: Value,
}

/// The sheet of a trial whose paper is that of an acceptance; `None` for others. It shows the latest setting.
pub fn sheet(analysis: &Analysis, pen: Pen) -> Option<Sheet> {
    let trial = &analysis.trial;
    if trial.identity.paper.as_deref() != Some("acceptance") {
        return None;
    }
    let latest = analysis.shape.iter().enumerate().max_by_key(|(_, shape)| shape.setting);
    let setting = latest.map(|(_, shape)| shape.setting);
    let judged: Vec<_> = setting.map(|setting| limits::of(analysis, setting).collect()).unwrap_or_default();
    let acceptance = &trial.acceptance;
    let named = acceptance.limit.iter().any(|limit| limit.criterion.is_some());
    Some(Sheet {
        sale: trial.identity.purpose.as_deref().is_some_and(|purpose| purpose.trim().eq_ignore_ascii_case("sale")),
        machine: machine(trial),
        particulars: particulars(trial, pen),
        tested: tested(analysis, setting, pen),
        gauges: gauges(trial, pen),
        conditions: conditions(trial, pen),
        found: latest.map(|(place, shape)| found(shape, place, pen)).unwrap_or_default(),
        lead: setting.filter(|_| !judged.is_empty()).map(|setting| limits::lead(analysis, setting).html()),
        rule: (!judged.is_empty()).then(|| limits::rule(acceptance, pen).html()),
        from_memory: judged.iter().any(|(_, judged)| judged.provenance == Some(Provenance::FromMemory)),
        set: acceptance.criteria.clone().filter(|_| named && acceptance.file.is_none()).map(|name| {
            let title = acceptance.title.as_ref().map_or_else(String::new, |title| format!(": {title}"));
            let source = acceptance.source.as_ref().map_or_else(String::new, |source| format!(" Source: {source}."));
            format!("Limits of the set {name}{title}.{source}")
        }),
        file: from_file(acceptance, pen).filter(|_| named),
        not_tested: not_tested(analysis, setting, pen),
        rows: judged.iter().map(|(place, judged)| limits::row(*place, judged, pen)).collect(),
        setting: setting.filter(|_| analysis.shape.len() > 1),
        never: NEVER_TESTED,
        readings: untouched(analysis, setting).into_iter().chain(hands(trial)).collect(),
        warnings: minded(analysis, pen),
        photographs: trial
            .photographs
            .iter()
            .map(|picture| Picture {
                file: picture.file.clone(),
                source: Value::from_safe_string(format!("data:{};base64,{}", picture.media_type, STANDARD.encode(&picture.bytes))),
            })
            .collect(),
    })
}

/// What whoever signs has to mind: the sentences of the page's top, passes that are not in the log, priors that the settings changed.
fn minded(analysis: &Analysis, pen: Pen) -> Vec<Value> {
    let missing = analysis.findings.iter().filter(|finding| finding.code == PASSES_MISSING);
    let missing = missing.map(|finding| format!("{}: {}.", words::sentence_case(&finding.found), finding.help));
    let texts = words::warnings(analysis, pen).into_iter().chain(missing).map(Value::from);
    texts.chain(changed(&analysis.trial, pen)).collect()
}

fn machine(trial: &Trial) -> String {
    let machine = &trial.machine;
    let name = machine.name.as_deref().unwrap_or("Machine not named");
    machine.serial.as_ref().map_or_else(|| format!("{name}, serial number not stated"), |serial| format!("{name}, serial number {serial}"))
}

fn particulars(trial: &Trial, pen: Pen) -> Vec<(&'static str, Value)> {
    let stated = |text: &Option<String>| Prose::new(text.as_deref().unwrap_or("not stated")).html();
    let machine = &trial.machine;
    let mut size = Prose::new(machine.class.as_deref().unwrap_or("class not stated"));
    for (word, value, key) in [
        ("; centre height ", machine.centre_height_mm, "centre_height_mm"),
        ("; swing over the bed ", machine.swing_mm, "swing_mm"),
        ("; between centres ", machine.between_centres_mm, "between_centres_mm"),
    ] {
        if let Some(value) = value {
            size = size.text(word).number(pen.length(value, in_result(format!("trial.machine.{key}"))));
        }
    }
    let bar = &trial.bar;
    let test_piece = Prose::new(bar.material.map_or("material not named", words::material))
        .text(", ")
        .number(pen.length(bar.diameter_mm, in_result("trial.bar.diameter_mm")))
        .text(" diameter, ")
        .number(pen.length(bar.length_mm, in_result("trial.bar.length_mm")))
        .text(format!(" long, {}", words::holding(bar.holding)));
    vec![
        ("Machine", size.html()),
        ("Date of the test", stated(&trial.identity.date)),
        ("Measured by", stated(&trial.identity.measured_by)),
        ("Witness", stated(&trial.identity.witness)),
        ("Test piece", test_piece.html()),
    ]
}

fn conditions(trial: &Trial, pen: Pen) -> Value {
    let conditions = &trial.conditions;
    let assumed = |key: &str| trial.assumed.iter().any(|each| each.key == format!("conditions.{key}"));
    let note = |key: &str| if assumed(key) { " (assumed, nobody stated it)" } else { "" };
    let logged = trial.diameters.iter().any(|reading| reading.temperature_c.is_some());
    Prose::new("Room at ")
        .number(pen.temperature(conditions.temperature_c, in_result("trial.conditions.temperature_c")))
        .text(format!("{}; the bar’s ends alike within ±", note("temperature_c")))
        .number(pen.temperature_difference(conditions.temperature_spread_c, in_result("trial.conditions.temperature_spread_c")))
        .text(note("temperature_spread_c"))
        .text(if logged {
            format!("; the bar’s temperature was logged and diameters are brought to {}.", pen.reference_temperature())
        } else {
            "; the bar’s own temperature was not logged.".to_owned()
        })
        .html()
}

fn found(shape: &Shape, place: usize, pen: Pen) -> Vec<Value> {
    let mut sentences = vec![taper_sentence(shape, place, pen).html()];
    sentences.extend(shape.barrel.as_ref().map(|barrel| barrel_sentence(barrel, place, pen).html()));
    sentences
}

/// What is left open: limits that are not proven, with the measurement that would tell, then quantities without a limit.
fn not_tested(analysis: &Analysis, setting: Option<u32>, pen: Pen) -> Vec<String> {
    let judged: Vec<_> = setting.map(|setting| limits::of(analysis, setting).collect()).unwrap_or_default();
    let mut lines: Vec<String> = judged
        .iter()
        .filter(|(_, judged)| judged.decision == Some(Decision::NotProven))
        .map(|(_, judged)| {
            let tested = judged.value.is_some() || judged.note.starts_with(NOT_CARRIED);
            let what = if tested { "not proven" } else { "not tested" };
            format!("{}, {what}. {}", words::sentence_case(limits::name(judged.quantity)), pen.told(&judged.note))
        })
        .collect();
    let latest = analysis.shape.iter().find(|shape| Some(shape.setting) == setting);
    lines.extend(latest.into_iter().flat_map(|shape| untested(&analysis.trial, shape)).map(|line| pen.told(&line)));
    let without: Vec<&str> = Quantity::ALL
        .into_iter()
        .filter(|quantity| judged.iter().all(|(_, judged)| judged.quantity != *quantity))
        .map(limits::name)
        .collect();
    if !without.is_empty() {
        lines.push(format!("Without a limit, and so not judged: {}.", words::listed(&without, "and")));
    }
    lines
}
