//! What holds a part.

use crate::{PartId, Phrase};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use shape::Point;

/// One glued joint.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Bond {
    /// Whose joint it is.
    pub part: PartId,
    /// Between what.
    pub joint: Joint,
    /// Materials of the two faces: the part's side first.
    pub faces: [String; 2],
    /// The adhesive: entry of the catalogue.
    pub adhesive: String,
    /// How it is put on.
    pub apply_as: ApplyAs,
    /// Centre lines of the beads in the part's own coordinates as shown, in the order in which they are laid: the
    /// perimeter first, then the infill. A closed one ends where it began.
    #[serde(default)]
    #[schemars(with = "Vec<Vec<[f64; 2]>>")]
    pub paths: Vec<Vec<Point>>,
    /// How many of the paths are perimeter.
    #[serde(default)]
    pub perimeter_paths: usize,
    /// Centres of dots.
    #[serde(default)]
    #[schemars(with = "Vec<[f64; 2]>")]
    pub dots: Vec<Point>,
    /// Pieces of tape.
    #[serde(default)]
    pub tapes: Vec<TapePiece>,
    /// Diameter of the bead or dot as it leaves the nozzle, mm; 0 for tape.
    pub bead_mm: f64,
    /// What a bead or dot spreads to when it is pressed to the bond line, mm; 0 for tape.
    pub spread_mm: f64,
    /// Thickness of the bond line, mm.
    pub bond_line_mm: f64,
    /// Area that holds when it is pressed, mm2.
    pub area_mm2: f64,
    /// Adhesive that is used, with waste, ml; 0 for tape.
    pub dose_ml: f64,
    /// Minutes of laying against the minutes that it stays open; `None` for tape.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lay_minutes: Option<f64>,
    /// Minutes for which it stays open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub open_minutes: Option<f64>,
    /// Largest share of what is allowed, over all loads.
    pub utilisation: f64,
    /// The loads, worst first.
    #[serde(default)]
    pub loads: Vec<LoadResult>,
    /// Why this adhesive.
    #[serde(default)]
    pub reasons: Vec<Phrase>,
    /// What else was looked at, best first.
    #[serde(default)]
    pub runners_up: Vec<RunnerUp>,
}

/// What a joint joins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Joint {
    /// The part and the board.
    PartToBoard,
    /// The part and its support.
    PartToSupport,
    /// The support and the board.
    SupportToBoard,
    /// Two layers of a support.
    SupportLayers,
}

/// How an adhesive is put on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ApplyAs {
    /// Lines.
    Bead,
    /// Single dots.
    Dots,
    /// Pieces of tape.
    Tape,
    /// A thin even coat.
    Film,
}

/// A piece of tape.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TapePiece {
    /// Its outline in the part's own coordinates as shown: open ring.
    #[schemars(with = "Vec<[f64; 2]>")]
    pub outer: Vec<Point>,
    /// Width of the roll that it is cut from, mm.
    pub width_mm: f64,
    /// Its length, mm.
    pub length_mm: f64,
}

/// A load on a joint.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum LoadCaseKind {
    /// Its own weight along the board for years.
    Shear,
    /// Its own weight, standing off, pulling at the upper edge for years.
    Peel,
    /// A shock in carriage along the board, seconds.
    ShockShear,
    /// A shock in carriage away from the board, seconds.
    ShockPull,
    /// What tape may carry for years by its area.
    TapeArea,
    /// The board's facing under the joint, for years.
    Facing,
    /// The board's facing under the joint, in a shock.
    ShockFacing,
}

/// What one load does to a joint.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LoadResult {
    /// Which load.
    pub load: LoadCaseKind,
    /// Stress where it is greatest, MPa; for the tape's rule the area that is needed, mm2.
    pub acts: f64,
    /// What is allowed, MPa; for the tape's rule the area that is there, mm2.
    pub allowed: f64,
    /// The share: 1 is all that is allowed.
    pub utilisation: f64,
}

/// An adhesive that was looked at and not taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunnerUp {
    /// Entry of the catalogue.
    pub adhesive: String,
    /// It would do, but another does better; otherwise it must not be used here.
    pub would_do: bool,
    /// Why it was not taken.
    pub why: Vec<Phrase>,
}
