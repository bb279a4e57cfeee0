//! What readings that are laid out, but not yet taken, would tell of each cause.

use super::carried::way_wear_precision;
use super::design::design;
use super::information::information;
use super::values::CauseKind;
use super::verdict::ruled_out;
use crate::trial::Trial;

/// What a laid-out trial would tell of one cause.
#[derive(Debug, Clone, PartialEq)]
pub struct Foreseen {
    /// The cause.
    pub cause: CauseKind,
    /// Standard uncertainty of its contribution over the tested length before any reading, µm of diameter.
    pub before_um: f64,
    /// The same with the readings, µm.
    pub after_um: f64,
    /// Whether the readings would tell it from the other causes: they would give it evidence of its own (see the verdicts).
    pub separate: bool,
    /// Causes that would be known only together with it.
    pub only_with: Vec<CauseKind>,
}

/// What the readings of `trial` would tell, whatever they show: only where, how and with what they are taken counts.
///
/// The same equations as the joint estimate, with roll arm, force, noise and spread between passes at their prior medians; causes at their full
/// priors, wear as if it could be negative. For the last setting with diameters; causes that cannot act there are left out. Empty without two stations.
#[must_use]
pub fn foresee(trial: &Trial) -> Vec<Foreseen> {
    let Some(design) = design(trial) else { return Vec::new() };
    let medians = design.model.hypers.values(&vec![0.0; design.model.hypers.len()]);
    let mut information = information(&design, &medians, trial.prior.force_factor, |_| true);
    information.keep_way_wear(&design, way_wear_precision(&trial.prior));
    let (Some(reference), Some(covariance)) = (design.references.iter().rfind(|r| r.main), information.covariance()) else {
        return Vec::new();
    };
    let causes: Vec<CauseKind> = CauseKind::ALL.into_iter().filter(|cause| ruled_out(trial, &design, *cause).is_none()).collect();
    let groups = information.groups(&design, reference.setting, &causes);
    causes
        .iter()
        .map(|&cause| {
            let functional = information.contribution(&design, reference, cause, &medians);
            let group = groups.iter().find(|group| group.contains(&cause));
            Foreseen {
                cause,
                before_um: functional.norm(),
                after_um: functional.dot(&(&covariance * &functional)).max(0.0).sqrt(),
                separate: information.own_evidence(&design, cause, reference.setting),
                only_with: group.into_iter().flatten().copied().filter(|other| *other != cause).collect(),
            }
        })
        .collect()
}
