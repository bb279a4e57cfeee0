//! The result file: one JSON object, every key always present, lengths in millimetres.

use crate::analysis::Analysis;
use crate::causes::{Balance, CauseEstimate, Confounded, NextTest, VerticalMisalignment};
use crate::conformity::Judgement;
use crate::correction::Correction;
use crate::findings::Finding;
use crate::shape::{Shape, TestedLength};
use crate::trial::{Assumption, InputFile, Trial};
use serde::Serialize;

/// Name and version of the file's layout.
pub const SCHEMA: &str = "taperwright-result/1";

/// The layout of the result file, in its order.
#[derive(Serialize)]
struct ResultFile<'a> {
    schema: &'static str,
    program: Program,
    trial: &'a Trial,
    assumed: &'a [Assumption],
    inputs: &'a [InputFile],
    tested_length: Option<TestedLength>,
    shape: &'a [Shape],
    causes: &'a [CauseEstimate],
    confounded: &'a [Confounded],
    balance: &'a [Balance],
    vertical_misalignment: &'a [VerticalMisalignment],
    next_tests: &'a [NextTest],
    correction: Option<&'a Correction>,
    conformity: &'a [Judgement],
    findings: &'a [Finding],
    warnings: &'a [String],
}

#[derive(Serialize)]
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
