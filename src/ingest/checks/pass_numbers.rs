//! Passes that the numbering has and the log does not: deleted, or never measured.

use super::super::collector::Collector;
use crate::findings::{Finding, PASSES_MISSING, Severity};
use crate::trial::Trial;
use std::collections::{BTreeMap, BTreeSet};

/// Stretches of missing numbers that are named one by one.
const NAMED: usize = 6;

/// Remarks on numbers that no pass has between 1 and the highest.
///
/// Where settings share a number each is counted by itself, and may go on from the numbers of the others; else one numbering goes through all of them.
/// Left-out readings count: they are in the log.
pub(in crate::ingest) fn check(trial: &Trial, collector: &mut Collector) {
    let mut settings: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
    for cut in trial.diameters.used_cuts(|_| true) {
        settings.entry(cut.setting).or_default().insert(cut.pass);
    }
    let all: BTreeSet<u32> = settings.values().flatten().copied().collect();
    let each = settings.values().map(BTreeSet::len).sum::<usize>() > all.len();
    let several = settings.len() > 1;
    let groups: Vec<(Option<u32>, BTreeSet<u32>)> =
        if each { settings.into_iter().map(|(setting, passes)| (Some(setting), passes)).collect() } else { vec![(None, all.clone())] };
    for (setting, passes) in groups {
        let missing = missing(&passes, &all);
        if missing.is_empty() {
            continue;
        }
        let of = setting.filter(|_| several).map_or_else(String::new, |setting| format!(" of setting {setting}"));
        let one = matches!(missing.as_slice(), [(from, to)] if from == to);
        let (noun, verb) = if one { ("pass", "is") } else { ("passes", "are") };
        let found = format!("{noun} {}{of} {verb} not in the log", in_words(&missing));
        let help = "deleted, or never measured; a log that keeps every pass, with the reason beside what is excluded, shows more";
        collector.add(Finding::new(PASSES_MISSING, Severity::Warning, found, help));
    }
}

/// The stretches of numbers, ends included, between 1 and the highest of `passes` that none of them has; below the lowest of them only those that none of
/// `all` has.
fn missing(passes: &BTreeSet<u32>, all: &BTreeSet<u32>) -> Vec<(u32, u32)> {
    let lowest = passes.iter().copied().find(|pass| *pass > 0).unwrap_or(1);
    let mut next = 1_u32;
    let mut missing = Vec::new();
    for pass in all.range(1..lowest).chain(passes.range(lowest..)).copied() {
        if pass > next {
            missing.push((next, pass - 1));
        }
        next = pass.saturating_add(1);
    }
    missing
}

/// The stretches in words.
fn in_words(missing: &[(u32, u32)]) -> String {
    let shown = |(from, to): &(u32, u32)| match to - from {
        0 => from.to_string(),
        1 => format!("{from}, {to}"),
        _ => format!("{from} to {to}"),
    };
    let named: Vec<String> = missing.iter().take(NAMED).map(shown).collect();
    format!("{}{}", named.join(", "), if missing.len() > NAMED { " and more" } else { "" })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(passes: &[u32]) -> Vec<(u32, u32)> {
        beside(passes, &[])
    }

    fn beside(passes: &[u32], others: &[u32]) -> Vec<(u32, u32)> {
        let passes: BTreeSet<u32> = passes.iter().copied().collect();
        missing(&passes, &others.iter().chain(&passes).copied().collect())
    }

    /// A setting goes on from the numbers of another; what lies between its own numbers is missing whatever others have.
    #[test]
    fn numbers_of_other_settings_fill_what_lies_below() {
        assert_eq!(beside(&[4, 5], &[1, 2, 3]), []);
        assert_eq!(beside(&[3, 4, 5], &[1, 2, 3]), []);
        assert_eq!(beside(&[5, 6], &[1, 2, 3]), [(4, 4)]);
        assert_eq!(beside(&[4, 6], &[1, 2, 3, 5]), [(5, 5)]);
        assert_eq!(beside(&[1, 3], &[1, 2, 3]), [(2, 2)]);
        assert_eq!(beside(&[4], &[2, 6]), [(1, 1), (3, 3)]);
    }

    #[test]
    fn missing_numbers_lie_between_one_and_the_highest() {
        assert_eq!(of(&[1, 2, 3]), []);
        assert_eq!(of(&[1, 3, 5]), [(2, 2), (4, 4)]);
        assert_eq!(of(&[4, 9]), [(1, 3), (5, 8)]);
        assert_eq!(of(&[0, 1]), []);
        assert_eq!(of(&[u32::MAX]), [(1, u32::MAX - 1)]);
        assert_eq!(of(&[]), []);
    }

    #[test]
    fn stretches_are_named_and_many_are_cut_short() {
        assert_eq!(in_words(&[(2, 2)]), "2");
        assert_eq!(in_words(&[(2, 2), (4, 4), (6, 8), (11, 12)]), "2, 4, 6 to 8, 11, 12");
        let many: Vec<(u32, u32)> = (1..=7).map(|place| (2 * place, 2 * place)).collect();
        assert!(in_words(&many).ends_with("12 and more"));
    }
}
