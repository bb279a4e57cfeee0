//! Each check as a sentence with what it means, and the orders that were compared.

use crate::report::quantity::{Pen, in_result, on_page};
use crate::report::words;
use crate::shape::Shape;
use minijinja::Value;
use serde::Serialize;

/// The checks of one setting.
#[derive(Serialize)]
pub struct Checks {
    setting: u32,
    checks: Vec<Check>,
    orders: Vec<Order>,
    order: Value,
    lack_of_fit: Option<LackOfFit>,
    outliers: Vec<OutlierRow>,
    outliers_untested: Option<&'static str>,
    fine_unit: &'static str,
    made: usize,
}

#[derive(Serialize)]
struct Check {
    question: &'static str,
    name: &'static str,
    outcome: &'static str,
    statistic: Option<Value>,
    p: Option<Value>,
    p_word: &'static str,
    sentence: String,
}

#[derive(Serialize)]
struct Order {
    order: usize,
    shape: &'static str,
    f: Option<Value>,
    dof2: Option<Value>,
    p: Option<Value>,
    added_f: Option<Value>,
    added_p: Option<Value>,
    beyond: Option<usize>,
    aicc: Option<Value>,
    chosen: bool,
}

#[derive(Serialize)]
struct LackOfFit {
    f: Value,
    dof1: Value,
    dof2: Value,
    p: Value,
    p_word: &'static str,
}

#[derive(Serialize)]
struct OutlierRow {
    file: String,
    row: u64,
    residual: Value,
    p: Value,
}

/// The checks of `shape`, entry `place` of the result's list.
pub fn checks(shape: &Shape, place: usize, pen: Pen) -> Checks {
    let result = |name: String| in_result(format!("shape.{place}.{name}"));
    let page = |name: String| on_page(format!("shape.{place}.{name}"));
    let checks: Vec<Check> = shape
        .tests
        .iter()
        .enumerate()
        .map(|(row, test)| Check {
            question: words::question(test.name),
            name: words::test_name(test.name),
            outcome: words::outcome(test),
            statistic: test.statistic.map(|value| pen.statistic(value, result(format!("tests.{row}.statistic"))).cell()),
            p: test.p.map(|value| pen.probability(value, result(format!("tests.{row}.p"))).cell()),
            p_word: p_word(test.p),
            sentence: pen.told(&test.interpretation),
        })
        .collect();
    let orders = shape
        .orders
        .iter()
        .enumerate()
        .map(|(row, candidate)| Order {
            order: candidate.order,
            shape: match candidate.order {
                1 => "straight: taper only",
                2 => "bowed: taper and barrel",
                _ => "S-shaped: with a cubic part",
            },
            f: candidate.f.map(|value| pen.statistic(value, page(format!("orders.{row}.f"))).cell()),
            dof2: candidate.dof2.map(|value| pen.dof(value, page(format!("orders.{row}.dof2"))).cell()),
            p: candidate.p.map(|value| pen.probability(value, page(format!("orders.{row}.p"))).cell()),
            added_f: candidate.added.map(|added| pen.statistic(added.f, page(format!("orders.{row}.added.f"))).cell()),
            added_p: candidate.added.map(|added| pen.probability(added.p, page(format!("orders.{row}.added.p"))).cell()),
            beyond: candidate.added.map(|added| added.beyond),
            aicc: candidate.aicc.map(|value| pen.with_unit(value, 2, "", page(format!("orders.{row}.aicc"))).cell()),
            chosen: candidate.chosen,
        })
        .collect();
    let outliers = shape
        .outliers
        .iter()
        .enumerate()
        .map(|(row, outlier)| OutlierRow {
            file: outlier.file.clone(),
            row: outlier.row,
            residual: pen.fine(outlier.residual, shape.repeatability, result(format!("outliers.{row}.residual"))).cell(),
            p: pen.probability(outlier.p, result(format!("outliers.{row}.p"))).cell(),
        })
        .collect();
    Checks {
        setting: shape.setting,
        made: shape.tests.iter().filter(|test| test.p.is_some()).count(),
        checks,
        orders,
        order: pen.count(shape.order, result("order".into())).cell(),
        lack_of_fit: shape.lack_of_fit.as_ref().map(|fit| LackOfFit {
            f: pen.statistic(fit.f, result("lack_of_fit.f".into())).cell(),
            dof1: pen.dof(fit.dof1, result("lack_of_fit.dof1".into())).cell(),
            dof2: pen.dof(fit.dof2, result("lack_of_fit.dof2".into())).cell(),
            p: pen.probability(fit.p, result("lack_of_fit.p".into())).cell(),
            p_word: p_word(Some(fit.p)),
        }),
        outliers,
        outliers_untested: shape.outliers_untested,
        fine_unit: pen.units.fine().symbol,
    }
}

/// What stands before a tail probability in a sentence: its text below a thousandth begins with `<`.
fn p_word(p: Option<f64>) -> &'static str {
    if p.is_some_and(|p| p < 0.001) { "p" } else { "p =" }
}
