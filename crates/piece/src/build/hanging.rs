//! The board that carries the parts, and the frame on the wall.

use crate::Phrase;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The board that carries the parts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoardPlan {
    /// Entry of the catalogue.
    pub material: String,
    /// Thickness, mm.
    pub thickness_mm: f64,
    /// Width and height, mm.
    pub size_mm: [f64; 2],
    /// Mass, g.
    pub mass_g: f64,
    /// Mass that it carries, g.
    pub carries_g: f64,
    /// How far its middle bows out of its plane, mm: weight that stands off its face, held at its edges.
    pub bow_mm: f64,
    /// How far it may, mm.
    pub bow_allowed_mm: f64,
    /// Boards of the catalogue that would do, the lightest first.
    #[serde(default)]
    pub would_do: Vec<String>,
}

/// Mass and hanging of the finished piece.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hanging {
    /// What makes the mass.
    pub masses: Vec<MassLine>,
    /// The hanger: entry of the catalogue.
    pub hanger: String,
    /// How many.
    pub count: u32,
    /// What one is rated for, g.
    pub rating_g: f64,
    /// Times that all of them together carry the piece; 4 or more is asked.
    pub times: f64,
    /// How far below the upper edge they sit, mm.
    pub below_top_mm: f64,
    /// How far the centre of mass lies to the right of the middle, mm: it hangs askew where this is large.
    pub off_centre_mm: f64,
    /// The wire between them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wire: Option<Wire>,
    /// What is left to the user and to local practice.
    #[serde(default)]
    pub notes: Vec<Phrase>,
}

/// A picture wire between two hangers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Wire {
    /// Entry of the catalogue.
    pub name: String,
    /// Angle of each half to the horizontal, degrees.
    pub above_horizontal_deg: f64,
    /// Tension in each half, N.
    pub tension_n: f64,
    /// What it is rated for, N.
    pub rating_n: f64,
    /// Its length with the ends that are wound, mm.
    pub length_mm: f64,
}

/// What a share of the mass is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MassLine {
    /// What it is.
    pub what: Phrase,
    /// Its mass, g.
    pub mass_g: f64,
    /// Worked out from size and density, or a guess; otherwise it was weighed.
    #[serde(default)]
    pub estimated: bool,
}
