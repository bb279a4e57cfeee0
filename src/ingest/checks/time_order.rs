//! Whether the times of one pass are those of one cut, and what is wrong with them where they are not.

use super::super::moments::{Clock, DAY_MIN};

/// Longest that one cut along a bar lasts without a question, minutes.
const LONGEST_MIN: f64 = 360.0;
/// Fewest stations that tell of one time that is out of the order of all, and by how much it is, minutes.
const STATIONS: usize = 4;
pub(in crate::ingest) const OUT_MIN: f64 = 15.0;
/// A step between two rows of a pass that is in no order at all is asked about from here on, minutes.
const JUMP_MIN: f64 = 120.0;
/// Steps that differ by less are alike, minutes.
const SECOND_MIN: f64 = 1.0 / 60.0;
/// Half a day, and one o’clock, minutes.
pub(in crate::ingest) const HALF_DAY_MIN: f64 = 720.0;
const ONE_MIN: f64 = 60.0;

/// A row of a pass with a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::ingest) struct Timed {
    pub(in crate::ingest) row: usize,
    pub(in crate::ingest) station_mm: f64,
    pub(in crate::ingest) minutes: f64,
}

/// What clocks show: the minutes of the log count from its earliest time.
pub(in crate::ingest) struct Shows {
    pub(in crate::ingest) clock: Clock,
    /// Minutes of the row whose clock is known.
    pub(in crate::ingest) since: f64,
}

impl Shows {
    /// Minutes since midnight.
    fn of_day(&self, minutes: f64) -> f64 {
        (self.clock.minutes + minutes - self.since).rem_euclid(DAY_MIN)
    }

    /// Whether a clock shows one o’clock to before twelve: by a clock of twelve hours, of the morning or the afternoon.
    pub(in crate::ingest) fn is_before_noon(&self, minutes: f64) -> bool {
        (ONE_MIN..HALF_DAY_MIN).contains(&self.of_day(minutes))
    }

    /// A clock's time, `9:05`.
    pub(in crate::ingest) fn text(&self, minutes: f64) -> String {
        let of_day = (self.of_day(minutes) + 1e-6).floor();
        format!("{}:{:02}{}", (of_day / 60.0).floor(), of_day % 60.0, if self.clock.is_offset { " UTC" } else { "" })
    }
}

/// What is wrong with the times of a pass: with which of its rows with a time first, and what.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::ingest) struct Slip {
    pub(in crate::ingest) index: usize,
    pub(in crate::ingest) kind: Kind,
}

/// What is wrong with the times of a pass.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::ingest) enum Kind {
    /// Nothing: those before `from_min` are of the next day, where rows that were sorted by station pass midnight backwards.
    Midnight { from_min: f64 },
    /// Those before `from_min` are of the afternoon, by a clock of twelve hours.
    Afternoon { from_min: f64 },
    /// They would be in order so much later, half a day or minus that.
    HalfDay { later_min: f64 },
    /// It is out of the order of all others, which has it between these two.
    Odd { between: (Option<f64>, Option<f64>) },
    /// In no order, with the largest step above that row.
    Jump,
    /// In order, and too long, with the largest step above that row.
    Long,
}

/// What is wrong with the times of a pass in the order of its rows; `None` where they rise or fall along the rows or along the stations within
/// [`LONGEST_MIN`], or are out of that order by little.
pub(in crate::ingest) fn slip_of(pass: &[Timed], shows: &Shows) -> Option<Slip> {
    let is_ordered = ordered(pass);
    if is_ordered && lasts_min(pass) <= LONGEST_MIN {
        return None;
    }
    if let Some(slip) = days_apart(pass, shows) {
        return Some(slip);
    }
    let (index, step_min) = largest_step(pass)?;
    if is_ordered {
        return Some(Slip { index, kind: Kind::Long });
    }
    let jumps = step_min >= JUMP_MIN || lasts_min(pass) > LONGEST_MIN;
    odd(pass).or(jumps.then_some(Slip { index, kind: Kind::Jump }))
}

/// How long a pass lasts by its times, minutes.
pub(in crate::ingest) fn lasts_min(pass: &[Timed]) -> f64 {
    let times = || pass.iter().map(|one| one.minutes);
    times().fold(f64::NEG_INFINITY, f64::max) - times().fold(f64::INFINITY, f64::min)
}

/// The row of the largest step from the one above, the first of those alike, and the step, minutes.
fn largest_step(pass: &[Timed]) -> Option<(usize, f64)> {
    let step = |pair: &[Timed]| if let [above, here] = pair { (here.minutes - above.minutes).abs() } else { 0.0 };
    let steps = (1..).zip(pass.windows(2).map(step));
    steps.reduce(|largest, next| if next.1 > largest.1 + SECOND_MIN { next } else { largest })
}

/// Whether times never fall, or never rise.
fn monotone(minutes: impl Iterator<Item = f64> + Clone) -> bool {
    let pairs = || minutes.clone().zip(minutes.clone().skip(1));
    pairs().all(|(above, here)| above <= here) || pairs().all(|(above, here)| above >= here)
}

/// Whether times rise or fall along the rows, or along the stations: what was cut in one go is, however its rows were sorted.
fn ordered(pass: &[Timed]) -> bool {
    if monotone(pass.iter().map(|one| one.minutes)) {
        return true;
    }
    // readings of one station may stand in either order
    let mut sorted = pass.to_vec();
    [1.0, -1.0].into_iter().any(|way| {
        sorted.sort_by(|a, b| a.station_mm.total_cmp(&b.station_mm).then((way * a.minutes).total_cmp(&(way * b.minutes))));
        sorted.windows(2).all(|pair| matches!(pair, [near, far] if way * near.minutes <= way * far.minutes))
    })
}

/// The slip that puts the times of a pass in order: those on one side of their widest gap are of half a day or a day later, or half a day earlier.
fn days_apart(pass: &[Timed], shows: &Shows) -> Option<Slip> {
    let mut sorted: Vec<f64> = pass.iter().map(|one| one.minutes).collect();
    sorted.sort_by(f64::total_cmp);
    let gap = |pair: &[f64]| if let [below, above] = pair { above - below } else { 0.0 };
    let widest = sorted.windows(2).max_by(|a, b| gap(a).total_cmp(&gap(b))).filter(|pair| gap(pair) > LONGEST_MIN)?;
    let from_min = *widest.last()?;
    let moved = |is_moved: &dyn Fn(f64) -> bool, later_min: f64, kind: Kind| {
        let later = |one: &Timed| Timed { minutes: one.minutes + if is_moved(one.minutes) { later_min } else { 0.0 }, ..*one };
        let moved: Vec<Timed> = pass.iter().map(later).collect();
        let index = pass.iter().position(|one| is_moved(one.minutes))?;
        (ordered(&moved) && lasts_min(&moved) <= LONGEST_MIN).then_some(Slip { index, kind })
    };
    let by_twelve = |is_moved: &dyn Fn(f64) -> bool| {
        let mut moved = pass.iter().map(|one| one.minutes).filter(|minutes| is_moved(*minutes));
        moved.all(|minutes| shows.is_before_noon(minutes))
    };
    let (earlier, later) = (|minutes: f64| minutes < from_min, |minutes: f64| minutes >= from_min);
    let clock = &shows.clock;
    if let Some(slip) = moved(&earlier, DAY_MIN, Kind::Midnight { from_min }).filter(|_| clock.is_of_day) {
        return Some(slip);
    }
    let half_later = moved(&earlier, HALF_DAY_MIN, Kind::HalfDay { later_min: HALF_DAY_MIN });
    let half_earlier = moved(&later, -HALF_DAY_MIN, Kind::HalfDay { later_min: -HALF_DAY_MIN });
    match (half_later, half_earlier) {
        (Some(slip), _) if by_twelve(&earlier) && clock.is_of_day && !clock.has_afternoon => {
            Some(Slip { kind: Kind::Afternoon { from_min }, ..slip })
        }
        // what becomes an afternoon is likelier than what becomes a morning
        (Some(_), Some(slip)) if by_twelve(&later) && !by_twelve(&earlier) => Some(slip),
        (one, other) => one.or(other),
    }
}

/// The one time without which all others are in order, where it lies far out of it.
fn odd(pass: &[Timed]) -> Option<Slip> {
    let station = |index: &usize| pass.get(*index).map_or(0.0, |one| one.station_mm);
    let mut by_station: Vec<usize> = (0..pass.len()).collect();
    by_station.sort_by(|a, b| station(a).total_cmp(&station(b)));
    if by_station.chunk_by(|a, b| station(a) == station(b)).count() < STATIONS {
        return None;
    }
    [(0..pass.len()).collect::<Vec<usize>>(), by_station].into_iter().find_map(|order| {
        let times: Vec<f64> = order.iter().filter_map(|index| pass.get(*index)).map(|one| one.minutes).collect();
        let without = |odd: usize| times.iter().enumerate().filter(move |(index, _)| *index != odd).map(|(_, minutes)| *minutes);
        let breaks = [1.0, -1.0]
            .into_iter()
            .filter_map(|way| times.windows(2).position(|pair| matches!(pair, [before, behind] if way * before > way * behind)));
        breaks.flat_map(|place| [place, place + 1]).filter(|odd| monotone(without(*odd))).find_map(|odd| {
            let here = *times.get(odd)?;
            let before = odd.checked_sub(1).and_then(|before| times.get(before)).copied();
            let behind = times.get(odd + 1).copied();
            let beside = || before.into_iter().chain(behind);
            let (low, high) = (beside().fold(f64::INFINITY, f64::min), beside().fold(f64::NEG_INFINITY, f64::max));
            let out_min = (low - here).max(here - high);
            (out_min > OUT_MIN.max(high - low)).then_some(())?;
            Some(Slip { index: *order.get(odd)?, kind: Kind::Odd { between: (before, behind) } })
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The slip of a pass by its stations and its times of day, in minutes.
    fn slip(stations: &[f64], minutes: &[f64]) -> Option<(usize, Kind)> {
        let pass: Vec<Timed> =
            stations.iter().zip(minutes).enumerate().map(|(row, (z, t))| Timed { row, station_mm: *z, minutes: *t }).collect();
        let has_afternoon = minutes.iter().any(|minutes| *minutes >= 780.0);
        let clock = Clock { row: 0, minutes: minutes[0], is_of_day: true, is_offset: false, has_afternoon };
        slip_of(&pass, &Shows { clock, since: minutes[0] }).map(|slip| (slip.index, slip.kind))
    }

    const FALLING: [f64; 5] = [180.0, 140.0, 100.0, 60.0, 20.0];

    #[test]
    fn one_cut_has_its_times_in_order() {
        for (stations, minutes) in [
            (&FALLING[..], &[660.0, 665.0, 670.0, 675.0, 680.0][..]),
            (&FALLING, &[680.0, 675.0, 670.0, 665.0, 660.0]),
            (&FALLING, &[660.0; 5]),
            // rows in no order, times along the stations
            (&[100.0, 20.0, 180.0, 60.0, 140.0], &[670.0, 680.0, 660.0, 675.0, 665.0]),
            // read again at another angle, and sorted by station
            (&[20.0, 20.0, 60.0, 60.0, 100.0, 100.0, 140.0, 140.0], &[660.0, 674.0, 662.0, 672.0, 664.0, 670.0, 666.0, 668.0]),
            (&[20.0, 60.0, 100.0, 140.0], &[660.0, 672.0, 665.0, 675.0]),
            (&[20.0], &[660.0]),
        ] {
            assert_eq!(slip(stations, minutes), None, "{minutes:?}");
        }
    }

    #[test]
    fn what_is_out_of_order_is_found() {
        let kind = |minutes: [f64; 5]| slip(&FALLING, &minutes);
        assert_eq!(kind([765.0, 770.0, 775.0, 60.0, 65.0]), Some((3, Kind::Afternoon { from_min: 765.0 })));
        // where the log knows the afternoon it is only asked about
        assert_eq!(kind([770.0, 775.0, 60.0, 785.0, 790.0]), Some((2, Kind::HalfDay { later_min: 720.0 })));
        assert_eq!(kind([805.0, 810.0, 1440.0 + 95.0, 1440.0 + 100.0, 1440.0 + 105.0]), Some((2, Kind::HalfDay { later_min: -720.0 })));
        assert_eq!(kind([5.0, 1.0, 1436.0, 1432.0, 1428.0]), Some((0, Kind::Midnight { from_min: 1428.0 })));
        assert_eq!(kind([720.0, 725.0, 610.0, 735.0, 740.0]), Some((2, Kind::Odd { between: (Some(725.0), Some(735.0)) })));
        assert_eq!(kind([720.0, 725.0, 730.0, 735.0, 640.0]), Some((4, Kind::Odd { between: (Some(735.0), None) })));
        assert_eq!(kind([720.0, 600.0, 735.0, 610.0, 740.0]), Some((2, Kind::Jump)));
        assert_eq!(kind([300.0, 310.0, 500.0, 700.0, 720.0]), Some((3, Kind::Long)));
    }
}
