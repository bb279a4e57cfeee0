use super::Knowledge;
use super::settle::Shrinks;

/// What the logs say of one quantity in one setting.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Measured {
    /// Something.
    Known(Known),
    /// Nothing, and the measurement that would tell: a sentence.
    Unknown(String),
    /// The rule has no meaning here, and why: a sentence.
    DoesNotApply(String),
}

/// A quantity that the logs know.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Known {
    /// What is known.
    pub(super) knowledge: Knowledge,
    /// Length to which the value belongs, mm; `None` where it belongs to none.
    pub(super) length_mm: Option<f64>,
    /// How it shrinks with more passes, where it does.
    pub(super) shrinks: Option<Shrinks>,
    /// How it was got and what to mind: sentences.
    pub(super) note: String,
}
