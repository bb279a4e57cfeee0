//! Measure, do as advised, measure again, until the advice is to stop. Figures of the large run are in tests/proofs/correction.md.

use super::machine::{Machine, Routine, advice_on};
use super::rivals::{End, geometry, proportional};
use taperwright::analysis::allow_steep_taper;
use taperwright::causes::estimate_causes;
use taperwright::correction::{Correction, Reason};
use taperwright::shape::fit_shapes;

/// More moves than this are given up.
const MOST: usize = 8;

fn advice(machine: &Machine) -> Correction {
    let mut log = machine.log();
    let _ = allow_steep_taper(&mut log, 1);
    let shapes = fit_shapes(&log, 1, 100).shapes;
    let outcome = estimate_causes(&log, 1);
    advice_on(&log, &shapes, &outcome).unwrap()
}

/// Follows the advice to its end.
pub fn advised(machine: &mut Machine) -> (End, Correction) {
    loop {
        let correction = advice(machine);
        match correction.moves.first() {
            Some(one) if machine.told.len() < MOST => machine.turn(one.foot, one.raise_mm),
            _ => {
                let end = End { moves: machine.told.len(), true_taper_mm: machine.true_taper_mm(), limit_mm: machine.limit_mm() };
                return (end, correction);
            }
        }
    }
}

/// Two machines with a short routine: the loop ends inside, by advice, in few moves.
#[test]
fn a_short_loop_ends_inside() {
    let routine = Routine { passes: 1, stations: 6, levels: false };
    let outside = |number: &u64| {
        let machine = Machine::drawn(*number, routine);
        machine.true_taper_mm().abs() > 1.5 * machine.limit_mm()
    };
    for number in (1..).filter(outside).take(2) {
        let mut machine = Machine::drawn(number, routine);
        let (end, last) = advised(&mut machine);
        assert!(end.inside() && (1..=2).contains(&end.moves), "{number}: {end:?} {last:?}");
        assert_eq!(last.reason, Reason::WithinLimit, "{}", last.why);
    }
}

/// An edge that is known to wear does not hide a bed or headstock that makes most of the taper: the feet are advised, the edge is named beside them.
#[test]
fn wear_that_is_the_smaller_part_leaves_the_feet_their_due() {
    let machine = Machine::drawn(196, Routine { passes: 3, stations: 10, levels: false });
    let wear = machine.nature.wear_um_per_m.values().copied().fold(0.0, f64::max);
    assert!(wear > 15.0 && machine.true_taper_mm().abs() > 2.0 * machine.limit_mm());
    let correction = advice(&machine);
    assert!(correction.interim && correction.moves.len() == 1, "{}", correction.why);
    assert!(correction.why.contains("edge"), "{}", correction.why);
}

fn report(name: &str, ends: &[End]) -> (f64, usize, f64) {
    let n = ends.len() as f64;
    let mut moves: Vec<usize> = ends.iter().map(|e| e.moves).collect();
    moves.sort_unstable();
    let few = moves.iter().filter(|m| **m <= 2).count() as f64 / n;
    let inside = ends.iter().filter(|e| e.inside()).count() as f64 / n;
    let counts: Vec<usize> = (0..=MOST).map(|m| moves.iter().filter(|k| **k == m).count()).collect();
    println!(
        "{name}: at most two moves {:.1} %, median {}, truly inside {:.1} %, machines by moves {counts:?}",
        100.0 * few,
        moves[moves.len() / 2],
        100.0 * inside
    );
    (few, moves[moves.len() / 2], inside)
}

#[test]
#[ignore = "the closed loop of 500 machines: release build, about a quarter of an hour"]
fn five_hundred_machines() {
    let count: u64 = std::env::var("MACHINES").ok().and_then(|n| n.parse().ok()).unwrap_or(500);
    let first: u64 = std::env::var("FIRST").ok().and_then(|n| n.parse().ok()).unwrap_or(0);
    let routine = Routine { passes: 3, stations: 10, levels: std::env::var("LEVELS").is_ok() };
    let (mut ours, mut guessed, mut geometric) = (Vec::new(), Vec::new(), Vec::new());
    for number in first..first + count {
        let mut machine = Machine::drawn(number, routine);
        let start = machine.true_taper_mm();
        let (end, last) = advised(&mut machine);
        if !end.inside() || end.moves > 2 || last.reason != Reason::WithinLimit {
            println!(
                "machine {number}: start {:.1} end {:.1} of {:.1} µm, {} moves, {:?} p {:.3}, G {:.2} h {:.0} moves {:?}",
                1000.0 * start,
                1000.0 * end.true_taper_mm,
                1000.0 * end.limit_mm,
                end.moves,
                last.reason,
                last.probability_in_tolerance.unwrap(),
                machine.nature.move_gain,
                machine.nature.roll_arm_mm,
                machine.told.iter().filter_map(|m| m.raise_mm).collect::<Vec<_>>()
            );
        }
        ours.push(end);
        guessed.push(proportional(&mut Machine::drawn(number, routine), MOST));
        geometric.push(geometry(&mut Machine::drawn(number, routine), MOST));
    }
    report("proportional guessing", &guessed);
    report("pure geometry", &geometric);
    let (few, median, inside) = report("advised", &ours);
    assert!(few >= 0.97 && median <= 1 && inside >= 0.98);
}
