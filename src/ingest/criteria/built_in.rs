use super::super::collector::{Collector, Rejected};
use crate::trial::Acceptance;

/// A set of limits that comes with the program, kept as a criteria file like any other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BuiltIn {
    /// Its name.
    pub name: &'static str,
    /// Its text: TOML, as the user could write it.
    pub text: &'static str,
}

/// All built-in sets, by name. A new one is a file in `sets/` and a line here.
pub static BUILT_IN: [BuiltIn; 4] = [
    BuiltIn { name: "common-practice", text: include_str!("sets/common-practice.toml") },
    BuiltIn { name: "iso-1708-general", text: include_str!("sets/iso-1708-general.toml") },
    BuiltIn { name: "iso-1708-precision", text: include_str!("sets/iso-1708-precision.toml") },
    BuiltIn { name: "schlesinger-quoted", text: include_str!("sets/schlesinger-quoted.toml") },
];

/// The built-in set of that name, case ignored.
pub(super) fn named(name: &str) -> Option<&'static BuiltIn> {
    BUILT_IN.iter().find(|set| set.name.eq_ignore_ascii_case(name.trim()))
}

/// Every limit of the built-in set called `name`, whatever the swing; `None` when there is no such set.
///
/// # Errors
/// [`Rejected`] never happens for a set that the tests have read.
pub fn read_built_in(name: &str) -> Option<Result<Acceptance, Rejected>> {
    let set = named(name)?;
    let mut collector = Collector::default();
    let stated = super::read(set.text, set.name, &mut collector);
    let acceptance = Acceptance {
        criteria: stated.name,
        file: None,
        title: stated.title,
        source: stated.source,
        decision_rule: stated.decision_rule,
        probability: stated.probability,
        limit: stated.limits,
        left_out: 0,
    };
    Some(collector.finish().map(|_| acceptance))
}
