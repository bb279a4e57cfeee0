//! The pictures of the history: values against the year, with their intervals.

use super::super::drawing::{Axis, CannotDraw, Chart, Ink, Look, Marker, Plot, Sheet, draw_area, draw_line, draw_markers, range_of};
use crate::causes::CauseKind;
use crate::history::{Cutover, Figure, Machine, Visit};
use crate::report::quantity::Pen;
use crate::report::words;
use std::ops::Range;

const DISC: Look = Look { marker: Marker::Round, open: false, ink: Ink::Fit, radius: 4.2, aside: 0.0 };
const RING: Look = Look { marker: Marker::Round, open: true, ink: Ink::Fit, radius: 4.2, aside: 0.0 };
const SMALL: (u32, u32) = (480, 260);

/// Years of the picture: all trials, with a margin; at least a season.
fn years(machine: &Machine) -> Range<f64> {
    range_of(machine.visits.iter().map(|visit| visit.year), 0.08, 0.5)
}

/// A figure with its interval at a year, in the page's unit.
fn dot(chart: &mut Chart<'_>, year: f64, figure: &Figure, mm: f64, look: Look) -> Result<(), CannotDraw> {
    draw_line(chart, vec![(year, figure.interval95.low / mm), (year, figure.interval95.high / mm)], look.ink, 1.6)?;
    draw_markers(chart, &[(year, figure.value / mm)], Look { ink: Ink::Paper, open: false, ..look })?;
    draw_markers(chart, &[(year, figure.value / mm)], look)
}

/// Upright lines where a repair lies between two trials.
fn repairs(chart: &mut Chart<'_>, sheet: &Sheet, machine: &Machine, y: &Range<f64>) -> Result<(), CannotDraw> {
    for change in machine.changes.iter().filter(|change| change.kind == Cutover::Repair) {
        if let (Some(before), Some(after)) = (machine.visits.get(change.before), machine.visits.get(change.after)) {
            let year = 0.5 * (before.year + after.year);
            sheet.open_group("repair", &format!("Repair between {} and {}", before.date, after.date));
            draw_line(chart, vec![(year, y.start), (year, y.end)], Ink::Flag, 1.4)?;
            sheet.close_group();
        }
    }
    Ok(())
}

/// The tapers over the years.
pub fn tapers(machine: &Machine, place: usize, pen: Pen) -> Result<String, CannotDraw> {
    let unit = pen.units.difference();
    let limit = machine.limit_mm.map(|limit| (limit.low / unit.mm, limit.high / unit.mm));
    let states = || machine.visits.iter().flat_map(|visit| [&visit.found, &visit.left]);
    let ends = states().flat_map(|state| [state.taper.interval95.low / unit.mm, state.taper.interval95.high / unit.mm]);
    let y = range_of(ends.chain(limit.iter().flat_map(|(low, high)| [*low, *high])).chain([0.0]), 0.08, 1e-4);
    let x = years(machine);
    let plot = Plot {
        id: &format!("tapers-{place}"),
        size: (720, 330),
        title: "Taper over the years".to_owned(),
        description: "A point for each trial with its 95 % interval: a disc where the machine was left so, a ring where it was found so and feet were then moved. \
                      The shaded band is what the latest trial’s limits allow, dashed lines are the fitted drifts, upright lines are repairs. The table below has every value."
            .to_owned(),
        x: x.clone(),
        y: y.clone(),
        axis: Axis::Dates,
        x_label: "date".to_owned(),
        y_label: format!("taper, {}", unit.symbol),
    };
    plot.draw(|chart, sheet| {
        if let Some((low, high)) = limit {
            sheet.open_group("limit", "What the limits allow");
            draw_area(chart, vec![(x.start, low), (x.end, low), (x.end, high), (x.start, high)], Ink::Band)?;
            sheet.close_group();
        }
        draw_line(chart, vec![(x.start, 0.0), (x.end, 0.0)], Ink::Zero, 0.9)?;
        repairs(chart, sheet, machine, &y)?;
        for stretch in &machine.stretches {
            let at: Vec<&Visit> = stretch.points.iter().filter_map(|point| machine.visits.get(point.visit)).collect();
            if let (Some(drift), Some(first), Some(last)) = (&stretch.drift, at.first(), at.last()) {
                let on_line = |year: f64| (year, (drift.centre.1 + drift.per_year * (year - drift.centre.0)) / unit.mm);
                sheet.open_group("drift", "Fitted drift");
                draw_line(chart, vec![on_line(first.year), on_line(last.year)], Ink::Guide, 1.4)?;
                sheet.close_group();
            }
        }
        for visit in &machine.visits {
            sheet.open_group("trial", &format!("{}, {}", visit.trial, visit.date));
            if visit.found.setting != visit.left.setting {
                dot(chart, visit.year, &visit.found.taper, unit.mm, RING)?;
            }
            dot(chart, visit.year, &visit.left.taper, unit.mm, DISC)?;
            sheet.close_group();
        }
        Ok(())
    })
}

/// The moving average of one stretch with its limits.
pub fn ewma(machine: &Machine, place: usize, row: usize, pen: Pen) -> Result<String, CannotDraw> {
    let unit = pen.units.difference();
    let stretch = machine.stretches.get(row);
    let points: Vec<_> = stretch.map(|stretch| stretch.points.iter().zip(&stretch.ewma).collect()).unwrap_or_default();
    let shown = |value: f64| value / unit.mm;
    let year = |visit: usize| machine.visits.get(visit).map_or(0.0, |visit| visit.year);
    let taper = |point: &crate::history::StretchPoint| {
        machine.visits.get(point.visit).map_or(0.0, |visit| if point.as_left { visit.left.taper.value } else { visit.found.taper.value })
    };
    let values = points.iter().flat_map(|(point, value)| [value.average, value.limits.low, value.limits.high, taper(point)]);
    let plot = Plot {
        id: &format!("ewma-{place}"),
        size: (720, 300),
        title: "Moving average of the taper".to_owned(),
        description: "The exponentially weighted moving average of the tapers since the last repair or move (discs on a line), its limits from the tapers’ own uncertainties \
                      (dashed), their weighted mean (dotted) and the tapers themselves (squares). The table below has every value."
            .to_owned(),
        x: years(machine),
        y: range_of(values.map(shown), 0.1, 1e-4),
        axis: Axis::Dates,
        x_label: "date".to_owned(),
        y_label: format!("taper, {}", unit.symbol),
    };
    plot.draw(|chart, sheet| {
        let through = |of: &dyn Fn(&crate::history::EwmaValue) -> f64| {
            points.iter().map(|(point, value)| (year(point.visit), shown(of(value)))).collect::<Vec<_>>()
        };
        sheet.open_group("limits", "Limits, three standard deviations");
        draw_line(chart, through(&|value| value.limits.low), Ink::BandEdge, 1.3)?;
        draw_line(chart, through(&|value| value.limits.high), Ink::BandEdge, 1.3)?;
        sheet.close_group();
        if let Some(target) = stretch.and_then(|stretch| stretch.ewma_target) {
            let ends = through(&|_| target);
            draw_line(chart, ends, Ink::Zero, 1.0)?;
        }
        sheet.open_group("tapers", "Tapers");
        let tapers: Vec<(f64, f64)> = points.iter().map(|(point, _)| (year(point.visit), shown(taper(point)))).collect();
        draw_markers(chart, &tapers, Look { marker: Marker::Square, open: true, ink: Ink::Series(0), radius: 3.6, aside: 0.0 })?;
        sheet.close_group();
        sheet.open_group("average", "Moving average");
        draw_line(chart, through(&|value| value.average), Ink::Fit, 1.3)?;
        draw_markers(chart, &through(&|value| value.average), Look { radius: 3.4, ..DISC })?;
        let outside: Vec<(f64, f64)> =
            points.iter().filter(|(_, value)| value.outside).map(|(point, value)| (year(point.visit), shown(value.average))).collect();
        draw_markers(chart, &outside, Look { ink: Ink::Flag, radius: 8.0, ..RING })?;
        sheet.close_group();
        Ok(())
    })
}

/// The barrels over the years; `None` where no trial has one.
pub fn barrels(machine: &Machine, place: usize, pen: Pen) -> Result<Option<String>, CannotDraw> {
    let unit = pen.units.fine();
    let points: Vec<(f64, &Figure)> = machine.visits.iter().filter_map(|visit| Some((visit.year, visit.left.barrel.as_ref()?))).collect();
    if points.is_empty() {
        return Ok(None);
    }
    let name = format!("barrel, {}", unit.symbol);
    small(machine, &format!("barrels-{place}"), "Barrel over the years", name, &points, unit.mm).map(Some)
}

/// Causes that at least half of the logs tell.
pub fn causes_shown(machine: &Machine) -> Vec<CauseKind> {
    let told = |cause: CauseKind| {
        machine.visits.iter().filter(|visit| visit.left.causes.iter().any(|each| each.cause == cause && each.told_by_log)).count()
    };
    CauseKind::ALL.into_iter().filter(|cause| 2 * told(*cause) >= machine.visits.len().max(1)).collect()
}

/// What each cause adds, over the years: name, picture, sentence.
pub fn causes(machine: &Machine, place: usize, pen: Pen) -> Result<Vec<(String, String, String)>, CannotDraw> {
    let unit = pen.units.fine();
    let mut pictures = Vec::new();
    for cause in causes_shown(machine) {
        let told = |visit: &'_ Visit| {
            visit.left.causes.iter().find(|each| each.cause == cause && each.told_by_log).map(|each| each.contribution_um)
        };
        let figures: Vec<(f64, Figure)> = machine.visits.iter().filter_map(|visit| Some((visit.year, told(visit)?))).collect();
        let points: Vec<(f64, &Figure)> = figures.iter().map(|(year, figure)| (*year, figure)).collect();
        let name = words::sentence_case(words::cause_name(cause));
        let missing = machine.visits.len() - points.len();
        let sentence = if missing == 0 {
            String::new()
        } else {
            format!(
                "{} not shown: the log hardly tells this cause.",
                words::sentence_case(&words::counted(missing, "trial is", "trials are"))
            )
        };
        let label = format!("change of diameter, {}", unit.symbol);
        let svg =
            small(machine, &format!("cause-{place}-{}", cause.name()), &format!("{name} over the years"), label, &points, unit.mm * 1e3)?;
        pictures.push((name, svg, sentence));
    }
    Ok(pictures)
}

/// A small picture of figures with their intervals; `per_unit`: how much of the figure's own unit is one of the page's.
fn small(
    machine: &Machine,
    id: &str,
    title: &str,
    y_label: String,
    points: &[(f64, &Figure)],
    per_unit: f64,
) -> Result<String, CannotDraw> {
    let ends = points.iter().flat_map(|(_, figure)| [figure.interval95.low / per_unit, figure.interval95.high / per_unit]);
    let y = range_of(ends.chain([0.0]), 0.1, 1e-4);
    let x = years(machine);
    let plot = Plot {
        id,
        size: SMALL,
        title: title.to_owned(),
        description: "A disc for each trial with its 95 % interval; the dotted line is at nought, upright lines are repairs. A table below has every value.".to_owned(),
        x: x.clone(),
        y: y.clone(),
        axis: Axis::Dates,
        x_label: "date".to_owned(),
        y_label,
    };
    plot.draw(|chart, sheet| {
        draw_line(chart, vec![(x.start, 0.0), (x.end, 0.0)], Ink::Zero, 0.9)?;
        repairs(chart, sheet, machine, &y)?;
        for (year, figure) in points {
            dot(chart, *year, figure, per_unit, DISC)?;
        }
        Ok(())
    })
}
