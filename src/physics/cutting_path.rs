//! How much metal a tool has cut, how far its edge has travelled in it, and how long that took.

use crate::trial::Direction;
use std::f64::consts::PI;

/// Collars as sorted, disjoint intervals inside the bar `[0, length]`; no collars means metal all along.
#[must_use]
pub fn merged_collars(collars_mm: &[[f64; 2]], length_mm: f64) -> Vec<[f64; 2]> {
    if collars_mm.is_empty() {
        return vec![[0.0, length_mm]];
    }
    let mut sorted: Vec<[f64; 2]> =
        collars_mm.iter().map(|[a, b]| [a.min(*b).clamp(0.0, length_mm), a.max(*b).clamp(0.0, length_mm)]).collect();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut merged: Vec<[f64; 2]> = Vec::new();
    for [from, to] in sorted {
        match merged.last_mut() {
            Some(last) if from <= last[1] => last[1] = last[1].max(to),
            _ => merged.push([from, to]),
        }
    }
    merged
}

/// Length of metal cut since the pass began when the tool is at `z`, mm.
///
/// A pass to the headstock begins at the bar's end, one to the tailstock at the chuck face or headstock centre; over a relief the tool cuts
/// nothing. Example: a 200 mm bar at `z` = 50: 150 mm to the headstock, 50 mm to the tailstock. With collars 0–20 and 180–200
/// and `z` = 10 to the headstock: 20 + 10 = 30 mm.
///
/// ```
/// # use taperwright::physics::cutting_path::metal_cut_mm;
/// # use taperwright::trial::Direction;
/// assert_eq!(metal_cut_mm(10.0, Direction::ToHeadstock, 200.0, &[[0.0, 20.0], [180.0, 200.0]]), 30.0);
/// ```
#[must_use]
pub fn metal_cut_mm(z_mm: f64, direction: Direction, length_mm: f64, collars_mm: &[[f64; 2]]) -> f64 {
    merged_collars(collars_mm, length_mm)
        .iter()
        .map(|[from, to]| match direction {
            Direction::ToHeadstock => (to - from.max(z_mm)).max(0.0),
            Direction::ToTailstock => (to.min(z_mm) - from).max(0.0),
        })
        .sum()
}

/// Metal on the whole bar, mm: what one pass cuts.
#[must_use]
pub fn metal_of_pass_mm(length_mm: f64, collars_mm: &[[f64; 2]]) -> f64 {
    metal_cut_mm(length_mm, Direction::ToTailstock, length_mm, collars_mm)
}

/// Path of the edge through the metal, m: `π·D·s/f/1000`; `D` and `s` in mm, `f` in mm per revolution.
///
/// Example: 50 mm, 150 mm, 0.1 mm/rev: 235.6 m. 0 when the feed is not above 0.
#[must_use]
pub fn edge_path_m(diameter_mm: f64, metal_mm: f64, feed_mm_per_rev: f64) -> f64 {
    if feed_mm_per_rev > 0.0 { PI * diameter_mm * metal_mm / feed_mm_per_rev / 1000.0 } else { 0.0 }
}

/// Minutes of cutting, `s/(f·n)`: metal in mm, feed in mm per revolution, speed in revolutions per minute.
///
/// Example: 200 mm at 0.1 mm/rev and 500 rpm: 4 minutes. `None` without a feed or speed above 0.
#[must_use]
pub fn cutting_minutes(metal_mm: f64, feed_mm_per_rev: f64, rpm: Option<f64>) -> Option<f64> {
    rpm.filter(|rpm| *rpm > 0.0 && feed_mm_per_rev > 0.0).map(|rpm| metal_mm / (feed_mm_per_rev * rpm))
}
