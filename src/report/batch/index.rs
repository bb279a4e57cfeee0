//! The index page of a batch.

use super::entry::{BatchEntry, BatchOutcome, SettingLine};
use crate::causes::Verdict;
use crate::conformity::{Decision, Tally};
use crate::quantities::Interval;
use crate::report::quantity::{Pen, on_page};
use crate::report::sections::limits;
use crate::report::units::PageOptions;
use crate::report::words;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use minijinja::{Environment, Value, context};
use sha2::{Digest, Sha256};

const TEMPLATES: [(&str, &str); 3] = [
    ("index.html", include_str!("../../../templates/index.html")),
    ("style.css", include_str!("../../../templates/style.css")),
    ("cautions.html", include_str!("../../../templates/cautions.html")),
];

/// What sorts and filters; the page is whole without it.
const SCRIPT: &str = include_str!("../../../templates/index.js");

/// The index page of a batch: every trial with taper, decision, causes and a link to its page; rejected and failed ones with the reason.
///
/// Its policy lets the browser run the page's own script, known by its hash, and nothing else.
///
/// # Errors
/// When the template fails, which no input should bring about.
pub fn index_html(entries: &[BatchEntry], options: &PageOptions) -> Result<String, minijinja::Error> {
    let pen = Pen { units: options.units };
    let mut reported = Vec::new();
    let mut rejected = Vec::new();
    let mut failed = Vec::new();
    for entry in entries {
        let trial = &entry.trial;
        match &entry.outcome {
            BatchOutcome::Reported { file, settings, warnings, date, .. } => {
                let lines: Vec<Value> = settings.iter().map(|line| setting_cells(&pen, line)).collect();
                reported.push(context! { trial, file, date, warnings, lines });
            }
            BatchOutcome::Rejected { errors, first } => rejected.push(context! { trial, errors, first }),
            BatchOutcome::Failed { why } => failed.push(context! { trial, why }),
        }
    }
    let mut environment = Environment::new();
    environment.set_trim_blocks(true);
    environment.set_lstrip_blocks(true);
    for (name, source) in TEMPLATES {
        environment.add_template(name, source)?;
    }
    environment.get_template("index.html")?.render(context! {
        reported,
        rejected,
        failed,
        acceptance => false,
        difference_unit => options.units.difference().symbol,
        length_unit => options.units.length().symbol,
        script => Value::from_safe_string(SCRIPT.to_owned()),
        script_hash => Value::from_safe_string(STANDARD.encode(Sha256::digest(SCRIPT))),
        version => env!("CARGO_PKG_VERSION"),
    })
}

fn setting_cells(pen: &Pen, line: &SettingLine) -> Value {
    let interval = Interval { low: line.low_mm, high: line.high_mm };
    let present: Vec<Value> = line
        .causes
        .iter()
        .filter(|cause| cause.verdict == Verdict::Present)
        .map(|cause| {
            let part =
                cause.contribution_um.map(|um| pen.signed_um(um.estimate, um.interval95.half_width(), on_page("contribution")).html());
            context! { name => words::cause_name(cause.cause), part }
        })
        .collect();
    let largest = line
        .causes
        .iter()
        .filter(|cause| cause.verdict == Verdict::Present)
        .filter_map(|cause| cause.contribution_um.map(|um| um.estimate.abs()))
        .reduce(f64::max);
    let open = line.causes.iter().filter(|cause| cause.verdict == Verdict::NotSettled).count();
    context! {
        setting => line.setting,
        readings => line.readings,
        passes => line.passes,
        outliers => line.outliers,
        length => pen.length(line.to_mm - line.from_mm, on_page("length")).cell(),
        taper => pen.difference(line.taper_mm, interval.half_width(), on_page("taper")).cell(),
        both_ways => line.both_ways,
        low => pen.end(line.low_mm, interval, on_page("low")).cell(),
        high => pen.end(line.high_mm, interval, on_page("high")).cell(),
        barrel => line.barrel.map(|(value, _)| pen.difference(value, line.barrel_half_mm, on_page("barrel")).cell()),
        decision => line.limits.worst().map_or("no limit", |worst| limits::decision(Some(worst))),
        decision_code => line.limits.worst().map_or("none", Decision::name),
        decision_rank => rank(line.limits.worst()),
        decision_counts => counts(line.limits),
        present,
        largest => largest.unwrap_or(0.0),
        open => (open > 0).then(|| format!("{open} not settled")),
    }
}

/// The worst first.
fn rank(worst: Option<Decision>) -> u8 {
    match worst {
        Some(Decision::DoesNotConform) => 0,
        Some(Decision::NotProven) => 1,
        Some(Decision::Conforms) => 2,
        None => 3,
    }
}

/// `2 of 5 limits conform, 1 does not, 2 not proven`; `None` where the decision says it all.
fn counts(tally: Tally) -> Option<String> {
    if tally.limits() < 2 {
        return None;
    }
    let mut said = format!("{} of {} limits conform{}", tally.conforms, tally.limits(), if tally.conforms == 1 { "s" } else { "" });
    for (count, one, many) in [
        (tally.does_not_conform, "does not", "do not"),
        (tally.not_proven, "not proven", "not proven"),
        (tally.not_applied, "not applied", "not applied"),
    ] {
        if count > 0 {
            said.push_str(&format!(", {count} {}", if count == 1 { one } else { many }));
        }
    }
    Some(said)
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::*;

    #[test]
    fn counts_are_said_where_there_is_something_to_count() {
        assert_eq!(counts(Tally { conforms: 1, ..Tally::default() }), None);
        let mixed = Tally { conforms: 2, does_not_conform: 1, not_proven: 2, not_applied: 0 };
        assert_eq!(counts(mixed).unwrap(), "2 of 5 limits conform, 1 does not, 2 not proven");
        assert_eq!(counts(Tally { conforms: 1, not_applied: 1, ..Tally::default() }).unwrap(), "1 of 2 limits conforms, 1 not applied");
    }

    #[test]
    fn names_are_escaped_and_the_policy_knows_the_script() {
        let rejected = BatchEntry { trial: "<b>".into(), outcome: BatchOutcome::Rejected { errors: 3, first: "@".into() } };
        let failed = BatchEntry { trial: "c".into(), outcome: BatchOutcome::Failed { why: "no <space>".into() } };
        let page = index_html(&[rejected, failed], &PageOptions::default()).unwrap();
        assert!(page.contains("&lt;b&gt;") && !page.contains("<b>") && page.contains("no &lt;space&gt;"));
        let script = page.split("<script>").nth(1).unwrap().split("</script>").next().unwrap();
        let hash = STANDARD.encode(Sha256::digest(script));
        assert!(page.contains(&format!("script-src 'sha256-{hash}'")), "{hash}");
        assert_eq!(page.matches("</script").count(), 1);
    }
}
