//! What an analysis does about a taper that no usual machine makes.

use crate::causes::Steep;
use crate::findings::{Finding, Severity};
use crate::trial::{Assumption, Trial};
use serde_json::json;

/// To three digits, as the assumptions and the finding state it.
fn rounded(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

/// Lets yaw, twist and offset of a machine far out of line be as large as its taper asks, says so among the assumptions, and asks about it. Priors that the
/// trial states stay as they are. The finding, and a sentence for the top of the page.
#[must_use]
pub fn allow_steep_taper(trial: &mut Trial, seed: u64) -> Option<(Finding, String)> {
    let steep = Steep::of(trial, seed)?;
    let prior = &mut trial.prior;
    let keys = [
        ("prior.yaw_mm_per_m", &mut prior.yaw_mm_per_m),
        ("prior.twist_mm_per_m_per_m", &mut prior.twist_mm_per_m_per_m),
        ("prior.offset_mm", &mut prior.offset_mm),
    ];
    let times = rounded(steep.times);
    for (key, sd) in keys {
        *sd = rounded(*sd * steep.widened);
        let why = format!("widened, as the taper is {times} times what usual machines make");
        trial.assumed.push(Assumption { key: key.to_owned(), value: json!(*sd), why });
    }
    let found = format!(
        "a taper of {} mm over {} mm, {times} times what bed, headstock and tailstock of usual machines make together (one standard deviation)",
        rounded(steep.taper_mm.abs()),
        rounded(steep.length_mm)
    );
    let help = format!(
        "check stations and diameters, their units, and that the bar was turned along the bed, not with the top slide or the tailstock set over; if all is \
         right the machine is far out of line, and yaw, twist and offset are let be {} times as large as usual ([prior] states other sizes)",
        rounded(steep.widened)
    );
    let warning = format!(
        "A taper of {} mm over {} mm is far more than usual machines make: check units first, and whether the top slide or the tailstock was set over.",
        rounded(steep.taper_mm.abs()),
        rounded(steep.length_mm)
    );
    Some((Finding::new("steep-taper", Severity::Warning, found, help), warning))
}
