//! Rows above the header of a wide sheet whose cells over the passes name the ways of the tool: `Direction,to headstock,to tailstock`.

use super::super::words;
use super::HeaderCell;
use super::arrows::arrows;
use super::title_courses::{BARRED, MEASURED, STATION};
use super::title_ends::end_named;
use super::title_words::way;
use crate::trial::Direction;
use std::borrow::Cow;

/// What the first cell of a row says that the others are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Label {
    /// It is empty.
    None,
    /// Ways of the tool: `Direction of cut`, `Towards`.
    Way,
    /// Where the tool began: `From`, `Started at`.
    Start,
    /// A cut or the tool, and no more: `Pass`, `Feed`.
    Cut,
    /// Stations or distances: `Station (mm)` over the column of stations, or a label whose value stands beside it.
    Stations,
    /// A zero, a taper, the way one measures: its values are no ways of the tool.
    Else,
    Unknown,
}

impl Label {
    fn of(text: &str) -> Self {
        let words = HeaderCell::parse(text).words;
        let any = |known: &[&str]| words.iter().any(|word| known.contains(&word.as_str()));
        let all = words.iter().all(|word| [WAYS, STARTS, CUTS].iter().any(|known| known.contains(&word.as_str())));
        match () {
            () if words.is_empty() => Self::None,
            () if any(STATION) || any(&["distance", "distances", "dist"]) => Self::Stations,
            () if any(MEASURED) || any(BARRED) || any(&["zero", "0"]) => Self::Else,
            () if all && any(STARTS) => Self::Start,
            () if all && any(WAYS) => Self::Way,
            () if all => Self::Cut,
            () => Self::Unknown,
        }
    }

    /// The way of the tool that a cell of the row names; `alone` whether no other cell of it differs.
    fn way(self, cell: &str, alone: bool) -> Option<Direction> {
        let is_letter = cell.trim().chars().count() == 1;
        let named = || match self {
            Self::Way => words::direction(cell),
            Self::None | Self::Cut if !(is_letter && alone) => words::direction(cell),
            Self::Start => words::direction(cell).filter(|_| !alone).map(|end| match end {
                Direction::ToHeadstock => Direction::ToTailstock,
                Direction::ToTailstock => Direction::ToHeadstock,
            }),
            _ => None,
        };
        way(cell).or_else(named)
    }
}

/// What a row says of the ways of the tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::ingest) enum RowWays {
    /// The cell over the column with this index names the way to the tailstock.
    ToTailstock(usize),
    /// It seems to.
    Perhaps(usize),
    /// The cells differ, in words of which none is known.
    Differ,
}

impl RowWays {
    /// Finds them in the cells of a title, where `label` is the first cell and `over` are the columns of passes whose headers name no way.
    pub(in crate::ingest) fn of(cells: &[Cow<'_, str>], label: &str, over: &[usize]) -> Option<Self> {
        let is_way_label = Self::is_direction_label(label);
        let label_kind = Label::of(label);
        let filled: Vec<(usize, &str)> =
            over.iter().filter_map(|index| Some((*index, cells.get(*index)?.trim()))).filter(|(_, cell)| !cell.is_empty()).collect();
        let (_, first) = filled.first()?;
        let alone = filled.iter().all(|(_, cell)| cell.eq_ignore_ascii_case(first));
        let ways: Vec<Option<Direction>> = filled.iter().map(|(_, cell)| label_kind.way(cell, alone)).collect();
        let goal = |goal: Direction| ways.iter().position(|way| *way == Some(goal)).and_then(|at| filled.get(at)).map(|(index, _)| *index);
        let (tail, parts) = (goal(Direction::ToTailstock), goal(Direction::ToHeadstock).is_some());
        match (label_kind, tail) {
            (Label::None | Label::Way | Label::Start | Label::Cut, Some(index)) => return Some(Self::ToTailstock(index)),
            (Label::Stations | Label::Unknown, Some(index)) if parts => return Some(Self::ToTailstock(index)),
            (Label::Unknown, Some(index)) => return Some(Self::Perhaps(index)),
            _ => {}
        }
        // `Direction,left,right`, `Direction,A,B`
        let all_head = ways.iter().all(|way| *way == Some(Direction::ToHeadstock));
        let like_ways = filled.iter().zip(&ways).all(|((_, cell), way)| way.is_some() || is_like_a_way(cell));
        let in_pairs = filled.iter().any(|(_, cell)| is_label_of_a_value(cell));
        let fits = match label_kind {
            Label::Way => like_ways || filled.len() == over.len(),
            Label::Start => like_ways,
            Label::Cut => like_ways && is_way_label,
            _ => false,
        };
        (!alone && !all_head && !in_pairs && fits).then_some(Self::Differ)
    }

    /// Whether a first cell says that the others of its row are ways of the tool, or of a cut, in words alone: `Direction of cut`; `Tool,left,right` are tools.
    pub(in crate::ingest) fn is_direction_label(label: &str) -> bool {
        matches!(Label::of(label), Label::Way | Label::Start | Label::Cut) && !label.trim().eq_ignore_ascii_case("tool")
    }
}

/// Whether a cell heads the one beside it, as in `Direction,to headstock,Date,12 March`.
pub(in crate::ingest) fn is_label_of_a_value(cell: &str) -> bool {
    const LABELS: &[&str] = &[
        "date",
        "time",
        "depth",
        "feed",
        "speed",
        "rpm",
        "operator",
        "unit",
        "units",
        "setting",
        "temperature",
        "temp",
        "bar",
        "machine",
        "lathe",
        "tool",
        "insert",
        "note",
        "notes",
        "remarks",
        "material",
        "holding",
        "by",
        "micrometer",
        "gauge",
        "gage",
        "direction",
        "stations",
        "coolant",
    ];
    let words = HeaderCell::parse(cell).words;
    words.first().is_some_and(|word| LABELS.contains(&word.as_str()))
}

/// Whether a cell may name a way in other words: `left`, `R-L`, `->`, `forward`.
fn is_like_a_way(cell: &str) -> bool {
    const WORDS: &[&str] = &[
        "left",
        "right",
        "l",
        "r",
        "h",
        "t",
        "rl",
        "lr",
        "ht",
        "th",
        "in",
        "out",
        "inward",
        "inwards",
        "outward",
        "outwards",
        "forward",
        "forwards",
        "fwd",
        "reverse",
        "rev",
        "backward",
        "backwards",
        "chuckward",
        "chuckwards",
        "headward",
        "headwards",
        "tailward",
        "tailwards",
        "to",
        "from",
        "towards",
        "the",
        "end",
        "free",
        "hand",
    ];
    let words = super::header_words::words(cell);
    let is_known = |word: &String| WORDS.contains(&word.as_str()) || end_named(word).is_some();
    words.iter().all(is_known) && !(words.is_empty() && arrows(cell).is_empty())
}

const WAYS: &[&str] = &["direction", "directions", "dir", "to", "towards", "toward", "way", "ways", "travel", "traverse"];
const STARTS: &[&str] = &["from", "start", "starts", "started", "begun", "begins", "began"];
const CUTS: &[&str] = &["of", "cut", "cuts", "cutting", "pass", "passes", "tool", "feed", "the", "at", "each"];
