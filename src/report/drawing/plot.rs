//! A picture with two axes.

use super::ink::{Ink, SCALE};
use super::sheet::Sheet;
use super::ticks::{Axis, Marked};
use crate::report::number::fixed;
use plotters::coord::ranged1d::{BoldPoints, Ranged};
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters_backend::text_anchor::{HPos, Pos, VPos};
use std::ops::Range;

/// The plotting library's chart on our sheet.
pub type Chart<'a> = ChartContext<'a, Sheet, Cartesian2d<Marked, RangedCoordf64>>;

/// A picture could not be drawn.
#[derive(Debug, thiserror::Error)]
#[error("a picture could not be drawn: {0}")]
pub struct CannotDraw(String);

impl CannotDraw {
    /// From whatever the plotting library says.
    pub fn from_library(error: impl std::fmt::Display) -> Self {
        Self(error.to_string())
    }
}

/// What a picture is called and what its axes are.
pub struct Plot<'a> {
    /// Unique on the page.
    pub id: &'a str,
    /// Width and height.
    pub size: (u32, u32),
    /// Title, for those who do not see it.
    pub title: String,
    /// What can be seen in it, in words.
    pub description: String,
    /// Range of the horizontal axis.
    pub x: Range<f64>,
    /// Range of the vertical axis.
    pub y: Range<f64>,
    /// What the horizontal axis counts.
    pub axis: Axis,
    /// What the horizontal axis shows.
    pub x_label: String,
    /// What the vertical axis shows.
    pub y_label: String,
}

/// Size of the writing.
const LETTERS: f64 = 12.5;

/// A marker of a series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Marker {
    /// Disc or ring.
    Round,
    /// Square.
    Square,
    /// Triangle on its base.
    Up,
    /// Diamond.
    Diamond,
    /// Triangle on its tip.
    Down,
    /// Star of three strokes, drawn as a hexagon.
    Hexagon,
}

impl Marker {
    /// All, in the order in which series take them.
    pub const ALL: [Self; 6] = [Self::Round, Self::Square, Self::Up, Self::Diamond, Self::Down, Self::Hexagon];

    fn corners(self, radius: f64) -> Vec<(i32, i32)> {
        let polygon = |count: u32, first_deg: f64, radius: f64| {
            (0..count)
                .map(|corner| {
                    let angle = (first_deg + 360.0 * f64::from(corner) / f64::from(count)).to_radians();
                    ((radius * angle.cos()).round() as i32, (-radius * angle.sin()).round() as i32)
                })
                .collect()
        };
        match self {
            Self::Round => Vec::new(),
            Self::Square => polygon(4, 45.0, 1.2 * radius),
            Self::Up => polygon(3, 90.0, 1.35 * radius),
            Self::Diamond => polygon(4, 0.0, 1.35 * radius),
            Self::Down => polygon(3, 270.0, 1.35 * radius),
            Self::Hexagon => polygon(6, 0.0, 1.15 * radius),
        }
    }
}

/// How a series is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// Shape of its markers.
    pub marker: Marker,
    /// Rings and outlines instead of filled markers.
    pub open: bool,
    /// Its ink.
    pub ink: Ink,
    /// Radius, units of the picture.
    pub radius: f64,
    /// How far its markers stand to the right of their place, units of the picture.
    pub aside: f64,
}

/// Draws markers of one series at `points`.
pub fn draw_markers(chart: &mut Chart<'_>, points: &[(f64, f64)], look: Look) -> Result<(), CannotDraw> {
    let radius = look.radius * f64::from(SCALE);
    let aside = (look.aside * f64::from(SCALE)).round() as i32;
    let style = if look.open { look.ink.stroke(1.3) } else { look.ink.fill() };
    if look.marker == Marker::Round {
        let discs = points.iter().map(|point| EmptyElement::at(*point) + Circle::new((aside, 0), radius.round() as i32, style));
        return chart.draw_series(discs).map(|_| ()).map_err(CannotDraw::from_library);
    }
    let mut corners: Vec<_> = look.marker.corners(radius).into_iter().map(|(x, y)| (x + aside, y)).collect();
    if look.open {
        corners.extend(corners.first().copied());
        let outlines = points.iter().map(|point| EmptyElement::at(*point) + PathElement::new(corners.clone(), style));
        chart.draw_series(outlines).map(|_| ()).map_err(CannotDraw::from_library)
    } else {
        let shapes = points.iter().map(|point| EmptyElement::at(*point) + Polygon::new(corners.clone(), style));
        chart.draw_series(shapes).map(|_| ()).map_err(CannotDraw::from_library)
    }
}

/// Draws a line through `points`.
pub fn draw_line(chart: &mut Chart<'_>, points: Vec<(f64, f64)>, ink: Ink, width: f64) -> Result<(), CannotDraw> {
    chart.draw_series(std::iter::once(PathElement::new(points, ink.stroke(width)))).map(|_| ()).map_err(CannotDraw::from_library)
}

/// Fills the area inside `points`.
pub fn draw_area(chart: &mut Chart<'_>, points: Vec<(f64, f64)>, ink: Ink) -> Result<(), CannotDraw> {
    chart.draw_series(std::iter::once(Polygon::new(points, ink.fill()))).map(|_| ()).map_err(CannotDraw::from_library)
}

/// The smallest range that holds `values`, widened by `margin` of itself on both sides; never empty.
#[must_use]
pub fn range_of(values: impl IntoIterator<Item = f64>, margin: f64, least: f64) -> Range<f64> {
    let (low, high) = values
        .into_iter()
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    if low > high {
        return -least..least;
    }
    let width = (high - low).max(least);
    let middle = 0.5 * (low + high);
    (middle - (0.5 + margin) * width)..(middle + (0.5 + margin) * width)
}

impl Plot<'_> {
    /// Draws axes and grid, lets `content` draw inside, and gives back the SVG.
    ///
    /// # Errors
    /// When the plotting library refuses.
    pub fn draw(&self, content: impl FnOnce(&mut Chart<'_>, &Sheet) -> Result<(), CannotDraw>) -> Result<String, CannotDraw> {
        let sheet = Sheet::new(self.size.0, self.size.1);
        let root = sheet.clone().into_drawing_area();
        let letters = ("sans-serif", LETTERS * f64::from(SCALE)).into_font().color(&Ink::Text.colour());
        let (x_count, y_count) = (if self.size.0 > 500 { 8 } else { 4 }, 6);
        let marks = self.axis.labels(&self.x, x_count);
        let mut chart = ChartBuilder::on(&root)
            .margin(8 * SCALE)
            .margin_right(24 * SCALE)
            .x_label_area_size(44 * SCALE)
            .y_label_area_size(64 * SCALE)
            .build_cartesian_2d(Marked::new(&self.x, &marks), self.y.clone())
            .map_err(CannotDraw::from_library)?;
        let y_decimals = tick_decimals(&self.y, y_count);
        sheet.open_group("frame", "Axes");
        chart
            .configure_mesh()
            .max_light_lines(0)
            .bold_line_style(Ink::Grid.stroke(0.6))
            .axis_style(Ink::Axis.stroke(0.9))
            .label_style(letters.clone())
            .axis_desc_style(letters.pos(Pos::new(HPos::Center, VPos::Top)))
            .x_labels(x_count)
            .y_labels(y_count)
            .x_label_formatter(&|value| marks.iter().find(|(place, _)| place == value).map_or_else(String::new, |(_, text)| text.clone()))
            .y_label_formatter(&|value| fixed(*value, y_decimals))
            .set_all_tick_mark_size(4 * SCALE)
            .x_desc(&*self.x_label)
            .y_desc(&*self.y_label)
            .draw()
            .map_err(CannotDraw::from_library)?;
        sheet.close_group();
        content(&mut chart, &sheet)?;
        root.present().map_err(CannotDraw::from_library)?;
        Ok(sheet.finish(self.id, &self.title, &self.description))
    }
}

/// Where the plotting library puts about `count` marks.
pub(super) fn ticks(range: &Range<f64>, count: usize) -> Vec<f64> {
    let axis: RangedCoordf64 = range.clone().into();
    axis.key_points(BoldPoints(count))
}

/// Decimals that every tick of `range` needs.
pub(super) fn tick_decimals(range: &Range<f64>, count: usize) -> usize {
    let ticks = ticks(range, count);
    let tolerance = 1e-4 * (range.end - range.start) / count.max(1) as f64;
    let exact = |decimals: &i32| {
        let scale = 10f64.powi(*decimals);
        ticks.iter().all(|tick| ((tick * scale).round() / scale - tick).abs() <= tolerance)
    };
    (0..8).find(exact).and_then(|decimals| usize::try_from(decimals).ok()).unwrap_or(8)
}
