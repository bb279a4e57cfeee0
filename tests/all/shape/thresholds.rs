//! Which log is just enough for each check, and which just not.

use super::bench_log::{Normals, reading, trial};
use taperwright::shape::{Shape, ShapeTest, fit_shapes};
use taperwright::trial::{DiameterReading, Direction};

const T: Direction = Direction::ToTailstock;

/// Passes of readings (station, diameter above 40 mm in µm).
fn shape(passes: &[Vec<(f64, f64)>]) -> Shape {
    let rows = (1..).zip(passes).flat_map(|(pass, rows)| rows.iter().map(move |r| (pass, r.0, r.1)));
    let readings: Vec<DiameterReading> = rows.zip(2..).map(|((pass, z, um), row)| reading(row, pass, T, z, 40.0 + 1e-3 * um)).collect();
    fit_shapes(&trial(readings, 1e-6), 1, 0).shapes.remove(0)
}

fn test<'a>(shape: &'a Shape, name: &str) -> &'a ShapeTest {
    shape.tests.iter().find(|t| t.name == name).unwrap()
}

fn made(shape: &Shape, name: &str) -> bool {
    test(shape, name).statistic.is_some()
}

/// `count` even stations 20 mm apart with a scatter of some micrometres that no curve follows.
fn scatter(count: u32) -> Vec<(f64, f64)> {
    let um = [0.7, -1.1, 0.4, 1.3, -0.9, -0.2, 1.0, -1.2, 0.3, 0.9, -0.6, -0.8, 1.1, 0.2];
    (0..count).map(|i| (20.0 * f64::from(i), um[i as usize % 14])).collect()
}

#[test]
fn degrees_of_freedom_that_are_enough() {
    // a line of one pass leaves two fewer than it has stations
    for (count, orders) in [(2, 1), (3, 1), (4, 2), (5, 3), (9, 3)] {
        let s = shape(&[scatter(count)]);
        assert_eq!((s.orders.len(), s.orders[0].f.is_some()), (orders, count > 2), "{count}");
        // n − k − 1 > 0 with two terms and the variance
        assert_eq!(s.orders[0].aicc.is_some(), count > 4, "{count}");
        assert_eq!(made(&s, "influence"), count > 2);
        assert_eq!((made(&s, "normality"), made(&s, "period")), (count - 2 >= 6, count >= 8), "{count}");
    }
    assert!(!made(&shape(&[scatter(7)]), "normality") && made(&shape(&[scatter(8)]), "normality"));
    assert!(!made(&shape(&[scatter(7)]), "period") && made(&shape(&[scatter(8)]), "period"));
    let three = shape(&[vec![(0.0, 0.0), (50.0, 4.0), (100.0, 2.0)]]);
    // one degree of freedom: a distance of Cook's, but no scatter of the others to studentise by. By hand residuals −1, 2, −1 and leverages 5/6, 1/3, 5/6:
    // 1·(5/6)/(2·6·(1/6)²) = 2.5 at the ends
    assert!(three.points.iter().all(|p| p.studentised.is_none() && p.cook.is_some()));
    assert!(
        (three.points[0].cook.unwrap() - 2.5).abs() < 1e-6
            && (three.points[1].cook.unwrap() - 4.0 / 3.0 / (2.0 * 6.0 * 4.0 / 9.0)).abs() < 1e-6
    );
    assert!(three.points[0].leverage - 5.0 / 6.0 < 1e-12);
}

/// By hand: lines through three stations read twice, and through five of which one is read twice.
#[test]
fn lack_of_fit_by_hand() {
    let twice =
        |um: [f64; 3]| -> Vec<(f64, f64)> { (0..3).flat_map(|i| [-0.5, 0.5].map(|e| (50.0 * f64::from(i), um[i as usize] + e))).collect() };
    // means 0, 6, 0: 4·2·... residuals of the means −2, 4, −2, twice each, on one degree of freedom; pure 6·¼ on three
    let lack = shape(&[twice([0.0, 6.0, 0.0])]).lack_of_fit.unwrap();
    assert!((lack.dof1, lack.dof2) == (1.0, 3.0) && (lack.f - 48.0 / 0.5).abs() < 1e-6, "{lack:?}");
    let one = vec![(0.0, 0.0), (25.0, 2.0), (50.0, -1.0), (50.0, 1.0), (75.0, -2.0), (100.0, 0.0)];
    let lack = shape(&[one]).lack_of_fit.unwrap();
    // one degree of freedom of pure error, with 2 µm²; the line's slope is −4/... : Σxy = −1·1·... about 0 by −0.5·2 − 0.5·2 = −2 over Σx² = 2.5
    assert!((lack.dof1, lack.dof2) == (3.0, 1.0) && (lack.f - (10.0 - 4.0 / 2.5 - 2.0) / 3.0 / 2.0).abs() < 1e-6, "{lack:?}");
}

#[test]
fn neighbours_that_alternate_or_keep_to_one_side() {
    let wave = |of: &dyn Fn(u32) -> f64| shape(&[(0..24).map(|i| (10.0 * f64::from(i), of(i) + 0.05 * f64::from(i * 7 % 5))).collect()]);
    let alternating = wave(&|i| if i % 2 == 0 { 1.0 } else { -1.0 });
    assert!(test(&alternating, "durbin-watson").interpretation.starts_with("Neighbouring residuals alternate (p below 0.05)"));
    assert!(test(&alternating, "runs").interpretation.starts_with("Residuals change sides more often"));
    assert!(test(&alternating, "runs").statistic.unwrap() > 2.0);
    let slow = wave(&|i| if i % 12 < 6 { 1.0 } else { -1.0 });
    assert!(test(&slow, "durbin-watson").interpretation.starts_with("Neighbouring residuals are alike (p below 0.05)"));
    assert!(test(&slow, "runs").interpretation.starts_with("Residuals keep to one side") && test(&slow, "runs").statistic.unwrap() < -2.0);
}

/// Two groups of six readings tell whether they scatter alike, one of five does not; three degrees of freedom are enough.
#[test]
fn groups_that_are_enough() {
    let pass = |count: u32, shift: u32| -> Vec<(f64, f64)> {
        scatter(14)[shift as usize..].iter().take(count as usize).zip(0..).map(|(r, i)| (30.0 * f64::from(i), r.1)).collect()
    };
    assert!(made(&shape(&[pass(6, 0), pass(6, 5)]), "equal-spread-passes"));
    assert!(!made(&shape(&[pass(6, 0), pass(5, 5)]), "equal-spread-passes"));
    assert!(!made(&shape(&[pass(8, 0)]), "equal-spread-passes") && !made(&shape(&[pass(8, 0)]), "equal-spread-stations"));
    let exact: Vec<(f64, f64)> = (0..12).map(|i| (10.0 * f64::from(i), 0.0)).collect();
    let flat = shape(&[exact.clone(), exact]);
    for name in ["normality", "equal-spread-passes", "equal-spread-stations", "durbin-watson", "runs", "period"] {
        assert!(!made(&flat, name), "{name}: nothing scatters");
    }
    assert!(flat.points.iter().all(|p| p.cook.is_none() && p.studentised.is_none()));
    assert!(flat.order == 1 && flat.orders.iter().all(|order| order.aicc.is_none() && order.f.is_none()));
}

/// One reading in ten may be an outlier; three readings more than the terms are needed.
#[test]
fn outliers_that_may_be_flagged() {
    let slips = |count: u32| {
        let mut rows = scatter(count);
        (rows[3].1, rows[9].1) = (1000.0, -60.0);
        shape(&[rows]).outliers.len()
    };
    assert_eq!([slips(14), slips(19), slips(20)], [1, 1, 2]);
    assert!(shape(&[scatter(4)]).outliers_untested.unwrap().contains("three readings more"));
    assert_eq!(shape(&[scatter(5)]).outliers_untested, None);
    // slopes of their own take a term a pass: with six readings there are two more than the four terms, with seven three
    let unlike = |taper: f64| vec![(0.0, 0.1), (50.0, 0.5 * taper - 0.2), (100.0, taper + 0.1)];
    let more = |taper: f64| [unlike(taper), vec![(50.0, 0.5 * taper + 0.1)]].concat();
    let (six, seven) = (shape(&[unlike(0.0), unlike(400.0)]), shape(&[unlike(0.0), more(400.0)]));
    assert!(six.slope_by_pass && seven.slope_by_pass && six.outliers_untested.is_some() && seven.outliers_untested.is_none());
    let mut exact: Vec<(f64, f64)> = (0..12).map(|i| (10.0 * f64::from(i), 0.0)).collect();
    exact[5].1 = 30.0;
    let s = shape(&[exact]);
    assert!(s.points[5].outlier && s.points[5].studentised.is_none() && s.points[4].studentised.is_some(), "all others agree exactly");
    let warned = |um: [f64; 2]| {
        let mut rows = scatter(30);
        (rows[3].1, rows[12].1) = (um[0], um[1]);
        let readings = rows.iter().zip(2..).map(|(r, row)| reading(row, 1, T, r.0, 40.0 + 1e-3 * r.1)).collect();
        fit_shapes(&trial(readings, 1e-6), 1, 0).warnings.concat()
    };
    assert!(warned([90.0, -80.0]).contains("two readings are flagged") && warned([90.0, 0.4]).contains("one reading is flagged"));
}

/// Three stations compare slopes of passes by lines: what they all bend is then scatter.
#[test]
fn slopes_of_three_stations_are_compared_by_lines() {
    let pass = |taper: f64, bend: f64, e: f64| vec![(0.0, e), (50.0, 0.5 * taper + bend - 2.0 * e), (100.0, taper + e)];
    let all = |bend: f64| shape(&[pass(0.0, bend, 0.3), pass(10.0, bend, -0.4), pass(20.0, bend, 0.2)]).slope_by_pass;
    assert!(all(0.0) && !all(30.0));
    let four = |bend: f64| -> Vec<Vec<(f64, f64)>> {
        [(0.0, 0.3), (10.0, -0.4), (20.0, 0.2)]
            .map(|(taper, e)| {
                [(0.0, 0.0, e), (30.0, 0.3, -2.0 * e), (60.0, 0.6, e), (100.0, 1.0, 0.5 * e)]
                    .map(|(z, share, e)| (z, taper * share + bend * share * (1.0 - share) + e))
                    .to_vec()
            })
            .to_vec()
    };
    assert!(shape(&four(100.0)).slope_by_pass, "four tell a bend from scatter");
}

/// Stations that tell a bend from nothing: of three on paper each pass of the only way reads two, or all but one reading stand at two.
#[test]
fn a_bend_that_no_pass_shows_is_left_out() {
    let s = shape(&[vec![(0.0, 0.0), (100.0, 5.0)], vec![(0.0, 0.0), (100.0, 7.0)], vec![(200.0, 3.0)]]);
    assert!(s.barrel.is_none() && (s.taper.value - 0.012).abs() < 1e-9, "twice 6 µm over half the length: {:?}", s.taper.value);
    assert_eq!(s.tested_length.length, 200.0);
}

/// Above 5,000 readings normality is judged by Anderson and Darling's statistic, whose size is another.
#[test]
fn many_readings_are_judged_by_another_test() {
    let statistic = |count: u32| {
        let mut normals = Normals::new(7, 7);
        let rows: Vec<(f64, f64)> = (0..count).map(|i| (10.0 * f64::from(i % 10), normals.draw())).collect();
        test(&shape(&[rows]), "normality").statistic.unwrap()
    };
    assert!(statistic(5_000) > 0.99 && statistic(5_001) < 0.9);
}
