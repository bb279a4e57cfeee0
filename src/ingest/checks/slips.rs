//! Slips of a digit, a decimal mark or a unit, in one reading among others: told by what the others are.

use super::super::collector::Collector;
use super::super::passes::at;
use super::super::settings::{Stated, shown};
use super::sizes::{DIAMETERS_MM, used_rows};
use crate::findings::Severity;
use crate::quantities::MM_PER_INCH;
use crate::trial::Trial;
use std::collections::{HashMap, HashSet};

/// Diameters of one trial lie within these times their median; outside them one is a slip, or another bar.
pub(in crate::ingest) const ALIKE: std::ops::Range<f64> = 0.2..5.0;
/// How far from a slip's exact ratio a reading may lie: bars are turned down while a trial goes on.
const NEAR: f64 = 0.1;

/// How often too large a reading is after a slip: a digit too many or too few, a decimal mark left out or moved, another unit.
pub(in crate::ingest) const SLIPS: [(f64, &str, &str); 8] = [
    (10.0, "digit-slip", "a digit too many or a misplaced decimal mark"),
    (100.0, "digit-slip", "two digits too many or a misplaced decimal mark"),
    (1000.0, "digit-slip", "a decimal mark left out, or taken for a separator of thousands"),
    (0.1, "digit-slip", "a digit too few or a misplaced decimal mark"),
    (0.01, "digit-slip", "two digits too few or a misplaced decimal mark"),
    (0.001, "digit-slip", "a misplaced decimal mark"),
    (MM_PER_INCH, "unit-slip", "a reading in millimetres among inches"),
    (1.0 / MM_PER_INCH, "unit-slip", "a reading in inches among millimetres"),
];

/// The slip that makes a reading `ratio` times what the others are: its ratio, its code, and what it is.
pub(in crate::ingest) fn slip_of(ratio: f64) -> Option<(f64, &'static str, &'static str)> {
    SLIPS.into_iter().find(|(times, ..)| (ratio / times - 1.0).abs() < NEAR)
}

/// Diameters of less than a fifth or of five times the median, and those that no bar has. The latter are refused: a fit would drown in them. The others are
/// flagged and used; where a slip explains one, what was meant is said. Of two readings nobody knows which is the slip: the bar's stated diameter, if there
/// is one, tells.
pub(in crate::ingest) fn diameters(median: f64, stated: &Stated, collector: &mut Collector) {
    let trial = &stated.trial;
    let few = used_rows(trial).nth(2).is_none();
    let bar = Some(trial.bar.diameter_mm).filter(|bar| few && !stated.diameter_missing && *bar > 0.0);
    let usual = bar.unwrap_or(median);
    for row in used_rows(trial) {
        let Some(read_mm) = trial.diameters.read_mm().get(row).copied() else { continue };
        let ratio = read_mm / usual;
        let possible = DIAMETERS_MM.contains(&read_mm);
        if possible && ALIKE.contains(&ratio) {
            continue;
        }
        let slip = slip_of(ratio);
        let near = || {
            if bar.is_some() {
                format!("on a bar of {} mm", shown(usual))
            } else {
                format!("where the others are near {} mm", shown(usual))
            }
        };
        let found = || format!("a diameter of {} mm {}", shown(read_mm), near());
        let place = trial.diameters.place(row);
        let meant = |(times, _, what): (f64, &str, &str)| format!("perhaps {what}: {} mm", shown(read_mm / times));
        if possible {
            collector.remark(|| {
                let what = slip.map_or_else(|| "no lathe turns one bar so: perhaps a slip, or a second bar".to_owned(), meant);
                let either = if few && bar.is_none() { "; or the slip is in the other" } else { "" };
                let help = format!("{what}{either}; it is used as logged: mend it, or exclude it with a reason");
                let code = slip.map_or("diameters-far-apart", |(_, code, _)| code);
                at(code, Severity::Warning, place, &trial.inputs, found(), &help).in_column("diameter")
            });
        } else {
            collector.error(|| {
                let what = slip.map_or_else(|| "a slip, or no diameter".to_owned(), meant);
                let help =
                    format!("no turned bar is thinner than 0.1 mm or thicker than 10 m; {what}: mend it, or exclude it with a reason");
                at("absurd-size", Severity::Error, place, &trial.inputs, found(), &help).in_column("diameter")
            });
        }
    }
}

/// Longest log whose stations are looked at one after another: longer ones are written by machines.
const SEARCHED: usize = 100_000;
/// A station that lies as many times farther than the next nearest, and as many diameters of the bar out, is a slip.
const FAR_BEYOND: f64 = 30.0;
const FAR_OUT: f64 = 50.0;
/// Fewest other stations in order that tell a slip between them.
const OTHERS: usize = 4;
/// How far from each of its neighbours such a station lies, as a share of the way between them: in no order at all many a tenth lies near one of them.
const INSIDE: f64 = 0.2;
/// A reading in another unit among stations lies so near to the middle between its neighbours: many a whole number of inches lies between two others.
const MIDDLE: f64 = 0.03;
/// Steps from the last station but one in order to the end of a row, in the step before it: with the slip taken back; where that is the same step again; with no
/// slip to take back; and, at its other end, of a station that belongs there.
const STEP: std::ops::Range<f64> = 0.6..1.7;
const SAME_STEP: std::ops::Range<f64> = 0.95..1.05;
const ANY_STEP: f64 = 5.0;
const ITS_OWN_STEP: std::ops::Range<f64> = 0.3..3.0;
/// Whole numbers that spreadsheet programs show as dates of 2000 to 2099, days since the end of 1899.
const DATES: std::ops::Range<f64> = 36_526.0..73_051.0;

/// Stations that a slip made: far beyond all others; or, where the others of a pass stand in order, one between two of them that is out of it and, with the
/// slip taken back, in it. `median` is that of the diameters, mm.
pub(in crate::ingest) fn stations(median: f64, trial: &Trial, collector: &mut Collector) {
    let beyond = far_beyond(median, trial);
    let mut told = std::collections::BTreeSet::new();
    for row in used_rows(trial) {
        let station = trial.diameters.station_mm(row);
        let Some(nearest) = beyond.filter(|nearest| station > *nearest) else { continue };
        if told.insert(station.to_bits()) {
            say(row, trial, collector, format!("where the others end at {} mm", shown(nearest)), meant_beyond(station, nearest));
        }
    }
    if trial.diameters.len() > SEARCHED || beyond.is_some() {
        return;
    }
    let mut passes: Vec<Vec<usize>> = vec![Vec::new(); trial.diameters.cuts().len()];
    for row in used_rows(trial) {
        let Some(rows) = passes.get_mut(trial.diameters.cut_number(row) as usize) else { continue };
        // repeats of a station count once
        if rows.last().is_none_or(|last| trial.diameters.station_number(*last) != trial.diameters.station_number(row)) {
            rows.push(row);
        }
    }
    let mut uses: HashMap<u64, usize> = HashMap::new();
    for rows in &passes {
        let stations: HashSet<u64> = rows.iter().map(|row| trial.diameters.station_mm(*row).to_bits()).collect();
        stations.into_iter().for_each(|station| *uses.entry(station).or_default() += 1);
    }
    for rows in passes.iter().filter(|rows| rows.len() > OTHERS) {
        let stations: Vec<f64> = rows.iter().map(|row| trial.diameters.station_mm(*row)).collect();
        let elsewhere = |station: f64| {
            let here = usize::from(stations.contains(&station));
            uses.get(&station.to_bits()).is_some_and(|passes| *passes > here)
        };
        let between = out_of_order(&stations).map(|odd| (odd, "out of the order of the others"));
        let at_an_end = || beyond_an_end(&stations, elsewhere).map(|odd| (odd, "out of the order of the others, or far beyond them"));
        if let Some(((index, meant), beside)) = between.or_else(at_an_end)
            && let Some(row) = rows.get(index)
            && told.insert(trial.diameters.station_mm(*row).to_bits())
        {
            say(*row, trial, collector, beside.to_owned(), Some(meant));
        }
    }
}

fn say(row: usize, trial: &Trial, collector: &mut Collector, beside: String, meant: Option<String>) {
    let found = format!("a station at {} mm {beside}", shown(trial.diameters.station_mm(row)));
    let what = meant.map_or_else(|| "perhaps a slip".to_owned(), |meant| format!("perhaps {meant}"));
    let help = format!("{what}; it is used as logged: mend it, or exclude the reading with a reason");
    collector
        .remark(|| at("station-slip", Severity::Warning, trial.diameters.place(row), &trial.inputs, found, &help).in_column("station"));
}

/// The farthest station below a leap that no bar has: the next is [`FAR_BEYOND`] times as far and [`FAR_OUT`] diameters out.
fn far_beyond(median: f64, trial: &Trial) -> Option<f64> {
    let mut used = vec![false; trial.diameters.stations().len()];
    for row in used_rows(trial) {
        if let Some(slot) = used.get_mut(trial.diameters.station_number(row) as usize) {
            *slot = true;
        }
    }
    let stations = trial.diameters.stations().iter().zip(used).filter(|(_, used)| *used).map(|(station, _)| station.0);
    let mut sorted: Vec<f64> = stations.filter(|station| *station > 0.0).collect();
    sorted.sort_by(f64::total_cmp);
    sorted.windows(2).find_map(|pair| match pair {
        [near, far] if *far > FAR_BEYOND * near && *far > FAR_OUT * median => Some(*near),
        _ => None,
    })
}

/// What a station far beyond the others might have been.
fn meant_beyond(station: f64, nearest: f64) -> Option<String> {
    let slip = [1000.0, 100.0, 10.0].into_iter().find(|times| station / times <= 2.0 * nearest && station / times >= 0.1 * nearest);
    let slip = slip.map(|times| format!("a digit too many or a decimal mark left out: {} mm", shown(station / times)));
    let date = (station.fract() == 0.0 && DATES.contains(&station))
        .then(|| "a date, which spreadsheet programs count in days: make the cell a number and write the station again".to_owned());
    match (slip, date) {
        (Some(slip), Some(date)) => Some(format!("{slip}; or {date}")),
        (slip, date) => slip.or(date),
    }
}

/// The place of a station that stands out of the order of all others, and what it might have been; `None` where the others are in no order.
fn out_of_order(stations: &[f64]) -> Option<(usize, String)> {
    let in_order = |left_out: Option<usize>, way: f64| {
        let kept = || stations.iter().enumerate().filter(|(index, _)| Some(*index) != left_out).map(|(_, station)| way * station);
        kept().zip(kept().skip(1)).all(|(before, behind)| before < behind)
    };
    // what is left out is one of the two where the order first breaks
    let odd = [1.0, -1.0].into_iter().find_map(|way| {
        let breaks = stations.windows(2).position(|pair| matches!(pair, [before, behind] if way * before >= way * behind))?;
        (breaks..breaks + 2).filter(|odd| *odd > 0 && odd + 1 < stations.len()).find(|odd| in_order(Some(*odd), way))
    });
    let odd = odd.filter(|_| !in_order(None, 1.0) && !in_order(None, -1.0))?;
    let (before, here, behind) = (*stations.get(odd - 1)?, *stations.get(odd)?, *stations.get(odd + 1)?);
    let (low, high) = (before.min(behind), before.max(behind));
    SLIPS.into_iter().find_map(|(times, code, what)| {
        let meant = here / times;
        let way = (meant - low) / (high - low);
        let fits = if code == "unit-slip" { (way - 0.5).abs() < MIDDLE } else { way > INSIDE && 1.0 - way > INSIDE };
        fits.then(|| (odd, format!("{what}: {} mm", shown(meant))))
    })
}

/// The first or last station where all others are in order, and it lies behind its neighbour or far beyond it, and with a slip taken back one step further; and
/// what it might have been. `elsewhere` tells whether another pass has a station: one that has is no slip.
fn beyond_an_end(stations: &[f64], elsewhere: impl Fn(f64) -> bool) -> Option<(usize, String)> {
    let last = stations.len().checked_sub(1)?;
    let ends = [(last, last.checked_sub(1)?, last.checked_sub(2)?), (0, 1, 2)];
    ends.into_iter().find_map(|(end, next, third)| {
        let (here, next, third) = (*stations.get(end)?, *stations.get(next)?, *stations.get(third)?);
        let step = next - third;
        let others = stations.iter().enumerate().filter(|(index, _)| *index != end).map(|(_, station)| *station);
        let (behind, before) = (others.clone().skip(1), others.clone());
        let way = if end == 0 { -step } else { step };
        let in_order = behind.zip(before).all(|(behind, before)| (behind - before) * way > 0.0);
        let further = (here - next) / step;
        // it goes on with the steps at the other end
        let (start, second) = if end == 0 { (stations.len() - 1, stations.len() - 2) } else { (0, 1) };
        let at_start = |here: f64| Some((*stations.get(start)? - here) / (*stations.get(second)? - *stations.get(start)?));
        let is_at_start = |within: &std::ops::Range<f64>| at_start(here).is_some_and(|steps| within.contains(&steps));
        if !in_order || (0.0..=ANY_STEP).contains(&further) || elsewhere(here) || others.clone().any(|other| other == here) {
            return None;
        }
        SLIPS.into_iter().filter(|(_, code, _)| *code == "digit-slip").find_map(|(times, _, what)| {
            let meant = here / times;
            let steps = (meant - next) / step;
            let fits = SAME_STEP.contains(&steps) && !is_at_start(&SAME_STEP)
                || STEP.contains(&steps) && !is_at_start(&ITS_OWN_STEP)
                || steps > 0.0 && meant_elsewhere(meant, &elsewhere);
            let is_there = others.clone().any(|other| (other - meant).abs() < 1e-9 * meant.abs());
            (fits && !is_there).then(|| (end, format!("{what}: {} mm", shown(meant))))
        })
    })
}

/// Whether another pass has a station, to rounding of a division by ten.
fn meant_elsewhere(meant: f64, elsewhere: &impl Fn(f64) -> bool) -> bool {
    elsewhere(meant) || elsewhere((meant * 1e6).round() / 1e6)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_stands_out_of_an_order_and_fits_into_it() {
        let odd = |stations: &[f64]| out_of_order(stations).map(|(index, what)| (index, what.split(": ").nth(1).unwrap_or("").to_owned()));
        assert_eq!(odd(&[25.0, 55.0, 850.0, 115.0, 145.0]), Some((2, "85 mm".to_owned())));
        assert_eq!(odd(&[145.0, 115.0, 8.5, 55.0, 25.0]), Some((2, "85 mm".to_owned())));
        assert_eq!(odd(&[25.0, 55.0, 3.346, 115.0, 145.0]), Some((2, "84.9884 mm".to_owned())));
        // in order, in no order, out of it by no slip, there and back
        for honest in [
            &[25.0, 55.0, 85.0][..],
            &[85.0, 25.0, 145.0, 55.0],
            &[10.0, 125.0, 45.0, 150.0],
            &[20.0, 26.0, 520.0, 450.0, 540.0],
            &[25.0, 55.0, 140.0, 115.0, 145.0],
            &[1.0, 2.0, 3.0, 2.0, 1.0],
            &[50.0, 100.0, 5.0, 150.0, 200.0],
            &[],
            &[1.0],
        ] {
            assert_eq!(odd(honest), None, "{honest:?}");
        }
    }

    #[test]
    fn a_slip_at_an_end_goes_on_with_the_steps() {
        let far = |stations: &[f64], elsewhere: &[f64]| {
            beyond_an_end(stations, |station| elsewhere.contains(&station))
                .map(|(index, what)| (index, what.split(": ").nth(1).unwrap_or("").to_owned()))
        };
        let told = |index: usize, meant: &str| Some((index, meant.to_owned()));
        assert_eq!(far(&[200.0, 60.0, 100.0, 140.0, 180.0], &[]), told(0, "20 mm"));
        assert_eq!(far(&[20.0, 60.0, 100.0, 140.0, 18.0], &[]), told(4, "180 mm"));
        assert_eq!(far(&[20.0, 60.0, 100.0, 140.0, 1800.0], &[]), told(4, "180 mm"));
        assert_eq!(far(&[1800.0, 140.0, 100.0, 60.0, 20.0], &[]), told(0, "180 mm"));
        assert_eq!(far(&[180.0, 140.0, 100.0, 60.0, 200.0], &[]), told(4, "20 mm"));
        // other passes go much further than the step before
        assert_eq!(far(&[20.0, 40.0, 60.0, 80.0, 25.0], &[20.0, 40.0, 250.0]), told(4, "250 mm"));
        for (honest, elsewhere) in [
            (&[20.0, 60.0, 100.0, 140.0, 180.0][..], &[][..]),
            (&[20.0, 60.0, 100.0, 140.0, 300.0], &[]),
            (&[300.0, 20.0, 60.0, 100.0, 140.0], &[]),
            (&[180.0, 20.0, 60.0, 100.0, 140.0], &[]),
            (&[20.0, 60.0, 100.0, 140.0, 20.0], &[]),
            (&[20.0, 60.0, 100.0, 140.0, 25.0], &[]),
            // another pass has it too
            (&[20.0, 60.0, 100.0, 140.0, 18.0], &[18.0]),
            // it stands among the others already
            (&[60.0, 60.0, 18.0], &[]),
            (&[180.0, 140.0, 100.0, 60.0, 220.0], &[]),
            (&[10.0, 20.0, 30.0, 42.0, 5.0], &[]),
            (&[1.0, 2.0], &[]),
            (&[], &[]),
        ] {
            assert_eq!(far(honest, elsewhere), None, "{honest:?}");
        }
    }

    #[test]
    fn slips_are_known_by_their_ratio() {
        for (ratio, times) in
            [(10.2, 10.0), (101.0, 100.0), (999.0, 1000.0), (0.0999, 0.1), (0.01, 0.01), (25.0, 25.4), (0.0394, 1.0 / 25.4)]
        {
            assert!(slip_of(ratio).is_some_and(|(found, ..)| (found / times - 1.0_f64).abs() < 1e-12), "{ratio}");
        }
        assert_eq!(slip_of(7.5), None);
    }
}
