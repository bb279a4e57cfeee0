//! What the picture of the causes is drawn with: where things stand, the scale along it, bars, whiskers and marks.

use super::contributions::Row;
use crate::causes::{Balance, Verdict};
use crate::quantities::Interval;
use crate::report::drawing::{CannotDraw, Ink, SCALE, Sheet};
use crate::report::number::decimals_as_written;
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters_backend::text_anchor::{HPos, Pos, VPos};
use std::ops::Range;

/// Where things stand, in units of the picture.
#[derive(Clone, Copy)]
pub(super) struct Layout {
    pub(super) width: i32,
    /// Height of a row and of the foot with sum, measurement and axis.
    pub(super) step: i32,
    pub(super) foot: i32,
    /// Where the axis stands above the lower edge.
    pub(super) axis: i32,
    /// Where names are tied, and on which side.
    pub(super) names: (i32, HPos),
    /// How far a row's name and verdict stand from its bar: beside it, or above it.
    pub(super) name_rise: i32,
    /// The bracket of a group, and how far its hooks reach.
    pub(super) bracket: (i32, i32),
    /// Where the scale begins and ends.
    pub(super) scale: (i32, i32),
    /// Where numbers end.
    pub(super) numbers: i32,
    /// How far bars of the foot stand below their writing.
    pub(super) foot_drop: i32,
    /// Whether there is room for names beside the bars.
    pub(super) broad: bool,
}

/// Names beside the bars: for a desk and for paper.
pub(super) const BROAD: Layout = Layout {
    width: 720,
    step: 34,
    foot: 136,
    axis: 46,
    names: (208, HPos::Right),
    name_rise: 0,
    bracket: (220, -6),
    scale: (238, 632),
    numbers: 708,
    foot_drop: 0,
    broad: true,
};

/// Names above the bars: for a narrow window, in which it is readable without scrolling.
pub(super) const NARROW: Layout = Layout {
    width: 340,
    step: 46,
    foot: 182,
    axis: 60,
    names: (12, HPos::Left),
    name_rise: 17,
    bracket: (4, 5),
    scale: (12, 278),
    numbers: 336,
    foot_drop: 18,
    broad: false,
};

/// A scale from µm to the picture.
pub(super) struct Along {
    pub(super) range: Range<f64>,
    pub(super) scale: (i32, i32),
}

impl Along {
    pub(super) fn of(rows: &[Row], balance: Option<&Balance>, scale: (i32, i32)) -> Self {
        let mut ends = vec![0.0];
        let (mut up, mut down) = (0.0, 0.0);
        for row in rows {
            let (Row::Cause { change, .. } | Row::Together { change, .. }) = row;
            ends.extend([change.interval95.low, change.interval95.high, change.estimate]);
            if matches!(row, Row::Cause { .. }) {
                if change.estimate > 0.0 { up += change.estimate } else { down += change.estimate }
            }
        }
        ends.extend([up, up + down]);
        ends.extend(balance.iter().flat_map(|each| {
            let measured = measured_interval(each);
            [each.sum_um, measured.low, measured.high]
        }));
        let (low, high) = ends
            .into_iter()
            .filter(|end| end.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), end| (low.min(end), high.max(end)));
        let width = (high - low).max(1.0);
        Self { range: (low - 0.03 * width)..(high + 0.03 * width), scale }
    }

    pub(super) fn at(&self, value_um: f64) -> i32 {
        let share = ((value_um - self.range.start) / (self.range.end - self.range.start)).clamp(0.0, 1.0);
        let (from, to) = self.scale;
        from * SCALE + (share * f64::from((to - from) * SCALE)).round() as i32
    }

    /// Whole steps of 1, 2 or 5 times a power of ten in the shown unit, some `count` of them.
    pub(super) fn ticks_um(&self, unit_um: f64, count: f64) -> (Vec<f64>, usize) {
        let rough = (self.range.end - self.range.start) / unit_um / count;
        let power = 10f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|times| times * power).find(|step| *step >= rough).unwrap_or(10.0 * power);
        let (first, last) = ((self.range.start / unit_um / step).ceil() as i64, (self.range.end / unit_um / step).floor() as i64);
        ((first..=last).map(|tick| tick as f64 * step * unit_um).collect(), decimals_as_written(step, 6))
    }
}

/// What was measured with twice the standard uncertainty of its difference from the sum.
pub(super) fn measured_interval(balance: &Balance) -> Interval {
    Interval::about(balance.end_difference_um, 2.0 * balance.standard_uncertainty_um)
}

pub(super) struct Canvas {
    pub(super) sheet: Sheet,
    pub(super) root: DrawingArea<Sheet, Shift>,
    pub(super) along: Along,
    pub(super) layout: Layout,
}

/// Side of a piece of writing, and its size.
#[derive(Clone, Copy)]
pub(super) struct Lettering(pub(super) HPos, pub(super) f64);

impl Canvas {
    pub(super) fn text(&self, text: &str, (x, y): (i32, i32), Lettering(side, size): Lettering) -> Result<(), CannotDraw> {
        let style = ("sans-serif", size * f64::from(SCALE)).into_font().color(&Ink::Text.colour()).pos(Pos::new(side, VPos::Center));
        self.root.draw(&Text::new(text.to_owned(), (x, y), style)).map_err(CannotDraw::from_library)
    }

    pub(super) fn line(&self, points: &[(i32, i32)], ink: Ink, width: f64) -> Result<(), CannotDraw> {
        self.root.draw(&PathElement::new(points.to_vec(), ink.stroke(width))).map_err(CannotDraw::from_library)
    }

    pub(super) fn bar(&self, from_um: f64, to_um: f64, (top, bottom): (i32, i32), ink: Ink, filled: bool) -> Result<(), CannotDraw> {
        let (left, right) = (self.along.at(from_um.min(to_um)), self.along.at(from_um.max(to_um)));
        let style = if filled { ink.fill() } else { ink.stroke(1.2) };
        self.root.draw(&Rectangle::new([(left, top), (right, bottom)], style)).map_err(CannotDraw::from_library)
    }

    /// An interval with end strokes.
    pub(super) fn whisker(&self, interval: Interval, y: i32) -> Result<(), CannotDraw> {
        let (left, right, end) = (self.along.at(interval.low), self.along.at(interval.high), 5 * SCALE);
        self.line(&[(left, y), (right, y)], Ink::Fit, 1.6)?;
        self.line(&[(left, y - end), (left, y + end)], Ink::Fit, 1.6)?;
        self.line(&[(right, y - end), (right, y + end)], Ink::Fit, 1.6)
    }

    /// The mark of a verdict: filled disc, ring or open square.
    pub(super) fn mark(&self, value_um: f64, y: i32, verdict: Verdict) -> Result<(), CannotDraw> {
        let (x, radius) = (self.along.at(value_um), 5 * SCALE);
        match verdict {
            Verdict::Present => self.root.draw(&Circle::new((x, y), radius, Ink::Fit.fill())),
            Verdict::Absent | Verdict::NotApplicable => {
                let corners = [(x - radius, y - radius), (x + radius, y + radius)];
                self.root.draw(&Rectangle::new(corners, Ink::Paper.fill())).map_err(CannotDraw::from_library)?;
                self.root.draw(&Rectangle::new(corners, Ink::Fit.stroke(1.6)))
            }
            Verdict::NotSettled => {
                self.root.draw(&Circle::new((x, y), radius, Ink::Paper.fill())).map_err(CannotDraw::from_library)?;
                self.root.draw(&Circle::new((x, y), radius, Ink::Fit.stroke(1.6)))
            }
        }
        .map_err(CannotDraw::from_library)
    }

    pub(super) fn diamond(&self, value_um: f64, y: i32, filled: bool) -> Result<(), CannotDraw> {
        let (x, radius) = (self.along.at(value_um), 7 * SCALE);
        let corners = vec![(x - radius, y), (x, y - radius), (x + radius, y), (x, y + radius)];
        let inside = if filled { Ink::Fit.fill() } else { Ink::Paper.fill() };
        self.root.draw(&Polygon::new(corners.clone(), inside)).map_err(CannotDraw::from_library)?;
        let outline: Vec<_> = corners.iter().copied().chain(corners.first().copied()).collect();
        self.line(&outline, Ink::Fit, 1.6)
    }
}
