//! Changes of sign between neighbouring residuals of a fit: the runs test for residuals.

use super::distributions::normal_two_sided_p;
use super::repeated::{RunBasis, RunRows};

/// Pairs above which the count is taken as normal rather than by its exact distribution.
const EXACT_UP_TO: usize = 2_000;

/// Changes of sign between neighbours, against what uncorrelated noise leaves in residuals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SignChanges {
    /// Pairs of neighbours looked at.
    pub pairs: usize,
    /// Changes of sign among them; runs are one more in each unbroken series.
    pub changes: usize,
    /// Changes expected.
    pub expected: f64,
    /// `(changes − expected)/sd`; negative where residuals keep to one side.
    pub z: f64,
    /// Two-sided tail probability: twice the smaller tail, at most 1.
    pub p: f64,
}

/// Counts changes of sign between neighbouring `residuals` (n) of a fit with the column space `basis` and compares the count with uncorrelated normal noise.
///
/// Residuals of a fit are correlated even where the noise is not: `ρ = −hᵢⱼ/√((1 − hᵢ)(1 − hⱼ))`, so a pair changes sign with
/// probability `arccos(ρ)/π` (Sheppard 1899, the normal orthant) and not one half; with a few readings a pass and a level and slope
/// for each, the plain runs test finds something far too often. The pairs' changes are summed as independent (the sum of unequal binary trials,
/// exact up to 2,000 pairs, normal with a correction for continuity above, which is right to 6 parts in 10⁴ of p there). No pair is taken from one block to the next; one with a residual of 0 or a leverage of 1 is
/// left out. `None` below six pairs.
#[must_use]
pub fn sign_changes(rows: &impl RunRows, basis: &RunBasis, residuals: impl Iterator<Item = f64>) -> Option<SignChanges> {
    let mut residuals = residuals;
    let mut tally = Tally::default();
    let (mut row, mut here) = (basis.scratch(), vec![0.0; basis.width()]);
    let mut before = vec![0.0; basis.width()];
    for block in 0..rows.blocks() {
        let mut last: Option<(f64, f64)> = None;
        for run in rows.block(block) {
            basis.at(rows, block, run, &mut row, &mut here);
            let root = rows.weight(run).sqrt();
            here.iter_mut().for_each(|value| *value *= root);
            let leverage: f64 = here.iter().map(|value| value * value).sum();
            let into = last.map(|(_, other)| {
                let hat: f64 = before.iter().zip(&here).map(|(a, b)| a * b).sum();
                probability(hat, (1.0 - other) * (1.0 - leverage))
            });
            let within = if rows.count(run) > 1 { probability(leverage, (1.0 - leverage) * (1.0 - leverage)) } else { None };
            let mut chance = into.flatten();
            for _ in rows.readings(run) {
                let e = residuals.next()?;
                if let (Some((first, _)), Some(chance)) = (last, chance)
                    && first != 0.0
                    && e != 0.0
                {
                    tally.add(chance, first.signum() != e.signum());
                }
                last = Some((e, leverage));
                chance = within;
            }
            std::mem::swap(&mut before, &mut here);
        }
    }
    tally.test()
}

/// Probability that a pair of residuals changes sign; `None` where a leverage is 1.
fn probability(hat: f64, room: f64) -> Option<f64> {
    (room >= 1e-12).then(|| (-hat / room.sqrt()).clamp(-1.0, 1.0).acos() / std::f64::consts::PI)
}

/// Pairs so far.
#[derive(Debug, Default)]
struct Tally {
    pairs: usize,
    changes: usize,
    expected: f64,
    variance: f64,
    /// The first of the pairs' probabilities, one more than the exact distribution is made for.
    probabilities: Vec<f64>,
}

impl Tally {
    fn add(&mut self, chance: f64, changes: bool) {
        self.pairs += 1;
        self.changes += usize::from(changes);
        self.expected += chance;
        self.variance += chance * (1.0 - chance);
        if self.probabilities.len() <= EXACT_UP_TO {
            self.probabilities.push(chance);
        }
    }

    fn test(self) -> Option<SignChanges> {
        if self.pairs < 6 {
            return None;
        }
        let away = self.changes as f64 - self.expected;
        let in_sd = |distance: f64| if self.variance > 0.0 { distance / self.variance.sqrt() } else { 0.0 };
        let z = in_sd(away);
        let p = if self.pairs <= EXACT_UP_TO {
            exact(&self.probabilities, self.changes)
        } else {
            // a whole number stands for all that lies within half of it
            normal_two_sided_p(in_sd((away.abs() - 0.5).max(0.0)))?
        };
        Some(SignChanges { pairs: self.pairs, changes: self.changes, expected: self.expected, z, p })
    }
}

/// Twice the smaller tail of a sum of independent binary trials with unequal probabilities, at most 1.
fn exact(probabilities: &[f64], count: usize) -> f64 {
    let mut weights = vec![0.0; probabilities.len() + 1];
    weights[0] = 1.0;
    for (done, p) in probabilities.iter().enumerate() {
        for k in (0..=done + 1).rev() {
            let from_below = if k > 0 { weights[k - 1] * p } else { 0.0 };
            weights[k] = weights[k] * (1.0 - p) + from_below;
        }
    }
    let lower: f64 = weights.iter().take(count + 1).sum();
    let upper: f64 = weights.iter().skip(count).sum();
    (2.0 * lower.min(upper)).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::{Dense, RunFit, RunSums};
    use nalgebra::DMatrix;

    /// Equal probabilities make it the binomial distribution: of 10 fair trials 2 or fewer have probability 56/1024.
    #[test]
    fn equal_trials_are_binomial() {
        assert!((exact(&[0.5; 10], 2) - 2.0 * 56.0 / 1024.0).abs() < 1e-15);
        assert!((exact(&[0.5; 10], 8) - 2.0 * 56.0 / 1024.0).abs() < 1e-15);
    }

    /// Deviations of three values from their mean have correlation −1/2, so neighbours change sign with probability arccos(−1/2)/π = 2/3.
    #[test]
    fn correlation_of_deviations_from_a_mean() {
        let design = DMatrix::from_fn(9, 3, |row, column| f64::from(u8::from(row / 3 == column)));
        let response = [1.0, -1.0, 0.5, 2.0, -3.0, 1.5, 0.1, 0.7, -0.4];
        let rows = Dense::new(&design, &[3, 6]);
        let fit = RunFit::of(&rows, &RunSums::of_rows(&rows, &response));
        let found = sign_changes(&rows, &fit.basis, fit.residuals(&rows, &response)).unwrap();
        assert_eq!(found.pairs, 6);
        assert!((found.expected - 6.0 * 2.0 / 3.0).abs() < 1e-12);
    }

    fn tally(pairs: usize, changes: usize, chance: f64) -> SignChanges {
        let mut tally = Tally::default();
        (0..pairs).for_each(|pair| tally.add(chance, pair < changes));
        tally.test().unwrap()
    }

    /// Up to 2,000 pairs the tail is that of the binomial distribution, beyond that of the normal one with a correction for continuity, which is near it: scipy 1.17.1,
    /// `stats.binom` and `stats.norm`.
    #[test]
    fn two_thousand_pairs_are_the_last_that_are_counted_exactly() {
        let near = |found: f64, expected: f64| (found - expected).abs() <= 1e-11 * expected;
        for (changes, p) in [(960, 0.077_286_890_562_668_59), (1030, 0.187_061_889_771_294_73)] {
            assert!(near(tally(2000, changes, 0.5).p, p));
        }
        // p with the correction, and the binomial distribution's own
        for (pairs, changes, p, own) in [
            (2001, 960, 0.073_710_313_605_618_51, 0.073_683_911_105_375_53),
            (2001, 1045, 0.049_154_618_698_255_36, 0.049_127_515_656_802_53),
            (10_001, 4900, 0.045_511_062_359_575_354, 0.045_505_663_375_514_656),
            (2001, 1000, 1.0, 1.0),
        ] {
            let found = tally(pairs, changes, 0.5);
            assert!(near(found.p, p) && (found.p / own - 1.0).abs() < 6e-4, "{found:?}");
            assert!(own == 1.0 || !near(found.p, own), "the exact tail is told from it");
        }
        // the normal tail without the correction
        assert!(!near(tally(2001, 960, 0.5).p, 0.070_177_634_643_657_91));
    }

    /// Signs that must change say nothing: there is no scatter to count in.
    #[test]
    fn changes_that_are_certain_have_no_deviation() {
        let certain = tally(6, 6, 1.0);
        assert_eq!((certain.expected, certain.z, certain.p), (6.0, 0.0, 1.0));
    }
}
