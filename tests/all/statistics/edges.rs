//! Both sides of each bound: what is refused, what just is not, and what comes out there by hand.

use super::tolerances::{R_PAN, Tolerance, assert_near};
use nalgebra::DMatrix;
use std::cell::Cell;
use taperwright::statistics::distributions::coverage_factor95;
use taperwright::statistics::{
    Dense, Doubled, EqualSpread, EwmaPoint, FTest, FitError, LegendreRange, NormalPart, PureError, Repeats, RunBasis, Target, aicc,
    anderson_darling, brown_forsythe, detectable_effect, durbin_watson, ewma_chart, grubbs, influence, least_squares,
    least_squares_doubled, mixture_moments, mixture_quantile, propagate, runs_test, t_test_power, weighted_least_squares,
    welch_satterthwaite,
};

const EXACT: Tolerance = Tolerance::Relative(1e-12);

#[test]
fn the_coverage_factor_is_that_of_table_g2() {
    // JCGM 100:2008, table G.2: t95 of 4 degrees of freedom 2.78, of infinitely many 1.960; all digits by mpmath
    assert_near("4", coverage_factor95(Some(4.0)), 2.776_445_105_197_793, EXACT);
    assert_near("none", coverage_factor95(None), 1.959_963_984_540_054, EXACT);
    assert!(!EXACT.accepts(2.7764, 2.776_445_105_197_793));
}

/// What the low part loses is kept too: 1 + 2⁻⁵⁴ and 3·2⁻⁵⁴ + 2⁻¹⁰⁸ add up to 1 + 2⁻⁵² and 2⁻¹⁰⁸, exactly.
#[test]
fn a_doubled_sum_keeps_the_rounding_of_its_low_parts() {
    let power = |k: i32| 2.0_f64.powi(k);
    let first = Doubled::new(1.0).plus(power(-54));
    let second = Doubled::new(3.0 * power(-54)).plus(power(-108));
    assert_eq!((first.parts(), second.parts()), ((1.0, power(-54)), (3.0 * power(-54), power(-108))));
    assert_eq!(first.plus_doubled(second).parts(), (1.0 + power(-52), power(-108)));
    assert_eq!(first.value(), 1.0);
}

#[test]
fn durbin_watson_at_its_fewest_readings() {
    let y = [1.0, 2.0, -1.5, 0.5];
    let serial = |values: &[f64]| {
        let design = DMatrix::from_element(4, 1, 1.0);
        let rows = Dense::new(&design, &[]);
        durbin_watson(&rows, &RunBasis::of(&rows, |_| 1.0), values.iter().copied())
    };
    let found = serial(&y.map(|y| y - 0.5)).unwrap();
    // by numpy 2.4.6 and scipy 1.17.1: eigenvalues of MAM, Imhof's integral by quad
    assert_near("statistic", found.statistic, 2.653_846_153_846_153_7, EXACT);
    assert_near("tail", found.p_alike, 0.784_946_066_868_154_5, R_PAN);
    assert_near("both", found.p_two_sided(), 2.0 * (1.0 - found.p_alike), EXACT);
    // residuals missing, too many, or no numbers; two degrees of freedom
    assert_eq!((serial(&y[..3]), serial(&[0.5, 1.5, -2.0, 0.0, 1.0])), (None, None));
    assert_eq!((serial(&[0.0; 4]), serial(&[1.0, f64::INFINITY, 1.0, 0.0]), serial(&[1.0, f64::NAN, 1.0, 0.0])), (None, None, None));
    let line = DMatrix::from_fn(4, 2, |i, j| if j == 0 { 1.0 } else { i as f64 });
    let rows = Dense::new(&line, &[]);
    assert_eq!(durbin_watson(&rows, &RunBasis::of(&rows, |_| 1.0), [1.0, -1.0, -1.0, 1.0].into_iter()), None);
}

#[test]
fn groups_of_two_scatter_and_single_values_do_not() {
    // scipy 1.17.1, stats.levene([1, 2], [4, 8], [1, 2, 6], center="median")
    let groups = [vec![1.0, 2.0], vec![4.0, 8.0], vec![1.0, 2.0, 6.0]];
    let found = brown_forsythe(&groups).unwrap();
    assert_near("F", found.f, 0.587_912_087_912_087_9, EXACT);
    assert_near("p", found.p, 0.597_256_593_686_469_1, EXACT);
    assert!(!EXACT.accepts(found.p * 1.000_001, 0.597_256_593_686_469_1));
    let mut spread = EqualSpread::default();
    for group in groups.iter().chain(&[vec![7.0]]) {
        spread.add(&mut group.iter().map(|value| (*value, 1.0)).collect::<Vec<_>>());
    }
    assert_eq!((spread.groups(), spread.test()), (3, Some(found)), "a single value says nothing of scatter");
}

#[test]
fn charts_and_their_limits() {
    let point = |average: f64| EwmaPoint { average, low: -1.0, high: 2.0 }.is_outside();
    assert_eq!([-1.1, -1.0, 0.0, 2.0, 2.1].map(point), [true, false, false, false, true], "a limit is inside");
    for bad in [(f64::NAN, 1.0), (f64::INFINITY, 1.0), (1.0, f64::INFINITY), (1.0, f64::NAN), (1.0, 0.0), (1.0, -1.0)] {
        assert_eq!(ewma_chart(&[(0.0, 1.0), bad], 0.3, 3.0, Target::Known(0.0)), None, "{bad:?}");
    }
    for weight in [0.0, -0.1, 1.1, f64::NAN] {
        assert_eq!(ewma_chart(&[(0.0, 1.0)], weight, 3.0, Target::Known(0.0)), None, "{weight}");
    }
    // with weight 1 the average is the value, and the limits are those of one value
    let whole = ewma_chart(&[(5.0, 1.0), (7.0, 2.0)], 1.0, 3.0, Target::Known(4.0)).unwrap();
    assert_eq!(whole.points[1], EwmaPoint { average: 7.0, low: -2.0, high: 10.0 });
}

#[test]
fn readings_that_cannot_be_studentised() {
    let line = |n: usize| DMatrix::from_fn(n, 2, |i, j| if j == 0 { 1.0 } else { i as f64 });
    // one degree of freedom: each residual is ± its own standard deviation, and nothing is left without it
    let one = influence(&least_squares(&line(3), &[0.0, 1.0, 3.0]).unwrap());
    for (inner, sign) in one.internally_studentised.iter().zip([1.0, -1.0, 1.0]) {
        assert_near("inner", inner.unwrap(), sign, EXACT);
    }
    assert_eq!(one.externally_studentised, vec![None; 3]);
    // Cook's distance by hand: residual² h/(p s² (1 − h)²), here h/(2(1 − h)) with h = 5/6, 1/3, 5/6
    for (cook, expected) in one.cook.iter().zip([2.5, 0.25, 2.5]) {
        assert_near("Cook", cook.unwrap(), expected, EXACT);
    }
    let two = influence(&least_squares(&line(4), &[0.0, 1.0, 3.0, 2.0]).unwrap());
    assert!(two.externally_studentised.iter().all(Option::is_some));
    assert_eq!(influence(&least_squares(&line(2), &[0.0, 1.0]).unwrap()).internally_studentised, vec![None; 2]);
    let weighted = influence(&weighted_least_squares(&line(5), &[0.0, 1.0, 3.0, 2.0, 9.0], &[1.0, 1.0, 1.0, 1.0, 0.0]).unwrap());
    assert_eq!((weighted.internally_studentised[4], weighted.cook[4], weighted.externally_studentised[4]), (None, None, None));
    weighted.cook.iter().zip(&two.cook).for_each(|(one, other)| assert_near("without it", one.unwrap(), other.unwrap(), EXACT));
}

/// Columns at the ends of the range of a double are fitted like others.
#[test]
fn units_without_measure_fit_alike() {
    for size in [1e-140, 1.0, 1e140, 1e300] {
        let design = DMatrix::from_fn(4, 2, |i, j| if j == 0 { size } else { i as f64 });
        let fit = least_squares(&design, &[1.0, 3.0, 5.0, 7.0]).unwrap();
        assert_near("level", fit.coefficient(0).unwrap() * size, 1.0, EXACT);
        assert_near("slope", fit.coefficient(1).unwrap(), 2.0, EXACT);
    }
    assert_eq!(weighted_least_squares(&DMatrix::from_element(2, 1, 1e200), &[1.0, 2.0], &[1e300; 2]), Err(FitError::NotFinite));
}

#[test]
fn mixtures_samples_and_sums() {
    let one = NormalPart { weight: 2.0, mean: 3.0, sd: 0.5 };
    let none = NormalPart { weight: 0.0, ..one };
    assert_eq!(
        (mixture_moments(&[none]), mixture_moments(&[]), mixture_moments(&[NormalPart { weight: f64::INFINITY, ..one }])),
        (None, None, None)
    );
    assert_eq!([0.0, 1.0, -0.1, f64::NAN].map(|p| mixture_quantile(&[one], p)), [None; 4]);
    assert_near("median", mixture_quantile(&[one, none], 0.5).unwrap(), 3.0, EXACT);
    // a component of nothing has no part in the sum
    assert_eq!(welch_satterthwaite(&[(0.0, Some(3.0)), (1.0, Some(4.0))]), Some((1.0, Some(4.0))));
    assert_eq!((welch_satterthwaite(&[(f64::INFINITY, None)]), welch_satterthwaite(&[(f64::MAX, None), (f64::MAX, None)])), (None, None));
    // of values as far from the mean as each other the first is told
    assert_eq!(grubbs(&[-1.0, 0.5, 0.0, -0.5, 1.0], 0.05).unwrap().index, 0);
    // in another unit the same value strays as far
    let small = grubbs(&[0.1e-3, -0.2e-3, 0.9e-3, 0.0], 0.05).unwrap();
    let large = grubbs(&[0.1e3, -0.2e3, 0.9e3, 0.0], 0.05).unwrap();
    assert_eq!((small.index, large.index), (2, 2));
    assert_near("G", small.statistic, large.statistic, EXACT);
    // one above, one below: 2 runs for certain
    let two = runs_test(&[1.0, -1.0], 0.0).unwrap();
    assert_eq!((two.runs, two.expected, two.sd, two.z, two.p_exact), (2, 2.0, 0.0, 0.0, 1.0));
    assert_eq!((runs_test(&[1.0, 2.0], 0.0), runs_test(&[-1.0], 0.0), runs_test(&[f64::NAN, 1.0], 0.0)), (None, None, None));
}

/// JCGM 101:2008, 7.7.2 (from memory): of M draws q is the integer part of pM + ½, and the interval goes from the r-th to the (r + q)-th, r = (M − q)/2, or the
/// integer part of (M − q + 1)/2 where that is none.
#[test]
fn intervals_of_draws_are_counted() {
    let count = Cell::new(0.0);
    let found = propagate(&[], 10, 1, |_| {
        count.set(count.get() + 1.0);
        // the draws are 1, 4, 9 … 100, so that the shortest interval lies at the lower end
        count.get() * count.get()
    })
    .unwrap();
    assert_near("mean", found.mean, 38.5, EXACT);
    assert_eq!(found.symmetric_interval(0.5), Some((9.0, 64.0)));
    assert_eq!(found.shortest_interval(0.5), Some((1.0, 36.0)));
    assert_eq!(found.symmetric_interval(0.44), Some((9.0, 49.0)), "q = 4, r = 3: from the third to the seventh");
    assert_eq!((found.symmetric_interval(0.95), found.shortest_interval(0.95)), (None, None), "ten of ten leave no end");
    assert_eq!((found.symmetric_interval(0.0), found.shortest_interval(1.0)), (None, None));
    assert_eq!(propagate(&[], 1, 1, |_| 1.0), None);
}

#[test]
fn ratios_of_squares_and_repeats() {
    let f = |ss1: f64, dof1: f64, ss2: f64, dof2: f64| FTest::of(ss1, dof1, ss2, dof2).map(|test| (test.f, test.p));
    assert_eq!((f(1.0, 0.0, 1.0, 3.0), f(1.0, 2.0, 1.0, 0.0), f(1.0, 2.0, 0.0, 3.0), f(1.0, -1.0, 1.0, 3.0)), (None, None, None, None));
    assert_eq!((f(1.0, 2.0, -1.0, 3.0), f(1.0, 2.0, f64::NAN, 3.0), f(-1.0, 2.0, 1.0, 3.0)), (None, None, Some((0.0, 1.0))));
    // readings of two weights at one place, one by one and as the sums of those of each weight; a place read once adds nothing
    let (mut single, mut parts) = (PureError::default(), PureError::default());
    single.add(&[(1.0, 1.0), (3.0, 1.0), (4.0, 2.0), (8.0, 2.0), (9.0, 2.0)]);
    single.add(&[(2.0, 3.0), (2.5, 3.0)]);
    let part = |count, weight, mean, square| Repeats { count, weight, mean, square };
    parts.add_repeats(&[part(2, 1.0, 2.0, 2.0), part(3, 2.0, 7.0, 14.0)]);
    parts.add_repeats(&[part(2, 3.0, 2.25, 0.125)]);
    parts.add_repeats(&[part(1, 5.0, 7.0, 0.0)]);
    // 2 + 2·14 + 2·6·(7 − 2)²/8 + 3/8
    assert_eq!((single.dof, parts.dof), (5.0, 5.0));
    assert_near("one by one", single.square, 2.0 + 28.0 + 37.5 + 0.375, EXACT);
    assert_near("in parts", parts.square, 67.875, EXACT);
    // three terms and the variance need a sixth reading
    let line = |n: usize| DMatrix::from_fn(n, 2, |i, j| if j == 0 { 1.0 } else { i as f64 });
    let fit = |n: usize| least_squares(&line(n), &[0.0, 1.0, 3.0, 2.0, 5.0][..n]).unwrap();
    assert_eq!((aicc(&fit(4)), aicc(&fit(5)).is_some()), (None, true));
}

/// Residuals that are rounding of the readings' own size are none, in any unit and with any weights.
#[test]
fn a_fit_to_the_last_digit_is_exact() {
    let line = DMatrix::from_fn(7, 2, |i, j| if j == 0 { 1.0 } else { 0.1 * i as f64 });
    let y = |unit: f64, stray: f64| -> Vec<f64> {
        (0..7).map(|i| unit * (0.3 + 0.7 * f64::from(i) + if i == 3 { stray } else { 0.0 })).collect()
    };
    for unit in [1e-6, 1.0, 1e6] {
        for weight in [1e-12, 1.0, 1e12] {
            let fit = |stray: f64| weighted_least_squares(&line, &y(unit, stray), &[weight; 7]).unwrap();
            assert!(fit(0.0).fits_exactly() && !fit(1e-13).fits_exactly(), "{unit} {weight}");
        }
        assert!(
            least_squares(&line, &y(unit, 0.0)).unwrap().fits_exactly() && !least_squares(&line, &y(unit, 1e-13)).unwrap().fits_exactly()
        );
    }
    assert!(least_squares(&line, &[0.0; 7]).unwrap().fits_exactly());
}

#[test]
fn columns_along_the_axes_nearly_alike_and_of_other_lengths() {
    let axes = DMatrix::from_row_slice(3, 2, &[1.0, 0.0, 0.0, 2.0, 0.0, 0.0]);
    assert_eq!(least_squares(&axes, &[3.0, 4.0, 5.0]).unwrap().coefficients(), [Some(3.0), Some(2.0)]);
    // a difference of 5·10⁻¹⁴ between columns of length 20 is 2.5·10⁻¹⁴ of one, less than the 10⁻¹² that counts; 5·10⁻¹² of it is more
    let alike = |stray: f64| DMatrix::from_fn(400, 2, |i, j| 1.0 + if j == 1 { stray * if i % 2 == 0 { 1.0 } else { -1.0 } } else { 0.0 });
    let y: Vec<f64> = (0..400).map(f64::from).collect();
    assert_eq!([5e-14, 5e-12].map(|stray| least_squares(&alike(stray), &y).unwrap().rank()), [1, 2]);
    let one = DMatrix::from_element(3, 1, 1.0);
    let doubled = |rest: &DMatrix<f64>, low: &[f64]| least_squares_doubled(&one, rest, &[1.0, 2.0, 3.0], low).map(|fit| fit.rank());
    let none = DMatrix::zeros(3, 1);
    assert_eq!(doubled(&none, &[0.0; 3]), Ok(1));
    assert_eq!(doubled(&none, &[0.0; 2]), Err(FitError::Lengths { rows: 3, found: 2 }));
    assert_eq!(doubled(&DMatrix::zeros(2, 1), &[0.0; 3]), Err(FitError::Lengths { rows: 3, found: 2 }));
    assert_eq!(doubled(&none, &[0.0, f64::NAN, 0.0]), Err(FitError::NotFinite));
    assert!(LegendreRange::new(-1e308, 1e308).is_none() && LegendreRange::new(f64::NEG_INFINITY, 1.0).is_none());
    assert_eq!(LegendreRange::new(2.0, 6.0).unwrap().monomial_coefficients(&[1.0, 2.0, 4.0]).len(), 3);
}

/// Each piece of the tail probability of Anderson and Darling's statistic: statsmodels 0.15.0, `normal_ad` of normal scores with the last one moved.
#[test]
fn the_tail_of_anderson_and_darling_piece_by_piece() {
    let scores = [-1.64, -1.11, -0.79, -0.54, -0.31, -0.1, 0.1, 0.31, 0.54, 0.79, 1.11, 1.64];
    let cases = [
        (0.0, 0.072_993_853_064_503_18, 0.999_286_592_728_564_9),
        (0.8, 0.165_049_870_260_39, 0.941_433_235_060_778_9),
        (1.2, 0.264_191_416_162_840_6, 0.697_345_381_291_830_7),
        (1.5, 0.351_082_666_630_432_2, 0.470_160_946_249_951_4),
        (2.0, 0.509_321_263_837_021, 0.197_964_227_326_648),
        (4.0, 1.151_794_571_675_766, 0.005_209_768_395_625_784),
    ];
    for (move_by, statistic, p) in cases {
        let mut values = scores;
        values[11] += move_by;
        let found = anderson_darling(&values).unwrap();
        assert_near("statistic", found.statistic, statistic, Tolerance::Relative(1e-10));
        assert_near("tail", found.p, p, Tolerance::Relative(1e-9));
        assert!(!Tolerance::Relative(1e-9).accepts(found.p * (1.0 + 3e-9), p));
    }
}

#[test]
fn a_power_between_the_level_and_certainty() {
    assert_eq!((detectable_effect(0.05, Some(8.0), 0.05), detectable_effect(1.0, Some(8.0), 0.05)), (None, None));
    assert!(detectable_effect(0.051, Some(8.0), 0.05).is_some_and(|effect| effect > 0.0));
    assert_eq!([0.0, 1.0, -0.1, f64::NAN].map(|alpha| t_test_power(1.0, Some(8.0), alpha)), [None; 4]);
    // noncentral t of 200 degrees of freedom: mpmath 1.3.0, quad of its definition
    assert_near("power of many", t_test_power(3.0, Some(200.0), 0.05).unwrap(), 0.847_460_310_173_087, Tolerance::Relative(1e-8));
    // so many that the noise is known: the normal's, and the step of the sum has to follow how well
    let known = t_test_power(3.0, None, 0.05).unwrap();
    let many = |dof: f64| t_test_power(3.0, Some(dof), 0.05).unwrap();
    for dof in [1e6, 1e8, 1e10] {
        // the noise's own variance is 1/2ν and t's third figure moves by as much
        assert_near("power of very many", many(dof), known, Tolerance::Relative(1.0 / dof));
        assert!(!Tolerance::Relative(1.0 / dof).accepts(many(0.1 * dof), known), "{dof}: {}", many(0.1 * dof) / known - 1.0);
    }
    assert_eq!(t_test_power(f64::INFINITY, Some(8.0), 0.05), None);
    assert_eq!((t_test_power(f64::NAN, Some(8.0), 0.05), t_test_power(1.0, Some(0.9), 0.05)), (None, None));
    // exactly known noise: Φ(δ − z) + Φ(−δ − z) with z = 1.96, δ = 3; scipy 1.17.1, stats.norm.cdf
    assert_near("power", t_test_power(3.0, None, 0.05).unwrap(), 0.850_838_768_327_056_2, EXACT);
}
