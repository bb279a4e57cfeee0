//! Whether a model fits as well as repeated readings agree, and which of nested models to take.

use super::distributions::f_sf;
use super::least_squares::Fit;
use super::summary::squares_about_weighted_mean;
use nalgebra::DMatrix;
use std::cmp::Ordering;

/// An F test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FTest {
    /// F ratio.
    pub f: f64,
    /// Degrees of freedom above.
    pub dof1: f64,
    /// Degrees of freedom below.
    pub dof2: f64,
    /// Upper tail probability.
    pub p: f64,
}

impl FTest {
    /// `F = (ss1/dof1)/(ss2/dof2)`; `None` when a number of degrees of freedom or the lower sum of squares is not above zero.
    #[must_use]
    pub fn of(ss1: f64, dof1: f64, ss2: f64, dof2: f64) -> Option<Self> {
        if ss2 <= 0.0 {
            return None;
        }
        let f = (ss1.max(0.0) / dof1) / (ss2 / dof2);
        Some(Self { f, dof1, dof2, p: f_sf(f, dof1, dof2)? })
    }
}

/// Lack of fit against pure error (Draper & Smith 1998, section 2.1; e-Handbook 4.4.4.6): readings with exactly equal rows of the design are repeats.
///
/// `F = [(RSS − SSₚₑ)/(g − p)]/[SSₚₑ/(n − g)]` with `g` different rows. `None` without repeats, without more different rows than terms, or when
/// all repeats agree exactly.
#[must_use]
pub fn lack_of_fit(design: &DMatrix<f64>, response: &[f64], fit: &Fit) -> Option<FTest> {
    let row_order = |a: usize, b: usize| {
        (0..design.ncols()).map(|j| design[(a, j)].total_cmp(&design[(b, j)])).find(|o| o.is_ne()).unwrap_or(Ordering::Equal)
    };
    if design.nrows() != response.len() {
        return None;
    }
    let mut order: Vec<(usize, f64)> = response.iter().copied().enumerate().collect();
    order.sort_by(|a, b| row_order(a.0, b.0).then(a.1.total_cmp(&b.1)));
    let mut pure = PureError::default();
    for repeats in order.chunk_by(|a, b| row_order(a.0, b.0).is_eq()) {
        pure.add(&repeats.iter().map(|r| (r.1, 1.0)).collect::<Vec<_>>());
    }
    pure.against(fit.residual_sum_of_squares(), fit.dof() as f64)
}

/// Readings of one weight repeated at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeats {
    /// Number of readings.
    pub count: usize,
    /// Weight of each.
    pub weight: f64,
    /// Their mean.
    pub mean: f64,
    /// Squared deviations from it.
    pub square: f64,
}

/// How far repeated readings lie from one another.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PureError {
    /// Sum of weight times squared deviation from the group's weighted mean.
    pub square: f64,
    /// Readings less groups.
    pub dof: f64,
}

impl PureError {
    /// Adds one group of repeats, each a value and its weight (`1/variance` up to a common factor).
    pub fn add(&mut self, repeats: &[(f64, f64)]) {
        self.square += squares_about_weighted_mean(repeats);
        self.dof += repeats.len().saturating_sub(1) as f64;
    }

    /// Adds one group of repeats from the sums of its parts, each of readings of one weight.
    pub fn add_repeats(&mut self, parts: &[Repeats]) {
        self.dof += (parts.iter().map(|part| part.count).sum::<usize>()).saturating_sub(1) as f64;
        self.square += parts.iter().map(|part| part.weight * part.square).sum::<f64>();
        if parts.len() > 1 {
            let between: Vec<(f64, f64)> = parts.iter().map(|part| (part.mean, part.weight * part.count as f64)).collect();
            self.square += squares_about_weighted_mean(&between);
        }
    }

    /// F of lack of fit of a model with the (weighted) residual sum of squares `residual_square` and its degrees of freedom.
    ///
    /// `None` without repeats, without more groups than terms, or when all repeats agree exactly.
    #[must_use]
    pub fn against(&self, residual_square: f64, residual_dof: f64) -> Option<FTest> {
        FTest::of(residual_square - self.square, residual_dof - self.dof, self.square, self.dof)
    }
}

/// F test of a larger model against a smaller one nested in it; `None` when the larger has no more terms, no degrees of freedom, or fits exactly.
#[must_use]
pub fn nested_f_test(smaller: &Fit, larger: &Fit) -> Option<FTest> {
    let dof1 = larger.rank() as f64 - smaller.rank() as f64;
    if larger.fits_exactly() {
        return None;
    }
    FTest::of(
        smaller.residual_sum_of_squares() - larger.residual_sum_of_squares(),
        dof1,
        larger.residual_sum_of_squares(),
        larger.dof() as f64,
    )
}

/// Corrected Akaike criterion of a fit (Hurvich & Tsai 1989): `n ln(2π RSS/n) + n + 2K + 2K(K + 1)/(n − K − 1)`, `K` = terms + 1 for the variance.
///
/// Smaller is better; only differences on the same readings mean anything. `None` with `n ≤ K + 1` or an exact fit.
#[must_use]
pub fn aicc(fit: &Fit) -> Option<f64> {
    let n = fit.readings() as f64;
    let k = fit.rank() as f64 + 1.0;
    let rss = fit.residual_sum_of_squares();
    if n - k - 1.0 <= 0.0 || fit.fits_exactly() {
        return None;
    }
    Some(n * (2.0 * std::f64::consts::PI * rss / n).ln() + n + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0))
}
