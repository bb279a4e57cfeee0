//! Cases that stand exactly on a bound of a sum, a group or a draw, worked out by hand.

use super::tolerances::{Tolerance, assert_near};
use nalgebra::DMatrix;
use rand::{RngCore, SeedableRng};
use rand_chacha::ChaCha20Rng;
use std::cell::RefCell;
use taperwright::statistics::{
    Atoms, BetweenVariance, Dense, Input, Nested, NormalPart, OneWay, PureError, RunFit, RunSums, Summary, combine, generalised_esd,
    median, mixture_moments, propagate, runs_test,
};

const EXACT: Tolerance = Tolerance::Relative(1e-12);

/// Two values with the same uncertainty `u`: the variance between them is `(y₁ − y₂)²/2 − u²`, wherever they lie.
#[test]
fn estimates_about_nothing_scatter_like_others() {
    for middle in [0.0, 100.0, -3.0] {
        for method in [BetweenVariance::PauleMandel, BetweenVariance::Reml, BetweenVariance::DerSimonianLaird] {
            let found = combine(&[(middle - 5.0, 1.0), (middle + 5.0, 1.0)], method).unwrap();
            assert_near("variance between", found.between_variance, 49.0, EXACT);
            assert_near("standard error", found.standard_error, 5.0, EXACT);
            assert!(!EXACT.accepts(found.between_variance * (1.0 + 1e-9), 49.0));
        }
    }
}

/// What is too large for a double is no answer, though a part of it is a number.
#[test]
fn squares_beyond_the_largest_double_are_none() {
    let wide = |sd: f64| mixture_moments(&[NormalPart { weight: 1.0, mean: 0.0, sd }]);
    assert_eq!((wide(1e150), wide(1e200)), (Some((0.0, 1e150)), None));
    assert_eq!((Summary::of(&[1e200, -1e200]), Summary::of(&[1e200, 1.0])), (None, None));
    assert!(Summary::of(&[1e100, -1e100]).is_some_and(|summary| summary.mean == 0.0 && summary.lag1 == Some(-0.5)));
    assert_eq!((OneWay::of(&[vec![1e200, -1e200], vec![0.0, 1.0]]), OneWay::of(&[vec![1.0, f64::NAN]])), (None, None));
}

#[test]
fn a_median_of_nothing_and_runs_of_both_sides() {
    assert_eq!((median(&[]), median(&[1.0, f64::NAN, 2.0]), median(&[2.0, 1.0])), (None, None, Some(1.5)));
    // + + − 0 + : two above, then one below, then one above
    let found = runs_test(&[3.0, 1.5, -2.0, 1.0, 4.0], 1.0).unwrap();
    assert_eq!((found.above, found.below, found.runs), (3, 1, 3));
    assert_near("expected", found.expected, 2.5, EXACT);
    // readings without weight say nothing of the scatter
    let mut pure = PureError::default();
    pure.add(&[(1.0, 0.0), (2.0, 0.0)]);
    pure.add(&[(5.0, 2.0), (7.0, 2.0)]);
    assert_eq!(pure.square, 4.0);
}

/// The draws from the 4,097th on are the first of the generator's next stream, whatever came before.
#[test]
fn every_4096_draws_have_a_stream_of_their_own() {
    let drawn = RefCell::new(Vec::new());
    let model = |values: &[f64]| {
        drawn.borrow_mut().push(values[0]);
        values[0]
    };
    propagate(&[Input::Rectangular { value: 0.5, half: 0.5 }], 2 * 4096 + 2, 5, model).unwrap();
    for (stream, first) in [(0, 0), (1, 4096), (2, 8192)] {
        let mut generator = ChaCha20Rng::seed_from_u64(5);
        generator.set_stream(stream);
        for place in first..first + 2 {
            let uniform = generator.next_u64() as f64 / 2.0_f64.powi(64);
            assert_near("draw", drawn.borrow()[place], uniform, Tolerance::Absolute(1e-15));
        }
    }
    assert!(!Tolerance::Absolute(1e-15).accepts(drawn.borrow()[4096], drawn.borrow()[0]), "streams differ");
}

/// Groups without values are none; one group, or one value each, leaves nothing to divide by.
#[test]
fn groups_that_say_nothing() {
    let found = OneWay::of(&[vec![1.0, 2.0], vec![], vec![3.0, 5.0]]).unwrap();
    assert_eq!((found.groups, found.count, found.effective_size, found.balanced), (2, 4, Some(2.0), true));
    assert_eq!((found.ss_between, found.ss_within), (6.25, 2.5));
    assert_eq!((OneWay::of(&[]), OneWay::of(&[vec![], vec![]])), (None, None));
    let one = OneWay::of(&[vec![1.0, 2.0, 6.0]]).unwrap();
    assert_eq!((one.effective_size, one.between_variance(), one.balanced_reml()), (None, None, None));
    assert_eq!((one.within_variance(), one.r_squared()), (Some(7.0), Some(0.0)));
    let single = OneWay::of(&[vec![1.0], vec![4.0]]).unwrap();
    assert_eq!((single.within_variance(), single.between_variance(), single.balanced_reml()), (None, None, None));
    assert_eq!(OneWay::of(&[vec![2.0, 2.0], vec![2.0, 2.0]]).unwrap().r_squared(), None);
}

/// Mean squares that are equal: `δ² = 1 + e²` with `δ = 5/4`, `e = 3/4`, all in binary. The variance between groups is 0, and that is the boundary.
#[test]
fn mean_squares_that_are_equal_are_at_the_boundary() {
    let found = OneWay::of(&[vec![0.0, 2.0], vec![1.5, 3.0]]).unwrap();
    assert_eq!((found.ss_between, found.within_variance(), found.between_variance()), (1.5625, Some(1.5625), Some(0.0)));
    let reml = found.balanced_reml().unwrap();
    assert_eq!((reml.at_boundary, reml.between_sd, reml.within_sd), (true, 0.0, 1.25));
    let apart = OneWay::of(&[vec![0.0, 2.0], vec![1.5625, 3.0625]]).unwrap().balanced_reml().unwrap();
    assert!(!apart.at_boundary && apart.between_sd > 0.0);
}

/// Two groups of two subgroups of two: by hand. Uneven ones are refused, whatever is uneven.
#[test]
fn the_smallest_nested_analysis() {
    let even = vec![vec![vec![1.0, 3.0], vec![4.0, 8.0]], vec![vec![0.0, 2.0], vec![7.0, 9.0]]];
    let found = Nested::of(&even).unwrap();
    // subgroups 2, 6, 1, 8; groups 4 and 4.5; all 4.25
    for (square, expected) in found.sums_of_squares.iter().zip([0.5, 65.0, 14.0]) {
        assert_near("sum of squares", *square, expected, EXACT);
    }
    assert_eq!(found.dofs, [1.0, 2.0, 4.0]);
    for (variance, expected) in found.variances.iter().zip([(0.5 - 32.5) / 4.0, (32.5 - 3.5) / 2.0, 3.5]) {
        assert_near("variance", *variance, expected, EXACT);
    }
    let mut fewer = even.clone();
    fewer[1][1].pop();
    let mut more = even.clone();
    more[1].push(vec![1.0, 2.0]);
    assert_eq!((Nested::of(&fewer), Nested::of(&more), Nested::of(&even[..1]), Nested::of(&[])), (None, None, None, None));
}

/// Of readings that stray as far as each other, in one pass or in two, the first is taken out first.
#[test]
fn of_equal_strays_the_first_counts() {
    let values = [0.0, -4.0, 1.0, -1.0, 1.0, -1.0, 0.0, 4.0];
    let first = |breaks: &[usize]| {
        let design = DMatrix::from_element(8, 1, 1.0);
        let rows = Dense::new(&design, breaks);
        generalised_esd(&rows, &values, &Atoms::of(&rows, &values), &RunFit::of(&rows, &RunSums::of_rows(&rows, &values)), 1, 0.05).steps[0]
    };
    for breaks in [&[][..], &[4]] {
        let step = first(breaks);
        assert_eq!(step.index, 1, "{breaks:?}");
        // 4 standard deviations of what is left: √((36 − 16·8/7)/6)
        assert_near("studentised", step.studentised, -4.0 / (7.0_f64 / 8.0 * (36.0 - 128.0 / 7.0) / 6.0).sqrt(), EXACT);
    }
}
