//! Times of cutting that no cut has: a clock of twelve hours, one time out of order, a pass of many hours. Drift is told from them.

use super::super::collector::Collector;
use super::super::moments::{Clock, DAY_MIN};
use super::super::passes::at;
use super::super::settings::shown;
use super::time_order::{HALF_DAY_MIN, Kind, OUT_MIN, Shows, Slip, Timed, lasts_min, slip_of};
use crate::findings::Severity;
use crate::trial::Trial;

/// Longest log whose times are looked at: longer ones are written by machines.
const SEARCHED: usize = 100_000;

/// Gives the readings their times, minutes since the earliest, and asks about passes whose times neither rise nor fall, along the rows or along the stations.
///
/// Times of day that go on from 12:55 with 1:00, in a log that has none of 13:00 or later, are by a clock of twelve hours: these are read as of the afternoon,
/// and so are whole passes below them with earlier times from 1:00 to 11:59, and it is said. Everything else is used as logged.
pub(in crate::ingest) fn settle(mut minutes: Vec<f64>, clock: Option<Clock>, trial: &mut Trial, collector: &mut Collector) {
    let Some(clock) = clock.filter(|_| !minutes.is_empty() && minutes.len() <= SEARCHED) else {
        return trial.diameters.set_times(minutes);
    };
    let shows = Shows { clock, since: minutes.get(clock.row).copied().unwrap_or(0.0) };
    let passes = passes(&minutes, trial);
    for rows in &passes {
        // a pass above may have moved those below it
        let timed: Vec<Timed> = rows.iter().filter_map(|row| Some(Timed { minutes: *minutes.get(row.row)?, ..*row })).collect();
        let Some(slip) = slip_of(&timed, &shows) else { continue };
        let mut later = |rows: &mut dyn Iterator<Item = usize>, by_min: f64| {
            rows.for_each(|row| minutes.iter_mut().skip(row).take(1).for_each(|minute| *minute += by_min));
        };
        match slip.kind {
            Kind::Midnight { from_min } => later(&mut timed.iter().filter(|one| one.minutes < from_min).map(|one| one.row), DAY_MIN),
            Kind::Afternoon { from_min } => {
                later(&mut timed.iter().filter(|one| one.minutes < from_min).map(|one| one.row), HALF_DAY_MIN);
                let last = timed.iter().map(|one| one.row).max().unwrap_or(0);
                // a pass below is of the afternoon as a whole or not at all
                let is_below = |pass: &&Vec<Timed>| pass.iter().all(|one| one.row > last);
                for pass in passes.iter().filter(is_below) {
                    let now = || pass.iter().filter_map(|one| minutes.get(one.row).copied());
                    if now().all(|minute| minute < from_min && shows.is_before_noon(minute)) {
                        pass.iter().for_each(|one| minutes.iter_mut().skip(one.row).take(1).for_each(|minute| *minute += HALF_DAY_MIN));
                    }
                }
            }
            _ => {}
        }
        say(&slip, &timed, &shows, trial, collector);
    }
    let earliest = minutes.iter().copied().filter(|minute| !minute.is_nan()).fold(f64::INFINITY, f64::min);
    minutes.iter_mut().for_each(|minute| *minute -= earliest);
    trial.diameters.set_times(minutes);
}

/// The rows with a time of every cut, in the order of the log.
fn passes(minutes: &[f64], trial: &Trial) -> Vec<Vec<Timed>> {
    let log = &trial.diameters;
    let mut passes = vec![Vec::new(); log.cuts().len()];
    for (row, minutes) in minutes.iter().copied().enumerate().filter(|(_, minutes)| !minutes.is_nan()) {
        if let Some(pass) = passes.get_mut(log.cut_number(row) as usize) {
            pass.push(Timed { row, station_mm: log.station_mm(row), minutes });
        }
    }
    passes
}

fn say(slip: &Slip, pass: &[Timed], shows: &Shows, trial: &Trial, collector: &mut Collector) {
    let index = slip.index;
    let Some(here) = pass.get(index) else { return };
    let cut = trial.diameters.cut(here.row);
    let text = |minutes: f64| shows.text(minutes);
    let of = format!("in pass {} of setting {}", cut.pass, cut.setting);
    let lasts = duration(lasts_min(pass));
    let (code, found, help) = match &slip.kind {
        Kind::Midnight { .. } => return,
        Kind::Afternoon { from_min } => (
            "times-out-of-order",
            format!(
                "{} after {} {of}: a clock of twelve hours",
                text(here.minutes),
                text(pass.iter().map(|one| one.minutes).filter(|minutes| minutes >= from_min).fold(*from_min, f64::max))
            ),
            format!(
                "it is read as {}, and passes below with earlier times as of the afternoon too: write 13:00, or 1:00 pm; if it was at night write the date as well",
                text(here.minutes + HALF_DAY_MIN)
            ),
        ),
        Kind::HalfDay { later_min } => (
            "times-out-of-order",
            format!("{} {of}, whose other times are half a day away", text(here.minutes)),
            format!("perhaps {}; the times are used as logged: mend them, or drift is told wrongly", text(here.minutes + later_min)),
        ),
        Kind::Odd { between } => {
            let (low, high) = match between {
                (Some(before), Some(behind)) => (before.min(*behind), before.max(*behind)),
                (one, other) => {
                    let end = one.or(*other).unwrap_or(here.minutes);
                    (end - OUT_MIN, end + OUT_MIN)
                }
            };
            let beside: Vec<String> = [between.0, between.1].into_iter().flatten().map(text).collect();
            // the minutes as they are written, in the hour that puts them in order
            let meant = (-24..=24).map(|hours| here.minutes + 60.0 * f64::from(hours)).find(|meant| (low..=high).contains(meant));
            let meant = meant.map_or_else(|| "perhaps a slip".to_owned(), |meant| format!("perhaps {}", text(meant)));
            (
                "times-out-of-order",
                format!("{} {of}, next to {}: out of the order of all others", text(here.minutes), beside.join(" and ")),
                format!("{meant}; it is used as logged: mend it, or drift is told wrongly"),
            )
        }
        Kind::Jump => {
            let above = index.checked_sub(1).and_then(|above| pass.get(above)).map_or(here.minutes, |above| above.minutes);
            (
                "times-out-of-order",
                format!("{} below {} {of}, whose times go to and fro over {lasts}", text(here.minutes), text(above)),
                "a cut goes along the bar once: write in time when each station was cut, in measured_at when it was read; the times are used as logged"
                    .to_owned(),
            )
        }
        Kind::Long => (
            "long-pass",
            format!("{} {of}, which by its times lasts {lasts}", text(here.minutes)),
            "a cut along a bar takes minutes: write in time when each station was cut, in measured_at when it was read; the times are used as logged"
                .to_owned(),
        ),
    };
    let place = trial.diameters.place(here.row);
    collector.remark(|| at(code, Severity::Warning, place, &trial.inputs, found, &help).in_column("time"));
}

/// Minutes in words: `1 h 55 min`.
fn duration(minutes: f64) -> String {
    let whole = minutes.round();
    let (hours, rest) = ((whole / 60.0).floor(), whole % 60.0);
    if hours > 0.0 { format!("{} h {rest} min", shown(hours)) } else { format!("{rest} min") }
}
