//! What an analysis does about a taper that no usual machine makes.

use crate::causes::{Steep, out_of_line};
use crate::findings::{Finding, Severity};
use crate::trial::{Assumption, Holding, Trial, WIDENED};
use serde_json::json;

/// To three digits, as the assumptions and the finding state it.
fn rounded(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

/// Lets yaw, twist and offset of a machine far out of line be as large as its taper asks, as far as they act on the bar as it is held and the trial states no
/// prior of them, says so among the assumptions, and asks about it. The finding, and a sentence for the top of the page.
#[must_use]
pub fn allow_steep_taper(trial: &mut Trial, seed: u64) -> Option<(Finding, String)> {
    let steep = Steep::of(trial, seed)?;
    let times = rounded(steep.times);
    let is_assumed = |key: &str| trial.assumed.iter().any(|each| each.key == "prior" || each.key == key);
    let keys: Vec<&str> = out_of_line(trial.bar.holding).iter().map(|(_, key)| *key).filter(|key| is_assumed(key)).collect();
    let widened = steep.widened.filter(|_| !keys.is_empty());
    for key in widened.map_or_else(Vec::new, |_| keys) {
        let prior = &mut trial.prior;
        let sd = match key {
            "prior.yaw_mm_per_m" => &mut prior.yaw_mm_per_m,
            "prior.twist_mm_per_m_per_m" => &mut prior.twist_mm_per_m_per_m,
            _ => &mut prior.offset_mm,
        };
        *sd = rounded(*sd * widened.unwrap_or(1.0));
        let now = Assumption {
            key: key.to_owned(),
            value: json!(*sd),
            why: format!("{WIDENED} by the program, as the taper is {times} times what usual machines make"),
        };
        match trial.assumed.iter_mut().find(|each| each.key == key) {
            Some(each) => *each = now,
            None => trial.assumed.push(now),
        }
    }
    if widened.is_some()
        && let Some(defaults) = trial.assumed.iter_mut().find(|each| each.key == "prior")
    {
        defaults.value = json!("defaults, but for what is widened");
    }
    let other =
        if trial.bar.holding == Holding::Chuck { "not with the top slide" } else { "not with the top slide or the tailstock set over" };
    let found = format!(
        "a taper of {:.3} mm over {} mm, the bar larger at the {} end: {times} times what bed, headstock and tailstock of usual machines make together (one \
         standard deviation)",
        steep.taper_mm.abs(),
        rounded(steep.length_mm),
        if steep.taper_mm > 0.0 { "tailstock" } else { "headstock" }
    );
    let so = match widened {
        Some(widened) => format!(
            "; if all is right the machine is far out of line, and what of it acts here, yaw, twist or offset, is let be {} times as large as usual ([prior] states \
             other sizes)",
            rounded(widened)
        ),
        None => String::new(),
    };
    let help = format!("check stations and diameters, their units, and that the bar was turned along the bed, {other}{so}");
    let over = if trial.bar.holding == Holding::Chuck {
        "whether the top slide was used"
    } else {
        "whether the top slide was used or the tailstock set over"
    };
    let warning = format!("The taper is {times} times what usual machines make: check stations, diameters and units first, and {over}.");
    Some((Finding::new("steep-taper", Severity::Warning, found, help), warning))
}
