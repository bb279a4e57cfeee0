use super::super::collector::Collector;
use super::super::words::nearest;
use super::beside_name::{known_mend, mend};
use super::column_specs::{ColumnSpec, DIAMETERS};
use super::diameter_column::{DiameterColumn, ask, is_mean, length_of, soft_diameter};
use super::pass_column::{number_of_pass, pass_mend};
use super::{HeaderCell, Holds, MOST_WORDS, Measure, Unit, default_measure};
use crate::findings::{Finding, Severity};
use crate::trial::LogUnits;

/// A column of a log: where it is, what it holds, how its numbers become metric.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::ingest) struct Column {
    pub(in crate::ingest) index: usize,
    /// As the header writes it.
    pub(in crate::ingest) header: String,
    pub(in crate::ingest) name: &'static str,
    pub(in crate::ingest) holds: Holds,
    pub(in crate::ingest) measure: Measure,
    pub(in crate::ingest) needed: bool,
}

/// The columns that a header has.
#[derive(Debug, Clone, Default)]
pub(in crate::ingest) struct Columns {
    found: Vec<Column>,
}

/// What a header's cell is among the columns of one kind.
pub(in crate::ingest) fn identify(cell: &HeaderCell, specs: &'static [ColumnSpec]) -> Option<(&'static ColumnSpec, Unit)> {
    (1..=cell.words.len().min(MOST_WORDS)).rev().find_map(|named| {
        let name = cell.words.get(..named)?.join("_");
        let spec = specs.iter().find(|spec| spec.name == name || spec.aliases.contains(&name.as_str()))?;
        Some((spec, cell.unit(named, spec.name, spec.holds)?))
    })
}

/// Where a header stands and how its gaps are filled.
pub(in crate::ingest) struct HeaderPlace<'h> {
    pub(in crate::ingest) file: &'h str,
    pub(in crate::ingest) row: u64,
    pub(in crate::ingest) units: Option<LogUnits>,
}

impl HeaderPlace<'_> {
    pub(in crate::ingest) fn error(&self, code: &'static str, column: &str, found: String, help: String) -> Finding {
        Finding::new(code, Severity::Error, found, help).in_file(self.file).at_row(self.row).in_column(column)
    }

    /// The measure of a column of numbers, or an error when it has none.
    pub(in crate::ingest) fn measure(&self, cell: &HeaderCell, spec: &ColumnSpec, unit: Unit, collector: &mut Collector) -> Measure {
        let holds = spec.holds;
        let wanted = match holds {
            Holds::Slope => "mm/m, in/ft, in/10in, arcsec or div",
            Holds::Temperature => "C or F",
            Holds::Feed => "mm/rev or in/rev",
            Holds::Degrees => "deg",
            _ => "mm, um, cm, m, in or thou",
        };
        match unit {
            Unit::Known(measure) => return measure,
            Unit::Missing => {
                if let Some(measure) = self.units.and_then(|units| default_measure(holds, units)) {
                    return measure;
                }
                let help = match holds {
                    Holds::Length | Holds::Feed => format!("write the unit in the header, as in `{} (mm)`, or give --log-units", cell.text),
                    _ => format!("write the unit in the header: {wanted}"),
                };
                collector.add(self.error("missing-unit", &cell.text, format!("`{}` without a unit", cell.text), help));
            }
            Unit::Beside(words, known) => {
                let found = format!("`{}` in `{}`", words.join(" "), cell.text);
                let help = mend(spec.name, spec.about, &words, &spec.header_in(known));
                collector.add(self.error("words-in-header", &cell.text, found, help));
            }
            Unit::Unknown(text) => {
                let found = format!("unit `{text}` in `{}`", cell.text);
                let help = match holds {
                    Holds::Whole => format!("`{}` counts, without a unit: take it out of the header", spec.name),
                    Holds::Text => {
                        let other = "if the column holds lengths give it another name, and `diameter_mm` if they are the diameters read";
                        format!("`{}` is {}, without a unit: take it out of the header; {other}", spec.name, spec.about)
                    }
                    _ => format!("use {wanted}"),
                };
                collector.add(self.error("unknown-unit", &cell.text, found, help));
            }
        }
        Measure::Times(1.0)
    }
}

impl Columns {
    /// Finds the columns of `specs` in a header; faults go to `collector`.
    pub(in crate::ingest) fn resolve(
        header: &[HeaderCell],
        specs: &'static [ColumnSpec],
        place: &HeaderPlace<'_>,
        collector: &mut Collector,
    ) -> Self {
        let mut columns = Self::default();
        let diameter = specs.iter().find(|spec| spec.name == "diameter");
        let which = diameter.map(|_| DiameterColumn::of(header));
        let asked = which.as_ref().map_or_else(Vec::new, |which| which.asked(header));
        if !asked.is_empty() {
            collector.add(ask(&asked, "duplicate-column", place));
        }
        for (index, cell) in header.iter().enumerate().filter(|(_, cell)| !cell.is_empty()) {
            if asked.iter().any(|other| std::ptr::eq(*other, cell)) {
                continue;
            }
            let soft = diameter.and_then(|spec| Some((spec, soft_diameter(cell)?)));
            let is_diameter = which == Some(DiameterColumn::Soft(index));
            let Some((spec, unit)) = identify(cell, specs).or_else(|| soft.clone().filter(|_| is_diameter)) else {
                // a mean beside the readings that it is of, another diameter beside the one that is called so
                if diameter.is_some() && is_mean(cell) || soft.is_some() {
                    collector.add(unread(cell, specs, place));
                } else {
                    unknown_column(cell, specs, place, collector);
                }
                continue;
            };
            if let Some(first) = columns.get(spec.name) {
                let found = format!("`{}` and `{}` are both {}", first.header, cell.text, spec.name);
                collector.add(place.error("duplicate-column", &cell.text, found, "keep one of them, or rename the other".to_owned()));
                continue;
            }
            let measure = place.measure(cell, spec, unit, collector);
            columns.found.push(Column {
                index,
                header: cell.text.clone(),
                name: spec.name,
                holds: spec.holds,
                measure,
                needed: spec.needed,
            });
        }
        let is_asked = |spec: &&ColumnSpec| spec.name == "diameter" && !asked.is_empty();
        for spec in specs.iter().filter(|spec| spec.needed && columns.get(spec.name).is_none() && !is_asked(spec)) {
            let texts: Vec<&str> = header.iter().map(|cell| cell.text.as_str()).collect();
            let found = format!("no column `{}` in `{}`", spec.name, texts.join(" | "));
            let is_left =
                |cell: &&HeaderCell| identify(cell, specs).is_none() && soft_diameter(cell).is_none() && length_of(cell).is_some();
            let left = header.iter().find(is_left).filter(|_| spec.name == "station");
            let help = left.map_or_else(
                || format!("add a column `{}`", spec.metric_header()),
                |cell| {
                    format!(
                        "if `{}` is that head it `{}`: {}; else add such a column",
                        cell.text,
                        spec.header_in(length_of(cell)),
                        spec.about
                    )
                },
            );
            collector.add(place.error("missing-column", spec.name, found, help));
        }
        columns
    }

    /// The column of that name, if the header has it.
    pub(in crate::ingest) fn get(&self, name: &str) -> Option<&Column> {
        self.found.iter().find(|column| column.name == name)
    }

    /// Takes a column for one that the header has not.
    pub(in crate::ingest) fn drop_column(&mut self, name: &str) {
        self.found.retain(|column| column.name != name);
    }

    /// All columns, to be changed.
    pub(in crate::ingest) fn iter_mut(&mut self) -> impl Iterator<Item = &mut Column> {
        self.found.iter_mut()
    }

    /// Cells up to the last column that every line must have; a line may leave out cells after it, which are then empty.
    pub(in crate::ingest) fn least_cells(&self) -> usize {
        self.found.iter().filter(|column| column.needed).map(|column| column.index + 1).max().unwrap_or(0)
    }

    /// All columns.
    pub(in crate::ingest) fn all(&self) -> Vec<&Column> {
        self.found.iter().collect()
    }

    /// Indexes of the columns of numbers that every line must have.
    pub(in crate::ingest) fn needed_numbers(&self) -> Vec<usize> {
        self.found.iter().filter(|column| column.needed && column.holds != Holds::Text).map(|column| column.index).collect()
    }

    /// The column of what was measured: the needed one that is no station.
    pub(in crate::ingest) fn principal(&self) -> Option<usize> {
        let measured = |column: &&Column| column.needed && column.name != "station" && !matches!(column.holds, Holds::Text | Holds::Whole);
        self.found.iter().find(measured).map(|column| column.index)
    }

    /// Indexes of the columns that hold numbers.
    pub(in crate::ingest) fn numeric(&self) -> Vec<usize> {
        self.found.iter().filter(|column| column.holds != Holds::Text).map(|column| column.index).collect()
    }

    /// Whether the last of `width` columns holds text.
    pub(in crate::ingest) fn ends_in_text(&self, width: usize) -> bool {
        self.found.iter().any(|column| column.index + 1 == width && column.holds == Holds::Text)
    }
}

/// The first column of an unknown header that is nearly the name of a needed one, as advice.
fn slip_in_header(header: &[HeaderCell]) -> Option<String> {
    const NEEDED: [&str; 6] = ["station", "diameter", "roll", "reading", "from_setting", "change"];
    header.iter().find_map(|cell| {
        let first = cell.words.first().map(String::as_str).filter(|first| first.len() > 3 && !NEEDED.contains(first))?;
        let near = nearest(first, NEEDED)?;
        Some(format!("perhaps `{}` is `{near}`", cell.text))
    })
}

fn unknown_column(cell: &HeaderCell, specs: &'static [ColumnSpec], place: &HeaderPlace<'_>, collector: &mut Collector) {
    let first = cell.words.first().map_or("", String::as_str);
    let joined = cell.words.join("_");
    let names = || specs.iter().map(|spec| spec.name).filter(|name| name.len() > 3);
    let near = nearest(&joined, names()).or_else(|| if first.len() > 3 { nearest(first, names()) } else { None });
    let found = format!("column `{}`", cell.text);
    match near {
        Some(name) => collector.add(place.error("unknown-column", &cell.text, found, format!("perhaps `{name}`"))),
        None => collector.add(unread(cell, specs, place)),
    }
}

/// Says that a column is not read.
fn unread(cell: &HeaderCell, specs: &'static [ColumnSpec], place: &HeaderPlace<'_>) -> Finding {
    let known: Vec<&str> = specs.iter().map(|spec| spec.name).collect();
    let help = format!("it is not read; known are {}", known.join(", "));
    Finding { severity: Severity::Warning, ..place.error("unread-column", &cell.text, format!("column `{}`", cell.text), help) }
}

/// What is wrong with a header that no kind of log is known by: the column that may be the diameter, where there is one of stations; the whole header else.
pub(in crate::ingest) fn unknown_log(header: &[HeaderCell], place: &HeaderPlace<'_>) -> Finding {
    let name_of = |cell: &HeaderCell| identify(cell, DIAMETERS).map(|(spec, _)| spec.name);
    let diameter = DIAMETERS.iter().find(|spec| spec.name == "diameter");
    let strange: Vec<&HeaderCell> = header.iter().filter(|cell| !cell.is_empty() && name_of(cell).is_none()).collect();
    let known = "a log of diameters has columns station and diameter, or station and a column a pass";
    let slip = slip_in_header(header);
    let has_station = header.iter().any(|cell| name_of(cell) == Some("station"));
    let pass = strange.iter().find_map(|cell| Some((cell, number_of_pass(cell)?))).filter(|_| has_station);
    if let Some((cell, pass)) = pass {
        let help = pass_mend(pass, None, &cell.words, length_of(cell));
        return place.error("unknown-log", &cell.text, format!("no column of diameters: `{}` is no header of a pass", cell.text), help);
    }
    let asked = DiameterColumn::of(header).asked(header);
    if has_station && !asked.is_empty() {
        return ask(&asked, "unknown-log", place);
    }
    if let Some(diameter) = diameter.filter(|_| has_station)
        && let Some(odd) = strange.iter().find(|cell| cell.words.iter().any(|word| word == "radius")).or(strange.first())
    {
        let measure = match odd.unit(0, "diameter", Holds::Length) {
            Some(Unit::Known(measure) | Unit::Beside(_, Some(measure))) => Some(measure),
            _ => None,
        };
        let right = diameter.header_in(measure);
        let mended = known_mend("diameter", &odd.words).map(|mend| mend.replace("{header}", &right));
        let help = mended.or(slip).unwrap_or_else(|| format!("if it is the diameter write `{right}`"));
        let found = format!("no column of diameters: `{}` is not known", odd.text);
        return place.error("unknown-log", &odd.text, found, format!("{help}; {known}"));
    }
    let whole = format!("{known}; put `#` before lines that are no header");
    let help = slip.map_or_else(|| whole.clone(), |slip| format!("{slip}; {whole}"));
    let texts: Vec<&str> = header.iter().map(|cell| cell.text.as_str()).collect();
    place.error("unknown-log", "1", format!("header `{}`", texts.join(" | ")), help)
}
