use crate::trial::{Limit, Quantity, Trial};

/// Share of the limit that the expanded uncertainty may take (common practice, no source).
pub const SHARE_OF_LIMIT: f64 = 0.25;

/// The uncertainty that is wanted, and the limit that it is wanted for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Target {
    /// Wanted expanded uncertainty of the taper over the tested length, mm; `None` when neither a limit nor a wish is stated.
    pub expanded_mm: Option<f64>,
    /// Whether `[plan] target_expanded_mm` states it.
    pub stated: bool,
    /// The tightest taper limit, brought to the tested length, mm.
    pub limit_mm: Option<f64>,
}

impl Target {
    /// What `trial` wants of a taper over `tested_length_mm`.
    #[must_use]
    pub fn of(trial: &Trial, tested_length_mm: f64) -> Self {
        let limit_mm = trial
            .acceptance
            .limit
            .iter()
            .filter(|limit| limit.quantity == Quantity::Taper)
            .map(|limit| scaled(limit, tested_length_mm))
            .reduce(f64::min);
        let wish = trial.plan.as_ref().and_then(|plan| plan.target_expanded_mm);
        Self { expanded_mm: wish.or(limit_mm.map(|limit| SHARE_OF_LIMIT * limit)), stated: wish.is_some(), limit_mm }
    }

    /// Whether an expanded uncertainty is small enough; `None` when nothing is wanted.
    #[must_use]
    pub fn met_by(&self, expanded_mm: f64) -> Option<bool> {
        self.expanded_mm.map(|wanted| expanded_mm <= wanted)
    }
}

/// A limit over its own length, brought to `length_mm` in proportion, but never below its floor.
fn scaled(limit: &Limit, length_mm: f64) -> f64 {
    let share = limit.over_mm.filter(|over| *over > 0.0).map_or(1.0, |over| length_mm / over);
    (limit.limit_mm * share).max(limit.floor_mm)
}
