//! What the log cannot tell about the shape.

use crate::analysis::Analysis;
use crate::report::quantity::Pen;
use serde::Serialize;

/// What one setting's log cannot tell about the shape.
#[derive(Serialize)]
pub struct CannotTell {
    setting: u32,
    sentences: Vec<String>,
}

/// One entry a setting.
pub fn cannot_tell(analysis: &Analysis, pen: Pen) -> Vec<CannotTell> {
    analysis
        .shape
        .iter()
        .map(|shape| CannotTell {
            setting: shape.setting,
            sentences: shape.cannot_tell.iter().map(|sentence| pen.sentence(sentence)).collect(),
        })
        .collect()
}
