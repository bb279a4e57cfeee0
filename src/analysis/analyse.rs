use super::{Analysis, Options};
use crate::causes::{estimate_causes, vertical_misalignment};
use crate::conformity::judge;
use crate::correction::advise;
use crate::shape::{Shape, TestedLength, fit_shapes};
use crate::trial::Trial;

/// Everything that can be said of `trial`: shapes, causes and what follows from them.
///
/// Deterministic in trial and options. Findings of the inputs come first, those of the analysis after them.
#[must_use]
pub fn analyse(mut trial: Trial, options: Options) -> Analysis {
    let (outcome, why) =
        rayon::join(|| fit_shapes(&trial, options.seed, options.monte_carlo_draws), || estimate_causes(&trial, options.seed));
    for input in &mut trial.inputs {
        input.flagged = outcome.shapes.iter().flat_map(|s| &s.outliers).filter(|o| o.file == input.file).count() as u64;
    }
    let mut findings = trial.findings.clone();
    findings.extend(outcome.findings);
    let vertical = vertical_misalignment(&trial);
    let correction = advise(&trial, &outcome.shapes, &why);
    let conformity = judge(&trial, &outcome.shapes, why.posterior.as_ref(), &vertical.settings, options.seed);
    let mut warnings = outcome.warnings;
    warnings.extend(why.warnings);
    warnings.extend(vertical.refused);
    Analysis {
        seed: options.seed,
        monte_carlo_draws: options.monte_carlo_draws,
        tested_length: common_length(&outcome.shapes),
        shape: outcome.shapes,
        causes: why.causes,
        confounded: why.confounded,
        balance: why.balance,
        vertical_misalignment: vertical.settings,
        next_tests: why.next_tests,
        predictions: why.fits,
        evidence: why.evidence,
        posterior: why.posterior,
        correction,
        conformity,
        findings,
        warnings,
        trial,
    }
}

/// The length that all settings tested: from the greatest first station to the least last one; `None` when nothing is left.
fn common_length(shapes: &[Shape]) -> Option<TestedLength> {
    let from = shapes.iter().map(|s| s.tested_length.from).reduce(f64::max)?;
    let to = shapes.iter().map(|s| s.tested_length.to).reduce(f64::min)?;
    (to > from).then_some(TestedLength { from, to, length: to - from })
}
