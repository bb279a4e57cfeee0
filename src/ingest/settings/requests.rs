//! The tables that ask for logs or for a plan.

use super::builder::Builder;
use crate::trial::{Direction, Foot, PlanRequest, SimulatedMove, SimulationRequest, Truth};

impl Builder<'_> {
    /// The `[simulate]` table.
    pub(super) fn simulate(&mut self) -> SimulationRequest {
        let directions =
            self.document.words("simulate.directions").map_or_else(Vec::new, |words| words.iter().map(|word| direction_of(word)).collect());
        let mut moves = Vec::new();
        for index in 0..self.document.count("simulate.moves") {
            let key = |name: &str| format!("simulate.moves[{index}].{name}");
            let raise_mm = self.missing(&key("raise_mm"), "how far the foot is raised");
            let foot = self.document.text(&key("foot")).and_then(|name| Foot::ALL.into_iter().find(|foot| foot.name() == name));
            let Some(foot) = foot else {
                self.collector.add(self.document.error("missing-key", &key("foot"), "no usable `foot`", "state which foot is moved"));
                continue;
            };
            let from_setting = self.whole_or(&key("from_setting"), u32::try_from(index).unwrap_or(0));
            moves.push(SimulatedMove {
                from_setting,
                to_setting: self.whole_or(&key("to_setting"), from_setting.saturating_add(1)),
                foot,
                raise_mm,
            });
        }
        let list = |name: &str| self.document.numbers(&format!("simulate.{name}")).unwrap_or_default().to_vec();
        let truth = |name: &str| self.document.number(&format!("simulate.truth.{name}"));
        SimulationRequest {
            logs: self.document.words("simulate.logs").map_or_else(|| vec!["diameters".to_owned()], <[String]>::to_vec),
            settings: self.whole_or("simulate.settings", 1),
            passes: self.whole_or("simulate.passes", 1),
            directions: if directions.is_empty() { vec![Direction::ToHeadstock] } else { directions },
            repeats: self.whole_or("simulate.repeats", 1),
            stations_mm: list("stations_mm"),
            depths_mm: list("depths_mm"),
            feeds_mm_per_rev: list("feeds_mm_per_rev"),
            fresh_edges: self.document.flag("simulate.fresh_edges").unwrap_or(false),
            level_stations_mm: list("level_stations_mm"),
            levels_reversed: self.document.flag("simulate.levels_reversed").unwrap_or(false),
            spindle_deg: list("spindle_deg"),
            noise_factor: self.number("simulate.noise_factor").unwrap_or(1.0),
            moves,
            truth: Truth {
                yaw_mm_per_m: truth("yaw_mm_per_m"),
                twist_mm_per_m_per_m: truth("twist_mm_per_m_per_m"),
                wear_um_per_m: truth("wear_um_per_m"),
                force_factor: truth("force_factor"),
                chuck_tilt_urad_per_nm: truth("chuck_tilt_urad_per_nm"),
                centre_compliance_um_per_n: truth("centre_compliance_um_per_n"),
                gauge_noise_factor: truth("gauge_noise_factor"),
                fresh_edge_um: truth("fresh_edge_um"),
                fresh_edge_m: truth("fresh_edge_m"),
                offset_mm: truth("offset_mm"),
                way_wear_um: truth("way_wear_um"),
                way_wear_length_mm: truth("way_wear_length_mm"),
                thermal_drift_um_per_min: truth("thermal_drift_um_per_min"),
                free_twist_mm_per_m_per_m: truth("free_twist_mm_per_m_per_m"),
                move_gain: truth("move_gain"),
                between_pass_um: truth("between_pass_um"),
                to_tailstock_force_factor: truth("to_tailstock_force_factor"),
                level_zero_mm_per_m: truth("level_zero_mm_per_m"),
                run_out_mm: truth("run_out_mm"),
                vertical_mm_per_m: truth("vertical_mm_per_m"),
            },
        }
    }

    /// The `[plan]` table.
    pub(super) fn plan(&self) -> PlanRequest {
        PlanRequest {
            settle: self.document.words("plan.settle").unwrap_or_default().to_vec(),
            target_expanded_mm: self.number("plan.target_expanded_mm"),
            minutes_per_pass: self.number("plan.minutes_per_pass").or(Some(PlanRequest::MINUTES_PER_PASS)),
            minutes_per_reading: self.number("plan.minutes_per_reading").or(Some(PlanRequest::MINUTES_PER_READING)),
            minutes_per_setup: self.number("plan.minutes_per_setup").or(Some(PlanRequest::MINUTES_PER_SETUP)),
        }
    }
}

fn direction_of(word: &str) -> Direction {
    if word == "to-tailstock" { Direction::ToTailstock } else { Direction::ToHeadstock }
}
