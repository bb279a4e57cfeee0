//! Robust regression: Huber's and Tukey's M-estimates.

use super::repeated::{Atoms, RunFit, RunRows, RunSums, change_each, counted_median, median_of_sizes, over_parts};
use super::summary::median;
use rayon::iter::{IndexedParallelIterator as _, IntoParallelRefMutIterator as _, ParallelIterator as _};
use std::ops::Range;

/// Weight function of an M-estimate, with its tuning constant in units of the scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RobustMethod {
    /// Huber (1964): weight 1 up to `k`, then `k/|u|`. `k` = 1.345 keeps 95 % efficiency under normal scatter.
    Huber(f64),
    /// Tukey's bisquare (Beaton & Tukey 1974): weight `(1 − (u/c)²)²` up to `c`, then 0. `c` = 4.685 keeps 95 %.
    Tukey(f64),
}

impl RobustMethod {
    /// Huber with 1.345.
    pub const HUBER: Self = Self::Huber(1.345);
    /// Tukey with 4.685.
    pub const TUKEY: Self = Self::Tukey(4.685);

    fn weight(self, u: f64) -> f64 {
        match self {
            Self::Huber(k) => {
                if u.abs() <= k {
                    1.0
                } else {
                    k / u.abs()
                }
            }
            Self::Tukey(c) => {
                let part = (u / c) * (u / c);
                if part < 1.0 { (1.0 - part) * (1.0 - part) } else { 0.0 }
            }
        }
    }

    /// Derivative of `u·weight(u)`.
    fn slope(self, u: f64) -> f64 {
        match self {
            Self::Huber(k) => f64::from(u.abs() <= k),
            Self::Tukey(c) => {
                let part = (u / c) * (u / c);
                if part < 1.0 { (1.0 - part) * (1.0 - 5.0 * part) } else { 0.0 }
            }
        }
    }
}

/// A robust fit.
#[derive(Debug, Clone, PartialEq)]
pub struct RobustFit {
    /// Coefficients of the columns that all blocks share; `None` where the data cannot give them.
    pub coefficients: Vec<Option<f64>>,
    /// Standard errors (Huber 1981, 6.5 and 6.8); `None` where missing, without degrees of freedom or at scale 0.
    pub standard_errors: Vec<Option<f64>>,
    /// Scale of the scatter: median |residual|/0.6745.
    pub scale: f64,
    /// Whether the iteration settled.
    pub settled: bool,
}

/// `Φ⁻¹(0.75)`, four digits as the reference programs use it: median absolute deviation of a normal with standard deviation 1.
const MAD_OF_NORMAL: f64 = 0.6745;
const MOST_ROUNDS: usize = 500;
/// Largest change of a fitted value in a round, in units of the scale, at which a fit has settled.
const SETTLED: f64 = 1e-11;
/// The same for a fit that another one starts from.
const A_START: f64 = 1e-4;
/// Share of the last round's change below which weights have settled so far that their sums of products need not be made again.
const FALLS: f64 = 0.25;
/// How much longer a step may be made than least squares make it.
const LONGEST: f64 = 1.9;
/// Different values up to which the sizes of the residuals are listed for their median; of more they are not kept.
const FEW: usize = 20_000;
/// Scale, relative to the largest response, that counts as 0: readings in coarse steps leave half the residuals at rounding errors.
const NO_SCALE: f64 = 1e-11;

/// M-estimate of `values` (n, in the order of `rows`) by iteratively reweighted least squares, scale re-estimated each round by the median absolute
/// residual over 0.6745; `atoms` are the same values.
///
/// Huber starts from least squares, Tukey from Huber (settled to 10⁻⁴ of the scale). The weighted sum of squares bounds the sum that is minimised from above and
/// touches it at the last fit, so that any step shorter than twice that of least squares goes down (Hunter & Lange 2004, from memory); it is made longer by
/// `Σw/Σψ'`, at most 1.9, which makes it Newton's where readings are many, so that few rounds are needed. While each round changes the fit by less than a quarter of what
/// the one before did, the sums of products of the last weights serve for the next ones too: the fit that it settles at is the same.
/// Where half the residuals are 0 but for rounding (below 10⁻¹¹ of the largest response) the
/// scale is 0 and the fit so far is returned, which is then near the least absolute residuals.
/// Equal readings of a run have equal weights, so that each round goes over the different values only. No random numbers: the same data give the same answer.
#[must_use]
pub fn robust_regression(rows: &impl RunRows, values: &[f64], atoms: &Atoms, method: RobustMethod) -> RobustFit {
    robust_fit(rows, values, atoms, method, atoms.len() <= FEW)
}

/// `listed`: whether the sizes of the residuals are listed for their median. It makes no difference to the fit.
fn robust_fit(rows: &impl RunRows, values: &[f64], atoms: &Atoms, method: RobustMethod, listed: bool) -> RobustFit {
    let plain = RunFit::of(rows, &RunSums::of_rows(rows, values));
    let mut now = Iterate { fitted: vec![0.0; rows.runs()], scale: 0.0, settled: false };
    add_fitted(rows, &plain, 1.0, &mut now.fitted);
    if let RobustMethod::Tukey(_) = method {
        now = iterate(rows, atoms, now, RobustMethod::HUBER, listed, A_START);
    }
    let end = iterate(rows, atoms, now, method, listed, SETTLED);
    // The fitted values are those of a curve of the model, which least squares give back whatever the weights are.
    let fitted = |run: usize| end.fitted.get(run).copied().unwrap_or(0.0);
    let mut fit = plain.clone();
    fit.refine(rows, &|run| [rows.weight(run) * rows.count(run) as f64, fitted(run)]);
    let standard_errors = standard_errors(rows, atoms, &plain, &end, method);
    let given = |column: usize| plain.basis.covariance(column, column) > 0.0;
    let coefficients = fit.shared.iter().enumerate().map(|(column, value)| given(column).then_some(*value)).collect();
    RobustFit { coefficients, standard_errors, scale: end.scale, settled: end.settled }
}

struct Iterate {
    /// Fitted value of each run.
    fitted: Vec<f64>,
    scale: f64,
    settled: bool,
}

/// Adds `times` what `fit` gives to each run's `fitted`; the largest of it, in units of the run's weight.
fn add_fitted(rows: &impl RunRows, fit: &RunFit, times: f64, fitted: &mut [f64]) -> f64 {
    change_each(rows, fitted, |block, first, own| {
        let mut row = fit.basis.scratch();
        let mut largest = 0.0_f64;
        for (slot, run) in own.iter_mut().zip(first..) {
            let more = times * fit.fitted(rows, block, run, &mut row);
            *slot += more;
            largest = largest.max(rows.weight(run).sqrt() * more.abs());
        }
        largest
    })
}

/// Median of the absolute residuals, each in units of its own weight.
fn median_size(rows: &impl RunRows, atoms: &Atoms, fitted: &[f64], listed: bool) -> f64 {
    let sizes = |runs: Range<usize>| {
        runs.flat_map(|run| {
            let (centre, root) = (fitted.get(run).copied().unwrap_or(0.0), rows.weight(run).sqrt());
            atoms.run(run).map(move |(value, count)| (root * (value - centre).abs(), count))
        })
    };
    let all = 0..rows.runs();
    let found = match (listed, atoms.are_single()) {
        (false, _) => median_of_sizes(all, sizes),
        (true, true) => median(&sizes(all).map(|size| size.0).collect::<Vec<f64>>()),
        (true, false) => counted_median(&mut sizes(all).collect::<Vec<_>>()),
    };
    found.unwrap_or(0.0)
}

/// Sum of what `of` makes of every reading's residual in units of its own weight.
fn over_residuals(rows: &impl RunRows, atoms: &Atoms<'_>, fitted: &[f64], of: impl Fn(f64) -> f64 + Sync) -> f64 {
    let of_run = |run: usize| {
        let (centre, root) = (fitted.get(run).copied().unwrap_or(0.0), rows.weight(run).sqrt());
        atoms.run(run).map(|(value, count)| count * of(root * (value - centre))).sum::<f64>()
    };
    over_parts(rows, |_, runs| runs.map(of_run).sum::<f64>(), |a, b| a + b).unwrap_or(0.0)
}

/// `Σw/Σψ'`, between 1 and [`LONGEST`].
fn longer_step(rows: &impl RunRows, atoms: &Atoms<'_>, now: &Iterate, method: RobustMethod) -> f64 {
    let over = |of: &(dyn Fn(f64) -> f64 + Sync)| over_residuals(rows, atoms, &now.fitted, |e| of(e / now.scale));
    let ratio = over(&|u| method.weight(u)) / over(&|u| method.slope(u));
    if ratio >= 1.0 { ratio.min(LONGEST) } else { LONGEST }
}

/// Each round fits what the last one left over.
fn iterate(rows: &impl RunRows, atoms: &Atoms<'_>, mut now: Iterate, method: RobustMethod, listed: bool, settled: f64) -> Iterate {
    let largest = |run: usize| rows.weight(run).sqrt() * atoms.run(run).fold(0.0_f64, |m, (value, _)| m.max(value.abs()));
    let size = over_parts(rows, |_, runs| runs.map(largest).fold(0.0_f64, f64::max), f64::max).unwrap_or(0.0);
    now.settled = false;
    let (mut longer, mut before, mut last) = (None, None, 0.0);
    for _ in 0..MOST_ROUNDS {
        now.scale = median_size(rows, atoms, &now.fitted, listed) / MAD_OF_NORMAL;
        if now.scale <= size * NO_SCALE {
            now.scale = 0.0;
            now.settled = true;
            break;
        }
        let weighed = |run: usize| {
            let (centre, own) = (now.fitted.get(run).copied().unwrap_or(0.0), rows.weight(run));
            let root = own.sqrt();
            if let Some(value) = atoms.only(run) {
                return [method.weight(root * (value - centre) / now.scale) * own, value - centre];
            }
            let (mut total, mut moment) = (0.0, 0.0);
            for (value, count) in atoms.run(run) {
                let weight = count * method.weight(root * (value - centre) / now.scale);
                total += weight;
                moment += weight * (value - centre);
            }
            [total * own, if total > 0.0 { moment / total } else { 0.0 }]
        };
        let longer = *longer.get_or_insert_with(|| longer_step(rows, atoms, &now, method));
        let more = if atoms.are_short() {
            weighed_fit(rows, before, &weighed)
        } else {
            // Values that came several times are weighed once a round.
            let mut kept = vec![[0.0; 2]; rows.runs()];
            kept.par_iter_mut().enumerate().with_min_len(256).for_each(|(run, slot)| *slot = weighed(run));
            weighed_fit(rows, before, &|run| kept.get(run).copied().unwrap_or([0.0; 2]))
        };
        let change = add_fitted(rows, &more, longer, &mut now.fitted);
        if change <= settled * now.scale {
            now.settled = true;
            break;
        }
        before = (change <= FALLS * last).then_some(more);
        last = change;
    }
    now
}

/// Least squares, or its step in the basis of a round `before` whose weights were nearly these.
fn weighed_fit(rows: &impl RunRows, before: Option<RunFit>, weighed: &(impl Fn(usize) -> [f64; 2] + Sync)) -> RunFit {
    match before {
        Some(mut fit) => {
            fit.clear();
            fit.refine(rows, weighed);
            fit
        }
        None => RunFit::once(rows, weighed),
    }
}

fn standard_errors(rows: &impl RunRows, atoms: &Atoms, plain: &RunFit, end: &Iterate, method: RobustMethod) -> Vec<Option<f64>> {
    let (n, dof) = (plain.readings as f64, plain.dof());
    let over = |of: &(dyn Fn(f64) -> f64 + Sync)| over_residuals(rows, atoms, &end.fitted, of);
    let mean = over(&|r| method.slope(r / end.scale)) / n;
    let spread = over(&|r| (method.slope(r / end.scale) - mean).powi(2)) / (n - 1.0);
    let square = over(&|r| (r * method.weight(r / end.scale)).powi(2));
    let factor = (square / dof).sqrt() * (1.0 + plain.basis.rank() as f64 * spread / (n * mean * mean)) / mean;
    (0..rows.shared())
        .map(|k| {
            let error = plain.basis.covariance(k, k).max(0.0).sqrt() * factor;
            error.is_normal().then_some(error)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::Dense;
    use nalgebra::DMatrix;

    /// Three series of eight readings in steps of a tenth of a thou, one of them wild. Half the residuals vanish but for the rounding
    /// of the diameters to binary; a scale of that size would keep the iteration going for ever.
    #[test]
    fn readings_in_coarse_steps_settle() {
        let tenths = [62, 63, 64, 64, 66, 67, 86, 69, 23, 23, 24, 25, 26, 27, 28, 29, -18, -17, -16, -15, -14, -14, -11, -12];
        let response: Vec<f64> = tenths.iter().map(|t| (1.49 + f64::from(*t) * 1e-4) * 25.4 - 1.4962 * 25.4).collect();
        let x = |row: usize| -1.0 + 2.0 * (row % 8) as f64 / 7.0;
        let design = DMatrix::from_fn(24, 5, |row, column| match column {
            3 => x(row),
            4 => 1.5 * x(row) * x(row) - 0.5,
            _ => f64::from(u8::from(row / 8 == column)),
        });
        for method in [RobustMethod::HUBER, RobustMethod::TUKEY] {
            let rows = Dense::new(&design, &[]);
            let robust = robust_regression(&rows, &response, &Atoms::of(&rows, &response), method);
            assert!(robust.settled, "{method:?}");
            // Seven steps over the length of each series without the wild reading: half of that is the slope.
            let slope = robust.coefficients[3].unwrap();
            assert!((slope - 3.5 * 0.00254).abs() < 0.2 * 0.00254, "{method:?}: slope {slope}");
        }
    }

    /// The same to the bit whether the residuals' sizes are listed or gone over twice, on readings in steps and on single ones.
    #[test]
    fn a_long_list_of_sizes_need_not_be_kept() {
        for step in [0.5, 0.0] {
            let mut state = 3_u64;
            let mut error = || {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (state >> 40) as f64 / (1_u64 << 24) as f64 - 0.5
            };
            let x = |row: usize| -1.0 + 2.0 * (row / 4 % 30) as f64 / 29.0;
            let response: Vec<f64> = (0..480)
                .map(|row| {
                    let wild = if row % 97 == 5 { 9.0 } else { 0.0 };
                    let value = 3.0 * x(row) + 4.0 * error() + wild;
                    if step > 0.0 { (value / step).round() * step } else { value }
                })
                .collect();
            let design =
                DMatrix::from_fn(480, 5, |row, column| if column == 4 { x(row) } else { f64::from(u8::from(row / 120 == column)) });
            let rows = Dense::new(&design, &[]);
            let atoms = Atoms::of(&rows, &response);
            for method in [RobustMethod::HUBER, RobustMethod::TUKEY] {
                let fit = |listed: bool, values: &[f64], atoms: &Atoms| robust_fit(&rows, values, atoms, method, listed);
                assert_eq!(fit(true, &response, &atoms), fit(false, &response, &atoms), "{method:?}, steps of {step}");
                assert_eq!(fit(true, &response, &atoms), robust_regression(&rows, &response, &atoms, method));
                let mut other = response.clone();
                other[0] += 1.0;
                assert_ne!(fit(true, &response, &atoms), fit(false, &other, &Atoms::of(&rows, &other)), "one reading is moved");
            }
        }
    }
}
