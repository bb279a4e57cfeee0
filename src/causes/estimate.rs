//! The joint estimate of a trial, end to end.

use super::balance::balances;
use super::carried::{carried, way_wear_precision};
use super::design::{Design, design_of};
use super::evidence::evidence;
use super::extent::{MOST_PLACES, fitted, not_estimated, passes_together, taken_together, too_many};
use super::hyper::Values;
use super::information::information;
use super::integrate::{HEAVY_TAIL, Integration, integrate};
use super::next_test::next_tests;
use super::posterior::{Posterior, posterior, summary};
use super::predictive::predictions;
use super::sprung::sprung_passes;
use super::values::{Balance, CauseEstimate, CauseKind, Confounded, LogEvidence, NextTest, Prediction, Verdict};
use super::verdict::{estimates, prior_bounds_um, threshold_um};
use crate::shape::THERMOMETER_HALF_WIDTH_K;
use crate::trial::Trial;
use nalgebra::DVector;

/// What the joint estimate found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CausesOutcome {
    /// All seven causes of each setting with diameters, in the contract's order.
    pub causes: Vec<CauseEstimate>,
    /// Groups that are known only together.
    pub confounded: Vec<Confounded>,
    /// What adds up to what.
    pub balance: Vec<Balance>,
    /// Tests that would settle more.
    pub next_tests: Vec<NextTest>,
    /// The posterior; `None` when nothing could be estimated.
    pub posterior: Option<Posterior>,
    /// Whether the model reproduces each log.
    pub fits: Vec<Prediction>,
    /// What each log brought.
    pub evidence: Vec<LogEvidence>,
    /// Sentences for the top of the page.
    pub warnings: Vec<String>,
}

/// Estimates the causes of `trial` from all its logs together (one joint posterior over yaw, twist, wear, deflection, worn ways, offset and
/// drift).
///
/// Linear unknowns are integrated exactly, the others by importance sampling; every subset of causes is weighed by its marginal likelihood.
/// Repeated readings enter by their number, mean and scatter, which is all that they tell.
/// Of more than [`MOST_PLACES`] stations of passes neighbouring ones are taken together in equal stretches ([`Diameters::joined`](crate::trial::Diameters::joined)),
/// and a warning says so; where the passes alone are too many, so are passes cut alike, and where those are unlike, every cause is not settled and a warning says why.
/// The same trial and seed give the same result on any number of threads. Without two distinct stations in any setting everything is empty and a warning says
/// why.
#[must_use]
pub fn estimate_causes(trial: &Trial, seed: u64) -> CausesOutcome {
    estimate_of_places(trial, seed, MOST_PLACES)
}

/// How unlike the temperatures of the bar's ends may be in a log whose readings are joined, K.
///
/// Joined readings lose the temperatures that they were brought to 20 °C by, and with them how well they are known: where all used readings of the log
/// have one it is no more than the thermometer's half-width.
fn spread_of_joined_k(logged: &Trial) -> f64 {
    let readings = &logged.diameters;
    let spread_k = logged.conditions.temperature_spread_c.abs();
    let known = (0..readings.len()).filter(|row| readings.is_used(*row)).all(|row| readings.temperature_c(row).is_some());
    if known { spread_k.min(THERMOMETER_HALF_WIDTH_K) } else { spread_k }
}

/// As [`estimate_causes`], of `most` places at most.
pub(super) fn estimate_of_places(trial: &Trial, seed: u64, most: usize) -> CausesOutcome {
    let logged = trial;
    let Some(fitted) = fitted(&logged.diameters, most) else { return not_estimated(trial, most) };
    let (joined, stretch_mm, together) = (fitted.joined, fitted.stretch_mm, fitted.together);
    let mut trial = trial.with_diameters(fitted.diameters);
    if joined {
        trial.conditions.temperature_spread_c = spread_of_joined_k(logged);
    }
    let trial = &trial;
    let Some(design) = design_of(trial, together) else {
        let warnings = vec!["No setting has diameters at two stations: nothing can be said about causes.".to_string()];
        return CausesOutcome { warnings, ..CausesOutcome::default() };
    };
    if together > 1 && too_many(&design, most) {
        return not_estimated(logged, most);
    }
    let integration = integrate(&design.model, seed);
    let mut posterior = posterior(&design, &integration, seed);
    let centre = centre(&design, &integration);
    posterior.carried = carried(trial, &design, &centre);
    let mut information = information(&design, &centre, trial.prior.force_factor, |_| true);
    let mut warnings = design.warnings.clone();
    warnings.extend(stretch_mm.map(|width_mm| taken_together(width_mm, most)));
    warnings.extend((together > 1).then(|| passes_together(together, most)));
    warnings.extend(design.refused.iter().map(|(log, why)| format!("{}: {why}.", log.name())));
    if let Some(k) = posterior.pareto_k.filter(|k| *k >= HEAVY_TAIL) {
        warnings.push(format!(
            "The integration over roll arm, force, noise and spread is less sure than it should be (Pareto shape {k:.2}, wanted below 0.7)."
        ));
    }
    warnings.extend(sprung_passes(trial, &design, &posterior));
    let mains: Vec<u32> = design.references.iter().filter(|r| r.main).map(|r| r.setting).collect();
    let bounds: Vec<(u32, Vec<(CauseKind, f64)>)> = mains.iter().map(|s| (*s, prior_bounds_um(&design, *s, seed))).collect();
    information.keep_priors(&design, |cause| {
        bounds.iter().all(|(s, own)| own.iter().any(|(c, bound)| *c == cause && *bound < threshold_um(trial, &design, *s)))
    });
    information.keep_way_wear(&design, way_wear_precision(&trial.prior));
    let mut causes = Vec::new();
    let mut confounded = Vec::new();
    for (setting, bounds) in &bounds {
        let setting = *setting;
        let own = estimates(trial, &design, &integration, &posterior, &information, setting, bounds);
        let applicable: Vec<CauseKind> = own.iter().filter(|c| c.verdict == Verdict::NotSettled).map(|c| c.cause).collect();
        for group in information.groups(&design, setting, &applicable) {
            let sums: Vec<f64> = (0..posterior.len())
                .map(|i| {
                    group.iter().filter_map(|c| posterior.contributions.get(&(setting, *c)).and_then(|d| d.end_difference_um.get(i))).sum()
                })
                .collect();
            if let Some(sum_um) = summary(&sums) {
                confounded.push(Confounded { setting, causes: group, sum_um });
            }
        }
        causes.extend(own);
    }
    let (next_tests, (balance, fits, evidence)) = rayon::join(
        || next_tests(trial, &design, &posterior, &causes, seed),
        || {
            (
                balances(trial, &design, &posterior),
                predictions((!joined && together == 1).then_some(&logged.diameters), stretch_mm, &design, &posterior),
                evidence(trial, &design, &centre),
            )
        },
    );
    CausesOutcome { causes, confounded, balance, next_tests, fits, evidence, posterior: Some(posterior), warnings }
}

/// What is integrated numerically at the posterior mean of its deviates.
fn centre(design: &Design, integration: &Integration) -> Values {
    let mut mean = DVector::zeros(design.model.hypers.len());
    for point in &integration.points {
        let share: f64 = point.shares().sum();
        mean += &point.x * share;
    }
    design.model.hypers.values(mean.as_slice())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::fixture;
    use crate::trial::{DiameterReading, Holding};

    /// A thermometer at every reading that is used tells the temperatures better than the room's 2 K; at some of them it does not.
    #[test]
    fn temperatures_of_joined_readings_are_remembered() {
        let trial = fixture::everything(Holding::Chuck);
        let spread_k = |measured: &dyn Fn(usize) -> bool, excluded: &dyn Fn(usize) -> bool| {
            let reading = |(row, reading): (usize, DiameterReading)| DiameterReading {
                temperature_c: measured(row).then_some(21.0),
                excluded: excluded(row).then(|| "chip".into()),
                ..reading
            };
            spread_of_joined_k(&Trial { diameters: trial.diameters.iter().enumerate().map(reading).collect(), ..trial.clone() })
        };
        assert_eq!(spread_k(&|_| true, &|_| false), THERMOMETER_HALF_WIDTH_K);
        assert_eq!(spread_k(&|row| row != 2, &|row| row == 2), THERMOMETER_HALF_WIDTH_K);
        assert_eq!(spread_k(&|row| row != 2, &|row| row == 3), 2.0);
        assert_eq!(spread_k(&|_| false, &|_| false), 2.0);
    }
}
