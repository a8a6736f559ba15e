//! What is needed.

use crate::{PartId, Phrase};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One line of the bill of materials.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BillLine {
    /// What sort of thing.
    pub kind: BillKind,
    /// Entry of the catalogue, with the size where there are several, such as `neutral-silicone` or `pe-foam-3.2`; stable, for prices.
    pub item: String,
    /// What it is called.
    pub title: Phrase,
    /// How much is used, waste included.
    pub amount: f64,
    /// In what.
    pub unit: BillUnit,
    /// What has to be bought for it; empty where it is bought as it is used.
    #[serde(default)]
    pub packs: Vec<Pack>,
    /// The parts that it is for; empty for the piece as a whole.
    #[serde(default)]
    pub parts: Vec<PartId>,
}

/// A size that is sold, and how many of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pack {
    /// What one holds, in the line's unit.
    pub size: f64,
    /// How many.
    pub count: u32,
    /// What it is, where the number alone does not say: `cartridge`, `600 x 400 mm`.
    #[serde(default)]
    pub form: String,
}

/// What sort of thing a line is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "the names say it")]
pub enum BillKind {
    Frame,
    Glazing,
    Spacer,
    Board,
    Backing,
    Support,
    Adhesive,
    Tape,
    Fastener,
    Hanger,
    Print,
    StandIn,
    Protection,
    Consumable,
}

/// What an amount is counted in.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "the names say it")]
pub enum BillUnit {
    Piece,
    Ml,
    Mm,
    Mm2,
    G,
}
