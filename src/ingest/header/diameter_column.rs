//! Which column of a header holds the diameters read, where more than one may: a stock size read in its place would be a bar without taper.

use super::column_specs::{DIAMETERS, SOFT_DIAMETER};
use super::columns::{HeaderPlace, identify};
use super::pass_column::is_pass;
use super::{HeaderCell, Holds, MOST_WORDS, Measure, Unit};
use crate::findings::Finding;

/// The column of diameters among those of a header.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::ingest) enum DiameterColumn {
    /// One or more are called diameter.
    Plain,
    /// The column with this index: its name may mean the diameters read, and no other column stands there that may hold them.
    Soft(usize),
    /// Any of these columns may hold them, and the name of one says so.
    Several(Vec<usize>),
    /// None is named so; these hold lengths.
    Unnamed(Vec<usize>),
}

/// Words of a column that was read from a gauge.
const READ: &[&str] = &[
    "measured",
    "measurement",
    "measurements",
    "actual",
    "reading",
    "readings",
    "readout",
    "micrometer",
    "mic",
    "caliper",
    "result",
    "results",
    "ist",
    "istmaß",
    "found",
    "observed",
];

impl DiameterColumn {
    /// Finds it. `diameter_mm`, written so, is the diameter whatever stands beside it; `Diameter (mm)` beside a column that was read from a gauge may be a
    /// stock size; `OD (mm)` is the diameter where no other length stands beside it.
    pub(in crate::ingest) fn of(header: &[HeaderCell]) -> Self {
        let which = |is: &dyn Fn(&HeaderCell) -> bool| -> Vec<usize> {
            (0..).zip(header).filter(|(_, cell)| !cell.is_empty() && is(cell)).map(|(index, _)| index).collect()
        };
        let rivals = which(&|cell| !is_mean(cell) && (soft_diameter(cell).is_some() || may_hold(cell)));
        if header.iter().any(is_plain) {
            let is_stated = |cell: &HeaderCell| is_plain(cell) && cell.text.to_lowercase().starts_with("diameter_");
            let was_read = |index: &usize| header.get(*index).is_some_and(was_read);
            if header.iter().any(is_stated) || !rivals.iter().any(was_read) {
                return Self::Plain;
            }
            let mut both = which(&is_plain);
            both.extend(rivals.into_iter().filter(was_read));
            both.sort_unstable();
            return Self::Several(both);
        }
        let mut all = rivals;
        if !all.iter().any(|index| header.get(*index).and_then(soft_diameter).is_some()) {
            let means = which(&|cell| is_mean(cell) && soft_diameter(cell).is_some());
            if means.is_empty() {
                return Self::Unnamed(all);
            }
            all.extend(means);
            all.sort_unstable();
        }
        match all.as_slice() {
            [one] => Self::Soft(*one),
            _ => Self::Several(all),
        }
    }

    /// The columns that are asked about.
    pub(in crate::ingest) fn asked<'h>(&self, header: &'h [HeaderCell]) -> Vec<&'h HeaderCell> {
        let (Self::Several(cells) | Self::Unnamed(cells)) = self else { return Vec::new() };
        let cells: Vec<&HeaderCell> = cells.iter().filter_map(|index| header.get(*index)).collect();
        // radii are told on their own
        let is_radius = |cell: &&HeaderCell| cell.words.iter().any(|word| word == "radius");
        if cells.len() < 2 || matches!(self, Self::Unnamed(_)) && cells.iter().any(is_radius) { Vec::new() } else { cells }
    }
}

/// Most columns that a question names.
const NAMED: usize = 4;

/// Asks which of some columns holds the diameters.
pub(in crate::ingest) fn ask(cells: &[&HeaderCell], code: &'static str, place: &HeaderPlace<'_>) -> Finding {
    let named: Vec<String> = cells.iter().take(NAMED).map(|cell| format!("`{}`", cell.text)).collect();
    let more = if cells.len() > NAMED { " and more" } else { "" };
    let measures: Vec<Option<Measure>> = cells.iter().map(|cell| length_of(cell)).collect();
    let shared = measures.first().copied().flatten().filter(|_| measures.windows(2).all(|pair| pair.first() == pair.last()));
    let right = DIAMETERS.iter().find(|spec| spec.name == "diameter").map_or_else(String::new, |spec| spec.header_in(shared));
    let help = format!("which of them did the gauge read at each station? Head that one `{right}`, and take the others out");
    let first = cells.first().map_or("1", |cell| cell.text.as_str());
    place.error(code, first, format!("more than one column may hold the diameters: {}{more}", named.join(", ")), help)
}

/// The unit of a column whose name may mean the diameters read, such as `OD (mm)`.
pub(in crate::ingest) fn soft_diameter(cell: &HeaderCell) -> Option<Unit> {
    (1..=cell.words.len().min(MOST_WORDS)).rev().find_map(|named| {
        let name = cell.words.get(..named)?.join("_");
        if SOFT_DIAMETER.contains(&name.as_str()) { cell.unit(named, "diameter", Holds::Length) } else { None }
    })
}

/// Whether a column is headed as a mean of others.
pub(in crate::ingest) fn is_mean(cell: &HeaderCell) -> bool {
    cell.words.first().is_some_and(|word| matches!(word.as_str(), "mean" | "average" | "avg"))
}

fn is_plain(cell: &HeaderCell) -> bool {
    identify(cell, DIAMETERS).is_some_and(|(spec, _)| spec.name == "diameter")
}

fn was_read(cell: &HeaderCell) -> bool {
    cell.words.iter().any(|word| READ.contains(&word.as_str()))
}

/// Whether a column that no name tells may hold diameters: it is headed with a unit of length, or as a pass.
fn may_hold(cell: &HeaderCell) -> bool {
    match identify(cell, DIAMETERS) {
        // `Measured (mm)` is no time and `Micrometer (mm)` no name
        Some((spec, Unit::Unknown(_))) => matches!(spec.name, "measured_at" | "gauge"),
        Some(_) => false,
        None => {
            let first = cell.words.first().map_or("", String::as_str);
            let is_text = DIAMETERS.iter().any(|spec| {
                spec.holds == Holds::Text
                    && !matches!(spec.name, "measured_at" | "gauge")
                    && (spec.name == first || spec.aliases.contains(&first))
            });
            !is_text && (is_pass(cell) || length_of(cell).is_some() || was_read(cell) && is_bare(cell))
        }
    }
}

/// The unit of length among the words of a column.
pub(in crate::ingest) fn length_of(cell: &HeaderCell) -> Option<Measure> {
    match cell.unit(0, "diameter", Holds::Length) {
        Some(Unit::Known(measure) | Unit::Beside(_, Some(measure))) => Some(measure),
        _ => None,
    }
}

/// Whether a column has no unit, and no words that a diameter has not.
fn is_bare(cell: &HeaderCell) -> bool {
    cell.unit(0, "diameter", Holds::Length) == Some(Unit::Missing)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_soft_name_counts_where_it_stands_alone() {
        use DiameterColumn::{Plain, Several, Soft, Unnamed};
        for (header, wanted) in [
            ("Station (mm)|Diameter (mm)", Plain),
            ("station_mm|diameter_mm|bar_diameter_mm", Plain),
            ("station_mm|diameter_mm|OD mm|Final diameter mm", Plain),
            ("station_mm|diameter_mm|Measured diameter (mm)", Plain),
            ("Station (mm)|Diameter (mm)|Nominal (mm)|remark 1\"", Plain),
            ("Station (mm)|Diameter (mm)|Measured diameter (mm)", Several(vec![1, 2])),
            ("Station (mm)|Measured (mm)|Dia (mm)", Several(vec![1, 2])),
            ("Station (mm)|OD (mm)", Soft(1)),
            ("Station (mm)|OD (mm)|Depth of cut (mm)|Feed (mm/rev)|Top slide shift (mm)|Time|Micrometer|No.|note 5\"", Soft(1)),
            ("Station (mm)|OD (mm)|Mean diameter (mm)", Soft(1)),
            ("Station (mm)|Mean diameter (mm)", Soft(1)),
            ("Station (mm)|Reading 1 (mm)|Reading 2 (mm)|Mean diameter (mm)", Several(vec![1, 2, 3])),
            ("Station (mm)|OD (mm)|Measured size (mm)", Several(vec![1, 2])),
            ("Station (mm)|OD (mm)|Measured (mm)", Several(vec![1, 2])),
            ("Station (mm)|OD (mm)|Pass 1", Several(vec![1, 2])),
            ("Station|OD|Actual", Several(vec![1, 2])),
            ("Station (mm)|Bar dia (mm)|Micrometer (mm)", Unnamed(vec![1, 2])),
            ("Station (mm)|Note", Unnamed(vec![])),
        ] {
            let cells: Vec<HeaderCell> = header.split('|').map(HeaderCell::parse).collect();
            assert_eq!(DiameterColumn::of(&cells), wanted, "{header}");
        }
    }
}
