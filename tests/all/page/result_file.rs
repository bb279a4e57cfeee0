//! The result file against the layout that scripts rely on: every key, in order, always present.

use super::frozen;
use serde_json::Value;
use taperwright::report::{result_json, result_json_line};

/// The keys of each object of the layout, in its order; `*` stands for any entry of a list.
const LAYOUT: [(&str, &str); 34] = [
    (
        "",
        "schema program trial assumed inputs tested_length shape causes confounded balance vertical_misalignment next_tests correction conformity findings warnings",
    ),
    ("program", "name version"),
    (
        "trial",
        "name date purpose paper repair measured_by witness notes machine bar cutting gauge testbar conditions prior acceptance simulate plan",
    ),
    ("trial.machine", "name serial class centre_height_mm swing_mm between_centres_mm roll_arm_mm roll_arm_u_mm feet"),
    (
        "trial.bar",
        "material youngs_modulus_gpa expansion_um_per_m_k k_c1_mpa kienzle_exponent diameter_mm length_mm collars_mm relief_diameter_mm holding",
    ),
    ("trial.cutting", "depth_mm feed_mm_per_rev rpm nose_radius_mm tool_height_u_mm tool_height_mm"),
    ("trial.gauge.diameter", "name serial calibrated certificate resolution_mm u_mm calibration_u_mm"),
    ("trial.conditions", "temperature_c temperature_spread_c"),
    ("assumed.*", "key value why"),
    ("inputs.*", "file sha256 bytes rows used flagged excluded"),
    ("tested_length", "from to length"),
    (
        "shape.*",
        "setting tested_length readings passes passes_in_shape taper by_direction barrel repeatability between_pass order lack_of_fit tests outliers budget expanded monte_carlo",
    ),
    ("shape.*.tested_length", "from to length"),
    (
        "shape.*.taper",
        "value standard_error dof fit_interval95 plain_t_interval95 standard_uncertainty effective_dof interval95 per_300 per_foot_in angle_arcsec robust",
    ),
    ("shape.*.taper.robust", "method value"),
    ("shape.*.by_direction.*", "direction passes value standard_uncertainty effective_dof interval95"),
    ("shape.*.barrel", "value standard_error dof standard_uncertainty effective_dof interval95"),
    ("shape.*.lack_of_fit", "f dof1 dof2 p"),
    ("shape.*.tests.*", "name statistic p interpretation"),
    ("shape.*.outliers.*", "file row residual p"),
    ("shape.*.budget.*", "component standard_uncertainty dof share"),
    ("shape.*.expanded", "value coverage_factor coverage_probability"),
    ("shape.*.monte_carlo", "standard_uncertainty interval95 draws seed"),
    (
        "causes.*",
        "setting cause unit estimate standard_uncertainty interval95 contribution_um peak_um presence_probability material_probability material_threshold_um variance_removed verdict reason",
    ),
    ("causes.*.contribution_um", "estimate standard_uncertainty interval95"),
    ("causes.*.peak_um", "estimate standard_uncertainty interval95"),
    ("confounded.*", "setting causes sum_um"),
    ("confounded.*.sum_um", "estimate standard_uncertainty interval95"),
    ("balance.*", "setting direction end_difference_um sum_um unexplained_um standard_uncertainty_um"),
    ("next_tests.*", "test settles uncertainty_before_um uncertainty_after_um minutes why"),
    (
        "conformity.*",
        "setting criterion clause source provenance quantity limit over sense value expanded_uncertainty probability decision note unit length allowed standard_uncertainty decision_rule asked consumers_risk producers_risk uncertainty_needed passes_needed",
    ),
    ("trial.acceptance", "criteria file title source decision_rule probability limit left_out"),
    ("findings.*", "code severity file row column found help"),
    (
        "trial.prior",
        "yaw_mm_per_m twist_mm_per_m_per_m wear_um_per_m force_factor chuck_tilt_urad_per_nm centre_compliance_um_per_n gauge_noise_factor fresh_edge_um fresh_edge_m offset_mm way_wear_um way_wear_length_mm thermal_drift_um_per_min free_twist_mm_per_m_per_m move_gain move_gain_factor presence",
    ),
];

/// Objects of `value` at `path`, a list's entries for `*`; nulls are left out.
fn objects_at<'a>(value: &'a Value, path: &str) -> Vec<&'a Value> {
    let mut here = vec![value];
    for step in path.split('.').filter(|step| !step.is_empty()) {
        here = here
            .into_iter()
            .flat_map(|value| match (step, value) {
                ("*", Value::Array(entries)) => entries.iter().collect(),
                (name, value) => value.get(name).into_iter().collect::<Vec<_>>(),
            })
            .collect();
    }
    here.into_iter().filter(|value| !value.is_null()).collect()
}

/// Where `file` departs from the layout, and how many objects were looked at.
fn departures(file: &Value) -> (Vec<String>, usize) {
    let mut looked = 0;
    let mut wrong = Vec::new();
    for (path, keys) in LAYOUT {
        for object in objects_at(file, path) {
            looked += 1;
            let wanted: Vec<&str> = keys.split(' ').collect();
            let found: Vec<&str> = object.as_object().map(|object| object.keys().map(String::as_str).collect()).unwrap_or_default();
            if found != wanted {
                wrong.push(format!("{path}: {found:?}"));
            }
        }
    }
    (wrong, looked)
}

#[test]
fn every_key_is_present_and_in_order() {
    for analysis in [frozen::both_ways(), frozen::two_collars(), frozen::long_bar(), frozen::all_equal()] {
        let file: Value = serde_json::from_str(&result_json(&analysis)).unwrap();
        let (wrong, looked) = departures(&file);
        assert!(wrong.is_empty(), "{wrong:#?}");
        assert!(looked >= LAYOUT.len() - 7, "only {looked} objects were looked at");
    }
}

#[test]
fn every_object_of_the_layout_is_met_by_some_analysis() {
    let files: Vec<Value> = [frozen::both_ways(), frozen::long_bar(), frozen::two_settings()]
        .iter()
        .map(|analysis| serde_json::from_str(&result_json(analysis)).unwrap())
        .collect();
    for (path, _) in LAYOUT {
        assert!(files.iter().any(|file| !objects_at(file, path).is_empty()), "{path} is never met");
    }
}

#[test]
fn the_comparison_notices_a_missing_and_a_moved_key() {
    let mut file: Value = serde_json::from_str(&result_json(&frozen::both_ways())).unwrap();
    let taper = file["shape"][0]["taper"].as_object_mut().unwrap();
    let dof = taper.shift_remove("dof").unwrap();
    assert_eq!(departures(&file).0.len(), 1);
    file["shape"][0]["taper"]["dof"] = dof;
    assert_eq!(departures(&file).0.len(), 1, "a key at another place must be noticed");
}

#[test]
fn parts_of_later_issues_are_null_or_empty_and_unknown_is_null() {
    let file: Value = serde_json::from_str(&result_json(&frozen::two_collars())).unwrap();
    assert_eq!(file["schema"], "taperwright-result/1");
    assert_eq!(file["correction"], Value::Null);
    assert_eq!(file["conformity"], Value::Array(Vec::new()));
    assert_eq!(file["causes"][5]["estimate"], Value::Null, "a cause that is ruled out has no estimate");
    assert_eq!(file["causes"][5]["verdict"], "not-applicable");
    assert_eq!(file["shape"][0]["barrel"], Value::Null, "two stations know no barrel");
    assert_eq!(file["trial"]["machine"]["feet"], Value::Null);
    assert_eq!(file["shape"][0]["taper"]["interval95"].as_array().map(Vec::len), Some(2));
}

#[test]
fn numbers_that_are_not_finite_become_null() {
    let mut analysis = frozen::both_ways();
    analysis.shape[0].tests[0].statistic = Some(f64::NAN);
    analysis.shape[0].taper.dof = Some(f64::INFINITY);
    let file: Value = serde_json::from_str(&result_json(&analysis)).unwrap();
    assert_eq!(file["shape"][0]["tests"][0]["statistic"], Value::Null);
    assert_eq!(file["shape"][0]["taper"]["dof"], Value::Null);
}

#[test]
fn one_line_and_many_lines_hold_the_same() {
    let analysis = frozen::long_bar();
    let (many, one) = (result_json(&analysis), result_json_line(&analysis));
    assert!(!one.contains('\n') && many.ends_with("}\n"));
    assert_eq!(serde_json::from_str::<Value>(&many).unwrap(), serde_json::from_str::<Value>(&one).unwrap());
}
