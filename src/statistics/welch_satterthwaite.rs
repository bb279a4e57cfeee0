//! Effective degrees of freedom of a combined uncertainty.

/// Combined standard uncertainty `√Σu²` of independent components and its effective degrees of freedom (Welch–Satterthwaite; JCGM 100:2008, G.2b):
/// `u⁴/Σ(uᵢ⁴/νᵢ)`.
///
/// `components` are `(standard uncertainty, degrees of freedom)`, all in the unit of the result; `None` = exactly known, and comes back when every
/// component that counts is. The whole is `None` when an uncertainty is negative or not finite, or a number of degrees of freedom is not above 0.
/// (3, 4 dof) and (4, infinite) give 5 and 625/(81/4) = 30.86.
#[must_use]
pub fn welch_satterthwaite(components: &[(f64, Option<f64>)]) -> Option<(f64, Option<f64>)> {
    let sensible = components.iter().all(|(u, dof)| *u >= 0.0 && u.is_finite() && dof.is_none_or(|d| d > 0.0));
    let combined = components.iter().fold(0.0_f64, |sum, (u, _)| sum.hypot(*u));
    if !sensible || !combined.is_finite() {
        return None;
    }
    if combined == 0.0 {
        return Some((0.0, None));
    }
    let mut sum = 0.0;
    for (u, dof) in components {
        if let Some(dof) = dof.filter(|d| d.is_finite()) {
            sum += (u / combined).powi(4) / dof;
        }
    }
    Some((combined, (sum > 0.0).then(|| 1.0 / sum).filter(|d| d.is_finite())))
}
