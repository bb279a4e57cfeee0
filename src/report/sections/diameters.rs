//! The bar's diameters with the fitted curve, its band, and the passes told apart by marker, filling and colour.

use crate::report::drawing::{Axis, CannotDraw, Ink, Look, Marker, Plot, SERIES, draw_area, draw_line, draw_markers, range_of};
use crate::report::number::fixed;
use crate::report::quantity::{Pen, on_page};
use crate::report::{thinned, words};
use crate::shape::{FittedReading, PassSummary, Shape};
use crate::trial::{Direction, Holding, Trial};
use minijinja::Value;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// The picture of the diameters of one setting, its legend and its data.
#[derive(Serialize)]
pub struct Diameters {
    setting: u32,
    svg: Value,
    passes: Vec<PassRow>,
    /// What is left out of a long log: of the readings, of the passes.
    thinned: Option<String>,
    fewer_passes: Option<String>,
    curve: Vec<CurveRow>,
    fine_unit: &'static str,
    length_unit: &'static str,
    held_from: &'static str,
}

#[derive(Serialize)]
struct PassRow {
    glyph: Option<&'static str>,
    class: &'static str,
    pass: u32,
    direction: &'static str,
    depth: Value,
    feed: Value,
    readings: usize,
    level: Value,
    taper: Option<Value>,
    taper_error: Option<Value>,
}

#[derive(Serialize)]
struct CurveRow {
    station: Value,
    deviation: Value,
    low: Value,
    high: Value,
}

/// Radius of a marker, and how far neighbouring passes stand apart, units of the picture.
const RADIUS: f64 = 4.0;
const APART: f64 = 5.0;
/// From so many readings on, markers are smaller and closer.
const MANY: usize = 100;

/// The look of pass number `place` of `count` in the shape: shape and colour go round, filled = cut to the headstock.
fn look_of(place: usize, count: usize, direction: Direction, many: bool) -> Look {
    let (radius, apart) = if many { (0.75 * RADIUS, 0.4 * APART) } else { (RADIUS, APART) };
    let series = u8::try_from(place % usize::from(SERIES)).unwrap_or(0);
    let marker = Marker::ALL.get(usize::from(series)).copied().unwrap_or(Marker::Round);
    let side = (place % usize::from(SERIES)) as f64 - 0.5 * (count.clamp(1, usize::from(SERIES)) - 1) as f64;
    Look { marker, open: direction == Direction::ToTailstock, ink: Ink::Series(series), radius, aside: apart * side }
}

/// How flagged readings are ringed: a wide open circle round the marker that `look` draws.
pub fn ring(look: Look) -> Look {
    Look { marker: Marker::Round, open: true, ink: Ink::Flag, radius: 2.2 * look.radius, ..look }
}

fn glyph(look: Look) -> &'static str {
    match (look.marker, look.open) {
        (Marker::Round, false) => "●",
        (Marker::Round, true) => "○",
        (Marker::Square, false) => "■",
        (Marker::Square, true) => "□",
        (Marker::Up, false) => "▲",
        (Marker::Up, true) => "△",
        (Marker::Diamond, false) => "◆",
        (Marker::Diamond, true) => "◇",
        (Marker::Down, false) => "▼",
        (Marker::Down, true) => "▽",
        (Marker::Hexagon, false) => "⬢",
        (Marker::Hexagon, true) => "⬡",
    }
}

/// The passes of the shape with the way they are drawn, in cutting order.
pub fn looks(shape: &Shape) -> Vec<(&PassSummary, Look)> {
    let drawn = || shape.pass_summaries.iter().filter(|pass| pass.in_shape);
    let count = drawn().count();
    drawn().enumerate().map(|(place, pass)| (pass, look_of(place, count, pass.direction, shape.points.len() >= MANY))).collect()
}

/// The places of the points of each pass: passes cut either way may carry one number.
fn by_pass(shape: &Shape) -> BTreeMap<(u32, Direction), BTreeSet<usize>> {
    let mut drawn: BTreeMap<(u32, Direction), BTreeSet<usize>> = BTreeMap::new();
    for (place, point) in shape.points.iter().enumerate() {
        drawn.entry((point.pass, point.direction)).or_default().insert(place);
    }
    drawn
}

/// Points that are drawn alike: those of one pass, or in a log of very many passes those of all passes with one look.
pub struct Series {
    /// What a pointer shows.
    pub title: String,
    /// The same for flagged readings.
    pub flagged: String,
    /// How they are drawn.
    pub look: Look,
    /// Their places in the shape's list.
    pub places: BTreeSet<usize>,
}

/// The series of a shape, in cutting order.
pub fn series(shape: &Shape) -> Vec<Series> {
    let looks = looks(shape);
    let drawn = by_pass(shape);
    let few = looks.len() <= thinned::MOST_PASSES;
    let mut list: Vec<Series> = Vec::new();
    for (pass, look) in looks {
        let Some(places) = drawn.get(&(pass.pass, pass.direction)) else { continue };
        let alike = list.iter_mut().find(|known| !few && known.look == look);
        match alike {
            Some(known) => known.places.extend(places),
            None => {
                let cut = words::direction(pass.direction);
                let title = if few { format!("Pass {}, cut {cut}", pass.pass) } else { format!("Passes cut {cut} with this mark") };
                let flagged =
                    if few { format!("Flagged readings of pass {}", pass.pass) } else { "Flagged readings of these passes".to_owned() };
                list.push(Series { title, flagged, look, places: places.clone() });
            }
        }
    }
    list
}

/// Stations are counted from here.
pub fn held_from(trial: &Trial) -> &'static str {
    if trial.bar.holding == Holding::Centres { "the headstock centre" } else { "the chuck face" }
}

/// The picture of `shape`, entry `place` of the result's list.
pub fn diameters(shape: &Shape, place: usize, trial: &Trial, pen: Pen) -> Result<Diameters, CannotDraw> {
    Ok(Diameters {
        setting: shape.setting,
        svg: Value::from_safe_string(picture(shape, place, trial, pen)?),
        passes: pass_rows(shape, place, trial, pen),
        thinned: thinned::of_points(shape),
        fewer_passes: thinned::of_passes(shape.pass_summaries.len()),
        curve: curve_rows(shape, place, pen),
        fine_unit: pen.units.fine().symbol,
        length_unit: pen.units.length().symbol,
        held_from: held_from(trial),
    })
}

fn picture(shape: &Shape, place: usize, trial: &Trial, pen: Pen) -> Result<String, CannotDraw> {
    let (length, fine) = (pen.units.length(), pen.units.fine());
    let looks = looks(shape);
    // of passes with one number and direction the first counts
    let levels: BTreeMap<(u32, Direction), f64> =
        looks.iter().rev().map(|(pass, _)| ((pass.pass, pass.direction), pass.level_mm)).collect();
    let level = |point: &FittedReading| levels.get(&(point.pass, point.direction)).copied();
    let at = |point: &FittedReading| level(point).map(|level| (point.station_mm / length.mm, (point.diameter_mm - level) / fine.mm));
    let curve: Vec<(f64, f64)> = shape.curve.iter().map(|point| (point.station_mm / length.mm, point.deviation_mm / fine.mm)).collect();
    let low: Vec<(f64, f64)> = shape.curve.iter().map(|point| (point.station_mm / length.mm, point.band.low / fine.mm)).collect();
    let high: Vec<(f64, f64)> = shape.curve.iter().map(|point| (point.station_mm / length.mm, point.band.high / fine.mm)).collect();
    let deviations = shape.points.iter().filter_map(at).map(|(_, deviation)| deviation);
    let heights = deviations.chain(low.iter().chain(&high).map(|point| point.1));
    let rule = if words::shows_taper(shape) { words::larger_end(shape.taper.value) } else { "level within the band" };
    let plot = Plot {
        id: &format!("diameters-{place}"),
        size: (720, 380),
        title: format!("Diameters along the bar, setting {}", shape.setting),
        description: format!(
            "{}{} readings of {} against station, each as its difference from the fitted diameter of its own pass at mid-length. \
             The fitted curve runs from {} {unit} at the first station to {} {unit} at the last: {rule}. A shaded band shows its 95 % confidence.",
            shape.points.len(),
            if shape.points.len() < shape.readings { format!(" of {}", crate::quantities::grouped(shape.readings)) } else { String::new() },
            words::counted(looks.len(), "pass", "passes"),
            curve.first().map_or_else(String::new, |point| fixed(point.1, 1)),
            curve.last().map_or_else(String::new, |point| fixed(point.1, 1)),
            unit = fine.symbol,
        ),
        x: range_of(shape.points.iter().map(|point| point.station_mm / length.mm), 0.04, 1.0 / length.mm),
        y: range_of(heights, 0.08, 2e-3 / fine.mm),
        axis: Axis::Numbers,
        x_label: format!("station from {}, {}  (headstock left, tailstock right)", held_from(trial), length.symbol),
        y_label: format!("diameter − pass’s own level, {}", fine.symbol),
    };
    plot.draw(|chart, sheet| {
        let (from, to) = (plot.x.start, plot.x.end);
        if high.len() > 1 {
            sheet.open_group("band", "95 % confidence band of the fitted curve");
            draw_area(chart, high.iter().chain(low.iter().rev()).copied().collect(), Ink::Band)?;
            draw_line(chart, high.clone(), Ink::BandEdge, 1.0)?;
            draw_line(chart, low.clone(), Ink::BandEdge, 1.0)?;
            sheet.close_group();
        }
        sheet.open_group("zero", "The pass’s own level at mid-length");
        draw_line(chart, vec![(from, 0.0), (to, 0.0)], Ink::Zero, 1.0)?;
        sheet.close_group();
        for Series { title, flagged: flagged_title, look, places } in series(shape) {
            let own = || places.iter().filter_map(|place| shape.points.get(*place));
            let points: Vec<_> = own().filter_map(at).collect();
            sheet.open_group("pass", &title);
            draw_markers(chart, &points, look)?;
            sheet.close_group();
            let flagged: Vec<_> = own().filter(|point| point.outlier).filter_map(at).collect();
            if !flagged.is_empty() {
                sheet.open_group("flagged", &flagged_title);
                draw_markers(chart, &flagged, ring(look))?;
                sheet.close_group();
            }
        }
        sheet.open_group("fit", "Fitted curve");
        draw_line(chart, curve, Ink::Fit, 2.2)?;
        sheet.close_group();
        Ok(())
    })
}

fn pass_rows(shape: &Shape, place: usize, trial: &Trial, pen: Pen) -> Vec<PassRow> {
    let mut looks = looks(shape).into_iter();
    let looked: Vec<(usize, &PassSummary, Option<Look>)> = shape
        .pass_summaries
        .iter()
        .enumerate()
        .map(|(row, pass)| (row, pass, if pass.in_shape { looks.next().map(|(_, look)| look) } else { None }))
        .collect();
    let expanded = shape.expanded.value;
    thinned::passes(looked.len())
        .into_iter()
        .filter_map(|listed| looked.get(listed).copied())
        .map(|(row, pass, look)| {
            let key = |name: &str| on_page(format!("shape.{place}.passes.{row}.{name}"));
            PassRow {
                glyph: look.map(glyph),
                class: look.map_or("", |look| look.ink.class()),
                pass: pass.pass,
                direction: words::direction(pass.direction),
                depth: pen.cut(pass.depth_mm, key("depth")).cell(),
                feed: pen.cut(pass.feed_mm_per_rev, key("feed")).cell(),
                readings: pass.readings,
                level: pen.diameter(pass.level_mm, trial.gauge.diameter.resolution_mm, 1, key("level")).cell(),
                taper: pass.taper_mm.map(|taper| pen.fine(taper, expanded, key("taper")).cell()),
                taper_error: pass.taper_standard_error_mm.map(|error| pen.fine(error, expanded, key("taper_standard_error")).cell()),
            }
        })
        .collect()
}

/// Most rows of the curve's table: the picture has more points than anybody reads.
const CURVE_ROWS: usize = 21;

fn curve_rows(shape: &Shape, place: usize, pen: Pen) -> Vec<CurveRow> {
    let last = shape.curve.len().saturating_sub(1);
    let step = last.div_ceil(CURVE_ROWS - 1).max(1);
    shape
        .curve
        .iter()
        .enumerate()
        .filter(|(row, _)| row % step == 0 || *row == last)
        .map(|(row, point)| {
            let key = |name: &str| on_page(format!("shape.{place}.curve.{row}.{name}"));
            let u = point.band.half_width().max(0.1 * shape.expanded.value);
            CurveRow {
                station: pen.length(point.station_mm, key("station")).cell(),
                deviation: pen.fine(point.deviation_mm, u, key("deviation")).cell(),
                low: pen.fine(point.band.low, u, key("band.0")).cell(),
                high: pen.fine(point.band.high, u, key("band.1")).cell(),
            }
        })
        .collect()
}
