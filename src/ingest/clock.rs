use jiff::Timestamp;
use jiff::civil::{DateTime, Time};
use std::borrow::Cow;

/// A time as a log writes it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Moment {
    /// An instant with its offset from UTC, minutes since 1970.
    Instant(f64),
    /// A day and a time, minutes since 1970 by the wall clock.
    Dated(f64),
    /// A time of day, minutes since midnight.
    OfDay(f64),
}

impl Moment {
    /// Reads ISO 8601 (`2026-03-14T09:30`, `2026-03-14 09:30:15`, with or without offset), a time of day (`9:30`, `09:30:15`, `9:30 pm`), or a day of the month
    /// before its month between dots, which only that order is written with (`14.03.2026 09:30`).
    pub(super) fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        if let Some((morning, afternoon)) = half_day(text) {
            return morning.and_then(|time| in_half(time, afternoon));
        }
        if let Some((date, time)) = dotted(text) {
            return Self::parse(&format!("{date} {time}"));
        }
        if let Ok(instant) = with_two_digits(text).parse::<Timestamp>() {
            return Some(Self::Instant(instant.as_millisecond() as f64 / 60_000.0));
        }
        if text.contains('-') {
            let dated = with_two_digits(text).parse::<DateTime>().ok()?;
            let since = dated.duration_since(DateTime::new(1970, 1, 1, 0, 0, 0, 0).ok()?);
            return Some(Self::Dated(since.as_secs_f64() / 60.0));
        }
        let padded = if text.find(':') == Some(1) { format!("0{text}") } else { text.to_owned() };
        let time = padded.contains(':').then(|| padded.parse::<Time>().ok()).flatten()?;
        let seconds = f64::from(time.hour()) * 3600.0 + f64::from(time.minute()) * 60.0 + f64::from(time.second());
        Some(Self::OfDay((seconds + f64::from(time.subsec_nanosecond()) * 1e-9) / 60.0))
    }

    /// The moment `minutes` later.
    fn later(self, minutes: f64) -> Self {
        match self {
            Self::Instant(since) => Self::Instant(since + minutes),
            Self::Dated(since) => Self::Dated(since + minutes),
            Self::OfDay(since) => Self::OfDay(since + minutes),
        }
    }

    /// The kind of a time of day.
    pub(super) const OF_DAY: u8 = 2;

    /// Which kind it is: only times of one kind can be put in order.
    pub(super) fn kind(self) -> u8 {
        match self {
            Self::Instant(_) => 0,
            Self::Dated(_) => 1,
            Self::OfDay(_) => Self::OF_DAY,
        }
    }

    /// Minutes since 1970 or midnight.
    pub(super) fn minutes(self) -> f64 {
        match self {
            Self::Instant(minutes) | Self::Dated(minutes) | Self::OfDay(minutes) => minutes,
        }
    }
}

/// What stands before `am` or `pm`, and whether it is the latter; nothing inside where the hour is none of a clock of twelve.
fn half_day(text: &str) -> Option<(Option<&str>, bool)> {
    if !text.ends_with(['m', 'M', '.']) {
        return None;
    }
    let end = |words: &[&str]| {
        words.iter().find_map(|word| {
            let at = text.len().checked_sub(word.len())?;
            let (time, tail) = (text.get(..at)?, text.get(at..)?);
            tail.eq_ignore_ascii_case(word).then_some(time.trim_end())
        })
    };
    let (time, afternoon) = match (end(&["am", "a.m.", "a.m"]), end(&["pm", "p.m.", "p.m"])) {
        (Some(time), _) => (time, false),
        (None, time) => (time?, true),
    };
    Some((Some(time).filter(|time| time.contains(':')), afternoon))
}

/// A time by a clock of twelve hours in its half of the day: 12:30 am is half past midnight.
fn in_half(time: &str, afternoon: bool) -> Option<Moment> {
    let clock = time.rsplit([' ', 'T']).next()?;
    let hour: u32 = clock.split(':').next()?.parse().ok().filter(|hour| (1..=12).contains(hour))?;
    let later = match (hour == 12, afternoon) {
        (true, false) => -720.0,
        (false, true) => 720.0,
        _ => 0.0,
    };
    let padded = if clock.find(':') == Some(1) { format!("{}0{clock}", time.strip_suffix(clock)?) } else { time.to_owned() };
    Some(Moment::parse(&padded)?.later(later))
}

/// A day and a time whose hour has two digits: `2026-03-14 09:30` of `2026-03-14 9:30`.
fn with_two_digits(text: &str) -> Cow<'_, str> {
    match text.split_once([' ', 'T']) {
        Some((day, time)) if time.find(':') == Some(1) => Cow::Owned(format!("{day}T0{time}")),
        _ => Cow::Borrowed(text),
    }
}

/// A date between dots as ISO 8601 writes it, and the time behind it in two digits an hour: `2026-03-14` and `09:30` of `14.3.2026 9:30`.
fn dotted(text: &str) -> Option<(String, String)> {
    let (date, time) = text.split_once([' ', ',']).map_or((text, ""), |(date, time)| (date, time.trim_start_matches([' ', ','])));
    let mut parts = date.split('.');
    let (day, month, year) = (parts.next()?, parts.next()?, parts.next()?);
    let number =
        |part: &str, longest: usize| part.parse::<u32>().ok().filter(|_| part.len() <= longest && part.bytes().all(|b| b.is_ascii_digit()));
    let (day, month) = (number(day, 2)?, number(month, 2)?);
    let year = number(year, 4).filter(|year| *year >= 1000 && parts.next().is_none())?;
    let time = match time.find(':') {
        Some(1) => format!("0{time}"),
        _ if time.is_empty() => "00:00".to_owned(),
        _ => time.to_owned(),
    };
    Some((format!("{year:04}-{month:02}-{day:02}"), time))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_of_either_clock_are_one_moment() {
        for (text, plain) in [
            ("9:30 am", "09:30"),
            ("09:30:00 AM", "09:30"),
            ("9:30 p.m.", "21:30"),
            ("12:05 am", "00:05"),
            ("12:05 PM", "12:05"),
            ("2026-03-14 1:30 pm", "2026-03-14 13:30"),
            ("14.03.2026 09:30", "2026-03-14 09:30"),
            ("4.3.2026, 9:30:15", "2026-03-04 09:30:15"),
            ("14.03.2026 9:30 pm", "2026-03-14 21:30"),
            ("2026-03-14 9:30", "2026-03-14 09:30"),
            ("2026-03-14T9:30:15", "2026-03-14 09:30:15"),
            ("2026-03-14 9:30+01:00", "2026-03-14T09:30+01:00"),
        ] {
            assert!(Moment::parse(plain).is_some(), "{plain}");
            assert_eq!(Moment::parse(text), Moment::parse(plain), "{text}");
        }
        assert_ne!(Moment::parse("9:30 pm"), Moment::parse("9:30"), "the comparison must see another half of the day");
        for text in [
            "13:30 pm",
            "0:30 am",
            "9.30",
            "0930",
            "9 am",
            "5/20/2026 9:30",
            "31.02.2026 09:30",
            "14.03.26 09:30",
            "2026.03.14 09:30",
            "pm",
            "noon",
        ] {
            assert_eq!(Moment::parse(text), None, "{text}");
        }
    }
}
