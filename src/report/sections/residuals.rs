//! Residuals against station, cutting order, fitted value and normal quantiles.

use super::diameters::{Series, held_from, ring, series};
use crate::report::drawing::{Axis, CannotDraw, Ink, Look, Plot, draw_line, draw_markers, range_of};
use crate::report::quantity::{Pen, in_result, on_page};
use crate::report::{thinned, words};
use crate::shape::{FittedReading, Shape};
use crate::statistics::distributions::normal_quantile;
use crate::trial::Trial;
use minijinja::Value;
use serde::Serialize;

/// Residuals below this are rounding in the last figures of the fit, mm.
const NEGLIGIBLE_MM: f64 = 1e-9;

/// Least width of a horizontal axis, in its own unit: equal fitted diameters need some room.
const LEAST_WIDTH: f64 = 0.01;

/// The four pictures of one setting and their common table.
#[derive(Serialize)]
pub struct Residuals {
    setting: u32,
    pictures: Vec<Picture>,
    rows: Vec<Row>,
    repeatability: Value,
    none_left: bool,
    /// What is left out of a long log.
    thinned: Option<String>,
    /// Whether residuals follow a slope for each pass.
    slope_by_pass: bool,
    fine_unit: &'static str,
    length_unit: &'static str,
}

#[derive(Serialize)]
struct Picture {
    svg: Value,
    caption: &'static str,
    look_for: &'static str,
}

/// One reading in the fit: plain text, because a long log has many.
#[derive(Serialize)]
struct Row {
    order: usize,
    pass: u32,
    direction: &'static str,
    station: String,
    diameter: String,
    fitted: String,
    residual: String,
    studentised: String,
    leverage: String,
    cook: String,
    quantile: String,
    flagged: bool,
}

/// Normal quantile that belongs to a reading's residual: `Φ⁻¹((rank − 3/8)/(n + 1/4))`, Blom (1958) plotting positions among all readings of the fit.
fn normal_position(point: &FittedReading, readings: usize) -> Option<f64> {
    normal_quantile((point.rank as f64 - 0.375) / (readings as f64 + 0.25))
}

/// The residuals of `shape`, entry `place` of the result's list.
pub fn residuals(shape: &Shape, place: usize, trial: &Trial, pen: Pen) -> Result<Residuals, CannotDraw> {
    let quantiles: Vec<Option<f64>> = shape.points.iter().map(|point| normal_position(point, shape.readings)).collect();
    let (length, fine) = (pen.units.length(), pen.units.fine());
    let against = |id: &str, what: &str, label: String, across: &dyn Fn(usize, &FittedReading) -> Option<f64>| {
        let canvas = Canvas { shape, place, pen, id, what, label, along_normal_line: id == "quantiles" };
        canvas.draw(across).map(Value::from_safe_string)
    };
    let pictures = vec![
        Picture {
            svg: against("station", "station", format!("station from {}, {}", held_from(trial), length.symbol), &|_, point| {
                Some(point.station_mm / length.mm)
            })?,
            caption: "Against station",
            look_for: "A bow or a wave means that the fitted curve is too simple.",
        },
        Picture {
            svg: against("order", "cutting order", "cutting order".into(), &|_, point| Some(point.cutting_order as f64))?,
            caption: "Against cutting order",
            look_for: "A slope or slow swing means that something drifted while the bar was cut or measured.",
        },
        Picture {
            svg: against("fitted", "fitted diameter", format!("fitted diameter, {}", length.symbol), &|_, point| {
                Some(point.fitted_mm / length.mm)
            })?,
            caption: "Against fitted diameter",
            look_for: "A funnel means that the scatter depends on the size.",
        },
        Picture {
            svg: against("quantiles", "normal quantile", "normal quantile".into(), &|row, _| quantiles.get(row).copied().flatten())?,
            caption: "Against normal quantiles",
            look_for: "Bell-shaped scatter lies along the line; single readings far off it at the ends are stray.",
        },
    ];
    Ok(Residuals {
        setting: shape.setting,
        pictures,
        rows: rows(shape, &quantiles, trial, pen),
        repeatability: pen.fine(shape.repeatability, shape.repeatability, in_result(format!("shape.{place}.repeatability"))).html(),
        slope_by_pass: shape.slope_by_pass,
        thinned: thinned::of_points(shape),
        none_left: shape.points.iter().all(|point| point.residual_mm.abs() < NEGLIGIBLE_MM),
        fine_unit: fine.symbol,
        length_unit: length.symbol,
    })
}

struct Canvas<'a> {
    shape: &'a Shape,
    place: usize,
    pen: Pen,
    id: &'a str,
    what: &'a str,
    label: String,
    along_normal_line: bool,
}

impl Canvas<'_> {
    fn draw(&self, across: &dyn Fn(usize, &FittedReading) -> Option<f64>) -> Result<String, CannotDraw> {
        let shape = self.shape;
        let fine = self.pen.units.fine();
        let spread = shape.repeatability / fine.mm;
        let points: Vec<(usize, f64, f64)> = shape
            .points
            .iter()
            .enumerate()
            .filter_map(|(row, point)| across(row, point).map(|x| (row, x, point.residual_mm / fine.mm)))
            .collect();
        let plot = Plot {
            id: &format!("residuals-{}-{}", self.id, self.place),
            size: (400, 300),
            title: format!("Residuals against {}, setting {}", self.what, shape.setting),
            description: self.describe(&points),
            x: range_of(points.iter().map(|point| point.1), 0.05, LEAST_WIDTH),
            y: range_of(points.iter().map(|point| point.2).chain([2.2 * spread, -2.2 * spread]), 0.06, 2e-3 / fine.mm),
            axis: Axis::Numbers,
            x_label: self.label.clone(),
            y_label: format!("residual, {}", fine.symbol),
        };
        plot.draw(|chart, sheet| {
            let (from, to) = (plot.x.start, plot.x.end);
            sheet.open_group("zero", "No residual");
            draw_line(chart, vec![(from, 0.0), (to, 0.0)], Ink::Zero, 1.0)?;
            sheet.close_group();
            if self.along_normal_line {
                sheet.open_group("guide", "Normal scatter with the repeatability as standard deviation");
                let reach = from.abs().min(to.abs());
                draw_line(chart, vec![(-reach, -reach * spread), (reach, reach * spread)], Ink::Guide, 1.2)?;
                sheet.close_group();
            } else if spread > 0.0 {
                sheet.open_group("guide", "Twice the repeatability either way");
                for height in [2.0 * spread, -2.0 * spread] {
                    draw_line(chart, vec![(from, height), (to, height)], Ink::Guide, 1.0)?;
                }
                sheet.close_group();
            }
            for Series { title, flagged: flagged_title, look, places: of_pass } in series(shape) {
                let own: Vec<_> = points.iter().filter(|point| of_pass.contains(&point.0)).map(|point| (point.1, point.2)).collect();
                sheet.open_group("pass", &title);
                let look = Look { radius: 0.8 * look.radius, aside: if self.id == "station" { look.aside } else { 0.0 }, ..look };
                draw_markers(chart, &own, look)?;
                sheet.close_group();
                let flagged = |row: usize| of_pass.contains(&row) && shape.points.get(row).is_some_and(|point| point.outlier);
                let marked: Vec<_> = points.iter().filter(|point| flagged(point.0)).map(|point| (point.1, point.2)).collect();
                if !marked.is_empty() {
                    sheet.open_group("flagged", &flagged_title);
                    draw_markers(chart, &marked, ring(look))?;
                    sheet.close_group();
                }
            }
            Ok(())
        })
    }

    fn describe(&self, points: &[(usize, f64, f64)]) -> String {
        let fine = self.pen.units.fine();
        let largest = points.iter().max_by(|a, b| a.2.abs().total_cmp(&b.2.abs()));
        let extreme = largest.map_or_else(String::new, |point| {
            let reading = self.shape.points.get(point.0);
            let station = reading.map_or_else(String::new, |reading| self.pen.length(reading.station_mm, on_page("station")).plain());
            format!(" The largest is {}\u{202f}{} at station {station}.", crate::report::fixed(point.2, 2), fine.symbol)
        });
        let of = if points.len() < self.shape.readings {
            format!(" of {}", crate::quantities::grouped(self.shape.readings))
        } else {
            String::new()
        };
        format!("{}{of} residuals against {}.{extreme} Every value is in the table below the pictures.", points.len(), self.what)
    }
}

fn rows(shape: &Shape, quantiles: &[Option<f64>], trial: &Trial, pen: Pen) -> Vec<Row> {
    let (length, fine) = (pen.units.length(), pen.units.fine());
    let resolution = trial.gauge.diameter.resolution_mm;
    let decimals = pen.diameter_decimals(resolution);
    let fine_decimals = crate::report::decimals_for_uncertainty(shape.repeatability.max(0.1 * resolution) / fine.mm) + 1;
    let optional = |value: Option<f64>, decimals: usize| value.map_or_else(|| "–".into(), |value| crate::report::fixed(value, decimals));
    // Three decimals, more where a long log makes all of them small.
    let small = |largest: f64| crate::report::decimals_for_figures(largest, 2).clamp(3, 9);
    let leverage_decimals = small(shape.points.iter().map(|point| point.leverage).fold(0.0, f64::max));
    let cook_decimals = small(shape.points.iter().filter_map(|point| point.cook).fold(0.0, f64::max));
    shape
        .points
        .iter()
        .enumerate()
        .map(|(row, point)| Row {
            order: point.cutting_order,
            pass: point.pass,
            direction: words::direction(point.direction),
            station: pen.length(point.station_mm, on_page("station")).number_text(),
            diameter: crate::report::fixed(point.diameter_mm / length.mm, decimals),
            fitted: crate::report::fixed(point.fitted_mm / length.mm, decimals + 1),
            residual: crate::report::fixed(point.residual_mm / fine.mm, fine_decimals),
            studentised: optional(point.studentised, 2),
            leverage: crate::report::fixed(point.leverage, leverage_decimals),
            cook: optional(point.cook, cook_decimals),
            quantile: optional(quantiles.get(row).copied().flatten(), 2),
            flagged: point.outlier,
        })
        .collect()
}
