//! Boxes for every reading, in measuring order.

use super::super::quantity::{Pen, on_page};
use super::super::units::Units;
use super::super::words;
use crate::trial::Trial;
use serde::Serialize;

/// A table of boxes: one measurement without setting anything anew.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Boxes {
    /// What is done, one sentence.
    pub title: String,
    /// Column heads.
    pub heads: Vec<String>,
    /// One row a place.
    pub rows: Vec<BoxRow>,
}

/// The boxes of one place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BoxRow {
    /// The place.
    pub place: String,
    /// Numbers of its boxes: the row of the log below its header.
    pub numbers: Vec<usize>,
}

/// Passes in cutting order.
pub fn passes(planned: &Trial, pen: Pen) -> Vec<Boxes> {
    let mut tables: Vec<(u32, Boxes)> = Vec::new();
    for (index, reading) in planned.diameters.iter().enumerate() {
        let known = tables.last().is_some_and(|(pass, _)| *pass == reading.pass);
        if !known {
            let depth = pen.cut(reading.depth_mm, on_page("depth")).plain();
            let feed = pen.cut(reading.feed_mm_per_rev, on_page("feed")).plain();
            let title =
                format!("Pass {}, {}: depth {depth} (radial), feed {feed} a revolution", reading.pass, words::direction(reading.direction));
            tables.push((reading.pass, Boxes { title, heads: Vec::new(), rows: Vec::new() }));
        }
        let Some((_, table)) = tables.last_mut() else { continue };
        push(table, pen.length(reading.station_mm, on_page("station")).number_text(), index);
    }
    tables.into_iter().map(|(_, table)| headed(table, |place| format!("reading {place}"))).collect()
}

/// Levels, each place with both ways of the level.
pub fn levels(planned: &Trial, pen: Pen) -> Vec<Boxes> {
    let unit = if pen.units == Units::Inch { "in/ft" } else { "mm/m" };
    let title = format!("Levels along the bed, in {unit}, the tool at each station");
    let mut table = Boxes { title, heads: Vec::new(), rows: Vec::new() };
    for (index, reading) in planned.levels.iter().enumerate() {
        push(&mut table, pen.length(reading.station_mm, on_page("station")).number_text(), index);
    }
    let heads = ["as set down", "turned end for end"];
    if table.rows.is_empty() {
        Vec::new()
    } else {
        vec![headed(table, |place| heads.get(place - 1).copied().unwrap_or("again").to_owned())]
    }
}

/// Indicator runs, one table an angle of the spindle.
pub fn indicator(planned: &Trial, pen: Pen) -> Vec<Boxes> {
    let mut tables: Vec<(f64, Boxes)> = Vec::new();
    for (index, reading) in planned.indicator.iter().enumerate() {
        if tables.last().is_none_or(|(angle, _)| *angle != reading.spindle_deg) {
            let title = format!("Indicator along the test bar, spindle turned to {}°", reading.spindle_deg);
            tables.push((reading.spindle_deg, Boxes { title, heads: Vec::new(), rows: Vec::new() }));
        }
        let Some((_, table)) = tables.last_mut() else { continue };
        push(table, pen.length(reading.station_mm, on_page("station")).number_text(), index);
    }
    tables.into_iter().map(|(_, table)| headed(table, |_| "reading".to_owned())).collect()
}

/// Adds a box to the row of `place`, which is the last row or a new one.
fn push(table: &mut Boxes, place: String, index: usize) {
    match table.rows.last_mut() {
        Some(row) if row.place == place => row.numbers.push(index + 1),
        _ => table.rows.push(BoxRow { place, numbers: vec![index + 1] }),
    }
}

fn headed(mut table: Boxes, head: impl Fn(usize) -> String) -> Boxes {
    let widest = table.rows.iter().map(|row| row.numbers.len()).max().unwrap_or(0);
    table.heads = (1..=widest).map(|place| if widest == 1 { "reading".to_owned() } else { head(place) }).collect();
    table
}
