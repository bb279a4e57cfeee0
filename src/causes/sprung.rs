//! Passes of the finishing cut that carry what a deeper pass before them left.

use super::bending::ChainPass;
use super::design::Design;
use super::hyper::Values;
use super::posterior::{Draw, Posterior};
use super::reference::Reference;
use super::rows::{chain_of, rigid_support};
use super::verdict::threshold_um;
use crate::physics::TurnedPlace;
use crate::physics::deflection::{Infeed, after_pass_mm, steady_mm};
use crate::shape::LightestCut;
use crate::trial::{Direction, Trial};
use std::collections::BTreeMap;

/// Draws over which what a pass carries is averaged.
const DRAWS: usize = 256;

/// A sentence for each setting in which a pass of the finishing cut (the lightest depth and feed above 0) follows a deeper one and differs by that in its end
/// difference by more than the material threshold: the shape gives it the same standing as the others.
pub(super) fn sprung_passes(trial: &Trial, design: &Design, posterior: &Posterior) -> Vec<String> {
    let draws = posterior.some_draws(DRAWS);
    let several = design.references.iter().filter(|r| r.main).count() > 1;
    let mut warnings = Vec::new();
    for reference in design.references.iter().filter(|r| r.main) {
        let threshold = threshold_um(trial, design, reference.setting);
        let carrying: Vec<(u32, f64)> = carried_um(trial, reference, &draws).into_iter().filter(|(_, um)| um.abs() > threshold).collect();
        let Some(most) = carrying.iter().map(|(_, um)| um.abs()).reduce(f64::max) else { continue };
        let names: Vec<String> = carrying.iter().map(|(pass, _)| pass.to_string()).collect();
        let (passes, was, carry, it) = match names.split_last() {
            Some((last, [])) => (format!("Pass {last}"), "was", "carries", "it"),
            Some((last, rest)) => (format!("Passes {} and {last}", rest.join(", ")), "were", "carry", "them"),
            None => continue,
        };
        let setting = if several { format!(" of setting {}", reference.setting) } else { String::new() };
        warnings.push(format!(
            "{passes}{setting} {was} cut after a deeper one and {carry} part of what that one left, up to about {most:.1} µm of the end difference. The taper \
             counts {it} like every pass of the lightest cut: take another light pass and exclude {it}, or cut the heavy pass last. The sum of the \
             causes is that of pass {}, and is compared with passes like it only.",
            reference.pass
        ));
    }
    warnings
}

/// The used passes of the finishing cut that come after a deeper pass of their setting: number, and mean over `draws` of the end difference that they would not
/// have after passes like themselves, µm.
fn carried_um(trial: &Trial, reference: &Reference, draws: &[&Draw]) -> Vec<(u32, f64)> {
    let (chain, numbers) = chain_of(reference.setting, 0, trial);
    let used: BTreeMap<u32, (f64, f64)> = trial
        .diameters
        .iter()
        .filter(|r| r.setting == reference.setting && r.excluded.is_none())
        .map(|r| (r.pass, (r.depth_mm, r.feed_mm_per_rev)))
        .collect();
    let lightest = LightestCut::of(used.values().copied());
    let support = rigid_support(&trial.bar);
    let Some((low, high)) = reference.stations.get(reference.ends.0).zip(reference.stations.get(reference.ends.1)) else {
        return Vec::new();
    };
    let ends = [support.at(*low), support.at(*high)];
    let mut found = Vec::new();
    for (place, number) in numbers.iter().enumerate() {
        let finishing = used.get(number).is_some_and(|cut| lightest.holds(cut.0, cut.1));
        let passes = chain.passes.get(..=place).unwrap_or(&[]);
        let deeper = passes.iter().any(|pass| lightest.is_below(pass.infeed.depth_mm));
        if finishing && deeper {
            let carried = |at: &TurnedPlace, values: &Values| beyond_steady_mm(passes, at, values);
            let sum: f64 = draws.iter().map(|draw| carried(&ends[1], &draw.values) - carried(&ends[0], &draw.values)).sum();
            found.push((*number, 1000.0 * sum / draws.len().max(1) as f64));
        }
    }
    found
}

/// What bending leaves in the last of `passes` beyond what it would leave after passes like itself, mm of diameter.
fn beyond_steady_mm(passes: &[ChainPass], at: &TurnedPlace, values: &Values) -> f64 {
    let compliance = at.compliance_mm_per_n(&values.compliances);
    let (mut left, mut steady) = (0.0, 0.0);
    for (p, pass) in passes.iter().enumerate() {
        let factor = match pass.direction {
            Direction::ToHeadstock => values.force,
            Direction::ToTailstock => values.force * values.to_tailstock,
        };
        let stiffness_n_per_mm = pass.infeed.stiffness_n_per_mm * factor;
        let cut = Infeed { depth_mm: pass.infeed.depth_mm, stiffness_n_per_mm };
        steady = steady_mm(stiffness_n_per_mm * cut.depth_mm.max(0.0), compliance);
        left = if p == 0 { steady } else { after_pass_mm(cut, compliance, left) };
    }
    left - steady
}

#[cfg(test)]
mod tests {
    use super::super::design::design;
    use super::super::estimate::estimate_causes;
    use super::super::fixture;
    use super::*;
    use crate::physics::deflection::left_by_mm;
    use crate::trial::DiameterReading;

    /// The model's quantities at these deviates.
    fn draw(design: &Design, deviate: f64) -> Draw {
        let values = design.model.hypers.values(&vec![deviate; design.model.hypers.len()]);
        Draw { deviates: Vec::new(), subset: 0, unknowns: vec![0.0; design.model.unknowns.len()], values }
    }

    /// What each pass carries by the mean of these draws, µm.
    fn carried(trial: &Trial, draws: &[&Draw]) -> Vec<(u32, f64)> {
        let design = design(trial).unwrap();
        carried_um(trial, design.references.iter().find(|r| r.main && r.setting == 0).unwrap(), draws)
    }

    /// The trial with all readings changed by `change`.
    fn changed(trial: &Trial, change: impl Fn(&mut DiameterReading)) -> Trial {
        let reading = |mut reading: DiameterReading| {
            change(&mut reading);
            reading
        };
        Trial { diameters: trial.diameters.iter().map(reading).collect(), ..trial.clone() }
    }

    fn names(found: &[(u32, f64)]) -> Vec<u32> {
        found.iter().map(|(pass, _)| *pass).collect()
    }

    #[test]
    fn what_a_pass_carries_is_what_bending_leaves_beyond_its_own() {
        let to_headstock = fixture::of_depths(&[0.05, 0.2, 0.05, 0.05, 0.2]);
        let to_tailstock = changed(&to_headstock, |reading| reading.direction = Direction::ToTailstock);
        for (trial, to_tailstock) in [(to_headstock, false), (to_tailstock, true)] {
            let design = design(&trial).unwrap();
            let reference = design.references.iter().find(|r| r.main).unwrap();
            assert_eq!(reference.pass, 1);
            let draws = [draw(&design, 0.7), draw(&design, -0.4)];
            assert!(!to_tailstock || draws.iter().all(|draw| (draw.values.to_tailstock - 1.0).abs() > 0.05));
            let found = carried_um(&trial, reference, &[&draws[0], &draws[1]]);
            assert_eq!(names(&found), [3, 4]);
            let (chain, _) = chain_of(0, 0, &trial);
            let support = rigid_support(&trial.bar);
            let left = |z: f64, passes: &[ChainPass], values: &Values| {
                let factor = values.force * if to_tailstock { values.to_tailstock } else { 1.0 };
                let force = |pass: &ChainPass| Infeed { stiffness_n_per_mm: pass.infeed.stiffness_n_per_mm * factor, ..pass.infeed };
                left_by_mm(&passes.iter().map(force).collect::<Vec<_>>(), support.at(z).compliance_mm_per_n(&values.compliances))
            };
            for (pass, um) in found {
                let passes = &chain.passes[..pass as usize];
                let beyond = |z: f64, values: &Values| left(z, passes, values) - left(z, &chain.passes[..1], values);
                let expected: f64 = draws.iter().map(|draw| 500.0 * (beyond(200.0, &draw.values) - beyond(20.0, &draw.values))).sum();
                let near = |um: f64| (um / expected - 1.0).abs() < 1e-9;
                assert!(near(um) && !near(1.001 * um), "{pass}: {um} {expected}");
            }
        }
    }

    /// Passes of the lightest cut that is one (depth and feed above 0) are looked at, if they are used; an excluded heavy pass was cut all the same.
    #[test]
    fn passes_of_the_finishing_cut_alone() {
        let trial = fixture::of_depths(&[0.05, 0.2, 0.05, 0.05, 0.0]);
        let draw = draw(&design(&trial).unwrap(), 0.7);
        let of = |change: &dyn Fn(&mut DiameterReading)| names(&carried(&changed(&trial, change), &[&draw]));
        assert_eq!(of(&|_| ()), [3, 4]);
        let exclude = |reading: &mut DiameterReading, pass: u32| reading.excluded = (reading.pass == pass).then(|| "chip".into());
        assert_eq!(of(&|reading| exclude(reading, 3)), [4]);
        assert_eq!(of(&|reading| exclude(reading, 2)), [3, 4]);
        assert_eq!(of(&|reading| reading.feed_mm_per_rev = if reading.pass == 4 { 0.2 } else { 0.1 }), [3]);
        assert_eq!(of(&|reading| reading.feed_mm_per_rev = if reading.pass == 4 { 0.0 } else { 0.1 }), [3]);
        assert_eq!(of(&|reading| reading.feed_mm_per_rev = 0.0), [3, 4]);
    }

    /// Depths of another setting are not this setting's.
    #[test]
    fn settings_are_looked_at_alone() {
        let first = fixture::of_depths(&[0.05, 0.2, 0.05]);
        let draw = draw(&design(&first).unwrap(), 0.7);
        let lighter = changed(&first, |reading| (reading.setting, reading.depth_mm) = (1, 0.5 * reading.depth_mm));
        let mut both = first.clone();
        both.diameters.extend(lighter.diameters.iter());
        let (alone, beside) = (carried(&first, &[&draw]), carried(&both, &[&draw]));
        assert_eq!(names(&beside), [3]);
        assert!((beside[0].1 - alone[0].1).abs() < 1e-9, "{alone:?} {beside:?}");
    }

    /// A light pass after a heavy one is named, and the balance compares the sum with the pass alone that it belongs to; with the heavy pass last nothing is
    /// said, and the mean of both light ones is compared.
    #[test]
    fn a_light_pass_after_a_heavy_one_is_named() {
        let end = |trial: &Trial, pass: u32| {
            let at = |z: f64| trial.diameters.iter().find(|r| r.pass == pass && r.station_mm == z).unwrap().diameter_mm;
            1000.0 * (at(200.0) - at(20.0))
        };
        let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
        let trial = fixture::of_depths(&[0.05, 0.2, 0.05]);
        let out = estimate_causes(&trial, 1);
        let warning = out.warnings.iter().find(|w| w.contains("after a deeper one")).expect("a warning");
        assert!(warning.starts_with("Pass 3 was cut") && warning.contains("that of pass 1"), "{warning}");
        let balance = &out.balance[0];
        assert!(near(balance.end_difference_um, end(&trial, 1)), "{balance:?}");
        assert!(!near(balance.end_difference_um, 0.5 * (end(&trial, 1) + end(&trial, 3))), "the comparison must see the mean");
        assert!(balance.unexplained_um.abs() < 2.0 * balance.standard_uncertainty_um, "{balance:?}");

        let trial = fixture::of_depths(&[0.05, 0.05, 0.2]);
        let out = estimate_causes(&trial, 1);
        assert!(!out.warnings.iter().any(|w| w.contains("after a deeper one")), "{:?}", out.warnings);
        let balance = &out.balance[0];
        assert!(near(balance.end_difference_um, 0.5 * (end(&trial, 1) + end(&trial, 2))), "{balance:?}");
    }
}
