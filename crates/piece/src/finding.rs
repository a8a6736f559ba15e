//! What a check says.

use crate::{PartId, Phrase};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How much a finding weighs.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// The piece must not go on like this.
    Stop,
    /// Should be changed.
    Fix,
    /// Worth knowing.
    Note,
}

/// One result of a check, with what to do about it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// How much it weighs.
    pub level: Level,
    /// A stable code, `stage.what-is-wrong`, for scripts and for the handbook.
    pub code: String,
    /// The parts that it is about; may be empty.
    pub parts: Vec<PartId>,
    /// What is the case, in plain words with its numbers.
    pub text: String,
    /// What to do about it.
    pub remedy: String,
    /// Text and remedy as phrases, the remedy last, for whoever tells them in another language; empty where nobody does.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub phrases: Vec<Phrase>,
}

impl Finding {
    /// A finding that nobody tells in another language.
    pub fn new(
        level: Level,
        code: impl Into<String>,
        parts: Vec<PartId>,
        text: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            level,
            code: code.into(),
            parts,
            text: text.into(),
            remedy: remedy.into(),
            phrases: Vec::new(),
        }
    }

    /// Sorts findings for people: stops first, then fixes, then notes; within a level by code, then
    /// by parts, so that the order never depends on how they were found.
    pub fn sort(findings: &mut [Self]) {
        findings.sort_by(|a, b| {
            (a.level, &a.code, &a.parts, &a.text).cmp(&(b.level, &b.code, &b.parts, &b.text))
        });
    }
}
