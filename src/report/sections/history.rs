//! The settings so far: taper with interval against setting, and the moves between.

use crate::analysis::Analysis;
use crate::correction::Correction;
use crate::physics::moves::raise_mm;
use crate::quantities::Interval;
use crate::report::drawing::{Axis, CannotDraw, Ink, Look, Marker, Plot, draw_area, draw_line, draw_markers, range_of};
use crate::report::quantity::{Key, Pen, in_result, on_page};
use crate::shape::Shape;
use crate::trial::Direction;
use minijinja::Value;
use serde::Serialize;

/// Picture and table.
#[derive(Serialize)]
pub struct History {
    svg: Value,
    rows: Vec<Row>,
    unit: &'static str,
}

#[derive(Serialize)]
struct Row {
    setting: u32,
    moved: Vec<Value>,
    taper: Value,
    low: Value,
    high: Value,
}

/// The taper that limits judge, with its interval and where the result file keeps it.
fn judged(shape: &Shape, place: usize) -> (f64, Interval, String) {
    match shape.by_direction.iter().position(|d| d.direction == Direction::ToHeadstock) {
        Some(row) => (shape.by_direction[row].value, shape.by_direction[row].interval95, format!("shape.{place}.by_direction.{row}")),
        None => (shape.taper.value, shape.taper.interval95, format!("shape.{place}.taper")),
    }
}

/// The history; `None` with one setting.
pub fn history(analysis: &Analysis, correction: &Correction, pen: Pen) -> Result<Option<History>, CannotDraw> {
    if analysis.shape.len() < 2 {
        return Ok(None);
    }
    let judged: Vec<(u32, f64, Interval, String)> = analysis
        .shape
        .iter()
        .enumerate()
        .map(|(place, shape)| {
            let (value, interval, path) = judged(shape, place);
            (shape.setting, value, interval, path)
        })
        .collect();
    let rows = judged
        .iter()
        .map(|(setting, value, interval, path)| {
            let half = interval.half_width();
            let cell = |value: f64, key: Key| pen.difference(value, half, key).cell();
            Row {
                setting: *setting,
                moved: moved(analysis, *setting, pen),
                taper: cell(*value, in_result(format!("{path}.value"))),
                low: cell(interval.low, in_result(format!("{path}.interval95.0"))),
                high: cell(interval.high, in_result(format!("{path}.interval95.1"))),
            }
        })
        .collect();
    let svg = Value::from_safe_string(picture(&judged, correction, pen)?);
    Ok(Some(History { svg, rows, unit: pen.units.difference().symbol }))
}

/// The moves that led to a setting.
fn moved(analysis: &Analysis, setting: u32, pen: Pen) -> Vec<Value> {
    let feet = analysis.trial.machine.feet.as_ref();
    let into = analysis.trial.moves.iter().enumerate().filter(|(_, logged)| logged.to_setting == setting);
    into.map(|(row, logged)| {
        let begin = crate::report::prose::Prose::new(format!("from setting {}: {}", logged.from_setting, logged.foot.words()));
        match raise_mm(logged, feet) {
            Some(raise) => begin
                .text(if raise < 0.0 { " down " } else { " up " })
                .number(pen.size(raise, 0.004, on_page(format!("moves.{row}.raise_mm"))))
                .html(),
            None => begin.text(", by an unknown amount").html(),
        }
    })
    .collect()
}

fn picture(judged: &[(u32, f64, Interval, String)], correction: &Correction, pen: Pen) -> Result<String, CannotDraw> {
    let unit = pen.units.difference();
    let shown = |value_mm: f64| value_mm / unit.mm;
    let (low, high) = (shown(correction.window.low_mm), shown(correction.window.high_mm));
    let first = judged.first().map_or(0.0, |each| f64::from(each.0)) - 0.5;
    let last = judged.last().map_or(1.0, |each| f64::from(each.0)) + 0.5;
    let ends = judged.iter().flat_map(|each| [shown(each.2.low), shown(each.2.high)]).chain([low, high]);
    let plot = Plot {
        id: "history",
        // Whole settings get the ticks: few of them want a narrow picture.
        size: (if judged.len() < 5 { 480 } else { 720 }, 300),
        title: "Taper against setting".into(),
        description: "A point for each setting with its 95 % interval; the shaded band is what the limit allows over the latest tested length. The table \
                      below has every value and the moves between."
            .into(),
        x: first..last,
        y: range_of(ends, 0.08, 1e-4),
        axis: Axis::Numbers,
        x_label: "setting of the feet".into(),
        y_label: format!("taper, {}", unit.symbol),
    };
    plot.draw(|chart, sheet| {
        sheet.open_group("limit", "What the limit allows");
        draw_area(chart, vec![(first, low), (last, low), (last, high), (first, high)], Ink::Band)?;
        sheet.close_group();
        draw_line(chart, vec![(first, 0.0), (last, 0.0)], Ink::Zero, 0.9)?;
        draw_line(chart, judged.iter().map(|each| (f64::from(each.0), shown(each.1))).collect(), Ink::Guide, 1.0)?;
        for (setting, value, interval, _) in judged {
            let x = f64::from(*setting);
            sheet.open_group("setting", &format!("Setting {setting}"));
            draw_line(chart, vec![(x, shown(interval.low)), (x, shown(interval.high))], Ink::Fit, 1.6)?;
            let look = Look { marker: Marker::Round, open: false, ink: Ink::Fit, radius: 4.0, aside: 0.0 };
            draw_markers(chart, &[(x, shown(*value))], look)?;
            sheet.close_group();
        }
        Ok(())
    })
}
