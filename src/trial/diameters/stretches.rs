//! Equal stretches of the tested lengths, no more of them than there may be places.

use super::Diameters;
use std::collections::{BTreeMap, HashSet};

/// Parts into which the tested lengths of all settings together are laid; a stretch is a whole number of them.
const FINEST: usize = 1 << 20;

/// Readings that may be joined with one another where they stand near: those of one cut and gauge, all with a time or all without.
pub(super) type Run = (u32, u32, bool);

/// The tested length of one setting.
#[derive(Debug, Clone, PartialEq)]
struct Span {
    setting: u32,
    from_mm: f64,
    to_mm: f64,
    /// Runs that are read there.
    runs: usize,
    /// The first of its parts among all, and their number.
    first: usize,
    parts: usize,
}

/// One layout of stretches for all passes of a setting, of one width for all settings; it begins at each setting's first station.
///
/// The first and the last station of a setting are places of their own, so that the tested length stays what it is.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretches {
    spans: Vec<Span>,
    /// Index of the span of each cut, missing where no reading of it is used.
    of_cut: Vec<Option<usize>>,
    part_mm: f64,
    /// Parts in a stretch.
    many: usize,
}

impl Stretches {
    /// The narrowest stretches over the used readings of `log` whose places, counted as if every run of a setting were read in every stretch that any run
    /// is read in, are at most `most`.
    ///
    /// Goes over the readings twice, keeps a mark for each part, and does not depend on the order of the readings. `None` where a run would have
    /// fewer than `fewest` places left to it, or no width will do.
    pub(super) fn over(log: &Diameters, most: usize, fewest: usize) -> Option<Self> {
        let (mut spans, of_cut) = spans(log);
        let runs: usize = spans.iter().map(|span| span.runs).sum();
        if runs.checked_mul(fewest)? > most {
            return None;
        }
        let part_mm = spans.iter().map(|span| span.to_mm - span.from_mm).sum::<f64>() / FINEST as f64;
        let mut first = 0;
        for span in &mut spans {
            span.first = first;
            span.parts = (((span.to_mm - span.from_mm) / part_mm).ceil() as usize).clamp(1, FINEST);
            first += span.parts;
        }
        let mut stretches = Self { spans, of_cut, part_mm, many: 1 };
        let mut marks = vec![false; first];
        for row in (0..log.len()).filter(|row| log.is_used(*row)) {
            let Some(span) = stretches.span(log.cut_number(row)) else { continue };
            if let Some(mark) = stretches.part(span, log.station_mm(row)).and_then(|part| marks.get_mut(span.first + part)) {
                *mark = true;
            }
        }
        stretches.many = narrowest(FINEST, |many| stretches.places(&marks, many) <= most)?;
        Some(stretches)
    }

    /// Width of a stretch, mm.
    pub(super) fn width_mm(&self) -> f64 {
        self.part_mm * self.many as f64
    }

    /// Number of the stretch of its setting in which a cut was read at a station: 0 for the first station, 1 for the last, then those between.
    pub(super) fn number(&self, cut: u32, station_mm: f64) -> u32 {
        let Some(span) = self.span(cut) else { return 0 };
        match self.part(span, station_mm) {
            Some(part) => u32::try_from(2 + part / self.many).unwrap_or(u32::MAX),
            None => u32::from(station_mm != span.from_mm),
        }
    }

    /// First station of the setting of a cut, mm; `None` where no reading of the cut is used.
    pub(super) fn first_station_mm(&self, cut: u32) -> Option<f64> {
        Some(self.span(cut)?.from_mm)
    }

    fn span(&self, cut: u32) -> Option<&Span> {
        self.spans.get((*self.of_cut.get(cut as usize)?)?)
    }

    /// Part of a span's length in which a station lies; `None` at its ends.
    fn part(&self, span: &Span, station_mm: f64) -> Option<usize> {
        let inside = station_mm != span.from_mm && station_mm != span.to_mm;
        inside.then(|| (((station_mm - span.from_mm) / self.part_mm) as usize).min(span.parts - 1))
    }

    /// Places with `many` parts in a stretch, at most.
    fn places(&self, marks: &[bool], many: usize) -> usize {
        let read = |span: &Span| {
            let own = marks.get(span.first..span.first + span.parts).unwrap_or(&[]);
            2 + own.chunks(many).filter(|parts| parts.contains(&true)).count()
        };
        self.spans.iter().map(|span| span.runs.saturating_mul(read(span))).sum()
    }
}

/// The span of each setting with used readings, and which of them each cut belongs to.
fn spans(log: &Diameters) -> (Vec<Span>, Vec<Option<usize>>) {
    let mut read = vec![(f64::INFINITY, f64::NEG_INFINITY); log.cuts().len()];
    let mut runs: HashSet<Run> = HashSet::new();
    let mut before = None;
    for row in (0..log.len()).filter(|row| log.is_used(*row)) {
        let run = log.run(row);
        if before != Some(run) {
            runs.insert(run);
            before = Some(run);
        }
        if let Some((from, to)) = read.get_mut(run.0 as usize) {
            let station_mm = log.station_mm(row);
            (*from, *to) = (from.min(station_mm), to.max(station_mm));
        }
    }
    let mut of_setting: BTreeMap<u32, Span> = BTreeMap::new();
    let used = || log.cuts().iter().zip(&read).map(|(cut, (from, to))| (cut.setting, (from <= to).then_some((*from, *to))));
    for (setting, ends) in used() {
        let Some((from_mm, to_mm)) = ends else { continue };
        let span = of_setting.entry(setting).or_insert(Span { setting, from_mm, to_mm, runs: 0, first: 0, parts: 1 });
        (span.from_mm, span.to_mm) = (span.from_mm.min(from_mm), span.to_mm.max(to_mm));
    }
    for (cut, _, _) in &runs {
        if let Some(span) = log.cuts().get(*cut as usize).and_then(|cut| of_setting.get_mut(&cut.setting)) {
            span.runs += 1;
        }
    }
    let spans: Vec<Span> = of_setting.into_values().collect();
    let place = |setting: u32| spans.binary_search_by_key(&setting, |span| span.setting).ok();
    let of_cut = used().map(|(setting, ends)| ends.and_then(|_| place(setting))).collect();
    (spans, of_cut)
}

/// A number from 1 to `most` that will do while the one below it will not, found by halving; `None` where `most` will not.
fn narrowest(most: usize, will_do: impl Fn(usize) -> bool) -> Option<usize> {
    if !will_do(most) {
        return None;
    }
    let (mut not, mut does) = (0, most);
    while does - not > 1 {
        let middle = not + (does - not) / 2;
        if will_do(middle) {
            does = middle;
        } else {
            not = middle;
        }
    }
    Some(does)
}
