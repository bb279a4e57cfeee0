//! Robust regression: Huber's and Tukey's M-estimates.

use super::repeated::{Atoms, RunFit, RunRows, RunSums, counted_median, median_of_sizes};
use super::summary::median;

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
/// Different values up to which the sizes of the residuals are listed for their median; of more they are not kept.
const FEW: usize = 20_000;
/// Scale, relative to the largest response, that counts as 0: readings in coarse steps leave half the residuals at rounding errors.
const NO_SCALE: f64 = 1e-11;

/// M-estimate of `values` (n, in the order of `rows`) by iteratively reweighted least squares, scale re-estimated each round by the median absolute
/// residual over 0.6745; `atoms` are the same values.
///
/// Huber starts from least squares, Tukey from Huber. Where half the residuals are 0 but for rounding (below 10⁻¹¹ of the largest response) the
/// scale is 0 and the fit so far is returned, which is then near the least absolute residuals.
/// Equal readings of a run have equal weights, so that each round goes over the different values only. No random numbers: the same data give the same answer.
#[must_use]
pub fn robust_regression(rows: &impl RunRows, values: &[f64], atoms: &Atoms, method: RobustMethod) -> RobustFit {
    robust_fit(rows, values, atoms, method, atoms.len() <= FEW)
}

/// `listed`: whether the sizes of the residuals are listed for their median. It makes no difference to the fit.
fn robust_fit(rows: &impl RunRows, values: &[f64], atoms: &Atoms, method: RobustMethod, listed: bool) -> RobustFit {
    let plain = RunFit::of(rows, &RunSums::of_rows(rows, values));
    let mut now = Iterate { fitted: fitted_of(rows, &plain), fit: plain.clone(), scale: 0.0, settled: false };
    if let RobustMethod::Tukey(_) = method {
        now = iterate(rows, atoms, now, RobustMethod::HUBER, listed);
    }
    let end = iterate(rows, atoms, now, method, listed);
    let standard_errors = standard_errors(rows, atoms, &plain, &end, method);
    let given = |column: usize| plain.basis.covariance(column, column) > 0.0;
    let coefficients = end.fit.shared.iter().enumerate().map(|(column, value)| given(column).then_some(*value)).collect();
    RobustFit { coefficients, standard_errors, scale: end.scale, settled: end.settled }
}

struct Iterate {
    fit: RunFit,
    /// Fitted value of each run.
    fitted: Vec<f64>,
    scale: f64,
    settled: bool,
}

fn fitted_of(rows: &impl RunRows, fit: &RunFit) -> Vec<f64> {
    let mut row = fit.basis.scratch();
    let runs = (0..rows.blocks()).flat_map(|block| rows.block(block).map(move |run| (block, run)));
    runs.map(|(block, run)| fit.fitted(rows, block, run, &mut row)).collect()
}

/// Median of the absolute residuals, each in units of its own weight.
fn median_size(rows: &impl RunRows, atoms: &Atoms, fitted: &[f64], listed: bool) -> f64 {
    let sizes = || {
        (0..rows.runs()).flat_map(|run| {
            let (centre, root) = (fitted.get(run).copied().unwrap_or(0.0), rows.weight(run).sqrt());
            atoms.run(run).map(move |(value, count)| (root * (value - centre).abs(), count))
        })
    };
    let found = match (listed, atoms.are_single()) {
        (false, _) => median_of_sizes(sizes),
        (true, true) => median(&sizes().map(|size| size.0).collect::<Vec<f64>>()),
        (true, false) => counted_median(&mut sizes().collect::<Vec<_>>()),
    };
    found.unwrap_or(0.0)
}

fn iterate(rows: &impl RunRows, atoms: &Atoms, mut now: Iterate, method: RobustMethod, listed: bool) -> Iterate {
    let largest = |run: usize| rows.weight(run).sqrt() * atoms.run(run).fold(0.0_f64, |m, (value, _)| m.max(value.abs()));
    let size = (0..rows.runs()).map(largest).fold(0.0_f64, f64::max);
    now.settled = false;
    let mut weighed: Vec<[f64; 2]> = Vec::with_capacity(rows.runs());
    for _ in 0..MOST_ROUNDS {
        now.scale = median_size(rows, atoms, &now.fitted, listed) / MAD_OF_NORMAL;
        if now.scale <= size * NO_SCALE {
            now.scale = 0.0;
            now.settled = true;
            break;
        }
        weighed.clear();
        weighed.extend((0..rows.runs()).map(|run| {
            let (centre, root) = (now.fitted.get(run).copied().unwrap_or(0.0), rows.weight(run).sqrt());
            let (mut total, mut moment) = (0.0, 0.0);
            for (value, count) in atoms.run(run) {
                let weight = count * method.weight(root * (value - centre) / now.scale);
                total += weight;
                moment += weight * (value - centre);
            }
            [total * rows.weight(run), if total > 0.0 { centre + moment / total } else { centre }]
        }));
        let of = |run: usize, place: usize| weighed.get(run).and_then(|pair| pair.get(place)).copied().unwrap_or(0.0);
        now.fit = RunFit::of_means(rows, |run| of(run, 0), |run| of(run, 1));
        let fitted = fitted_of(rows, &now.fit);
        let change = fitted
            .iter()
            .zip(&now.fitted)
            .enumerate()
            .map(|(run, (new, old))| rows.weight(run).sqrt() * (new - old).abs())
            .fold(0.0_f64, f64::max);
        now.fitted = fitted;
        if change <= 1e-11 * now.scale {
            now.settled = true;
            break;
        }
    }
    now
}

fn standard_errors(rows: &impl RunRows, atoms: &Atoms, plain: &RunFit, end: &Iterate, method: RobustMethod) -> Vec<Option<f64>> {
    let (n, dof) = (plain.readings as f64, plain.dof());
    let over = |of: &dyn Fn(f64) -> f64| -> f64 {
        (0..rows.runs())
            .map(|run| {
                let (centre, root) = (end.fitted.get(run).copied().unwrap_or(0.0), rows.weight(run).sqrt());
                atoms.run(run).map(|(value, count)| count * of(root * (value - centre))).sum::<f64>()
            })
            .sum()
    };
    let mean = over(&|r| method.slope(r / end.scale)) / n;
    let spread = over(&|r| (method.slope(r / end.scale) - mean).powi(2)) / (n - 1.0);
    let square = over(&|r| (r * method.weight(r / end.scale)).powi(2));
    let factor = (square / dof).sqrt() * (1.0 + plain.basis.rank() as f64 * spread / (n * mean * mean)) / mean;
    (0..end.fit.shared.len())
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
