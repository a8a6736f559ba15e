//! The light of a field, for what is judged once a part's height is known.

use crate::plane::SheetPlane;
use crate::segment::grid::FieldGrid;
use crate::segment::paper::Relative;
use shape::Point;

/// Cells per millimetre that the wall eye and the round eye were taught at.
const CELLS_PER_MM: f64 = 5.0;

/// A field's light, and where it lies on the sheet.
pub(crate) struct Light<'a, P: SheetPlane> {
    pub(crate) grid: &'a FieldGrid,
    pub(crate) relative: &'a Relative,
    pub(crate) plane: &'a P,
    /// Cells of the grid in a millimetre.
    pub(crate) cells_per_mm: f64,
}

impl<P: SheetPlane> Light<'_, P> {
    /// The eyes' own cells in those of the grid: the joined ones where the grid is fine.
    pub(crate) fn unit(&self) -> f64 {
        (self.cells_per_mm / CELLS_PER_MM).round().max(1.0)
    }

    /// Where a point of the sheet lies on the grid, cells; `None` where it cannot be seen.
    pub(crate) fn cell_of(&self, p: Point) -> Option<[f64; 2]> {
        let px = self.plane.photo_from_sheet(p)?;
        Some(self.grid.grid_from_photo(px))
    }

    /// Light over paper at a place of the grid as cells `unit` times as wide have it, natural logarithm per channel.
    pub(crate) fn joined(&self, [x, y]: [f64; 2], unit: f64) -> [f32; 3] {
        if unit < 2.0 {
            return self.relative.sample(self.grid, x, y);
        }
        let mut sum = [0.0f32; 3];
        for (dx, dy) in [(-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25)] {
            let v = self
                .relative
                .sample(self.grid, x + dx * unit, y + dy * unit);
            for k in 0..3 {
                sum[k] += 0.25 * v[k];
            }
        }
        sum
    }
}
