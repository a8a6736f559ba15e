//! What holds a part beside the adhesive.

use crate::{PartId, Phrase};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A tie, strap or screw.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Fastener {
    /// Which part it holds.
    pub part: PartId,
    /// What it is.
    pub kind: FastenerKind,
    /// Holes through the board, in the part's own coordinates as shown.
    pub holes: Vec<Hole>,
    /// What each can carry, N.
    pub holds_n: f64,
    /// Why it is there.
    pub why: Phrase,
}

/// What a fastener is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum FastenerKind {
    /// A loop of thin wire through an opening or round a narrow place of the part, twisted behind the board.
    WireTie,
    /// A clear strap across the part, its ends through the board.
    Strap,
    /// A screw from behind the board into a boss of the part.
    Screw,
}

/// A round hole.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hole {
    /// Centre, mm.
    pub x: f64,
    /// Centre, mm.
    pub y: f64,
    /// Diameter, mm.
    pub diameter_mm: f64,
}
