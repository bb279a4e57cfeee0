//! Fits and checks of whole logs against general-purpose libraries (tests/reference/shape: make.py, models.R).

use super::bench_log::{reading, trial};
use serde_json::Value;
use std::path::PathBuf;
use taperwright::shape::{FittedContrast, Shape, fit_setting, fit_shapes};
use taperwright::statistics::distributions::t_quantile;
use taperwright::trial::{Direction, Trial};

fn folder() -> PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/shape")
}

fn expected(file: &str) -> Value {
    serde_json::from_str(&std::fs::read_to_string(folder().join(file)).unwrap()).unwrap()
}

fn number(value: &Value, path: &str) -> f64 {
    value.pointer(path).and_then(Value::as_f64).unwrap_or_else(|| panic!("no {path}"))
}

fn numbers(value: &Value, path: &str) -> Vec<f64> {
    value.pointer(path).and_then(Value::as_array).unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

/// One of the logs, whose gauge `coarse` has twice the uncertainty of the other.
fn log(name: &str) -> Trial {
    let text = std::fs::read_to_string(folder().join("log.csv")).unwrap();
    let rows = text.lines().map(|line| line.split(',').collect::<Vec<_>>()).filter(|cells| cells[0] == name);
    let direction = |cell: &str| if cell == "to-headstock" { Direction::ToHeadstock } else { Direction::ToTailstock };
    let readings = rows.zip(2..).map(|(cells, row)| {
        let mut one = reading(row, cells[1].parse().unwrap(), direction(cells[2]), cells[3].parse().unwrap(), cells[5].parse().unwrap());
        one.gauge = (!cells[4].is_empty()).then(|| cells[4].into());
        one
    });
    let mut trial = trial(readings.collect(), 1e-4);
    let coarse = taperwright::trial::DiameterGauge { u_mm: 0.004, ..trial.gauge.diameter.clone() };
    trial.gauge.diameter_named.insert("coarse".into(), coarse);
    trial
}

fn shape(name: &str) -> Shape {
    fit_shapes(&log(name), 1, 0).shapes.remove(0)
}

/// Asserts agreement within `tolerance`, relative or absolute below 1, and that the same comparison rejects twice that.
#[track_caller]
fn agrees(what: &str, found: f64, wanted: f64, tolerance: f64) {
    let near = |a: f64| (a - wanted).abs() <= tolerance * wanted.abs();
    assert!(near(found), "{what}: {found} for {wanted}");
    assert!(!near(wanted * (1.0 + 2.0 * tolerance)), "{what}: the comparison accepts anything");
}

#[test]
fn orders_levels_and_slopes() {
    let expected = expected("expected.json");
    for name in ["ways", "unlike", "straight", "ends", "wave", "thirds"] {
        let (shape, want) = (shape(name), &expected[name]);
        assert_eq!((shape.order as u64, shape.slope_by_pass), (want["order"].as_u64().unwrap(), want["slope_by_pass"].as_bool().unwrap()));
        let orders = want["orders"].as_array().unwrap();
        assert_eq!(shape.orders.len(), orders.len(), "{name}");
        for (own, want) in shape.orders.iter().zip(orders) {
            agrees(name, own.f.unwrap(), number(want, "/f"), 1e-8);
            agrees(name, own.p.unwrap(), number(want, "/p"), 1e-7);
            agrees(name, own.aicc.unwrap(), number(want, "/aicc"), 1e-9);
            assert!(own.dof2 == want["dof2"].as_f64() && own.chosen == (own.order == shape.order), "{own:?}");
        }
        for (pass, level) in shape.pass_summaries.iter().zip(numbers(want, "/levels")) {
            agrees(name, pass.level_mm, level, 1e-9);
        }
    }
}

#[test]
fn residuals_leverages_and_influence() {
    let expected = expected("expected.json");
    for name in ["ways", "unlike", "straight", "ends", "wave", "thirds"] {
        let (shape, want) = (shape(name), &expected[name]);
        let columns = ["leverage", "cook", "studentised", "residual"].map(|column| numbers(want, &format!("/{column}")));
        assert!(columns.iter().all(|column| column.len() == shape.points.len()));
        for (place, point) in shape.points.iter().enumerate() {
            let found = [point.leverage, point.cook.unwrap(), point.studentised.unwrap(), point.residual_mm];
            for (found, column) in found.iter().zip(&columns) {
                let size = column.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
                let near = |found: f64| (found - column[place]).abs() <= 1e-8 * size;
                assert!(near(*found), "{name}, reading {place}: {found} for {}", column[place]);
                assert!(!near(found + 3e-8 * size));
            }
        }
    }
}

#[test]
fn tests_of_the_residuals() {
    let expected = expected("expected.json");
    // the relative errors that the programs state or are known for: Shapiro and Wilk's p by Royston's polynomials, Imhof's integral
    let tolerance = |test: &str| if test == "normality" || test == "durbin-watson" { 2e-6 } else { 1e-7 };
    for name in ["ways", "unlike", "straight", "ends", "wave", "thirds"] {
        let (shape, want) = (shape(name), &expected[name]);
        for test in &shape.tests {
            if let Some(other) = want.pointer(&format!("/tests/{}", test.name)) {
                agrees(&format!("{name} {}", test.name), test.statistic.unwrap(), number(other, "/statistic"), 1e-6);
                agrees(&format!("{name} {} p", test.name), test.p.unwrap(), number(other, "/p"), tolerance(test.name));
            } else if ["lack-of-fit", "equal-spread-passes", "equal-spread-stations"].contains(&test.name) {
                assert!(test.p.is_none() && test.interpretation.starts_with("Not made"), "{name}: {test:?}");
            }
        }
        for test in shape.tests.iter().filter(|test| test.p.is_some() && test.name != "influence") {
            let found = test.p.unwrap() < 0.05;
            let says = |words: &str| test.interpretation.contains(words);
            assert!(found != says("not below 0.05"), "{name}: {test:?}");
        }
        // the comparison that decided: all terms beyond the order chosen before, from the F of single terms; of two that did the clearer, of none the nearest
        let added: Vec<(usize, f64, f64)> = shape.orders.iter().filter_map(|o| Some((o.order, o.added?.f, o.added?.p))).collect();
        let orders = want["orders"].as_array().unwrap();
        for (place, found) in shape.orders.iter().enumerate().skip(1) {
            let (single, dof2) = (|place: usize| number(&orders[place], "/f"), |place: usize| number(&orders[place], "/dof2"));
            let own = found.added.unwrap();
            let wanted = match (place, own.beyond) {
                // (RSS₁ − RSS₃)/2 over RSS₃/dof₃, with RSS₂ = RSS₃(1 + F₃/dof₃)
                (2, 1) => 0.5 * (single(1) * (1.0 + single(2) / dof2(2)) * dof2(2) / dof2(1) + single(2)),
                _ => single(place),
            };
            agrees(name, own.f, wanted, 1e-7);
            assert_eq!((own.dof1, Some(own.dof2)), ((place + 1 - own.beyond) as f64, found.dof2), "{name}");
        }
        let decided = added.iter().filter(|a| shape.order == 1 || a.0 <= shape.order && shape.orders[a.0 - 1].added.unwrap().p < 0.05);
        let (_, f, p) = decided.min_by(|a, b| a.2.total_cmp(&b.2)).unwrap();
        assert_eq!((shape.tests[1].statistic, shape.tests[1].p), (Some(*f), Some((added.len() as f64 * p).min(1.0))), "{name}");
        let lack = want.pointer("/tests/lack-of-fit");
        assert_eq!(shape.lack_of_fit.as_ref().map(|l| (l.dof1, l.dof2)), lack.map(|l| (number(l, "/dof1"), number(l, "/dof2"))), "{name}");
        agrees(name, shape.tests[8].statistic.unwrap(), number(want, "/most_cook"), 1e-8);
        match want.get("period") {
            Some(period) => agrees(name, shape.tests[9].statistic.unwrap(), number(period, "/f"), 1e-6),
            None => assert!(shape.tests[9].statistic.is_none(), "{name}"),
        }
    }
    let places = |name: &str| ["thirds of the bar", "stations"].map(|word| shape(name).tests[7].interpretation.contains(word));
    assert_eq!((places("unlike"), places("ends"), places("straight")), ([true, false], [false, true], [true, false]));
    let sentence = &shape("wave").tests[9].interpretation;
    assert!(sentence.contains(&format!("A period of {:.3} mm", number(&expected, "/wave/period/period"))), "{sentence}");
}

#[test]
fn robust_tapers() {
    let expected = expected("models.json");
    for name in ["ways", "unlike", "straight", "ends", "wave"] {
        let robust = shape(name).taper.robust;
        assert_eq!(robust.method, "tukey 4.685", "{name}");
        agrees(name, robust.value, number(&expected["robust"], &format!("/{name}")), 1e-6);
    }
}

/// Few passes: the interval is that of a mixture over the prior of the spread. Its quadrature is good to a third of a percent in the width.
#[test]
fn few_passes_by_brute_force() {
    let expected = expected("expected.json");
    for name in ["ways", "unlike", "straight", "ends", "sheet"] {
        let fit = fit_setting(&log(name), 0).unwrap();
        // the median of the spread, between the nodes of its sum
        if let Some(between) = fit.between_pass_mm {
            let ratio = between / fit.sigma_mm / number(&expected[name], "/mixture/between_taper_by_sigma");
            assert!((ratio - 1.0).abs() < 0.05, "{name}: {ratio}");
            assert!((0.9 * ratio - 1.0).abs() > 0.05, "a tenth is told apart");
        }
        for (what, found) in [("taper", fit.taper), ("barrel", fit.barrel.unwrap())] {
            let want = &expected[name]["mixture"][what];
            let label = format!("{name} {what}");
            let half68 = found.standard_error * t_quantile(0.841_344_746_068_543, found.dof.unwrap()).unwrap();
            assert!((found.value - number(want, "/value")).abs() < 1e-3 * found.standard_error, "{label}: {found:?} {want}");
            agrees(&label, found.half_width95, number(want, "/half_width95"), 4e-3);
            agrees(&label, half68, number(want, "/half_width68"), 4e-3);
        }
    }
}

#[test]
fn many_passes_by_lme4() {
    let expected = expected("models.json");
    for name in ["many", "collars"] {
        let (fit, want) = (fit_setting(&log(name), 0).unwrap(), &expected[name]);
        let check = |what: &str, found: &FittedContrast| {
            let label = format!("{name} {what}");
            agrees(&label, found.value, number(want, &format!("/{what}/value")), 1e-6);
            agrees(&label, found.standard_error, number(want, &format!("/{what}/standard_error")), 1e-5);
            agrees(&label, found.dof.unwrap(), number(want, &format!("/{what}/dof")), 1e-4);
            agrees(&label, found.half_width95, t_quantile(0.975, found.dof.unwrap()).unwrap() * found.standard_error, 1e-9);
        };
        check("taper", &fit.taper);
        for (direction, passes, contrast) in &fit.by_direction {
            let (what, count) = if *direction == Direction::ToHeadstock { ("to-headstock", 4) } else { ("to-tailstock", 3) };
            check(what, contrast);
            assert_eq!(*passes, if name == "many" { count } else { 6 });
        }
        assert_eq!(fit.by_direction.len(), if name == "many" { 2 } else { 1 });
        match &fit.barrel {
            Some(barrel) => check("barrel", barrel),
            None => assert_eq!(name, "collars"),
        }
        match &fit.direction_difference {
            Some(difference) => check("difference", difference),
            None => assert_eq!(name, "collars"),
        }
        if let Some(difference) = want.get("difference") {
            // the reference knows no zeros of gauges
            let mut exact = log(name);
            exact.gauge.diameter.calibration_u_mm = 0.0;
            exact.gauge.diameter_named.values_mut().for_each(|gauge| gauge.calibration_u_mm = 0.0);
            let direction = fit_shapes(&exact, 1, 0).shapes.remove(0).tests.into_iter().find(|test| test.name == "direction").unwrap();
            let t = number(difference, "/value") / number(difference, "/standard_error");
            agrees("direction", direction.statistic.unwrap(), t * t, 1e-4);
            let p = taperwright::statistics::distributions::t_two_sided_p(t, number(difference, "/dof")).unwrap();
            agrees("direction", direction.p.unwrap(), p, 1e-4);
        }
        agrees(name, fit.sigma_mm, number(want, "/sigma"), 1e-5);
        agrees(name, fit.between_pass_mm.unwrap(), number(want, "/between_taper"), 1e-4);
    }
}

/// The drawn curve and its band: of order 3 from the pooled fit, of order 2 from the mixed model.
#[test]
fn curves_and_their_bands() {
    let (reference, models) = (expected("expected.json"), expected("models.json"));
    let (drawn, fit) = (shape("unlike"), fit_setting(&log("unlike"), 0).unwrap());
    let terms = numbers(&reference, "/unlike/curve/terms");
    let error = number(&reference, "/unlike/curve/last_standard_error");
    let t = drawn.taper.fit_interval95.half_width() / drawn.taper.standard_error;
    for (place, point) in drawn.curve.iter().enumerate() {
        let x = -1.0 + place as f64 / 30.0;
        let (bend, cube) = (1.5 * x * x, 2.5 * x * x * x - 1.5 * x);
        let near = |wanted: f64| (point.deviation_mm - wanted).abs() < 1e-9;
        let wanted = terms[0] * x + terms[1] * bend + terms[2] * cube;
        assert!(near(wanted) && !near(wanted + 2e-9), "{x}: {point:?} {wanted}");
        let c = fit.mean_covariance;
        let square = c[(0, 0)] * x * x + 2.0 * c[(0, 1)] * x * bend + c[(1, 1)] * bend * bend + (error * cube).powi(2);
        assert!((point.band.half_width() - t * square.sqrt()).abs() < 1e-8, "{x}: {point:?}");
    }
    let (drawn, errors) = (shape("many"), numbers(&models, "/many/curve_errors"));
    assert_eq!(drawn.order, 2);
    let t = t_quantile(0.975, drawn.taper.dof.unwrap()).unwrap();
    agrees("band at the first station", drawn.curve[0].band.half_width(), t * errors[0], 1e-4);
    agrees("band at the last station", drawn.curve[60].band.half_width(), t * errors[1], 1e-4);
    let ends = drawn.curve[60].deviation_mm - drawn.curve[0].deviation_mm;
    agrees("the ends differ by the taper", ends, drawn.taper.value, 1e-9);
    agrees("the taper", ends, number(&models, "/many/taper/value"), 1e-5);
    let middle = drawn.curve[30];
    assert!(middle.deviation_mm == 0.0 && middle.band.half_width() == 0.0);
}
