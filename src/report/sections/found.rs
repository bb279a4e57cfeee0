//! What was found, in sentences with numbers and uncertainty.

use super::headline::headline;
use crate::analysis::Analysis;
use crate::report::prose::Prose;
use crate::report::quantity::{Pen, in_result, on_page};
use crate::report::units::Units;
use crate::report::words;
use crate::shape::{Barrel, DirectionTaper, Shape};
use crate::trial::Direction;
use minijinja::Value;
use serde::Serialize;

/// What was found in one setting.
#[derive(Serialize)]
pub struct Found {
    setting: u32,
    lead: Value,
    causes: Option<Value>,
    more: Vec<Value>,
    facts: Vec<Fact>,
}

/// A line of the small table beside the sentences.
#[derive(Serialize)]
struct Fact {
    term: &'static str,
    value: Value,
}

/// The findings of `shape`, entry `place` of the result's list.
pub fn found(analysis: &Analysis, shape: &Shape, place: usize, pen: Pen) -> Found {
    let mut more: Vec<Value> = Vec::new();
    more.extend(shape.barrel.as_ref().map(|barrel| barrel_sentence(barrel, place, pen).html()));
    if shape.by_direction.len() > 1 {
        more.extend(shape.by_direction.iter().enumerate().map(|(row, each)| direction_sentence(each, place, row, pen).html()));
    }
    if words::has_robust(shape) {
        more.push(robust_sentence(shape, place, pen).html());
    }
    more.push(outlier_sentence(shape).html());
    Found {
        setting: shape.setting,
        lead: taper_sentence(shape, place, pen).html(),
        causes: headline(analysis, shape.setting, pen).map(|prose| prose.html()),
        more,
        facts: facts(shape, place, pen),
    }
}

/// The first sentence of page and terminal, with a second one where passes were cut both ways.
pub fn taper_sentence(shape: &Shape, place: usize, pen: Pen) -> Prose {
    let prose = mean_taper(shape, place, pen);
    match directions_sentence(shape, place, pen) {
        Some(directions) => prose.text(" ").and(directions),
        None => prose,
    }
}

fn mean_taper(shape: &Shape, place: usize, pen: Pen) -> Prose {
    let taper = &shape.taper;
    let expanded = shape.expanded.value;
    let key = |name: &str| in_result(format!("shape.{place}.{name}"));
    let size = pen.size(taper.value, expanded, key("taper.value"));
    let give_or_take = pen.size(expanded, expanded, key("expanded.value"));
    let length = pen.length(shape.tested_length.length, key("tested_length.length"));
    if words::shows_taper(shape) {
        return Prose::new("The bar is ")
            .number(size)
            .strong(format!(" {}", words::larger_end(taper.value)))
            .text(" over ")
            .number(length)
            .text(", give or take ")
            .number(give_or_take)
            .text(".");
    }
    let bound = |value: f64, end: &str| pen.size(value, expanded, key(&format!("taper.interval95.{end}")));
    let room = |prose: Prose| {
        prose
            .number(bound(taper.interval95.low, "0"))
            .text(" larger at the headstock end to ")
            .number(bound(taper.interval95.high, "1"))
            .text(" larger at the tailstock end")
    };
    if shape.says_nothing() {
        return room(
            Prose::default()
                .strong("This log does not tell the taper")
                .text(" over ")
                .number(length)
                .text(": it leaves room for anything from "),
        )
        .text(". So much would be seen without a gauge: look for a slip in the log first.");
    }
    let best = if size.reads_nought() {
        Prose::new("No taper shows over ")
            .number(length)
            .text(": the bar is ")
            .strong("parallel within what this log can see")
            .text(". The best estimate is no difference between the ends (")
            .number(size)
            .text(")")
    } else {
        Prose::new("No taper shows over ")
            .number(length)
            .text(": the bar is ")
            .strong("parallel within what this log can see")
            .text(". The best estimate is ")
            .number(size)
            .text(format!(" {}", words::larger_end(taper.value)))
    };
    room(best.text(", give or take ").number(give_or_take).text("; the log leaves room for anything from ")).text(".")
}

/// Where passes were cut both ways, that the first sentence is of their mean, and the taper of the passes by which everything further goes.
fn directions_sentence(shape: &Shape, place: usize, pen: Pen) -> Option<Prose> {
    let row = shape
        .by_direction
        .iter()
        .position(|row| row.direction == Direction::ToHeadstock)
        .filter(|_| shape.by_direction.len() > 1 && !shape.says_nothing())?;
    let each = shape.by_direction.get(row)?;
    let size = pen.size(each.value, each.interval95.half_width(), in_result(format!("shape.{place}.by_direction.{row}.value")));
    let end = if size.reads_nought() { "" } else { words::larger_end(each.value) };
    let prose = Prose::new(
        "That is the mean of both directions of cut. As cut to the headstock, the usual way, by which causes, limits and adjustment go, it is ",
    );
    Some(prose.number(size).text(format!(" {end}").trim_end()).text("."))
}

/// The sentence on barrel or hourglass.
pub fn barrel_sentence(barrel: &Barrel, place: usize, pen: Pen) -> Prose {
    let half = barrel.interval95.half_width();
    let key = |name: &str| in_result(format!("shape.{place}.barrel.{name}"));
    let bound = |value: f64, end: &str| pen.end_size(value, barrel.interval95, key(&format!("interval95.{end}")));
    let ends = |prose: Prose| words::interval(prose, barrel.interval95, bound, [" thinner", " thicker"]).text(").");
    let interval = |prose: Prose| ends(prose.text(" (95 % interval "));
    let size = pen.size(barrel.value, half, key("value"));
    if size.reads_nought() && barrel.interval95.contains(0.0) {
        let middle = "No barrel or hourglass shows: the best estimate is that the middle lies on the straight line between the ends (";
        return ends(Prose::new(middle).number(size).text("; 95 % interval "));
    }
    if barrel.interval95.contains(0.0) {
        let middle = if barrel.value < 0.0 { " thinner" } else { " thicker" };
        return interval(
            Prose::new("No barrel or hourglass shows: the best estimate is that the middle is ")
                .number(size)
                .text(format!("{middle} than the straight line between the ends")),
        );
    }
    let (middle, word) = if barrel.value < 0.0 { (" thinner", "an hourglass") } else { (" thicker", "a barrel") };
    interval(Prose::new("The middle is ").number(size).text(format!("{middle} than the straight line between the ends: ")).strong(word))
}

fn direction_sentence(each: &DirectionTaper, place: usize, row: usize, pen: Pen) -> Prose {
    let half = each.interval95.half_width();
    let key = |name: &str| in_result(format!("shape.{place}.by_direction.{row}.{name}"));
    let bound = |value: f64, end: &str| pen.end_size(value, each.interval95, key(&format!("interval95.{end}")));
    let size = pen.size(each.value, half, key("value"));
    let cut = Prose::new(format!("Cut {} ({}): ", words::direction(each.direction), words::counted(each.passes, "pass", "passes")));
    let value = if size.reads_nought() {
        cut.text("no difference between the ends (").number(size).text("), 95 % interval ")
    } else {
        cut.number(size).text(format!(" {}, 95 % interval ", words::larger_end(each.value)))
    };
    words::interval(value, each.interval95, bound, words::LARGER_ENDS).text(".")
}

fn robust_sentence(shape: &Shape, place: usize, pen: Pen) -> Prose {
    let value = pen.difference(shape.taper.robust.value, shape.expanded.value, in_result(format!("shape.{place}.taper.robust.value")));
    if words::robust_agrees(shape) {
        Prose::new("The robust fit, which gives stray readings little weight, agrees: ").number(value).text(".")
    } else {
        Prose::new("The robust fit, which gives stray readings little weight, ")
            .strong("disagrees")
            .text(": ")
            .number(value)
            .text(". Look at the readings that are flagged or stand out before using either value.")
    }
}

fn outlier_sentence(shape: &Shape) -> Prose {
    if let Some(why) = shape.outliers_untested {
        return Prose::new("This log cannot test for outliers: ").text(why).text(".");
    }
    match shape.outliers.len() {
        0 => Prose::new("No reading is flagged as an outlier."),
        count => Prose::new(words::sentence_case(&words::counted(count, "reading is", "readings are")))
            .text(" flagged as ")
            .text(if count == 1 { "an outlier" } else { "outliers" })
            .text(" and kept: ")
            .text(
                shape
                    .outliers
                    .iter()
                    .take(5)
                    .map(|outlier| format!("{} line {}", outlier.file, outlier.row))
                    .collect::<Vec<_>>()
                    .join(", "),
            )
            .text(if count > 5 { " and more." } else { "." }),
    }
}

fn barrel_fact(barrel: &Barrel, place: usize, pen: Pen) -> Fact {
    let half = barrel.interval95.half_width();
    let key = |name: &str| in_result(format!("shape.{place}.barrel.{name}"));
    let prose = Prose::default()
        .number(pen.difference(barrel.value, half, key("value")))
        .text(", 95 % interval ")
        .number(pen.end(barrel.interval95.low, barrel.interval95, key("interval95.0")))
        .text(" to ")
        .number(pen.end(barrel.interval95.high, barrel.interval95, key("interval95.1")));
    Fact { term: "Barrel: middle against the chord between the ends", value: prose.html() }
}

fn facts(shape: &Shape, place: usize, pen: Pen) -> Vec<Fact> {
    let taper = &shape.taper;
    let expanded = shape.expanded.value;
    let key = |name: &str| in_result(format!("shape.{place}.{name}"));
    let per_length = |length_mm: f64| expanded * length_mm / shape.tested_length.length;
    let foot_decimals = crate::report::decimals_for_uncertainty(per_length(304.8) / 25.4);
    let angle_u = crate::quantities::included_angle_arcsec(expanded, shape.tested_length.length);
    let number = |prose: Prose| prose.html();
    let scaled = match pen.units {
        Units::Millimetre => {
            Fact { term: "Scaled to 300 mm", value: pen.difference(taper.per_300, per_length(300.0), key("taper.per_300")).html() }
        }
        Units::Inch => {
            let of_foot = taper.per_foot_in * crate::quantities::MM_PER_INCH;
            let key = on_page(format!("shape.{place}.taper.per_12_in"));
            Fact { term: "Scaled to 12 in", value: pen.difference(of_foot, per_length(304.8), key).html() }
        }
    };
    let mut facts = vec![
        Fact {
            term: "Taper on the diameter, over the tested length",
            value: number(
                Prose::default()
                    .number(pen.difference(taper.value, expanded, key("taper.value")))
                    .text(", 95 % interval ")
                    .number(pen.end(taper.interval95.low, taper.interval95, key("taper.interval95.0")))
                    .text(" to ")
                    .number(pen.end(taper.interval95.high, taper.interval95, key("taper.interval95.1"))),
            ),
        },
        Fact {
            term: "Tested length",
            value: number(
                Prose::default()
                    .number(pen.length(shape.tested_length.length, key("tested_length.length")))
                    .text(", from station ")
                    .number(pen.length(shape.tested_length.from, key("tested_length.from")))
                    .text(" to ")
                    .number(pen.length(shape.tested_length.to, key("tested_length.to"))),
            ),
        },
        Fact {
            term: "Expanded uncertainty of the taper",
            value: number(
                Prose::default()
                    .number(pen.size(expanded, expanded, key("expanded.value")))
                    .text(" (k = ")
                    .number(pen.with_unit(shape.expanded.coverage_factor, 2, "", key("expanded.coverage_factor")))
                    .text(", coverage ")
                    .number(pen.percent(shape.expanded.coverage_probability, 0, key("expanded.coverage_probability")))
                    .text(")"),
            ),
        },
        scaled,
        Fact {
            term: "Inches of diameter per foot",
            value: pen.with_unit(taper.per_foot_in, foot_decimals, "in/ft", key("taper.per_foot_in")).html(),
        },
        Fact {
            term: "Included angle",
            value: pen
                .with_unit(taper.angle_arcsec, crate::report::decimals_for_uncertainty(angle_u), "″", key("taper.angle_arcsec"))
                .html(),
        },
        Fact {
            term: "Readings and passes in the fit",
            value: number(
                Prose::default()
                    .number(pen.count(shape.readings, key("readings")))
                    .text(" readings, ")
                    .number(pen.count(shape.passes_in_shape, key("passes_in_shape")))
                    .text(" of ")
                    .number(pen.count(shape.passes, key("passes")))
                    .text(if shape.passes == 1 { " pass" } else { " passes" }),
            ),
        },
    ];
    if let Some(barrel) = &shape.barrel {
        facts.insert(1, barrel_fact(barrel, place, pen));
    }
    facts
}
