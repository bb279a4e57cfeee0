//! Points weighed side by side are weighed as each alone.

use super::super::design::design;
use super::super::fixture;
use super::super::lanes::{Lanes, Number, SIDE_BY_SIDE};
use super::Reduced;
use crate::trial::Holding;

/// To the bit: weights of every subset and equations of four different points together, and of each alone, in every way of holding.
#[test]
fn four_points_together_are_four_points_alone() {
    for holding in [Holding::Chuck, Holding::Centres, Holding::ChuckAndCentre] {
        let model = design(&fixture::everything(holding)).unwrap().model;
        let x = |lane: usize| (0..model.hypers.len()).map(|i| 0.4 - 0.1 * i as f64 + 0.3 * lane as f64).collect::<Vec<f64>>();
        let uniforms: Vec<Vec<f64>> = (0..SIDE_BY_SIDE).map(|lane| vec![0.2 + 0.1 * lane as f64; model.non_negative()]).collect();
        let mut together = model.workspace::<Lanes>();
        let reduced: Reduced<Lanes> = model.reduced(Lanes::at(|lane| model.hypers.values(&x(lane))), &mut together);
        let mut weights = vec![Lanes::ZERO; model.subsets()];
        let of_lane: Vec<&[f64]> = uniforms.iter().map(Vec::as_slice).collect();
        model.log_weights(None, &reduced, &of_lane, &mut together, &mut weights);
        let mut first = Vec::new();
        for (lane, uniforms) in uniforms.iter().enumerate() {
            let mut alone = model.workspace::<f64>();
            let own: Reduced = model.reduced(model.hypers.values(&x(lane)), &mut alone);
            let mut own_weights = vec![0.0; model.subsets()];
            model.log_weights(None, &own, &[uniforms.as_slice()], &mut alone, &mut own_weights);
            let of_lane = reduced.lane(lane);
            assert_eq!((of_lane.values, of_lane.log), (own.values, own.log), "{holding:?}");
            let last = model.unknowns.len();
            assert_eq!(of_lane.joint.whole_row(last), own.joint.whole_row(last), "{holding:?}");
            assert_eq!(weights.iter().map(|w| w.lane(lane)).collect::<Vec<f64>>(), own_weights, "{holding:?}");
            if lane == 0 {
                first = own_weights;
            } else {
                assert_ne!(first, own_weights, "points that tell lanes apart");
            }
        }
    }
}
