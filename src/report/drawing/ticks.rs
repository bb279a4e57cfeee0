//! Where an axis has its marks and what is written at them.

use super::plot::{tick_decimals, ticks};
use crate::history::year_of;
use crate::report::number::fixed;
use jiff::civil::Date;
use plotters::coord::ranged1d::{DefaultFormatting, KeyPointHint, Ranged};
use plotters::coord::types::RangedCoordf64;
use std::ops::Range;

/// Months between marks of an axis of dates.
const STEPS: [i32; 13] = [1, 2, 3, 6, 12, 24, 60, 120, 300, 600, 1_200, 6_000, 60_000];

/// What an axis counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axis {
    /// Numbers.
    Numbers,
    /// Days, as years with their fractions.
    Dates,
}

impl Axis {
    /// Places of the marks of `range`, at most `count` of dates, and the writing at each.
    pub(super) fn labels(self, range: &Range<f64>, count: usize) -> Vec<(f64, String)> {
        if self == Self::Dates {
            return dates(range, count);
        }
        let decimals = tick_decimals(range, count);
        ticks(range, count).into_iter().map(|place| (place, fixed(place, decimals))).collect()
    }
}

/// An axis with marks of its own.
pub struct Marked {
    axis: RangedCoordf64,
    places: Vec<f64>,
}

impl Marked {
    pub(super) fn new(range: &Range<f64>, marks: &[(f64, String)]) -> Self {
        Self { axis: range.clone().into(), places: marks.iter().map(|(place, _)| *place).collect() }
    }
}

impl Ranged for Marked {
    type FormatOption = DefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, limit: (i32, i32)) -> i32 {
        self.axis.map(value, limit)
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        if hint.weight().allow_light_points() { Vec::new() } else { self.places.clone() }
    }

    fn range(&self) -> Range<f64> {
        self.axis.range()
    }
}

/// First days of months within `range`, years: written as `2024-07`, or `2024` where every mark is a January.
fn dates(range: &Range<f64>, count: usize) -> Vec<(f64, String)> {
    let months_of = |year: f64| (12.0 * year.clamp(-9_999.0, 9_999.0)) as i32;
    let within = |step: i32| {
        let first = months_of(range.start).div_euclid(step) * step;
        (0..=(months_of(range.end) - first) / step)
            .filter_map(|index| month(first + index * step))
            .map(|first_day| (year_of(first_day), first_day))
            .filter(|(year, _)| range.contains(year))
            .collect::<Vec<_>>()
    };
    let step = STEPS.into_iter().find(|step| within(*step).len() <= count).unwrap_or(60_000);
    let written = |day: Date| if step % 12 == 0 { format!("{:04}", day.year()) } else { format!("{:04}-{:02}", day.year(), day.month()) };
    within(step).into_iter().map(|(year, day)| (year, written(day))).collect()
}

/// The first day of the month that is `months` after January of year 0.
fn month(months: i32) -> Option<Date> {
    let (year, month) = (months.div_euclid(12), months.rem_euclid(12) + 1);
    Date::new(i16::try_from(year).ok()?, i8::try_from(month).ok()?, 1).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(from: f64, to: f64, count: usize) -> Vec<String> {
        dates(&(from..to), count).into_iter().map(|(_, text)| text).collect()
    }

    #[test]
    fn dates_are_written_as_people_read_them() {
        assert_eq!(written(2023.04, 2026.53, 8), ["2023-07", "2024-01", "2024-07", "2025-01", "2025-07", "2026-01", "2026-07"]);
        assert_eq!(written(2023.04, 2026.53, 4), ["2024", "2025", "2026"]);
        assert_eq!(written(2025.9, 2026.4, 8), ["2025-12", "2026-01", "2026-02", "2026-03", "2026-04", "2026-05"]);
        assert_eq!(written(1990.5, 2026.5, 8), ["1995", "2000", "2005", "2010", "2015", "2020", "2025"]);
        assert!(written(f64::MIN, f64::MAX, 8).len() <= 8);
    }

    #[test]
    fn a_mark_stands_at_the_first_day_of_its_month() {
        let marks = dates(&(2023.9..2024.6), 8);
        let at = |text: &str| marks.iter().find(|(_, written)| written == text).map(|(place, _)| *place);
        // 2024 is a leap year: 31 + 29 days before March
        assert_eq!(at("2024-03"), Some(2024.0 + 60.0 / 366.0));
        assert_eq!(at("2024-01"), Some(2024.0));
    }
}
