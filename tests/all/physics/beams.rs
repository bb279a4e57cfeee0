//! Bending: published formulas, an independent finite-element calculation, limits.

use super::published::{close, rounds_to};
use std::f64::consts::SQRT_2;
use taperwright::physics::beam::{Beam, second_moment_mm4};
use taperwright::physics::support::{Compliances, Support};
use taperwright::physics::vertical_misalignment::{sag_mm, test_bar_sag_mm};
use taperwright::trial::{Bar, Holding, TestBar};

const BEAMS: &str = include_str!("../../published/young-budynas-2002/beam_check.csv");

fn bar() -> Beam {
    Beam::uniform(25.0, 200.0, 206.0)
}

fn held(holding: Holding, compliances: Compliances) -> Support {
    Support { holding, beam: bar(), compliances }
}

/// Movement at each of `loads` under 1 N there, by Hermite beam elements: an independent way, no formula of the program in it.
///
/// `sections` are (from, to, diameter) in mm, modulus 206 GPa; the springs are stiffnesses in N/mm and N·mm/rad (infinite = 1e15).
fn by_finite_elements(sections: &[(f64, f64, f64)], elements: usize, left: f64, left_tilt: f64, right: f64, loads: &[f64]) -> Vec<f64> {
    let length = sections.last().expect("a section").1;
    let step = length / elements as f64;
    let size = 2 * (elements + 1);
    let mut stiffness = nalgebra::DMatrix::<f64>::zeros(size, size);
    for e in 0..elements {
        let middle = (e as f64 + 0.5) * step;
        let d = sections.iter().find(|(from, to, _)| *from <= middle && middle <= *to).expect("covered").2;
        let ei = 206_000.0 * std::f64::consts::PI * d * d * d * d / 64.0;
        let (l, f) = (step, ei / step.powi(3));
        #[rustfmt::skip]
        let k = [
            [12.0, 6.0 * l, -12.0, 6.0 * l],
            [6.0 * l, 4.0 * l * l, -6.0 * l, 2.0 * l * l],
            [-12.0, -6.0 * l, 12.0, -6.0 * l],
            [6.0 * l, 2.0 * l * l, -6.0 * l, 4.0 * l * l],
        ];
        for i in 0..4 {
            for j in 0..4 {
                stiffness[(2 * e + i, 2 * e + j)] += f * k[i][j];
            }
        }
    }
    stiffness[(0, 0)] += left;
    stiffness[(1, 1)] += left_tilt;
    stiffness[(size - 2, size - 2)] += right;
    let factor = stiffness.lu();
    loads
        .iter()
        .map(|x| {
            let node = (x / step).round() as usize;
            let mut load = nalgebra::DVector::<f64>::zeros(size);
            load[2 * node] = 1.0;
            factor.solve(&load).expect("a stiff structure")[2 * node]
        })
        .collect()
}

#[test]
fn all_ways_of_holding_follow_the_published_formulas() {
    let cases = [Holding::Chuck, Holding::Centres, Holding::ChuckAndCentre];
    let mut rows = 0;
    for line in BEAMS.lines().skip(1) {
        let row: Vec<f64> = line.split(',').map(|cell| cell.parse().expect("a number")).collect();
        for (case, holding) in cases.iter().enumerate() {
            let value = 100.0 * held(*holding, Compliances::RIGID).compliance_mm_per_n(row[0]);
            assert!(close(value, row[1 + case], 1e-9) || (value - row[1 + case]).abs() < 1e-15, "{holding:?} at {}: {value}", row[0]);
            assert!((value - row[4 + case]).abs() <= 1e-6 * row[4 + case].abs() + 1e-10, "{holding:?} against elements");
        }
        rows += 1;
    }
    assert_eq!(rows, 9);
}

#[test]
fn clamped_and_supported_bar_gives_most_at_two_less_root_two() {
    let support = held(Holding::ChuckAndCentre, Compliances::RIGID);
    let worst = (0..=200_000)
        .map(|i| f64::from(i) * 1e-3)
        .max_by(|a, b| support.compliance_mm_per_n(*a).total_cmp(&support.compliance_mm_per_n(*b)));
    let worst = worst.expect("stations");
    assert!((worst / 200.0 - (2.0 - SQRT_2)).abs() < 1e-5, "{}", worst / 200.0);
    let coefficient = support.compliance_mm_per_n(worst) * 206_000.0 * second_moment_mm4(25.0) / 200f64.powi(3);
    assert!(rounds_to(coefficient, "0.00981242"), "{coefficient}");
}

#[test]
fn centres_alone_yield_least_where_the_stiffer_one_pulls() {
    let rigid_bar = Support {
        holding: Holding::Centres,
        beam: Beam::uniform(1e6, 200.0, 206.0),
        compliances: Compliances {
            chuck_tilt_rad_per_nmm: 0.0,
            headstock_centre_mm_per_n: 1.0 / 20_000.0,
            tailstock_centre_mm_per_n: 1.0 / 10_000.0,
        },
    };
    let um = |z: f64| 1e5 * rigid_bar.compliance_mm_per_n(z);
    assert!(rounds_to(um(0.0), "5.000"));
    assert!(rounds_to(um(200.0 / 3.0), "3.3333"));
    assert!(rounds_to(um(200.0), "10.000"));
    assert!(um(60.0) > um(200.0 / 3.0) && um(73.0) > um(200.0 / 3.0));
}

#[test]
fn collars_and_reliefs_bend_by_their_own_sections() {
    let sections = [(0.0, 5.0, 34.0), (5.0, 25.0, 38.0), (25.0, 190.0, 30.0), (190.0, 210.0, 38.0), (210.0, 220.0, 30.0)];
    let stations = [5.0, 15.0, 60.0, 120.0, 190.0, 205.0, 220.0];
    let beam = Beam::stepped(&sections, 220.0, 206.0);
    let yielding = Compliances { chuck_tilt_rad_per_nmm: 2e-8, headstock_centre_mm_per_n: 5e-5, tailstock_centre_mm_per_n: 4e-5 };
    let free = 1e-12;
    let cases = [
        (Holding::Chuck, [1e15, 1.0 / 2e-8, free]),
        (Holding::Centres, [1.0 / 5e-5, free, 1.0 / 4e-5]),
        (Holding::ChuckAndCentre, [1e15, 1.0 / 2e-8, 1.0 / 4e-5]),
    ];
    for (holding, [left, tilt, right]) in cases {
        let support = Support { holding, beam: beam.clone(), compliances: yielding };
        let elements = by_finite_elements(&sections, 88, left, tilt, right, &stations);
        for (z, expected) in stations.iter().zip(&elements) {
            let value = support.compliance_mm_per_n(*z);
            assert!(close(value, *expected, 2e-6), "{holding:?} at {z}: {value} against {expected}");
        }
    }
    // A bar of the full diameter is stiffer, one of the relief diameter softer: the steps do count.
    let thick = Beam::uniform(38.0, 220.0, 206.0).cantilever_mm_per_n(205.0, 205.0);
    let thin = Beam::uniform(30.0, 220.0, 206.0).cantilever_mm_per_n(205.0, 205.0);
    let stepped = beam.cantilever_mm_per_n(205.0, 205.0);
    assert!(thick < stepped && stepped < thin);
}

#[test]
fn a_trial_bar_with_collars_is_thick_there_and_thin_between() {
    let mut bar: Bar = crate::made::trial(Holding::Chuck).bar;
    bar.collars_mm = vec![[190.0, 210.0], [5.0, 25.0]];
    bar.relief_diameter_mm = Some(34.0);
    let by_hand = Beam::stepped(
        &[(0.0, 5.0, 34.0), (5.0, 25.0, 38.0), (25.0, 190.0, 34.0), (190.0, 210.0, 38.0), (210.0, 220.0, 34.0)],
        220.0,
        206.0,
    );
    assert_eq!(Beam::of_bar(&bar), by_hand);
    bar.relief_diameter_mm = None;
    assert_eq!(Beam::of_bar(&bar), Beam::uniform(38.0, 220.0, 206.0));
}

#[test]
fn a_chuck_between_firm_and_free_has_the_textbook_limits() {
    let share =
        |firmness: f64, zeta: f64| held(Holding::ChuckAndCentre, Compliances::RIGID).with_firmness(firmness).centre_share(200.0 * zeta);
    for i in 0..=10 {
        let zeta = f64::from(i) / 10.0;
        let clamped = (3.0 * zeta * zeta - zeta.powi(3)) / 2.0;
        assert!((share(1.0, zeta) - clamped).abs() < 1e-12);
        assert!((share(0.0, zeta) - zeta).abs() < 1e-5);
        assert!((share(0.3, zeta) - (0.3 * clamped + 0.7 * zeta)).abs() < 1e-12);
    }
    // λ = β/(3 + β) with β = k_r·L/(EI): at β = 3 half the firmness.
    let stiffness = 206_000.0 * second_moment_mm4(25.0);
    let yielding = Compliances { chuck_tilt_rad_per_nmm: 200.0 / (3.0 * stiffness), ..Compliances::RIGID };
    assert!((held(Holding::ChuckAndCentre, yielding).firmness() - 0.5).abs() < 1e-12);
    // A chuck that does not resist tilting is a centre.
    for z in [20.0, 100.0, 150.0] {
        let loose = held(Holding::ChuckAndCentre, Compliances::RIGID).with_firmness(0.0).compliance_mm_per_n(z);
        let centres = held(Holding::Centres, Compliances::RIGID).compliance_mm_per_n(z);
        assert!(close(loose, centres, 1e-5), "{z}: {loose} {centres}");
    }
}

#[test]
fn a_yielding_tailstock_centre_adds_its_share_to_first_order() {
    let slight = 1e-7;
    for z in [50.0, 100.0, 150.0, 200.0] {
        let yielding = Compliances { tailstock_centre_mm_per_n: slight, ..Compliances::RIGID };
        let added = held(Holding::ChuckAndCentre, yielding).compliance_mm_per_n(z)
            - held(Holding::ChuckAndCentre, Compliances::RIGID).compliance_mm_per_n(z);
        let share = z * z * (3.0 * 200.0 - z) / (2.0 * 200f64.powi(3));
        assert!(close(added, share * share * slight, 1e-3), "{z}: {added}");
    }
}

#[test]
fn a_bar_sags_under_its_own_weight_as_the_handbook_says() {
    for (diameter, length, printed) in [(25.0, 200.0, "1.913"), (40.0, 300.0, "3.784"), (50.0, 300.0, "2.422")] {
        let um = 1000.0 * sag_mm(length, length, diameter, 206.0, 7850.0);
        assert!(rounds_to(um, printed), "{um}");
    }
    // Independent: add up the weight of 2 000 slices, each bending a cantilever.
    let beam = bar();
    let weight = 7850e-9 * 9.806_65 * std::f64::consts::PI * 625.0 / 4.0;
    for z in [60.0, 140.0, 200.0] {
        let sum: f64 = (0..2000).map(|i| beam.cantilever_mm_per_n(z, (f64::from(i) + 0.5) * 0.1) * weight * 0.1).sum();
        assert!(close(sag_mm(z, 200.0, 25.0, 206.0, 7850.0), sum, 1e-6));
    }
}

/// A bar of no length or no thickness: nothing bends, nothing is shared, and no answer is no number.
#[test]
fn a_bar_of_no_length_gives_no_answer_that_is_no_number() {
    let none = Beam::uniform(25.0, 0.0, 206.0);
    assert_eq!(none.simply_supported_mm_per_n(0.0), 0.0);
    for holding in [Holding::Chuck, Holding::Centres, Holding::ChuckAndCentre] {
        let support = Support { holding, beam: none.clone(), compliances: Compliances::RIGID };
        assert_eq!((support.centre_share(0.0), support.firmness(), support.compliance_mm_per_n(0.0)), (0.0, 1.0, 0.0), "{holding:?}");
        let softer = support.with_firmness(0.5);
        assert_eq!(softer.compliances.chuck_tilt_rad_per_nmm, 0.0);
    }
}

#[test]
fn a_test_bar_without_thickness_has_no_sag() {
    let bar = TestBar { taper_um: 0.0, u_um: 1.0, length_mm: 200.0, diameter_mm: None, holding: Holding::Chuck, turned_here: false };
    assert_eq!(test_bar_sag_mm(100.0, &bar, 0.0), 0.0);
    assert!(test_bar_sag_mm(100.0, &bar, 25.0) > 0.0);
}

/// Sections follow one another without any of no length, also where a collar begins at the chuck and one ends with the bar.
#[test]
fn collars_at_both_ends_make_three_sections() {
    let mut bar = crate::made::trial(Holding::Chuck).bar;
    bar.collars_mm = vec![[0.0, 20.0], [200.0, 220.0]];
    bar.relief_diameter_mm = Some(30.0);
    assert_eq!(Beam::of_bar(&bar), Beam::stepped(&[(0.0, 20.0, 38.0), (20.0, 200.0, 30.0), (200.0, 220.0, 38.0)], 220.0, 206.0));
}
