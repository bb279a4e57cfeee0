//! The bar, the chuck and the centres give way to the cut and leave the diameter larger.

/// The radial cut of one pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Infeed {
    /// Fresh infeed since the pass before, radial, mm; 0 for a spring pass.
    pub depth_mm: f64,
    /// `K = dF/d(depth)`, N/mm, force factor included.
    pub stiffness_n_per_mm: f64,
}

/// Diameter left over by a steady cut, mm: `2·F·C(z)`, force in N, compliance in mm/N (see [`super::support::Support`]).
///
/// Steady means that the passes before had the same infeed, so that the real depth equals the set one.
/// Example: 100 N on the end of a 25 mm steel bar 200 mm out of a rigid chuck: 2 · 67.51 = 135.0 µm.
#[must_use]
pub fn steady_mm(force_n: f64, compliance_mm_per_n: f64) -> f64 {
    2.0 * force_n * compliance_mm_per_n
}

/// Share of what should have been removed that a pass leaves: `ε = K/(K + k)`, `k = 1/C` the stiffness at the tool.
#[must_use]
pub fn share_left(stiffness_n_per_mm: f64, compliance_mm_per_n: f64) -> f64 {
    let product = stiffness_n_per_mm * compliance_mm_per_n;
    product / (1.0 + product)
}

/// Diameter left over by one more pass, mm: `defl_n = ε(2·infeed_n + defl_(n−1))`.
///
/// The tool meets its infeed and what the pass before left; the force is linear in the depth that it really takes. A spring
/// pass (infeed 0) leaves `ε·defl_(n−1)`, which is not nothing.
#[must_use]
pub fn after_pass_mm(pass: Infeed, compliance_mm_per_n: f64, left_before_mm: f64) -> f64 {
    share_left(pass.stiffness_n_per_mm, compliance_mm_per_n) * (2.0 * pass.depth_mm.max(0.0) + left_before_mm)
}

/// Diameter left over by the last of `passes`, mm, taken in cutting order at one station.
///
/// Before the first logged pass the bar is taken to have been cut the same way (steady state, so a series of equal passes
/// leaves [`steady_mm`] each time). Nothing is left over by no pass.
///
/// Example: `K` = 100 N/mm on `C` = 0.001 mm/N, two passes 0.05 deep: 10 µm; a spring pass then leaves 10 · 0.1/1.1 = 0.91 µm.
///
/// ```
/// # use taperwright::physics::deflection::{Infeed, left_by_mm};
/// let cut = |depth_mm| Infeed { depth_mm, stiffness_n_per_mm: 100.0 };
/// assert!((left_by_mm(&[cut(0.05), cut(0.05)], 0.001) - 0.010).abs() < 1e-12);
/// assert!((left_by_mm(&[cut(0.05), cut(0.0)], 0.001) - 0.010 / 11.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn left_by_mm(passes: &[Infeed], compliance_mm_per_n: f64) -> f64 {
    let Some(first) = passes.first() else { return 0.0 };
    let steady = steady_mm(first.stiffness_n_per_mm * first.depth_mm.max(0.0), compliance_mm_per_n);
    passes.iter().skip(1).fold(steady, |left, pass| after_pass_mm(*pass, compliance_mm_per_n, left))
}
