//! The history page: a section for each machine, with pictures over the years. Every number's key is its path in what `history --format json` prints.

mod decisions;
mod pictures;
mod told;

use super::page::CannotRender;
use super::quantity::{Key, Pen, Quantity, in_result};
use super::units::{PageOptions, Units};
use super::words;
use crate::history::{Change, Cutover, Difference, Figure, History, Machine, State, Visit};
use crate::trial::Direction;
use minijinja::{Environment, Value, context};
use serde::Serialize;

const TEMPLATES: [(&str, &str); 3] = [
    ("history.html", include_str!("../../../templates/history.html")),
    ("style.css", include_str!("../../../templates/style.css")),
    ("cautions.html", include_str!("../../../templates/cautions.html")),
];

/// Name and version of the layout of [`history_json`].
pub const HISTORY_SCHEMA: &str = "taperwright-history/1";

#[derive(Serialize)]
struct HistoryFile<'h> {
    schema: &'static str,
    program: Program,
    #[serde(flatten)]
    history: &'h History,
}

#[derive(Serialize)]
struct Program {
    name: &'static str,
    version: &'static str,
}

/// The history as one JSON object on one line, lengths in mm, without a line end.
#[must_use]
pub fn history_json(history: &History) -> String {
    let program = Program { name: env!("CARGO_PKG_NAME"), version: env!("CARGO_PKG_VERSION") };
    serde_json::to_string(&HistoryFile { schema: HISTORY_SCHEMA, program, history }).unwrap_or_default()
}

/// A few lines for the terminal: each machine with its trials, its drift and its changes.
#[must_use]
pub fn history_summary(history: &History, units: Units) -> String {
    let pen = Pen { units };
    let mut lines = Vec::new();
    for (place, machine) in history.machines.iter().enumerate() {
        lines.push(format!("{}: {}", one_line(&told::title(machine)), words::counted(machine.visits.len(), "trial", "trials")));
        for (row, visit) in machine.visits.iter().enumerate() {
            let taper = &visit.left.taper;
            let path = path_of_state(place, row, "left");
            lines.push(format!(
                "  {}  {}: taper {} over {}, 95 % interval {} to {}",
                visit.date,
                one_line(&visit.trial),
                signed(pen, taper, &path).plain(),
                pen.length(machine.length_mm, in_result(format!("machines.{place}.length_mm"))).plain(),
                end(pen, taper.interval95.low, taper, in_result(format!("{path}.taper.interval95.0"))).plain(),
                end(pen, taper.interval95.high, taper, in_result(format!("{path}.taper.interval95.1"))).plain(),
            ));
        }
        lines.extend(
            (0..machine.changes.len())
                .filter_map(|row| told::change(machine, place, row, pen))
                .map(|prose| format!("  {}", one_line(&prose.plain()))),
        );
        lines.extend(
            (0..machine.stretches.len())
                .filter_map(|row| told::stretch(machine, place, row, pen))
                .map(|prose| format!("  {}", one_line(&prose.plain()))),
        );
        lines.extend(told::decided(machine).map(|prose| format!("  {}", one_line(&prose.plain()))));
        lines.extend(told::decision_changes(machine).iter().map(|sentence| format!("  {}", one_line(sentence))));
        lines.extend(machine.remarks.iter().map(|remark| format!("  {remark}")));
    }
    lines.push(String::new());
    lines.join("\n")
}

fn one_line(text: &str) -> String {
    text.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect()
}

/// The history page.
///
/// # Errors
/// When a picture or the template fails, which is a fault of the program.
pub fn history_html(history: &History, options: &PageOptions) -> Result<String, CannotRender> {
    let pen = Pen { units: options.units };
    let mut environment = Environment::new();
    environment.set_trim_blocks(true);
    environment.set_lstrip_blocks(true);
    for (name, source) in TEMPLATES {
        environment.add_template(name, source)?;
    }
    let machines: Vec<Value> =
        history.machines.iter().enumerate().map(|(place, machine)| section(machine, place, pen)).collect::<Result<_, _>>()?;
    let names: Vec<String> = history.machines.iter().map(told::title).collect();
    Ok(environment.get_template("history.html")?.render(context! {
        heading => if let [only] = names.as_slice() { only.clone() } else { words::counted(names.len(), "machine", "machines") },
        one => names.len() == 1,
        machines,
        left_out => &history.left_out,
        acceptance => false,
        length_unit => pen.units.length().symbol,
        unit => pen.units.difference().symbol,
        program => context! { name => env!("CARGO_PKG_NAME"), version => env!("CARGO_PKG_VERSION"), schema => HISTORY_SCHEMA },
    })?)
}

fn section(machine: &Machine, place: usize, pen: Pen) -> Result<Value, CannotRender> {
    let safe = Value::from_safe_string;
    let stretches: Vec<Value> =
        (0..machine.stretches.len()).filter_map(|row| told::stretch(machine, place, row, pen)).map(|prose| prose.html()).collect();
    let charted = machine.stretches.iter().rposition(|stretch| !stretch.ewma.is_empty());
    Ok(context! {
        place => place,
        title => told::title(machine),
        lead => told::lead(machine, place, pen).html(),
        stretches,
        changes => (0..machine.changes.len()).filter_map(|row| told::change(machine, place, row, pen)).map(|prose| prose.html()).collect::<Vec<_>>(),
        remarks => &machine.remarks,
        length => pen.length(machine.length_mm, in_result(format!("machines.{place}.length_mm"))).html(),
        scaled => machine.scaled,
        limited => machine.limit_mm.is_some(),
        headstock => machine.visits.iter().any(|visit| visit.left.direction == Some(Direction::ToHeadstock)),
        moved => machine.visits.iter().any(|visit| visit.found.setting != visit.left.setting),
        repaired => machine.changes.iter().any(|change| change.kind == Cutover::Repair),
        taper_svg => safe(pictures::tapers(machine, place, pen)?),
        ewma_svg => match charted { Some(row) => Some(safe(pictures::ewma(machine, place, row, pen)?)), None => None },
        ewma_rows => charted.map(|row| ewma_rows(machine, place, row, pen)),
        barrel_svg => pictures::barrels(machine, place, pen)?.map(safe),
        cause_svgs => pictures::causes(machine, place, pen)?.into_iter().map(|(name, svg, sentence)| context! { name, svg => safe(svg), sentence }).collect::<Vec<_>>(),
        rows => machine.visits.iter().enumerate().flat_map(|(row, visit)| states(visit, place, row, pen)).collect::<Vec<_>>(),
        cause_heads => pictures::causes_shown(machine).iter().map(|cause| words::sentence_case(words::cause_name(*cause))).collect::<Vec<_>>(),
        cause_rows => cause_rows(machine, place, pen),
        change_tables => change_tables(machine, place, pen),
        decided => told::decided(machine).map(|prose| prose.html()),
        decision_changes => told::decision_changes(machine),
        limits => decisions::limit_tables(machine, place, pen),
    })
}

/// Path of a state in the JSON.
fn path_of_state(place: usize, row: usize, which: &str) -> String {
    format!("machines.{place}.visits.{row}.{which}")
}

/// A taper with its sign, rounded to its interval.
fn signed(pen: Pen, figure: &Figure, path: &str) -> Quantity {
    pen.difference(figure.value, figure.interval95.half_width(), in_result(format!("{path}.taper.value")))
}

fn end(pen: Pen, value: f64, figure: &Figure, key: Key) -> Quantity {
    pen.end(value, figure.interval95, key)
}

/// The rows of a trial: as found and as left where feet were moved, else one.
fn states(visit: &Visit, place: usize, row: usize, pen: Pen) -> Vec<Value> {
    let moved = visit.found.setting != visit.left.setting;
    let left = state_row(visit, &visit.left, (place, row, "left"), if moved { "as left" } else { "" }, pen);
    if moved { vec![state_row(visit, &visit.found, (place, row, "found"), "as found", pen), left] } else { vec![left] }
}

fn state_row(visit: &Visit, state: &State, at: (usize, usize, &str), which: &str, pen: Pen) -> Value {
    let path = path_of_state(at.0, at.1, at.2);
    let key = |name: &str| in_result(format!("{path}.{name}"));
    let cells = |figure: &Figure, name: &str| {
        let half = figure.interval95.half_width();
        (
            pen.difference(figure.value, half, key(&format!("{name}.value"))).cell(),
            end(pen, figure.interval95.low, figure, key(&format!("{name}.interval95.0"))).cell(),
            end(pen, figure.interval95.high, figure, key(&format!("{name}.interval95.1"))).cell(),
        )
    };
    context! {
        date => &visit.date,
        trial => &visit.trial,
        which => which,
        setting => pen.count(state.setting as usize, key("setting")).cell(),
        readings => pen.count(state.readings, key("readings")).cell(),
        passes => pen.count(state.passes, key("passes")).cell(),
        tested => pen.length(state.tested_length_mm, key("tested_length_mm")).cell(),
        taper => cells(&state.taper, "taper"),
        barrel => state.barrel.as_ref().map(|barrel| cells(barrel, "barrel")),
    }
}

fn ewma_rows(machine: &Machine, place: usize, row: usize, pen: Pen) -> Vec<Value> {
    let Some(stretch) = machine.stretches.get(row) else { return Vec::new() };
    let key = |point: usize, name: &str| in_result(format!("machines.{place}.stretches.{row}.ewma.{point}.{name}"));
    let told = stretch.points.iter().zip(&stretch.ewma).enumerate().filter_map(|(point, (at, value))| {
        let visit = machine.visits.get(at.visit)?;
        let half = value.limits.half_width();
        Some(context! {
            date => &visit.date,
            trial => &visit.trial,
            average => pen.difference(value.average, 0.3 * half, key(point, "average")).cell(),
            low => pen.difference(value.limits.low, 0.3 * half, key(point, "limits.0")).cell(),
            high => pen.difference(value.limits.high, 0.3 * half, key(point, "limits.1")).cell(),
            outside => value.outside,
        })
    });
    told.collect()
}

fn cause_rows(machine: &Machine, place: usize, pen: Pen) -> Vec<Value> {
    let shown = pictures::causes_shown(machine);
    let row = |(row, visit): (usize, &Visit)| {
        let cells: Vec<Value> = shown
            .iter()
            .map(|cause| {
                let index = visit.left.causes.iter().position(|each| each.cause == *cause);
                let found = index.and_then(|index| Some((index, visit.left.causes.get(index)?)));
                let Some((index, state)) = found else { return Value::from(()) };
                let figure = &state.contribution_um;
                let path = format!("machines.{place}.visits.{row}.left.causes.{index}.contribution_um");
                let half = figure.interval95.half_width();
                let key = |name: &str| in_result(format!("{path}.{name}"));
                let end = |value: f64, name: &str| pen.signed_end_um(value, figure.interval95, key(name)).cell();
                context! {
                    value => pen.signed_um(figure.value, half, key("value")).cell(),
                    low => end(figure.interval95.low, "interval95.0"),
                    high => end(figure.interval95.high, "interval95.1"),
                    verdict => if state.told_by_log { words::verdict(state.verdict) } else { "hardly told by this log" },
                }
            })
            .collect();
        context! { date => &visit.date, trial => &visit.trial, cells }
    };
    if shown.is_empty() { Vec::new() } else { machine.visits.iter().enumerate().map(row).collect() }
}

/// A table for each repair or move.
fn change_tables(machine: &Machine, place: usize, pen: Pen) -> Vec<Value> {
    let table = |(index, change): (usize, &Change)| {
        let rows: Vec<Value> = change
            .differences
            .iter()
            .enumerate()
            .map(|(which, each)| change_row(each, &format!("machines.{place}.changes.{index}.differences.{which}"), pen))
            .collect();
        let shared: Vec<&str> = change.cancelled.iter().map(|code| words::component(code)).collect();
        context! {
            occasion => words::sentence_case(&told::occasion(machine, change)),
            rows,
            shared => if shared.is_empty() { None } else { Some(words::listed(&shared, "and")) },
        }
    };
    machine.changes.iter().enumerate().map(table).collect()
}

fn change_row(each: &Difference, path: &str, pen: Pen) -> Value {
    let half = each.difference.interval95.half_width();
    let um = each.unit == "um";
    let shown = |value: f64, name: &str| {
        let key = in_result(format!("{path}.{name}"));
        if um { pen.signed_um(value, half, key).cell() } else { pen.difference(value, half, key).cell() }
    };
    let edge = |value: f64, name: &str| {
        let key = in_result(format!("{path}.{name}"));
        if um {
            pen.signed_end_um(value, each.difference.interval95, key).cell()
        } else {
            pen.end(value, each.difference.interval95, key).cell()
        }
    };
    context! {
        quantity => told::quantity(each.quantity),
        before => shown(each.before, "before"),
        after => shown(each.after, "after"),
        difference => shown(each.difference.value, "difference.value"),
        low => edge(each.difference.interval95.low, "difference.interval95.0"),
        high => edge(each.difference.interval95.high, "difference.interval95.1"),
        shown => each.shown,
    }
}
