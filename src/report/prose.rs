//! Sentences in which every number knows where the result file keeps it.

use super::quantity::{Quantity, escape_into};
use minijinja::Value;

/// A sentence or paragraph made of text and quantities; rendered as HTML or as plain text.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Prose {
    parts: Vec<Part>,
}

#[derive(Debug, Clone, PartialEq)]
enum Part {
    Text(String),
    Strong(String),
    Number(Quantity),
}

impl Prose {
    /// A sentence that begins with `text`.
    #[must_use]
    pub fn new(text: impl Into<String>) -> Self {
        Self::default().text(text)
    }

    /// Goes on with `text`.
    #[must_use]
    pub fn text(mut self, text: impl Into<String>) -> Self {
        self.parts.push(Part::Text(text.into()));
        self
    }

    /// Goes on with stressed `text`.
    #[must_use]
    pub fn strong(mut self, text: impl Into<String>) -> Self {
        self.parts.push(Part::Strong(text.into()));
        self
    }

    /// Goes on with a number and its unit.
    #[must_use]
    pub fn number(mut self, quantity: Quantity) -> Self {
        self.parts.push(Part::Number(quantity));
        self
    }

    /// Goes on with `other`.
    #[must_use]
    pub fn and(mut self, other: Self) -> Self {
        self.parts.extend(other.parts);
        self
    }

    /// Goes on as `more` says.
    #[must_use]
    pub fn then(self, more: impl FnOnce(Self) -> Self) -> Self {
        more(self)
    }

    /// As HTML, text escaped.
    #[must_use]
    pub fn html(&self) -> Value {
        let mut out = String::with_capacity(256);
        for part in &self.parts {
            match part {
                Part::Text(text) => escape_into(&mut out, text),
                Part::Strong(text) => {
                    out.push_str("<strong>");
                    escape_into(&mut out, text);
                    out.push_str("</strong>");
                }
                Part::Number(quantity) => quantity.write_html(&mut out, true),
            }
        }
        Value::from_safe_string(out)
    }

    /// As plain text.
    #[must_use]
    pub fn plain(&self) -> String {
        self.parts
            .iter()
            .map(|part| match part {
                Part::Text(text) | Part::Strong(text) => text.clone(),
                Part::Number(quantity) => quantity.plain(),
            })
            .collect()
    }
}
