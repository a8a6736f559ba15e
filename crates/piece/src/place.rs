//! Where a part and its caption lie on the board.

use crate::PartId;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use shape::{Bounds, Point, Pose};

/// Where a part lies: turned about its own origin, which is then carried to (x, y) on the board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Placement {
    /// Which part.
    pub part: PartId,
    /// Where the part's origin lies, mm from the window's left edge.
    pub x: f64,
    /// Where the part's origin lies, mm from the window's lower edge.
    pub y: f64,
    /// Turn, degrees counter-clockwise.
    #[serde(default)]
    pub turn_deg: f64,
    /// The user put it here: arranging leaves it alone.
    #[serde(default)]
    pub pinned: bool,
}

impl Placement {
    /// The pose that carries the part's own coordinates onto the board.
    pub fn board_from_part(&self) -> Pose {
        Pose::new(self.x, self.y, self.turn_deg)
    }
}

/// Farthest coordinate in a document, mm: as far as outlines go. Turns have no more degrees.
pub(crate) const FARTHEST_MM: f64 = 1e5;

/// Whether all are numbers, and none is too far.
pub(crate) fn are_near(values: &[f64]) -> bool {
    values.iter().all(|v| v.abs() <= FARTHEST_MM)
}

/// The same of a point's coordinates.
pub(crate) fn is_near(point: &Point) -> bool {
    are_near(&[point.x, point.y])
}

/// What is wrong where something is not near.
pub(crate) const FAR: &str = "needs numbers within 100 m (100000)";

/// A part's text on the board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Caption {
    /// Whose caption it is.
    pub part: PartId,
    /// What it says; may hold line breaks.
    pub text: String,
    /// Left edge of its box, mm on the board.
    pub x: f64,
    /// Lower edge of its box, mm on the board.
    pub y: f64,
    /// Width of its box, mm.
    pub w: f64,
    /// Height of its box, mm.
    pub h: f64,
    /// Height of its capital letters, mm (ISO 3098 series).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter_mm: Option<f64>,
    /// From the caption to the part, mm on the board; empty where the caption lies beside its part.
    #[serde(default)]
    #[schemars(with = "Vec<[f64; 2]>")]
    pub leader: Vec<Point>,
}

impl Caption {
    /// The caption's box on the board.
    pub fn bounds(&self) -> Bounds {
        Bounds {
            min: Point::new(self.x, self.y),
            max: Point::new(self.x + self.w, self.y + self.h),
        }
    }
}

/// A line along which parts go together, such as through the holes for one screw.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AssemblyAxis {
    /// The parts that it joins, front first.
    pub parts: Vec<PartId>,
    /// What is drawn of it, mm on the board: pieces from one point to another, broken where parts and captions lie.
    #[schemars(with = "Vec<[[f64; 2]; 2]>")]
    pub lines: Vec<[Point; 2]>,
}
