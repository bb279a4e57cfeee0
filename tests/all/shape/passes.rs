//! Which passes make the shape, in which order, and how influence and outliers are told.

use super::bench_log::{reading, trial};
use taperwright::shape::{Shape, fit_shapes};
use taperwright::trial::{DiameterReading, Direction, Limit, Quantity, Sense, Trial};

const H: Direction = Direction::ToHeadstock;
const T: Direction = Direction::ToTailstock;

fn shape(log: &Trial) -> Shape {
    fit_shapes(log, 1, 0).shapes.remove(0)
}

/// A pass over four stations with a taper of its own; readings scatter by some micrometres about it.
fn pass(number: u32, direction: Direction, depth_mm: f64, feed_mm_per_rev: f64) -> Vec<DiameterReading> {
    let error = [0.001, -0.002, 0.0005, 0.0015];
    (0..4_u32)
        .map(|i| {
            let diameter = 40.0 - 0.1 * f64::from(number) + 0.002 * f64::from(i * number) + error[((i + number) % 4) as usize];
            DiameterReading {
                depth_mm,
                feed_mm_per_rev,
                ..reading(u64::from(10 * number + i), number, direction, 50.0 * f64::from(i), diameter)
            }
        })
        .collect()
}

fn inside(readings: Vec<DiameterReading>) -> Vec<u32> {
    shape(&trial(readings, 1e-6)).pass_summaries.iter().filter(|own| own.in_shape).map(|own| own.pass).collect()
}

#[test]
fn depth_and_feed_choose_the_finishing_cut() {
    let all = |cuts: &[(f64, f64)]| inside((1..).zip(cuts).flat_map(|(n, cut)| pass(n, H, cut.0, cut.1)).collect());
    assert_eq!(all(&[(0.2, 0.1), (0.1, 0.1), (0.1, 0.1)]), [2, 3]);
    // equal but for rounding, and one part in a hundred million apart
    assert_eq!(all(&[(0.1 + 0.2, 0.1), (0.3, 0.1)]), [1, 2]);
    assert_eq!(all(&[(0.1 * (1.0 + 1e-8), 0.1), (0.1, 0.1)]), [2]);
    assert_eq!(all(&[(0.1, 0.1 * (1.0 + 1e-8)), (0.1, 0.1)]), [2]);
    // spring passes stand in where nothing else is, whatever their feeds say; a feed of 0 is none
    assert_eq!(all(&[(0.0, 0.1), (0.0, 0.2)]), [1]);
    assert_eq!(all(&[(0.0, 0.0), (0.0, 0.0)]), [1, 2]);
    assert_eq!(all(&[(0.1, 0.0), (0.1, 0.2)]), [2]);
    let springs = fit_shapes(&trial(pass(1, H, 0.0, 0.1), 1e-6), 1, 0);
    assert!(springs.warnings.iter().any(|w| w.contains("no pass has a depth above 0")));
    assert!(fit_shapes(&trial(pass(1, H, 0.1, 0.1), 1e-6), 1, 0).warnings.iter().all(|w| !w.contains("depth above 0")));
    // one number with two cuts is two passes; both directions of it too
    let mixed = shape(&trial([pass(1, H, 0.1, 0.1), pass(1, T, 0.1, 0.1), pass(1, H, 0.3, 0.1)].concat(), 1e-6));
    assert_eq!((mixed.passes, mixed.passes_in_shape, mixed.readings), (3, 2, 8));
    let order: Vec<(Direction, f64, bool)> = mixed.pass_summaries.iter().map(|own| (own.direction, own.depth_mm, own.in_shape)).collect();
    assert_eq!(order, [(H, 0.1, true), (H, 0.3, false), (T, 0.1, true)]);
    // what is left out is told with the mean of its diameters and nothing of its taper
    let left_out = &mixed.pass_summaries[1];
    let rows = pass(1, H, 0.3, 0.1);
    let mean = rows.iter().map(|r| r.diameter_mm).sum::<f64>() / 4.0;
    assert!((left_out.level_mm - mean).abs() < 1e-12 && left_out.readings == 4 && left_out.taper_mm.is_none());
}

#[test]
fn readings_stand_in_cutting_order() {
    let order = |readings: Vec<DiameterReading>| -> Vec<(u32, f64, u64)> {
        shape(&trial(readings, 1e-6)).points.iter().map(|p| (p.pass, p.station_mm, p.place.row)).collect()
    };
    let stations = |points: &[(u32, f64, u64)]| points.iter().map(|p| p.1).collect::<Vec<_>>();
    let both = order([pass(1, H, 0.1, 0.1), pass(2, T, 0.1, 0.1)].concat());
    assert_eq!(stations(&both), [150.0, 100.0, 50.0, 0.0, 0.0, 50.0, 100.0, 150.0]);
    // repeats at a station by their number, those without one first, equal ones by their line, whatever the order of the rows
    let mut repeats = Vec::new();
    for (row, repeat) in [(30, Some(2)), (31, Some(0)), (32, None), (33, Some(1)), (29, Some(1))] {
        repeats.push(DiameterReading { repeat, ..reading(row, 1, H, 75.0, 40.0 + 1e-5 * row as f64) });
    }
    let found = order([repeats.clone(), pass(1, H, 0.1, 0.1)].concat());
    let rows = |points: &[(u32, f64, u64)]| points.iter().filter(|p| p.1 == 75.0).map(|p| p.2).collect::<Vec<_>>();
    assert_eq!(rows(&found), [32, 31, 29, 33, 30]);
    repeats.reverse();
    assert_eq!(rows(&order([pass(1, H, 0.1, 0.1), repeats].concat())), [32, 31, 29, 33, 30]);
}

/// Stations nearer than rounding count once: three on paper are two here, and have no bend.
#[test]
fn stations_nearer_than_rounding_are_one() {
    let log = |apart: f64| {
        let rows = [(50.0, 40.0), (50.0 + apart, 40.002), (150.0, 40.01), (150.0, 40.012)];
        trial(rows.iter().zip(2..).map(|(r, row)| reading(row, 1, H, r.0, r.1)).collect(), 1e-6)
    };
    let near = shape(&log(0.9e-7));
    assert!(near.barrel.is_none() && near.cannot_tell[0].starts_with("Two stations"), "{:?}", near.cannot_tell);
    assert!(shape(&log(1.1e-7)).cannot_tell[0].starts_with("Three stations"));
    let length = shape(&log(0.0)).tested_length;
    assert_eq!((length.from, length.to, length.length), (50.0, 150.0, 100.0));
}

/// Per 300 mm, per foot and as an angle: 20 µm over 150 mm is 40 µm over 300; 0.0016 inch a foot; atan of half of it, twice, is 27.5″.
#[test]
fn a_taper_in_other_units() {
    let rows = [(0.0, 40.0), (150.0, 40.02)];
    let s = shape(&trial(rows.iter().zip(2..).map(|(r, row)| reading(row, 1, H, r.0, r.1)).collect(), 1e-6));
    let near = |a: f64, b: f64| (a - b).abs() < 1e-9 * b;
    assert!(near(s.taper.per_300, 0.04) && near(s.taper.per_foot_in, 0.02 / 150.0 * 12.0) && !near(0.040_000_1, 0.04));
    assert!(near(s.taper.angle_arcsec, 2.0 * (0.01_f64 / 150.0).atan().to_degrees() * 3600.0));
}

/// Stations written in inches with the decimals of a computation: 8.0708661… in are 205 mm, and so they are told; a resolution of half a thou is 0.0127 mm.
#[test]
fn lengths_in_sentences_have_the_decimals_they_need() {
    let stations = [10.0, 60.0, 110.0, 160.0, 204.999_999_999_999_97];
    let diameter = |station: f64| 40.0 + if station > 200.0 { 0.030 } else { 0.0001 * (station % 7.0) };
    let readings = stations.iter().map(|station| reading(1, 1, Direction::ToHeadstock, *station, diameter(*station))).collect();
    let shape = fit_shapes(&trial(readings, 0.0005 * 25.4), 1, 0).shapes.remove(0);
    let influence = shape.tests.iter().find(|test| test.name == "influence").unwrap();
    assert!(
        influence.interpretation.contains("station 205 mm,") || influence.interpretation.contains("station 205 mm "),
        "{:?}",
        influence.interpretation
    );
    let rounding = shape.budget.iter().find(|row| row.component == "resolution").unwrap();
    assert!(!rounding.how.contains("01269") && !influence.interpretation.contains("204.9"), "{}", rounding.how);
}

/// One reading of five that sets the line: leverage 0.6, distance above 1; many alike readings: none above 4/n.
#[test]
fn influence_is_told_by_its_limits() {
    let told = |rows: &[(f64, f64)]| {
        let s = shape(&trial(rows.iter().zip(2..).map(|(r, row)| reading(row, 1, H, r.0, r.1)).collect(), 1e-6));
        let most = s.points.iter().filter_map(|p| p.cook).fold(0.0, f64::max);
        let test = s.tests[8].clone();
        assert!(test.statistic.is_none_or(|found| (found - most).abs() < 1e-12));
        (test.statistic, test.interpretation)
    };
    let (some, sentence) = told(&[(0.0, 40.0), (10.0, 40.001), (20.0, 40.0), (30.0, 40.001), (200.0, 40.03), (60.0, 40.0)]);
    assert!(
        some.unwrap() > 1.0 && sentence.contains("pass 1 at station 200 mm") && sentence.contains("above 1. Measure"),
        "{some:?} {sentence}"
    );
    let even: Vec<(f64, f64)> = (0..40).map(|i| (10.0 * f64::from(i / 4), 40.0 + 0.001 * f64::from(i % 2))).collect();
    let (none, sentence) = told(&even);
    assert!(none.unwrap() <= 0.1 && sentence.contains("at most 4/n"), "{none:?} {sentence}");
    let mut one = even;
    one[0].1 += 0.003;
    let (between, sentence) = told(&one);
    assert!(between.unwrap() > 0.1 && between.unwrap() < 1.0 && sentence.contains("above 4/n but not above 1"), "{between:?} {sentence}");
    let (nothing, sentence) = told(&[(0.0, 40.0), (100.0, 40.01)]);
    assert!(nothing.is_none() && sentence.starts_with("Not made: no degrees"), "{sentence}");
}

/// An outlier is told by file, line, distance from the curve of the others, and stays; more than one step of the gauge off the curve.
#[test]
fn outliers_are_told_by_line_and_distance() {
    let rows = |slip: f64, step_mm: f64| {
        let error = [0.4, -0.3, 0.1, -0.5, 0.2, 0.3, -0.4, 0.5, -0.2, 0.0, 0.35, -0.45];
        let mut readings: Vec<DiameterReading> = (0..24_u32)
            .map(|i| reading(u64::from(i) + 2, 1, T, 10.0 * f64::from(i), 40.0 + 1e-4 * error[i as usize % 12] * f64::from(1 + i / 12)))
            .collect();
        readings[9].diameter_mm += slip;
        fit_shapes(&trial(readings, step_mm), 1, 0)
    };
    let outcome = rows(0.01, 0.002);
    let flagged = &outcome.shapes[0].outliers;
    assert_eq!(flagged.iter().map(|o| (o.file.as_str(), o.row)).collect::<Vec<_>>(), [("diameters.csv", 11)]);
    assert!((flagged[0].residual - 0.01).abs() < 1.5e-4 && flagged[0].p < 1e-6, "{flagged:?}");
    assert!(outcome.shapes[0].points[9].outlier && outcome.shapes[0].readings == 24);
    assert_eq!(outcome.shapes[0].points.iter().filter(|p| p.outlier).count(), 1);
    assert!(outcome.warnings.iter().any(|w| w.contains("one reading is flagged")), "{:?}", outcome.warnings);
    // the step is coarse beside a scatter of 0.1 µm, and of 2 µm with the slip in it: one and a half steps
    assert!(rows(0.01, 0.0068).shapes[0].outliers.is_empty(), "within one and a half steps");
    assert_eq!(rows(0.01, 0.0065).shapes[0].outliers.len(), 1);
    assert!(rows(0.0, 1e-6).warnings.iter().all(|w| !w.contains("flagged")));
}

/// A robust taper more than one standard uncertainty from the plain one is said at the top.
#[test]
fn a_robust_taper_that_differs_is_said() {
    let outcome = |slip: f64| {
        let rows = (0..20_u32).map(|i| {
            reading(u64::from(i) + 2, 1, T, 10.0 * f64::from(i), 40.0 + 1e-4 * f64::from(i * 7 % 5) + if i > 17 { slip } else { 0.0 })
        });
        fit_shapes(&trial(rows.collect(), 1e-6), 1, 0)
    };
    for slip in [0.0, 0.0005, 0.02, 0.05] {
        let found = outcome(slip);
        let taper = &found.shapes[0].taper;
        let said = found.warnings.iter().any(|w| w.contains("robust fit's taper differs"));
        assert_eq!(said, (taper.robust.value - taper.value).abs() > taper.standard_uncertainty, "{slip}: {taper:?}");
        assert_eq!(said, slip > 0.01, "{slip}: {taper:?}");
    }
    let few = shape(&trial(vec![reading(2, 1, H, 0.0, 40.0), reading(3, 1, H, 100.0, 40.01)], 1e-6)).taper.robust;
    assert!(few.method.contains("too few readings") && (few.value - 0.01).abs() < 1e-12);
}

/// Nine of ten readings lie within one step of the gauge: the scatter that shows is no measure of what strays, and the one on the next step is no stray reading.
#[test]
fn steps_of_the_gauge_are_no_scatter_to_be_robust_against() {
    let rising = |resolution_mm: f64, rise_mm: f64| {
        let rows = (0..10_u32).map(|i| {
            let near = 40.0 + 0.0003 * f64::from(i * 7 % 5) + rise_mm * f64::from(i) / 9.0;
            reading(u64::from(i + 2), 1, H, 20.0 * f64::from(i), if i < 9 { near } else { 40.0254 + rise_mm })
        });
        let mut log = trial(rows.collect(), 1e-6);
        (log.gauge.diameter.u_mm, log.gauge.diameter.resolution_mm) = (0.007, resolution_mm);
        let outcome = fit_shapes(&log, 1, 0);
        let said = outcome.warnings.iter().any(|w| w.contains("robust fit's taper differs"));
        (outcome.shapes[0].taper.value, outcome.shapes[0].taper.robust.clone(), said)
    };
    let of = |resolution_mm: f64| rising(resolution_mm, 0.0);
    let (plain, robust, said) = of(0.0001);
    assert!(robust.method.starts_with("tukey") && robust.value.abs() < 0.2 * plain && said, "{plain} {robust:?}");
    // readings that scatter by their steps have a robust fit, which agrees
    let rows = (0..10_u32).map(|i| reading(u64::from(i + 2), 1, H, 20.0 * f64::from(i), 40.0 + 0.001 * f64::from(i * 7 % 5)));
    let mut even = trial(rows.collect(), 1e-6);
    (even.gauge.diameter.u_mm, even.gauge.diameter.resolution_mm) = (0.001, 0.001);
    let taper = shape(&even).taper;
    assert!(taper.robust.method.starts_with("tukey") && (taper.robust.value - taper.value).abs() < 0.001, "{taper:?}");
    let (plain, robust, said) = of(0.0254);
    assert!(robust.method.contains("within the gauge’s steps") && robust.value == plain && !said, "{plain} {robust:?}");
    // the same on a bar that has a taper of four steps
    let (plain, robust, said) = rising(0.0254, 0.1);
    assert!(robust.method.contains("within the gauge’s steps") && robust.value == plain && !said && plain > 0.1, "{plain} {robust:?}");
}

/// Passes of one setting whose tapers their readings cannot reconcile: feet that were moved without a new number.
#[test]
fn passes_that_do_not_agree_are_said_at_the_top() {
    let error = [0.0008, -0.0011, 0.0004, 0.0007, -0.0006];
    let warnings = |tapers: &[f64], direction_of: fn(u32) -> Direction, limits: &[Limit]| {
        let rows = (1_u32..).zip(tapers).flat_map(|(number, taper)| {
            (0..5_u32).map(move |i| {
                let diameter = 40.0 - 0.1 * f64::from(number) + 0.25 * taper * f64::from(i) + error[((2 * i + number) % 5) as usize];
                reading(u64::from(10 * number + i), number, direction_of(number), 50.0 * f64::from(i), diameter)
            })
        });
        let mut log = trial(rows.collect(), 1e-6);
        log.machine.swing_mm = Some(230.0);
        log.acceptance.limit.extend_from_slice(limits);
        let warnings = fit_shapes(&log, 1, 0).warnings;
        warnings.into_iter().find(|warning| warning.contains("do not agree"))
    };
    let one_way = |_| H;
    let said = warnings(&[0.030, 0.010, 0.0], one_way, &[]).unwrap();
    // the errors tilt pass 1 by 4·0.0007/10 = 0.0003 mm and pass 3 by 4·(−0.0050)/10 = −0.0020 mm
    assert!(said.contains("the passes cut to the headstock do not agree: their tapers lie up to 32 µm apart"), "{said}");
    assert!(said.contains("a new number in the column “setting”"), "{said}");
    assert_eq!(warnings(&[0.030, 0.030, 0.030], one_way, &[]), None);
    assert_eq!(warnings(&[0.030, 0.0305, 0.0295], one_way, &[]), None, "within the scatter");
    assert_eq!(warnings(&[0.030], one_way, &[]), None);
    // passes cut the other way are another matter: the tool's wear turns over
    assert_eq!(warnings(&[0.030, 0.0, 0.030, 0.0], |number| if number % 2 == 0 { T } else { H }, &[]), None);
    // what is no fifth of the limit does not matter
    assert!(warnings(&[0.020, 0.0, 0.0], one_way, &[taper_limit(0.09)]).is_some());
    assert_eq!(warnings(&[0.020, 0.0, 0.0], one_way, &[taper_limit(0.13)]), None);
    // limits of other quantities, and of lathes of another swing, do not count
    let barrel = Limit { quantity: Quantity::Barrel, ..taper_limit(0.13) };
    let larger = Limit { swing_from_mm: Some(500.0), ..taper_limit(0.13) };
    assert!(warnings(&[0.020, 0.0, 0.0], one_way, &[barrel, larger]).is_some());
    // the noise is known from few readings: what would be rare by the normal distribution is not by Student's
    assert_eq!(warnings(&[0.0, 0.0095], one_way, &[]), None);
}

fn taper_limit(limit_mm: f64) -> Limit {
    Limit {
        criterion: None,
        quantity: Quantity::Taper,
        limit_mm,
        over_mm: None,
        sense: Sense::Either,
        floor_mm: 0.005,
        clause: None,
        source: None,
        provenance: None,
        swing_from_mm: None,
        swing_to_mm: None,
    }
}
