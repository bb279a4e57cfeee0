//! The marginal likelihood of a block against a published mixed model.

use super::bending::Bending;
use super::block::{Local, Rows, Spread};
use super::hyper::Values;
use super::symmetric::Symmetric;
use crate::physics::{Compliances, Support};
use crate::trial::Holding;

/// Six rails, three readings each: `tests/published/pinheiro-bates-2000/rail.csv`.
fn rail() -> Vec<(usize, f64)> {
    include_str!("../../tests/published/pinheiro-bates-2000/rail.csv")
        .lines()
        .skip(1)
        .filter_map(|line| {
            let (rail, travel) = line.split_once(',')?;
            Some((rail.trim().parse().ok()?, travel.trim().parse().ok()?))
        })
        .collect()
}

/// The REML criterion of the one-way model, `−2 ln p`, from a block with a free constant and a random term a rail.
///
/// The block integrates its constant with unit density along the unit vector, the criterion along the constant itself: `+ ln n`.
fn criterion(sd_rail: f64, sd_reading: f64) -> f64 {
    let readings = rail();
    let n = readings.len();
    let rows = Rows {
        readings: readings.iter().map(|r| r.1).collect(),
        noise: vec![0; n],
        variance: vec![1.0; n],
        random: (1..=6)
            .map(|rail| (Spread::Known(sd_rail), readings.iter().map(|r| if r.0 == rail { 1.0 } else { 0.0 }).collect()))
            .collect(),
        columns: Vec::new(),
        repeats: Vec::new(),
        bent: None,
    };
    let compliances = Compliances::RIGID;
    let values = Values {
        roll_arm: 1.0,
        gain: 1.0,
        force: 1.0,
        to_tailstock: 1.0,
        compliances,
        grip: 1.0,
        noise: vec![sd_reading * sd_reading],
        slope_spread: 0.0,
        barrel_spread: 0.0,
    };
    let support = Support::of_bar(&super::fixture::bar(Holding::Chuck).bar, compliances);
    let mut joint = Symmetric::zeros(1);
    let log = rows.reduce().add_to(&values, &Bending::new(Vec::new(), &support), &mut joint, &mut Local::new());
    let log = log - 0.5 * joint.get(0, 0);
    -2.0 * log + (n as f64 - 1.0) * std::f64::consts::TAU.ln() + (n as f64).ln()
}

/// Pinheiro, Bates (2000), section 1.1: rails 24.805, readings 4.0208; the criterion there by lme4 1.1-31 is 122.177000809.
#[test]
fn a_block_has_the_likelihood_of_the_published_rails() {
    let agrees = |value: f64| (value - 122.177_000_809).abs() < 1e-8;
    let best = criterion(24.805_465_4, 4.020_779_4);
    assert!(agrees(best), "{best}");
    // It is the least, and the comparison sees a spread that is one per cent off.
    for (rail, reading) in [(1.01, 1.0), (0.99, 1.0), (1.0, 1.01), (1.0, 0.99)] {
        let other = criterion(24.805_465_4 * rail, 4.020_779_4 * reading);
        assert!(other > best && !agrees(other), "{other}");
    }
}
