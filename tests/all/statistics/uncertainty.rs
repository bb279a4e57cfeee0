//! GUM H.1 and H.3, JCGM 101 clause 9, NBS Handbook 91, combination of estimates.

use super::fixture::{Table, json, number};
use super::tolerances::{R_LINEAR, Tolerance, assert_near};
use nalgebra::DMatrix;
use taperwright::statistics::distributions::t_quantile;
use taperwright::statistics::{BetweenVariance, Fit, Input, combine, least_squares, propagate, welch_satterthwaite};

fn line_about(x: &[f64], origin: f64, y: &[f64]) -> Fit {
    least_squares(&DMatrix::from_fn(x.len(), 2, |i, j| if j == 0 { 1.0 } else { x[i] - origin }), y).unwrap()
}

#[test]
fn gum_h1_gauge_block_budget() {
    // JCGM 100:2008, annex H.1: u_c = 32 nm, second order 34 nm (read); ν_eff 16.7, t99 2.92, U99 93 nm (from memory). GUM rounds on the way: checked
    // against exact arithmetic.
    let difference = welch_satterthwaite(&[(5.8, Some(24.0)), (3.9, Some(5.0)), (6.7, Some(8.0))]).unwrap();
    assert_near("u(d)", difference.0, 9.681_941_953_967_707, R_LINEAR);
    assert_near("ν(d)", difference.1.unwrap(), 25.447_250_777_362_726, R_LINEAR);
    let (mean_temperature, cyclic) = (0.2_f64, 0.5 / 2.0_f64.sqrt());
    let theta = mean_temperature.hypot(cyclic);
    assert_near("u(θ)", theta, 0.406_201_920_231_798, R_LINEAR);
    let l = 50_000_623.0;
    let alpha = 1e-6 / 3.0_f64.sqrt();
    let expansion_difference = l * 0.1 * alpha;
    let temperature_difference = l * 11.5e-6 * 0.05 / 3.0_f64.sqrt();
    let budget =
        [(25.0, Some(18.0)), (difference.0, difference.1), (expansion_difference, Some(50.0)), (temperature_difference, Some(2.0))];
    let (combined, dof) = welch_satterthwaite(&budget).unwrap();
    assert_near("u_c", combined, 31.663_879, Tolerance::Relative(1e-6));
    assert_near("u_c, printed", combined, 32.0, Tolerance::Absolute(0.5));
    assert_near("ν_eff", dof.unwrap(), 16.751_855_7, Tolerance::Relative(1e-6));
    let t = t_quantile(0.995, dof.unwrap().floor()).unwrap();
    assert_near("t99", t, 2.920_781_622_425_1, R_LINEAR);
    assert_near("U99", t * combined, 92.483_276_2, Tolerance::Relative(1e-6));
    // Second-order terms, H.1.7: l u(δα) u(θ) and l u(α) u(δθ).
    let second = [l * (1e-6 / 3.0_f64.sqrt()) * theta, l * 2e-6 / 3.0_f64.sqrt() * 0.05 / 3.0_f64.sqrt()];
    assert_near("first second-order term", second[0], 11.726_185_5, Tolerance::Relative(1e-5));
    assert_near("other second-order term", second[1], 1.666_687_4, Tolerance::Relative(1e-5));
    assert_near("u_c, second order", combined.hypot(second[0]).hypot(second[1]), 33.806_545_4, Tolerance::Relative(1e-5));
}

#[test]
fn welch_satterthwaite_edges() {
    assert_eq!(welch_satterthwaite(&[]), Some((0.0, None)));
    assert_eq!(welch_satterthwaite(&[(3.0, None), (4.0, Some(f64::INFINITY))]), Some((5.0, None)));
    assert_near("by hand", welch_satterthwaite(&[(3.0, Some(4.0)), (4.0, None)]).unwrap().1.unwrap(), 625.0 * 4.0 / 81.0, R_LINEAR);
    assert_eq!(
        (welch_satterthwaite(&[(-1.0, None)]), welch_satterthwaite(&[(1.0, Some(0.0))]), welch_satterthwaite(&[(f64::NAN, None)])),
        (None, None, None)
    );
}

#[test]
fn gum_h3_thermometer_line_is_the_same_for_any_origin() {
    // JCGM 100:2008 H.3, table H.6; printed −0.1712, 0.0029, 0.00218, 0.00067, r −0.930, s 0.0035, b(30) −0.1494, 0.0041 (read); all digits by 40-digit
    // arithmetic.
    let table = Table::read("published/jcgm-100-2008/h3_thermometer.csv");
    let (t, b) = (table.column("t_degC"), table.column("b_degC"));
    let fit = line_about(t, 20.0, b);
    let exact = Tolerance::Relative(1e-11);
    assert_near("y1", fit.coefficient(0).unwrap(), -0.171_203_790_131_349_98, exact);
    assert_near("y2", fit.coefficient(1).unwrap(), 0.002_182_697_739_887_278, exact);
    assert_near("s(y1)", fit.standard_error(0).unwrap(), 0.002_877_597_835_159_953_7, exact);
    assert_near("s(y2)", fit.standard_error(1).unwrap(), 0.000_667_938_773_227_831_7, exact);
    let correlation = fit.covariance(0, 1).unwrap() / (fit.standard_error(0).unwrap() * fit.standard_error(1).unwrap());
    assert_near("r", correlation, -0.930_429_603_093_445_9, exact);
    assert_near("s", fit.residual_sd().unwrap(), 0.003_497_563_963_505_284, exact);
    for origin in [20.0, 0.0, 24.008_454_545_454_54, -300.0, 1000.0] {
        let moved = line_about(t, origin, b);
        let (value, variance) = moved.combination(&[1.0, 30.0 - origin]).unwrap();
        let s = moved.residual_sd().unwrap();
        let tolerance = Tolerance::Relative(1e-10);
        assert_near("b(30)", value, -0.149_376_812_732_477_2, tolerance);
        assert_near("u of b(30)", s * variance.sqrt(), 0.004_138_595_752_854_948, tolerance);
        assert_near("u of one new reading", s * (1.0 + variance).sqrt(), 0.005_418_572_550_437_966, tolerance);
    }
    let centred = line_about(t, 24.008_454_545_454_545, b);
    assert!((centred.covariance(0, 1).unwrap() / (centred.standard_error(0).unwrap() * centred.standard_error(1).unwrap())).abs() < 1e-12);
    assert_near("mean line at the mean", centred.standard_error(0).unwrap(), 0.001_054_555_213_383_210_4, exact);
}

#[test]
fn handbook_91_youngs_modulus() {
    // NBS Handbook 91 (Natrella 1963), worksheet 5-4.1, printed digits (read).
    let table = Table::read("published/natrella-1963/youngs_modulus.csv");
    let fit = line_about(table.column("x"), 0.0, table.column("y"));
    assert_near("b0", fit.coefficient(0).unwrap(), 4654.9846, Tolerance::Absolute(5e-5));
    assert_near("b1", fit.coefficient(1).unwrap(), -0.449_854_82, Tolerance::Absolute(5e-9));
    assert_near("var b0", fit.covariance(0, 0).unwrap(), 19.879_452, Tolerance::Absolute(2e-6));
    assert_near("var b1", fit.covariance(1, 1).unwrap(), 2.564_904_5e-5, Tolerance::Absolute(6e-13));
    let s = fit.residual_sd().unwrap();
    assert_near("s", s, 9.277_617, Tolerance::Absolute(1e-6));
    assert_near("variance of the mean at 1200", s * s * fit.combination(&[1.0, 1200.0]).unwrap().1, 10.53, Tolerance::Absolute(5e-3));
    assert_near(
        "variance of a new reading at 750",
        s * s * (1.0 + fit.combination(&[1.0, 750.0]).unwrap().1),
        91.45,
        Tolerance::Absolute(5e-3),
    );
}

#[test]
fn jcgm_101_additive_model() {
    // JCGM 101:2008 clause 9.2 (definitions from memory; values exact by convolution). The tolerance is five standard errors of the draws.
    let draws = 60_000;
    let sum = |x: &[f64]| x.iter().sum::<f64>();
    let normal = [Input::Normal { value: 0.0, u: 1.0 }; 4];
    let unit = Input::Rectangular { value: 0.0, half: 3.0_f64.sqrt() };
    let wide = Input::Rectangular { value: 0.0, half: 300.0_f64.sqrt() };
    for (clause, inputs, u, half, slack) in [
        ("9.2.2", normal, 2.0, 3.919_927_969_080_108, 0.10),
        ("9.2.3", [unit; 4], 2.0, 3.879_406_741_347_821, 0.08),
        ("9.2.4", [unit, unit, unit, wide], 10.148_891_565_092_22, 17.015_814_099_866_674, 0.12),
    ] {
        let found = propagate(&inputs, draws, 1, sum).unwrap();
        assert_near(clause, found.mean, 0.0, Tolerance::Absolute(5.0 * u / 245.0));
        assert_near(clause, found.standard_uncertainty, u, Tolerance::Relative(0.015));
        let (low, high) = found.symmetric_interval(0.95).unwrap();
        assert_near(clause, 0.5 * (high - low), half, Tolerance::Absolute(slack));
        let shortest = found.shortest_interval(0.95).unwrap();
        assert!(shortest.1 - shortest.0 <= high - low, "the shortest interval is not longer");
    }
    // The wide rectangle's interval is far from the normal one (19.89): the check can tell them apart.
    assert!(!Tolerance::Absolute(0.12).accepts(19.891, 17.015_8));
    let again = || propagate(&normal, 9000, 7, sum);
    assert_eq!(again(), again(), "same seed, same draws");
    assert_ne!(again(), propagate(&normal, 9000, 8, sum));
}

#[test]
fn jcgm_101_square_at_zero_has_a_one_sided_result() {
    // JCGM 101:2008 clause 9.4: Y = X1² + X2², both 0 with u 0.005: mean and u 50e-6, shortest 95 % interval [0, 149.787e-6] (exact: an exponential law).
    let found = propagate(&[Input::Normal { value: 0.0, u: 0.005 }; 2], 60_000, 3, |x| x[0] * x[0] + x[1] * x[1]).unwrap();
    assert_near("mean", found.mean, 5e-5, Tolerance::Relative(0.02));
    assert_near("u", found.standard_uncertainty, 5e-5, Tolerance::Relative(0.03));
    let (low, high) = found.shortest_interval(0.95).unwrap();
    assert!(low < 1e-7);
    assert_near("upper end", high, 1.497_866e-4, Tolerance::Relative(0.03));
}

#[test]
fn jcgm_101_square_away_from_zero() {
    // JCGM 101:2008 clause 9.4, the same Y with X1 estimated 0.010 and 0.050 (definitions from memory; values exact: a scaled non-central chi-square). Five
    // standard errors of the draws on mean and u; on the ends of the interval, which move slowly with the density there, 3 %.
    for (x1, mean, u, ends) in [(0.010, 150e-6, 111.803e-6, [0.0, 366.005e-6]), (0.050, 2550e-6, 502.494e-6, [1593.57e-6, 3548.57e-6])] {
        let inputs = [Input::Normal { value: x1, u: 0.005 }, Input::Normal { value: 0.0, u: 0.005 }];
        let found = propagate(&inputs, 60_000, 3, |x| x[0] * x[0] + x[1] * x[1]).unwrap();
        assert_near("mean", found.mean, mean, Tolerance::Absolute(5.0 * u / 245.0));
        assert_near("u", found.standard_uncertainty, u, Tolerance::Relative(0.03));
        let (low, high) = found.shortest_interval(0.95).unwrap();
        let slack = Tolerance::Absolute(0.03 * ends[1]);
        assert_near("lower end", low, ends[0], slack);
        assert_near("upper end", high, ends[1], slack);
        // The framework of linear propagation takes Y = x1² with u = 2·x1·u(x1), 100e-6 at 0.010: the check can tell them apart.
        assert!(!Tolerance::Absolute(5.0 * u / 245.0).accepts(x1 * x1, mean), "the square of the estimate is not the mean");
    }
}

#[test]
fn a_t_input_has_the_spread_of_its_degrees_of_freedom() {
    let found = propagate(&[Input::Student { value: 2.0, u: 0.5, dof: 9.0 }], 20_000, 5, |x| x[0]).unwrap();
    assert_near("u", found.standard_uncertainty, 0.5 * (9.0_f64 / 7.0).sqrt(), Tolerance::Relative(0.03));
    let (low, high) = found.symmetric_interval(0.95).unwrap();
    assert_near("half-width", 0.5 * (high - low), 0.5 * 2.262_157, Tolerance::Relative(0.04));
    assert!(propagate(&[Input::Student { value: 0.0, u: 1.0, dof: 0.0 }], 10, 1, |x| x[0]).is_none());
    assert!(propagate(&[], 10, 1, |_| f64::NAN).is_none() && found.symmetric_interval(1.0).is_none());
}

#[test]
fn combined_estimates_match_the_reference() {
    // Log risk ratios of 13 trials (Colditz et al. 1994); Paule & Mandel (1982), both examples; lead in wine by nine laboratories (CCQM-K30, 2008). Values: tests/reference/combination.json.
    let expected = json("reference/combination.json");
    for (name, file, squared) in [
        ("log_risk_ratios", "colditz-1994/log_risk_ratios.csv", true),
        ("cadmium", "paule-mandel-1982/cadmium.csv", false),
        ("second_example", "paule-mandel-1982/second_example.csv", false),
        ("lead_in_wine", "ccqm-k30-2008/lead.csv", false),
    ] {
        let table = Table::read(&format!("published/{file}"));
        let u: Vec<f64> = if squared { table.column("v").iter().map(|v| v.sqrt()).collect() } else { table.column("u").to_vec() };
        let estimates: Vec<(f64, f64)> = table.column("y").iter().copied().zip(u).collect();
        let at = |key: &str| number(&expected, &format!("/{name}/{key}"));
        for (word, method) in [
            ("FE", BetweenVariance::Common),
            ("DL", BetweenVariance::DerSimonianLaird),
            ("PM", BetweenVariance::PauleMandel),
            ("REML", BetweenVariance::Reml),
        ] {
            let found = combine(&estimates, method).unwrap();
            let tolerance = Tolerance::Relative(1e-9);
            assert_near(name, found.value, at(&format!("{word}/mu")), Tolerance::Relative(1e-10));
            assert_near(name, found.standard_error, at(&format!("{word}/se")), tolerance);
            assert_near(name, found.q, at("Q"), tolerance);
            assert_near(name, found.q_p, at("Q_pvalue"), Tolerance::Relative(1e-7));
            assert_near(name, found.birge_ratio, at("birge_ratio"), tolerance);
            if word != "FE" {
                assert_near(name, found.between_variance, at(&format!("{word}/tau2")), tolerance);
                assert_near(name, found.hartung_knapp_error, at(&format!("{word}/se_HKSJ")), tolerance);
                let (low, high) = found.interval(0.95).unwrap();
                assert_near(name, low, at(&format!("{word}/ci95_HKSJ_t/0")), Tolerance::Absolute(1e-8 * high.abs().max(1.0)));
                assert_near(name, high, at(&format!("{word}/ci95_HKSJ_t/1")), Tolerance::Absolute(1e-8 * high.abs().max(1.0)));
                assert!(
                    !tolerance.accepts(found.between_variance * (1.0 + 2e-9), at(&format!("{word}/tau2"))) || found.between_variance == 0.0
                );
            }
        }
    }
    assert!(combine(&[(1.0, 0.1)], BetweenVariance::Reml).is_none() && combine(&[(1.0, 0.1), (1.0, 0.0)], BetweenVariance::Reml).is_none());
    let agreeing = combine(&[(1.0, 0.1), (1.01, 0.1), (0.99, 0.1)], BetweenVariance::PauleMandel).unwrap();
    assert_eq!(agreeing.between_variance, 0.0);
    // what makes no sense is refused, not weighed at 0 or by its square
    for bad in [(2.0, f64::INFINITY), (2.0, -0.1), (2.0, f64::NAN), (f64::NAN, 0.1), (f64::INFINITY, 0.1)] {
        for method in [BetweenVariance::Common, BetweenVariance::DerSimonianLaird] {
            assert_eq!(combine(&[(1.0, 0.1), bad], method), None, "{bad:?}");
        }
    }
    assert_eq!(combine(&[(1e200, 1.0), (-1e200, 1.0)], BetweenVariance::Common), None, "a scatter that is no number");
    // two values 10 apart, each ± 1: Paule & Mandel's variance is half of 10² less 1
    let apart = combine(&[(-5.0, 1.0), (5.0, 1.0)], BetweenVariance::PauleMandel).unwrap();
    assert_near("between", apart.between_variance, 49.0, Tolerance::Relative(1e-12));
}
