//! Limits: those of `[acceptance]` and those of a criteria file.

use super::super::collector::Collector;
use super::super::words::SENSES;
use super::builder::Builder;
use super::document::Document;
use super::sensible::unlikely;
use crate::trial::{Acceptance, DecisionRule, Limit, Provenance, Quantity, Sense};

/// The floor of a limit that states none, mm (common practice, no source).
const FLOOR_MM: f64 = 0.005;
const FLOOR_WHY: &str = "usual; scaled to a shorter length a limit does not fall below it, and a one-sided limit allows it the other way";

/// What a criteria file states.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Stated {
    pub(crate) name: Option<String>,
    pub(crate) title: Option<String>,
    pub(crate) source: Option<String>,
    pub(crate) decision_rule: Option<DecisionRule>,
    pub(crate) probability: Option<f64>,
    pub(crate) limits: Vec<Limit>,
}

/// The contents of a criteria file; `fallback_name` where it states none.
pub(crate) fn criteria(document: &Document, fallback_name: &str, collector: &mut Collector) -> Stated {
    let mut builder = Builder::of(document, collector);
    let name = builder.text("name").unwrap_or_else(|| fallback_name.to_owned());
    let limits: Vec<Limit> = (0..document.count("limit")).filter_map(|index| builder.limit(&format!("limit[{index}]"))).collect();
    let stated = Stated {
        title: builder.text("title"),
        source: builder.text("source"),
        decision_rule: rule(document, "decision_rule"),
        probability: builder.probability("probability"),
        limits: limits.into_iter().map(|limit| Limit { criterion: Some(name.clone()), ..limit }).collect(),
        name: Some(name),
    };
    unlikely(document).into_iter().for_each(|finding| collector.add(finding));
    if stated.limits.is_empty() && !document.faulty.iter().any(|key| key.starts_with("limit[")) {
        let found = "a criteria file without a usable limit";
        collector.add(document.error("no-limit", "limit", found, "write [[limit]], once for each, with quantity and limit_mm"));
    }
    stated
}

fn rule(document: &Document, key: &str) -> Option<DecisionRule> {
    document.text(key).map(|word| match word {
        "simple" => DecisionRule::Simple,
        "probability" => DecisionRule::Probability,
        _ => DecisionRule::GuardBand,
    })
}

impl Builder<'_> {
    pub(super) fn acceptance(&mut self) -> Acceptance {
        let mut limit = Vec::new();
        for index in 0..self.document.count("acceptance.limit") {
            limit.extend(self.limit(&format!("acceptance.limit[{index}]")));
        }
        Acceptance {
            criteria: self.text("acceptance.criteria"),
            decision_rule: rule(self.document, "acceptance.decision_rule"),
            probability: self.probability("acceptance.probability"),
            limit,
            ..Acceptance::default()
        }
    }

    /// A probability of conformity to ask for: more than a half and less than certainty.
    fn probability(&mut self, key: &str) -> Option<f64> {
        let stated = self.number(key)?;
        if stated > 0.5 && stated < 1.0 {
            return Some(stated);
        }
        let help = "write a number between 0.5 and 1, such as 0.95: at a half or below a thing could conform and not conform at once";
        self.collector.add(self.document.error("probability-out-of-range", key, format!("`{stated}` for `probability`"), help));
        None
    }

    fn limit(&mut self, table: &str) -> Option<Limit> {
        let key = |name: &str| format!("{table}.{name}");
        let limit_mm = self.missing(&key("limit_mm"), "the largest deviation allowed");
        let Some(quantity) = self.document.text(&key("quantity")).and_then(quantity_of) else {
            if !self.document.is_faulty(&key("quantity")) {
                let help = "state what is limited, such as \"taper\"";
                self.collector.add(self.document.error("missing-key", &key("quantity"), "no usable `quantity`", help));
            }
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
        let (from, to) = (self.number(&key("swing_from_mm")), self.number(&key("swing_to_mm")));
        if let (Some(from), Some(to)) = (from, to)
            && from > to
        {
            let found = format!("swings from {from} to {to} mm");
            self.collector.add(self.document.error("swing-order", &key("swing_from_mm"), found, "write the smaller swing first"));
        }
        Some(Limit {
            criterion: None,
            quantity,
            limit_mm,
            over_mm: self.number(&key("over_mm")),
            sense,
            floor_mm: self.number_or(&key("floor_mm"), FLOOR_MM, FLOOR_WHY),
            clause: self.text(&key("clause")),
            source: self.text(&key("source")).or_else(|| self.text("source")),
            provenance: self.document.text(&key("provenance")).map(|word| match word {
                "read" => Provenance::Read,
                _ => Provenance::FromMemory,
            }),
            swing_from_mm: from,
            swing_to_mm: to,
        })
    }
}

fn quantity_of(word: &str) -> Option<Quantity> {
    Quantity::ALL.into_iter().find(|quantity| quantity.name() == word)
}

fn sense_of(word: &str) -> Option<Sense> {
    SENSE_VALUES.into_iter().find(|sense| sense.name() == word)
}

const SENSE_VALUES: [Sense; 9] = [
    Sense::Either,
    Sense::LargerAtHeadstock,
    Sense::LargerAtTailstock,
    Sense::Barrel,
    Sense::Hourglass,
    Sense::TowardsTool,
    Sense::AwayFromTool,
    Sense::Upwards,
    Sense::Downwards,
];

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
