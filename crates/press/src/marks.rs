//! Marks that say where a printed sheet is cut.

use crate::drawing::Compose;
use crate::{Ink, Path, Stroke, width_mm};
use shape::{Bounds, Point, Vector};

/// Length of a mark, mm.
pub(crate) const MARK_MM: f64 = 5.0;

/// White between the ink's edge and a mark, mm.
pub(crate) const GAP_MM: f64 = 2.0;

/// Marks in line with a box's edges, outside its corners and outside the ink that reaches `bleed_mm` beyond it.
pub(crate) fn draw_trim_marks(to: &mut impl Compose, sheet: Bounds, bleed_mm: f64) {
    let from_mm = bleed_mm + GAP_MM;
    for (x, out_x) in [(sheet.min.x, -1.0), (sheet.max.x, 1.0)] {
        for (y, out_y) in [(sheet.min.y, -1.0), (sheet.max.y, 1.0)] {
            let corner = Point::new(x, y);
            for out in [Vector::new(out_x, 0.0), Vector::new(0.0, out_y)] {
                let mark = Path::line(corner + out * from_mm, corner + out * (from_mm + MARK_MM));
                to.stroke(mark, Stroke::continuous(width_mm::NARROW, Ink::BLACK));
            }
        }
    }
}
