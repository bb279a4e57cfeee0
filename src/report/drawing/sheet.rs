//! The sheet that pictures are drawn on: a drawing backend that writes SVG of our own.
//!
//! Coordinates come in whole numbers, [`SCALE`] times finer than the picture, and are divided when they are written. Strokes and fills
//! of one ink that follow each other become one path. Writing is real text. Nothing is drawn pixel by pixel.

use super::ink::{Ink, SCALE};
use crate::report::quantity::escape_into;
use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind, FontTransform};
use std::cell::RefCell;
use std::convert::Infallible;
use std::fmt::Write as _;
use std::rc::Rc;

type Drawn = Result<(), DrawingErrorKind<Infallible>>;

/// Average width of a letter in a sans-serif type, as a share of its size (common practice, no source).
const LETTER_WIDTH: f64 = 0.55;

/// What has been drawn so far. Clones share one sheet, so that groups can be opened while the plotting library holds another.
#[derive(Clone)]
pub struct Sheet {
    ink: Rc<RefCell<Wet>>,
    size: (u32, u32),
}

struct Wet {
    out: String,
    path: String,
    class: &'static str,
    filled: bool,
    width: u32,
}

impl Sheet {
    /// An empty sheet of `width` by `height` units of the picture.
    #[must_use]
    pub fn new(width: u32, height: u32) -> Self {
        let wet = Wet { out: String::with_capacity(16 * 1024), path: String::new(), class: "", filled: false, width: 0 };
        Self { ink: Rc::new(RefCell::new(wet)), size: (width, height) }
    }

    /// Opens a group of class `class` whose title readers and pointing devices show.
    pub fn open_group(&self, class: &str, title: &str) {
        let wet = &mut *self.ink.borrow_mut();
        wet.flush();
        wet.out.push_str("<g class=\"");
        escape_into(&mut wet.out, class);
        wet.out.push_str("\"><title>");
        escape_into(&mut wet.out, title);
        wet.out.push_str("</title>");
    }

    /// Closes the group.
    pub fn close_group(&self) {
        let wet = &mut *self.ink.borrow_mut();
        wet.flush();
        wet.out.push_str("</g>");
    }

    /// The finished picture with its title and description; `id` must be unique on the page.
    #[must_use]
    pub fn finish(&self, id: &str, title: &str, description: &str) -> String {
        let wet = &mut *self.ink.borrow_mut();
        wet.flush();
        let (width, height) = self.size;
        let mut svg = String::with_capacity(wet.out.len() + 400);
        let _ = write!(
            svg,
            "<svg viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" role=\"img\" aria-labelledby=\"{id}-title {id}-desc\"><title id=\"{id}-title\">"
        );
        escape_into(&mut svg, title);
        let _ = write!(svg, "</title><desc id=\"{id}-desc\">");
        escape_into(&mut svg, description);
        svg.push_str("</desc>");
        svg.push_str(&wet.out);
        svg.push_str("</svg>");
        svg
    }

    fn add(&self, class: &'static str, filled: bool, width: u32, steps: impl FnOnce(&mut String)) {
        let wet = &mut *self.ink.borrow_mut();
        if !wet.path.is_empty() && (wet.class != class || wet.filled != filled || wet.width != width) {
            wet.flush();
        }
        (wet.class, wet.filled, wet.width) = (class, filled, width);
        steps(&mut wet.path);
    }

    fn add_lines(&self, points: impl IntoIterator<Item = BackendCoord>, class: &'static str, filled: bool, width: u32, close: bool) {
        self.add(class, filled, width, |path| {
            for (place, point) in points.into_iter().enumerate() {
                path.push(if place == 0 { 'M' } else { 'L' });
                write_point(path, point);
            }
            if close {
                path.push('Z');
            }
        });
    }
}

impl Wet {
    fn flush(&mut self) {
        if self.path.is_empty() {
            return;
        }
        let _ = write!(self.out, "<path class=\"{} {}\"", self.class, if self.filled { "fill" } else { "line" });
        if !self.filled {
            self.out.push_str(" stroke-width=\"");
            write_scaled(&mut self.out, i64::from(self.width));
            self.out.push('"');
        }
        self.out.push_str(" d=\"");
        self.out.push_str(&self.path);
        self.out.push_str("\"/>");
        self.path.clear();
    }
}

/// Writes `value / SCALE`, which has at most two decimals.
fn write_scaled(out: &mut String, value: i64) {
    let hundredths = value * 100 / i64::from(SCALE);
    if hundredths < 0 {
        out.push('-');
    }
    let size = hundredths.unsigned_abs();
    let _ = match size % 100 {
        0 => write!(out, "{}", size / 100),
        rest if rest % 10 == 0 => write!(out, "{}.{}", size / 100, rest / 10),
        rest => write!(out, "{}.{rest:02}", size / 100),
    };
}

fn write_point(out: &mut String, (x, y): BackendCoord) {
    write_scaled(out, i64::from(x));
    out.push(' ');
    write_scaled(out, i64::from(y));
}

impl DrawingBackend for Sheet {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        (self.size.0 * SCALE.unsigned_abs(), self.size.1 * SCALE.unsigned_abs())
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, (x, y): BackendCoord, colour: BackendColor) -> Drawn {
        let side = SCALE;
        self.draw_rect((x, y), (x + side, y + side), &colour, true)
    }

    fn draw_line<S: BackendStyle>(&mut self, from: BackendCoord, to: BackendCoord, style: &S) -> Drawn {
        self.draw_path([from, to], style)
    }

    fn draw_rect<S: BackendStyle>(&mut self, (left, top): BackendCoord, (right, bottom): BackendCoord, style: &S, fill: bool) -> Drawn {
        let corners = [(left, top), (right, top), (right, bottom), (left, bottom)];
        self.add_lines(corners, Ink::class_of(style.color()), fill, style.stroke_width(), true);
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, path: I, style: &S) -> Drawn {
        self.add_lines(path, Ink::class_of(style.color()), false, style.stroke_width(), false);
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(&mut self, (x, y): BackendCoord, radius: u32, style: &S, fill: bool) -> Drawn {
        let radius = i32::try_from(radius).unwrap_or(i32::MAX / 4);
        self.add(Ink::class_of(style.color()), fill, style.stroke_width(), |path| {
            path.push('M');
            write_point(path, (x - radius, y));
            for end in [2 * radius, -2 * radius] {
                path.push('a');
                write_point(path, (radius, radius));
                path.push_str(" 0 1 0 ");
                write_point(path, (end, 0));
            }
            path.push('Z');
        });
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, corners: I, style: &S) -> Drawn {
        self.add_lines(corners, Ink::class_of(style.color()), true, 0, true);
        Ok(())
    }

    fn draw_text<T: BackendTextStyle>(&mut self, text: &str, style: &T, position: BackendCoord) -> Drawn {
        let size = style.size();
        let anchor = style.anchor();
        let along = match anchor.h_pos {
            HPos::Left => "start",
            HPos::Center => "middle",
            HPos::Right => "end",
        };
        let down = match anchor.v_pos {
            VPos::Top => 0.8 * size,
            VPos::Center => 0.35 * size,
            VPos::Bottom => -0.2 * size,
        };
        let wet = &mut *self.ink.borrow_mut();
        wet.flush();
        let _ = write!(wet.out, "<text class=\"{}\" text-anchor=\"{along}\" font-size=\"", Ink::class_of(style.color()));
        write_scaled(&mut wet.out, size.round() as i64);
        let turn = match style.transform() {
            FontTransform::None => 0,
            FontTransform::Rotate90 => 90,
            FontTransform::Rotate180 => 180,
            FontTransform::Rotate270 => 270,
        };
        wet.out.push_str("\" transform=\"translate(");
        write_point(&mut wet.out, position);
        wet.out.push(')');
        if turn != 0 {
            let _ = write!(wet.out, " rotate({turn})");
        }
        wet.out.push_str("\" dy=\"");
        write_scaled(&mut wet.out, down.round() as i64);
        wet.out.push_str("\">");
        escape_into(&mut wet.out, text);
        wet.out.push_str("</text>");
        Ok(())
    }

    fn estimate_text_size<T: BackendTextStyle>(&self, text: &str, style: &T) -> Result<(u32, u32), DrawingErrorKind<Self::ErrorType>> {
        let width = text.chars().count() as f64 * LETTER_WIDTH * style.size();
        Ok((width.round() as u32, style.size().round() as u32))
    }

    fn blit_bitmap(&mut self, _position: BackendCoord, _size: (u32, u32), _pixels: &[u8]) -> Drawn {
        Ok(())
    }
}
