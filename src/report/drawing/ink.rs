//! What is drawn with: each ink is a class of the page's style sheet, which alone decides colour and dash.

use plotters::style::{Color, RGBColor, ShapeStyle};
use plotters_backend::BackendColor;

/// Units of the drawing backend in one unit of the picture: whole numbers this fine leave curves smooth.
pub const SCALE: i32 = 20;

/// Number of inks for series.
pub const SERIES: u8 = 6;

/// A class of strokes, fills or text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Axes and their ticks.
    Axis,
    /// Grid.
    Grid,
    /// Writing.
    Text,
    /// The fitted curve.
    Fit,
    /// Area of a band.
    Band,
    /// Edge of a band.
    BandEdge,
    /// The line at nought.
    Zero,
    /// A guide such as two standard deviations.
    Guide,
    /// Mark of a flagged reading.
    Flag,
    /// A bar of a bar picture.
    Bar,
    /// The bar of the total.
    Total,
    /// The paper itself, inside open marks that cover a line.
    Paper,
    /// A series of readings, by its number below [`SERIES`].
    Series(u8),
}

const PLAIN: [(Ink, &str); 12] = [
    (Ink::Axis, "ink-axis"),
    (Ink::Grid, "ink-grid"),
    (Ink::Text, "ink-text"),
    (Ink::Fit, "ink-fit"),
    (Ink::Band, "ink-band"),
    (Ink::BandEdge, "ink-band-edge"),
    (Ink::Zero, "ink-zero"),
    (Ink::Guide, "ink-guide"),
    (Ink::Flag, "ink-flag"),
    (Ink::Bar, "ink-bar"),
    (Ink::Total, "ink-total"),
    (Ink::Paper, "ink-paper"),
];
const SERIES_CLASSES: [&str; SERIES as usize] = ["ink-s0", "ink-s1", "ink-s2", "ink-s3", "ink-s4", "ink-s5"];
const SERIES_BASE: u8 = 100;

impl Ink {
    /// The colour that stands for this ink inside the plotting library.
    #[must_use]
    pub fn colour(self) -> RGBColor {
        let code = match self {
            Self::Series(number) => SERIES_BASE + number % SERIES,
            other => PLAIN.iter().position(|(ink, _)| *ink == other).and_then(|place| u8::try_from(place).ok()).unwrap_or(0),
        };
        RGBColor(code, 0, 0)
    }

    /// A stroke of `width` units of the picture.
    #[must_use]
    pub fn stroke(self, width: f64) -> ShapeStyle {
        ShapeStyle { color: self.colour().into(), filled: false, stroke_width: (width * f64::from(SCALE)).round() as u32 }
    }

    /// A fill.
    #[must_use]
    pub fn fill(self) -> ShapeStyle {
        ShapeStyle { color: self.colour().into(), filled: true, stroke_width: 0 }
    }

    /// Its class.
    #[must_use]
    pub fn class(self) -> &'static str {
        Self::class_of(BackendColor { alpha: 1.0, rgb: self.colour().rgb() })
    }

    /// The class that a colour of the plotting library stands for.
    #[must_use]
    pub fn class_of(colour: BackendColor) -> &'static str {
        let code = colour.rgb.0;
        let class = if code >= SERIES_BASE {
            SERIES_CLASSES.get(usize::from(code - SERIES_BASE)).copied()
        } else {
            PLAIN.get(usize::from(code)).map(|(_, class)| *class)
        };
        class.unwrap_or("ink-axis")
    }
}
