//! What to measure where, and which way is positive.

use super::super::drawing::{Canvas, Ink, Side};
use super::super::quantity::{Pen, on_page};
use crate::trial::{Holding, Trial};

const LETTERS: f64 = 12.5;

/// The bar as it is held, with its stations, and which way a taper is positive.
pub fn bar(trial: &Trial, stations_mm: &[f64], pen: Pen) -> String {
    let (left, right, axis) = (110.0, 600.0, 84.0);
    let length = trial.bar.length_mm.max(1e-9);
    let place = |z: f64| left + (right - left) * z / length;
    let radius = (0.5 * trial.bar.diameter_mm * (right - left) / length).clamp(10.0, 30.0);
    let mut canvas = Canvas::new(720, 220, LETTERS);
    let end = trial.bar.relief_diameter_mm.map_or(radius, |relief| radius * (relief / trial.bar.diameter_mm.max(1e-9)).clamp(0.3, 1.0));
    if trial.bar.collars_mm.is_empty() {
        canvas.block((left, axis - radius), (right, axis + radius));
    } else {
        canvas.block((left, axis - 0.9 * end), (right, axis + 0.9 * end));
        for [from, to] in &trial.bar.collars_mm {
            canvas.block((place(*from), axis - radius), (place(*to), axis + radius));
        }
    }
    if trial.bar.holding == Holding::Centres {
        canvas.area(&[(left - 40.0, axis - 16.0), (left, axis), (left - 40.0, axis + 16.0)], Ink::Band);
        canvas.line(&[(left - 40.0, axis - 16.0), (left, axis), (left - 40.0, axis + 16.0)], Ink::Fit, 1.2);
    } else {
        canvas.block((left - 46.0, axis - 52.0), (left - 12.0, axis + 52.0));
        canvas.block((left - 12.0, axis - 40.0), (left, axis - radius)).block((left - 12.0, axis + radius), (left, axis + 40.0));
    }
    if trial.bar.holding != Holding::Chuck {
        canvas.area(&[(right + 40.0, axis - 16.0), (right, axis), (right + 40.0, axis + 16.0)], Ink::Band);
        canvas.line(&[(right + 40.0, axis - 16.0), (right, axis), (right + 40.0, axis + 16.0)], Ink::Fit, 1.2);
    }
    canvas.write((left - 20.0, 14.0), Side::Middle, "headstock").write((right + 50.0, 14.0), Side::Middle, "tailstock");
    let mut last = f64::NEG_INFINITY;
    for z in stations_mm {
        let x = place(*z);
        canvas.line(&[(x, axis - radius - 9.0), (x, axis + radius + 9.0)], Ink::Series(1), 1.3);
        // a label only where there is room for it
        if x - last > 38.0 {
            canvas.write((x, axis + radius + 22.0), Side::Middle, &pen.length(*z, on_page("station")).number_text());
            last = x;
        }
    }
    let below = axis + radius + 46.0;
    canvas.line(&[(left, below - 5.0), (left, below + 5.0)], Ink::Axis, 1.2).arrow((left, below), (left + 150.0, below), Ink::Axis);
    let origin = if trial.bar.holding == Holding::Centres { "the headstock centre" } else { "the front of the jaws" };
    canvas.write((left + 160.0, below), Side::Right, &format!("station, {}, counted from {origin}", pen.units.length().symbol));
    canvas.arrow((right, below + 30.0), (right - 150.0, below + 30.0), Ink::Series(0));
    canvas.write((right - 160.0, below + 30.0), Side::Left, "cut to the headstock");
    canvas.write((right + 8.0, below + 30.0), Side::Right, "larger here: +");
    canvas.finish(
        "draw-bar",
        "Where the bar is read",
        "The bar as it is held, headstock on the left. Short lines mark the stations, counted towards the tailstock. A taper is positive when the tailstock end is larger.",
    )
}

/// The bed seen from the tailstock end with a level across the ways.
pub fn level() -> String {
    let mut canvas = Canvas::new(720, 210, LETTERS);
    // the bed leans: rear way high
    canvas.block((200.0, 138.0), (250.0, 170.0)).block((430.0, 122.0), (480.0, 154.0));
    canvas.line(&[(180.0, 170.0), (500.0, 170.0)], Ink::Zero, 1.0);
    let bridge = [(205.0, 136.0), (475.0, 119.0), (475.0, 103.0), (205.0, 120.0), (205.0, 136.0)];
    canvas.area(&bridge[..4], Ink::Band).line(&bridge, Ink::Fit, 1.2);
    canvas.line(&[(280.0, 113.0), (400.0, 105.5)], Ink::Series(0), 9.0);
    canvas.circle((372.0, 96.0), 4.0, Ink::Series(0));
    canvas.write((225.0, 188.0), Side::Middle, "front way").write((455.0, 188.0), Side::Middle, "rear way");
    canvas.write((150.0, 150.0), Side::Left, "operator");
    canvas.write((340.0, 64.0), Side::Middle, "level on the carriage or a bridge");
    canvas.arrow((520.0, 154.0), (520.0, 110.0), Ink::Series(1)).write((532.0, 130.0), Side::Right, "rear way high: +");
    canvas.write((340.0, 20.0), Side::Middle, "seen from the tailstock end");
    canvas.finish(
        "draw-level",
        "Which way a roll is positive",
        "The bed seen from the tailstock end, the front way at the operator's side on the left, a level across the ways. The reading is positive when the rear way is high, whichever way the level faces.",
    )
}

/// The lathe from above with an indicator on the carriage touching a ground test bar.
pub fn indicator(centres: bool) -> String {
    let mut canvas = Canvas::new(720, 230, LETTERS);
    if centres {
        canvas.line(&[(70.0, 54.0), (110.0, 70.0), (70.0, 86.0)], Ink::Fit, 1.2).line(
            &[(630.0, 54.0), (590.0, 70.0), (630.0, 86.0)],
            Ink::Fit,
            1.2,
        );
    } else {
        canvas.block((64.0, 28.0), (110.0, 112.0));
    }
    canvas.block((110.0, 58.0), (590.0, 82.0));
    canvas.line(&[(40.0, 70.0), (660.0, 70.0)], Ink::Guide, 0.8);
    canvas.block((300.0, 150.0), (400.0, 186.0)).circle((350.0, 128.0), 15.0, Ink::Fit);
    canvas.arrow((350.0, 113.0), (350.0, 84.0), Ink::Series(1));
    canvas.write((372.0, 126.0), Side::Right, "plunger at axis height, on the operator's side");
    canvas.write((410.0, 158.0), Side::Right, "carriage").write(
        (410.0, 180.0),
        Side::Right,
        "reading rises as the plunger is pushed in: +",
    );
    canvas.write((240.0, 44.0), Side::Middle, "ground test bar").write((80.0, 14.0), Side::Middle, "headstock");
    canvas.write((350.0, 212.0), Side::Middle, "operator").write((640.0, 14.0), Side::Middle, "seen from above");
    canvas.arrow((290.0, 168.0), (180.0, 168.0), Ink::Axis).arrow((180.0, 168.0), (290.0, 168.0), Ink::Axis);
    canvas.finish(
        "draw-indicator",
        "How the indicator touches the test bar",
        "The lathe seen from above, headstock on the left, operator below. An indicator on the carriage touches the ground test bar at axis height on the operator's side; its reading rises as the plunger is pushed in.",
    )
}
