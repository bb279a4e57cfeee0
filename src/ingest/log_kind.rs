use super::header::HeaderCell;
use super::header::column_specs::{CLAMP, ColumnSpec, DIAMETERS, INDICATOR, LEVELS, MOVES};
use super::header::columns::identify;
use super::header::diameter_column::DiameterColumn;
use super::wide;

/// The kinds of log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LogKind {
    /// Diameters along the bar.
    Diameters,
    /// Levels along the bed.
    Levels,
    /// An indicator along a test bar.
    Indicator,
    /// What an indicator did while feet were tightened.
    Clamp,
    /// Moves of the feet.
    Moves,
}

impl LogKind {
    /// All five, in the order of the contract.
    pub const ALL: [Self; 5] = [Self::Diameters, Self::Levels, Self::Indicator, Self::Clamp, Self::Moves];

    /// The stem of its file's name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Diameters => "diameters",
            Self::Levels => "levels",
            Self::Indicator => "indicator",
            Self::Clamp => "clamp",
            Self::Moves => "moves",
        }
    }

    /// The kind that a file's stem names: `diameters`, `diameters-2`, `diameters-monday`; case-blind.
    #[must_use]
    pub fn of_stem(stem: &str) -> Option<Self> {
        let stem = stem.to_lowercase();
        Self::ALL.into_iter().find(|kind| stem.strip_prefix(kind.name()).is_some_and(|rest| rest.is_empty() || rest.starts_with('-')))
    }

    pub(super) fn specs(self) -> &'static [ColumnSpec] {
        match self {
            Self::Diameters => DIAMETERS,
            Self::Levels => LEVELS,
            Self::Indicator => INDICATOR,
            Self::Clamp => CLAMP,
            Self::Moves => MOVES,
        }
    }

    /// The kind that a header tells: the columns that only one kind needs.
    pub(super) fn of_header(header: &[HeaderCell]) -> Option<Self> {
        let has =
            |kind: Self, name: &str| header.iter().any(|cell| identify(cell, kind.specs()).is_some_and(|(spec, _)| spec.name == name));
        if has(Self::Moves, "from_setting") && has(Self::Moves, "to_setting") {
            Some(Self::Moves)
        } else if has(Self::Clamp, "foot") && has(Self::Clamp, "change") {
            Some(Self::Clamp)
        } else if has(Self::Diameters, "diameter") {
            Some(Self::Diameters)
        } else if has(Self::Levels, "roll") {
            Some(Self::Levels)
        } else if has(Self::Diameters, "station")
            && matches!(DiameterColumn::of(header), DiameterColumn::Soft(_) | DiameterColumn::Several(_))
        {
            Some(Self::Diameters)
        } else if has(Self::Indicator, "reading") {
            Some(Self::Indicator)
        } else {
            wide::is_wide(header).then_some(Self::Diameters)
        }
    }
}
