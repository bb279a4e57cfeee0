//! The sheet that is taken to the machine before cutting: what to measure, why so much, and a box for every reading.

mod boxes;
mod drawings;
mod told;

use super::page::CannotRender;
use super::prose::Prose;
use super::quantity::{Pen, on_page};
use super::sections::records::json_text;
use super::units::{PageOptions, Units};
use super::words;
use crate::plan::{Plan, PlanOption, Stiff, blank_logs};
use crate::trial::{Holding, LogUnits};
use minijinja::{Environment, Value, context};

const TEMPLATES: [(&str, &str); 3] = [
    ("plan.html", include_str!("../../../templates/plan.html")),
    ("style.css", include_str!("../../../templates/style.css")),
    ("cautions.html", include_str!("../../../templates/cautions.html")),
];

/// The unit of the blank logs that belong to a sheet in `units`.
#[must_use]
pub fn log_units(units: Units) -> LogUnits {
    match units {
        Units::Millimetre => LogUnits::Millimetre,
        Units::Inch => LogUnits::Inch,
    }
}

/// Why the bar must not be cut as planned, as plain text for the terminal; `None` where it may be cut.
#[must_use]
pub fn plan_refusal(plan: &Plan, options: &PageOptions) -> Option<String> {
    told::refusal(plan, Pen { units: options.units }).map(|prose| prose.plain())
}

/// The printable sheet of `plan`: one self-contained HTML file, drawings as inline SVG; its numbers have names on the page only.
///
/// # Errors
/// When a template fails, which is a fault of the program.
pub fn plan_sheet_html(plan: &Plan, options: &PageOptions) -> Result<String, CannotRender> {
    let pen = Pen { units: options.units };
    let planned = &plan.planned;
    let advised = plan.option();
    let mut environment = Environment::new();
    environment.set_trim_blocks(true);
    environment.set_lstrip_blocks(true);
    for (name, source) in TEMPLATES {
        environment.add_template(name, source)?;
    }
    let safe = Value::from_safe_string;
    let stations = advised.map_or(&[][..], |option| option.scheme.stations_mm.as_slice());
    let centres = planned.bar.holding == Holding::Centres;
    let view = context! {
        name => &planned.identity.name,
        print_name => super::page::print_name(&planned.identity.name),
        program => context! { name => env!("CARGO_PKG_NAME"), version => env!("CARGO_PKG_VERSION"), seed => plan.seed },
        head => head(plan, pen),
        acceptance => false,
        witness => "",
        measured_by => "",
        refusal => told::refusal(plan, pen).map(|prose| prose.html()),
        too_slender => plan.stiffness.verdict == Stiff::No,
        heavy_borne => plan.stiffness.heavy_times.is_some(),
        driver => if centres { "the carrier" } else { "the chuck’s jaws" },
        origin => told::origin(plan, pen).html(),
        lead => advised.map(|option| told::lead(plan, option, pen).html()),
        stiffness => told::stiffness(plan, pen).iter().map(Prose::html).collect::<Vec<_>>(),
        besides => advised.map_or("", told::besides),
        wanted => told::causes(&plan.wanted),
        asked => !plan.wanted.is_empty(),
        open => (!plan.not_separated().is_empty()).then(|| told::causes(&plan.not_separated())),
        options => plan.options.iter().enumerate().map(|(place, option)| row(option, place == plan.advised, pen)).collect::<Vec<_>>(),
        chosen => told::chosen(plan),
        promise => advised.map(|option| told::promise(option, pen).html()),
        spread_differs => plan.scatter.between_pass_um > 0.0,
        between_pass => pen.micrometres(plan.scatter.between_pass_um, on_page("plan.between_pass_um")).html(),
        fine_unit => pen.units.fine().symbol,
        length_unit => pen.units.length().symbol,
        causes => plan.foreseen.iter().map(|one| context! {
            name => told::cause(one.cause),
            before => pen.micrometres(one.before_um, on_page("plan.cause.before")).cell(),
            after => pen.micrometres(one.after_um, on_page("plan.cause.after")).cell(),
            says => if one.separate {
                "told from the others".to_owned()
            } else if one.only_with.is_empty() {
                "hardly seen".to_owned()
            } else {
                format!("only together with {}", told::causes(&one.only_with))
            },
        }).collect::<Vec<_>>(),
        good_test => told::good_test(options.units),
        bar_drawing => safe(drawings::bar(planned, stations, pen)),
        level_drawing => (!planned.levels.is_empty()).then(|| safe(drawings::level())),
        indicator_drawing => (!planned.indicator.is_empty()).then(|| safe(drawings::indicator(centres))),
        level_boxes => boxes::levels(planned, pen),
        indicator_boxes => boxes::indicator(planned, pen),
        pass_boxes => boxes::passes(planned, pen),
        diameter_unit_word => if options.units == Units::Inch { "inches" } else { "millimetres" },
        logs => blank_logs(planned, log_units(options.units)).iter().map(|log| log.name.clone()).collect::<Vec<_>>(),
        assumed => planned.assumed.iter().map(|one| (one.key.clone(), json_text(&one.value), one.why.clone())).collect::<Vec<_>>(),
    };
    Ok(environment.get_template("plan.html")?.render(view)?)
}

fn row(option: &PlanOption, advised: bool, pen: Pen) -> Value {
    context! {
        advised => advised,
        scheme => told::scheme(option),
        readings => option.scheme.readings(),
        minutes => pen.with_unit(option.minutes, 0, "", on_page("plan.option.minutes")).cell(),
        metal => pen.with_unit(option.metal_mm / pen.units.length().mm, if pen.units == Units::Inch { 3 } else { 2 }, "", on_page("plan.option.metal_mm")).cell(),
        standard => told::fine(pen, option.standard_uncertainty_mm, "plan.option.standard_uncertainty_mm").cell(),
        expanded => told::fine(pen, option.expanded_mm, "plan.option.expanded_mm").cell(),
        with_spread => told::fine(pen, option.expanded_with_spread_mm, "plan.option.expanded_with_spread_mm").cell(),
        meets => option.meets.map(|meets| if meets { "yes" } else { "no" }),
        cannot => told::cannot(option),
    }
}

/// The lines of the head: what will be tested, with what.
fn head(plan: &Plan, pen: Pen) -> Vec<(&'static str, Value)> {
    let planned = &plan.planned;
    let bar = &planned.bar;
    let gauge = &planned.gauge.diameter;
    let written = |value: f64, name: &str| pen.fine_as_written(value, on_page(name));
    let bar_text = Prose::new(bar.material.map_or("material not named", words::material))
        .text(", ")
        .number(pen.length(bar.diameter_mm, on_page("bar.diameter_mm")))
        .text(" diameter, ")
        .number(pen.length(bar.length_mm, on_page("bar.length_mm")))
        .text(if bar.holding == Holding::Chuck { " out of the chuck" } else { " long" });
    let gauge_text = Prose::new(gauge.name.clone().unwrap_or_else(|| "not named".to_owned()))
        .text("; step ")
        .number(written(gauge.resolution_mm, "gauge.resolution_mm"))
        .text(", standard uncertainty of one reading ")
        .number(written(gauge.u_mm, "gauge.u_mm"));
    vec![
        ("Machine", Prose::new(planned.machine.name.as_deref().unwrap_or("not stated")).html()),
        ("Bar", bar_text.html()),
        ("Held", Prose::new(words::holding(bar.holding)).html()),
        ("Diameter gauge", gauge_text.html()),
    ]
}
