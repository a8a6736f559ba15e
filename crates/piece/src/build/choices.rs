//! What the maker has decided about the build, before it is worked out.

use crate::{FreedBy, PartId};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The maker's own decisions; what is left out, mounting decides.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BuildChoices {
    /// The board: entry of the catalogue.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub board: Option<String>,
    /// What closes the frame behind: entry of the catalogue.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub backing: Option<String>,
    /// The moulding, for its mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moulding: Option<Moulding>,
    /// Air between the tallest part and the glazing, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub air_gap_mm: Option<f64>,
    /// Adhesive of single parts: entries of the catalogue.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub adhesives: BTreeMap<PartId, String>,
    /// Every part must come off again whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reversible: Option<bool>,
    /// The room is closed or cannot be aired: nothing that gives off solvent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unaired: Option<bool>,
    /// Warmest that the piece will hang, degrees Celsius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub warmest_c: Option<f64>,
    /// Shock in carriage, times gravity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shock_g: Option<f64>,
    /// Part masses above which something beside adhesive holds it, g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tie_above_g: Option<f64>,
    /// Share of what is allowed above which something beside adhesive holds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tie_above_utilisation: Option<f64>,
    /// How the places go from the template to the board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub transfer: Option<Transfer>,
    /// People who work at the same time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hands: Option<u32>,
    /// Clamps or weights that are there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clamps: Option<u32>,
    /// Parts with a flash capacitor, a lamp, a tube or mains parts that a qualified person has made safe and passed in
    /// writing. It has no effect on cells.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub made_safe: BTreeSet<PartId>,
    /// Ways of freeing parts for which the equipment is not there.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub lacks: BTreeSet<FreedBy>,
    /// The side from which the device is opened; where nobody said it, the side nearer to its cell, else the back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opened_from: Option<DeviceSide>,
}

/// A side of the whole device.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DeviceSide {
    /// Where its user looks.
    Front,
    /// The other one.
    Back,
}

/// The moulding's section and wood.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Moulding {
    /// Width seen from the front, mm.
    pub width_mm: f64,
    /// Height off the wall, mm.
    pub height_mm: f64,
    /// Material: entry of the catalogue, such as `oak` or `pine`.
    pub material: String,
}

impl Moulding {
    /// What a moulding counts as where nobody said, from the depth of its rebate, mm: a slim one of pine, higher than its
    /// rebate by the lip in front of the glazing and what stands behind. Common practice, no source.
    pub fn usual(rebate_mm: f64) -> Self {
        Self {
            width_mm: 20.0,
            height_mm: rebate_mm + 6.0,
            material: "pine".into(),
        }
    }
}

/// How places go from the template to the board.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Transfer {
    /// Tape corners along the outlines.
    Tape,
    /// Prick points through the paper.
    Prick,
    /// Openings cut out of the template: each part goes into its own.
    CutOut,
}
