//! What is done, in which order and by when.

use crate::{Param, PartId, Phrase};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One step. A step at which nobody works (a cure) has `hands_on_minutes` 0.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// Unique in the plan: `glue.p1`.
    pub id: String,
    /// What is done: stable, the same for all parts (`step.glue`); the title's text belongs to it.
    pub code: String,
    /// What the title is filled with.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub params: BTreeMap<String, Param>,
    /// What is done, in English.
    pub title: String,
    /// How it is done, sentence by sentence.
    #[serde(default)]
    pub how: Vec<Phrase>,
    /// Which part of the work it belongs to.
    pub stage: Stage,
    /// The parts that are handled.
    #[serde(default)]
    pub parts: Vec<PartId>,
    /// Steps that must be done before.
    pub after: Vec<String>,
    /// From its start to its end, minutes.
    pub minutes: f64,
    /// How long somebody works at it, minutes.
    pub hands_on_minutes: f64,
    /// Clamps or weights that it holds from its start to its end.
    #[serde(default)]
    pub clamps: u32,
    /// When it starts, minutes from the first step's start; working hours are not told from nights.
    #[serde(default)]
    pub start_minute: f64,
    /// When it ends, minutes from the first step's start.
    #[serde(default)]
    pub end_minute: f64,
    /// Minutes by which its start may slip before the piece is late; 0 on the critical path.
    #[serde(default)]
    pub slack_minutes: f64,
    /// What can hurt someone here.
    pub cautions: Vec<Caution>,
}

/// Part of the work that a step belongs to.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Parts made ready: hazards, data, cleaning, films, leads, trimming.
    Prepare,
    /// Tray map, fills and pads, stand-ins, dry fit.
    DryFit,
    /// Board and template put in register, places carried over.
    Transfer,
    /// Glue, press, cure.
    Bond,
    /// Captions, glazing, static dust, closing.
    Close,
    /// Hangers, wire, wall.
    Hang,
    /// After it hangs: opening it again.
    Later,
}

/// What can hurt someone, what protects, and the rule. It defers to local rules and licensed practice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// Stable: `cell`.
    pub code: String,
    /// What the text is filled with.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub params: BTreeMap<String, Param>,
    /// What can happen, in English.
    pub text: String,
    /// What protects: gloves, eye protection, air.
    #[serde(default)]
    pub protection: Vec<Phrase>,
    /// What must or must not be done.
    pub rule: Phrase,
    /// The parts that it is about; empty where the work itself is the danger.
    #[serde(default)]
    pub parts: Vec<PartId>,
}
