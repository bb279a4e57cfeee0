//! The result file: one JSON object, every key always present, lengths in millimetres.

use crate::analysis::Analysis;
use crate::causes::{Balance, CauseEstimate, Confounded, NextTest, VerticalMisalignment};
use crate::conformity::Judgement;
use crate::correction::Correction;
use crate::findings::Finding;
use crate::shape::{Shape, TestedLength};
use crate::trial::{Assumption, InputFile, Trial};
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::Serialize;
use serde_json::Value;

/// Name and version of the file's layout.
pub const SCHEMA: &str = "taperwright-result/1";

/// What was found of one trial. Every key is always there: what is unknown is null, what there is none of is []. Lengths are in mm, as changes
/// of diameter, unless the name says otherwise.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "Result file of a turning test")]
struct ResultFile<'a> {
    /// Name and version of the layout.
    #[schemars(extend("const" = SCHEMA))]
    schema: &'static str,
    /// What made the file.
    program: Program,
    /// The tables of trial.toml in mm, defaults filled in, the keys of [trial] at its top.
    trial: &'a Trial,
    /// What nobody stated, and what was taken instead.
    assumed: &'a [Assumption],
    /// Files that were read.
    inputs: &'a [InputFile],
    /// Stations common to all settings; null where there are none.
    tested_length: Option<TestedLength>,
    /// Taper and barrel, a row a setting of the feet.
    shape: &'a [Shape],
    /// Every cause in every setting.
    causes: &'a [CauseEstimate],
    /// Causes that the logs know only together.
    confounded: &'a [Confounded],
    /// What the contributions of the causes add up to.
    balance: &'a [Balance],
    /// How the spindle points up or down, where an indicator ran on top.
    vertical_misalignment: &'a [VerticalMisalignment],
    /// Tests that would settle more, the best for its time first.
    next_tests: &'a [NextTest],
    /// The next move; null where nothing can be said.
    correction: Option<&'a Correction>,
    /// Limits judged.
    conformity: &'a [Judgement],
    /// Warnings and notes on the inputs.
    findings: &'a [Finding],
    /// What to mind before reading on, each a sentence.
    warnings: &'a [String],
}

#[derive(Serialize, JsonSchema)]
struct Program {
    name: &'static str,
    version: &'static str,
}

impl<'a> ResultFile<'a> {
    fn of(analysis: &'a Analysis) -> Self {
        Self {
            schema: SCHEMA,
            program: Program { name: env!("CARGO_PKG_NAME"), version: env!("CARGO_PKG_VERSION") },
            trial: &analysis.trial,
            assumed: &analysis.trial.assumed,
            inputs: &analysis.trial.inputs,
            tested_length: analysis.tested_length,
            shape: &analysis.shape,
            causes: &analysis.causes,
            confounded: &analysis.confounded,
            balance: &analysis.balance,
            vertical_misalignment: &analysis.vertical_misalignment,
            next_tests: &analysis.next_tests,
            correction: analysis.correction.as_ref(),
            conformity: &analysis.conformity,
            findings: &analysis.findings,
            warnings: &analysis.warnings,
        }
    }
}

/// The result file of `analysis`: indented JSON with a line end after it.
///
/// Lengths in mm unless the key says otherwise. A number that is not finite is written `null`: JSON has no other way to say "unknown".
#[must_use]
pub fn result_json(analysis: &Analysis) -> String {
    let mut text = serde_json::to_string_pretty(&ResultFile::of(analysis)).unwrap_or_default();
    text.push('\n');
    text
}

/// The same object on one line, without a line end.
#[must_use]
pub fn result_json_line(analysis: &Analysis) -> String {
    serde_json::to_string(&ResultFile::of(analysis)).unwrap_or_default()
}

/// The JSON Schema of the result file (draft 2020-12), made of the very types that are written.
#[must_use]
pub fn result_schema() -> Value {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let mut schema = generator.into_root_schema_for::<ResultFile<'static>>().to_value();
    in_words_of_json(&mut schema);
    schema
}

/// Descriptions come from the types' documentation, which calls what is missing `None`.
fn in_words_of_json(schema: &mut Value) {
    match schema {
        Value::Object(object) => object.iter_mut().for_each(|(key, value)| match value {
            Value::String(text) if key == "description" => *text = text.replace("`None`", "null").replace('\n', " "),
            other => in_words_of_json(other),
        }),
        Value::Array(items) => items.iter_mut().for_each(in_words_of_json),
        _ => {}
    }
}
