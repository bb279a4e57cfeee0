//! The advice on the sample trials, whose truth is known, and on what they become with one thing changed.

use super::machine::{advice_on, sample, settings_of};
use taperwright::causes::{CausesOutcome, estimate_causes};
use taperwright::conformity::Decision;
use taperwright::correction::{Correction, Reason, Turning, Window};
use taperwright::shape::{Shape, fit_shapes};
use taperwright::trial::{Foot, Limit, Quantity, ScrewSense, Sense, Trial};

fn found(trial: &Trial) -> (Vec<Shape>, CausesOutcome) {
    let shapes = fit_shapes(trial, 1, 200).shapes;
    let outcome = estimate_causes(trial, 1);
    (shapes, outcome)
}

fn whole_steps(correction: &Correction, trial: &Trial) {
    let feet = trial.machine.feet.as_ref().unwrap();
    let one = &correction.moves[0];
    let (turns, degrees) = (one.turns.unwrap(), one.degrees.unwrap());
    assert!((degrees / feet.finest_turn_deg).fract() == 0.0 && degrees != 0.0, "{degrees}");
    assert!((turns * 360.0 - degrees).abs() < 1e-9);
    let sign = if feet.clockwise == Some(ScrewSense::Lowers) { -1.0 } else { 1.0 };
    assert!((turns * sign * feet.screw_pitch_mm.unwrap() - one.raise_mm).abs() < 1e-12);
    let interval = one.interval95_turns.unwrap();
    assert!(interval.low < turns && turns < interval.high, "{interval:?} {turns}");
}

#[test]
fn a_twisted_bed_is_cured_at_one_foot() {
    let trial = sample("twist-only");
    let (shapes, outcome) = found(&trial);
    let correction = advice_on(&trial, &shapes, &outcome).unwrap();
    assert_eq!((correction.reason, correction.advised, correction.interim), (Reason::Advised, true, false), "{}", correction.why);
    // The bar is larger at the tailstock end; raising the front foot there takes twist away.
    let one = &correction.moves[0];
    assert_eq!((one.foot, one.sense), (Foot::TailstockFront, Turning::Raise));
    whole_steps(&correction, &trial);
    assert!(correction.expected_taper.unwrap().value.abs() < 0.3 * correction.present.value.abs());
    let inside = correction.probability_in_tolerance.unwrap();
    let beyond = correction.probability_overshoot.unwrap();
    assert!(inside > 0.5 && beyond > 0.0 && inside + beyond < 1.0, "{inside} {beyond}");
    // Nothing was moved yet: nothing is learned, and what a turn does is as wide as its prior.
    assert!(correction.gain.is_none());
    let turn = correction.taper_per_turn.unwrap();
    assert!(turn.interval95.high > 3.0 * turn.interval95.low && turn.interval95.low > 0.0);

    // A screw that raises when turned clockwise is turned the other way by as much.
    let mut other = trial.clone();
    other.machine.feet.as_mut().unwrap().clockwise = Some(ScrewSense::Raises);
    let turned = advice_on(&other, &shapes, &outcome).unwrap();
    assert_eq!(turned.moves[0].turns.unwrap(), -one.turns.unwrap());
    assert_eq!(turned.moves[0].raise_mm, one.raise_mm);
    whole_steps(&turned, &other);

    // Unknown pitch: millimetres, no turns. Unknown feet: the twist that is wanted.
    other.machine.feet.as_mut().unwrap().screw_pitch_mm = None;
    let raised = advice_on(&other, &shapes, &outcome).unwrap();
    assert!(raised.moves[0].turns.is_none() && (raised.moves[0].raise_mm - one.raise_mm).abs() < 0.02);
    other.machine.feet = None;
    let unknown = advice_on(&other, &shapes, &outcome).unwrap();
    assert_eq!(unknown.reason, Reason::FeetUnknown);
    assert!(unknown.moves.is_empty() && unknown.why.contains("(mm/m)/m"), "{}", unknown.why);

    // A wide limit is met already; one that only allows larger at the headstock is aimed at from the other side of parallel.
    let mut wide = trial.clone();
    wide.acceptance.limit[0].limit_mm = 0.2;
    let stop = advice_on(&wide, &shapes, &outcome).unwrap();
    assert_eq!(stop.reason, Reason::WithinLimit);
    assert!(stop.moves.is_empty() && stop.probability_in_tolerance >= Some(0.95) && stop.probability_overshoot.is_none());
    let mut sided = trial.clone();
    (sided.acceptance.limit[0].sense, sided.acceptance.limit[0].limit_mm) = (Sense::LargerAtHeadstock, 0.04);
    let aimed = advice_on(&sided, &shapes, &outcome).unwrap();
    assert!(aimed.target_mm.unwrap() < correction.target_mm.unwrap(), "{:?} {:?}", aimed.target_mm, correction.target_mm);
    // Without a limit one is taken, and that is said.
    let mut none = trial;
    none.acceptance.limit.clear();
    let taken = advice_on(&none, &shapes, &outcome).unwrap();
    assert!(taken.window.assumed && taken.why.contains("common practice, no source"));
}

/// Feet stated a hundred times as far apart as they stand, or moves logged in another unit, would have a foot raised by millimetres: it is not, and the log is to be checked.
#[test]
fn no_foot_is_moved_by_millimetres() {
    let mut trial = sample("twist-only");
    let (shapes, outcome) = found(&trial);
    let before = advice_on(&trial, &shapes, &outcome).unwrap().moves[0].raise_mm;
    trial.machine.feet.as_mut().unwrap().spacing_across_mm *= 1.9 / before.abs();
    let near = advice_on(&trial, &shapes, &outcome).unwrap();
    assert!(near.moves.len() == 1 && near.moves[0].raise_mm.abs() > 1.7, "{}", near.why);
    trial.machine.feet.as_mut().unwrap().spacing_across_mm *= 1.2;
    let far = advice_on(&trial, &shapes, &outcome).unwrap();
    assert_eq!((far.moves.len(), far.advised, far.reason), (0, false, Reason::FeetUnknown), "{}", far.why);
    assert!(far.why.contains("Check raise, turns and units in moves.csv"), "{}", far.why);
}

#[test]
fn a_headstock_is_not_hidden_by_bending_the_bed() {
    let trial = sample("headstock-only");
    let (shapes, outcome) = found(&trial);
    let correction = advice_on(&trial, &shapes, &outcome).unwrap();
    assert_eq!(correction.reason, Reason::CauseNotFeet, "{}", correction.why);
    assert!(correction.moves.is_empty() && !correction.advised && correction.tailstock_shift_mm.is_none());
    assert!(correction.why.contains("headstock") && correction.why.contains("level the bed first"), "{}", correction.why);
}

#[test]
fn without_levels_the_move_is_interim_and_has_its_price() {
    let trial = sample("nuts-tightened");
    let (shapes, outcome) = found(&trial);
    let correction = advice_on(&trial, &shapes, &outcome).unwrap();
    assert_eq!((correction.reason, correction.interim), (Reason::CausesNotSeparated, true), "{}", correction.why);
    assert_eq!(correction.moves.len(), 1);
    for word in ["price", "test that tells", "bent", "the headstock, the bed and the bending under the cut"] {
        assert!(correction.why.contains(word), "{word}: {}", correction.why);
    }
    // A bent bed does nothing to work between centres: the tailstock swings with the tool.
    assert!(!correction.why.contains("between centres"), "{}", correction.why);
    let mut unknown = trial;
    unknown.machine.feet = None;
    let advice = advice_on(&unknown, &shapes, &outcome).unwrap();
    assert_eq!((advice.reason, advice.moves.len(), advice.interim), (Reason::CausesNotSeparated, 0, false));
    assert!(advice.feet_to_turn && advice.why.contains("of the tailstock end up"), "{}", advice.why);
}

/// Bed, headstock and bending may each make a small taper: the limit decides whether something is wrong, and no foot is turned before a test tells.
#[test]
fn a_small_taper_of_unknown_origin_moves_no_foot() {
    let mut trial = sample("both-no-level");
    let (shapes, outcome) = found(&trial);
    assert_eq!(advice_on(&trial, &shapes, &outcome).unwrap().reason, Reason::WithinLimit);
    trial.acceptance.limit[0].limit_mm = 0.01;
    let correction = advice_on(&trial, &shapes, &outcome).unwrap();
    assert_eq!((correction.reason, correction.moves.len()), (Reason::CausesNotSeparated, 0), "{}", correction.why);
    assert!(correction.why.contains("The test that tells: a level along the bed"), "{}", correction.why);
}

/// The table of limits finds it not proven: no sentence says that the taper lies inside, and the table's probability is the one told.
#[test]
fn what_the_limits_leave_open_is_not_told_as_inside() {
    let trial = sample("quay-lathe-2-years/2026-spring");
    let (shapes, outcome) = found(&trial);
    let correction = advice_on(&trial, &shapes, &outcome).unwrap();
    let judged = correction.judged.unwrap();
    assert_eq!((correction.reason, judged.decision), (Reason::WithinLimit, Decision::NotProven));
    assert!(judged.probability < 0.945 && correction.probability_in_tolerance > Some(0.955));
    assert!(correction.why.contains("not proven: a probability of 93 %") && !correction.why.contains("97 %"), "{}", correction.why);
}

#[test]
fn a_bar_between_centres_never_leads_to_the_feet() {
    let trial = sample("tailstock-over");
    let truth = trial.simulate.as_ref().unwrap().truth.offset_mm.unwrap();
    let (shapes, outcome) = found(&trial);
    let correction = advice_on(&trial, &shapes, &outcome).unwrap();
    assert_eq!(correction.reason, Reason::CauseNotFeet);
    assert!(correction.moves.is_empty() && correction.taper_per_turn.is_none());
    let shift = correction.tailstock_shift_mm.unwrap();
    assert!((shift + truth).abs() < 0.5 * truth.abs(), "set over by {truth}, advised {shift}");
    assert!(correction.why.contains("to the front"), "{}", correction.why);
}

#[test]
fn limits_scale_with_length_and_never_below_their_floor() {
    let mut trial = settings_of("twist-only");
    trial.machine.swing_mm = Some(230.0);
    let limit = |limit_mm: f64, over_mm: Option<f64>, sense: Sense| Limit {
        swing_to_mm: Some(500.0),
        ..crate::conformity::quantities::limit(Quantity::Taper, limit_mm, over_mm, sense)
    };
    let mut of = |limits: Vec<Limit>, length: f64| {
        trial.acceptance.limit = limits;
        let w = Window::of(&trial, length);
        (w.low_mm, w.high_mm, w.assumed)
    };
    let either = limit(0.02, Some(300.0), Sense::Either);
    assert_eq!(of(vec![either.clone()], 150.0), (-0.01, 0.01, false));
    assert_eq!(of(vec![either.clone()], 30.0), (-0.005, 0.005, false));
    let headstock = limit(0.02, Some(300.0), Sense::LargerAtHeadstock);
    assert_eq!(of(vec![headstock.clone()], 300.0), (-0.02, 0.005, false));
    assert_eq!(of(vec![limit(0.03, None, Sense::LargerAtTailstock)], 100.0), (-0.005, 0.03, false));
    assert_eq!(of(vec![either, headstock], 150.0), (-0.01, 0.005, false));
    assert_eq!(of(vec![], 150.0), (-0.01, 0.01, true));
    let far = Limit { swing_from_mm: Some(400.0), ..limit(0.01, None, Sense::Either) };
    assert_eq!(of(vec![far], 300.0), (-0.02, 0.02, true), "a limit for larger machines");
}

/// Two readings to a thou whose own interval leaves out 0 and breaks a limit, though the priors leave all causes together unsure: nothing is moved, and neither is it
/// called less than can be seen.
#[test]
fn a_taper_that_shows_is_not_called_too_small_to_see() {
    let correction = |second: &str| {
        let folder = tempfile::tempdir().unwrap();
        let settings =
            "[bar]\ndiameter_in = 1.5\nlength_in = 8.0\n[[acceptance.limit]]\nquantity = \"taper\"\nlimit_in = 0.0005\nover_in = 12.0\n";
        std::fs::write(folder.path().join("trial.toml"), settings).unwrap();
        std::fs::write(folder.path().join("diameters.csv"), format!("station_in,diameter_in\n0.5,1.500\n7.5,{second}\n")).unwrap();
        let trial = taperwright::ingest::read_trial(folder.path(), &Default::default()).unwrap();
        let options = taperwright::analysis::Options { monte_carlo_draws: 0, ..Default::default() };
        let analysis = taperwright::analysis::analyse(trial, options);
        (analysis.shape[0].taper.interval95, analysis.correction.unwrap())
    };
    let (interval, shown) = correction("1.502");
    assert!(interval.low > 0.0 && shown.moves.is_empty(), "{interval:?}");
    assert_eq!(shown.reason, Reason::CausesNotSeparated, "{}", shown.why);
    assert!(shown.why.contains("by themselves show a taper") && shown.why.contains("The test that tells"), "{}", shown.why);
    let (interval, small) = correction("1.5005");
    assert!(interval.low < 0.0, "{interval:?}");
    assert_ne!(small.reason, Reason::CausesNotSeparated, "{}", small.why);
    assert!(!small.why.contains("by themselves show a taper"), "{}", small.why);
}
