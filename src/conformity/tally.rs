use super::{Decision, Judgement};
use serde::Serialize;

/// How the limits of one setting were decided.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Tally {
    /// Limits that are proven to be kept.
    pub conforms: usize,
    /// Limits proven not to be kept.
    pub does_not_conform: usize,
    /// Limits of which neither is proven.
    pub not_proven: usize,
    /// Limits without meaning for the bar, which were not decided.
    pub not_applied: usize,
}

impl Tally {
    /// Counts the limits of `setting`.
    #[must_use]
    pub fn of(judged: &[Judgement], setting: u32) -> Self {
        let mut tally = Self::default();
        for judgement in judged.iter().filter(|judgement| judgement.setting == setting) {
            *match judgement.decision {
                Some(Decision::Conforms) => &mut tally.conforms,
                Some(Decision::DoesNotConform) => &mut tally.does_not_conform,
                Some(Decision::NotProven) => &mut tally.not_proven,
                None => &mut tally.not_applied,
            } += 1;
        }
        tally
    }

    /// Limits in all.
    #[must_use]
    pub fn limits(&self) -> usize {
        self.decided() + self.not_applied
    }

    /// Limits with a decision.
    #[must_use]
    pub fn decided(&self) -> usize {
        self.conforms + self.does_not_conform + self.not_proven
    }

    /// The worst decision: one limit that is not kept outweighs all others, one that is not proven all that are; `None` without any decision.
    ///
    /// ```
    /// # use taperwright::conformity::{Decision, Tally};
    /// let tally = Tally { conforms: 3, not_proven: 1, ..Tally::default() };
    /// assert_eq!(tally.worst(), Some(Decision::NotProven));
    /// assert_eq!(Tally { not_applied: 2, ..Tally::default() }.worst(), None);
    /// ```
    #[must_use]
    pub fn worst(&self) -> Option<Decision> {
        match self {
            Self { does_not_conform: 1.., .. } => Some(Decision::DoesNotConform),
            Self { not_proven: 1.., .. } => Some(Decision::NotProven),
            Self { conforms: 1.., .. } => Some(Decision::Conforms),
            _ => None,
        }
    }
}
