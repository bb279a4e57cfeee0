//! Which settings hang together by logged moves: their twists differ by what the moves did.

use crate::physics::moves::{raise_mm, twist_per_gain};
use crate::trial::Trial;
use std::collections::{BTreeMap, BTreeSet};

/// The twist of a setting: that of its root plus `gain · G`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Link {
    /// First setting of its chain.
    pub(super) root: u32,
    /// Change of twist since the root per unit of gain, (mm/m)/m.
    pub(super) gain: f64,
}

/// Every setting of a trial with its link, and what could not be used.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Chains {
    /// By setting.
    pub(super) links: BTreeMap<u32, Link>,
    /// Moves that enter.
    pub(super) moves_used: usize,
    /// Why moves were left out, a sentence each.
    pub(super) refused: Vec<String>,
}

/// The chains of all settings that any log of `trial` names.
///
/// Moves between the same two settings add up. A pair of settings is linked when every move between them has a known raise and the feet
/// have a size; of several ways from one setting to another the one through the smallest numbers counts.
pub(super) fn chains(trial: &Trial) -> Chains {
    let mut settings: BTreeSet<u32> = trial.diameters.iter().map(|r| r.setting).collect();
    settings.extend(trial.levels.iter().map(|r| r.setting));
    settings.extend(trial.indicator.iter().map(|r| r.setting));
    settings.extend(trial.clamp.iter().map(|r| r.setting));
    let mut pairs: BTreeMap<(u32, u32), Option<f64>> = BTreeMap::new();
    let mut counts: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    let feet = trial.machine.feet.as_ref();
    for one in trial.moves.iter().filter(|m| m.from_setting != m.to_setting) {
        let twist = feet.and_then(|feet| twist_per_gain(one.foot, raise_mm(one, Some(feet))?, feet));
        let sum = pairs.entry((one.from_setting, one.to_setting)).or_insert(Some(0.0));
        *sum = sum.and_then(|so_far| Some(so_far + twist?));
        *counts.entry((one.from_setting, one.to_setting)).or_insert(0) += 1;
        settings.extend([one.from_setting, one.to_setting]);
    }
    let mut refused = Vec::new();
    for ((from, to), twist) in &pairs {
        if twist.is_none() {
            let what = if feet.is_none() {
                "the feet's spacing is not stated"
            } else {
                "the raise, or the screw's pitch and sense, is not stated"
            };
            refused.push(format!("moves from setting {from} to {to} are not used: {what}"));
        }
    }
    let mut links: BTreeMap<u32, Link> = BTreeMap::new();
    let mut moves_used = 0;
    for start in &settings {
        if links.contains_key(start) {
            continue;
        }
        links.insert(*start, Link { root: *start, gain: 0.0 });
        let mut open = vec![*start];
        while let Some(at) = open.pop() {
            let here = links.get(&at).map_or(0.0, |l| l.gain);
            for ((from, to), twist) in &pairs {
                let Some(twist) = twist else { continue };
                let (next, change) = if *from == at {
                    (*to, *twist)
                } else if *to == at {
                    (*from, -*twist)
                } else {
                    continue;
                };
                if let std::collections::btree_map::Entry::Vacant(free) = links.entry(next) {
                    free.insert(Link { root: *start, gain: here + change });
                    open.push(next);
                    moves_used += counts.get(&(*from, *to)).copied().unwrap_or(0);
                }
            }
        }
    }
    Chains { links, moves_used, refused }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::{Foot, Holding, Move, Place};

    fn moved(from_setting: u32, to_setting: u32, foot: Foot, raise_mm: Option<f64>) -> Move {
        Move { place: Place { file: 0, row: 2 }, from_setting, to_setting, foot, turns: None, raise_mm, note: None }
    }

    /// Feet 700 by 150 mm: 0.1 mm at the tailstock's rear foot is 0.1·10⁶/105000 = 0.952381 (mm/m)/m, at its front foot as much the other way.
    #[test]
    fn moves_add_up_along_chains_both_ways() {
        let mut trial = super::super::fixture::bar(Holding::Chuck);
        trial.moves = vec![
            moved(3, 5, Foot::TailstockRear, Some(0.1)),
            moved(3, 5, Foot::TailstockFront, Some(0.05)),
            moved(5, 7, Foot::TailstockRear, Some(0.2)),
            moved(9, 3, Foot::TailstockRear, Some(0.1)),
            moved(3, 13, Foot::TailstockRear, None),
            moved(5, 5, Foot::TailstockRear, Some(4.0)),
        ];
        let unit = 1e5 / 105_000.0;
        let found = chains(&trial);
        for (setting, root, gain) in [(3, 3, 0.0), (5, 3, 0.5), (7, 3, 2.5), (9, 3, -1.0), (13, 13, 0.0)] {
            let link = found.links[&setting];
            assert!(link.root == root && (link.gain - gain * unit).abs() < 1e-9, "{setting}: {link:?}");
        }
        assert_eq!(found.moves_used, 4);
        assert!(found.refused.len() == 1 && found.refused[0].contains("from setting 3 to 13") && found.refused[0].contains("pitch"));
        trial.machine.feet = None;
        let found = chains(&trial);
        assert!(found.moves_used == 0 && found.refused.iter().all(|why| why.contains("spacing")) && found.refused.len() == 4);
        assert!(found.links.iter().all(|(setting, link)| link.root == *setting));
    }
}
