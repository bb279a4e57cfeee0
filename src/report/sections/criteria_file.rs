//! Limits that come from a file: whose they are, before anything that the file says of itself.

use super::limits;
use crate::report::prose::Prose;
use crate::report::quantity::Pen;
use crate::trial::{Acceptance, CriteriaFile, LimitStated, UnlikeBuiltIn};
use minijinja::Value;
use serde::Serialize;

/// What is said of a file of limits.
#[derive(Serialize)]
pub struct FromFile {
    /// Whose file it is.
    lead: String,
    /// What it has in common with the built-in set as which it calls itself.
    called_as: Option<String>,
    /// Each limit that is another than that set's.
    unlike: Vec<Value>,
    /// What the file says of itself.
    says: Option<String>,
}

/// The file from which limits of `acceptance` come; `None` where none does.
pub fn from_file(acceptance: &Acceptance, pen: Pen) -> Option<FromFile> {
    let file = acceptance.file.as_ref()?;
    let whose = if file.chosen { "chosen on the command line" } else { "supplied with the trial" };
    let title = acceptance.title.as_ref().map(|title| format!("its title “{title}”"));
    let source = acceptance.source.as_ref().map(|source| format!("its source “{source}”"));
    let says: Vec<String> = title.into_iter().chain(source).collect();
    Some(FromFile {
        lead: format!("Limits from the file {} {whose}, not a built-in set.", file.name),
        called_as: called_as(file),
        unlike: file.unlike.iter().enumerate().map(|(place, limit)| unlike(place, limit, pen).html()).collect(),
        says: (!says.is_empty()).then(|| format!("The file itself states {}: nobody has compared it with that.", says.join(" and "))),
    })
}

fn called_as(file: &CriteriaFile) -> Option<String> {
    let set = file.called_as.as_ref()?;
    let limits = if file.unlike.is_empty() {
        format!("Its limits for this machine are those of the built-in set {set}, by whose name it calls itself.")
    } else {
        format!("It calls itself by the name of the built-in set {set} and has other limits:")
    };
    let rule =
        if file.other_rule { format!("Its rule of decision is another than that of the built-in set {set}. ") } else { String::new() };
    Some(format!("{rule}{limits}"))
}

fn unlike(place: usize, limit: &UnlikeBuiltIn, pen: Pen) -> Prose {
    let stated = |whose: &str, stated: &Option<LimitStated>| match stated {
        Some(stated) => limits::stated_limit(&format!("trial.acceptance.file.unlike.{place}.{whose}"), limit.quantity, stated, pen),
        None => Prose::new("no such limit"),
    };
    Prose::new(format!("{}: ", limits::name(limit.quantity)))
        .and(stated("file", &limit.file))
        .text(" in the file; built in: ")
        .and(stated("built_in", &limit.built_in))
}
