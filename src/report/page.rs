//! The page: one self-contained HTML file, from templates that are parsed once.

use super::carried::Carried;
use super::drawing::CannotDraw;
use super::prose::Prose;
use super::quantity::{Pen, escape_into, in_result};
use super::sections::{
    acceptance, budget, causes, checks, correction, diameters, evidence, found, limits, priors, records, residuals, unknown,
};
use super::units::{PageOptions, Units};
use super::{number, result, words};
use crate::analysis::Analysis;
use crate::trial::{Holding, Trial};
use minijinja::{Environment, UndefinedBehavior, Value, context};
use std::sync::OnceLock;

/// The page could not be made.
#[derive(Debug, thiserror::Error)]
pub enum CannotRender {
    /// A picture failed.
    #[error(transparent)]
    Picture(#[from] CannotDraw),
    /// A template failed.
    #[error("a template failed: {0}")]
    Template(#[from] minijinja::Error),
}

const TEMPLATES: [(&str, &str); 19] = [
    ("page.html", include_str!("../../templates/page.html")),
    ("style.css", include_str!("../../templates/style.css")),
    ("macros.html", include_str!("../../templates/macros.html")),
    ("head.html", include_str!("../../templates/head.html")),
    ("sheet.html", include_str!("../../templates/sheet.html")),
    ("found.html", include_str!("../../templates/found.html")),
    ("limits.html", include_str!("../../templates/limits.html")),
    ("causes.html", include_str!("../../templates/causes.html")),
    ("correction.html", include_str!("../../templates/correction.html")),
    ("diameters.html", include_str!("../../templates/diameters.html")),
    ("residuals.html", include_str!("../../templates/residuals.html")),
    ("reproduced.html", include_str!("../../templates/reproduced.html")),
    ("checks.html", include_str!("../../templates/checks.html")),
    ("budget.html", include_str!("../../templates/budget.html")),
    ("unknown.html", include_str!("../../templates/unknown.html")),
    ("readings.html", include_str!("../../templates/readings.html")),
    ("method.html", include_str!("../../templates/method.html")),
    ("inputs.html", include_str!("../../templates/inputs.html")),
    ("cautions.html", include_str!("../../templates/cautions.html")),
];

/// The templates, parsed on first use.
fn templates() -> Result<&'static Environment<'static>, CannotRender> {
    static PARSED: OnceLock<Result<Environment<'static>, String>> = OnceLock::new();
    PARSED
        .get_or_init(|| {
            let mut environment = Environment::new();
            environment.set_undefined_behavior(UndefinedBehavior::Strict);
            environment.set_trim_blocks(true);
            environment.set_lstrip_blocks(true);
            environment.set_formatter(write_escaped);
            for (name, source) in TEMPLATES {
                environment.add_template(name, source).map_err(|error| error.to_string())?;
            }
            Ok(environment)
        })
        .as_ref()
        .map_err(|error| minijinja::Error::new(minijinja::ErrorKind::SyntaxError, error.clone()).into())
}

/// Writes a value of a template: text is escaped by the one function that all of the page uses.
fn write_escaped(out: &mut minijinja::Output, state: &minijinja::State, value: &Value) -> Result<(), minijinja::Error> {
    match value.as_str() {
        Some(text) if !value.is_safe() => {
            let mut escaped = String::with_capacity(text.len() + 16);
            escape_into(&mut escaped, text);
            out.write_str(&escaped)?;
            Ok(())
        }
        _ => minijinja::escape_formatter(out, state, value),
    }
}

/// The whole page of `analysis`.
///
/// One HTML file: no script, no network, pictures as inline SVG, every text of a log escaped. Numbers carry their value in the result
/// file's unit and their key path there, whatever units are shown.
///
/// # Errors
/// When a picture or a template fails, which is a fault of the program.
pub fn page_html(analysis: &Analysis, options: &PageOptions) -> Result<String, CannotRender> {
    let pen = Pen { units: options.units };
    let trial = &analysis.trial;
    let shapes = || analysis.shape.iter().enumerate();
    let pictures: Vec<_> = shapes().map(|(place, shape)| diameters::diameters(shape, place, trial, pen)).collect::<Result<_, _>>()?;
    let residual_pictures: Vec<_> =
        shapes().map(|(place, shape)| residuals::residuals(shape, place, trial, pen)).collect::<Result<_, _>>()?;
    let budgets: Vec<_> = shapes().map(|(place, shape)| budget::budget(shape, place, pen)).collect::<Result<_, _>>()?;
    let carried = Carried::of(analysis, options.units);
    let view = context! {
        name => &trial.identity.name,
        print_name => print_name(&trial.identity.name),
        program => context! { name => env!("CARGO_PKG_NAME"), version => env!("CARGO_PKG_VERSION"), schema => result::SCHEMA, seed => analysis.seed },
        inch => options.units == Units::Inch,
        head => head(trial, pen),
        acceptance => trial.identity.paper.as_deref() == Some("acceptance"),
        witness => &trial.identity.witness,
        measured_by => &trial.identity.measured_by,
        sheet => acceptance::sheet(analysis, pen),
        warnings => words::warnings(analysis, pen),
        found => shapes().map(|(place, shape)| found::found(analysis, shape, place, pen)).collect::<Vec<_>>(),
        limits => limits::limits(analysis, pen),
        assumed => records::assumed(trial),
        several => analysis.shape.len() > 1,
        causes => causes::causes(analysis, pen)?,
        next_move => correction::next_move(analysis, pen)?,
        brought => evidence::brought(analysis, pen),
        reproduced => evidence::reproduced(analysis, pen)?,
        priors => priors::priors(trial, pen),
        diameters => pictures,
        residuals => residual_pictures,
        checks => shapes().map(|(place, shape)| checks::checks(shape, place, pen)).collect::<Vec<_>>(),
        budgets => budgets,
        cannot_tell => unknown::cannot_tell(analysis, pen),
        readings => records::readings(analysis, pen),
        rules => words::RULES,
        rounding => number::RULE,
        inputs => records::inputs(trial, pen),
        too_large => carried.too_large(),
        carried => carried.html()?,
        findings => records::findings(analysis, pen),
    };
    Ok(templates()?.get_template("page.html")?.render(view)?)
}

/// What may stand in the style sheet's page margin: letters, digits, `.`, `_`, `-` and spaces.
pub(super) fn print_name(name: &str) -> String {
    name.chars().map(|letter| if letter.is_alphanumeric() || matches!(letter, '.' | '_' | '-' | ' ') { letter } else { '-' }).collect()
}

/// The lines of the page's head: what was tested, when, with what.
fn head(trial: &Trial, pen: Pen) -> Vec<(&'static str, Value)> {
    let stated = |text: &Option<String>| Prose::new(text.as_deref().unwrap_or("not stated")).html();
    let machine = trial.machine.name.as_deref().map_or_else(
        || "not stated".to_owned(),
        |name| trial.machine.serial.as_deref().map_or_else(|| name.to_owned(), |serial| format!("{name}, serial number {serial}")),
    );
    let bar = &trial.bar;
    let length = pen.length(bar.length_mm, in_result("trial.bar.length_mm"));
    let bar_text = Prose::new(bar.material.map_or("material not named", words::material))
        .text(", ")
        .number(pen.length(bar.diameter_mm, in_result("trial.bar.diameter_mm")))
        .text(if bar.holding == Holding::Chuck { " diameter, " } else { " diameter, length " })
        .number(length)
        .text(if bar.holding == Holding::Chuck { " out of the chuck" } else { "" });
    let gauge = &trial.gauge.diameter;
    let gauge_parts = [
        gauge.name.clone(),
        gauge.serial.as_ref().map(|serial| format!("serial number {serial}")),
        gauge.calibrated.as_ref().map(|date| format!("calibrated {date}")),
        gauge.certificate.as_ref().map(|certificate| format!("certificate {certificate}")),
    ];
    let named: Vec<String> = gauge_parts.into_iter().flatten().collect();
    let fine = |value: f64, name: &str| pen.fine_as_written(value, in_result(format!("trial.gauge.diameter.{name}")));
    let gauge_text = Prose::new(if named.is_empty() { "not named".to_owned() } else { named.join(", ") })
        .text("; step ")
        .number(fine(gauge.resolution_mm, "resolution_mm"))
        .text(", u of one reading ")
        .number(fine(gauge.u_mm, "u_mm"))
        .text(", of calibration ")
        .number(fine(gauge.calibration_u_mm, "calibration_u_mm"));
    let mut lines = vec![
        ("Machine", Prose::new(machine).html()),
        ("Date", stated(&trial.identity.date)),
        ("Measured by", stated(&trial.identity.measured_by)),
        ("Bar", bar_text.html()),
        ("Held", Prose::new(words::holding(bar.holding)).html()),
        ("Diameter gauge", gauge_text.html()),
    ];
    lines.extend(trial.identity.purpose.as_ref().map(|purpose| ("Purpose", Prose::new(purpose.as_str()).html())));
    lines.extend(trial.identity.notes.as_ref().map(|notes| ("Notes", Prose::new(notes.as_str()).html())));
    lines
}
