//! How deep a bar may be cut as it is held: one rule for the plan's passes, its heavy pass, and the heavy pass that the next test suggests.

use crate::physics::cutting_force::radial_stiffness_n_per_mm;
use crate::physics::{Compliances, Support};
use crate::statistics::distributions::NORMAL_975;
use crate::trial::{GOOD_OVERHANG, MOST_OVERHANG, Trial};

/// Radial depth of a light cut at most, mm: half a millimetre off the diameter (common practice, no source).
pub const LIGHT_DEPTH_MM: f64 = 0.25;
/// A cut may push the bar aside by this much, mm, before it lifts, digs in or chatters (common practice, no source).
pub const MOST_PUSH_MM: f64 = 0.05;
/// How many times as deep as the light ones a heavy pass is cut: the first of these that the bar bears.
pub const HEAVY_TIMES: [f64; 3] = [4.0, 3.0, 2.0];
/// Places along the bar at which its yielding is looked at.
const PLACES: u32 = 40;

/// The deepest cut (radial, mm) that the bar of `trial` bears at a feed of `feed_mm_per_rev`, however it is held.
///
/// 0 where it stands out of a chuck by more than [`MOST_OVERHANG`] diameters without a centre. Else the depth at which the radial force pushes the
/// bar aside by [`MOST_PUSH_MM`] where it yields most, `depth = push/(K·q·max C(z))`: `K` by Kienzle for a cut with the nose alone (the larger ratio
/// of radial to main force, so that no deeper cut is borne where a shallower one is not), `q` the upper 95 % bound of the force's factor, `C` the
/// compliance of the bar alone. At more than [`GOOD_OVERHANG`] diameters at most [`LIGHT_DEPTH_MM`]. 0 for a bar of no diameter.
#[must_use]
pub fn deepest_cut_mm(trial: &Trial, feed_mm_per_rev: f64) -> f64 {
    let bar = &trial.bar;
    let out = bar.overhang().unwrap_or(0.0);
    if out > MOST_OVERHANG || bar.diameter_mm <= 0.0 {
        return 0.0;
    }
    let most = if out > GOOD_OVERHANG { LIGHT_DEPTH_MM } else { f64::INFINITY };
    let support = Support::of_bar(bar, Compliances::RIGID);
    let places = (0..=PLACES).map(|step| bar.length_mm * f64::from(step) / f64::from(PLACES));
    let yields = places.map(|z| support.compliance_mm_per_n(z)).fold(0.0, f64::max);
    let nose = radial_stiffness_n_per_mm(bar, 0.0, feed_mm_per_rev, f64::INFINITY);
    let push_per_mm = nose * trial.prior.force_factor.powf(NORMAL_975) * yields;
    if push_per_mm > 0.0 { most.min(MOST_PUSH_MM / push_per_mm) } else { most }
}

/// How many times as deep as `depth_mm` a heavy pass may be: the first of [`HEAVY_TIMES`] that stays within [`deepest_cut_mm`]; `None` where none
/// does, or where nothing is cut.
#[must_use]
pub fn heavy_times(trial: &Trial, depth_mm: f64, feed_mm_per_rev: f64) -> Option<f64> {
    let deepest = deepest_cut_mm(trial, feed_mm_per_rev);
    HEAVY_TIMES.into_iter().find(|times| depth_mm > 0.0 && times * depth_mm <= deepest * (1.0 + 1e-9))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::fixture;
    use crate::trial::Holding;

    fn bar(diameter_mm: f64, length_mm: f64, holding: Holding) -> Trial {
        let mut trial = fixture::bar(holding);
        (trial.bar.diameter_mm, trial.bar.length_mm) = (diameter_mm, length_mm);
        trial.bar.collars_mm.clear();
        trial.bar.relief_diameter_mm = None;
        trial
    }

    #[test]
    fn beyond_six_diameters_nothing_is_cut_and_beyond_four_lightly() {
        let deepest = |length: f64| deepest_cut_mm(&bar(40.0, length, Holding::Chuck), 0.1);
        assert_eq!((deepest(240.1), deepest(240.0), deepest(160.1)), (0.0, LIGHT_DEPTH_MM, LIGHT_DEPTH_MM));
        assert!(deepest(160.0) > 4.0 * LIGHT_DEPTH_MM, "{}", deepest(160.0));
        // a centre under the end carries it
        assert!(deepest_cut_mm(&bar(40.0, 240.0, Holding::ChuckAndCentre), 0.1) > LIGHT_DEPTH_MM);
    }

    /// A cantilever yields `L³/(3EI)` at its end, a bar between centres `L³/(48EI)` at its middle (Roark, table 8.1, cases 1a and 1e).
    #[test]
    fn the_push_of_the_deepest_cut_is_by_hand() {
        for (holding, share, length) in [(Holding::Chuck, 3.0, 40.0), (Holding::Centres, 48.0, 300.0)] {
            let trial = bar(12.0, length, holding);
            let flexural = 1e3 * trial.bar.youngs_modulus_gpa * std::f64::consts::PI * 12.0_f64.powi(4) / 64.0;
            let nose = 0.7 * trial.bar.k_c1_mpa * 0.08_f64.powf(1.0 - trial.bar.kienzle_exponent);
            let push = |depth: f64| depth * nose * trial.prior.force_factor.powf(1.96) * length.powi(3) / (share * flexural);
            let deepest = deepest_cut_mm(&trial, 0.08);
            assert!((push(deepest) / 0.05 - 1.0).abs() < 1e-3, "{holding:?}: {}", push(deepest));
            assert!((push(1.01 * deepest) / 0.05 - 1.0).abs() > 1e-3);
        }
    }

    #[test]
    fn a_heavy_pass_is_as_deep_as_the_bar_bears_or_none() {
        let light = bar(40.0, 180.0, Holding::Chuck);
        let times = |depth: f64| heavy_times(&light, depth, 0.1);
        assert_eq!([0.05, 0.0625, 0.07, 0.1, 0.125, 0.13].map(times), [Some(4.0), Some(4.0), Some(3.0), Some(2.0), Some(2.0), None]);
        assert_eq!(times(0.0), None, "nothing is cut");
        assert_eq!(heavy_times(&bar(20.0, 130.0, Holding::Chuck), 0.05, 0.08), None, "it stands out too far");
    }
}
