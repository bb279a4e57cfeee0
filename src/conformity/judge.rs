//! Every limit against every setting.

use super::bands::{TrueDiameters, adjacent_bands, consistency, judged_taper, true_diameters};
use super::heights::{parallelism as vertical, tailstock_height};
use super::measured::{Known, Measured};
use super::settle::{Shrinks, advice, uncertainty_needed};
use super::{Allowed, Decision, Judgement, Knowledge, Rule, alignment, levels, roundness};
use crate::causes::{Posterior, VerticalMisalignment};
use crate::quantities::sentence_case;
use crate::shape::Shape;
use crate::trial::{DecisionRule, Direction, Limit, Quantity, Sense, Trial};

/// What all logs say together, for the quantities that rest on it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Joint<'a> {
    /// Posterior of the causes.
    pub posterior: Option<&'a Posterior>,
    /// Why it decides nothing, as a clause, where the logs contradict each other.
    pub undecided: Option<&'a str>,
    /// Settings in which worn ways are present: the straight part of their wear counts as the tailstock's offset between centres.
    pub worn: &'a [u32],
}

impl<'a> From<&'a Posterior> for Joint<'a> {
    fn from(posterior: &'a Posterior) -> Self {
        Self { posterior: Some(posterior), ..Self::default() }
    }
}

/// Judges every limit of `trial` that applies to its machine in every setting that has a shape: settings in order, limits as listed.
///
/// `joint` is what the causes' estimate says and `rises` what indicators on top of test bars saw. Draws come from `seed`. A quantity that the logs do
/// not know is not proven, with the measurement that would tell.
#[must_use]
pub fn judge(trial: &Trial, shapes: &[Shape], joint: Joint<'_>, rises: &[VerticalMisalignment], seed: u64) -> Vec<Judgement> {
    let limits: Vec<&Limit> = trial.acceptance.limit.iter().filter(|limit| limit.applies_to(trial.machine.swing_mm)).collect();
    let needs_draws = |limit: &&&Limit| matches!(limit.quantity, Quantity::DiameterConsistency | Quantity::AdjacentBands);
    let rule = Rule::of(&trial.acceptance);
    let mut judged = Vec::new();
    for shape in shapes {
        let drawn = limits.iter().find(needs_draws).and_then(|_| true_diameters(trial, shape, seed));
        let joint = Joint { posterior: joint.posterior.filter(|p| !p.is_empty()), ..joint };
        let setting = Setting { trial, shape, joint, rises, drawn: drawn.as_ref(), seed };
        judged.extend(limits.iter().map(|limit| judgement(limit, shape.setting, setting.measured(limit), rule)));
    }
    judged
}

/// What is known of one setting.
struct Setting<'a> {
    trial: &'a Trial,
    shape: &'a Shape,
    joint: Joint<'a>,
    rises: &'a [VerticalMisalignment],
    drawn: Option<&'a TrueDiameters>,
    seed: u64,
}

impl Setting<'_> {
    fn measured(&self, limit: &Limit) -> Measured {
        let (trial, shape) = (self.trial, self.shape);
        match limit.quantity {
            Quantity::Taper => taper(shape),
            Quantity::Barrel => barrel(shape),
            Quantity::DiameterConsistency => consistency(self.drawn),
            Quantity::AdjacentBands => adjacent_bands(trial, self.drawn),
            Quantity::Roundness => roundness::roundness(trial, shape, self.seed),
            Quantity::SpindleParallelismHorizontal => {
                self.jointly(|posterior| alignment::parallelism(trial, shape, posterior, limit.over_mm, self.seed))
            }
            Quantity::SpindleParallelismVertical => vertical(shape, self.rises, limit.over_mm),
            Quantity::LevelVariation => levels::variation(trial, shape.setting, self.seed),
            Quantity::TailstockHeight => tailstock_height(shape.setting, self.rises),
            Quantity::TailstockOffset if self.joint.worn.contains(&shape.setting) => Measured::Unknown(
                "The ways are worn, and the straight part of that wear cannot be told from the tailstock's offset. Ways seen to, and the same test \
                 again, would tell."
                    .to_owned(),
            ),
            Quantity::TailstockOffset => self.jointly(|posterior| alignment::tailstock_offset(trial, shape, posterior, self.seed)),
        }
    }

    /// What rests on all logs together, where they let it be decided.
    fn jointly(&self, measured: impl Fn(Option<&Posterior>) -> Measured) -> Measured {
        match (measured(self.joint.posterior), self.joint.undecided) {
            (Measured::Known(_), Some(why)) => Measured::Unknown(format!("{}.", sentence_case(why))),
            (measured, _) => measured,
        }
    }
}

/// The taper as cut to the headstock, unless only passes the other way show one.
fn taper(shape: &Shape) -> Measured {
    let Some(row) = judged_taper(shape) else {
        return Measured::Unknown("No direction of cut shows a taper: two stations or more in one pass would.".to_owned());
    };
    let (u, stays) = (row.standard_uncertainty, shape.beside_the_fit().hypot(row.calibration).min(row.standard_uncertainty));
    let note = match row.direction {
        Direction::ToHeadstock => "As cut to the headstock, the usual way.",
        Direction::ToTailstock => "As cut to the tailstock: no pass the usual way shows a taper.",
    };
    let shrinks = Some(Shrinks {
        passes: row.passes,
        by_passes: (u * u - stays * stays).max(0.0).sqrt(),
        stays,
        from: stays_from(shape, row.calibration),
    });
    known(row.value, u, row.effective_dof, shape, shrinks, note)
}

/// What most of a taper's uncertainty comes from that passes do not make smaller, in words.
pub(super) fn stays_from(shape: &Shape, calibration_mm: f64) -> String {
    shape.largest_beside_the_fit(calibration_mm).join(", ")
}

fn barrel(shape: &Shape) -> Measured {
    match &shape.barrel {
        Some(barrel) => {
            let (u, error) = (barrel.standard_uncertainty, barrel.standard_error.min(barrel.standard_uncertainty));
            let shrinks = Some(Shrinks {
                passes: shape.passes_in_shape,
                by_passes: error,
                stays: (u * u - error * error).max(0.0).sqrt(),
                from: String::new(),
            });
            known(
                barrel.value,
                u,
                barrel.effective_dof,
                shape,
                shrinks,
                "Fitted diameter at mid-length against the chord between the ends.",
            )
        }
        None => Measured::Unknown("Two stations show no barrel: a third one between them would tell.".to_owned()),
    }
}

fn known(value: f64, u: f64, dof: Option<f64>, shape: &Shape, shrinks: Option<Shrinks>, note: &str) -> Measured {
    if !(value.is_finite() && u.is_finite() && u >= 0.0) {
        return Measured::Unknown("The readings give it no uncertainty: more stations or passes would.".to_owned());
    }
    let knowledge = Knowledge::Spread { value, standard_uncertainty: u, dof };
    Measured::Known(Known { knowledge, length_mm: Some(shape.tested_length.length), shrinks, note: note.to_owned() })
}

/// One limit against what is known.
fn judgement(limit: &Limit, setting: u32, measured: Measured, rule: Rule) -> Judgement {
    let open = Judgement::open(setting, limit, rule);
    let Known { knowledge, length_mm, shrinks, note } = match measured {
        Measured::Known(known) => known,
        Measured::Unknown(note) => return Judgement { note: note.into(), ..open },
        Measured::DoesNotApply(note) => return Judgement { note: note.into(), decision: None, ..open },
    };
    let allowed = Allowed::of(limit, length_mm);
    let probability = knowledge.probability_within(allowed.low, allowed.high);
    let decision = rule.decide(&knowledge, allowed);
    let mut judged = Judgement {
        value: Some(knowledge.value()),
        expanded_uncertainty: Some(knowledge.expanded_uncertainty()),
        standard_uncertainty: Some(knowledge.standard_uncertainty()),
        probability: Some(probability),
        decision: Some(decision),
        length: length_mm,
        floor: limit.floor_counts(length_mm).then_some(limit.floor_mm),
        allowed: Some(allowed),
        consumers_risk: (decision == Decision::Conforms).then_some(1.0 - probability),
        producers_risk: (decision == Decision::DoesNotConform).then_some(probability),
        note: note.into(),
        ..open
    };
    if wrong_way(limit, knowledge.value()) && !allowed.contains(knowledge.value()) {
        judged.note.push_str(" It deviates the way that is not allowed, by more than the floor.");
    }
    if rule.rule == DecisionRule::Simple && (0.05..=0.95).contains(&probability) {
        judged.note.push_str(" Simple acceptance: the value decides, though its uncertainty leaves the matter open.");
    }
    if decision == Decision::NotProven {
        if probability <= 1.0 - rule.asked {
            judged.note.push_str(
                " It is known too poorly for these limits: that little of its spread lies between them is no proof that one is broken.",
            );
        }
        let needed = uncertainty_needed(&knowledge, allowed, rule);
        let told = advice(needed, knowledge.standard_uncertainty(), limit.quantity.unit(), shrinks.as_ref());
        judged.note.push_str(" ");
        judged.note.push_str(&told);
        judged.uncertainty_needed = needed;
        judged.passes_needed = needed.and_then(|needed| shrinks?.passes_for(needed));
    }
    judged
}

/// Whether `value` lies on the side that a directional limit does not allow.
fn wrong_way(limit: &Limit, value: f64) -> bool {
    match limit.sense {
        Sense::Either => false,
        Sense::LargerAtHeadstock | Sense::Hourglass | Sense::TowardsTool | Sense::Downwards => value > 0.0,
        Sense::LargerAtTailstock | Sense::Barrel | Sense::AwayFromTool | Sense::Upwards => value < 0.0,
    }
}

/// Whether the latest setting is shown to conform: it has a limit that is judged, and every judged limit conforms.
///
/// A rule without meaning for the bar (no decision) neither helps nor hinders.
///
/// # Errors
/// A sentence that says why not.
pub fn shows_conformity(judged: &[Judgement]) -> Result<(), String> {
    let latest = judged.iter().map(|j| j.setting).max();
    let of_latest: Vec<&Judgement> = judged.iter().filter(|j| Some(j.setting) == latest && j.decision.is_some()).collect();
    if of_latest.is_empty() {
        return Err("no limit is judged, so conformity is not shown".to_owned());
    }
    let named = |decision: Decision| -> Vec<String> {
        of_latest.iter().filter(|j| j.decision == Some(decision)).map(|j| format!("{} ({})", j.quantity.name(), j.criterion)).collect()
    };
    let (failed, open) = (named(Decision::DoesNotConform), named(Decision::NotProven));
    let parts: Vec<String> = [("does not conform", failed), ("not proven", open)]
        .into_iter()
        .filter(|(_, names)| !names.is_empty())
        .map(|(word, names)| format!("{word}: {}", names.join(", ")))
        .collect();
    if parts.is_empty() { Ok(()) } else { Err(parts.join("; ")) }
}
