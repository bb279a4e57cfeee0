//! How much each reading pulls on a fit.

use super::least_squares::Fit;

/// Leverage so near 1 that the reading fits itself and says nothing about itself.
pub(super) const FITS_ITSELF: f64 = 1.0 - 1e-9;

/// Influence of every reading of a fit, in the order of its rows. An entry is `None` where the fit passes through the reading whatever it is
/// (leverage 1), where too few degrees of freedom are left, or where the other readings fit exactly.
#[derive(Debug, Clone, PartialEq)]
pub struct Influence {
    /// Internally studentised residual `e/(s√(1 − h))`.
    pub internally_studentised: Vec<Option<f64>>,
    /// Externally studentised residual `e/(s₍ᵢ₎√(1 − h))`, with `s₍ᵢ₎` from the fit without the reading: Student's t with dof − 1.
    pub externally_studentised: Vec<Option<f64>>,
    /// Cook's distance `e²h/(p s²(1 − h)²)`.
    pub cook: Vec<Option<f64>>,
}

/// Influence measures of a fit (Belsley, Kuh & Welsch 1980, chapter 2; Cook 1977), from leverage alone, without refitting.
///
/// `s₍ᵢ₎² = (RSS − e²/(1 − h))/(dof − 1)`; for a weighted fit `e` is `√w` times the residual.
#[must_use]
pub fn influence(fit: &Fit) -> Influence {
    let n = fit.residuals().len();
    let dof = fit.dof() as f64;
    let rss = fit.residual_sum_of_squares();
    let terms = fit.rank() as f64;
    let mut result = Influence {
        internally_studentised: Vec::with_capacity(n),
        externally_studentised: Vec::with_capacity(n),
        cook: Vec::with_capacity(n),
    };
    for (i, (residual, leverage)) in fit.residuals().iter().zip(fit.leverage()).enumerate() {
        let weight = fit.weights().and_then(|w| w.get(i)).copied().unwrap_or(1.0);
        let e = residual * weight.sqrt();
        let rest = 1.0 - leverage;
        let usable = *leverage < FITS_ITSELF && weight > 0.0 && dof > 0.0 && !fit.fits_exactly();
        let standardised = e / rest.sqrt();
        let variance = rss / dof;
        result.internally_studentised.push(usable.then(|| standardised / variance.sqrt()));
        result.cook.push(usable.then(|| standardised * standardised * leverage / (rest * terms * variance)));
        let left = rss - standardised * standardised;
        let external = usable && dof > 1.0 && left > rss * 1e-14;
        result.externally_studentised.push(external.then(|| standardised / (left / (dof - 1.0)).sqrt()));
    }
    result
}
