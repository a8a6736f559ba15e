//! The blank field as a grid of cells, each about a tenth of a millimetre wide.
//!
//! Parts are told from paper on this grid; their edges are then found in the photo's own pixels.

use crate::linear::LinearImage;
use shape::on_rows;

/// Cells per millimetre aimed at; photos that are coarser have one pixel to a cell.
const CELLS_PER_MM: f64 = 10.0;

/// Pixels along a cell's side at that scale.
pub(crate) fn cell_px(px_per_mm: f64) -> usize {
    ((px_per_mm / CELLS_PER_MM).round() as usize).max(1)
}

/// Where the cells of the field lie in the photo.
pub(crate) struct FieldGrid {
    /// Cells along x.
    pub(crate) width: usize,
    /// Cells along y.
    pub(crate) height: usize,
    /// Pixels along a cell's side.
    pub(crate) cell_px: usize,
    /// Pixel column and row of the grid's upper-left corner.
    origin: [usize; 2],
    /// Whether a cell's middle lies in the field; rows from the top.
    inside: Vec<bool>,
}

impl FieldGrid {
    /// A grid over a polygon given in pixels; `None` where the polygon misses the photo.
    pub(crate) fn over(
        image: &LinearImage<'_>,
        field_px: &[[f64; 2]],
        px_per_mm: f64,
    ) -> Option<Self> {
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for p in field_px {
            for k in 0..2 {
                low[k] = low[k].min(p[k]);
                high[k] = high[k].max(p[k]);
            }
        }
        let limit = [image.width as f64 - 1.0, image.height as f64 - 1.0];
        let low: [f64; 2] = std::array::from_fn(|k| low[k].floor().clamp(0.0, limit[k]));
        let high: [f64; 2] = std::array::from_fn(|k| high[k].ceil().clamp(0.0, limit[k]));
        let area = (high[0] - low[0]) * (high[1] - low[1]);
        if area.is_nan() || area < 1000.0 {
            return None;
        }
        let cell_px = cell_px(px_per_mm);
        let origin = low.map(|v| v as usize);
        let cells = |k: usize| (high[k] - low[k]) as usize / cell_px;
        let (width, height) = (cells(0), cells(1));
        if width < 8 || height < 8 {
            return None;
        }
        let centre = |k: usize, i: usize| {
            origin[k] as f64 + i as f64 * cell_px as f64 + 0.5 * (cell_px as f64 - 1.0)
        };
        let mut inside = vec![false; width * height];
        for (j, row) in inside.chunks_mut(width).enumerate() {
            for (from, to) in spans_at(field_px, centre(1, j)) {
                let cell_of = |x: f64| (x - centre(0, 0)) / cell_px as f64;
                let first = cell_of(from).ceil().max(0.0) as usize;
                let past = ((cell_of(to).floor() + 1.0).max(0.0) as usize).min(width);
                for cell in row.iter_mut().take(past).skip(first) {
                    *cell = true;
                }
            }
        }
        Some(Self {
            width,
            height,
            cell_px,
            origin,
            inside,
        })
    }

    /// A grid of which every cell lies in the field, a pixel each.
    #[cfg(test)]
    pub(crate) fn of_cells(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            cell_px: 1,
            origin: [0, 0],
            inside: vec![true; width * height],
        }
    }

    /// Where a place on the grid (cells, cell centres at integers) lies in the photo, pixels.
    pub(crate) fn photo_from_grid(&self, p: [f64; 2]) -> [f64; 2] {
        std::array::from_fn(|k| self.origin[k] as f64 + (p[k] + 0.5) * self.cell_px as f64 - 0.5)
    }

    /// Where a place in the photo lies on the grid, cells.
    pub(crate) fn grid_from_photo(&self, p: [f64; 2]) -> [f64; 2] {
        std::array::from_fn(|k| (p[k] + 0.5 - self.origin[k] as f64) / self.cell_px as f64 - 0.5)
    }

    /// Whether a cell lies in the field.
    pub(crate) fn inside(&self, cell: usize) -> bool {
        self.inside[cell]
    }

    /// Steps along rows and columns from each cell of the field to the nearest cell outside it, at most `most`.
    pub(crate) fn depths(&self, most: usize) -> Vec<u16> {
        let w = self.width;
        let most = most.min(usize::from(u16::MAX) - 1) as u16;
        let mut depth = vec![0u16; self.inside.len()];
        // Along its row first: rows know nothing of each other.
        on_rows(&mut depth, w, |y, row| {
            let inside = &self.inside[y * w..][..w];
            let mut steps = 0;
            for (cell, inside) in row.iter_mut().zip(inside) {
                steps = if *inside { (steps + 1).min(most) } else { 0 };
                *cell = steps;
            }
            steps = 0;
            for (cell, inside) in row.iter_mut().zip(inside).rev() {
                steps = if *inside { (steps + 1).min(most) } else { 0 };
                *cell = steps.min(*cell);
            }
        });
        // Then over rows, down and up.
        let mut nearer = vec![0u16; w];
        for row in depth.chunks_exact_mut(w) {
            steps_on(row, &mut nearer);
        }
        nearer.fill(0);
        for row in depth.chunks_exact_mut(w).rev() {
            steps_on(row, &mut nearer);
        }
        depth
    }

    /// Takes cells out of the field.
    pub(crate) fn leave_out(&mut self, cells: impl Iterator<Item = usize>) {
        for cell in cells {
            self.inside[cell] = false;
        }
    }

    /// The photo's pixel that a cell is; `None` where a cell holds several.
    pub(crate) fn pixel_of(&self, x: usize, y: usize) -> Option<[usize; 2]> {
        (self.cell_px == 1).then(|| [self.origin[0] + x, self.origin[1] + y])
    }

    /// Mean linear light of a cell.
    pub(crate) fn light(&self, image: &LinearImage<'_>, x: usize, y: usize) -> [f32; 3] {
        if let Some([x, y]) = self.pixel_of(x, y) {
            return image.pixel(x, y);
        }
        let side = self.cell_px;
        let (x0, y0) = (self.origin[0] + x * side, self.origin[1] + y * side);
        let mut sum = [0.0f32; 3];
        for y in y0..y0 + side {
            for x in x0..x0 + side {
                let p = image.pixel(x, y);
                for k in 0..3 {
                    sum[k] += p[k];
                }
            }
        }
        sum.map(|s| s / (side * side) as f32)
    }
}

/// No cell of a row is farther off than its neighbour in the row before and a step; that row becomes this one.
fn steps_on(row: &mut [u16], before: &mut [u16]) {
    for (cell, before) in row.iter_mut().zip(before) {
        *cell = (*cell).min(*before + 1);
        *before = *cell;
    }
}

/// Where a line of pixels runs inside a polygon: pairs of pixel columns.
fn spans_at(polygon: &[[f64; 2]], y: f64) -> Vec<(f64, f64)> {
    let mut cuts: Vec<f64> = Vec::new();
    for (k, a) in polygon.iter().enumerate() {
        let b = polygon[(k + 1) % polygon.len()];
        if (a[1] > y) != (b[1] > y) {
            cuts.push(a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
        }
    }
    cuts.sort_by(f64::total_cmp);
    cuts.chunks_exact(2).map(|c| (c[0], c[1])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Truth: the nearest of all cells outside, looked up one by one.
    #[test]
    fn depths_are_steps_to_the_nearest_cell_outside() {
        let (w, h) = (23usize, 17usize);
        let mut grid = FieldGrid::of_cells(w, h);
        grid.leave_out(
            [(5, 3), (6, 3), (18, 12), (0, 9)]
                .map(|(x, y)| y * w + x)
                .into_iter(),
        );
        for most in [1, 4, 60] {
            let depths = grid.depths(most);
            for (c, depth) in depths.iter().enumerate() {
                let (x, y) = (c % w, c / w);
                let rim = (x + 1).min(w - x).min(y + 1).min(h - y);
                let steps = (0..w * h)
                    .filter(|o| !grid.inside(*o))
                    .map(|o| (o % w).abs_diff(x) + (o / w).abs_diff(y))
                    .min();
                let wanted = steps.map_or(rim, |s| s.min(rim)).min(most);
                assert_eq!(usize::from(*depth), wanted, "{x} {y} {most}");
            }
        }
    }
}
