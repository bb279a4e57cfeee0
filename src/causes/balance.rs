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

fn is_same(cut: &Cut, like: &Cut) -> bool {
    cut.direction == like.direction && cut.depth_mm == like.depth_mm && cut.feed_mm_per_rev == like.feed_mm_per_rev
}

/// What the zeros of unlike gauges leave in the difference between the ends, mm²: the sum over the gauges of the squared difference of their shares of the readings
/// at each end times the variance of their calibration (JCGM 100:2008, 5.1.3); the readings of `setting` cut like `like`.
fn zeros_mm2(trial: &Trial, setting: u32, like: &Cut, (first, last): (f64, f64)) -> f64 {
    let mut shares: BTreeMap<Option<&str>, [f64; 2]> = BTreeMap::new();
    let mut counts = [0.0; 2];
    let log = &trial.diameters;
    for row in (0..log.len()).filter(|row| log.is_used(*row)) {
        let (cut, station_mm) = (log.cut(row), log.station_mm(row));
        let end = [first, last].iter().position(|z| (station_mm - z).abs() < 1e-6);
        let Some(end) = end.filter(|_| cut.setting == setting && is_same(cut, like)) else { continue };
        let (count, _) = log.stands_for(row);
        shares.entry(trial.gauge.diameter_name(log.gauge(row).map(AsRef::as_ref))).or_default()[end] += count;
        counts[end] += count;
    }
    let of_gauge = |(name, own): (&Option<&str>, &[f64; 2])| {
        let difference = own[1] / counts[1] - own[0] / counts[0];
        (difference * trial.gauge.diameter_gauge(*name).calibration_u_mm).powi(2)
    };
    if counts[0] > 0.0 && counts[1] > 0.0 { shares.iter().map(of_gauge).sum() } else { 0.0 }
}

/// One row for each setting and direction cut: lightest pass of that direction and all passes cut like it.
///
/// Like it are passes of the same cut of which the model says the same as well: a light pass right after a heavy one carries what that one left, a later edge
/// wears by its own rate; such passes are left out, since the sum of the contributions is not theirs. Measured: mean over those passes of the diameter at the last station of the common tested length minus that at the first. The uncertainty of
/// the unexplained part combines the readings' noise, the zeros of unlike gauges and spread between passes with the posterior of the sum. Directions
/// in which no pass was read at both ends are left out.
pub(super) fn balances(trial: &Trial, design: &Design, posterior: &Posterior) -> Vec<Balance> {
    let mut rows = Vec::new();
    let draws = posterior.some_draws(DRAWS);
    let mut bending = design.model.bending.clone();
    let levels = posterior.draws.first().map_or(0, |draw| draw.values.noise.len());
    let noise: Vec<f64> = (0..levels)
        .map(|level| posterior.draws.iter().map(|d| d.values.noise_variance(level)).sum::<f64>() / posterior.len().max(1) as f64)
        .collect();
    // the cut of each pass is that of its first reading
    let mut cuts: BTreeMap<(u32, u32), &Cut> = BTreeMap::new();
    for cut in trial.diameters.used_cuts(|_| true) {
        cuts.entry((cut.setting, cut.pass)).or_insert(cut);
    }
    for reference in &design.references {
        let (first, last) = (reference.stations[reference.ends.0], reference.stations[reference.ends.1]);
        let Some(like) = cuts.get(&(reference.setting, reference.pass)) else { continue };
        let mut differences = Vec::new();
        let mut readings_mm2 = 0.0;
        let mut spread_mm2 = 0.0;
        for block in design.logged.iter().filter(|l| l.log == Log::Diameters && l.setting == reference.setting) {
            let same = block.pass.and_then(|pass| cuts.get(&(block.setting, pass))).is_some_and(|cut| is_same(cut, like));
            if !same || block.pass != Some(reference.pass) && !is_alike(block, reference, &draws, &mut bending) {
                continue;
            }
            let mean_at = |z: f64| {
                let readings = block.stations.iter().zip(&block.rows.readings).zip(&block.rows.variance).zip(&block.rows.noise);
                let there = readings.filter(|(((s, _), _), _)| (**s - z).abs() < 1e-6);
                // a mean of n readings has variance 1/n of the gauge's noise
                let (sum, count, square) = there.fold((0.0, 0.0, 0.0), |(sum, count, square), (((_, d), v), level)| {
                    (sum + d / v, count + 1.0 / v, square + noise.get(*level).copied().unwrap_or(0.0) / v)
                });
                (count > 0.0).then(|| (sum / count, square / (count * count)))
            };
            if let (Some((low, n)), Some((high, m))) = (mean_at(first), mean_at(last)) {
                let together = block.passes;
                differences.push((1000.0 * (high - low), together));
                readings_mm2 += together * together * (n + m);
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
        let zeros_mm2 = zeros_mm2(trial, reference.setting, like, (first, last));
        let measured_variance = 1e6 * ((readings_mm2 + spread_mm2) / (passes * passes) + zeros_mm2);
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

    /// Three readings at each end; the far end is read by two gauges, a third of it by one of its own: (0 − 1/3)²u² + (1 − 2/3)²u'².
    #[test]
    fn zeros_of_gauges_that_read_unlike_ends() {
        let mut trial = fixture::of_depths(&[0.05, 0.05, 0.05]);
        let mut other = trial.gauge.diameter.clone();
        (other.calibration_u_mm, trial.gauge.diameter.calibration_u_mm) = (0.006, 0.003);
        trial.gauge.diameter_named = [("other".to_string(), other)].into();
        trial.gauge.diameter.name = Some("bench".to_string());
        let far = |reading: &crate::trial::DiameterReading| reading.station_mm > 150.0;
        let with = |name: &dyn Fn(&crate::trial::DiameterReading) -> Option<&'static str>| {
            let named =
                |reading: crate::trial::DiameterReading| crate::trial::DiameterReading { gauge: name(&reading).map(Into::into), ..reading };
            let trial = Trial { diameters: trial.diameters.iter().map(named).collect(), ..trial.clone() };
            zeros_mm2(&trial, 0, trial.diameters.cut(0), (20.0, 200.0))
        };
        let near = |found: f64, by_hand: f64| (found - by_hand).abs() < 1e-15;
        let third = with(&|reading| (far(reading) && reading.pass == 3).then_some("other"));
        let by_hand = (0.003_f64 / 3.0).powi(2) + (0.006_f64 / 3.0).powi(2);
        assert!(near(third, by_hand) && !near(third, 1.001 * by_hand), "{third} {by_hand}");
        assert!(near(with(&|reading| far(reading).then_some("other")), 0.003_f64.powi(2) + 0.006_f64.powi(2)));
        // alike at both ends, the default gauge by its name, and one without a table
        assert_eq!(with(&|reading| (reading.pass == 3).then_some("other")), 0.0);
        assert_eq!(with(&|reading| far(reading).then_some("bench")), 0.0);
        assert!(near(with(&|reading| far(reading).then_some("loan")), 2.0 * 0.003_f64.powi(2)));
        // an end that nobody read, and readings of another setting
        for ends in [(20.0, 205.0), (15.0, 200.0), (15.0, 205.0)] {
            assert_eq!(zeros_mm2(&trial, 0, trial.diameters.cut(0), ends), 0.0);
        }
        let moved = |reading: crate::trial::DiameterReading| crate::trial::DiameterReading {
            gauge: far(&reading).then(|| "other".into()),
            setting: 1,
            ..reading
        };
        let others: Vec<_> = trial.diameters.iter().map(moved).collect();
        trial.diameters.extend(others);
        assert_eq!(zeros_mm2(&trial, 0, trial.diameters.cut(0), (20.0, 200.0)), 0.0);
        // what they leave is part of the balance's uncertainty
        let u_um2 = |calibration_mm: f64| {
            let mut trial = trial.clone();
            trial.diameters = trial.diameters.iter().filter(|reading| reading.setting == 1).collect();
            trial.gauge.diameter.calibration_u_mm = calibration_mm;
            let design = design(&trial).unwrap();
            let posterior = fixture::posterior(&design, vec![draw_of(&design, 0.2)], BTreeMap::new());
            balances(&trial, &design, &posterior)[0].standard_uncertainty_um.powi(2)
        };
        let grown = u_um2(0.005) - u_um2(0.001);
        assert!((grown - 24.0).abs() < 1e-6, "5² − 1² µm²: {grown}");
    }
}
