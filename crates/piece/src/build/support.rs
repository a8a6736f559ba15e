//! What lies under or inside a part.

use crate::PartId;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use shape::{Outline, OutlineError, Point};

/// One piece of support, cut from sheet material, in one or more layers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Support {
    /// Whose support it is.
    pub part: PartId,
    /// What it does.
    pub kind: SupportKind,
    /// Its outline in the part's own coordinates as shown: open ring, counter-clockwise.
    #[schemars(with = "Vec<[f64; 2]>")]
    pub outer: Vec<Point>,
    /// Its holes: open rings, clockwise.
    #[serde(default)]
    #[schemars(with = "Vec<Vec<[f64; 2]>>")]
    pub holes: Vec<Vec<Point>>,
    /// Stock thicknesses that are stacked, mm, from the board up.
    pub layers_mm: Vec<f64>,
    /// Material of each layer: entries of the catalogue.
    pub materials: Vec<String>,
    /// Height when it is in place, mm.
    pub height_mm: f64,
    /// Share by which it is pressed together: 0 to 0.1.
    #[serde(default)]
    pub compression: f64,
}

/// What a support does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SupportKind {
    /// Fills a hollow part, so that it has a flat face to glue.
    Fill,
    /// Stands under a part that is lifted on purpose.
    Lift,
    /// Stands under the lowest points, or beside them, of a back that is not flat.
    Pad,
}

impl Support {
    /// Its outline, checked.
    ///
    /// # Errors
    /// [`OutlineError`] where the rings of a document make none.
    pub fn outline(&self) -> Result<Outline, OutlineError> {
        Outline::try_new(self.outer.clone(), self.holes.clone())
    }

    /// The outer ring and the holes of an outline, as a support holds them.
    pub fn rings_of(outline: &Outline) -> (Vec<Point>, Vec<Vec<Point>>) {
        (
            outline.outer().points().to_vec(),
            outline
                .holes()
                .iter()
                .map(|h| h.points().to_vec())
                .collect(),
        )
    }
}

/// One stock sheet of support material with what is cut from it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutSheet {
    /// Entry of the catalogue.
    pub material: String,
    /// Thickness, mm.
    pub thickness_mm: f64,
    /// Width and height, mm.
    pub size_mm: [f64; 2],
    /// What is cut; x right, y up from the sheet's lower-left corner.
    pub placements: Vec<CutPlacement>,
    /// Share of the sheet's area that is used.
    pub used: f64,
}

/// Where one layer of a support is cut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutPlacement {
    /// Which support of the plan, by its place in the list.
    pub support: usize,
    /// Which of its layers, from 0 at the board.
    pub layer: usize,
    /// Where the origin of the support's coordinates lies, mm.
    pub x: f64,
    /// Where the origin of the support's coordinates lies, mm.
    pub y: f64,
    /// Turn, degrees counter-clockwise.
    #[serde(default)]
    pub turn_deg: f64,
}
