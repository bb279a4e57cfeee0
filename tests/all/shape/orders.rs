//! The order of the curve where F and AICc disagree, by hand on orthogonal polynomials.

use super::bench_log::{reading, trial};
use taperwright::shape::{Shape, fit_shapes};
use taperwright::trial::Direction;

/// Polynomials of degree 2 to 4 orthogonal on ten equal steps, with their sums of squares (as in Fisher and Yates's tables, from memory; the first test shows that they are).
const SECOND: ([f64; 10], f64) = ([6.0, 2.0, -1.0, -3.0, -4.0, -4.0, -3.0, -1.0, 2.0, 6.0], 132.0);
const THIRD: ([f64; 10], f64) = ([-42.0, 14.0, 35.0, 31.0, 12.0, -12.0, -31.0, -35.0, -14.0, 42.0], 8_580.0);
const FOURTH: ([f64; 10], f64) = ([18.0, -22.0, -17.0, 3.0, 18.0, 18.0, 3.0, -17.0, -22.0, 18.0], 2_860.0);

#[test]
fn polynomials_are_orthogonal() {
    let powers: Vec<Vec<f64>> = (0..4).map(|power| (0..10).map(|i| (f64::from(i) - 4.5).powi(power)).collect()).collect();
    for (degree, (values, square)) in [SECOND, THIRD, FOURTH].iter().enumerate() {
        assert_eq!(values.iter().map(|v| v * v).sum::<f64>(), *square);
        for lower in &powers[..degree + 2] {
            assert!(values.iter().zip(lower).map(|(a, b)| a * b).sum::<f64>().abs() < 1e-9);
        }
    }
}

/// Two passes alike over ten stations. Scatter that no cubic follows has the square 1 µm², the bend adds `bend` and the cubic term `cubic` to it.
fn two_passes(bend: f64, cubic: f64) -> Shape {
    let size = |term: ([f64; 10], f64), square: f64| (0.5 * square / term.1).sqrt();
    let um =
        |i: usize| 2.0 * i as f64 + size(SECOND, bend) * SECOND.0[i] + size(THIRD, cubic) * THIRD.0[i] + size(FOURTH, 1.0) * FOURTH.0[i];
    let rows = (0..20_u32).map(|place| {
        let (pass, i) = (place / 10, place % 10);
        let diameter_mm = 40.0 - 0.2 * f64::from(pass) + 1e-3 * um(i as usize);
        reading(u64::from(place) + 2, pass + 1, Direction::ToHeadstock, 20.0 * f64::from(i), diameter_mm)
    });
    fit_shapes(&trial(rows.collect(), 1e-6), 1, 0).shapes.remove(0)
}

/// 20 readings, two levels and a slope leave 17 degrees of freedom, a bend 16, a cubic 15. F of the bend is 16·bend/(1 + cubic), of the cubic 15·cubic. AICc, by its
/// formula, falls with the bend from F = 3.2 on and with the cubic from 3.5 on; p is below 0.05 from F(1, 16) = 4.49, F(1, 15) = 4.54 and F(2, 15) = 3.68 on.
#[test]
fn f_and_aicc_must_agree() {
    let near = |found: Option<f64>, wanted: f64| (found.unwrap() - wanted).abs() < 1e-6 * wanted;
    assert!(!near(Some(3.81), 3.8));
    for (bend, cubic, order) in [
        (3.8 / 16.0, 0.0, 1),
        (5.0 / 16.0, 0.0, 2),
        // by AICc alone the order would be 3
        (10.0, 4.0 / 15.0, 2),
        (10.0, 6.0 / 15.0, 3),
        // the bend is not taken alone, both terms together are: F = 15·0.6/2 = 4.5
        (0.2, 0.4, 3),
        (0.2, 0.28, 1),
    ] {
        let found = two_passes(bend, cubic);
        assert!(!found.slope_by_pass && near(found.orders[1].f, 16.0 * bend / (1.0 + cubic)), "{:?}", found.orders);
        assert!(cubic == 0.0 || near(found.orders[2].f, 15.0 * cubic), "{:?}", found.orders);
        assert_eq!(found.order, order, "{bend} {cubic}: {:?}", found.orders);
        for (place, square) in [1.0 + bend + cubic, 1.0 + cubic, 1.0].into_iter().enumerate() {
            let k = 4.0 + place as f64;
            let aicc = 20.0 * (1e-6 * square / 20.0).ln() + 2.0 * k + 2.0 * k * (k + 1.0) / (19.0 - k);
            assert!((found.orders[place].aicc.unwrap() - aicc).abs() < 1e-5, "{:?} {aicc}", found.orders[place]);
        }
    }
    // F(2, 15) = 1.1 on p = 0.36 for both terms, F(1, 16) = 3.8 on p = 0.069 for the bend: twice the smaller; and so on
    for (bend, cubic, f, p, says) in [
        (3.8 / 16.0, 0.0, 3.8, 2.0 * 0.068_98, "A straight line is enough"),
        (5.0 / 16.0, 0.0, 5.0, 2.0 * 0.039_97, "A curve of order 2 is drawn"),
        (8.0 / 16.0, 0.0, 8.0, 2.0 * 0.012_11, "These passes bend"),
        (0.2, 0.4, 4.5, 2.0 * 0.029_46, "A curve of order 3 is drawn"),
        (0.2, 0.8, 7.5, 2.0 * 0.005_55, "need a curve of order 3"),
        // the bend is beyond doubt, whatever the cubic term adds
        (10.0, 6.0 / 15.0, 160.0 / 1.4, 0.0, "need a curve of order 3"),
    ] {
        let found = two_passes(bend, cubic);
        let test = found.tests.iter().find(|test| test.name == "order").unwrap();
        assert!(near(test.statistic, f) && (test.p.unwrap() - p).abs() < 2e-4, "{bend} {cubic}: {test:?}");
        assert!(test.interpretation.contains(says) && test.interpretation.contains("counts twice"), "{test:?}");
        assert_eq!(test.p.unwrap() < 0.05, !test.interpretation.contains("not below 0.05"), "{test:?}");
    }
    let aicc = |shape: &Shape| shape.orders.iter().map(|order| order.aicc.unwrap()).collect::<Vec<_>>();
    let (first, third) = (aicc(&two_passes(3.8 / 16.0, 0.0)), aicc(&two_passes(10.0, 4.0 / 15.0)));
    assert!(first[1] < first[0] && third[2] < third[1], "AICc alone would take the higher order");
}

/// What the check says of its F: of one term or two, and how many curves were tried.
#[test]
fn the_check_says_which_terms_its_f_is_of() {
    let said = |shape: &Shape| shape.tests.iter().find(|test| test.name == "order").unwrap().interpretation.clone();
    // both terms together decide for a cubic without a bend
    let cubic = said(&two_passes(0.0, 9.0));
    assert!(cubic.contains("F is that of the terms by which order 3 goes beyond order 1; its p counts twice"), "{cubic}");
    let bend = said(&two_passes(9.0, 0.0));
    assert!(bend.contains("F is that of the term by which order 2 goes beyond order 1; its p counts twice"), "{bend}");
    // four stations allow one curve beyond the straight line
    let rows = [0.0, 3.0, 1.0, 2.0, 0.5, 2.5, 1.5, 2.0].iter().zip(0_u32..).map(|(um, place)| {
        reading(u64::from(place) + 2, place / 4 + 1, Direction::ToHeadstock, 50.0 * f64::from(place % 4), 40.0 + 1e-3 * um)
    });
    let one = said(&fit_shapes(&trial(rows.collect(), 1e-6), 1, 0).shapes.remove(0));
    assert!(one.ends_with("F is that of the term by which order 2 goes beyond order 1."), "{one}");
}
