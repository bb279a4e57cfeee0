//! What became of each mutant: the table, one line a mutant, and its sums.

use crate::mutant::{Mutant, folder};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// What became of a mutant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// The test that failed.
    Killed(String),
    /// The test that took too long.
    TooLong(String),
    /// How many tests passed with it, and how many more reach it that were not run.
    Survived {
        ran: usize,
        left_out: usize,
    },
    NotReached,
}

impl Fate {
    pub fn is_killed(&self) -> bool {
        matches!(self, Self::Killed(_) | Self::TooLong(_))
    }

    fn words(&self) -> (&'static str, String) {
        match self {
            Self::Killed(test) => ("killed", test.clone()),
            Self::TooLong(test) => ("too long", test.clone()),
            Self::Survived { ran, left_out } => ("survived", format!("{ran} {left_out}")),
            Self::NotReached => ("not reached", String::new()),
        }
    }

    fn read(state: &str, detail: &str) -> Option<Self> {
        match state {
            "killed" => Some(Self::Killed(detail.to_owned())),
            "too long" => Some(Self::TooLong(detail.to_owned())),
            "survived" => {
                let (ran, left_out) = detail.split_once(' ')?;
                Some(Self::Survived { ran: ran.parse().ok()?, left_out: left_out.parse().ok()? })
            }
            "not reached" => Some(Self::NotReached),
            _ => None,
        }
    }
}

/// A line of the table: place, state, the test or the numbers of tests, kind, name.
pub fn line(mutant: &Mutant, fate: &Fate) -> String {
    let (state, detail) = fate.words();
    format!("{}:{}:{}\t{state}\t{detail}\t{}\t{}\n", mutant.file, mutant.line, mutant.column, mutant.kind, mutant.name)
}

/// The lines of a table that tell of other mutants than those named.
pub fn lines_but(text: &str, names: &BTreeSet<&str>) -> String {
    let other = |line: &&str| line.rsplit('\t').next().is_some_and(|name| !names.contains(name));
    text.lines().filter(other).map(|line| format!("{line}\n")).collect()
}

/// Fates by name, from a table.
pub fn read(text: &str) -> BTreeMap<String, Fate> {
    let entry = |line: &str| {
        let cells: Vec<&str> = line.split('\t').collect();
        let [_, state, detail, _, name] = cells.as_slice() else { return None };
        Some(((*name).to_owned(), Fate::read(state, detail)?))
    };
    text.lines().filter_map(entry).collect()
}

/// Sums by folder, and of all: mutants, killed (by a time limit), explained, left (not reached).
pub fn sums(fates: &[(Mutant, Fate, bool)]) -> String {
    let mut rows: BTreeMap<String, [usize; 6]> = BTreeMap::new();
    for (mutant, fate, explained) in fates {
        for name in [folder(&mutant.file), "together"] {
            let row = rows.entry(name.to_owned()).or_default();
            let left = !fate.is_killed() && !explained;
            let counted = [true, fate.is_killed(), matches!(fate, Fate::TooLong(_)), *explained, left, left && *fate == Fate::NotReached];
            row.iter_mut().zip(counted).for_each(|(sum, one)| *sum += usize::from(one));
        }
    }
    let mut out = format!(
        "{:<14}{:>9}{:>9}{:>12}{:>11}{:>7}{:>14}\n",
        "folder", "mutants", "killed", "(too long)", "explained", "left", "(not reached)"
    );
    for (name, [mutants, killed, long, explained, left, not_reached]) in rows {
        let _ = writeln!(out, "{name:<14}{mutants:>9}{killed:>9}{long:>12}{explained:>11}{left:>7}{not_reached:>14}");
    }
    out
}
