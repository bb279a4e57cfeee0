//! What levels tell of the bed, however many places and stations there are.

use super::designs::bar;
use taperwright::causes::{CauseKind, Verdict, estimate_causes};
use taperwright::simulate::{Chance, Nature, laid_out, read_off};
use taperwright::trial::*;

/// A level bed and a headstock out of line, with so many passes and stations, and levels at so many places over the first 600 mm of the bed.
fn levelled(passes: u32, stations: usize, places: usize, twist: f64) -> Trial {
    let request = SimulationRequest {
        logs: vec!["diameters".into(), "levels".into()],
        passes,
        stations_mm: (0..stations).map(|i| 15.0 + 122.0 * i as f64 / (stations - 1) as f64).collect(),
        level_stations_mm: (0..places).map(|i| 600.0 * i as f64 / (places - 1) as f64).collect(),
        levels_reversed: true,
        truth: Truth {
            twist_mm_per_m_per_m: Some(twist),
            yaw_mm_per_m: Some(0.15),
            wear_um_per_m: Some(2.0),
            force_factor: Some(0.8),
            ..Truth::default()
        },
        ..SimulationRequest::default()
    };
    let mut base = bar(Holding::Chuck);
    (base.bar.diameter_mm, base.bar.length_mm) = (38.0, 152.0);
    base.acceptance.limit.clear();
    let laid = laid_out(&base, &request);
    let nature = Nature::stated(&laid, &request.truth, 1.0, &mut Chance::new(5, 0));
    read_off(&laid, &nature, 5)
}

fn bed(trial: &Trial) -> (Verdict, String) {
    let outcome = estimate_causes(trial, 1);
    let bed = outcome.causes.iter().find(|c| c.cause == CauseKind::BedTwist).unwrap();
    (bed.verdict, bed.reason.to_string())
}

/// More stations on the bar, or one place more for the level, take nothing from what the levels say.
#[test]
fn levels_settle_the_bed_however_many_stations_there_are() {
    for (passes, stations) in [(1, 3), (1, 10), (3, 5), (3, 10)] {
        for places in [2, 3, 4, 5, 7] {
            let trial = levelled(passes, stations, places, 0.0);
            assert_eq!(bed(&trial).0, Verdict::Absent, "{passes} passes, {stations} stations, {places} places: {}", bed(&trial).1);
        }
    }
    assert_eq!(bed(&levelled(3, 5, 4, 0.5)).0, Verdict::Present, "a bed that is twisted is not called level");
}

/// Levels far from where the bar was turned leave room for worn ways: the reason asks for others, not for levels as if there were none.
#[test]
fn levels_far_from_the_bar_are_told_to_be_so() {
    let mut far = levelled(3, 5, 4, 0.0);
    far.levels.iter_mut().for_each(|level| level.station_mm = 150.0 + 0.75 * level.station_mm);
    let (verdict, reason) = bed(&far);
    assert_eq!(verdict, Verdict::NotSettled);
    assert!(reason.contains("levels at places that the bar was turned over"), "{reason}");
    far.levels.clear();
    let (verdict, reason) = bed(&far);
    assert!(verdict == Verdict::NotSettled && reason.ends_with("levels along the bed would tell"), "{reason}");
}
