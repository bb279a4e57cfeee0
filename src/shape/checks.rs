//! Every check on the fit, in the contract's order, with one plain sentence each.

use super::cut::Cut;
use super::lack_of_fit::lack_of_fit;
use super::pooled::{PooledFit, pooled_fit};
use super::taper_fit::TaperFit;
use super::{FittedReading, LackOfFit, OrderCandidate, Outlier, ShapeTest};
use crate::statistics::distributions::f_sf;
use crate::trial::Trial;

/// What the checks give to the shape.
pub(super) struct Checked {
    pub tests: Vec<ShapeTest>,
    pub lack_of_fit: Option<LackOfFit>,
    pub outliers: Vec<Outlier>,
    pub points: Vec<FittedReading>,
}

/// Level of every test on the page.
pub(super) const LEVEL: f64 = 0.05;

pub(super) fn check_fit(_trial: &Trial, cut: &Cut<'_>, _fit: &TaperFit, drawn: &PooledFit, orders: &[OrderCandidate]) -> Checked {
    let lack = lack_of_fit(cut, drawn);
    let points = points(cut, drawn);
    let tests = vec![lack_test(lack.as_ref()), order_test(drawn, orders), direction_test(cut, drawn)];
    Checked { tests, lack_of_fit: lack, outliers: Vec::new(), points }
}

fn points(cut: &Cut<'_>, drawn: &PooledFit) -> Vec<FittedReading> {
    let readings = cut.finishing.iter().flat_map(|pass| pass.readings.iter().map(move |reading| (pass, reading)));
    readings
        .zip(&drawn.rows)
        .enumerate()
        .map(|(index, ((pass, reading), row))| {
            let (studentised, cook) = studentise(drawn, row);
            FittedReading {
                place: reading.source.place,
                pass: pass.number,
                direction: pass.direction,
                station_mm: reading.source.station_mm,
                cutting_order: index + 1,
                diameter_mm: reading.source.diameter_mm,
                fitted_mm: reading.source.diameter_mm - row.residual_mm,
                residual_mm: row.residual_mm,
                studentised,
                leverage: row.leverage,
                cook,
                outlier: false,
            }
        })
        .collect()
}

/// Externally studentised residual `e/(s₍ᵢ₎√(1−h))` and Cook's distance `e²h/(p s²(1−h)²)` (Cook, Weisberg 1982, eq. 2.2.7, 3.2.2).
fn studentise(fit: &PooledFit, row: &super::pooled::PooledRow) -> (Option<f64>, Option<f64>) {
    let room = 1.0 - row.leverage;
    if room < 1e-9 || fit.dof <= 0.0 || fit.residual_square <= 0.0 {
        return (None, None);
    }
    let square = row.weight * row.residual_mm * row.residual_mm;
    let terms = fit.rows.len() as f64 - fit.dof;
    let cook = square * row.leverage / (terms * fit.residual_square / fit.dof * room * room);
    let without = (fit.residual_square - square / room) / (fit.dof - 1.0);
    let studentised = (fit.dof > 1.0 && without > 0.0).then(|| row.weight.sqrt() * row.residual_mm / (without * room).sqrt());
    (studentised, Some(cook))
}

fn made(name: &'static str, statistic: f64, p: f64, interpretation: String) -> ShapeTest {
    ShapeTest { name, statistic: Some(statistic), p: Some(p), interpretation }
}

fn not_made(name: &'static str, why: &str) -> ShapeTest {
    ShapeTest { name, statistic: None, p: None, interpretation: why.to_owned() }
}

fn lack_test(lack: Option<&LackOfFit>) -> ShapeTest {
    match lack {
        None => not_made(
            "lack-of-fit",
            "Not made: it needs readings repeated at one station within one pass; two readings at each station would allow it.",
        ),
        Some(l) if l.p < LEVEL => made(
            "lack-of-fit",
            l.f,
            l.p,
            "The stations stray from the fitted curve by more than repeated readings explain (p below 0.05): there is shape that this curve does not follow."
                .to_owned(),
        ),
        Some(l) => made(
            "lack-of-fit",
            l.f,
            l.p,
            "The stations stray from the fitted curve no more than repeated readings explain (p not below 0.05): no sign of further shape.".to_owned(),
        ),
    }
}

fn order_test(drawn: &PooledFit, orders: &[OrderCandidate]) -> ShapeTest {
    let tried = orders.iter().filter(|o| o.order > 1).collect::<Vec<_>>();
    let Some(first) = tried.first() else {
        return not_made(
            "order",
            "Not made: a bend cannot be tested with fewer than four distinct stations; the curve is a straight line by default.",
        );
    };
    let shown = tried.iter().find(|o| o.order == drawn.order).unwrap_or(first);
    let (Some(f), Some(p)) = (shown.f, shown.p) else {
        return not_made(
            "order",
            "Not made: no degrees of freedom, or no scatter, to judge a bend against; more stations or repeats would allow it.",
        );
    };
    let sentence = match drawn.order {
        1 => "A straight line is enough: no higher term has both p below 0.05 by F and a smaller AICc.".to_owned(),
        2 => "The bar is bent along its length: the second-order term has p below 0.05 by F and a smaller AICc.".to_owned(),
        order => format!("The shape needs a curve of order {order}: its terms have p below 0.05 by F and a smaller AICc."),
    };
    made("order", f, p, sentence)
}

fn direction_test(cut: &Cut<'_>, drawn: &PooledFit) -> ShapeTest {
    const NAME: &str = "direction";
    if drawn.directions.len() < 2 {
        return not_made(
            NAME,
            "Not made: all finishing passes were cut one way; a pass cut the other way would show what turns over with the direction.",
        );
    }
    let Some(common) = pooled_fit(cut, drawn.order, false, true) else {
        return not_made(NAME, "Not made: the stations do not determine a common curve.");
    };
    if drawn.dof < 1.0 || drawn.residual_square <= 0.0 {
        return not_made(NAME, "Not made: no scatter is left to judge the difference against; more stations or repeats would allow it.");
    }
    let terms = common.dof - drawn.dof;
    let f = ((common.residual_square - drawn.residual_square).max(0.0) / terms) / (drawn.residual_square / drawn.dof);
    match f_sf(f, terms, drawn.dof) {
        Some(p) if p < LEVEL => made(
            NAME,
            f,
            p,
            "The taper depends on the direction of cut (p below 0.05): part of it is not the machine's geometry but turns over with the cut, as tool wear and warming do."
                .to_owned(),
        ),
        Some(p) => made(NAME, f, p, "The taper does not differ between the directions of cut by more than the scatter explains (p not below 0.05).".to_owned()),
        None => not_made(NAME, "Not made: the ratio could not be formed."),
    }
}
