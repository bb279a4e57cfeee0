//! What each log brought: how sure each contribution would be without it.

use super::design::{Design, Log, LoggedRows};
use super::hyper::Values;
use super::information::{Information, information};
use super::values::{CauseKind, Learned, LogEvidence};
use crate::trial::Trial;

/// A log teaches something of a cause when it narrows it to at most this share.
const NARROWED: f64 = 0.9;

/// One entry for each log of the trial, in the contract's order.
pub(super) fn evidence(trial: &Trial, design: &Design, centre: &Values) -> Vec<LogEvidence> {
    let whole = information(design, centre, trial.prior.force_factor, |_| true);
    let counts = [
        (Log::Diameters, trial.diameters.len()),
        (Log::Levels, trial.levels.len()),
        (Log::Indicator, trial.indicator.len()),
        (Log::Clamp, trial.clamp.len()),
        (Log::Moves, trial.moves.len()),
    ];
    let mut list = Vec::new();
    for (log, _) in counts.into_iter().filter(|(_, n)| *n > 0) {
        let readings = |l: &LoggedRows| l.rows.readings.len() + l.rows.repeats.iter().map(|(_, more, _)| *more as usize).sum::<usize>();
        let used: usize = design.logged.iter().filter(|l| l.log == log).map(readings).sum();
        let mut learned = Vec::new();
        if used > 0 {
            let without = information(design, centre, trial.prior.force_factor, |b| design.logged[b].log != log);
            for reference in design.references.iter().filter(|r| r.main) {
                for cause in CauseKind::ALL {
                    let functional = whole.contribution(design, reference, cause, centre);
                    let uncertainty =
                        |i: &Information| i.covariance().map(|c| functional.dot(&(c * &functional)).max(0.0).sqrt()).unwrap_or(f64::NAN);
                    let (without_um, with_um) = (uncertainty(&without), uncertainty(&whole));
                    if with_um < NARROWED * without_um {
                        learned.push(Learned { setting: reference.setting, cause, without_um, with_um });
                    }
                }
            }
        }
        list.push(LogEvidence {
            log: log.name(),
            readings: if log == Log::Moves { design.chains.moves_used } else { used },
            refused: design.refused.iter().filter(|(l, _)| *l == log).map(|(_, why)| why.clone()).collect(),
            learned,
        });
    }
    list
}
