//! Sorts analyses by machine and date.

use super::change::{by_moves, by_repair};
use super::decided::{decision_changes, limit_remark};
use super::state::state_of;
use super::stretch::stretches;
use super::values::{History, LeftOut, Machine, MovedFoot, Visit};
use crate::analysis::Analysis;
use crate::correction::Window;
use crate::physics::moves::raise_mm;
use crate::quantities::Interval;
use crate::shape::Shape;
use crate::trial::{DiameterGauge, Holding, Trial};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Tested lengths that differ by less than this share are alike.
const ALIKE: f64 = 0.005;

/// Machine (lower case), serial number, holding.
type Key = (String, String, u8);

/// The history of `analyses`: a section for each machine and way of holding, trials by date (by name on one day).
///
/// A trial without a date, or without a setting that has a shape, is left out with the reason.
#[must_use]
pub fn history(analyses: &[Analysis]) -> History {
    let mut groups: BTreeMap<Key, Vec<(Date, &Analysis)>> = BTreeMap::new();
    let mut left_out = Vec::new();
    let serials = serials(analyses);
    for analysis in analyses {
        let trial = &analysis.trial;
        let date = trial.identity.date.as_deref().map(str::parse::<Date>);
        let reason = match date {
            None => "it states no date: write `date = 2026-03-14`, say, into [trial] of its trial.toml",
            Some(Err(_)) => "its date cannot be read: write it as 2026-03-14",
            Some(Ok(_)) if analysis.shape.is_empty() => "no setting of it has a taper",
            Some(Ok(date)) => {
                groups.entry(key(trial, &serials)).or_default().push((date, analysis));
                continue;
            }
        };
        left_out.push(LeftOut { trial: trial.identity.name.clone(), reason: reason.to_owned() });
    }
    let machines = groups
        .into_values()
        .filter_map(|mut group| {
            group.sort_by(|a, b| (a.0, &a.1.trial.identity.name).cmp(&(b.0, &b.1.trial.identity.name)));
            machine(&group)
        })
        .collect();
    History { machines, left_out }
}

fn plain(text: Option<&str>) -> String {
    text.unwrap_or_default().trim().to_lowercase()
}

/// The serial numbers that the trials of each machine's name state.
fn serials(analyses: &[Analysis]) -> BTreeMap<String, Vec<String>> {
    let mut found: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for analysis in analyses {
        let machine = &analysis.trial.machine;
        let (name, serial) = (plain(machine.name.as_deref()), plain(machine.serial.as_deref()));
        let known = found.entry(name).or_default();
        if !serial.is_empty() && !known.contains(&serial) {
            known.push(serial);
        }
    }
    found
}

/// Trials without a serial number belong to the machine of their name, unless that name has several.
fn key(trial: &Trial, serials: &BTreeMap<String, Vec<String>>) -> Key {
    let name = plain(trial.machine.name.as_deref());
    let serial = match serials.get(&name).map(Vec::as_slice) {
        Some([only]) => only.clone(),
        _ => plain(trial.machine.serial.as_deref()),
    };
    let holding = match trial.bar.holding {
        Holding::Chuck => 0,
        Holding::ChuckAndCentre => 1,
        Holding::Centres => 2,
    };
    (name, serial, holding)
}

fn machine(group: &[(Date, &Analysis)]) -> Option<Machine> {
    let (_, latest) = group.last()?;
    let length_mm = latest.shape.iter().max_by_key(|shape| shape.setting)?.tested_length.length;
    let visits: Vec<Visit> = group.iter().filter_map(|(date, analysis)| visit(*date, analysis, length_mm)).collect();
    let scaled =
        visits.iter().flat_map(|visit| [&visit.found, &visit.left]).any(|state| (state.tested_length_mm / length_mm - 1.0).abs() > ALIKE);
    let window = Window::of(&latest.trial, length_mm);
    let gauges: Vec<&DiameterGauge> = group.iter().map(|(_, analysis)| &analysis.trial.gauge.diameter).collect();
    let mut changes = Vec::new();
    for (place, visit) in visits.iter().enumerate() {
        let same = place.checked_sub(1).and_then(|before| Some(same_gauge(gauges.get(before)?, gauges.get(place)?))).unwrap_or(false);
        changes.extend(by_repair(place, &visits, same));
        changes.extend(by_moves(place, visit));
    }
    let stated = |of: fn(&Trial) -> Option<&String>| group.iter().rev().find_map(|(_, analysis)| of(&analysis.trial).cloned());
    Some(Machine {
        name: stated(|trial| trial.machine.name.as_ref()),
        serial: stated(|trial| trial.machine.serial.as_ref()),
        holding: latest.trial.bar.holding,
        length_mm,
        scaled,
        limit_mm: (!window.assumed).then_some(Interval { low: window.low_mm, high: window.high_mm }),
        stretches: stretches(&visits),
        decision_changes: decision_changes(&visits),
        remarks: remarks(group, &gauges).into_iter().chain(limit_remark(&visits)).collect(),
        visits,
        changes,
    })
}

fn visit(date: Date, analysis: &Analysis, length_mm: f64) -> Option<Visit> {
    let first: &Shape = analysis.shape.iter().min_by_key(|shape| shape.setting)?;
    let last: &Shape = analysis.shape.iter().max_by_key(|shape| shape.setting)?;
    let trial = &analysis.trial;
    let feet = trial.machine.feet.as_ref();
    let within = |setting: u32| (first.setting..=last.setting).contains(&setting);
    Some(Visit {
        trial: trial.identity.name.clone(),
        date: date.to_string(),
        year: year_of(date),
        repair: trial.identity.repair.clone(),
        found: state_of(analysis, first, length_mm),
        left: state_of(analysis, last, length_mm),
        moved: trial
            .moves
            .iter()
            .filter(|logged| within(logged.from_setting) && within(logged.to_setting))
            .map(|logged| MovedFoot { foot: logged.foot, raise_mm: raise_mm(logged, feet) })
            .collect(),
    })
}

/// A day as a year with its fraction: 1 January is whole.
#[must_use]
pub fn year_of(date: Date) -> f64 {
    f64::from(date.year()) + (f64::from(date.day_of_year()) - 1.0) / f64::from(date.days_in_year())
}

/// Whether two gauges are the same piece: both named, with the same name and serial number.
fn same_gauge(one: &DiameterGauge, other: &DiameterGauge) -> bool {
    one.name.is_some() && one.serial.is_some() && (&one.name, &one.serial) == (&other.name, &other.serial)
}

fn remarks(group: &[(Date, &Analysis)], gauges: &[&DiameterGauge]) -> Vec<String> {
    let mut said = Vec::new();
    let trials: Vec<&Trial> = group.iter().map(|(_, analysis)| &analysis.trial).collect();
    let differ =
        |of: &dyn Fn(&Trial) -> f64| trials.windows(2).any(|pair| matches!(pair, [a, b] if (of(a) - of(b)).abs() > ALIKE * of(a).abs()));
    if trials.iter().all(|trial| trial.machine.name.is_none()) {
        said.push(
            "No trial names its machine. They are taken for trials of one machine; state [machine] name so that machines are kept apart."
                .to_owned(),
        );
    }
    if differ(&|trial| trial.bar.diameter_mm) || differ(&|trial| trial.bar.length_mm) {
        said.push(
            "The bars differ in diameter or free length, so they bend differently under the cut: part of a change may be the bar's."
                .to_owned(),
        );
    }
    said.extend(gauges_remark(gauges));
    if group.windows(2).any(|pair| matches!(pair, [a, b] if a.0 == b.0)) {
        said.push("Some trials were made on one day; they are taken in the order of their names.".to_owned());
    }
    said
}

/// What is not known of the trials' diameter gauges being one piece; `None` where all state one name and one serial number.
fn gauges_remark(gauges: &[&DiameterGauge]) -> Option<String> {
    if gauges.len() < 2 {
        return None;
    }
    let stated = |of: fn(&DiameterGauge) -> Option<&str>| -> Vec<String> {
        gauges.iter().map(|gauge| plain(of(gauge))).filter(|text| !text.is_empty()).collect()
    };
    let (names, serials) = (stated(|gauge| gauge.name.as_deref()), stated(|gauge| gauge.serial.as_deref()));
    let differ = |texts: &[String]| texts.windows(2).any(|pair| matches!(pair, [a, b] if a != b));
    let what = if differ(&serials) || differ(&names) {
        "Not all trials were read with the same diameter gauge, by its name or serial number."
    } else if names.is_empty() {
        "No trial names its diameter gauge, so nobody knows whether it was the same one."
    } else if names.len() < gauges.len() {
        "Some trials do not name their diameter gauge, so nobody knows whether it was the same one."
    } else if serials.is_empty() {
        "All trials name the same diameter gauge but no serial number, so nobody knows whether it was the same one."
    } else if serials.len() < gauges.len() {
        "All trials name the same diameter gauge, but some state no serial number, so nobody knows whether it was the same one."
    } else {
        return None;
    };
    Some(format!("{what} A gauge's calibration cancels in each taper by itself, so the tapers stay comparable."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gauges_are_called_unlike_only_where_what_is_stated_differs() {
        let gauge = |name: Option<&str>, serial: Option<&str>| DiameterGauge {
            name: name.map(str::to_owned),
            serial: serial.map(str::to_owned),
            calibrated: None,
            certificate: None,
            resolution_mm: 0.001,
            u_mm: 0.001,
            calibration_u_mm: 0.0,
        };
        let said = |a: DiameterGauge, b: DiameterGauge| gauges_remark(&[&a, &b]).unwrap_or_default();
        let micrometer = Some("Micrometer");
        assert_eq!(said(gauge(micrometer, Some("1")), gauge(Some("micrometer"), Some("1"))), "");
        for (a, b, begins) in [
            (gauge(micrometer, None), gauge(micrometer, None), "All trials name the same diameter gauge but no serial number, so nobody"),
            (
                gauge(micrometer, Some("1")),
                gauge(micrometer, None),
                "All trials name the same diameter gauge, but some state no serial number",
            ),
            (gauge(micrometer, Some("1")), gauge(micrometer, Some("2")), "Not all trials were read with the same diameter gauge"),
            (gauge(micrometer, None), gauge(Some("caliper"), None), "Not all trials were read with the same diameter gauge"),
            (gauge(micrometer, None), gauge(None, None), "Some trials do not name their diameter gauge"),
            (gauge(None, None), gauge(None, None), "No trial names its diameter gauge"),
        ] {
            let said = said(a, b);
            assert!(said.starts_with(begins), "{said}");
        }
    }
}
