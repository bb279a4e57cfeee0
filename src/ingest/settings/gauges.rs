//! Gauges, test bar and conditions of the settings.

use super::build::holding_of;
use super::builder::Builder;
use crate::trial::{Conditions, DiameterGauge, Gauges, Holding, IndicatorGauge, LevelGauge, TestBar};
use serde_json::json;
use std::collections::BTreeMap;

impl Builder<'_> {
    fn diameter_gauge(&mut self, table: &str, inherit: Option<&DiameterGauge>) -> DiameterGauge {
        let key = |name: &str| format!("{table}.{name}");
        let (u, calibration, why) = match inherit {
            Some(gauge) => (gauge.u_mm, gauge.calibration_u_mm, "as the first diameter gauge"),
            None => (0.002, 0.001, "a good micrometer in a careful hand; common practice, no source"),
        };
        DiameterGauge {
            name: self.text(&key("name")),
            serial: self.text(&key("serial")),
            calibrated: self.text(&key("calibrated")),
            certificate: self.text(&key("certificate")),
            resolution_mm: self.number(&key("resolution_mm")).unwrap_or(0.0),
            u_mm: self.number_or(&key("u_mm"), u, why),
            calibration_u_mm: self.number_or(&key("calibration_u_mm"), calibration, why),
        }
    }

    pub(super) fn gauges(&mut self) -> Gauges {
        let diameter = self.diameter_gauge("gauge.diameter", None);
        let mut diameter_named = BTreeMap::new();
        for name in self.document.tables_below("gauge.diameter") {
            let gauge = self.diameter_gauge(&format!("gauge.diameter.{name}"), Some(&diameter));
            diameter_named.insert(name, gauge);
        }
        let level = LevelGauge {
            name: self.text("gauge.level.name"),
            serial: self.text("gauge.level.serial"),
            calibrated: self.text("gauge.level.calibrated"),
            certificate: self.text("gauge.level.certificate"),
            u_mm_per_m: self.number_or("gauge.level.u_mm_per_m", 0.010, "half a division of a 0.02 mm/m level"),
            division_mm_per_m: self.number("gauge.level.division_mm_per_m"),
        };
        let indicator = IndicatorGauge {
            name: self.text("gauge.indicator.name"),
            serial: self.text("gauge.indicator.serial"),
            calibrated: self.text("gauge.indicator.calibrated"),
            certificate: self.text("gauge.indicator.certificate"),
            u_mm: self.number_or("gauge.indicator.u_mm", 0.001, "a lever indicator of 0.001 or 0.002 mm; common practice, no source"),
        };
        Gauges { diameter, diameter_named, level, indicator }
    }

    pub(super) fn testbar(&mut self) -> TestBar {
        let holding = self.document.text("testbar.holding").map(holding_of).unwrap_or_else(|| {
            self.assume("testbar.holding", json!("chuck"), "the usual run");
            Holding::Chuck
        });
        TestBar {
            taper_um: self.number_or("testbar.taper_um", 0.0, "no certificate stated: taken as parallel"),
            u_um: self.number_or("testbar.u_um", 1.0, "no certificate stated"),
            length_mm: self.number_or("testbar.length_mm", 200.0, "no certificate stated"),
            diameter_mm: self.document.number("testbar.diameter_mm"),
            holding,
            turned_here: self.document.flag("testbar.turned_here").unwrap_or(false),
        }
    }

    pub(super) fn conditions(&mut self) -> Conditions {
        Conditions {
            temperature_c: self.number_or("conditions.temperature_c", 20.0, "the reference temperature of ISO 1"),
            temperature_spread_c: self.number_or("conditions.temperature_spread_c", 2.0, "a bar left to cool for a while"),
        }
    }
}
