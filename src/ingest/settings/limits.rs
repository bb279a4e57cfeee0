//! Limits: those of `[acceptance]` and those of a criteria file.

use super::super::collector::Collector;
use super::super::words::SENSES;
use super::build::Builder;
use super::document::Document;
use crate::trial::{Acceptance, DecisionRule, Limit, Provenance, Quantity, Sense};

/// The decision rule and the limits of a criteria file.
pub(crate) fn criteria(document: &Document, collector: &mut Collector) -> (Option<DecisionRule>, Vec<Limit>) {
    let rule = document.text("decision_rule").map(|word| match word {
        "simple" => DecisionRule::Simple,
        "probability" => DecisionRule::Probability,
        _ => DecisionRule::GuardBand,
    });
    let mut builder = Builder::of(document, collector);
    let limits = (0..document.count("limit")).filter_map(|index| builder.limit(&format!("limit[{index}]"))).collect();
    (rule, limits)
}

impl Builder<'_> {
    pub(super) fn acceptance(&mut self) -> Acceptance {
        let mut limit = Vec::new();
        for index in 0..self.document.count("acceptance.limit") {
            limit.extend(self.limit(&format!("acceptance.limit[{index}]")));
        }
        Acceptance { criteria: self.text("acceptance.criteria"), decision_rule: None, limit }
    }

    fn limit(&mut self, table: &str) -> Option<Limit> {
        let key = |name: &str| format!("{table}.{name}");
        let limit_mm = self.missing(&key("limit_mm"), "the largest deviation allowed");
        let Some(quantity) = self.document.text(&key("quantity")).and_then(quantity_of) else {
            let finding =
                self.document.error("missing-key", &key("quantity"), "no usable `quantity`", "state what is limited, such as \"taper\"");
            self.collector.add(finding);
            return None;
        };
        let sense = self.document.text(&key("sense")).and_then(sense_of).unwrap_or(Sense::Either);
        let fits = senses_of(quantity);
        if !fits.contains(&sense) {
            let found = format!("sense \"{}\" for this quantity", self.document.text(&key("sense")).unwrap_or_default());
            let known: Vec<&str> = SENSES.iter().copied().filter(|word| sense_of(word).is_some_and(|s| fits.contains(&s))).collect();
            self.collector.add(self.document.error("sense-does-not-fit", &key("sense"), found, format!("use {}", known.join(", "))));
        }
        if matches!(quantity, Quantity::AdjacentBands | Quantity::LevelVariation) && self.document.in_inches(&key("limit_mm")) {
            let found = "`limit_in` for a quantity that is no length";
            let help = "state `limit_mm`: for adjacent-bands a ratio, for level-variation mm/m";
            self.collector.add(self.document.error("no-inch-twin", &key("limit_mm"), found, help));
        }
        Some(Limit {
            quantity,
            limit_mm,
            over_mm: self.number(&key("over_mm")),
            sense,
            floor_mm: self.number(&key("floor_mm")).unwrap_or(0.005),
            clause: self.text(&key("clause")),
            source: self.text("source"),
            provenance: self.document.text(&key("provenance")).map(|word| match word {
                "read" => Provenance::Read,
                _ => Provenance::FromMemory,
            }),
            swing_from_mm: self.number(&key("swing_from_mm")),
            swing_to_mm: self.number(&key("swing_to_mm")),
        })
    }
}

fn quantity_of(word: &str) -> Option<Quantity> {
    Some(match word {
        "taper" => Quantity::Taper,
        "barrel" => Quantity::Barrel,
        "diameter-consistency" => Quantity::DiameterConsistency,
        "adjacent-bands" => Quantity::AdjacentBands,
        "roundness" => Quantity::Roundness,
        "spindle-parallelism-horizontal" => Quantity::SpindleParallelismHorizontal,
        "spindle-parallelism-vertical" => Quantity::SpindleParallelismVertical,
        "level-variation" => Quantity::LevelVariation,
        "tailstock-height" => Quantity::TailstockHeight,
        "tailstock-offset" => Quantity::TailstockOffset,
        _ => return None,
    })
}

fn sense_of(word: &str) -> Option<Sense> {
    Some(match word {
        "either" => Sense::Either,
        "larger-at-headstock" => Sense::LargerAtHeadstock,
        "larger-at-tailstock" => Sense::LargerAtTailstock,
        "barrel" => Sense::Barrel,
        "hourglass" => Sense::Hourglass,
        "towards-tool" => Sense::TowardsTool,
        "away-from-tool" => Sense::AwayFromTool,
        "upwards" => Sense::Upwards,
        "downwards" => Sense::Downwards,
        _ => return None,
    })
}

/// The senses that mean something for a quantity.
fn senses_of(quantity: Quantity) -> &'static [Sense] {
    match quantity {
        Quantity::Taper => &[Sense::Either, Sense::LargerAtHeadstock, Sense::LargerAtTailstock],
        Quantity::Barrel => &[Sense::Either, Sense::Barrel, Sense::Hourglass],
        Quantity::SpindleParallelismHorizontal | Quantity::TailstockOffset => &[Sense::Either, Sense::TowardsTool, Sense::AwayFromTool],
        Quantity::SpindleParallelismVertical | Quantity::TailstockHeight => &[Sense::Either, Sense::Upwards, Sense::Downwards],
        Quantity::DiameterConsistency | Quantity::AdjacentBands | Quantity::Roundness | Quantity::LevelVariation => &[Sense::Either],
    }
}
