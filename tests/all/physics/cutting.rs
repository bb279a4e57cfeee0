//! Force, path, wear, warmth and what deflection leaves.

use super::published::{close, rounds_to};
use crate::made::{reading, trial};
use taperwright::physics::beam::Beam;
use taperwright::physics::cutting_force::{main_force_n, radial_force_n, radial_ratio, radial_stiffness_n_per_mm};
use taperwright::physics::cutting_path::{cutting_minutes, edge_path_m, merged_collars, metal_cut_mm, metal_of_pass_mm};
use taperwright::physics::deflection::{Infeed, left_by_mm, share_left, steady_mm};
use taperwright::physics::tool_wear::{fresh_edge_per_unit_mm, recession_mm};
use taperwright::physics::{Compliances, DIAMETER_CAUSES, ForceFactors, Support, cut_points, expansion, thermal_drift, tool_wear};
use taperwright::trial::{DiameterReading, Direction, Holding};

/// Kienzle's formula with constants of the usual tables (from memory; texts scatter by 10 to 20 %).
#[test]
fn kienzle_forces() {
    assert!(rounds_to(main_force_n(1780.0, 0.17, 0.25, 0.1, 93.0), "65.84"));
    assert!(rounds_to(main_force_n(2220.0, 0.14, 0.25, 0.1, 93.0), "76.63"));
    assert!(rounds_to(main_force_n(2220.0, 0.14, 2.0, 0.25, 90.0), "1347.8"));
    assert_eq!(main_force_n(1780.0, 0.17, 0.0, 0.1, 93.0), 0.0);
}

#[test]
fn a_shallow_cut_pushes_harder_sideways() {
    assert!((0.5..=1.0).contains(&radial_ratio(0.05, 0.4)));
    assert!((0.3..=0.5).contains(&radial_ratio(0.4, 0.4)));
    let bar = trial(Holding::Chuck).bar;
    assert!(rounds_to(radial_force_n(&bar, 0.05, 0.1, 0.4), "9.215"));
    assert_eq!(radial_force_n(&bar, 0.0, 0.1, 0.4), 0.0);
    assert!(radial_stiffness_n_per_mm(&bar, 0.0, 0.1, 0.4) > 0.0);
}

/// 3.8 µm on 25 mm × 300 mm after a spring pass: one cut of 0.05 mm, 0.1 mm/rev, S235, E 205 GPa, radial ratio 0.4.
#[test]
fn a_spring_pass_is_not_zero() {
    let compliance = Beam::uniform(25.0, 300.0, 205.0).cantilever_mm_per_n(300.0, 300.0);
    let stiffness = 0.4 * main_force_n(1780.0, 0.17, 1.0, 0.1, 90.0);
    let share = share_left(stiffness, compliance);
    let after_cut = share * 2.0 * 0.05;
    assert!(rounds_to(1000.0 * share * after_cut, "3.8"));
    let spring = Infeed { depth_mm: 0.0, stiffness_n_per_mm: stiffness };
    assert!(close(taperwright::physics::deflection::after_pass_mm(spring, compliance, after_cut), share * after_cut, 1e-12));
}

#[test]
fn equal_passes_leave_what_the_force_bends_and_springs_die_away() {
    let cut = Infeed { depth_mm: 0.08, stiffness_n_per_mm: 180.0 };
    let spring = Infeed { depth_mm: 0.0, ..cut };
    let compliance = 1.1e-3;
    let steady = steady_mm(180.0 * 0.08, compliance);
    assert!(close(left_by_mm(&[cut; 5], compliance), steady, 1e-12));
    let mut passes = vec![cut];
    let mut before = steady;
    for _ in 0..4 {
        passes.push(spring);
        let left = left_by_mm(&passes, compliance);
        assert!(left > 0.0 && close(left, before * 0.198 / 1.198, 1e-12));
        before = left;
    }
    assert_eq!(left_by_mm(&[], compliance), 0.0);
    // From any start the memory of a heavy pass fades into the light cut's own.
    let heavy = Infeed { depth_mm: 0.5, ..cut };
    let mut then_light = vec![heavy];
    then_light.extend([cut; 40]);
    assert!(close(left_by_mm(&then_light, compliance), steady, 1e-12));
}

#[test]
fn deflection_of_a_bar_in_the_chuck_is_a_cubic() {
    let mut trial = trial(Holding::Chuck);
    trial.diameters = [55.0, 110.0, 220.0].map(reading).to_vec().into();
    let points = cut_points(&trial, &Support::of_bar(&trial.bar, Compliances::RIGID), ForceFactors::default());
    let left: Vec<f64> = points.iter().map(|point| point.deflection_mm).collect();
    assert!(close(left[1], 8.0 * left[0], 1e-12) && close(left[2], 8.0 * left[1], 1e-12));
    let by_hand = 2.0 * 9.214_85 * 220f64.powi(3) / (3.0 * 206_000.0 * std::f64::consts::PI * 38f64.powi(4) / 64.0);
    assert!(close(left[2], by_hand, 1e-5), "{} {by_hand}", left[2]);
}

/// A heavy pass, a pass that was not measured at this station, and a spring pass, whatever the order of the rows.
#[test]
fn a_trial_remembers_all_passes_of_its_setting() {
    let mut trial = trial(Holding::Chuck);
    let cuts = [(1, 0.4, 220.0), (2, 0.05, 100.0), (3, 0.0, 220.0)];
    trial.diameters =
        cuts.iter().rev().map(|(pass, depth_mm, z)| DiameterReading { pass: *pass, depth_mm: *depth_mm, ..reading(*z) }).collect();
    let factors = ForceFactors { all: 2.0, to_tailstock: 1.0 };
    let points = cut_points(&trial, &Support::of_bar(&trial.bar, Compliances::RIGID), factors);
    let infeeds = cuts
        .map(|(_, depth_mm, _)| Infeed { depth_mm, stiffness_n_per_mm: 2.0 * radial_stiffness_n_per_mm(&trial.bar, depth_mm, 0.1, 0.4) });
    let passes: Vec<u32> = points.iter().map(|point| point.pass).collect();
    assert_eq!(passes, [3, 2, 1]);
    assert!(close(points[0].deflection_mm, left_by_mm(&infeeds, points[0].compliance_mm_per_n), 1e-12));
    assert!(close(points[1].deflection_mm, left_by_mm(&infeeds[..2], points[1].compliance_mm_per_n), 1e-12));
    assert!(close(points[2].deflection_mm, left_by_mm(&infeeds[..1], points[2].compliance_mm_per_n), 1e-12));
    assert!(points[0].deflection_mm > 0.0 && points[0].deflection_mm < points[2].deflection_mm);
}

#[test]
fn metal_is_counted_both_ways_and_only_where_there_is_some() {
    use Direction::{ToHeadstock, ToTailstock};
    assert_eq!(metal_cut_mm(50.0, ToHeadstock, 200.0, &[]), 150.0);
    assert_eq!(metal_cut_mm(50.0, ToTailstock, 200.0, &[]), 50.0);
    let collars = [[180.0, 200.0], [0.0, 20.0]];
    assert_eq!(metal_cut_mm(190.0, ToHeadstock, 200.0, &collars), 10.0);
    assert_eq!(metal_cut_mm(100.0, ToHeadstock, 200.0, &collars), 20.0);
    assert_eq!(metal_cut_mm(190.0, ToTailstock, 200.0, &collars), 30.0);
    assert_eq!(metal_of_pass_mm(200.0, &collars), 40.0);
    // Collars that overlap or stick out are not counted twice.
    assert_eq!(metal_of_pass_mm(200.0, &[[0.0, 30.0], [20.0, 40.0], [190.0, 230.0]]), 50.0);
    for z in [0.0, 13.0, 77.0, 200.0] {
        assert_eq!(metal_cut_mm(z, ToHeadstock, 200.0, &collars) + metal_cut_mm(z, ToTailstock, 200.0, &collars), 40.0);
    }
}

#[test]
fn path_and_minutes() {
    assert!(rounds_to(edge_path_m(50.0, 150.0, 0.1), "235.61944901923448"));
    assert_eq!(cutting_minutes(200.0, 0.1, Some(500.0)), Some(4.0));
    assert_eq!(cutting_minutes(200.0, 0.1, None), None);
    assert_eq!(cutting_minutes(200.0, 0.0, Some(500.0)), None);
}

/// Geometry of the flank land, with life criterion 0.3 mm of ISO 3685:1993 (from memory).
#[test]
fn flank_wear_by_geometry() {
    for (land, clearance, printed) in
        [(0.1, 5.0, "0.0175"), (0.1, 6.0, "0.0210"), (0.1, 7.0, "0.0246"), (0.1, 11.0, "0.0389"), (0.3, 6.0, "0.0631")]
    {
        assert!(rounds_to(2.0 * recession_mm(land, clearance), printed));
    }
}

#[test]
fn wear_turns_over_with_the_direction_and_grows_as_the_feed_gets_finer() {
    let mut trial = trial(Holding::Chuck);
    trial.diameters = [10.0, 210.0].map(reading).to_vec().into();
    let mut back = [10.0, 210.0].map(reading);
    for reading in &mut back {
        reading.pass = 2;
        reading.direction = Direction::ToTailstock;
        reading.feed_mm_per_rev = 0.05;
    }
    trial.diameters.extend(back);
    let points = cut_points(&trial, &Support::of_bar(&trial.bar, Compliances::RIGID), ForceFactors::default());
    let wear: Vec<f64> = points.iter().map(tool_wear::per_unit_mm).collect();
    assert!(close(wear[0] - wear[1], 2.0 * 200.0 / 1e6, 1e-12), "larger at the headstock");
    assert!(close(wear[3] - wear[2], 2.0 * (2.0 * 200.0) / 1e6, 1e-12), "larger at the tailstock, twice at half the feed");
    // 220 mm at 0.1 mm/rev and 500 rpm: 4.4 minutes; warming turns over likewise.
    let minutes: Vec<f64> = points.iter().map(|point| point.minutes.expect("a speed is stated")).collect();
    assert!(close(minutes[0], 4.2, 1e-12) && close(minutes[1], 0.2, 1e-12) && close(minutes[3], 8.4, 1e-12));
    assert!(close(thermal_drift::per_unit_mm(&points[0]).expect("timed"), 0.0084, 1e-12));
    // The second pass goes on with the same edge.
    assert!(close(points[2].edge_path_m, edge_path_m(38.0, 220.0, 0.1) + edge_path_m(38.0, 10.0, 0.05), 1e-12));
}

#[test]
fn logged_times_come_before_the_speed() {
    let mut trial = trial(Holding::Chuck);
    trial.diameters = [210.0, 10.0].map(reading).to_vec().into();
    trial.diameters.change(|row, reading| reading.time_min = Some([12.0, 19.0][row]));
    let support = Support::of_bar(&trial.bar, Compliances::RIGID);
    let minutes = |trial: &_| cut_points(trial, &support, ForceFactors::default()).iter().map(|p| p.minutes).collect::<Vec<_>>();
    assert_eq!(minutes(&trial), [Some(0.0), Some(7.0)]);
    // The same time on all of a pass is only its start.
    trial.diameters.change(|_, reading| reading.time_min = Some(12.0));
    let by_speed = minutes(&trial);
    assert!(close(by_speed[0].expect("speed"), 0.2, 1e-12) && close(by_speed[1].expect("speed"), 4.2, 1e-12));
    trial.cutting.rpm = None;
    assert_eq!(minutes(&trial), [None, None]);
}

#[test]
fn a_fresh_edge_settles() {
    assert_eq!(fresh_edge_per_unit_mm(0.0, 20.0), 0.0);
    assert!(rounds_to(1000.0 * fresh_edge_per_unit_mm(20.0, 20.0), "1.2642"));
    assert!(close(fresh_edge_per_unit_mm(1e6, 20.0), 0.002, 1e-12));
}

/// JCGM 100:2008, H.1 has 11.5·10⁻⁶/K for steel.
#[test]
fn warm_bars_are_larger() {
    assert!(rounds_to(1000.0 * expansion::diameter_change_mm(11.5, 50.0, 5.0), "2.9"));
    assert!(rounds_to(1000.0 * expansion::diameter_change_mm(11.5, 50.0, 10.0), "5.75"));
    assert!(rounds_to(1000.0 * expansion::diameter_change_mm(11.5, 50.0, 2.0), "1.15"));
}

#[test]
fn causes_are_listed_once() {
    let mut names: Vec<&str> = DIAMETER_CAUSES.iter().map(|cause| cause.name).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names, ["bed-twist", "deflection", "headstock-yaw", "tailstock-offset", "thermal-drift", "tool-wear"]);
}

/// Nothing is cut, or there is no such edge: no force, not a number that is none.
#[test]
fn no_cut_makes_no_force_path_or_time() {
    assert_eq!(main_force_n(1780.0, 0.17, -0.1, 0.1, 93.0), 0.0);
    assert_eq!(main_force_n(1780.0, 0.17, 0.25, -0.1, 93.0), 0.0);
    assert_eq!((main_force_n(1780.0, 0.17, 0.25, 0.1, 0.0), main_force_n(1780.0, 0.17, 0.25, 0.1, -10.0)), (0.0, 0.0));
    assert_eq!(main_force_n(1780.0, 1.0, 0.25, 0.0, 90.0), 0.0, "an exponent of one would leave a force without feed");
    assert_eq!(edge_path_m(50.0, 150.0, 0.0), 0.0);
    assert_eq!((cutting_minutes(200.0, 0.1, Some(0.0)), cutting_minutes(0.0, 0.0, Some(500.0))), (None, None));
    // an edge that settles at once is worn by all of it
    assert_eq!((fresh_edge_per_unit_mm(0.0, 0.0), fresh_edge_per_unit_mm(7.0, 0.0)), (0.002, 0.002));
    let mut trial = trial(Holding::Chuck);
    trial.diameters = vec![DiameterReading { feed_mm_per_rev: 0.0, ..reading(100.0) }].into();
    let points = cut_points(&trial, &Support::of_bar(&trial.bar, Compliances::RIGID), ForceFactors::default());
    assert_eq!((points[0].feed_ratio, points[0].edge_path_m), (0.0, 0.0));
}

#[test]
fn collars_that_touch_are_one() {
    assert_eq!(merged_collars(&[[30.0, 40.0], [0.0, 30.0], [60.0, 50.0]], 200.0), [[0.0, 40.0], [50.0, 60.0]]);
}

/// Both factors multiply the force of a pass to the tailstock; one that multiplies all does the same to it.
#[test]
fn factors_multiply_and_a_shifted_top_slide_moves_the_carriage() {
    let mut trial = trial(Holding::Chuck);
    trial.diameters = vec![DiameterReading { direction: Direction::ToTailstock, tool_shift_mm: 30.0, ..reading(100.0) }].into();
    let support = Support::of_bar(&trial.bar, Compliances::RIGID);
    let left = |all, to_tailstock| cut_points(&trial, &support, ForceFactors { all, to_tailstock }).remove(0);
    assert!(close(left(2.0, 3.0).deflection_mm, left(6.0, 1.0).deflection_mm, 1e-12));
    assert!(close(left(2.0, 3.0).deflection_mm, 6.0 * left(1.0, 1.0).deflection_mm, 1e-12));
    assert_eq!((left(1.0, 1.0).bed_mm, left(1.0, 1.0).station_mm), (70.0, 100.0));
}
