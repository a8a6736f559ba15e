//! Where a number comes from.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How far a number can be trusted.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Stands in a published source that is named beside it.
    Published,
    /// What the trade does; no source was found.
    CommonPractice,
    /// From memory: to be checked before anybody relies on it.
    Recalled,
    /// The user's own number.
    Own,
}

impl Standing {
    /// For people.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::CommonPractice => "common practice, no source",
            Self::Recalled => "recalled, to be checked",
            Self::Own => "your own",
        }
    }
}

/// A value with its source. The field that holds it carries the unit in its name.
///
/// In JSON `{"value": 2500, "source": "…", "standing": "published"}`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// Where it is from.
    #[serde(default)]
    pub source: String,
    /// How far it can be trusted.
    #[serde(default = "own")]
    pub standing: Standing,
}

fn own() -> Standing {
    Standing::Own
}

impl<T> Sourced<T> {
    /// A value with its source and standing.
    pub fn new(value: T, source: impl Into<String>, standing: Standing) -> Self {
        Self {
            value,
            source: source.into(),
            standing,
        }
    }

    /// From a published source.
    pub fn published(value: T, source: impl Into<String>) -> Self {
        Self::new(value, source, Standing::Published)
    }

    /// From memory.
    pub fn recalled(value: T) -> Self {
        Self::new(value, "recalled, to be checked", Standing::Recalled)
    }
}
