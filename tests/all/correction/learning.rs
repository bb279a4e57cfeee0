//! What moves teach: diameters learn what a turn does to the taper; gain and roll arm part only with levels before and after.

use super::machine::{Machine, Routine, advice_on};
use taperwright::causes::estimate_causes;
use taperwright::physics::moves::twist_per_gain;
use taperwright::shape::fit_shapes;
use taperwright::trial::Foot;

/// Relative standard deviations of gain, roll arm and their product.
fn spreads(machine: &Machine) -> [f64; 3] {
    let log = machine.log();
    let posterior = estimate_causes(&log, 1).posterior.unwrap();
    let spread = |values: Vec<f64>| {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt() / mean
    };
    let product = posterior.move_gain.iter().zip(&posterior.roll_arm_mm).map(|(g, h)| g * h).collect();
    [spread(posterior.move_gain.clone()), spread(posterior.roll_arm_mm.clone()), spread(product)]
}

#[test]
fn gain_and_roll_arm_part_only_with_levels() {
    let mut machines = [false, true].map(|levels| Machine::drawn(5, Routine { passes: 1, stations: 5, levels }));
    for machine in &mut machines {
        (machine.nature.move_gain, machine.nature.roll_arm_mm) = (0.9, 150.0);
        machine.turn(Foot::TailstockRear, 0.2);
    }
    let [without, with] = machines.each_ref().map(spreads);
    let [gain, arm, product] = without;
    assert!(product < 0.06, "what a turn does is learned: {product}");
    assert!(gain > 0.1 && arm > 0.1 && gain > 2.0 * product, "gain {gain} and arm {arm} are not");
    let [gain_level, arm_level, _] = with;
    assert!(gain_level < 0.6 * gain && arm_level < 0.7 * arm, "with levels {gain_level} and {arm_level}");

    let log = machines[1].log();
    let shapes = fit_shapes(&log, 1, 100).shapes;
    let correction = advice_on(&log, &shapes, &estimate_causes(&log, 1)).unwrap();
    assert_eq!(correction.setting, 1);
    let gain = correction.gain.unwrap();
    // The log has the move as it was told; what it taught is the gain of that, the hand's error included.
    let nature = &machines[1].nature;
    let told = twist_per_gain(Foot::TailstockRear, 0.2, machines[1].base.machine.feet.as_ref().unwrap()).unwrap();
    let truth = (nature.twist(1) - nature.twist(0)) / told;
    assert!((truth / nature.move_gain - 1.0).abs() < 0.1 && gain.interval95.contains(truth), "{gain:?} {truth}");
    // What a turn truly does: 2hG·pitch·10⁶/(b·L_f)·length/10⁶.
    let truth = 2.0 * nature.roll_arm_mm * truth * 1.25 / (150.0 * 700.0) * 198.0;
    assert!(correction.taper_per_turn.unwrap().interval95.contains(truth), "{:?} {truth}", correction.taper_per_turn);
}
