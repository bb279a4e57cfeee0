//! A file of limits that calls itself as a built-in set: it goes by its file's name, and each limit that is another than that set's is told.

use super::super::settings::StatedCriteria;
use super::built_in::{self, read_built_in};
use crate::trial::{CriteriaFile, Limit, LimitStated, Quantity, UnlikeBuiltIn};
use std::path::Path;

/// `file` with what it has in common with the built-in set as which it, or its file, calls itself; its limits then carry the file's name.
pub(super) fn compared(file: CriteriaFile, stated: &mut StatedCriteria, swing_mm: Option<f64>) -> CriteriaFile {
    let stem = Path::new(&file.name).file_stem().map(|stem| stem.to_string_lossy().into_owned());
    let set = stated.name.as_deref().and_then(built_in::named).or_else(|| stem.as_deref().and_then(built_in::named));
    let Some((set, Some(Ok(built_in)))) = set.map(|set| (set, read_built_in(set.name))) else { return file };
    stated.name = Some(file.name.clone());
    stated.limits.iter_mut().for_each(|limit| limit.criterion = Some(file.name.clone()));
    CriteriaFile {
        called_as: Some(set.name.to_owned()),
        unlike: unlike(&stated.limits, &built_in.limit, swing_mm),
        other_rule: (stated.decision_rule, stated.probability) != (built_in.decision_rule, built_in.probability),
        ..file
    }
}

/// Limits of one of the two lists only, or of another value: those of a quantity for the machine's swing are taken in their order.
fn unlike(file: &[Limit], built_in: &[Limit], swing_mm: Option<f64>) -> Vec<UnlikeBuiltIn> {
    let of = |limits: &[Limit], quantity: Quantity| -> Vec<LimitStated> {
        limits.iter().filter(|limit| limit.quantity == quantity && limit.applies_to(swing_mm)).map(LimitStated::from).collect()
    };
    let mut unlike = Vec::new();
    for quantity in Quantity::ALL {
        let (file, built_in) = (of(file, quantity), of(built_in, quantity));
        for place in 0..file.len().max(built_in.len()) {
            let (file, built_in) = (file.get(place).copied(), built_in.get(place).copied());
            if file != built_in {
                unlike.push(UnlikeBuiltIn { quantity, file, built_in });
            }
        }
    }
    unlike
}
