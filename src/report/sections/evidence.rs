//! What each log brought to the causes, and whether the joint model reproduces it.

use crate::analysis::Analysis;
use crate::causes::{LogEvidence, Prediction};
use crate::quantities::grouped;
use crate::report::drawing::{Axis, CannotDraw, Ink, Look, Marker, Plot, SERIES, draw_line, draw_markers, range_of};
use crate::report::number::{decimals_for_figures, decimals_for_uncertainty, fixed};
use crate::report::prose::Prose;
use crate::report::quantity::{Pen, Quantity, on_page};
use crate::report::words;
use minijinja::Value;
use serde::Serialize;

/// One log.
#[derive(Serialize)]
pub struct Brought {
    log: &'static str,
    readings: String,
    taught: Vec<Value>,
    refused: Vec<String>,
}

/// What each log of `analysis` brought.
pub fn brought(analysis: &Analysis, pen: Pen) -> Vec<Brought> {
    let settings = analysis.shape.len();
    analysis.evidence.iter().enumerate().map(|(row, log)| of_log(row, log, settings, pen)).collect()
}

fn of_log(row: usize, log: &LogEvidence, settings: usize, pen: Pen) -> Brought {
    let taught = log
        .learned
        .iter()
        .enumerate()
        .map(|(place, learned)| {
            let key = |name: &str| on_page(format!("evidence.{row}.learned.{place}.{name}"));
            let name = words::cause_name(learned.cause);
            let name = if settings > 1 { format!("{name}, setting {}", learned.setting) } else { name.to_owned() };
            let without = pen.micrometres(learned.without_um, key("without_um"));
            let with = pen.micrometres(learned.with_um, key("with_um"));
            let alike = without.plain() == with.plain() && learned.without_um > 0.0;
            let prose = Prose::new(format!("{name}: ± ")).number(without).text(" without it, ");
            if alike {
                // as rounded they are the same
                let less = 1.0 - learned.with_um / learned.without_um;
                prose.number(pen.percent(less, 0, key("less"))).text(" less with it").html()
            } else {
                prose.text("± ").number(with).text(" with it").html()
            }
        })
        .collect();
    Brought {
        log: log.log,
        readings: fixed(log.readings as f64, 0),
        taught,
        refused: log.refused.iter().map(|reason| words::sentence_case(&pen.sentence(reason))).collect(),
    }
}

/// How well the joint model reproduces the readings of one gauge.
#[derive(Serialize)]
pub struct Reproduced {
    name: String,
    svg: Value,
    sentence: String,
    scatter: Value,
    unit: &'static str,
    length_unit: &'static str,
    reading_unit: &'static str,
    several_settings: bool,
    /// What is left out of a long log.
    thinned: Option<String>,
    rows: Vec<Row>,
}

/// One reading: plain text, because a long log has many.
#[derive(Serialize)]
struct Row {
    place: String,
    setting: u32,
    pass: Option<u32>,
    station: String,
    reading: String,
    predicted: String,
    residual: String,
}

/// Unit in which residuals of a log are shown, how many of the log’s unit it is, and its symbol.
fn residual_unit(fit: &Prediction, pen: Pen) -> (f64, &'static str) {
    match (fit.unit, pen.units.fine()) {
        ("mm", fine) => (fine.mm, fine.symbol),
        (_, fine) if fine.symbol == "thou" => (25.4 / 304.8, "thou/ft"),
        _ => (1e-3, "µm/m"),
    }
}

/// The predictive checks of `analysis`, one a log and gauge.
pub fn reproduced(analysis: &Analysis, pen: Pen) -> Result<Vec<Reproduced>, CannotDraw> {
    analysis.predictions.iter().enumerate().map(|(place, fit)| of_fit(analysis, place, fit, pen)).collect()
}

fn of_fit(analysis: &Analysis, place: usize, fit: &Prediction, pen: Pen) -> Result<Reproduced, CannotDraw> {
    let (unit, symbol) = residual_unit(fit, pen);
    let key = |name: &str| on_page(format!("fits.{place}.{name}"));
    let in_unit = |value: f64, name: &str| -> Quantity {
        pen.with_unit(value / unit, decimals_for_uncertainty(fit.noise / unit) + 1, symbol, key(name))
    };
    let scatter = Prose::new("Residuals, root mean square: ")
        .number(in_unit(fit.rms_residual, "rms_residual"))
        .text("; one reading’s standard deviation as learned from all logs: ")
        .number(in_unit(fit.noise, "noise"))
        .text("; from the data sheet, step included: ")
        .number(in_unit(fit.data_sheet, "data_sheet"))
        .text(".");
    let name = name_of(fit);
    Ok(Reproduced {
        svg: Value::from_safe_string(picture(fit, place, &name, pen)?),
        name,
        sentence: pen.sentence(&fit.interpretation),
        scatter: scatter.html(),
        unit: symbol,
        length_unit: pen.units.length().symbol,
        reading_unit: if fit.unit == "mm" { pen.units.length().symbol } else { symbol },
        thinned: thinned(fit, pen),
        several_settings: fit.readings.windows(2).any(|pair| matches!(pair, [a, b] if a.setting != b.setting)),
        rows: rows(analysis, fit, pen),
    })
}

/// What is left out of a long log; `None` where every reading is shown.
fn thinned(fit: &Prediction, pen: Pen) -> Option<String> {
    (fit.readings.len() < fit.total).then(|| {
        let what = match fit.stretch_mm {
            Some(mm) => {
                pen.sentence(&format!("means of the readings of one pass in a stretch of {} mm", fixed(mm, decimals_for_figures(mm, 2))))
            }
            None if fit.means => "means of the readings repeated at one station of one pass, or of passes taken together".to_owned(),
            None => "readings".to_owned(),
        };
        format!(
            "Of {} readings {} {what} are drawn and listed, those that bound the others; the root mean square is that of every reading.",
            grouped(fit.total),
            grouped(fit.readings.len()),
        )
    })
}

/// `Diameters`, `Levels` …, with the gauge where it has a name of its own.
fn name_of(fit: &Prediction) -> String {
    let log = words::sentence_case(fit.log);
    fit.gauge.split_once('.').map_or_else(|| log.clone(), |(_, gauge)| format!("{log}, gauge {gauge}"))
}

fn rows(analysis: &Analysis, fit: &Prediction, pen: Pen) -> Vec<Row> {
    let (unit, _) = residual_unit(fit, pen);
    let of_log = if fit.unit == "mm" { pen.units.length().mm } else { unit };
    let decimals = |u: f64| decimals_for_uncertainty(u) + 1;
    fit.readings
        .iter()
        .map(|reading| Row {
            place: analysis
                .trial
                .inputs
                .get(reading.place.file)
                .map_or_else(String::new, |input| format!("{} line {}", input.file, reading.place.row)),
            setting: reading.setting,
            pass: reading.pass,
            station: pen.length(reading.station_mm, on_page("station")).number_text(),
            reading: fixed(reading.reading / of_log, decimals(fit.noise / of_log)),
            predicted: fixed(reading.predicted / of_log, decimals(fit.noise / of_log)),
            residual: fixed(reading.residual / unit, decimals(fit.noise / unit)),
        })
        .collect()
}

/// Residuals against station, a series a setting, with twice the learned standard deviation either way.
fn picture(fit: &Prediction, place: usize, name: &str, pen: Pen) -> Result<String, CannotDraw> {
    let (unit, symbol) = residual_unit(fit, pen);
    let length = pen.units.length();
    let mut settings: Vec<u32> = fit.readings.iter().map(|reading| reading.setting).collect();
    settings.sort_unstable();
    settings.dedup();
    let twice = 2.0 * fit.noise / unit;
    let outside = fit.readings.iter().filter(|reading| reading.residual.abs() > 2.0 * fit.noise).count();
    let plot = Plot {
        id: &format!("reproduced-{place}"),
        size: (400, 300),
        title: format!("{name}: residuals of the joint model"),
        description: format!(
            "{} residuals{} in {symbol} against station; {outside} of them lie beyond twice the standard deviation of one reading, which dashed lines show.",
            fit.readings.len(),
            if fit.means { " of mean readings" } else { "" },
        ),
        x: range_of(fit.readings.iter().map(|reading| reading.station_mm / length.mm), 0.05, 1.0 / length.mm),
        y: range_of(fit.readings.iter().map(|reading| reading.residual / unit).chain([1.1 * twice, -1.1 * twice]), 0.06, 1e-3),
        axis: Axis::Numbers,
        x_label: format!("station, {}", length.symbol),
        y_label: format!("reading − model, {symbol}"),
    };
    plot.draw(|chart, sheet| {
        let (from, to) = (plot.x.start, plot.x.end);
        sheet.open_group("zero", "As the model says");
        draw_line(chart, vec![(from, 0.0), (to, 0.0)], Ink::Zero, 1.0)?;
        sheet.close_group();
        sheet.open_group("guide", "Twice the standard deviation of one reading either way");
        for height in [twice, -twice] {
            draw_line(chart, vec![(from, height), (to, height)], Ink::Guide, 1.0)?;
        }
        sheet.close_group();
        for (series, setting) in settings.iter().enumerate() {
            let number = u8::try_from(series % usize::from(SERIES)).unwrap_or(0);
            let marker = Marker::ALL.get(usize::from(number)).copied().unwrap_or(Marker::Round);
            let look = Look { marker, open: series > 0, ink: Ink::Series(number), radius: 3.0, aside: 0.0 };
            let own = fit.readings.iter().filter(|reading| reading.setting == *setting);
            let points: Vec<(f64, f64)> = own.map(|reading| (reading.station_mm / length.mm, reading.residual / unit)).collect();
            sheet.open_group("setting", &format!("Setting {setting}"));
            draw_markers(chart, &points, look)?;
            sheet.close_group();
        }
        Ok(())
    })
}
