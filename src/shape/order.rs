//! How many terms the drawn curve has: F and AICc together.

use super::cut::Cut;
use super::pooled::{PooledFit, pooled_fit};
use super::slopes::Slopes;
use super::{AddedTerms, OrderCandidate};
use crate::statistics::FTest;

/// Compares the orders that the stations allow (never more than distinct stations minus 2, and 1 with two) and chooses one.
///
/// An order is taken over a lower one when its terms together have an F with p below 0.05 **and** its AICc is the smaller
/// (Hurvich, Tsai 1989 for AICc: `n ln(RSS/n) + 2k + 2k(k+1)/(n−k−1)`, `k` counting levels, terms and the variance).
pub(super) fn choose_order<'c>(cut: &'c Cut<'c>, slopes: Slopes) -> Option<(PooledFit<'c>, Vec<OrderCandidate>)> {
    let most = cut.stations.len().saturating_sub(2).clamp(1, 3);
    let fits: Vec<PooledFit<'c>> = (1..=most).map_while(|order| pooled_fit(cut, order, slopes)).collect();
    let mut candidates: Vec<OrderCandidate> = Vec::with_capacity(fits.len());
    let mut chosen = 0;
    for (index, fit) in fits.iter().enumerate() {
        let simpler = index.checked_sub(1).and_then(|i| fits.get(i));
        let against = |square: f64, terms: f64| FTest::of(square, terms, fit.residual_square, fit.dof);
        let test = match simpler {
            Some(simpler) => against(simpler.residual_square - fit.residual_square, 1.0),
            None => against(fit.explained_square(), fit.slots as f64),
        };
        candidates.push(OrderCandidate {
            order: fit.order,
            f: test.map(|t| t.f),
            dof2: test.map(|_| fit.dof),
            p: test.map(|t| t.p),
            added: None,
            aicc: aicc(fit),
            chosen: false,
        });
        if index == 0 {
            continue;
        }
        let (Some(current), Some(best)) = (fits.get(chosen), candidates.get(chosen)) else { continue };
        let joint = against(current.residual_square - fit.residual_square, (index - chosen) as f64);
        let beyond = current.order;
        let better = matches!((aicc(fit), best.aicc), (Some(new), Some(old)) if new < old);
        if better && joint.is_some_and(|t| t.p < 0.05) {
            chosen = index;
        }
        if let Some(candidate) = candidates.get_mut(index) {
            candidate.added = joint.map(|FTest { f, dof1, dof2, p }| AddedTerms { beyond, f, dof1, dof2, p });
        }
    }
    if let Some(candidate) = candidates.get_mut(chosen) {
        candidate.chosen = true;
    }
    Some((fits.into_iter().nth(chosen)?, candidates))
}

fn aicc(fit: &PooledFit<'_>) -> Option<f64> {
    let n = fit.readings() as f64;
    let k = n - fit.dof + 1.0;
    (n - k - 1.0 > 0.0 && fit.residual_square > 0.0)
        .then(|| n * (fit.residual_square / n).ln() + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0))
}
