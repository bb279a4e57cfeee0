//! Pictures: SVG drawn by the plotting library on a sheet of our own.

mod canvas;
mod ink;
mod plot;
mod sheet;
mod ticks;

pub use canvas::{Canvas, Side};
pub use ink::{Ink, SCALE, SERIES};
pub use plot::{CannotDraw, Chart, Look, Marker, Plot, draw_area, draw_line, draw_markers, range_of};
pub use sheet::Sheet;
pub use ticks::Axis;
