//! Feet level the bed; they hide nothing. What a move would do to a bed that is twisted the other way, or by less than the taper, or not at all.

use super::machine::settings_of;
use taperwright::analysis::{Analysis, Options, analyse};
use taperwright::causes::{CauseKind, Verdict};
use taperwright::conformity::Decision;
use taperwright::correction::{Correction, Reason};
use taperwright::physics::moves::twist_per_gain;
use taperwright::report::{Units, terminal_summary};
use taperwright::simulate::{Chance, Nature, laid_out, read_off};
use taperwright::trial::{Foot, Limit, Quantity, SimulationRequest, Trial, Truth};

/// Three passes to the headstock with levels, or five on a bar between centres, on the machine of a sample.
fn read(sample: &str, truth: Truth) -> Trial {
    let mut base = settings_of(sample);
    (base.simulate, base.testbar) = (None, None);
    (base.gauge.diameter.u_mm, base.gauge.diameter.resolution_mm, base.gauge.level.u_mm_per_m) = (0.0015, 0.001, 0.005);
    let last = base.bar.length_mm - 12.0;
    let request = SimulationRequest {
        logs: vec!["diameters".into(), "levels".into()],
        passes: if sample == "twist-only" { 3 } else { 5 },
        stations_mm: (0..8).map(|i| 15.0 + (last - 15.0) * f64::from(i) / 7.0).collect(),
        level_stations_mm: vec![20.0, 120.0, 220.0, 320.0, 420.0, 520.0],
        levels_reversed: true,
        ..SimulationRequest::default()
    };
    let laid = laid_out(&base, &request);
    let nature = Nature::stated(&laid, &truth, 1.0, &mut Chance::new(3, 0));
    read_off(&laid, &nature, 3)
}

fn told(trial: Trial) -> (Analysis, Correction) {
    let analysis = analyse(trial, Options { seed: 1, monte_carlo_draws: 200 });
    let correction = analysis.correction.clone().unwrap();
    (analysis, correction)
}

fn of_bed(twist: f64, yaw: f64) -> Truth {
    Truth { twist_mm_per_m_per_m: Some(twist), yaw_mm_per_m: Some(yaw), wear_um_per_m: Some(3.0), ..Truth::default() }
}

fn verdict(analysis: &Analysis, cause: CauseKind) -> Verdict {
    analysis.causes.iter().find(|c| c.cause == cause).unwrap().verdict
}

/// Twist −0.5 (mm/m)/m makes the bar smaller at the tailstock end, the headstock more than makes up for it: no foot takes the rest away.
#[test]
fn a_bed_twisted_against_the_taper_is_not_twisted_further() {
    let (analysis, correction) = told(read("twist-only", of_bed(-0.5, 0.25)));
    assert_eq!(verdict(&analysis, CauseKind::BedTwist), Verdict::Present);
    assert!(analysis.shape[0].taper.value > 0.02);
    assert!(!correction.advised && !correction.interim && correction.moves.is_empty(), "{}", correction.why);
    for said in ["twisted the other way", "larger at the headstock end", "Level the bed first: raise the rear foot at the tailstock end"] {
        assert!(correction.why.contains(said), "{said}: {}", correction.why);
    }
    let words = terminal_summary(&analysis, Units::Millimetre);
    assert!(
        words.contains("What makes this taper is not settled: the bed works against it:") && !words.contains("It is the bed"),
        "{words}"
    );
    // the same bed with the headstock straight: the very foot, to level it
    let (analysis, plain) = told(read("twist-only", of_bed(-0.5, 0.0)));
    let words = terminal_summary(&analysis, Units::Millimetre);
    assert!(words.contains("It is the bed:") && !words.contains("against it"), "{words}");
    assert!(plain.advised && plain.moves[0].foot == Foot::TailstockRear && plain.moves[0].raise_mm > 0.0, "{}", plain.why);
    assert!(!plain.why.contains("the other way"));
}

/// A third of the taper is the bed's: the move levels it to half a step and what is not known of it, and says what stays.
#[test]
fn a_move_takes_out_no_more_than_the_bed_makes() {
    let trial = read("twist-only", of_bed(0.4, 0.25));
    let feet = trial.machine.feet.clone().unwrap();
    let (_, correction) = told(trial);
    assert_eq!(correction.moves.len(), 1, "{}", correction.why);
    let one = &correction.moves[0];
    let change = 0.8 * twist_per_gain(one.foot, one.raise_mm, &feet).unwrap();
    assert!((-0.5..=-0.3).contains(&change), "the bed is left at {:+.2} (mm/m)/m: {}", 0.4 + change, correction.why);
    assert!(correction.why.contains("and no more") && correction.expected_taper.unwrap().value > 0.03, "{}", correction.why);
    // all the taper takes a change of 0.4 + 0.25/0.14375
    assert!(-0.8 * 2.1 < change);
}

/// Bed and headstock cancel at this tool height: nothing to adjust for this bar, and yet the bed is said to be twisted.
#[test]
fn a_bed_whose_twist_is_cancelled_is_told_beside_nothing_to_adjust() {
    let (analysis, correction) = told(read("twist-only", of_bed(0.6, -0.6 * 0.143_75)));
    assert_eq!((correction.reason, verdict(&analysis, CauseKind::BedTwist)), (Reason::WithinLimit, Verdict::Present), "{}", correction.why);
    assert!(
        correction.why.contains("But the bed is twisted") || correction.why.contains("Bed and headstock cancel each other"),
        "{}",
        correction.why
    );
    let (_, level) = told(read("twist-only", of_bed(0.0, 0.0)));
    assert!(!level.why.contains("twisted") && !level.why.contains("cancel"), "{}", level.why);
}

/// Levels that decay along the bed, as ways worn by 25 µm·e^(−z/150) make them, beside a taper: neither bed nor ways are settled and no foot is turned.
#[test]
fn levels_that_bend_turn_no_foot() {
    let mut trial = read("twist-only", of_bed(0.4, 0.0));
    let (_, straight) = told(trial.clone());
    assert!(straight.advised, "{}", straight.why);
    for level in &mut trial.levels {
        let zero = if level.reversed { -0.02 } else { 0.02 };
        level.roll_mm_per_m = zero - 0.12 * (-level.station_mm / 150.0).exp();
    }
    let (analysis, correction) = told(trial);
    assert_eq!([CauseKind::BedTwist, CauseKind::WayWear].map(|cause| verdict(&analysis, cause)), [Verdict::NotSettled; 2]);
    assert_eq!((correction.reason, correction.moves.len()), (Reason::CausesNotSeparated, 0), "{}", correction.why);
    assert!(correction.why.contains("The levels are no straight line") && correction.why.contains("looked at"), "{}", correction.why);
}

/// Between centres the straight part of worn ways counts as the tailstock's: it is neither set over nor judged by that.
#[test]
fn worn_ways_condemn_no_tailstock() {
    let limited = |truth: Truth| {
        let mut trial = read("tailstock-over", truth);
        trial.acceptance.limit.push(Limit::either_way(Quantity::TailstockOffset, 0.005));
        told(trial)
    };
    let decided = |analysis: &Analysis| {
        analysis.conformity.iter().find(|j| j.quantity == Quantity::TailstockOffset).map(|j| (j.decision, j.note.to_string())).unwrap()
    };
    let (analysis, correction) = limited(Truth { way_wear_um: Some(60.0), ..Truth::default() });
    assert_eq!(verdict(&analysis, CauseKind::WayWear), Verdict::Present);
    assert_eq!((correction.tailstock_shift_mm, correction.reason), (None, Reason::CausesNotSeparated), "{}", correction.why);
    assert!(correction.why.contains("counts as the tailstock's") && !correction.why.contains("bed and headstock"), "{}", correction.why);
    let (decision, note) = decided(&analysis);
    assert!(decision == Some(Decision::NotProven) && note.starts_with("The ways are worn"), "{note}");
    let (analysis, correction) = limited(Truth { offset_mm: Some(0.06), ..Truth::default() });
    assert!(correction.tailstock_shift_mm.is_some_and(|shift| shift < -0.03), "{}", correction.why);
    assert!(!decided(&analysis).1.starts_with("The ways are worn"), "{}", decided(&analysis).1);
}
