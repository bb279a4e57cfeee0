//! Tails and quantiles where a double or a formula ends, against quadrature and closed forms.

use super::tolerances::{TAIL, TAIL_HUGE_DOF, Tolerance, assert_near};
use taperwright::statistics::distributions as d;

#[test]
fn beyond_the_largest_finite_numbers_of_degrees_of_freedom_tails_are_those_of_quadrature() {
    // mpmath 1.3.0, 50 digits, quad of the density over 14 standard deviations either way (t: over 12; over 3.2 in pieces of 0.02 from 25 on). At 4·10¹² degrees of
    // freedom x itself is known to 5·10⁻⁴ of 2.8·10⁶.
    let chi_square = [
        (3_999_991_514_718.626, 0.001_349_889_675_205_863_8, 0.998_650_110_324_794_1),
        (3_999_997_171_572.875_5, 0.158_655_253_951_495_8, 0.841_344_746_048_504_2),
        (4_000_001_414_213.562_5, 0.691_462_523_526_753_5, 0.308_537_476_473_246_5),
        (4_000_011_313_708.499, 0.999_968_328_285_004_9, 3.167_171_499_511_115e-5),
    ];
    for (x, lower, upper) in chi_square {
        let tolerance = Tolerance::Relative(1e-8);
        assert_near("chi-square below", d::chi_square_cdf(x, 4e12).unwrap(), lower, tolerance);
        assert_near("chi-square above", d::chi_square_sf(x, 4e12).unwrap(), upper, tolerance);
        assert!(!tolerance.accepts(d::chi_square_sf(x + 1e4, 4e12).unwrap(), upper) || upper > 0.9);
        // the limit of F where the other mean square is exactly known
        assert_near("F of one", d::f_sf(x / 4e12, 8e11, f64::INFINITY).unwrap(), d::chi_square_sf(x / 5.0, 8e11).unwrap(), tolerance);
    }
    let t = [
        (3e9, 0.7, 0.241_963_652_250_213_1),
        (3e9, 2.5, 0.006_209_665_352_251_172),
        (3e9, 8.0, 6.220_962_763_589_608e-16),
        (3e9, 25.0, 3.056_796_527_998_907e-138),
        (1e10, 8.0, 6.220_961_231_067_057e-16),
        (1e10, 25.0, 3.056_726_652_528_096_5e-138),
    ];
    for (dof, x, upper) in t {
        let tolerance = if x > 10.0 { Tolerance::Relative(3e-12) } else { TAIL_HUGE_DOF };
        assert_near("t above", d::t_sf(x, dof).unwrap(), upper, tolerance);
        assert_near("t below", d::t_sf(-x, dof).unwrap(), 1.0 - upper, TAIL);
    }
    assert!(!TAIL_HUGE_DOF.accepts(d::t_sf(8.0, 1e10).unwrap(), t[2].2), "the comparison tells 10¹⁰ from 3·10⁹");
}

#[test]
fn quantiles_from_the_far_side_are_those_from_the_near_one() {
    // mpmath 1.3.0, 40 digits: findroot of gammainc(3.5, x/2), betainc(1.5, 3.5, 0, 3x/(3x + 7)) and betainc(3.5, 0.5, 0, 7/(7 + x²)), regularised
    let near = |what: &str, found: Option<f64>, expected: f64| assert_near(what, found.unwrap(), expected, Tolerance::Relative(1e-13));
    let levels = [
        (0.9, 2.833_106_917_815_343_8, 0.189_890_436_720_420_46, -1.414_923_927_650_508_6),
        (0.75, 4.254_852_183_546_515, 0.411_484_054_781_269_6, -0.711_141_778_081_786_3),
        (0.25, 9.037_147_547_908_14, 1.716_928_825_725_619, 0.711_141_778_081_786_3),
        (0.125, 11.326_443_299_828_021, 2.712_934_405_671_89, 1.254_278_681_589_868_5),
    ];
    for (q, chi_square, f, t) in levels {
        near("chi-square", d::chi_square_upper_quantile(q, 7.0), chi_square);
        near("chi-square", d::chi_square_quantile(1.0 - q, 7.0), chi_square);
        near("F", d::f_upper_quantile(q, 3.0, 7.0), f);
        near("F", d::f_quantile(1.0 - q, 3.0, 7.0), f);
        near("t", d::t_upper_quantile(q, 7.0), t);
        near("t", d::t_quantile(1.0 - q, 7.0), t);
    }
    assert!(!Tolerance::Relative(1e-13).accepts(2.833_106_917_816, 2.833_106_917_815_343_8));
    // fewer than a millionth of a degree of freedom are none, and a tail wants a number
    for dof in [9e-7, 0.0, -1.0, f64::NAN] {
        assert_eq!(
            (d::chi_square_sf(1.0, dof), d::t_sf(1.0, dof), d::t_quantile(0.3, dof), d::t_quantile(0.1, dof)),
            (None, None, None, None)
        );
        assert_eq!((d::f_sf(1.0, dof, 3.0), d::f_sf(1.0, 3.0, dof), d::f_quantile(0.3, dof, 3.0)), (None, None, None));
        assert_eq!((d::f_quantile(0.3, 3.0, dof), d::chi_square_quantile(0.3, dof)), (None, None));
    }
    assert!(d::chi_square_sf(1.0, 1e-6).is_some() && d::t_sf(1.0, 1e-6).is_some() && d::f_sf(1.0, 1e-6, 1e-6).is_some());
    assert_eq!((d::t_sf(f64::NAN, 1e10), d::f_sf(f64::NAN, 1e13, 3.0), d::f_sf(f64::NAN, 3.0, 1e13)), (None, None, None));
    // quantiles outside what a double holds: 10⁻¹² to the power of 2/0.01
    assert_eq!((d::f_quantile(1e-12, 0.01, 2.0), d::f_upper_quantile(1e-12, 2.0, 0.01)), (None, None));
    near("F with one known above", d::f_upper_quantile(0.25, f64::INFINITY, 7.0), 7.0 / levels[1].1);
    assert_eq!((d::f_sf(1.0, 2e12, 2e12), d::f_quantile(0.3, 2e12, 2e12)), (None, None), "both mean squares known");
    // a uniform at the very ends is taken just inside: mpmath, the tail of 2⁻⁵³ and of 10⁻³⁰⁰
    near("highest deviate", Some(d::normal_of_uniform(1.0)), 8.209_536_151_601_387);
    near("lowest deviate", Some(d::normal_of_uniform(0.0)), -37.047_096_299_361_2);
}

#[test]
fn far_tails_of_the_normal_keep_their_digits_and_a_probability_is_one() {
    // mpmath 1.3.0, 40 digits: erfc(z/√2)/2
    let tails = [
        (9.7, 1.507_493_168_810_205e-22),
        (17.3, 2.351_944_458_809_232_4e-67),
        (23.9, 1.531_368_304_223_915e-126),
        (33.3, 1.930_505_505_927_84e-243),
        (37.1, 1.404_711_966_310_622_1e-301),
    ];
    for (z, upper) in tails {
        assert_near("normal", d::normal_sf(z).unwrap(), upper, Tolerance::Relative(4e-15));
        assert_eq!(d::normal_two_sided_p(-z), d::normal_sf(z).map(|p| 2.0 * p));
        assert!(!Tolerance::Relative(4e-15).accepts(upper * (1.0 + 1e-14), upper));
    }
    let near = |what: &str, found: Option<f64>, expected: f64| assert_near(what, found.unwrap(), expected, Tolerance::Relative(1e-12));
    for p in [0.0, 1.0, -0.5, 1.5, f64::NAN] {
        assert_eq!((d::normal_quantile(p), d::t_quantile(p, 1e6), d::t_upper_quantile(p, 1e6)), (None, None, None), "{p}");
        assert_eq!((d::chi_square_quantile(p, 3.0), d::chi_square_upper_quantile(p, 3.0)), (None, None), "{p}");
        assert_eq!((d::f_quantile(p, 3.0, 4.0), d::f_upper_quantile(p, 3.0, 4.0)), (None, None), "{p}");
    }
    // with one degree of freedom the law is Cauchy's, P(T > t) = arctan(1/t)/π; with 2 it is ½(1 − t/√(2 + t²)), 1/(2t²) far out
    for (t, dof, tail) in [(1e200, 1.0, 1e-200 / std::f64::consts::PI), (1e160, 1.0, 1e-160 / std::f64::consts::PI), (1e100, 2.0, 0.5e-200)]
    {
        near("far t", d::t_sf(t, dof), tail);
        near("far t", d::t_upper_quantile(tail, dof), t);
    }
    // far out it falls as a power of t, and the two sides add up to one
    let [far, farther] = [1e150, 1e160].map(|t| d::t_sf(t, 1e-3).unwrap());
    near("power", Some(farther / far), 10_f64.powf(-0.01));
    near("both sides", d::t_sf(-1e160, 1e-3), 1.0 - farther);
    assert_eq!((d::t_upper_quantile(1e-160, 0.5), d::t_quantile(1e-160, 0.5)), (None, None), "10³²⁰ is no double");
    // ln Γ(½) = ½ ln π; Γ has no finite value at 0 and below
    near_ln_gamma(0.5, 0.5 * std::f64::consts::PI.ln());
    near_ln_gamma(11.0, 3_628_800.0_f64.ln());
    assert!([0.0, -0.5, f64::INFINITY, f64::NAN].iter().all(|a| d::ln_gamma(*a).is_none()));
}

fn near_ln_gamma(a: f64, expected: f64) {
    assert_near("ln Γ", d::ln_gamma(a).unwrap(), expected, Tolerance::Relative(1e-14));
}

/// A level of 0 or 1 and beyond has no quantile, in any distribution.
#[test]
fn levels_outside_have_no_quantile() {
    for p in [0.0, 1.0, -0.25, 1.25, f64::NAN] {
        assert_eq!((d::normal_quantile(p), d::t_quantile(p, 3.0), d::t_upper_quantile(p, 3.0)), (None, None, None), "{p}");
        assert_eq!((d::chi_square_quantile(p, 3.0), d::chi_square_upper_quantile(p, 3.0)), (None, None), "{p}");
        assert_eq!((d::f_quantile(p, 3.0, 4.0), d::f_upper_quantile(p, 3.0, 4.0)), (None, None), "{p}");
    }
    let tiny = f64::MIN_POSITIVE;
    assert!(d::normal_quantile(tiny).is_some() && d::normal_quantile(1.0 - f64::EPSILON).is_some());
}
