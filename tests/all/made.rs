//! A small trial that tests change and fill: numbers invented for them.

use std::collections::BTreeMap;
use taperwright::trial::*;

/// A steel bar, 38 mm by 220 mm, in a lathe of 115 mm centre height, without readings.
pub fn trial(holding: Holding) -> Trial {
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
            feet: Some(feet()),
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
            diameter: DiameterGauge {
                name: None,
                serial: None,
                calibrated: None,
                certificate: None,
                resolution_mm: 0.001,
                u_mm: 0.002,
                calibration_u_mm: 0.001,
            },
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
        testbar: None,
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
        origin: taperwright::trial::Origin::default(),
        photographs: Vec::new(),
        findings: vec![],
    }
}

/// Feet 700 mm by 150 mm apart, screws of 1.25 mm that lower the machine clockwise.
pub fn feet() -> Feet {
    Feet {
        spacing_along_mm: 700.0,
        spacing_across_mm: 150.0,
        headstock_feet_to_chuck_face_mm: Some(120.0),
        screw_pitch_mm: Some(1.25),
        clockwise: Some(ScrewSense::Lowers),
        finest_turn_deg: 5.0,
    }
}

/// A reading of the diameter at `station_mm` of the first pass of setting 0, cut to the headstock 0.05 mm deep with a feed of 0.1 mm.
pub fn reading(station_mm: f64) -> DiameterReading {
    DiameterReading { depth_mm: 0.05, feed_mm_per_rev: 0.1, ..DiameterReading::bare(Place { file: 0, row: 1 }, station_mm, 38.0) }
}
