//! Trials for the tests of this folder: an invented bar in the workshop's lathe.

use super::bending::Bending;
use super::design::Design;
use super::hyper::{Hyper, Hypers};
use super::model::Model;
use super::posterior::{Draw, DrawnContribution, Posterior};
use super::unknowns::Unknown;
use super::values::CauseKind;
use crate::physics::{Compliances, Support};
use crate::simulate::{Chance, Nature, laid_out, read_off};
use crate::trial::*;
use std::collections::BTreeMap;

/// A steel bar, 38 mm by 220 mm, without readings.
pub(super) fn bar(holding: Holding) -> Trial {
    let gauge = DiameterGauge {
        name: None,
        serial: None,
        calibrated: None,
        certificate: None,
        resolution_mm: 0.0001,
        u_mm: 0.002,
        calibration_u_mm: 0.001,
    };
    Trial {
        identity: Identity { name: "a-bar".into(), ..Identity::default() },
        machine: Machine {
            name: Some("Quay Lathe 2".into()),
            serial: None,
            class: None,
            centre_height_mm: Some(115.0),
            swing_mm: None,
            between_centres_mm: None,
            roll_arm_mm: 143.75,
            roll_arm_u_mm: 28.75,
            feet: Some(Feet {
                spacing_along_mm: 700.0,
                spacing_across_mm: 150.0,
                headstock_feet_to_chuck_face_mm: Some(120.0),
                screw_pitch_mm: Some(1.25),
                clockwise: Some(ScrewSense::Lowers),
                finest_turn_deg: 5.0,
            }),
        },
        bar: Bar {
            material: Some(Material::MildSteel),
            youngs_modulus_gpa: 206.0,
            expansion_um_per_m_k: 11.5,
            k_c1_mpa: 1780.0,
            kienzle_exponent: 0.17,
            diameter_mm: 38.0,
            length_mm: 220.0,
            collars_mm: vec![],
            relief_diameter_mm: None,
            holding,
        },
        cutting: Cutting {
            depth_mm: 0.05,
            feed_mm_per_rev: 0.1,
            rpm: Some(500.0),
            nose_radius_mm: 0.4,
            tool_height_u_mm: 0.3,
            tool_height_mm: None,
        },
        gauge: Gauges {
            diameter: gauge,
            diameter_named: BTreeMap::new(),
            level: LevelGauge {
                name: None,
                serial: None,
                calibrated: None,
                certificate: None,
                u_mm_per_m: 0.01,
                division_mm_per_m: Some(0.02),
            },
            indicator: IndicatorGauge { name: None, serial: None, calibrated: None, certificate: None, u_mm: 0.001 },
        },
        testbar: Some(TestBar {
            taper_um: 1.0,
            u_um: 1.0,
            length_mm: 200.0,
            diameter_mm: None,
            holding: Holding::Chuck,
            turned_here: false,
        }),
        conditions: Conditions { temperature_c: 20.0, temperature_spread_c: 2.0 },
        prior: Prior::default(),
        acceptance: Acceptance::default(),
        simulate: None,
        plan: None,
        diameters: Vec::new().into(),
        levels: vec![],
        indicator: vec![],
        clamp: vec![],
        moves: vec![],
        assumed: vec![],
        inputs: vec![],
        origin: crate::trial::Origin::default(),
        photographs: Vec::new(),
        findings: vec![],
    }
}

/// The readings that `request` asks for, simulated with its truth.
pub(super) fn read(trial: &Trial, request: &SimulationRequest, seed: u64) -> Trial {
    let laid = laid_out(trial, request);
    let nature = Nature::stated(&laid, &request.truth, 1.0, &mut Chance::new(seed, 0));
    read_off(&laid, &nature, seed)
}

/// Every kind of log on a short bar: two settings with a move between them, passes both ways, levels turned, indicator, clamp.
pub(super) fn everything(holding: Holding) -> Trial {
    let request = SimulationRequest {
        logs: ["diameters", "levels", "indicator", "clamp", "moves"].map(String::from).to_vec(),
        settings: 2,
        passes: 1,
        directions: vec![Direction::ToHeadstock, Direction::ToTailstock],
        stations_mm: vec![20.0, 80.0, 140.0, 200.0],
        level_stations_mm: vec![0.0, 200.0, 400.0],
        levels_reversed: true,
        moves: vec![SimulatedMove { from_setting: 0, to_setting: 1, foot: Foot::TailstockRear, raise_mm: -0.03 }],
        truth: Truth {
            yaw_mm_per_m: Some(0.05),
            twist_mm_per_m_per_m: Some(0.3),
            wear_um_per_m: Some(8.0),
            force_factor: Some(1.0),
            move_gain: Some(0.8),
            offset_mm: Some(0.01),
            ..Truth::default()
        },
        ..SimulationRequest::default()
    };
    read(&bar(holding), &request, 7)
}

/// Passes of these depths to the headstock on a bar in the chuck that yields much, without spread between passes.
pub(super) fn of_depths(depths_mm: &[f64]) -> Trial {
    let mut trial = bar(Holding::Chuck);
    (trial.gauge.diameter.u_mm, trial.prior.fresh_edge_um) = (0.0005, 0.0);
    let request = SimulationRequest {
        logs: vec!["diameters".to_string()],
        settings: 1,
        passes: depths_mm.len() as u32,
        directions: vec![Direction::ToHeadstock],
        depths_mm: depths_mm.to_vec(),
        stations_mm: vec![20.0, 80.0, 140.0, 200.0],
        truth: Truth { yaw_mm_per_m: Some(0.02), force_factor: Some(4.0), ..Truth::default() },
        ..SimulationRequest::default()
    };
    read(&trial, &request, 3)
}

/// Levels on a bed without twist, read at five places 150 mm apart.
pub(super) fn straight_levels() -> Vec<LevelReading> {
    let level = |i: u32| LevelReading {
        place: Place { file: 1, row: 2 },
        setting: 0,
        station_mm: 150.0 * f64::from(i),
        roll_mm_per_m: 0.0,
        reversed: false,
        reference_roll_mm_per_m: None,
        note: None,
    };
    (0..5).map(level).collect()
}

/// These draws and contributions, nothing else told.
pub(super) fn posterior(design: &Design, draws: Vec<Draw>, contributions: BTreeMap<(u32, CauseKind), DrawnContribution>) -> Posterior {
    Posterior {
        carried: Default::default(),
        roll_arm_mm: Vec::new(),
        move_gain: Vec::new(),
        force_factor: Vec::new(),
        yaw_mm_per_m: Vec::new(),
        twist_mm_per_m_per_m: BTreeMap::new(),
        offset_mm: BTreeMap::new(),
        contributions,
        points: 0,
        effective_points: 0.0,
        pareto_k: None,
        draws,
        references: design.references.clone(),
    }
}

/// A model of these unknowns and of what is integrated numerically, without readings; each cause is present with probability 0.3.
pub(super) fn without_readings(kinds: Vec<Hyper>, unknowns: Vec<Unknown>) -> Model {
    let support = Support::of_bar(&bar(Holding::Chuck).bar, Compliances::RIGID);
    Model {
        flags: unknowns.iter().filter_map(|u| u.flag).max().map_or(0, |flag| flag + 1),
        unknowns,
        presence: 0.3,
        bending: Bending::new(Vec::new(), &support),
        hypers: Hypers { kinds, support, noise_levels: 1 },
        blocks: Vec::new(),
    }
}
