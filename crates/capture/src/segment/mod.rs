//! Which cells of the field are parts, and which are bare or shaded paper.
//!
//! Each cell has a cost for being paper and one for being part, from its light relative to the bare
//! paper; neighbours that differ little cost much to separate. The cheapest labelling is a minimum cut.
//! Soft shadows fade over many cells, so that no cheap line runs through them; a part's edge is a
//! step within a cell or two.

mod cut;
mod faces;
pub(crate) mod grid;
pub(crate) mod paper;
pub(crate) mod trace;

use cut::GridCut;
use grid::FieldGrid;
use paper::Relative;
use trace::PaperSign;

/// Whole-number cost units per unit of cost.
const UNITS: f32 = 100.0;

/// Cost that stands for "certain".
const CERTAIN: f32 = 12.0;

/// Costs of one cell.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Costs {
    as_part: f32,
    as_paper: f32,
}

/// What a cell's light says, before its neighbours are heard.
///
/// `log` is the natural logarithm of cell over bare paper per channel; `face` whether it was found to
/// belong to a part's face; `noise` one sigma of the logarithm on bare paper.
fn costs_of(log: [f32; 3], face: bool, noise: f32) -> Costs {
    let level = faces::level(log);
    let tinted = faces::tint_excess(log, noise);
    let off = level.abs() / (3.0 * noise + 0.01);
    if off < 1.0 {
        return Costs {
            as_part: 4.0,
            as_paper: tinted.min(CERTAIN),
        };
    }
    if face {
        let deep = (faces::DARKEST_SHADE - level).max(0.0);
        return Costs {
            as_part: 0.1,
            as_paper: (4.0 + 4.0 * deep + tinted).min(CERTAIN),
        };
    }
    // Neutral and not a face: shade, or light that a shiny part throws onto the paper beside it. A
    // glint brighter than that is a part's own.
    let glint = 4.0 * (level - BRIGHTEST_THROWN).max(0.0);
    // Deep shade is rarer than dark parts: there the edges alone decide, but for cells that have taken
    // the colour of the room's remaining light.
    let part = if level < -1.5 && faces::tint(log) < 0.11 {
        0.2
    } else {
        1.0
    };
    Costs {
        as_part: (part - 0.5 * tinted).max(0.1),
        as_paper: (0.1 + tinted + glint).min(CERTAIN),
    }
}

/// Light thrown onto paper by a shiny part beside it seldom adds more than this (logarithm; measured
/// on rendered photos: 0.3).
const BRIGHTEST_THROWN: f32 = 0.35;

/// Marks the cells that belong to parts.
pub(crate) fn label_parts(grid: &FieldGrid, relative: &Relative, cells_per_mm: f64) -> Vec<bool> {
    let (w, h) = (grid.width, grid.height);
    let mut cut = GridCut::new(w, h);
    let noise = relative.noise;
    let face = faces::find_faces(grid, relative, cells_per_mm);
    for cell in 0..w * h {
        if grid.inside(cell) {
            let c = costs_of(relative.log[cell], face[cell], noise);
            cut.set_costs(
                cell,
                (c.as_part * UNITS) as i32,
                (c.as_paper * UNITS) as i32,
            );
        }
    }
    // A step of this size (logarithm) makes a line half as dear.
    let scale = 6.0 * noise + 0.03;
    let link = |a: usize, b: usize, length: f32| -> i32 {
        if !grid.inside(a) || !grid.inside(b) {
            return 0;
        }
        let (p, q) = (relative.log[a], relative.log[b]);
        let step = (0..3).map(|k| (p[k] - q[k]).abs()).fold(0.0, f32::max);
        let share = 1.0 / (1.0 + (step / scale).powi(2));
        (UNITS * (0.05 + 1.6 * share) / length) as i32
    };
    for y in 0..h {
        for x in 0..w {
            let cell = y * w + x;
            if x + 1 < w {
                cut.set_link(cell, 0, link(cell, cell + 1, 1.0));
            }
            if y + 1 < h {
                cut.set_link(cell, 2, link(cell, cell + w, 1.0));
            }
            if x + 1 < w && y + 1 < h {
                cut.set_link(cell, 4, link(cell, cell + w + 1, std::f32::consts::SQRT_2));
            }
            if x + 1 < w && y > 0 {
                cut.set_link(cell, 6, link(cell, cell + 1 - w, std::f32::consts::SQRT_2));
            }
        }
    }
    cut.solve()
}

/// Paper in half shade or better keeps this much of its light (logarithm). White solder pads and print
/// were seen at -0.4, paper in the holes of a board at -0.2 and brighter.
const HALF_LIT: f32 = -0.32;

/// What a cell says about being paper.
pub(crate) fn paper_sign(relative: &Relative, cell: usize) -> PaperSign {
    let log = relative.log[cell];
    let level = faces::level(log);
    if faces::tint_excess(log, relative.noise) > 1.5 || level < faces::DARKEST_ONE_LAMP {
        PaperSign::None
    } else if level < HALF_LIT {
        PaperSign::Shaded
    } else {
        PaperSign::Lit
    }
}
