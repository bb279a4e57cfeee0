use super::ink::{Ink, SCALE};
use super::sheet::Sheet;
use plotters::style::IntoFont;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters_backend::DrawingBackend;

/// A drawing without axes: lines, areas, arrows and writing, in units of the picture, `y` downwards.
pub struct Canvas {
    sheet: Sheet,
    letters: f64,
}

/// Where writing stands against its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The point is at its left end.
    Right,
    /// The point is at its middle.
    Middle,
    /// The point is at its right end.
    Left,
}

fn at((x, y): (f64, f64)) -> (i32, i32) {
    let scaled = |value: f64| (value * f64::from(SCALE)).round() as i32;
    (scaled(x), scaled(y))
}

impl Canvas {
    /// An empty drawing of `width` by `height` with writing of size `letters`.
    #[must_use]
    pub fn new(width: u32, height: u32, letters: f64) -> Self {
        Self { sheet: Sheet::new(width, height), letters }
    }

    /// A line through `points`. Drawing on a sheet cannot fail.
    pub fn line(&mut self, points: &[(f64, f64)], ink: Ink, width: f64) -> &mut Self {
        let _ = self.sheet.draw_path(points.iter().map(|point| at(*point)), &ink.stroke(width));
        self
    }

    /// A filled area.
    pub fn area(&mut self, corners: &[(f64, f64)], ink: Ink) -> &mut Self {
        let _ = self.sheet.fill_polygon(corners.iter().map(|point| at(*point)), &ink.fill());
        self
    }

    /// A rectangle between two corners, filled with the tint of a band and outlined.
    pub fn block(&mut self, from: (f64, f64), to: (f64, f64)) -> &mut Self {
        let corners = [from, (to.0, from.1), to, (from.0, to.1), from];
        self.area(&corners[..4], Ink::Band).line(&corners, Ink::Fit, 1.2)
    }

    /// A circle.
    pub fn circle(&mut self, centre: (f64, f64), radius: f64, ink: Ink) -> &mut Self {
        let _ = self.sheet.draw_circle(at(centre), (radius * f64::from(SCALE)).round() as u32, &ink.stroke(1.2), false);
        self
    }

    /// An arrow whose head is at `to`.
    pub fn arrow(&mut self, from: (f64, f64), to: (f64, f64), ink: Ink) -> &mut Self {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy).max(1e-9);
        let (ux, uy) = (dx / length, dy / length);
        let (head, half) = (9.0, 3.6);
        let neck = (to.0 - head * ux, to.1 - head * uy);
        self.line(&[from, neck], ink, 1.4);
        self.area(&[to, (neck.0 - half * uy, neck.1 + half * ux), (neck.0 + half * uy, neck.1 - half * ux)], ink)
    }

    /// Writing beside `point`, centred on it in height.
    pub fn write(&mut self, point: (f64, f64), side: Side, text: &str) -> &mut Self {
        let across = match side {
            Side::Right => HPos::Left,
            Side::Middle => HPos::Center,
            Side::Left => HPos::Right,
        };
        let style = ("sans-serif", self.letters * f64::from(SCALE)).into_font().color(&Ink::Text.colour());
        let style = style.pos(Pos::new(across, VPos::Center));
        let _ = self.sheet.draw_text(text, &style, at(point));
        self
    }

    /// The finished picture; `id` must be unique on the page.
    #[must_use]
    pub fn finish(&self, id: &str, title: &str, description: &str) -> String {
        self.sheet.finish(id, title, description)
    }
}
