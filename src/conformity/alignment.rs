//! Spindle against carriage, and the tailstock's offset, from the joint posterior of the causes.

use super::Knowledge;
use super::measured::{Known, Measured};
use super::profile::{generator, normal};
use crate::causes::Posterior;
use crate::shape::Shape;
use crate::trial::{Holding, Plane, Trial};

/// Begins the note of a quantity of which a prior would decide (see [`crate::causes::Carried`]).
pub const NOT_CARRIED: &str = "The readings alone do not carry a decision";

fn has_indicator(trial: &Trial, setting: u32, plane: Plane, holding: Holding) -> bool {
    // a test bar of which nothing is stated is taken to be held in the chuck, as the joint estimate takes it
    let held = trial.testbar.as_ref().map_or(holding == Holding::Chuck, |bar| bar.holding == holding && !bar.turned_here);
    held && trial.indicator.iter().any(|r| r.setting == setting && r.plane == plane)
}

/// `ψ + hτ/1000` over `over_mm`: what an indicator on the carriage sees along a bar in the chuck, mm; positive = away from the tool.
///
/// Where no indicator was run it rests on diameters, and the part of the taper's uncertainty that the draws do not carry is added.
pub(super) fn parallelism(trial: &Trial, shape: &Shape, posterior: Option<&Posterior>, over_mm: Option<f64>, seed: u64) -> Measured {
    let tells = "An indicator run along a ground test bar in the chuck (plane side, spindle at 0° and 180°) would tell.";
    let Some(posterior) = posterior else { return Measured::Unknown(tells.to_owned()) };
    let twist = posterior.twist_mm_per_m_per_m.get(&shape.setting);
    let (Some(twist), false) = (twist, posterior.yaw_mm_per_m.is_empty()) else {
        return Measured::Unknown(format!("No log of this setting sees the spindle's direction. {tells}"));
    };
    let over = over_mm.unwrap_or(shape.tested_length.length);
    let seen = has_indicator(trial, shape.setting, Plane::Side, Holding::Chuck);
    let cut_in_chuck = trial.bar.holding != Holding::Centres;
    if !seen && !cut_in_chuck {
        return Measured::Unknown(format!("A bar between centres says nothing of the spindle's direction. {tells}"));
    }
    if !posterior.carried.parallelism.contains(&shape.setting) {
        return Measured::Unknown(format!("{NOT_CARRIED}: what was believed of headstock and bed beforehand would decide. {tells}"));
    }
    let extra_mm_per_m = if seen { 0.0 } else { 1000.0 * shape.beyond_draws_mm() / (2.0 * shape.tested_length.length) };
    let mut rng = generator(seed, shape.setting, 3);
    let draws = posterior.yaw_mm_per_m.iter().zip(twist).zip(&posterior.roll_arm_mm).map(|((yaw, twist), arm)| {
        let slope_mm_per_m = yaw + arm * twist / 1000.0 + extra_mm_per_m * normal(&mut rng);
        slope_mm_per_m * over / 1000.0
    });
    let Some(knowledge) = Knowledge::of_draws(draws.collect()) else { return Measured::Unknown(tells.to_owned()) };
    let from = if seen {
        "Yaw and twist together, as an indicator sees them, from all logs; positive is away from the tool."
    } else {
        "Yaw and twist together, from the diameters less what wear, bending and the rest make of them; positive is away from the tool. An indicator \
         along a ground test bar would show it without that detour."
    };
    Measured::Known(Known { knowledge, length_mm: Some(over), shrinks: None, note: from.to_owned() })
}

/// The tailstock centre's distance from the line through the headstock centre along the tool's path, mm; positive = away from the tool.
pub(super) fn tailstock_offset(trial: &Trial, shape: &Shape, posterior: Option<&Posterior>, seed: u64) -> Measured {
    let tells = "A bar turned between centres, or an indicator along a ground test bar between them (plane side), would tell.";
    let draws = posterior.and_then(|p| p.offset_mm.get(&shape.setting)).filter(|draws| !draws.is_empty());
    let Some(draws) = draws else { return Measured::Unknown(format!("No log of this setting sees the tailstock. {tells}")) };
    if posterior.is_some_and(|posterior| !posterior.carried.offset.contains(&shape.setting)) {
        return Measured::Unknown(format!(
            "{NOT_CARRIED}: what was believed of tailstock and tool wear beforehand would decide. Passes cut both ways between centres, or an indicator \
             along a ground test bar between them (plane side), would tell."
        ));
    }
    let seen = has_indicator(trial, shape.setting, Plane::Side, Holding::Centres);
    let length = shape.tested_length.length;
    let extra_mm = if seen || length <= 0.0 { 0.0 } else { 0.5 * shape.beyond_draws_mm() * trial.bar.length_mm / length };
    let mut rng = generator(seed, shape.setting, 4);
    let Some(knowledge) = Knowledge::of_draws(draws.iter().map(|offset| offset + extra_mm * normal(&mut rng)).collect()) else {
        return Measured::Unknown(tells.to_owned());
    };
    let note =
        "From all logs together, as the tailstock stood and was clamped in this setting; positive is to the rear, away from the tool.";
    Measured::Known(Known { knowledge, length_mm: Some(trial.bar.length_mm), shrinks: None, note: note.to_owned() })
}
