use super::super::collector::Collector;
use super::document::Document;
use crate::trial::Assumption;
use serde_json::json;

/// Makes a trial's tables from a document.
pub(super) struct Builder<'b> {
    pub(super) document: &'b Document,
    pub(super) assumed: Vec<Assumption>,
    pub(super) collector: &'b mut Collector,
}

impl<'b> Builder<'b> {
    pub(super) fn of(document: &'b Document, collector: &'b mut Collector) -> Self {
        Self { document, assumed: Vec::new(), collector }
    }

    pub(super) fn text(&self, key: &str) -> Option<String> {
        self.document.text(key).filter(|text| !text.is_empty()).map(str::to_owned)
    }

    pub(super) fn number(&self, key: &str) -> Option<f64> {
        self.document.number(key)
    }

    /// The stated number, or `default`, which is then noted as assumed with its reason.
    pub(super) fn number_or(&mut self, key: &str, default: f64, why: &str) -> f64 {
        self.number(key).unwrap_or_else(|| {
            self.assume(key, json!(default), why);
            default
        })
    }

    pub(super) fn assume(&mut self, key: &str, value: serde_json::Value, why: &str) {
        self.assumed.push(Assumption { key: key.to_owned(), value, why: why.to_owned() });
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole keys hold a u32")]
    pub(super) fn whole_or(&self, key: &str, default: u32) -> u32 {
        self.number(key).map_or(default, |number| number as u32)
    }

    pub(super) fn missing(&mut self, key: &str, why: &str) -> f64 {
        self.number(key).unwrap_or_else(|| {
            if !self.document.is_faulty(key) {
                let name = key.rsplit('.').next().unwrap_or(key);
                let finding = self.document.error("missing-key", key, format!("no `{name}`"), format!("state `{name}`: {why}"));
                self.collector.add(finding);
            }
            0.0
        })
    }
}
