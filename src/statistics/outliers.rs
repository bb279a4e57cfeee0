//! Outliers: generalised extreme studentised deviates, and Grubbs' test.

use super::distributions::{t_two_sided_p, t_upper_quantile};
use super::influence::FITS_ITSELF;
use super::repeated::{Atoms, RunFit, RunRows, RunSums, over_parts, sums_of};
use super::summary::Summary;
use std::ops::Range;

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

/// Generalised ESD on the externally studentised residuals of a regression of `values` (n, in the order of `rows`).
///
/// Rosner (1983): remove the most extreme reading `most` times, refitting each time; the outliers are all up to the **last** step whose statistic
/// exceeds its critical value, so that one outlier cannot hide behind another. Rosner's `Rᵢ > λᵢ` on a sample is, exactly,
/// `|t| > t(1 − α/(2m), m − 2)` with `t` externally studentised and `m` readings left; with p terms the degrees of freedom are `m − p − 1`.
/// Within a run `|t|` grows with the distance from the curve, so that only the ends of each run are looked at; of equal readings the first counts.
/// Stops early where no reading left can be judged (leverage 1, or all fit exactly).
#[must_use]
pub fn generalised_esd(rows: &impl RunRows, values: &[f64], atoms: &Atoms, most: usize, alpha: f64) -> Esd {
    let all = RunSums::of_rows(rows, values);
    let mut left = Left { sums: all.apart(), taken: Vec::new() };
    let mut esd = Esd { steps: Vec::new(), outliers: 0, deviations: Vec::new() };
    while esd.steps.len() < most {
        let fit = left.fit(rows);
        let count = fit.readings as f64;
        let dof = fit.dof() - 1.0;
        let (Some(extreme), Some(critical)) = (left.extreme(rows, values, atoms, &fit), t_upper_quantile(alpha / (2.0 * count), dof))
        else {
            break;
        };
        let t = extreme.t;
        let p = if t.is_infinite() { 0.0 } else { t_two_sided_p(t, dof).map_or(1.0, |p| (p * count).min(1.0)) };
        esd.steps.push(EsdStep { index: extreme.index, run: extreme.run, block: extreme.block, studentised: t, critical, p });
        if t.abs() > critical {
            esd.outliers = esd.steps.len();
        }
        left.take(rows, values, extreme.run, extreme.index);
    }
    let mut others = Left { sums: all.apart(), taken: Vec::new() };
    esd.flagged().iter().for_each(|step| others.take(rows, values, step.run, step.index));
    if esd.outliers > 0 {
        let fit = others.fit(rows);
        let mut row = fit.basis.scratch();
        esd.deviations = esd
            .flagged()
            .iter()
            .map(|step| {
                // a reading is only taken out where the others still give the curve there
                let fitted = fit.fitted(rows, step.block, step.run, &mut row);
                values.get(step.index).map(|value| value - fitted)
            })
            .collect();
    }
    esd
}

/// The readings that are left, those taken out as `(run, place)`.
struct Left<'v> {
    sums: RunSums<'v>,
    taken: Vec<(usize, usize)>,
}

struct Extreme {
    index: usize,
    run: usize,
    block: usize,
    t: f64,
}

impl Left<'_> {
    fn count(&self, rows: &impl RunRows, run: usize) -> usize {
        rows.count(run) - self.taken.iter().filter(|(taken, _)| *taken == run).count()
    }

    fn fit(&self, rows: &impl RunRows) -> RunFit {
        let count = |run: usize| self.count(rows, run);
        RunFit::counted(rows, |run| rows.weight(run) * count(run) as f64, &self.sums, &count)
    }

    fn take(&mut self, rows: &impl RunRows, values: &[f64], run: usize, index: usize) {
        self.taken.push((run, index));
        let kept: Vec<f64> = rows
            .readings(run)
            .filter(|place| !self.taken.contains(&(run, *place)))
            .filter_map(|place| values.get(place))
            .copied()
            .collect();
        self.sums.set(run, sums_of(&kept));
    }

    /// The smallest and the largest reading left of a run.
    fn ends(&self, rows: &impl RunRows, values: &[f64], atoms: &Atoms, run: usize) -> [Option<f64>; 2] {
        if !self.taken.iter().any(|(taken, _)| *taken == run) {
            return atoms.ends_of(run);
        }
        let left = rows.readings(run).filter(|place| !self.taken.contains(&(run, *place)));
        let values = left.filter_map(|place| values.get(place)).copied();
        [values.clone().reduce(f64::min), values.reduce(f64::max)]
    }

    /// The reading with the largest externally studentised residual.
    fn extreme(&self, rows: &impl RunRows, values: &[f64], atoms: &Atoms, fit: &RunFit) -> Option<Extreme> {
        let dof = fit.dof();
        if dof <= 0.0 || fit.fits_exactly() {
            return None;
        }
        let rss = fit.residual_square;
        // largest first; where the others fit exactly the reading strays by more than any scatter
        let largest = |block: usize, runs: Range<usize>| {
            let mut room = fit.basis.scratch();
            let mut best: Option<(f64, usize, usize, f64)> = None;
            for run in runs {
                let fitted = fit.fitted(rows, block, run, &mut room);
                let rest = 1.0 - fit.leverage(rows, block, run, &mut room);
                if rest <= 1.0 - FITS_ITSELF {
                    continue;
                }
                let root = (rows.weight(run) / rest).sqrt();
                for value in self.ends(rows, values, atoms, run).into_iter().flatten() {
                    let standardised = root * (value - fitted);
                    let remaining = rss - standardised * standardised;
                    let t = if dof > 1.0 && remaining > rss * 1e-12 {
                        standardised / (remaining / (dof - 1.0)).sqrt()
                    } else if dof > 1.0 {
                        standardised.signum() * f64::INFINITY
                    } else {
                        continue;
                    };
                    if best.is_none_or(|(known, ..)| t.abs() > known.abs()) {
                        best = Some((t, block, run, value));
                    }
                }
            }
            best
        };
        let first_of_largest = |a: Option<(f64, usize, usize, f64)>, b: Option<(f64, usize, usize, f64)>| match (a, b) {
            (Some(known), Some(other)) if other.0.abs() > known.0.abs() => Some(other),
            (known, other) => known.or(other),
        };
        let best = over_parts(rows, largest, first_of_largest).flatten();
        let (t, block, run, value) = best?;
        let index = rows.readings(run).find(|place| values.get(*place) == Some(&value) && !self.taken.contains(&(run, *place)))?;
        Some(Extreme { index, run, block, t })
    }
}

/// Rosner's statistic `R = |x − x̄|/s` of a sample of `m` from the externally studentised deviate `t`.
///
/// `R = (m − 1)|t|/√(m(m − 2 + t²))`; the same map takes Rosner's `λ` from the critical value of `t`.
#[must_use]
pub fn rosner_from_studentised(t: f64, m: usize) -> f64 {
    let m = m as f64;
    (m - 1.0) * t.abs() / (m * (m - 2.0 + t * t)).sqrt()
}

/// Grubbs' test for one outlier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grubbs {
    /// Row of the most extreme value.
    pub index: usize,
    /// `G = max|x − x̄|/s`.
    pub statistic: f64,
    /// Critical value of the two-sided test at `alpha`.
    pub critical_two_sided: f64,
    /// Critical value of the one-sided test at `alpha`.
    pub critical_one_sided: f64,
}

/// Grubbs' test (Grubbs 1969) on a sample of normal values; `None` with fewer than three, with values all equal, or a bad `alpha`.
#[must_use]
pub fn grubbs(values: &[f64], alpha: f64) -> Option<Grubbs> {
    let summary = Summary::of(values)?;
    let sd = summary.sd.filter(|sd| *sd > 0.0)?;
    let n = values.len();
    let (index, deviation) =
        values.iter().map(|v| (v - summary.mean).abs()).enumerate().fold((0, -1.0), |best, now| if now.1 > best.1 { now } else { best });
    let dof = n as f64 - 2.0;
    let critical = |sides: f64| Some(rosner_from_studentised(t_upper_quantile(alpha / (sides * n as f64), dof)?, n));
    Some(Grubbs { index, statistic: deviation / sd, critical_two_sided: critical(2.0)?, critical_one_sided: critical(1.0)? })
}
