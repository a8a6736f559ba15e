//! Which way heights lean in a picture: walls that rise from the sheet show on one side of a part only, and shade is no wall.

use crate::plane::SheetPlane;
use crate::segment::grid::FieldGrid;

/// How far the top of something appears moved against its foot, as a share of its height, at each place of a grid: linear over
/// the grid (under a tilted camera nearly so). Along x (to the right) and y (down).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Lean {
    /// At the grid's first cell.
    pub(crate) at_first: [f64; 2],
    /// The change from one cell to the next along x.
    pub(crate) per_x: [f64; 2],
    /// The change from one cell to the next along y.
    pub(crate) per_y: [f64; 2],
}

impl Lean {
    /// The lean over a grid, from what it is in its corners; `None` where the plane does not tell it.
    pub(crate) fn over(grid: &FieldGrid, plane: &impl SheetPlane, px_per_mm: f64) -> Option<Self> {
        let (w, h) = (grid.width as f64 - 1.0, grid.height as f64 - 1.0);
        let at = |x: f64, y: f64| {
            let rise = plane.rise_px(grid.photo_from_grid([x, y]))?;
            Some(rise.map(|v| v / px_per_mm))
        };
        let corners = [at(0.0, 0.0)?, at(w, 0.0)?, at(0.0, h)?, at(w, h)?];
        let sum = |k: usize, signs: [f64; 4]| -> f64 {
            (0..4).map(|i| signs[i] * corners[i][k]).sum::<f64>()
        };
        let per_x = [0, 1].map(|k| sum(k, [-1.0, 1.0, -1.0, 1.0]) / (2.0 * w));
        let per_y = [0, 1].map(|k| sum(k, [-1.0, -1.0, 1.0, 1.0]) / (2.0 * h));
        let at_first =
            [0, 1].map(|k| 0.25 * sum(k, [1.0; 4]) - 0.5 * (per_x[k] * w + per_y[k] * h));
        let all = [at_first, per_x, per_y];
        all.iter().flatten().all(|v| v.is_finite()).then_some(Self {
            at_first,
            per_x,
            per_y,
        })
    }

    /// At a place of the grid, cells.
    pub(crate) fn at(&self, x: f64, y: f64) -> [f64; 2] {
        [0, 1].map(|k| self.at_first[k] + self.per_x[k] * x + self.per_y[k] * y)
    }

    /// The same with the grid of `size` cells mirrored along x, y or both.
    pub(crate) fn mirrored(&self, size: [usize; 2], along: [bool; 2]) -> Self {
        let sign = along.map(|mirrored| if mirrored { -1.0 } else { 1.0 });
        let first = [0, 1].map(|k| if along[k] { size[k] as f64 - 1.0 } else { 0.0 });
        let told = |v: [f64; 2], turn: f64| [0, 1].map(|k| turn * sign[k] * v[k]);
        Self {
            at_first: told(self.at(first[0], first[1]), 1.0),
            per_x: told(self.per_x, sign[0]),
            per_y: told(self.per_y, sign[1]),
        }
    }

    /// The same in cells that are `size` times as wide.
    pub(crate) fn coarser(&self, size: f64) -> Self {
        let inset = 0.5 * (size - 1.0);
        Self {
            at_first: self.at(inset, inset),
            per_x: self.per_x.map(|v| v * size),
            per_y: self.per_y.map(|v| v * size),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEAN: Lean = Lean {
        at_first: [-0.2, 0.3],
        per_x: [0.01, 0.002],
        per_y: [-0.001, 0.02],
    };

    #[test]
    fn a_mirrored_lean_is_the_mirror_image_of_the_lean() {
        let size = [30, 20];
        for along in [[false, false], [true, false], [false, true], [true, true]] {
            let m = LEAN.mirrored(size, along);
            for at in [[0.0, 0.0], [29.0, 3.0], [7.0, 19.0]] {
                let from = [0, 1].map(|k| {
                    let last = size[k] as f64 - 1.0;
                    if along[k] { last - at[k] } else { at[k] }
                });
                let (got, want) = (m.at(at[0], at[1]), LEAN.at(from[0], from[1]));
                for k in 0..2 {
                    let want = if along[k] { -want[k] } else { want[k] };
                    assert!((got[k] - want).abs() < 1e-12, "{along:?} {at:?}");
                }
            }
        }
    }

    #[test]
    fn a_coarser_cell_leans_as_its_middle_does() {
        let coarse = LEAN.coarser(4.0);
        let (got, want) = (coarse.at(3.0, 2.0), LEAN.at(13.5, 9.5));
        assert!((0..2).all(|k| (got[k] - want[k]).abs() < 1e-12));
    }
}
