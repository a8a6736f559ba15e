//! The frame and what it leaves free.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use shape::{Bounds, Point};

/// A deep frame, sold by its glazing size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Frame {
    /// Glazing size, width and height, mm.
    pub size_mm: [f64; 2],
    /// What the frame's lip hides of the glazing on each side, mm.
    pub lip_mm: f64,
    /// What the board is smaller than the glazing, in all, on each axis, mm.
    pub board_clearance_mm: f64,
    /// From the front of the glazing to the back of the backing, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rebate_depth_mm: Option<f64>,
    /// What stays free of parts inside the window.
    pub margin_mm: Margin,
    /// Width of the spacer that stands along the window's edge, mm.
    #[serde(default)]
    pub spacer_width_mm: f64,
    /// Glazing by its stock name, such as `float-2` (2 mm float glass) or `acrylic-2`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub glazing: Option<String>,
}

/// What stays free along each side of the window, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Margin {
    /// Along the left side, mm.
    pub left: f64,
    /// Along the right side, mm.
    pub right: f64,
    /// Along the top, mm.
    pub top: f64,
    /// Along the bottom, mm; usually the widest, as in mount cutting.
    pub bottom: f64,
}

impl Frame {
    /// The visible window in board coordinates: lower-left corner at the origin.
    pub fn window(&self) -> Bounds {
        let [w, h] = self.size_mm;
        Bounds {
            min: Point::new(0.0, 0.0),
            max: Point::new(w - 2.0 * self.lip_mm, h - 2.0 * self.lip_mm),
        }
    }

    /// The board's own edge in board coordinates: it reaches behind the lip on all sides.
    pub fn board(&self) -> Bounds {
        self.window()
            .grown(self.lip_mm - 0.5 * self.board_clearance_mm)
    }

    /// Where parts may lie: the window less spacer and margin, in board coordinates.
    pub fn field(&self) -> Bounds {
        let (w, m, s) = (self.window(), self.margin_mm, self.spacer_width_mm);
        Bounds {
            min: Point::new(m.left + s, m.bottom + s),
            max: Point::new(w.max.x - m.right - s, w.max.y - m.top - s),
        }
    }
}
