//! Lines above a header: none is read, and what one says of the readings is an error where reading on would contradict it and it
//! says nothing else, a question where it is free text.

use super::super::discovery::is_spreadsheet;
use super::super::lines::{Separator, split_cells};
use super::super::log_kind::LogKind;
use super::super::wide::is_wide;
use super::column_specs::{DIAMETERS, INDICATOR};
use super::columns::{HeaderPlace, identify};
use super::diameter_column::{length_of, soft_diameter};
use super::header_words::words;
use super::pass_column::{is_pass, opened, pass_column};
use super::title_ends::is_number;
use super::title_groups::Groups;
use super::title_rows::RowWays;
use super::title_words::{Said, Statement, Subject, said, way};
use super::{HeaderCell, Holds, Measure, Unit, default_measure};
use crate::findings::{Finding, Severity};
use crate::quantities::LengthUnit;
use crate::trial::Direction;
use std::borrow::Cow;
use std::path::Path;

/// The lines above a header, and the header that they stand above.
pub(in crate::ingest) struct Titles<'l> {
    /// Their numbers and texts.
    pub(in crate::ingest) lines: &'l [(u64, &'l str)],
    pub(in crate::ingest) header: &'l [HeaderCell],
    pub(in crate::ingest) separator: Separator,
    pub(in crate::ingest) place: HeaderPlace<'l>,
    pub(in crate::ingest) kind: Option<LogKind>,
}

/// What a title says that would be lost.
struct Loss {
    found: String,
    /// What it would be taken for, and what is right instead.
    help: String,
    certainty: Certainty,
}

/// How surely a title says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Certainty {
    /// Its cells stand over columns, or it says nothing else.
    Sure,
    /// It stands where it says so, and reading on loses little.
    Likely,
    /// It is free text, which may mean another thing.
    Perhaps,
}

impl Certainty {
    /// How surely one of the statements says what is looked for.
    fn of(said: &[Statement], is_it: impl Fn(&Said) -> bool) -> Option<Self> {
        let found = || said.iter().filter(|statement| is_it(&statement.said));
        found().next()?;
        Some(if found().any(|statement| statement.is_plain) { Self::Sure } else { Self::Perhaps })
    }
}

impl Titles<'_> {
    /// `meaning-above-header`, an error, for each thing that a line says and that would be lost: a direction, a setting, a depth, another bar, the end that stations count
    /// from, another unit; a warning where free text only seems to say it, or columns of passes may be readings of one. Else `lines-above-header`, a note on the first of them.
    pub(in crate::ingest) fn findings(&self) -> Vec<Finding> {
        let reads = !matches!(self.kind, None | Some(LogKind::Moves));
        let faults_of =
            |(row, line): &(u64, &str)| self.faults(&self.cells(line)).into_iter().map(|fault| fault.at_row(*row)).collect::<Vec<_>>();
        let mut all: Vec<Finding> = self.lines.iter().filter(|_| reads).flat_map(faults_of).collect();
        if let Some((row, line)) = self.lines.first()
            && all.is_empty()
        {
            let help = "it is not read; put # before it";
            all.push(Finding::new("lines-above-header", Severity::Note, format!("`{}`", line.trim()), help).at_row(*row));
        }
        all.into_iter().map(|finding| finding.in_file(self.place.file)).collect()
    }

    /// The cells of a title; a title above a table separated by blanks is one.
    fn cells<'t>(&self, line: &'t str) -> Vec<Cow<'t, str>> {
        let mut cells = Vec::new();
        if self.separator == Separator::Blanks || split_cells(line, self.separator, &mut cells).is_err() {
            cells = vec![Cow::Borrowed(line.trim())];
        }
        cells
    }

    /// Everything that a line says which would be lost: who mends one thing and takes the line out must know of the others.
    fn faults(&self, cells: &[Cow<'_, str>]) -> Vec<Finding> {
        let said = said(cells.iter().map(AsRef::as_ref));
        let is_diameters = self.kind == Some(LogKind::Diameters);
        let is_sheet = is_spreadsheet(Path::new(self.place.file));
        let away = if is_sheet { "take this row out" } else { "take this line out, or put # before it" };
        let keep = if is_sheet { "take it out" } else { "put # before it" };
        let finding = |loss: Loss| {
            let (severity, help) = match loss.certainty {
                Certainty::Sure => (Severity::Error, format!(": {}; then {away}", loss.help)),
                Certainty::Likely => (Severity::Warning, format!(": {}; then {away}", loss.help)),
                Certainty::Perhaps => (Severity::Warning, format!(". {}; if it says nothing of the kind {keep}", loss.help)),
            };
            Finding::new("meaning-above-header", severity, loss.found, format!("lines above the header are not read{help}"))
        };
        let losses = [
            self.stations(cells, &said),
            self.direction(cells, &said).filter(|_| is_diameters),
            self.group(cells).filter(|_| is_diameters),
            self.unit(cells, &said),
            self.repeats(cells).filter(|_| is_diameters),
        ];
        losses.into_iter().flatten().map(finding).collect()
    }

    /// A title that has stations count from the tailstock.
    fn stations(&self, cells: &[Cow<'_, str>], said: &[Statement]) -> Option<Loss> {
        // over passes `from TS`, `from HS` are the ways of the tool
        let over: Vec<usize> = self.passes().map(|(index, _)| index).collect();
        let ways = over.iter().filter_map(|index| cells.get(*index)).filter(|cell| way(cell).is_some()).count();
        let only_passes = (0..).zip(cells).all(|(index, cell)| cell.is_empty() || over.contains(&index));
        if ways > 1 || ways == 1 && only_passes {
            return None;
        }
        let certainty = Certainty::of(said, |said| *said == Said::FromTailstock)?;
        let help = match certainty {
            Certainty::Perhaps => {
                "If it says that stations count from the tailstock end, write them from the headstock end: on a bar of 200 mm one at 10 as 200 − 10 = 190"
            }
            _ => {
                "stations count from the headstock end. If these count from the other, on a bar of 200 mm write one at 10 as 200 − 10 = 190"
            }
        };
        Some(Loss { found: shown(cells), help: help.to_owned(), certainty })
    }

    /// A title that names the way of the tool where the log does not; `to-headstock` is what it is taken for anyway.
    fn direction(&self, cells: &[Cow<'_, str>], said: &[Statement]) -> Option<Loss> {
        let in_words = Certainty::of(said, |said| *said == Said::Cut(Direction::ToTailstock));
        let passes: Vec<(usize, &HeaderCell)> = self.passes().collect();
        let Some((first, pass)) = passes.first().copied() else {
            let certainty = in_words?;
            let states = self.header.iter().any(|cell| identify(cell, DIAMETERS).is_some_and(|(spec, _)| spec.name == "direction"));
            let help = match certainty {
                Certainty::Perhaps => {
                    "If it says that the tool went to the tailstock as it cut, write the way of the tool, to-headstock or to-tailstock, in a column direction"
                }
                _ => {
                    "write a column direction with to-headstock or to-tailstock in each row, the way of the tool as it cuts; else each row counts as cut to \
                     the headstock"
                }
            };
            return (!states).then(|| Loss { found: shown(cells), help: help.to_owned(), certainty });
        };
        let is_named = |cell: &HeaderCell| pass_column(&opened(cell)).is_some_and(|pass| pass.direction.is_some());
        // in `Pass 1 to headstock, pass 2 to tailstock` a cell stands over another pass than it names
        let is_of_another = |(index, pass): (usize, &HeaderCell)| {
            let named = cells.get(index).and_then(|cell| pass_column(&HeaderCell::parse(cell)));
            matches!((named, pass_column(&opened(pass))), (Some(named), Some(pass)) if named.pass != pass.pass)
        };
        let over: Vec<usize> = passes.iter().filter(|pass| !is_named(pass.1) && !is_of_another(**pass)).map(|(index, _)| *index).collect();
        let label = cells.first().filter(|_| first > 0).map_or("", AsRef::as_ref);
        let headed = |pass: &HeaderCell, direction: &str| {
            let (name, unit) = pass.text.split_at(pass.text.find(['(', '[']).unwrap_or(pass.text.len()));
            format!("`{}`", format!("{} {direction} {unit}", name.trim()).trim())
        };
        let either = format!("{} or {}", headed(pass, "to-headstock"), headed(pass, "to-tailstock"));
        let perhaps = "If it says that the tool went to the tailstock as it cut";
        let (found, right, certainty) = match RowWays::of(cells, label, &over) {
            Some(RowWays::ToTailstock(index)) => {
                let pass = self.header.get(index)?;
                (format!("`{}` over `{}`", cells.get(index)?, pass.text), headed(pass, "to-tailstock"), Certainty::Sure)
            }
            Some(RowWays::Differ) => (shown(cells), either, Certainty::Sure),
            Some(RowWays::Perhaps(_)) => (shown(cells), either, Certainty::Perhaps),
            None => {
                let certainty = in_words.filter(|_| !passes.iter().any(|(_, cell)| is_named(cell)))?;
                (shown(cells), either, certainty)
            }
        };
        let write = format!("write the way of the tool as it cuts into the header of each pass, as in {right}");
        let help = match certainty {
            Certainty::Perhaps => format!("{perhaps}, {write}"),
            _ => format!("{write}; else each counts as cut to the headstock"),
        };
        Some(Loss { found, help, certainty })
    }

    /// Cells over the passes that part them by setting, depth, feed or bar, or say that they hold radii.
    fn group(&self, cells: &[Cow<'_, str>]) -> Option<Loss> {
        let over: Vec<usize> = self.passes().map(|(index, _)| index).collect();
        Groups::of(cells, &over).filter(|group| *group != Groups::Repeats).map(|group| Loss {
            found: shown(cells),
            help: group.help(),
            certainty: Certainty::Sure,
        })
    }

    /// Cells over bare numbers that say that these number readings.
    fn repeats(&self, cells: &[Cow<'_, str>]) -> Option<Loss> {
        let bare = |cell: &HeaderCell| pass_column(cell).is_some_and(|pass| pass.bare);
        let over: Vec<usize> = self.passes().filter(|(_, cell)| bare(cell)).map(|(index, _)| index).collect();
        Groups::of(cells, &over).filter(|group| *group == Groups::Repeats).map(|group| Loss {
            found: shown(cells),
            help: group.help(),
            certainty: Certainty::Likely,
        })
    }

    /// A title that names another unit than the header.
    fn unit(&self, cells: &[Cow<'_, str>], said: &[Statement]) -> Option<Loss> {
        let (stations, readings) = self.measures();
        let measure = |unit: LengthUnit| Measure::Times(unit.mm());
        // a title that names the header's unit too, and not behind a number, tells of a conversion
        let all: Vec<String> = cells.iter().flat_map(|cell| words(cell)).collect();
        let is_bare = |index: usize| index.checked_sub(1).and_then(|before| all.get(before)).is_none_or(|before| !is_number(before));
        let unit_of = |index: usize| all.get(index).filter(|word| *word != "in" && *word != "m").and_then(|word| LengthUnit::parse(word));
        let named = (0..all.len()).filter(|index| is_bare(*index)).filter_map(unit_of).map(measure);
        let agrees = named.map(Some).any(|unit| unit == readings || unit == stations);
        let is_other = |said: &Said| {
            let Said::Unit(subject, unit) = said else { return false };
            let differs = |named: Option<Measure>| named.is_some_and(|named| named != measure(*unit));
            match subject {
                Subject::Readings => differs(readings),
                Subject::Stations => differs(stations),
                Subject::All => differs(readings) || differs(stations),
            }
        };
        let in_words = Certainty::of(said, is_other).filter(|_| !agrees);
        let label = cells.first().map_or("", |cell| cell.trim());
        // in `Direction,in,out` no cell is a unit
        let is_of_ways = RowWays::is_direction_label(label);
        let is_unit_label = matches!(words(label).as_slice(), [word] if word == "unit" || word == "units");
        let no_value = |index: usize| cells.get(index + 1).is_none_or(|next| !next.starts_with(|c: char| c.is_ascii_digit()));
        let in_a_cell = || {
            (0..).zip(cells).any(|(index, cell)| {
                let alone = LengthUnit::parse(cell.trim_matches(['(', ')', '[', ']'])).map(measure).filter(|_| !is_of_ways);
                if alone.is_some() && is_unit_label && self.kind == Some(LogKind::Levels) {
                    return false; // a level reads no lengths
                }
                if alone.is_some() && is_unit_label {
                    // `Units,um` over `foot,station_mm,change_um` is said of a column of the log, not of the one below it
                    let mut lengths = self.header.iter().filter_map(length_of).peekable();
                    return lengths.peek().is_some() && lengths.all(|length| Some(length) != alone);
                }
                let here = self.header.get(index).and_then(length_of).or(readings);
                if alone.is_some() {
                    return self.header.get(index).is_some_and(|cell| !cell.is_empty()) && here.is_some() && alone != here;
                }
                let named = (1..=2)
                    .contains(&cell.matches(['(', '[', ' ', '_']).count())
                    .then(|| identify(&HeaderCell::parse(cell), DIAMETERS))
                    .flatten();
                match named {
                    Some((spec, Unit::Known(unit))) if no_value(index) => match spec.name {
                        "diameter" => readings.is_some_and(|readings| readings != unit),
                        "station" => stations.is_some_and(|stations| stations != unit),
                        _ => false,
                    },
                    _ => false,
                }
            })
        };
        let certainty = if in_a_cell() { Certainty::Sure } else { in_words? };
        let help = match certainty {
            Certainty::Perhaps => "Numbers are taken in the header’s unit. If it says that they are in another mend the header",
            _ => "it names another unit than the header, in whose unit numbers are taken. If the title is right mend the header",
        };
        Some(Loss { found: shown(cells), help: help.to_owned(), certainty })
    }

    /// The columns of passes of a wide sheet.
    fn passes(&self) -> impl Iterator<Item = (usize, &HeaderCell)> {
        let wide = is_wide(self.header);
        (0..).zip(self.header).filter(move |(_, cell)| wide && !cell.is_empty() && is_pass(cell))
    }

    /// The units of the stations and of what was read, where the header or the options name them. Levels and the like read no lengths along a bar.
    fn measures(&self) -> (Option<Measure>, Option<Measure>) {
        let default = self.place.units.and_then(|units| default_measure(Holds::Length, units));
        let known = |unit: Unit| if let Unit::Known(measure) = unit { Some(measure) } else { default };
        let specs = if self.kind == Some(LogKind::Indicator) { INDICATOR } else { DIAMETERS };
        let named = |name: &str| {
            self.header
                .iter()
                .find_map(|cell| identify(cell, specs).filter(|(spec, _)| spec.name == name))
                .and_then(|(_, unit)| known(unit))
        };
        let stations = named("station");
        let readings = match self.kind {
            Some(LogKind::Diameters) => {
                let pass = self.passes().next().and_then(|(_, cell)| length_of(cell)).or_else(|| self.passes().next().and(stations));
                named("diameter").or(pass).or_else(|| self.header.iter().find_map(soft_diameter).and_then(known))
            }
            Some(LogKind::Indicator) => named("reading"),
            _ => return (None, None),
        };
        (stations, readings)
    }
}

/// A title as a message shows it.
fn shown(cells: &[Cow<'_, str>]) -> String {
    let filled: Vec<&str> = cells.iter().map(AsRef::as_ref).filter(|cell: &&str| !cell.is_empty()).collect();
    format!("`{}` above the header", filled.join(" | "))
}
