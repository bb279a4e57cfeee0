//! Whether all logs together contradict the taper that the diameters show.

use super::response::taper_weights;
use super::words::{larger_end, listed, mm};
use crate::causes::{CauseEstimate, CauseKind, CausesOutcome, Verdict, summary};
use crate::findings::{Finding, Severity};
use crate::quantities::Interval;
use crate::shape::Shape;
use crate::trial::{Direction, Trial};

/// Expanded uncertainties, of 95 % each, beyond which a difference is no chance: about three standard uncertainties, since every setting and direction is asked.
const BEYOND_CHANCE: f64 = 1.5;

/// The taper of one setting and direction, as its passes show it and as the joint estimate has it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contradiction {
    /// State of the feet.
    pub setting: u32,
    /// Direction of cut.
    pub direction: Direction,
    /// Taper that the passes show, mm over the tested length.
    pub measured_mm: f64,
    /// Its expanded uncertainty at 95 %, mm.
    pub expanded_mm: f64,
    /// Root mean square of the expanded uncertainties of all settings and directions, mm.
    pub usual_mm: f64,
    /// Posterior mean of the taper that all causes make together, mm over the same length.
    pub joint_mm: f64,
    /// Its 95 % interval, mm.
    pub joint_interval95_mm: Interval,
    /// What is large enough to matter in this setting, mm.
    pub threshold_mm: f64,
}

impl Contradiction {
    /// Whether the two tapers are further apart than chance and shrinkage make them: `|measured − joint| > 1.5·max(U₉₅, usual) + threshold`.
    ///
    /// `U₉₅` is the measured taper's own expanded uncertainty (half of its interval), of these passes; the usual one of the trial counts where it is
    /// larger, as the passes of one setting may lie close together by chance. The spread that the joint estimate allows
    /// between passes is left out on purpose: it grows with the conflict and would excuse any. The threshold leaves room for
    /// what priors take off a taper known from few readings. A taper inside the interval of what all causes make together contradicts nothing: that is of
    /// the causes alone, and wide where the logs leave it open. False where a number is not finite.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.apart_mm() > BEYOND_CHANCE * self.expanded_mm.max(self.usual_mm) + self.threshold_mm
            && !self.joint_interval95_mm.contains(self.measured_mm)
    }

    /// How far the two are apart, mm.
    #[must_use]
    pub fn apart_mm(&self) -> f64 {
        (self.measured_mm - self.joint_mm).abs()
    }
}

/// The settings and directions of `shapes` in which the joint estimate contradicts the measured taper, in their order; none without an estimate.
#[must_use]
pub fn contradictions(shapes: &[Shape], outcome: &CausesOutcome) -> Vec<Contradiction> {
    let Some(posterior) = outcome.posterior.as_ref().filter(|p| !p.is_empty()) else { return Vec::new() };
    let halves: Vec<f64> =
        shapes.iter().flat_map(|s| &s.by_direction).map(|each| each.interval95.half_width()).filter(|half| half.is_finite()).collect();
    let usual_mm = (halves.iter().map(|half| half * half).sum::<f64>() / halves.len().max(1) as f64).sqrt();
    let of = |shape: &Shape| {
        let setting = shape.setting;
        let threshold_um = outcome.causes.iter().filter(|c| c.setting == setting).find_map(|c| c.material_threshold_um);
        let pairs = shape.by_direction.iter().filter_map(move |each| {
            let (stations, _) = posterior.cause_curve_mm(setting, each.direction, CauseKind::BedTwist, 0)?;
            let weights = taper_weights(stations)?;
            let mut joint = vec![0.0; posterior.len()];
            for cause in CauseKind::ALL {
                let tapers = posterior.weighted_cause_mm(setting, each.direction, cause, &weights)?;
                joint.iter_mut().zip(&tapers).for_each(|(sum, taper)| *sum += taper);
            }
            let joint = summary(&joint)?;
            Some(Contradiction {
                setting,
                direction: each.direction,
                measured_mm: each.value,
                expanded_mm: each.interval95.half_width(),
                usual_mm,
                joint_mm: joint.estimate,
                joint_interval95_mm: joint.interval95,
                threshold_mm: threshold_um? / 1000.0,
            })
        });
        pairs.filter(Contradiction::holds).collect::<Vec<_>>()
    };
    shapes.iter().flat_map(of).collect()
}

/// The logs beside the diameters that the joint estimate rests on, as sentences name them.
fn other_logs(trial: &Trial) -> Vec<&'static str> {
    let logs = [
        ("level readings", trial.levels.is_empty()),
        ("indicator readings", trial.indicator.is_empty()),
        ("clamp readings", trial.clamp.is_empty()),
        ("moves", trial.moves.is_empty()),
    ];
    logs.into_iter().filter(|(_, empty)| !empty).map(|(log, _)| log).collect()
}

/// Who contradicts whom, as the beginning of a sentence without its stop.
#[must_use]
pub fn who_contradicts(trial: &Trial) -> &'static str {
    if other_logs(trial).is_empty() {
        "The diameters contradict what the causes can make of this bar"
    } else {
        "The logs contradict each other"
    }
}

/// Why nothing that rests on all logs together is decided where `contradictions` has any; a clause.
#[must_use]
pub fn undecided(trial: &Trial, contradictions: &[Contradiction]) -> Option<String> {
    let first = contradictions.first()?;
    let mut who = who_contradicts(trial).to_owned();
    if let Some(letter) = who.get_mut(..1) {
        letter.make_ascii_lowercase();
    }
    Some(format!("{who} in setting {}, and nothing that they say together is relied on", first.setting))
}

/// Takes back each verdict that rests on figures, in every setting: all of them come from one estimate. What is ruled out without figures stays.
pub fn take_back(causes: &mut [CauseEstimate], why: &str) {
    let settled = |cause: &&mut CauseEstimate| matches!(cause.verdict, Verdict::Present | Verdict::Absent) && cause.peak_um.is_some();
    for cause in causes.iter_mut().filter(settled) {
        cause.verdict = Verdict::NotSettled;
        cause.reason = why.into();
    }
}

/// What to look at first where `trial` contradicts itself: a sentence.
#[must_use]
pub fn check_first(trial: &Trial) -> String {
    let logs = other_logs(trial);
    if logs.is_empty() {
        return "Check first stations and diameters, their units and setting numbers, and bar, tool and priors in trial.toml.".to_owned();
    }
    format!("Check first sign and unit of {}, then stations and setting numbers in all logs.", listed(&logs, "and"))
}

/// One warning for each setting and direction that contradicts itself.
#[must_use]
pub fn contradiction_findings(trial: &Trial, contradictions: &[Contradiction]) -> Vec<Finding> {
    let one = |each: &Contradiction| {
        let way = match each.direction {
            Direction::ToHeadstock => "to the headstock",
            Direction::ToTailstock => "to the tailstock",
        };
        let found = format!(
            "{} in setting {}: passes cut {way} show a taper of {} {}, give or take {}; all logs together make it {} {}. The two are {} apart.",
            who_contradicts(trial),
            each.setting,
            mm(each.measured_mm),
            larger_end(each.measured_mm),
            mm(each.expanded_mm),
            mm(each.joint_mm),
            larger_end(each.joint_mm),
            mm(each.apart_mm())
        );
        Finding::new("logs-contradict", Severity::Warning, found, format!("{} Nothing is advised until they agree.", check_first(trial)))
    };
    contradictions.iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn apart_by_more_than_chance_and_what_matters() {
        let of = |measured_mm: f64, joint_mm: f64, expanded_mm: f64| Contradiction {
            setting: 0,
            direction: Direction::ToHeadstock,
            measured_mm,
            expanded_mm,
            usual_mm: 0.001,
            joint_mm,
            joint_interval95_mm: Interval { low: joint_mm - 0.004, high: joint_mm + 0.004 },
            threshold_mm: 0.003,
        };
        assert!(of(0.029, -0.020, 0.002).holds(), "of opposite sign");
        assert!(of(0.033, 0.003, 0.003).holds(), "of one sign, a tenth of the size");
        assert!(!of(0.029, 0.0235, 0.002).holds() && of(0.029, 0.0225, 0.002).holds(), "1.5 times 2 µm and 3 µm are the bound");
        assert!(
            !of(0.029, -0.020, 0.050).holds() && !of(0.029, -0.020, f64::INFINITY).holds(),
            "passes that say nothing contradict nothing"
        );
        assert!(!of(f64::NAN, 0.0, 0.001).holds());
        let wide = |half_mm: f64| Contradiction {
            joint_interval95_mm: Interval { low: -0.020 - half_mm, high: -0.020 + half_mm },
            ..of(0.029, -0.020, 0.002)
        };
        assert!(wide(0.048).holds() && !wide(0.050).holds(), "what all causes make may be as much as was measured");
        let close = Contradiction { usual_mm: 0.006, ..of(0.029, 0.0165, 0.002) };
        assert!(of(0.029, 0.0165, 0.002).holds() && close.holds(), "12.5 µm beside 3 and 1.5 times 6");
        assert!(!Contradiction { usual_mm: 0.007, ..close }.holds(), "passes close together by chance");
    }
}
