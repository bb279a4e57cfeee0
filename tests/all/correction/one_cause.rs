//! Machines with one cause only: whatever that is, nothing else is ordered to be moved or mended.

use super::machine::{advice_on, settings_of};
use taperwright::causes::{CauseKind, CausesOutcome, Verdict, estimate_causes};
use taperwright::correction::{Correction, Reason};
use taperwright::shape::fit_shapes;
use taperwright::simulate::{Chance, Nature, laid_out, read_off};
use taperwright::trial::{Direction, SimulationRequest, Trial, Truth};

/// A bar of 40 mm by 220 mm, or 20 mm by 110 mm, three passes a direction, levels along the bed, and what is wrong.
fn measured(slender: bool, directions: &[Direction], truth: Truth) -> (Trial, CausesOutcome, Correction) {
    let mut base = settings_of("twist-only");
    (base.simulate, base.testbar) = (None, None);
    (base.bar.diameter_mm, base.bar.length_mm) = if slender { (20.0, 110.0) } else { (40.0, 220.0) };
    (base.gauge.diameter.u_mm, base.gauge.diameter.resolution_mm, base.gauge.level.u_mm_per_m) = (0.0015, 0.001, 0.008);
    let last = if slender { 98.0 } else { 208.0 };
    let request = SimulationRequest {
        logs: vec!["diameters".into(), "levels".into()],
        passes: 3,
        directions: directions.to_vec(),
        stations_mm: (0..8).map(|i| 10.0 + (last - 10.0) * f64::from(i) / 7.0).collect(),
        level_stations_mm: vec![40.0, 120.0, 200.0, 280.0, 360.0, 440.0],
        levels_reversed: true,
        ..SimulationRequest::default()
    };
    let laid = laid_out(&base, &request);
    let nature = Nature::stated(&laid, &truth, 1.0, &mut Chance::new(1, 0));
    let trial = read_off(&laid, &nature, 1);
    let outcome = estimate_causes(&trial, 1);
    let correction = advice_on(&trial, &fit_shapes(&trial, 1, 200).shapes, &outcome).unwrap();
    (trial, outcome, correction)
}

fn verdict(outcome: &CausesOutcome, cause: CauseKind) -> Verdict {
    outcome.causes.iter().find(|c| c.cause == cause).unwrap().verdict
}

/// Warming or wear, cut one way: the bed is level, the headstock not settled. It is not to be aligned; the test that tells is named.
#[test]
fn a_headstock_that_is_not_settled_is_not_to_be_aligned() {
    for truth in
        [Truth { thermal_drift_um_per_min: Some(2.0), ..Truth::default() }, Truth { wear_um_per_m: Some(40.0), ..Truth::default() }]
    {
        let (_, outcome, correction) = measured(false, &[Direction::ToHeadstock], truth);
        assert_eq!(verdict(&outcome, CauseKind::BedTwist), Verdict::Absent);
        assert_ne!(verdict(&outcome, CauseKind::HeadstockYaw), Verdict::Present);
        assert_eq!((correction.reason, correction.moves.len()), (Reason::CauseNotFeet, 0), "{}", correction.why);
        assert!(!correction.why.contains("aligned"), "{}", correction.why);
        for said in ["the headstock, the wear of the tool and the warming of the tool", "test that tells: a pass cut the other way"] {
            assert!(correction.why.contains(said), "{said}: {}", correction.why);
        }
    }
}

/// A slender bar that bends, bed level, levels taken: no foot, and no test that was made already.
#[test]
fn no_foot_is_turned_to_cure_bending() {
    let truth = Truth { force_factor: Some(2.0), chuck_tilt_urad_per_nm: Some(20.0), ..Truth::default() };
    let (trial, outcome, correction) = measured(true, &[Direction::ToHeadstock], truth);
    assert_eq!(verdict(&outcome, CauseKind::BedTwist), Verdict::Absent);
    assert_eq!((correction.reason, correction.moves.len(), correction.interim), (Reason::CauseNotFeet, 0, false), "{}", correction.why);
    assert!(correction.open.contains(&CauseKind::Deflection) && correction.why.contains("the bending under the cut"), "{}", correction.why);
    assert!(!trial.levels.is_empty() && !correction.why.contains("level along"), "{}", correction.why);
    assert!(correction.why.contains("The test that tells: "), "{}", correction.why);
    // Without levels the bed is open as well, and levels are the test that tells.
    let mut blind = trial.clone();
    blind.levels.clear();
    let open = estimate_causes(&blind, 1);
    let advice = advice_on(&blind, &fit_shapes(&blind, 1, 200).shapes, &open).unwrap();
    assert!(advice.why.contains("The test that tells: a level along the bed") && !advice.advised, "{}", advice.why);
    assert!(advice.why.contains("the bed") && advice.why.contains("the bending under the cut"), "{}", advice.why);
    // Nobody described the feet: the same.
    let mut unknown = trial;
    unknown.machine.feet = None;
    let advice = advice_on(&unknown, &fit_shapes(&unknown, 1, 200).shapes, &outcome).unwrap();
    assert!(!advice.feet_to_turn && !advice.why.contains("Wanted is"), "{}", advice.why);
}

/// Worn ways look like a twisted bed to levels on them: neither bed nor headstock is to be set by it.
#[test]
fn worn_ways_move_no_foot() {
    let truth = Truth { way_wear_um: Some(40.0), way_wear_length_mm: Some(80.0), ..Truth::default() };
    let (_, outcome, correction) = measured(false, &[Direction::ToHeadstock, Direction::ToTailstock], truth);
    assert_eq!(verdict(&outcome, CauseKind::WayWear), Verdict::Present);
    assert_eq!((correction.advised, correction.moves.len()), (false, 0), "{}", correction.why);
    assert!(!correction.why.contains("bed is twisted") && !correction.why.contains("headstock aligned"), "{}", correction.why);
    assert!(correction.why.contains("levels on unworn ways"), "{}", correction.why);
}

/// A twisted bed alone, as far out: there the foot is turned.
#[test]
fn a_twisted_bed_is_still_cured() {
    let truth = Truth { twist_mm_per_m_per_m: Some(0.5), ..Truth::default() };
    let (_, _, correction) = measured(false, &[Direction::ToHeadstock, Direction::ToTailstock], truth);
    assert!(correction.moves.len() == 1 && correction.why.contains("The bed is twisted"), "{}", correction.why);
}
