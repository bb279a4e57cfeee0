//! How sure: the uncertainty budget as a table and a bar picture, and the intervals side by side.

use crate::quantities::Interval;
use crate::report::drawing::{CannotDraw, Ink, SCALE, Sheet};
use crate::report::prose::Prose;
use crate::report::quantity::{Pen, in_result, on_page};
use crate::report::words;
use crate::shape::{MonteCarlo, Shape, SpreadSource};
use minijinja::Value;
use plotters::prelude::*;
use plotters_backend::text_anchor::{HPos, Pos, VPos};
use serde::Serialize;
use std::borrow::Cow;

/// The budget of one setting.
#[derive(Serialize)]
pub struct Budget {
    setting: u32,
    svg: Value,
    rows: Vec<Row>,
    combined: Value,
    fit: Value,
    lowered: bool,
    effective_dof: Option<Value>,
    statement: Value,
    intervals: Vec<IntervalRow>,
    spread: Vec<Value>,
    fine_unit: &'static str,
    difference_unit: &'static str,
}

#[derive(Serialize)]
struct Row {
    component: String,
    how: String,
    uncertainty: Value,
    dof: Value,
    share: Value,
}

#[derive(Serialize)]
struct IntervalRow {
    name: String,
    value: Option<Value>,
    uncertainty: Option<Value>,
    dof: Option<Value>,
    low: Option<Value>,
    high: Option<Value>,
    note: Cow<'static, str>,
}

/// The budget of `shape`, entry `place` of the result's list.
pub fn budget(shape: &Shape, place: usize, pen: Pen) -> Result<Budget, CannotDraw> {
    let key = |name: String| in_result(format!("shape.{place}.{name}"));
    let u = shape.taper.standard_uncertainty;
    let rows = shape
        .budget
        .iter()
        .enumerate()
        .map(|(row, part)| Row {
            component: words::component(&part.component).to_owned(),
            how: pen.sentence(&part.how),
            uncertainty: pen.fine(part.standard_uncertainty, u, key(format!("budget.{row}.standard_uncertainty"))).cell(),
            dof: match part.dof {
                Some(dof) => pen.dof(dof, key(format!("budget.{row}.dof"))).cell(),
                None if part.component == "between-pass" => Value::from("–"),
                None => Value::from("∞"),
            },
            share: pen.percent(part.share, 1, key(format!("budget.{row}.share"))).html(),
        })
        .collect();
    let expanded = shape.expanded.value;
    let statement = Prose::new("Expanded uncertainty U = k·u = ")
        .number(pen.with_unit(shape.expanded.coverage_factor, 2, "", key("expanded.coverage_factor".into())))
        .text(" × ")
        .number(pen.fine(u, u, key("taper.standard_uncertainty".into())))
        .text(" = ")
        .number(pen.fine(expanded, expanded, key("expanded.value".into())))
        .text(", coverage ")
        .number(pen.percent(shape.expanded.coverage_probability, 0, key("expanded.coverage_probability".into())))
        .text(".");
    Ok(Budget {
        setting: shape.setting,
        svg: Value::from_safe_string(picture(shape, place, pen)?),
        rows,
        combined: pen.fine(u, u, key("taper.standard_uncertainty".into())).cell(),
        fit: of_the_fit(shape, place, pen).html(),
        lowered: is_lowered(shape),
        effective_dof: shape.taper.effective_dof.map(|dof| pen.dof(dof, key("taper.effective_dof".into())).cell()),
        statement: statement.html(),
        intervals: intervals(shape, place, pen),
        spread: spread(shape, place, pen).iter().map(Prose::html).collect(),
        fine_unit: pen.units.fine().symbol,
        difference_unit: pen.units.difference().symbol,
    })
}

/// Whether the formula's degrees of freedom were lowered, so that the sum is no narrower than the fit in it.
fn is_lowered(shape: &Shape) -> bool {
    shape.taper.effective_dof.is_some() && shape.expanded.value <= shape.taper.fit_interval95.half_width() * (1.0 + 1e-9)
}

/// What the degrees of freedom of the first two rows are.
fn of_the_fit(shape: &Shape, place: usize, pen: Pen) -> Prose {
    let taper = &shape.taper;
    let key = |name: &str| in_result(format!("shape.{place}.taper.{name}"));
    let begin = Prose::new(
        "The first two rows are the parts of the fit, estimated together. The degrees of freedom of the first are the scatter’s own, those of the second what the fit \
         leaves it; Welch–Satterthwaite takes both as one part of ",
    )
    .number(pen.fine(taper.standard_error, taper.standard_uncertainty, key("standard_error")));
    let with = match taper.dof {
        Some(dof) => begin.text(" with ").number(pen.dof(dof, key("dof"))).text(" degrees of freedom"),
        None => begin.text(" with an infinite number of degrees of freedom"),
    };
    with.text(match shape.spread.source {
        SpreadSource::Estimated => " (Satterthwaite’s, from the variances of both parts). ",
        SpreadSource::PriorAndPasses | SpreadSource::Prior => {
            " (those of Student’s t with the same 68 % and 95 % intervals as the fit, prior included). "
        }
    })
    .text(
        "Those of the scatter are readings less the terms of each pass’s own curve, and what the gauge’s data sheet counts for where it is used; infinite where the \
         data sheet stands in for the scatter.",
    )
}

/// What the Monte Carlo of the budget adds to the stated interval, `± expanded`.
fn monte_carlo_note(carlo: &MonteCarlo, expanded: f64) -> String {
    let u = match carlo.standard_uncertainty {
        Some(_) => "few degrees of freedom widen its tails and so its u",
        None => "with two degrees of freedom or fewer it has no standard deviation",
    };
    let wider = 100.0 * (carlo.interval95.half_width() / expanded - 1.0);
    let compared = if wider >= 2.0 {
        format!("; {wider:.0} % wider than the stated interval, which so covers a little less than 95 % of it")
    } else {
        String::new()
    };
    format!("the same budget, propagated as distributions; {u}{compared}")
}

fn intervals(shape: &Shape, place: usize, pen: Pen) -> Vec<IntervalRow> {
    let taper = &shape.taper;
    let expanded = shape.expanded.value;
    let key = |name: String| in_result(format!("shape.{place}.{name}"));
    let ends = |interval: Option<Interval>, name: &str| {
        let end = |value: fn(&Interval) -> f64, place: usize| {
            interval.as_ref().map(|interval| pen.difference(value(interval), 0.1 * expanded, key(format!("{name}.{place}"))).cell())
        };
        (end(|interval| interval.low, 0), end(|interval| interval.high, 1))
    };
    let value = |name: &str, value: f64| Some(pen.difference(value, 0.1 * expanded, key(name.into())).cell());
    let fine = |value: f64, name: &str| Some(pen.fine(value, taper.standard_uncertainty, key(name.into())).cell());
    let dof = |value: Option<f64>, name: &str| value.map(|dof| pen.dof(dof, key(name.into())).cell());
    let (budget_low, budget_high) = ends(Some(taper.interval95), "taper.interval95");
    let (fit_low, fit_high) = ends(Some(taper.fit_interval95), "taper.fit_interval95");
    let (plain_low, plain_high) = ends(taper.plain_t_interval95, "taper.plain_t_interval95");
    let (carlo_low, carlo_high) = ends(shape.monte_carlo.as_ref().map(|carlo| carlo.interval95), "monte_carlo.interval95");
    let carlo_u =
        shape.monte_carlo.as_ref().and_then(|carlo| carlo.standard_uncertainty).and_then(|u| fine(u, "monte_carlo.standard_uncertainty"));
    vec![
        IntervalRow {
            name: "Whole budget, Welch–Satterthwaite".into(),
            value: value("taper.value", taper.value),
            uncertainty: fine(taper.standard_uncertainty, "taper.standard_uncertainty"),
            dof: dof(taper.effective_dof, "taper.effective_dof"),
            low: budget_low,
            high: budget_high,
            note: if is_lowered(shape) {
                "the one stated at the top; the formula’s degrees of freedom are lowered until it is no narrower than the fit alone".into()
            } else {
                "the one stated at the top".into()
            },
        },
        IntervalRow {
            name: "Whole budget, Monte Carlo".into(),
            value: None,
            uncertainty: carlo_u,
            dof: None,
            low: carlo_low,
            high: carlo_high,
            note: shape.monte_carlo.as_ref().map_or_else(|| "not made".into(), |carlo| monte_carlo_note(carlo, expanded).into()),
        },
        IntervalRow {
            name: "Fit alone".into(),
            value: value("taper.value", taper.value),
            uncertainty: fine(taper.standard_error, "taper.standard_error"),
            dof: dof(taper.dof, "taper.dof"),
            low: fit_low,
            high: fit_high,
            note: "scatter and between-pass spread, no instrument or temperature effects".into(),
        },
        IntervalRow {
            name: "Plain t".into(),
            value: value("taper.value", taper.value),
            uncertainty: None,
            dof: None,
            low: plain_low,
            high: plain_high,
            note: if taper.plain_t_interval95.is_some() {
                "from this log’s readings only, without the prior on the between-pass spread".into()
            } else {
                "no degrees of freedom are left for it".into()
            },
        },
        IntervalRow {
            name: if words::has_robust(shape) { format!("Robust fit ({})", taper.robust.method) } else { "Robust fit".into() },
            value: value("taper.robust.value", taper.robust.value).filter(|_| words::has_robust(shape)),
            uncertainty: None,
            dof: None,
            low: None,
            high: None,
            note: if !words::has_robust(shape) {
                format!("not made ({})", taper.robust.method).into()
            } else if words::robust_agrees(shape) {
                "stray readings have little weight; agrees within one standard uncertainty".into()
            } else {
                "stray readings have little weight; disagrees by more than one standard uncertainty".into()
            },
        },
    ]
}

fn spread(shape: &Shape, place: usize, pen: Pen) -> Vec<Prose> {
    let u = shape.taper.standard_uncertainty;
    let page = |name: &str| on_page(format!("shape.{place}.spread.{name}"));
    let between = pen.fine(shape.spread.between_standard_error_mm, u, page("between_standard_error"));
    let within = pen.fine(shape.spread.within_standard_error_mm, u, page("within_standard_error"));
    let passes = words::counted(shape.passes_in_shape, "pass", "passes");
    let mut lines = vec![
        Prose::new("Two things make the fit’s standard error: scatter of readings within a pass (")
            .number(within)
            .text(") and spread of the taper from pass to pass (")
            .number(between)
            .text(")."),
    ];
    if let Some(value) = shape.between_pass {
        lines.push(
            Prose::new("Standard deviation of the taper between passes: ")
                .number(pen.fine(value, value.max(0.1 * u), in_result(format!("shape.{place}.between_pass"))))
                .text("."),
        );
    }
    let scale = shape.spread.prior_scale_mm.map(|scale| pen.fine(scale, scale, page("prior_scale")));
    lines.push(match (shape.spread.source, scale) {
        (SpreadSource::Estimated, _) => {
            Prose::new(format!("It comes from the log: restricted maximum likelihood over {passes}, with small-sample degrees of freedom."))
        }
        (SpreadSource::PriorAndPasses, Some(scale)) => Prose::new(format!(
            "{} are too few to estimate it alone (that takes five cut one way, or six in all where both ways were cut): it comes from a half-t prior with 3 degrees of freedom and scale ",
            words::sentence_case(&passes)
        ))
        .number(scale)
        .text(
            " (twice the within-pass standard error of one slope) together with the passes. The plain t interval beside it uses no prior.",
        ),
        (SpreadSource::Prior, Some(scale)) => Prose::new(format!("With {passes} the log says nothing about it: this part is "))
            .strong("prior, not measured")
            .text(" (half-t, 3 degrees of freedom, scale ")
            .number(scale)
            .text(", twice the within-pass standard error of one slope). Further passes on the same setting replace it by evidence."),
        (SpreadSource::PriorAndPasses | SpreadSource::Prior, None) => Prose::new("It comes from a prior, not from the log alone."),
    });
    lines
}

/// Height of one bar with its gap.
const STEP: i32 = 30;
/// Where bars begin, and the longest ends.
const BARS: (i32, i32) = (250, 620);
/// Most letters of a component's name in the picture; the table has it whole.
const LETTERS: usize = 38;

fn picture(shape: &Shape, place: usize, pen: Pen) -> Result<String, CannotDraw> {
    let fine = pen.units.fine();
    let combined = shape.taper.standard_uncertainty;
    let count = i32::try_from(shape.budget.len()).unwrap_or(0) + 1;
    let sheet = Sheet::new(720, (count * STEP + 16).unsigned_abs());
    let root = sheet.clone().into_drawing_area();
    let letters = ("sans-serif", 12.5 * f64::from(SCALE)).into_font().color(&Ink::Text.colour());
    let parts = shape.budget.iter().map(|part| (words::component(&part.component), part.standard_uncertainty, Ink::Bar));
    let total = std::iter::once(("combined standard uncertainty", combined, Ink::Total));
    let longest = shape.budget.iter().map(|part| part.standard_uncertainty).fold(combined, f64::max);
    for (row, (name, uncertainty, ink)) in (0..).zip(parts.chain(total)) {
        let (top, middle) = ((8 + row * STEP + 5) * SCALE, (8 + row * STEP + STEP / 2) * SCALE);
        let share = if longest > 0.0 { (uncertainty / longest).clamp(0.0, 1.0) } else { 0.0 };
        let end = BARS.0 * SCALE + (share * f64::from((BARS.1 - BARS.0) * SCALE)).round() as i32;
        let short: String = name.chars().take(LETTERS).chain((name.chars().count() > LETTERS).then_some('…')).collect();
        let value = pen.fine(uncertainty, combined, on_page("bar")).plain();
        sheet.open_group("part", &format!("{name}: {value}"));
        let bar = Rectangle::new([(BARS.0 * SCALE, top), (end, top + (STEP - 10) * SCALE)], ink.fill());
        root.draw(&bar).map_err(CannotDraw::from_library)?;
        let at = |x: i32, side: HPos| (letters.clone().pos(Pos::new(side, VPos::Center)), (x, middle));
        for (text, (style, position)) in [(short, at((BARS.0 - 8) * SCALE, HPos::Right)), (value, at(end + 7 * SCALE, HPos::Left))] {
            root.draw(&Text::new(text, position, style)).map_err(CannotDraw::from_library)?;
        }
        sheet.close_group();
    }
    root.present().map_err(CannotDraw::from_library)?;
    Ok(sheet.finish(
        &format!("budget-{place}"),
        &format!("Parts of the taper’s standard uncertainty, setting {}", shape.setting),
        &format!(
            "A bar for each part in {}; squares of the parts add up to the square of the last bar. The table beside it has every value.",
            fine.symbol
        ),
    ))
}
