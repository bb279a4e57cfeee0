//! What the contributions add up to, against the end difference that was measured.

use super::bending::Bending;
use super::block::Rows;
use super::design::{Design, Log, LoggedRows};
use super::posterior::{Draw, DrawnContribution, Posterior, summary};
use super::reference::Reference;
use super::values::{Balance, CauseKind};
use crate::trial::{Cut, Trial};
use std::collections::BTreeMap;

/// Passes are compared where the model makes their end differences the same within this share of the noise of one reading (root mean square over draws).
const ALIKE: f64 = 0.25;
/// Draws over which that is judged.
const DRAWS: usize = 48;

/// End difference of a block between two of its readings by the causes alone, mm: errors common to all passes are none of them.
fn end_difference_mm(rows: &Rows, (low, high): (usize, usize), draw: &Draw, bending: &Bending) -> f64 {
    let rise = |values: &[f64]| values.get(high).zip(values.get(low)).map_or(0.0, |(high, low)| high - low);
    let bent = rows.bent.as_ref().map_or(0.0, |(first, count, at)| {
        let curve = bending.curve(*first, *count);
        let there = |reading: usize| at.get(reading).and_then(|place| curve.get(*place)).copied().unwrap_or(0.0);
        there(high) - there(low)
    });
    let linear = rows.columns.iter().filter(|column| column.cause.is_some()).map(|column| {
        let own: f64 = column.targets.iter().map(|(t, f)| f * draw.unknowns.get(*t).copied().unwrap_or(0.0)).sum();
        draw.values.scale(column.scale) * (own + draw.values.known(column.known)) * rise(&column.values)
    });
    bent + linear.sum::<f64>()
}

/// Whether the model makes the end difference of a block that of the reference pass, in `draws`.
fn is_alike(block: &LoggedRows, reference: &Reference, draws: &[&Draw], bending: &mut Bending) -> bool {
    let Some(ends) = reference.ends_in(&block.stations) else { return false };
    let (mut square, mut noise) = (0.0, 0.0);
    for draw in draws {
        bending.fill(&draw.values);
        let of_reference: f64 = CauseKind::ALL.iter().map(|cause| reference.end_difference_of(*cause, &draw.values, &draw.unknowns)).sum();
        square += (end_difference_mm(&block.rows, ends, draw, bending) - of_reference).powi(2);
        noise += block.rows.noise.get(ends.0).map_or(0.0, |level| draw.values.noise_variance(*level));
    }
    square <= ALIKE * ALIKE * noise
}

/// One row for each setting and direction cut: lightest pass of that direction and all passes cut like it.
///
/// Like it are passes of the same cut of which the model says the same as well: a light pass right after a heavy one carries what that one left, a later edge
/// wears by its own rate; such passes are left out, since the sum of the contributions is not theirs. Measured: mean over those passes of the diameter at the last station of the common tested length minus that at the first. The uncertainty of
/// the unexplained part combines the readings' noise and spread between passes with the posterior of the sum. Directions
/// in which no pass was read at both ends are left out.
pub(super) fn balances(trial: &Trial, design: &Design, posterior: &Posterior) -> Vec<Balance> {
    let mut rows = Vec::new();
    let draws = posterior.some_draws(DRAWS);
    let mut bending = design.model.bending.clone();
    // the cut of each pass is that of its first reading
    let mut cuts: BTreeMap<(u32, u32), &Cut> = BTreeMap::new();
    for cut in trial.diameters.used_cuts(|_| true) {
        cuts.entry((cut.setting, cut.pass)).or_insert(cut);
    }
    for reference in &design.references {
        let (first, last) = (reference.stations[reference.ends.0], reference.stations[reference.ends.1]);
        let Some(like) = cuts.get(&(reference.setting, reference.pass)) else { continue };
        let mut differences = Vec::new();
        let mut readings = 0.0;
        let mut spread_mm2 = 0.0;
        for block in design.logged.iter().filter(|l| l.log == Log::Diameters && l.setting == reference.setting) {
            let same = block
                .pass
                .and_then(|pass| cuts.get(&(block.setting, pass)))
                .is_some_and(|r| r.direction == like.direction && r.depth_mm == like.depth_mm && r.feed_mm_per_rev == like.feed_mm_per_rev);
            if !same || block.pass != Some(reference.pass) && !is_alike(block, reference, &draws, &mut bending) {
                continue;
            }
            let mean_at = |z: f64| {
                let there =
                    block.stations.iter().zip(&block.rows.readings).zip(&block.rows.variance).filter(|((s, _), _)| (**s - z).abs() < 1e-6);
                // a mean of n readings has variance 1/n
                let (sum, count) = there.fold((0.0, 0.0), |(sum, count), ((_, d), v)| (sum + d / v, count + 1.0 / v));
                (count > 0.0).then(|| (sum / count, count))
            };
            if let (Some((low, n)), Some((high, m))) = (mean_at(first), mean_at(last)) {
                let together = block.passes;
                differences.push((1000.0 * (high - low), together));
                readings += together * together * (1.0 / n + 1.0 / m);
                // Random slope over the tested length: x goes from −1 to 1 (or less, where settings differ in length).
                for (spread, values) in &block.rows.random {
                    let at = |z: f64| block.stations.iter().position(|s| (*s - z).abs() < 1e-6).and_then(|i| values.get(i)).copied();
                    if let (Some(a), Some(b)) = (at(first), at(last)) {
                        let mean = posterior.draws.iter().map(|d| spread.variance(&d.values)).sum::<f64>() / posterior.len().max(1) as f64;
                        spread_mm2 += (together * (b - a)).powi(2) * mean;
                    }
                }
            }
        }
        if differences.is_empty() {
            continue;
        }
        let passes: f64 = differences.iter().map(|(_, together)| together).sum();
        let end_difference_um = differences.iter().map(|(difference, together)| difference * together).sum::<f64>() / passes;
        let known = |cause: &CauseKind| posterior.contributions.get(&(reference.setting, *cause)).filter(|_| reference.main);
        let drawn: Option<Vec<&DrawnContribution>> = CauseKind::ALL.iter().map(known).collect();
        let sums: Vec<f64> = match drawn {
            Some(drawn) => (0..posterior.len()).map(|i| drawn.iter().map(|c| c.end_difference_um[i]).sum()).collect(),
            // The way that is not shown was not drawn.
            None => {
                let of = |draw: &Draw| {
                    CauseKind::ALL.iter().map(|cause| 1000.0 * reference.end_difference_of(*cause, &draw.values, &draw.unknowns)).sum()
                };
                posterior.draws.iter().map(of).collect()
            }
        };
        let Some(sum) = summary(&sums) else { continue };
        let noise = posterior.draws.iter().map(|d| d.values.noise[0]).sum::<f64>() / posterior.len().max(1) as f64;
        let measured_variance = 1e6 * (noise * readings + spread_mm2) / (passes * passes);
        rows.push(Balance {
            setting: reference.setting,
            direction: reference.direction,
            end_difference_um,
            sum_um: sum.estimate,
            sum_interval95_um: sum.interval95,
            unexplained_um: end_difference_um - sum.estimate,
            standard_uncertainty_um: (measured_variance + sum.standard_uncertainty.powi(2)).sqrt(),
        });
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::design::design;
    use crate::causes::fixture;
    use crate::trial::Holding;

    fn draw_of(design: &Design, deviate: f64) -> Draw {
        let unknowns = (0..design.model.unknowns.len()).map(|i| 0.01 + 0.003 * i as f64).collect();
        let values = design.model.hypers.values(&vec![deviate; design.model.hypers.len()]);
        Draw { deviates: Vec::new(), subset: 0, unknowns, values }
    }

    /// The end difference that the readings' columns and bending make is the sum of the causes' curves, with a move between the settings and a bar that bends.
    #[test]
    fn a_pass_differs_by_what_its_causes_add_up_to() {
        for holding in [Holding::Chuck, Holding::Centres, Holding::ChuckAndCentre] {
            let design = design(&fixture::everything(holding)).unwrap();
            let draw = draw_of(&design, 0.7);
            let mut bending = design.model.bending.clone();
            bending.fill(&draw.values);
            assert_eq!(design.references.len(), 4);
            for reference in &design.references {
                let own = |l: &&LoggedRows| l.log == Log::Diameters && (l.setting, l.pass) == (reference.setting, Some(reference.pass));
                let block = design.logged.iter().find(own).unwrap();
                let found = end_difference_mm(&block.rows, reference.ends_in(&block.stations).unwrap(), &draw, &bending);
                let parts = CauseKind::ALL.map(|cause| reference.end_difference_of(cause, &draw.values, &draw.unknowns));
                let near = |mm: f64| (mm - parts.iter().sum::<f64>()).abs() < 1e-12;
                assert!(near(found), "{holding:?}: {found} {parts:?}");
                assert!(parts.iter().filter(|part| **part != 0.0).all(|part| !near(found - part)), "the comparison must see each cause");
                assert!(parts.iter().filter(|part| **part != 0.0).count() > 2);
            }
        }
    }

    /// A light pass after a heavy one is alike while the spring that it carries is less than a quarter of the noise of one reading.
    #[test]
    fn passes_are_alike_within_a_quarter_of_the_noise() {
        let design = design(&fixture::of_depths(&[0.05, 0.2, 0.05])).unwrap();
        let reference = design.references.iter().find(|r| r.main).unwrap();
        let block = design.logged.iter().find(|l| l.pass == Some(3)).unwrap();
        let mut bending = design.model.bending.clone();
        let mut draw = draw_of(&design, 0.7);
        bending.fill(&draw.values);
        let own: f64 = CauseKind::ALL.iter().map(|cause| reference.end_difference_of(*cause, &draw.values, &draw.unknowns)).sum();
        let carried = end_difference_mm(&block.rows, reference.ends_in(&block.stations).unwrap(), &draw, &bending) - own;
        assert!(carried.abs() > 1e-4, "{carried} mm");
        let mut is_alike_at = |share_of_noise: f64| {
            draw.values.noise.fill((carried / share_of_noise).powi(2));
            is_alike(block, reference, &[&draw], &mut bending)
        };
        assert!(is_alike_at(0.24) && !is_alike_at(0.26) && !is_alike_at(0.9));
    }
}
