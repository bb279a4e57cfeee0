//! Durbin–Watson's test and the count of sign changes on blocks of repeated, weighted readings, against full matrices (`tests/reference/serial.py`).

use super::fixture::Reference;
use super::layout::Layout;
use super::tolerances::{Tolerance, assert_near};
use taperwright::statistics::{DurbinWatson, RunFit, RunSums, SignChanges, durbin_watson, sign_changes};

fn tested(rows: &Layout) -> (DurbinWatson, SignChanges, RunFit) {
    let values = rows.values();
    let fit = RunFit::of(rows, &RunSums::of_rows(rows, &values));
    let serial = durbin_watson(rows, &fit.basis, fit.residuals(rows, &values)).unwrap();
    let changes = sign_changes(rows, &fit.basis, fit.residuals(rows, &values)).unwrap();
    (serial, changes, fit)
}

const NEAR: Tolerance = Tolerance::Relative(1e-9);

#[test]
fn tails_are_those_of_full_matrices() {
    let reference = Reference::read("reference/serial.csv");
    for name in ["small", "large", "plain", "long"] {
        let (serial, changes, fit) = tested(&Layout::new(name));
        let wanted = |key: &str| reference.value(name, key);
        assert_eq!(
            (fit.dof(), changes.pairs as f64, changes.changes as f64),
            (wanted("dof"), wanted("pairs"), wanted("changes")),
            "{name}"
        );
        assert_near("statistic", serial.statistic, wanted("statistic"), NEAR);
        assert_near("alike", serial.p_alike, wanted("alike"), NEAR);
        assert_near("alternating", serial.p_alternating, wanted("alternating"), NEAR);
        assert_eq!(serial.exact, wanted("dof") <= 100.0);
        let smaller = wanted("alike").min(wanted("alternating"));
        assert_near("two-sided", serial.p_two_sided(), (2.0 * smaller).min(1.0), NEAR);
        assert_near("expected", changes.expected, wanted("expected"), NEAR);
        assert_near("z", changes.z, wanted("z"), NEAR);
        // two readings of a block alone differ in sign for certain: arccos near −1 keeps eight digits
        let tail = Tolerance::Relative(2e-8);
        assert_near("p", changes.p, wanted("p"), tail);
        assert!(!tail.accepts(changes.p * (1.0 + 5e-8), wanted("p")) && !NEAR.accepts(changes.z * (1.0 + 3e-9), wanted("z")));
    }
}
