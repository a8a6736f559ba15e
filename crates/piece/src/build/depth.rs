//! How the layers stand behind the glazing.

use crate::PartId;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The stack from the front of the glazing to the back of the backing, against the rebate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Depth {
    /// Rebate depth that the piece needs, mm, rounded up to a tenth.
    pub needed_mm: f64,
    /// Rebate depth of the frame, mm, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rebate_mm: Option<f64>,
    /// What the rebate has to spare, mm: negative where the piece does not fit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spare_mm: Option<f64>,
    /// From the board's face to the glazing's inner face, mm.
    pub inside_mm: f64,
    /// The layers from the front to the back.
    pub layers: Vec<DepthLayer>,
    /// What keeps the glazing off the parts.
    pub spacer: Spacer,
    /// How each placed part stands in it.
    pub parts: Vec<PartDepth>,
    /// Stock rebate depths, the least first, and whether each does.
    #[serde(default)]
    pub stock: Vec<StockDepth>,
}

/// One layer of the stack.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DepthLayer {
    /// What it is.
    pub kind: DepthLayerKind,
    /// Its entry in the catalogue, or the part that makes it; empty for air.
    #[serde(default)]
    pub name: String,
    /// Its thickness, mm.
    pub thickness_mm: f64,
}

/// What a layer of the stack is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DepthLayerKind {
    /// Glass or acrylic in front.
    Glazing,
    /// Air between the tallest part and the glazing.
    Air,
    /// The part that reaches farthest.
    Part,
    /// What it stands on: support or lift.
    Support,
    /// Adhesive under it.
    Adhesive,
    /// The board that carries the parts.
    Board,
    /// What closes the frame behind.
    Backing,
}

/// What keeps the glazing off the parts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Spacer {
    /// Height that is needed, mm.
    pub needed_mm: f64,
    /// Stock heights that are stacked, mm, the tallest first; empty where no stock does.
    pub stack_mm: Vec<f64>,
    /// Length of spacer along the window's four sides, mm, for each layer.
    pub run_mm: f64,
}

/// How one part stands behind the glazing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PartDepth {
    /// Which part.
    pub part: PartId,
    /// Height of its lowest face above the board's face, mm: adhesive, pads or lift.
    pub foot_mm: f64,
    /// Height of its highest point above the board's face, mm.
    pub top_mm: f64,
    /// From there to the glazing's inner face, mm.
    pub clearance_mm: f64,
    /// The part's height is not known: it counts as this table's least, and the clearance is no promise.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub height_unknown: bool,
}

/// A stock rebate depth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StockDepth {
    /// What it is sold as.
    pub name: String,
    /// Rebate depth, mm.
    pub rebate_mm: f64,
    /// What it has to spare, mm: negative where it is too shallow.
    pub spare_mm: f64,
}
