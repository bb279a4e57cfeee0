//! Outliers: generalised extreme studentised deviates, and Grubbs' test.

mod foremost;
mod grubbs;
mod left_out;
mod search;

pub use grubbs::{Grubbs, grubbs, rosner_from_studentised};

use super::distributions::{t_two_sided_p, t_upper_quantile};
use super::repeated::{Atoms, RunFit, RunRows};
use search::Search;

/// One step of the generalised ESD procedure: the most extreme reading of those left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EsdStep {
    /// Place of the reading in the order of the rows.
    pub index: usize,
    /// Its run.
    pub run: usize,
    /// Its block.
    pub block: usize,
    /// Its externally studentised residual among the readings left; infinite where all others fit exactly and it does not.
    pub studentised: f64,
    /// What its size must exceed.
    pub critical: f64,
    /// Two-sided tail probability times the number of readings left, at most 1.
    pub p: f64,
}

/// Outcome of the generalised ESD procedure.
#[derive(Debug, Clone)]
pub struct Esd {
    /// Every step made, in order.
    pub steps: Vec<EsdStep>,
    /// How many of the first steps are outliers.
    pub outliers: usize,
    /// Distance of each outlier from the curve through all that are none.
    pub deviations: Vec<Option<f64>>,
}

impl Esd {
    /// The flagged steps.
    #[must_use]
    pub fn flagged(&self) -> &[EsdStep] {
        self.steps.get(..self.outliers).unwrap_or(&[])
    }
}

/// Generalised ESD on the externally studentised residuals of a regression of `values` (n, in the order of `rows`); `fit` is least squares of all of them.
///
/// Rosner (1983): remove the most extreme reading `most` times, refitting each time; the outliers are all up to the **last** step whose statistic
/// exceeds its critical value, so that one outlier cannot hide behind another. Rosner's `Rᵢ > λᵢ` on a sample is, exactly,
/// `|t| > t(1 − α/(2m), m − 2)` with `t` externally studentised and `m` readings left; with p terms the degrees of freedom are `m − p − 1`.
/// Within a run `|t|` grows with the distance from the curve, so that only the ends of each run are looked at; of equal readings the first counts.
/// Stops early where no reading left can be judged (leverage 1, or all fit exactly).
///
/// What a reading taken out does to the fit follows from the fit with it, so that the rows are gone over again only where digits would be lost or a
/// reading elsewhere could have become the most extreme (`outliers/left_out.rs`).
#[must_use]
pub fn generalised_esd(rows: &impl RunRows, values: &[f64], atoms: &Atoms, fit: &RunFit, most: usize, alpha: f64) -> Esd {
    let mut esd = Esd { steps: Vec::new(), outliers: 0, deviations: Vec::new() };
    let mut search = Search::new(rows, values, atoms, fit);
    while esd.steps.len() < most {
        let Some(extreme) = search.most_extreme() else { break };
        let (count, dof) = (search.readings(), search.dof() - 1.0);
        let Some(critical) = t_upper_quantile(alpha / (2.0 * count), dof) else { break };
        let t = extreme.t;
        let p = if t.is_infinite() { 0.0 } else { t_two_sided_p(t, dof).map_or(1.0, |p| (p * count).min(1.0)) };
        esd.steps.push(EsdStep { index: extreme.index, run: extreme.run, block: extreme.block, studentised: t, critical, p });
        if t.abs() > critical {
            esd.outliers = esd.steps.len();
        }
        search.take(&extreme);
    }
    esd.deviations = search.distances(esd.outliers);
    esd
}
