//! How readings scatter about the true diameters of their stations, and passes about their mean, whatever the bar's shape.

use super::profile::{Common, Means, Noise, weighted};
use crate::shape::{ENOUGH_PASSES, ENOUGH_WITHIN_DOF, SPREAD_PRIOR};
use crate::statistics::mixed::{Coefficients, Group, NoisePrior, Row, Terms, fit_reml, integrate_spread};
use nalgebra::{DMatrix, DVector, Matrix2};

/// The readings of one pass at one station, less the pass's level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    /// Index of the station.
    pub(super) station: usize,
    /// How many readings.
    pub(super) count: f64,
    /// Their mean, mm.
    pub(super) mean_mm: f64,
    /// Sum of the squares of their deviations from it, mm².
    pub(super) squares_mm2: f64,
}

impl Cell {
    /// A cell with nothing in it.
    pub(super) fn empty(station: usize) -> Self {
        Self { station, count: 0.0, mean_mm: 0.0, squares_mm2: 0.0 }
    }

    /// Takes in more readings by their number, mean and squared deviations from it (for one reading: Welford 1962).
    pub(super) fn add_all(&mut self, count: f64, mean_mm: f64, squares_mm2: f64) {
        if count <= 0.0 {
            return;
        }
        self.count += count;
        let before = mean_mm - self.mean_mm;
        self.mean_mm += before * count / self.count;
        self.squares_mm2 += squares_mm2 + count * before * (mean_mm - self.mean_mm);
    }
}

/// One pass: its direction (0: the judged one, 1: the other) and its cells.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CutPass {
    pub(super) direction: usize,
    pub(super) cells: Vec<Cell>,
}

/// Noise of one reading and the spread of slope and bend that passes leave in their mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scatter {
    pub(super) noise: Noise,
    /// Without the part that no reading shows.
    pub(super) common: Common,
}

/// What is known of one reading's noise before the readings, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gauge {
    pub(super) u_mm: f64,
    pub(super) resolution_mm: f64,
    pub(super) noise_factor: f64,
}

/// The mixed model `y = f_ds + level_p + b_p P₁ + c_p P₂ + e` of the finishing passes, a free diameter `f_ds` at each station of each direction. `at` holds the
/// stations' places, −1 … 1 over those of the judged direction.
///
/// The taper's own fit has a quadratic for `f_ds`; on a bar with a step its misfit counts as noise there, and three bands of a few µm look as uncertain as their
/// steps are large. So the misfit of the direction's station means against a quadratic is taken out of every reading first, and its `S − 3` degrees of freedom out
/// of the passes' contrasts, in equal shares. That is exact where every pass of a direction reads the same stations equally often; elsewhere part of the misfit
/// stays in the noise, which is then stated too large. Spread of slopes and bends: as the taper's, a half-t(3) prior below four passes more than directions and restricted
/// maximum likelihood from there up. Noise: the log's own from 8 degrees of freedom, with the data sheet below that.
///
/// `None` where no place was read twice, so that noise and departures cannot be told apart, where rounding hides the scatter, or where passes carry no slope.
pub(super) fn scatter(passes: &[CutPass], at: &[f64], gauge: Gauge) -> Option<Scatter> {
    let columns = if at.len() > 2 { 2 } else { 1 };
    let directions = 1 + passes.iter().map(|pass| pass.direction.min(1)).max()?;
    let mut groups: Vec<Group> = Vec::new();
    for direction in 0..directions {
        let own: Vec<&CutPass> = passes.iter().filter(|pass| pass.direction == direction).collect();
        groups.extend(groups_of(&own, at, columns, directions, direction)?);
    }
    let fixed = directions * columns;
    groups.iter().find(|group| group.terms[(0, 0)] > 0.0)?;
    let own = groups.iter().map(Group::own_residual).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    if own.1 < 1.0 - 1e-9 {
        return None;
    }
    let scatter_mm = (own.0 / own.1).sqrt();
    let rounding = gauge.resolution_mm / 12.0_f64.sqrt();
    if scatter_mm <= 0.0 || scatter_mm < rounding && own.1 >= 2.0 {
        return None;
    }
    let sheet = NoisePrior::from_factor(gauge.u_mm, gauge.noise_factor);
    let (prior, dof) = if own.1 >= ENOUGH_WITHIN_DOF { (None, own.1) } else { (Some(sheet), own.1 + sheet.equivalent_dof()) };
    let unit = unit_errors(&groups, columns)?;
    let [slope, bend] = [0, directions].map(|place| {
        let mut contrast = Coefficients::zeros();
        contrast[place] = 1.0;
        contrast
    });
    let replicated = groups.len().saturating_sub(directions);
    let (sigma, slope_t, bend_t, common_dof) = if replicated + 1 >= ENOUGH_PASSES {
        let square = if prior.is_none() { scatter_mm * scatter_mm } else { gauge.u_mm * gauge.u_mm };
        let structures = [Matrix2::new(1.0, 0.0, 0.0, 0.0), Matrix2::new(0.0, 0.0, 0.0, 1.0)];
        let start = [square, 0.5 * square * unit[0] * unit[0], 0.5 * square * unit[1] * unit[1]];
        let fit = fit_reml(&groups, fixed, structures.get(..columns)?, prior, start.get(..=columns)?)?;
        let between = |contrast: &Coefficients| {
            let (all, within) = fit.variance(contrast);
            (all - within).max(0.0).sqrt()
        };
        (fit.sigma_square.sqrt(), between(&slope), between(&bend), fit.degrees_of_freedom(&slope))
    } else {
        let fit = integrate_spread(&groups, fixed, columns, unit, SPREAD_PRIOR, prior)?;
        let between = |contrast: &Coefficients| {
            let whole = fit.interval(contrast);
            (whole.standard_error * whole.standard_error - whole.within * whole.within).max(0.0).sqrt()
        };
        (fit.sigma_median, between(&slope), between(&bend), fit.interval(&slope).dof)
    };
    let bend_t = if columns > 1 { bend_t } else { 0.0 };
    // rounding that the scatter does not show is part of what one mean may be wrong
    let sigma = sigma.max(rounding).max(1e-7);
    let noise = Noise { sigma, dof: Some(dof), departures: 1.0 };
    Some(Scatter { noise, common: Common { slope_t, slope_normal: 0.0, bend_t, dof: common_dof } })
}

/// The passes of one direction, its misfit taken out. `directions` slopes come first among the fixed coefficients, then their bends.
fn groups_of(passes: &[&CutPass], at: &[f64], columns: usize, directions: usize, direction: usize) -> Option<Vec<Group>> {
    let mut sums = vec![(0.0, 0.0); at.len()];
    for cell in passes.iter().flat_map(|pass| &pass.cells) {
        let sum = sums.get_mut(cell.station)?;
        *sum = (sum.0 + cell.count, sum.1 + cell.count * cell.mean_mm);
    }
    let read: Vec<usize> = sums.iter().enumerate().filter(|(_, sum)| sum.0 > 0.0).map(|(station, _)| station).collect();
    let means = Means {
        at: read.iter().filter_map(|station| at.get(*station)).copied().collect(),
        mean: read.iter().filter_map(|station| sums.get(*station)).map(|sum| sum.1 / sum.0).collect(),
        count: read.iter().filter_map(|station| sums.get(*station)).map(|sum| sum.0).collect(),
    };
    // fewer stations than coefficients leave no misfit
    let left = if read.len() > columns + 1 { misfit(&means, columns)? } else { vec![0.0; read.len()] };
    let mut misfits = vec![0.0; at.len()];
    for (station, value) in read.iter().zip(left) {
        *misfits.get_mut(*station)? = value;
    }
    let mut terms = Terms::zeros();
    terms[(0, direction)] = 1.0;
    if columns > 1 {
        terms[(1, directions + direction)] = 1.0;
    }
    let group = |pass: &&CutPass| {
        let row = |cell: &Cell| -> Row {
            let x = at.get(cell.station).copied().unwrap_or(0.0);
            let bend = if columns > 1 { 1.5 * x * x - 0.5 } else { 0.0 };
            ([x, bend], cell.mean_mm - misfits.get(cell.station).copied().unwrap_or(0.0), cell.count)
        };
        let mut group = Group::centred(&pass.cells.iter().map(row).collect::<Vec<_>>(), terms);
        group.square += pass.cells.iter().map(|cell| cell.squares_mm2).sum::<f64>();
        group.contrasts = (pass.cells.iter().map(|cell| cell.count).sum::<f64>() - 1.0).max(0.0);
        group
    };
    let mut groups: Vec<Group> = passes.iter().map(group).filter(|group| group.gram[(0, 0)] > 1e-12).collect();
    let spent = read.len().saturating_sub(columns + 1) as f64 / groups.len().max(1) as f64;
    groups.iter_mut().for_each(|group| group.contrasts -= spent);
    Some(groups)
}

/// What the station means leave beside their least-squares line (one column) or parabola, mm a station.
fn misfit(means: &Means, columns: usize) -> Option<Vec<f64>> {
    let legendre = |x: f64| [1.0, x, 1.5 * x * x - 0.5];
    let design = DMatrix::from_fn(means.at.len(), columns + 1, |i, k| legendre(means.at[i])[k.min(2)]);
    let mean = DVector::from_column_slice(&means.mean);
    let variance: Vec<f64> = means.count.iter().map(|count| 1.0 / count).collect();
    let (fit, _) = weighted(&design, &mean, &variance)?;
    Some((mean - design * fit).iter().copied().collect())
}

/// Standard errors of one average pass's own slope and bend at `σ = 1`.
fn unit_errors(groups: &[Group], columns: usize) -> Option<[f64; 2]> {
    let mean = groups.iter().fold(Matrix2::zeros(), |sum: Matrix2<f64>, group| sum + group.gram) / groups.len().max(1) as f64;
    if columns < 2 {
        return (mean[(0, 0)] > 0.0).then(|| [mean[(0, 0)].sqrt().recip(), 0.0]);
    }
    let inverse = mean.try_inverse()?;
    (inverse[(0, 0)] > 0.0 && inverse[(1, 1)] > 0.0).then(|| [inverse[(0, 0)].sqrt(), inverse[(1, 1)].sqrt()])
}

#[cfg(test)]
#[path = "scatter/tests.rs"]
mod tests;
