//! Which cells of the field are parts, and which are bare or shaded paper.

mod cut;
pub(crate) mod dark;
mod disputed;
pub(crate) mod eye;
pub(crate) mod grid;
pub(crate) mod guide;
pub(crate) mod lean;
mod overruled;
pub(crate) mod paper;
mod pieces;
pub(crate) mod trace;

use grid::FieldGrid;
use lean::Lean;
use paper::{Ground, Relative};
use shape::on_rows;

/// The logarithm of the odds below which a cell counts as seen paper: odds of one to four.
const SEEN_PAPER: f32 = -1.4;

/// The field's cells, told apart.
#[derive(Clone)]
pub(crate) struct Labels {
    /// How surely each cell is part (above 0) or paper: the logarithm of the odds.
    odds: Vec<f32>,
}

impl Labels {
    /// Takes over what is told of some cells.
    pub(crate) fn tell(&mut self, cells: &[(usize, f32)]) {
        for &(cell, odds) in cells {
            self.odds[cell] = odds;
        }
    }

    /// Takes over what others say of the same cells.
    pub(crate) fn take_back(&mut self, cells: &[(usize, f32)], from: &Self) {
        for &(cell, _) in cells {
            self.odds[cell] = from.odds[cell];
        }
    }

    /// The same odds for all of so many cells.
    #[cfg(test)]
    pub(crate) fn alike(odds: f32, cells: usize) -> Self {
        Self {
            odds: vec![odds; cells],
        }
    }

    /// How surely a cell is part (above 0) or paper: the logarithm of the odds.
    pub(crate) fn odds(&self, cell: usize) -> f32 {
        self.odds[cell]
    }

    /// Whether a cell is more likely part than paper.
    pub(crate) fn part(&self, cell: usize) -> bool {
        self.odds[cell] > 0.0
    }

    /// Whether a cell shows paper for sure.
    pub(crate) fn sure_paper(&self, cell: usize) -> bool {
        self.odds[cell] < SEEN_PAPER
    }

    /// How far on the way from a part's cell to a neighbour of paper the odds are even, 0 to 1.
    pub(crate) fn even_between(&self, part: usize, paper: usize) -> f64 {
        let (p, q) = (self.odds[part], self.odds[paper]);
        if p > 0.0 && q < 0.0 {
            f64::from(p / (p - q)).clamp(0.05, 0.95)
        } else {
            0.5
        }
    }
}

/// The logarithm of the odds at best of a cell that the eye takes for paper and that has no colour of it.
const NOT_SURE: f32 = -0.5;

/// How light something is (natural logarithm of light over paper's, mean of the channels), and by how much a channel differs from that.
pub(crate) fn level_and_tint(log: [f32; 3]) -> (f32, f32) {
    let level = log.iter().sum::<f32>() / 3.0;
    let tint = log.iter().map(|v| (v - level).abs()).fold(0.0, f32::max);
    (level, tint)
}

/// Whether some shade of paper looks like this. Shade is as neutral as the lamps are, but colour falls into it from
/// the part beside it; no shade seen was darker than a tenth (rendered photos, two lamps).
fn may_be_paper(log: [f32; 3]) -> bool {
    let (level, tint) = level_and_tint(log);
    (-2.6..0.6).contains(&level) && tint < 0.35 + 0.2 * level.abs().min(2.0)
}

/// Tells parts from what they lie on; `lean` tells which way heights lean, where that is known.
pub(crate) fn label_parts(
    grid: &FieldGrid,
    relative: &Relative,
    cells_per_mm: f64,
    lean: Option<Lean>,
) -> Labels {
    if relative.ground == Ground::Dark {
        return dark::label_parts(grid, relative, cells_per_mm);
    }
    let view = eye::View {
        log: &relative.log,
        size: [grid.width, grid.height],
        lean,
    };
    let eye::Heard {
        mut odds,
        wide,
        far,
    } = eye::odds_of_part(&view, cells_per_mm);
    disputed::settle(
        disputed::Said {
            odds: &mut odds,
            wide: &wide,
            log: &relative.log,
            size: view.size,
        },
        |cell| grid.inside(cell),
    );
    overruled::overrule(&mut odds, view.size, &far, |cell| grid.inside(cell));
    on_rows(&mut odds, grid.width, |y, row| {
        for (x, odd) in row.iter_mut().enumerate() {
            let cell = y * grid.width + x;
            if !grid.inside(cell) {
                *odd = -eye::FARTHEST;
            } else if !may_be_paper(relative.log[cell]) {
                *odd = odd.max(NOT_SURE);
            }
        }
    });
    Labels { odds }
}
