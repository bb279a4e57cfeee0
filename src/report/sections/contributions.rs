//! The picture of where the taper comes from: a row a cause, groups bracketed, then their sum and what was measured.

use super::cause_bars::{Along, BROAD, Canvas, Layout, Lettering, NARROW, measured_interval};
use super::headline::{causes_of, groups_of};
use crate::analysis::Analysis;
use crate::causes::{Balance, CauseEstimate, ContributionUm};
use crate::report::drawing::{CannotDraw, Ink, SCALE, Sheet};
use crate::report::number::fixed;
use crate::report::quantity::{Pen, on_page};
use crate::report::words;
use plotters::prelude::*;
use plotters_backend::text_anchor::HPos;

/// What one row of the picture shows.
#[derive(Debug, Clone, Copy)]
pub(super) enum Row<'a> {
    /// A cause, by its letter; whether it belongs to the group that follows.
    Cause { letter: char, cause: &'a CauseEstimate, change: ContributionUm },
    /// The sum of the `members` rows before it.
    Together { change: ContributionUm, members: usize },
}

/// Rows of the picture in the order drawn: causes in the contract's order, but those of a group side by side, their sum after them.
fn rows(analysis: &Analysis, setting: u32) -> Vec<Row<'_>> {
    let causes: Vec<(&CauseEstimate, ContributionUm)> =
        causes_of(analysis, setting).into_iter().filter_map(|(_, cause)| Some((cause, cause.contribution_um?))).collect();
    let groups = groups_of(analysis, setting);
    let mut rows: Vec<Row> = Vec::new();
    let mut letters = 'a'..='z';
    let mut drawn: Vec<crate::causes::CauseKind> = Vec::new();
    for (cause, change) in &causes {
        if drawn.contains(&cause.cause) {
            continue;
        }
        let group = groups.iter().find(|(_, group)| group.causes.contains(&cause.cause));
        let Some((_, group)) = group else {
            drawn.push(cause.cause);
            rows.extend(letters.next().map(|letter| Row::Cause { letter, cause, change: *change }));
            continue;
        };
        let members: Vec<_> = causes.iter().filter(|(own, _)| group.causes.contains(&own.cause) && !drawn.contains(&own.cause)).collect();
        for (own, change) in &members {
            drawn.push(own.cause);
            rows.extend(letters.next().map(|letter| Row::Cause { letter, cause: own, change: *change }));
        }
        rows.push(Row::Together { change: group.sum_um, members: members.len() });
    }
    rows
}

/// The balance that belongs to the contributions of `setting`: the direction to the headstock where it was cut.
pub fn main_balance(analysis: &Analysis, setting: u32) -> Option<(usize, &Balance)> {
    analysis.balance.iter().enumerate().filter(|(_, each)| each.setting == setting).min_by_key(|(_, each)| each.direction)
}

/// The picture of `setting`, broad and narrow; `None` where no cause has a contribution.
pub fn pictures(analysis: &Analysis, setting: u32, pen: Pen) -> Result<Option<(String, String)>, CannotDraw> {
    let broad = picture(analysis, setting, BROAD, pen)?;
    let narrow = picture(analysis, setting, NARROW, pen)?;
    Ok(broad.zip(narrow))
}

fn picture(analysis: &Analysis, setting: u32, layout: Layout, pen: Pen) -> Result<Option<String>, CannotDraw> {
    let rows = rows(analysis, setting);
    if rows.is_empty() {
        return Ok(None);
    }
    let balance = main_balance(analysis, setting).map(|(_, balance)| balance);
    let count = i32::try_from(rows.len()).unwrap_or(0);
    let step = layout.step;
    let height = 10 + count * step + layout.foot;
    let sheet = Sheet::new(layout.width.unsigned_abs(), height.unsigned_abs());
    let along = Along::of(&rows, balance, layout.scale);
    let canvas = Canvas { root: sheet.clone().into_drawing_area(), sheet, along, layout };
    let number = |value_um: f64| pen.micrometres(value_um, on_page("contribution")).number_text();
    frame(&canvas, height, pen)?;
    for (row, each) in (0..).zip(&rows) {
        let y = (10 + row * step + step / 2 + layout.name_rise / 2) * SCALE;
        match each {
            Row::Cause { letter, cause, change } => draw_cause(&canvas, *letter, cause, *change, y, &number)?,
            Row::Together { change, members } => draw_together(&canvas, *change, *members, y, &number)?,
        }
    }
    draw_foot(&canvas, &rows, balance, (10 + count * step) * SCALE, &number)?;
    canvas.root.present().map_err(CannotDraw::from_library)?;
    let title = format!("Where the taper comes from, setting {setting}");
    Ok(Some(canvas.sheet.finish(
        &format!("contributions-{setting}{}", if layout.broad { "" } else { "-narrow" }),
        &title,
        &describe(&rows, balance, pen),
    )))
}

/// Grid, axis and nought.
fn frame(canvas: &Canvas, height: i32, pen: Pen) -> Result<(), CannotDraw> {
    let fine = pen.units.fine();
    let (ticks, decimals) = canvas.along.ticks_um(fine.mm * 1e3, if canvas.layout.broad { 6.0 } else { 4.0 });
    let (top, bottom) = (10 * SCALE, (height - canvas.layout.axis) * SCALE);
    canvas.sheet.open_group("frame", "Axis");
    for tick in &ticks {
        canvas.line(&[(canvas.along.at(*tick), top), (canvas.along.at(*tick), bottom)], Ink::Grid, 0.6)?;
    }
    for tick in &ticks {
        let text = fixed(tick * 1e-3 / fine.mm, decimals);
        canvas.text(&text, (canvas.along.at(*tick), bottom + 12 * SCALE), Lettering(HPos::Center, 12.5))?;
    }
    let (from, to) = if canvas.layout.broad { canvas.layout.scale } else { (0, canvas.layout.width) };
    let middle = (from + to) / 2 * SCALE;
    let label = format!("change of diameter over the tested length, {}", fine.symbol);
    let sense = "(+ = larger at the tailstock end)";
    let lines = if canvas.layout.broad { vec![format!("{label} {sense}")] } else { vec![label, sense.to_owned()] };
    for (line, text) in (0..).zip(&lines) {
        canvas.text(text, (middle, bottom + (33 + 16 * line) * SCALE), Lettering(HPos::Center, 12.5))?;
    }
    canvas.text(fine.symbol, (canvas.layout.numbers * SCALE, bottom + 12 * SCALE), Lettering(HPos::Right, 12.5))?;
    canvas.line(&[(canvas.along.at(0.0), top), (canvas.along.at(0.0), bottom)], Ink::Axis, 1.4)?;
    canvas.sheet.close_group();
    Ok(())
}

fn draw_cause(
    canvas: &Canvas,
    letter: char,
    cause: &CauseEstimate,
    change: ContributionUm,
    y: i32,
    number: &impl Fn(f64) -> String,
) -> Result<(), CannotDraw> {
    let (name, verdict) = (words::cause_name(cause.cause), words::verdict(cause.verdict));
    let title = format!(
        "{name}, {verdict}: {}, 95 % interval {} to {}",
        number(change.estimate),
        number(change.interval95.low),
        number(change.interval95.high)
    );
    canvas.sheet.open_group("cause", &title);
    let (x, side) = canvas.layout.names;
    if canvas.layout.broad {
        canvas.text(&format!("{letter}\u{2003}{name}"), (x * SCALE, y - 6 * SCALE), Lettering(side, 13.0))?;
        canvas.text(verdict, (x * SCALE, y + 9 * SCALE), Lettering(side, 11.0))?;
    } else {
        let at = (x * SCALE, y - canvas.layout.name_rise * SCALE);
        canvas.text(&format!("{letter}\u{2003}{name}: {verdict}"), at, Lettering(side, 13.0))?;
    }
    canvas.bar(0.0, change.estimate, (y - 6 * SCALE, y + 6 * SCALE), Ink::Bar, true)?;
    canvas.whisker(change.interval95, y)?;
    canvas.mark(change.estimate, y, cause.verdict)?;
    canvas.text(&number(change.estimate), (canvas.layout.numbers * SCALE, y), Lettering(HPos::Right, 13.0))?;
    canvas.sheet.close_group();
    Ok(())
}

/// A group’s own mark, and the bracket over its members’ rows.
fn draw_together(
    canvas: &Canvas,
    change: ContributionUm,
    members: usize,
    y: i32,
    number: &impl Fn(f64) -> String,
) -> Result<(), CannotDraw> {
    let title = format!(
        "these together: {}, 95 % interval {} to {}",
        number(change.estimate),
        number(change.interval95.low),
        number(change.interval95.high)
    );
    canvas.sheet.open_group("together", &title);
    let Layout { step, name_rise, names: (name_x, side), bracket: (x, hook), .. } = canvas.layout;
    let top = y - (i32::try_from(members).unwrap_or(1) * step + step / 2 + name_rise / 2 - 5) * SCALE;
    let (x, hook, bottom) = (x * SCALE, hook * SCALE, y + 6 * SCALE);
    canvas.line(&[(x + hook, top), (x, top), (x, bottom), (x + hook, bottom)], Ink::Axis, 1.4)?;
    canvas.text("these together", (name_x * SCALE, y - name_rise * SCALE), Lettering(side, 13.0))?;
    canvas.whisker(change.interval95, y)?;
    canvas.diamond(change.estimate, y, true)?;
    canvas.text(&format!("({})", number(change.estimate)), (canvas.layout.numbers * SCALE, y), Lettering(HPos::Right, 13.0))?;
    canvas.sheet.close_group();
    Ok(())
}

/// The causes end to end, their sum, and what was measured.
fn draw_foot(
    canvas: &Canvas,
    rows: &[Row],
    balance: Option<&Balance>,
    top: i32,
    number: &impl Fn(f64) -> String,
) -> Result<(), CannotDraw> {
    let causes = || {
        rows.iter().filter_map(|row| match row {
            Row::Cause { letter, change, .. } => Some((*letter, change.estimate)),
            Row::Together { .. } => None,
        })
    };
    let sum = balance.map_or_else(|| causes().map(|(_, value)| value).sum(), |each| each.sum_um);
    let Layout { scale, numbers, names: (name_x, side), foot_drop, broad, .. } = canvas.layout;
    canvas.line(&[((scale.1 + 12) * SCALE, top + 2 * SCALE), (numbers * SCALE, top + 2 * SCALE)], Ink::Axis, 1.2)?;
    canvas
        .sheet
        .open_group("sum", &format!("The causes end to end: those that add, then those that take away; their sum is {}", number(sum)));
    if broad {
        canvas.text("added end to end", (name_x * SCALE, top + 17 * SCALE), Lettering(side, 13.0))?;
        canvas.text("sum of the causes", (name_x * SCALE, top + 33 * SCALE), Lettering(side, 11.0))?;
    } else {
        canvas.text("added end to end: sum of the causes", (name_x * SCALE, top + 14 * SCALE), Lettering(side, 13.0))?;
    }
    // What follows stands lower where the writing is above it.
    let top = top + foot_drop * SCALE;
    let (first, second) = (top + 8 * SCALE, top + 25 * SCALE);
    let mut reached = 0.0;
    let lanes =
        [(first, causes().filter(|part| part.1 > 0.0).collect::<Vec<_>>()), (second, causes().filter(|part| part.1 < 0.0).collect())];
    for (lane, parts) in lanes {
        for (letter, value) in parts {
            let next = reached + value;
            canvas.bar(reached, next, (lane, lane + 13 * SCALE), Ink::Bar, false)?;
            if (canvas.along.at(next) - canvas.along.at(reached)).abs() > 11 * SCALE {
                canvas.text(
                    &letter.to_string(),
                    (canvas.along.at(0.5 * (reached + next)), lane + 6 * SCALE),
                    Lettering(HPos::Center, 11.0),
                )?;
            }
            reached = next;
        }
    }
    let (x, foot) = (canvas.along.at(sum), top + (72 + foot_drop) * SCALE);
    canvas.line(&[(x, first), (x, foot)], Ink::Guide, 1.2)?;
    canvas.text(&number(sum), (numbers * SCALE, top + 17 * SCALE), Lettering(HPos::Right, 13.0))?;
    canvas.sheet.close_group();
    let Some(balance) = balance else { return Ok(()) };
    let y = top + (58 + foot_drop) * SCALE;
    canvas.sheet.open_group("measured", &format!("Measured between the end stations: {}", number(balance.end_difference_um)));
    canvas.text("measured at the ends", (name_x * SCALE, y - canvas.layout.name_rise * SCALE), Lettering(side, 13.0))?;
    canvas.whisker(measured_interval(balance), y)?;
    canvas.diamond(balance.end_difference_um, y, false)?;
    canvas.text(&number(balance.end_difference_um), (numbers * SCALE, y), Lettering(HPos::Right, 13.0))?;
    canvas.sheet.close_group();
    Ok(())
}

fn describe(rows: &[Row], balance: Option<&Balance>, pen: Pen) -> String {
    let shown = |value: f64| pen.micrometres(value, on_page("contribution")).plain();
    let mut text = String::from("Change of diameter that each cause makes over the tested length. ");
    for row in rows {
        match row {
            Row::Cause { cause, change, .. } => {
                text.push_str(&format!("{}: {}. ", words::sentence_case(words::cause_name(cause.cause)), shown(change.estimate)));
            }
            Row::Together { change, members } => {
                text.push_str(&format!("The last {} together: {}. ", words::counted(*members, "cause", "causes"), shown(change.estimate)));
            }
        }
    }
    if let Some(balance) = balance {
        text.push_str(&format!("Their sum is {}; measured were {}. ", shown(balance.sum_um), shown(balance.end_difference_um)));
    }
    text.push_str("Every value with its interval is in the table below the picture.");
    text
}
