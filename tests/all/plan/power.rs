//! Power and sample size of a slope against scipy's noncentral t; the script and its tables are in `tests/reference`.

use super::agree;
use crate::statistics::fixture::Table;
use taperwright::statistics::{detectable_effect, t_test_power};

#[test]
fn power_agrees_with_scipy() {
    let table = Table::read("reference/slope_power.csv");
    let columns = ["effect", "dof", "alpha", "power"].map(|name| table.column(name));
    let mut checked = 0;
    for row in 0..columns[0].len() {
        let [effect, dof, alpha, expected] = columns.map(|column| column[row]);
        let found = t_test_power(effect, Some(dof), alpha).unwrap();
        assert!(agree(found, expected, 1e-7), "effect {effect}, dof {dof}, alpha {alpha}: {found} for {expected}");
        assert!(!agree(found, expected * 1.001, 1e-7));
        checked += 1;
    }
    assert!(checked > 100, "only {checked}");
}

#[test]
fn the_fewest_readings_for_a_slope_agree_with_scipy() {
    let table = Table::read("reference/slope_sample_size.csv");
    let columns = ["slope", "power", "readings", "reached"].map(|name| table.column(name));
    let power_of = |slope: f64, count: u32| {
        let square: f64 = (0..count).map(|i| (2.0 * f64::from(i) / f64::from(count - 1) - 1.0).powi(2)).sum();
        t_test_power(slope * square.sqrt(), Some(f64::from(count) - 2.0), 0.05).unwrap()
    };
    for row in 0..columns[0].len() {
        let [slope, wanted, readings, reached] = columns.map(|column| column[row]);
        let fewest = (3..2000).find(|count| power_of(slope, *count) >= wanted).unwrap();
        assert_eq!(f64::from(fewest), readings, "slope {slope}, power {wanted}");
        assert!(agree(power_of(slope, fewest), reached, 1e-7));
        assert!(power_of(slope, fewest - 1) < wanted, "one reading fewer is not enough");
        // the effect that is found with the power reached is the one it came from
        let effect = detectable_effect(reached, Some(readings - 2.0), 0.05).unwrap();
        let square: f64 = (0..fewest).map(|i| (2.0 * f64::from(i) / f64::from(fewest - 1) - 1.0).powi(2)).sum();
        assert!(agree(effect, slope * square.sqrt(), 1e-5), "{effect}");
    }
}

#[test]
fn power_that_makes_no_sense_is_refused() {
    assert_eq!(t_test_power(1.0, Some(0.5), 0.05), None);
    assert_eq!(t_test_power(f64::NAN, Some(5.0), 0.05), None);
    assert_eq!(t_test_power(1.0, None, 1.0), None);
    assert_eq!(detectable_effect(0.04, None, 0.05), None);
    // without limit on the degrees of freedom: 1.959964 + 1.281552 standard errors, but for the far tail
    assert!(agree(detectable_effect(0.9, None, 0.05).unwrap(), 3.241_515, 1e-6));
}
