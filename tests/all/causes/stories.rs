//! Each story of the sample trials ends with the right verdict, and no verdict contradicts the truth that made the logs.
//!
//! The verdicts are read from the example reports, which another test holds to be what the program says of the sample data.

use serde_json::Value;
use std::path::Path;

/// A story, and the verdicts that it is told for.
const STORIES: [(&str, &[(&str, &str)]); 9] = [
    ("twist-only", &[("bed-twist", "present")]),
    ("nuts-tightened", &[("headstock-yaw", "not-settled"), ("bed-twist", "not-settled")]),
    ("headstock-only", &[("headstock-yaw", "present"), ("bed-twist", "absent")]),
    ("both-with-level", &[("headstock-yaw", "present"), ("bed-twist", "present")]),
    ("both-no-level", &[("headstock-yaw", "not-settled"), ("bed-twist", "not-settled")]),
    ("wear-both-ways", &[("tool-wear", "present")]),
    ("heavy-and-light", &[("deflection", "present")]),
    ("worn-ways", &[("way-wear", "present"), ("deflection", "absent")]),
    ("tailstock-over", &[("tailstock-offset", "present")]),
];

fn json(path: &str) -> Value {
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// The verdict on `cause` in the only setting of a result.
fn verdict(result: &Value, cause: &str) -> String {
    let causes = result["causes"].as_array().unwrap();
    causes.iter().find(|c| c["cause"] == cause).unwrap()["verdict"].as_str().unwrap().to_owned()
}

/// Causes called present whose true peak is below the threshold, or absent with a peak above it.
///
/// Worn ways are put to the estimate with their straight part counted as headstock and bed, so there those two are not compared.
fn contradictions(result: &Value, truth: &Value) -> Vec<String> {
    let peaks = &truth["settings"][0]["peak_um"];
    let worn = peaks["way-wear"].as_f64().unwrap() > 0.0;
    result["causes"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|c| !(worn && ["headstock-yaw", "bed-twist"].contains(&c["cause"].as_str().unwrap())))
        .filter(|c| {
            let material = || peaks[c["cause"].as_str().unwrap()].as_f64().unwrap().abs() > c["material_threshold_um"].as_f64().unwrap();
            match c["verdict"].as_str().unwrap() {
                "present" => !material(),
                "absent" => material(),
                _ => false,
            }
        })
        .map(|c| c["cause"].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn every_story_ends_with_its_verdict() {
    for (name, wanted) in STORIES {
        let (result, truth) = (json(&format!("reports/{name}.json")), json(&format!("sample-data/{name}/truth.json")));
        for (cause, verdict_wanted) in wanted {
            assert_eq!(verdict(&result, cause), *verdict_wanted, "{name}: {cause}");
        }
        assert_eq!(contradictions(&result, &truth), [""; 0], "{name}");
    }
    // Without levels headstock and bed are listed together.
    let group = &json("reports/both-no-level.json")["confounded"][0]["causes"];
    assert!(group.as_array().unwrap().iter().any(|c| c == "headstock-yaw") && group.as_array().unwrap().iter().any(|c| c == "bed-twist"));
    // Nothing else than the story's own cause is called present.
    for (name, only) in [("twist-only", "bed-twist"), ("headstock-only", "headstock-yaw"), ("wear-both-ways", "tool-wear")] {
        let result = json(&format!("reports/{name}.json"));
        let present: Vec<&str> = result["causes"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|c| c["verdict"] == "present")
            .map(|c| c["cause"].as_str().unwrap())
            .collect();
        assert_eq!(present, [only], "{name}");
    }
}

/// The comparison sees a cause that is wrongly called present and one wrongly called absent.
#[test]
fn a_wrong_verdict_is_seen() {
    let truth = json("sample-data/twist-only/truth.json");
    let mut result = json("reports/twist-only.json");
    let place = |cause: &str, result: &Value| result["causes"].as_array().unwrap().iter().position(|c| c["cause"] == cause).unwrap();
    let (twist, yaw) = (place("bed-twist", &result), place("headstock-yaw", &result));
    result["causes"][twist]["verdict"] = "absent".into();
    result["causes"][yaw]["verdict"] = "present".into();
    let mut seen = contradictions(&result, &truth);
    seen.sort();
    assert_eq!(seen, ["bed-twist", "headstock-yaw"]);
}
