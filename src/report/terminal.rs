//! A few lines for the terminal.

use super::quantity::{Pen, on_page};
use super::sections::correction::{lead, moves};
use super::sections::found::{barrel_sentence, taper_sentence};
use super::sections::headline::{headline, latest_setting};
use super::sections::limits;
use super::units::Units;
use super::words;
use crate::analysis::Analysis;
use crate::findings::Severity;
use crate::trial::Provenance;

/// Goes with everything that is to be moved.
const CAUTION: &str =
    "Caution: isolate the machine first; never loosen hold-downs under an unsupported machine; its own manual comes before this.";

/// What was found, in a few lines of plain text, each ended by a line end; without colour.
#[must_use]
pub fn terminal_summary(analysis: &Analysis, units: Units) -> String {
    let pen = Pen { units };
    let mut lines = Vec::new();
    let several = analysis.shape.len() > 1;
    for (place, shape) in analysis.shape.iter().enumerate() {
        let length = |value: f64| pen.length(value, on_page("length")).plain();
        let setting = if several { format!(", setting {}", shape.setting) } else { String::new() };
        lines.push(format!(
            "{}{setting}: {} in {}, stations {} to {}",
            one_line(&analysis.trial.identity.name),
            words::counted(shape.readings, "reading", "readings"),
            words::counted(shape.passes_in_shape, "pass", "passes"),
            length(shape.tested_length.from),
            length(shape.tested_length.to),
        ));
        lines.push(format!("  {}", taper_sentence(shape, place, pen).plain()));
        lines.extend(shape.barrel.as_ref().map(|barrel| format!("  {}", barrel_sentence(barrel, place, pen).plain())));
    }
    if let Some((setting, causes)) = latest_setting(analysis).and_then(|setting| Some((setting, headline(analysis, setting, pen)?))) {
        let of = if several { format!("Setting {setting}: ") } else { String::new() };
        lines.push(format!("  {of}{}", causes.plain()));
    }
    lines.extend(analysis.correction.as_ref().map(|correction| format!("  {}", lead(correction, pen).plain())));
    if analysis.correction.as_ref().is_some_and(moves) {
        lines.push(format!("  {CAUTION}"));
    }
    lines.extend(limits_line(analysis));
    let warned = analysis.findings.iter().filter(|finding| finding.severity >= Severity::Warning).count();
    if warned > 0 {
        lines.push(format!("  {} about the inputs: see the page.", words::sentence_case(&words::counted(warned, "warning", "warnings"))));
    }
    lines.extend(words::warnings(analysis, pen).iter().map(|warning| format!("  {}", one_line(warning))));
    lines.push(String::new());
    lines.join("\n")
}

/// What is decided about the latest setting, in a line; from where the limits come, and whether anybody compared them with it.
fn limits_line(analysis: &Analysis) -> Option<String> {
    let latest = analysis.conformity.iter().map(|judged| judged.setting).max()?;
    let memory = limits::of(analysis, latest).any(|(_, judged)| judged.provenance == Some(Provenance::FromMemory));
    let acceptance = &analysis.trial.acceptance;
    let set = match (&acceptance.file, &acceptance.title) {
        (Some(file), _) => Some(format!("the file {}", file.name)),
        (None, Some(_)) => Some(acceptance.criteria.clone().unwrap_or_else(|| "criteria".to_owned())),
        (None, None) => None,
    };
    let from: Vec<String> = set.into_iter().chain(memory.then(|| "values not compared with their source".to_owned())).collect();
    let from = if from.is_empty() { String::new() } else { format!(" ({})", from.join(", ")) };
    Some(format!("  Limits{}: {}", one_line(&from), limits::lead(analysis, latest).plain()))
}

/// Text from a log without line ends and control characters, which could steer a terminal.
fn one_line(text: &str) -> String {
    text.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect()
}
