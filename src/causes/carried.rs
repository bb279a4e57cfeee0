//! Which quantities the readings of a setting carry by themselves, so that no prior decides of them.

use super::design::Design;
use super::hyper::Values;
use super::information::{Information, information};
use super::unknowns::NEGLIGIBLE;
use super::values::CauseKind;
use crate::trial::{Prior, Trial};
use nalgebra::DVector;
use std::collections::BTreeSet;

/// Settings whose own readings carry a quantity of the joint estimate.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Carried {
    /// Yaw and twist together, `ψ + hτ/1000`: how the spindle lies to the carriage.
    pub parallelism: BTreeSet<u32>,
    /// The tailstock's offset.
    pub offset: BTreeSet<u32>,
}

/// The rule of verdicts, for the quantities that limits bind: the standard error from the setting's own readings, the priors of all causes taken away, is at
/// most half of the quantity's prior standard deviation, here that of the mixture of negligible and full part: a presence that is stated to be next to
/// nothing narrows a prior as well.
///
/// Worn ways alone keep a prior, the default's width whatever the settings state (see [`Information::keep_way_wear`]).
///
/// What other settings saw comes over a move only through what is believed of the move, so it does not count; nor does a cause that is too small to
/// matter by its prior keep that prior here, because the prior is the settings' own.
pub(super) fn carried(trial: &Trial, design: &Design, centre: &Values) -> Carried {
    let mut carried = Carried::default();
    let share = share_of_full(design.model.presence);
    for setting in design.references.iter().filter(|reference| reference.main).map(|reference| reference.setting) {
        let mut own = information(design, centre, trial.prior.force_factor, |block| {
            design.logged.get(block).is_some_and(|logged| logged.setting == setting)
        });
        own.keep_way_wear(design, way_wear_precision(&trial.prior));
        if own.carries(&parallelism(&own, design, setting, centre.roll_arm), share) {
            carried.parallelism.insert(setting);
        }
        if own.carries(&own.functional(design, CauseKind::TailstockOffset, setting), share) {
            carried.offset.insert(setting);
        }
    }
    carried
}

/// Variance of a cause's mixture of negligible and full part, as a share of the full part's: `p + (1 − p)·0.05²` with presence `p`.
pub(super) fn share_of_full(presence: f64) -> f64 {
    presence + (1.0 - presence) * NEGLIGIBLE * NEGLIGIBLE
}

/// Precision of the default prior of worn ways, where that of `prior` has precision 1.
pub(super) fn way_wear_precision(prior: &Prior) -> f64 {
    (prior.way_wear_um / Prior::default().way_wear_um).powi(2)
}

/// `ψ + hτ/1000` in mm/m as a functional of the rows of `own`, in prior standard deviations.
pub(super) fn parallelism(own: &Information, design: &Design, setting: u32, roll_arm_mm: f64) -> DVector<f64> {
    let of = |cause: CauseKind| own.functional(design, cause, setting);
    of(CauseKind::HeadstockYaw) + of(CauseKind::BedTwist) * (roll_arm_mm / 1000.0)
}
