//! Text that people read, so made that it can be translated.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What a phrase is filled with: numbers as numbers, so that each language can write them its own way.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Param {
    /// A number, in the unit that the parameter's name ends in (`minutes`, `_mm`, `_g`, `_ml`, `_n`), or a count.
    Number(f64),
    /// A name: a part's, or an entry of a catalogue.
    Text(String),
}

impl From<f64> for Param {
    fn from(value: f64) -> Self {
        Self::Number(value)
    }
}

impl From<usize> for Param {
    fn from(value: usize) -> Self {
        Self::Number(value as f64)
    }
}

impl From<&str> for Param {
    fn from(value: &str) -> Self {
        Self::Text(value.into())
    }
}

impl From<String> for Param {
    fn from(value: String) -> Self {
        Self::Text(value)
    }
}

/// A stable code with its parameters, and the English text that they make.
///
/// A translation looks the code up and fills in the parameters; who has none shows `text`.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Phrase {
    /// Stable: `how.bead`.
    pub code: String,
    /// What the text is filled with, by name.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub params: BTreeMap<String, Param>,
    /// In English, filled in.
    pub text: String,
}

impl Phrase {
    /// A phrase from its code and its English text.
    pub fn new(code: impl Into<String>, text: impl Into<String>) -> Self {
        Self {
            code: code.into(),
            params: BTreeMap::new(),
            text: text.into(),
        }
    }

    /// This phrase with one more parameter.
    #[must_use]
    pub fn with(mut self, name: impl Into<String>, value: impl Into<Param>) -> Self {
        self.params.insert(name.into(), value.into());
        self
    }
}
