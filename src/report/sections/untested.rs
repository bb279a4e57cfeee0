//! Stretches of the bar of which nothing is known.

use crate::quantities::{Sentence, Told};
use crate::shape::Shape;
use crate::trial::Trial;

/// An end of the bar is told when no station lies within this share of its length.
const END: f64 = 0.1;
/// A stretch between neighbouring stations is told when it is longer than this share of the bar.
const BETWEEN: f64 = 0.5;

/// A sentence for each stretch of the bar on which no diameter of the finishing cut was read: beyond the last station, before the first, between two.
///
/// A bar with collars is known at its collars only, and has no metal to read between them: there it begins with the first and ends with the last.
pub fn untested(trial: &Trial, shape: &Shape) -> Vec<Sentence> {
    let collars = &trial.bar.collars_mm;
    let start = collars.iter().map(|span| span[0]).reduce(f64::min).unwrap_or(0.0);
    let end = collars.iter().map(|span| span[1]).reduce(f64::max).unwrap_or(trial.bar.length_mm);
    let whole = end - start;
    let mut stretches = Vec::new();
    if shape.tested_length.from - start > END * whole {
        stretches.push((start, shape.tested_length.from));
    }
    if collars.is_empty() {
        let mut stations: Vec<f64> = shape.points.iter().map(|point| point.station_mm).collect();
        stations.sort_by(f64::total_cmp);
        let gaps = stations.windows(2).filter_map(|pair| Some((*pair.first()?, *pair.last()?)));
        stretches.extend(gaps.filter(|(from, to)| to - from > BETWEEN * whole));
    }
    if end - shape.tested_length.to > END * whole {
        stretches.push((shape.tested_length.to, end));
    }
    let told = |(from, to): (f64, f64)| {
        let (from, to) = (Told::length(from), Told::length(to));
        Sentence::from(format!("Nothing is known of the bar from {from} to {to}: no diameter was read there."))
    };
    stretches.into_iter().map(told).collect()
}
