//! The most extreme readings, one after the other.

use super::foremost::Foremost;
use super::left_out::LeftOut;
use crate::statistics::influence::FITS_ITSELF;
use crate::statistics::repeated::{Atoms, RunFit, RunRows, RunSums, sums_of};

/// The most extreme reading of those left.
pub(super) struct Extreme {
    /// Its place in the order of the rows.
    pub index: usize,
    pub run: usize,
    pub block: usize,
    /// Externally studentised residual.
    pub t: f64,
    value: f64,
    /// Size of its standardised residual.
    size: f64,
}

/// Readings taken out one by one, the most extreme first.
pub(super) struct Search<'a, R> {
    rows: &'a R,
    values: &'a [f64],
    atoms: &'a Atoms<'a>,
    /// Block, run and place of those taken.
    taken: Vec<(usize, usize, usize)>,
    /// A fit without some of the first of them, the others left out.
    fit: LeftOut,
    /// Foremost runs of that fit before the others were left out; `None` where the fit has to be made anew.
    foremost: Option<Foremost>,
}

impl<'a, R: RunRows> Search<'a, R> {
    /// None taken yet; `fit` is least squares of all readings.
    pub fn new(rows: &'a R, values: &'a [f64], atoms: &'a Atoms<'a>, fit: &RunFit) -> Self {
        let mut search = Self { rows, values, atoms, taken: Vec::new(), fit: LeftOut::of(fit.clone()), foremost: None };
        search.foremost = Some(search.foremost_of(fit));
        search
    }

    /// Number of readings left, once the most extreme is known.
    pub fn readings(&self) -> f64 {
        self.fit.readings()
    }

    /// Residual degrees of freedom of those left, once the most extreme is known.
    pub fn dof(&self) -> f64 {
        self.fit.dof()
    }

    /// The reading left with the largest externally studentised residual.
    pub fn most_extreme(&mut self) -> Option<Extreme> {
        if let Some(foremost) = &self.foremost {
            let found = self.among(foremost);
            let as_fitted = self.fit.len() == 0;
            let elsewhere = self.fit.at_most(foremost.elsewhere, foremost.leverage);
            if as_fitted || found.as_ref().is_some_and(|extreme| extreme.size > elsewhere) {
                return found;
            }
        }
        let fit = self.without(&self.taken);
        let foremost = self.foremost_of(&fit);
        self.fit = LeftOut::of(fit);
        let found = self.among(&foremost);
        self.foremost = Some(foremost);
        found
    }

    /// Takes out the most extreme.
    pub fn take(&mut self, extreme: &Extreme) {
        self.taken.push((extreme.block, extreme.run, extreme.index));
        if !self.fit.leave_out(self.rows, extreme.block, extreme.run, extreme.value) {
            self.foremost = None;
        }
    }

    /// Distance of each of the first `number` readings taken from the curve through all others.
    pub fn distances(&self, number: usize) -> Vec<Option<f64>> {
        let Some(first) = self.taken.get(..number).filter(|first| !first.is_empty()) else { return Vec::new() };
        let fitted_without = self.taken.len() - self.fit.len();
        let told = number.checked_sub(fitted_without).and_then(|others| self.fit.first(others));
        let fit = told.unwrap_or_else(|| LeftOut::of(self.without(first)));
        let mut room = fit.whole().basis.scratch();
        let distance = |(block, run, index): &(usize, usize, usize)| {
            // a reading is only taken out where the others still give the curve there
            let (fitted, _) = fit.at(self.rows, *block, *run, &mut room);
            self.values.get(*index).map(|value| value - fitted)
        };
        first.iter().map(distance).collect()
    }

    fn among(&self, foremost: &Foremost) -> Option<Extreme> {
        let (dof, whole) = (self.fit.dof(), self.fit.whole());
        if dof <= 0.0 || whole.fits_exactly() {
            return None;
        }
        let rss = self.fit.residual_square();
        let mut room = whole.basis.scratch();
        let mut best: Option<Extreme> = None;
        for &(block, run) in &foremost.runs {
            let (fitted, leverage) = self.fit.at(self.rows, block, run, &mut room);
            if leverage >= FITS_ITSELF {
                continue;
            }
            let root = (self.rows.weight(run) / (1.0 - leverage)).sqrt();
            for value in self.ends(run).into_iter().flatten() {
                let standardised = root * (value - fitted);
                let remaining = rss - standardised * standardised;
                // where the others fit exactly the reading strays by more than any scatter
                let t = if dof > 1.0 && remaining > rss * 1e-12 {
                    standardised / (remaining / (dof - 1.0)).sqrt()
                } else if dof > 1.0 {
                    standardised.signum() * f64::INFINITY
                } else {
                    continue;
                };
                if best.as_ref().is_none_or(|known| t.abs() > known.t.abs()) {
                    best = Some(Extreme { index: 0, run, block, t, value, size: standardised.abs() });
                }
            }
        }
        let mut best = best?;
        best.index = self.left_of(best.run).find(|place| self.values.get(*place) == Some(&best.value))?;
        Some(best)
    }

    fn foremost_of(&self, fit: &RunFit) -> Foremost {
        Foremost::of(self.rows, fit, |run| self.ends(run))
    }

    /// Least and largest reading left of a run.
    fn ends(&self, run: usize) -> [Option<f64>; 2] {
        if !self.taken.iter().any(|(_, taken, _)| *taken == run) {
            return self.atoms.ends_of(run);
        }
        let values = self.left_of(run).filter_map(|place| self.values.get(place)).copied();
        [values.clone().reduce(f64::min), values.reduce(f64::max)]
    }

    /// The readings left of a run.
    fn left_of(&self, run: usize) -> impl Iterator<Item = usize> + Clone {
        left_of(self.rows, &self.taken, run)
    }

    /// Least squares without the readings `taken`.
    fn without(&self, taken: &[(usize, usize, usize)]) -> RunFit {
        let mut sums = RunSums::of_rows(self.rows, self.values);
        for (_, run, _) in taken {
            let kept: Vec<f64> = left_of(self.rows, taken, *run).filter_map(|place| self.values.get(place)).copied().collect();
            sums.set(*run, sums_of(&kept));
        }
        let count = |run: usize| self.rows.count(run) - taken.iter().filter(|(_, other, _)| *other == run).count();
        RunFit::counted(self.rows, |run| self.rows.weight(run) * count(run) as f64, &sums, &count)
    }
}

/// The readings of a run that are not taken.
fn left_of(rows: &impl RunRows, taken: &[(usize, usize, usize)], run: usize) -> impl Iterator<Item = usize> + Clone {
    rows.readings(run).filter(move |place| !taken.iter().any(|(_, _, index)| index == place))
}
