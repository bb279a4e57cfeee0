//! Normal deviates, and picking by weight.

pub(super) use crate::statistics::distributions::{normal_of_uniform, standard_normal};

/// Picks `count` indices by weight with equal spacing (systematic resampling): each comes up within one of its expected number.
///
/// `start` in [0, 1) places the comb. Weights need not add up to one; none of them negative.
pub(super) fn systematic(weights: impl Iterator<Item = f64> + Clone, count: usize, start: f64) -> Vec<usize> {
    let total: f64 = weights.clone().sum();
    let mut picked = Vec::with_capacity(count);
    let mut rest = weights;
    let (mut at, mut passed) = (0, rest.next().unwrap_or(0.0));
    for i in 0..count {
        let goal = (i as f64 + start) / count as f64 * total;
        while passed <= goal
            && let Some(next) = rest.next()
        {
            at += 1;
            passed += next;
        }
        picked.push(at);
    }
    picked
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn systematic_picks_by_weight() {
        let picked = systematic([0.0, 3.0, 1.0, 0.0, 4.0].into_iter(), 8, 0.5);
        assert_eq!(picked, [1, 1, 1, 2, 4, 4, 4, 4]);
    }

    /// A tooth of the comb on the boundary between two belongs to the second, so that what has no weight is never picked.
    #[test]
    fn what_has_no_weight_is_never_picked() {
        assert_eq!(systematic([0.0, 1.0, 0.0, 1.0].into_iter(), 2, 0.0), [1, 3]);
    }
}
