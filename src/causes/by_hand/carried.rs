//! What readings carry by themselves: the functional that is asked, the width of its prior, and the prior that worn ways keep.

use super::medians;
use crate::causes::carried::{parallelism, share_of_full, way_wear_precision};
use crate::causes::design::design;
use crate::causes::fixture;
use crate::causes::information::information;
use crate::causes::unknowns::Meaning;
use crate::causes::values::CauseKind;
use crate::trial::{Holding, Prior};

/// A normal mixture around 0 of widths 1 and 0.05 with weights p and 1 − p has the variance p + 0.0025 (1 − p).
#[test]
fn the_mixtures_variance_is_that_of_its_parts() {
    for (presence, share) in [(0.0, 0.0025), (0.5, 0.501_25), (1.0, 1.0)] {
        assert!((share_of_full(presence) - share).abs() < 1e-15, "{presence}: {}", share_of_full(presence));
    }
}

/// Twice the width in the settings makes the default's prior four times as precise beside it: 10 µm is the default.
#[test]
fn worn_ways_keep_the_defaults_width_whatever_is_stated() {
    for (stated_um, precision) in [(10.0, 1.0), (20.0, 4.0), (5.0, 0.25)] {
        assert_eq!(way_wear_precision(&Prior { way_wear_um: stated_um, ..Prior::default() }), precision);
    }
    let trial = fixture::everything(Holding::Chuck);
    let design = design(&trial).unwrap();
    let centre = medians(&design);
    let mut own = information(&design, &centre, trial.prior.force_factor, |_| true);
    let before = own.clone();
    own.keep_way_wear(&design, 4.0);
    let mut ways = 0;
    for (place, row) in own.rows.iter().enumerate() {
        if row.is_some_and(|u| matches!(design.model.unknowns[u].meaning, Meaning::WayWear { .. })) {
            ways += 1;
            assert_eq!(own.kept_beside_ways[place], 4.0);
        } else {
            assert_eq!(own.kept_beside_ways[place], before.kept[place], "row {place} is no way wear");
        }
    }
    assert!(ways > 1 && ways < own.rows.len() && before.kept.iter().all(|kept| *kept < 1e-3), "{:?}", before.kept);
    assert_eq!(own.kept, before.kept, "nothing is kept where worn ways themselves are asked");
    own.keep_priors(&design, |cause| cause == CauseKind::WayWear);
    own.keep_way_wear(&design, 0.25);
    assert!(own.kept_beside_ways.contains(&1.0) && !own.kept_beside_ways.contains(&0.25), "a prior that is kept stays whole");
}

/// Each row's share of yaw + arm·twist/1000: 0.08 mm/m of yaw at one prior standard deviation, and 0.14375 m × 0.4 (mm/m)/m of twist.
#[test]
fn the_spindles_direction_is_yaw_and_the_arms_share_of_twist() {
    let trial = fixture::everything(Holding::Chuck);
    let design = design(&trial).unwrap();
    let own = information(&design, &medians(&design), trial.prior.force_factor, |_| true);
    let asked = parallelism(&own, &design, 0, 143.75);
    let root = design.chains.links[&0].root;
    let (mut yaw, mut twist) = (0, 0);
    for (place, row) in own.rows.iter().enumerate() {
        let expected = match row.map(|u| &design.model.unknowns[u].meaning) {
            Some(Meaning::Yaw) => {
                yaw += 1;
                trial.prior.yaw_mm_per_m
            }
            Some(Meaning::Twist { root: own }) if *own == root => {
                twist += 1;
                0.143_75 * trial.prior.twist_mm_per_m_per_m
            }
            _ => 0.0,
        };
        assert!((asked[place] - expected).abs() < 1e-12, "row {place}: {} for {expected}", asked[place]);
    }
    assert_eq!((yaw, twist), (1, 1));
}
