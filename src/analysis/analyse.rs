use super::steep_taper::allow_steep_taper;
use super::{Analysis, Options};
use crate::causes::{CauseKind, Prediction, Verdict, estimate_causes, vertical_misalignment};
use crate::conformity::{Joint, judge};
use crate::correction::{Beside, Contradiction, advise, contradiction_findings, contradictions, take_back, undecided};
use crate::findings::{Finding, SETTINGS_NOT_READ};
use crate::quantities::sentence_case;
use crate::shape::{Shape, TestedLength, fit_shapes};
use crate::trial::Trial;

/// Everything that can be said of `trial`: shapes, causes and what follows from them.
///
/// Deterministic in trial and options. Findings of the inputs come first, those of the analysis after them.
#[must_use]
pub fn analyse(mut trial: Trial, options: Options) -> Analysis {
    let (steep, steep_warning) = allow_steep_taper(&mut trial, options.seed).unzip();
    let (outcome, mut why) =
        rayon::join(|| fit_shapes(&trial, options.seed, options.monte_carlo_draws), || estimate_causes(&trial, options.seed));
    for input in &mut trial.inputs {
        input.flagged = outcome.shapes.iter().flat_map(|s| &s.outliers).filter(|o| o.file == input.file).count() as u64;
    }
    let mut findings = trial.findings.clone();
    findings.extend(steep);
    findings.extend(outcome.findings);
    let vertical = vertical_misalignment(&trial);
    let contradictions = contradictions(&outcome.shapes, &why);
    let undecided = undecided(&trial, &contradictions);
    let worn: Vec<u32> =
        why.causes.iter().filter(|c| c.cause == CauseKind::WayWear && c.verdict == Verdict::Present).map(|c| c.setting).collect();
    let joint = Joint { posterior: why.posterior.as_ref(), undecided: undecided.as_deref(), worn: &worn };
    let conformity = judge(&trial, &outcome.shapes, joint, &vertical.settings, options.seed);
    if let Some(undecided) = &undecided {
        take_back(&mut why.causes, undecided);
    }
    findings.extend(contradiction_findings(&trial, &contradictions));
    let correction = advise(&trial, &outcome.shapes, &why, &Beside { judged: &conformity, contradictions: &contradictions });
    let predictions = why.fits.into_iter().map(|fit| not_reproduced(fit, &contradictions)).collect();
    let not_read = |finding: &&Finding| finding.code == SETTINGS_NOT_READ;
    let beside = trial.findings.iter().filter(not_read).map(|finding| format!("{}: {}.", finding.found, finding.help));
    let mut warnings: Vec<String> = beside.map(|warning| sentence_case(&warning)).collect();
    warnings.extend(steep_warning);
    warnings.extend(outcome.warnings);
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
        predictions,
        evidence: why.evidence,
        posterior: why.posterior,
        contradictions,
        correction,
        conformity,
        findings,
        warnings,
        trial,
    }
}

/// The same comparison of readings and joint model, which is not said to reproduce diameters whose taper it contradicts.
fn not_reproduced(fit: Prediction, contradictions: &[Contradiction]) -> Prediction {
    if contradictions.is_empty() || fit.log != "diameters" || fit.data_sheet <= 0.0 {
        return fit;
    }
    let times = fit.noise / fit.data_sheet;
    let interpretation = format!(
        "The joint model does not reproduce these readings: it follows each pass only by giving it a slope of its own, and the taper that they have in \
         common is not the one that the other logs and the causes allow. About those slopes they scatter {times:.2} times as much as the data sheet says."
    );
    Prediction { interpretation, ..fit }
}

/// The length that all settings tested: from the greatest first station to the least last one; `None` when nothing is left.
fn common_length(shapes: &[Shape]) -> Option<TestedLength> {
    let from = shapes.iter().map(|s| s.tested_length.from).reduce(f64::max)?;
    let to = shapes.iter().map(|s| s.tested_length.to).reduce(f64::min)?;
    (to > from).then_some(TestedLength { from, to, length: to - from })
}
