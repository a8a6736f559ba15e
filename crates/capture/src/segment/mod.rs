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
mod shade;
pub(crate) mod trace;

use cut::GridCut;
use grid::FieldGrid;
use paper::Relative;

/// Whole-number cost units per unit of cost.
const UNITS: f32 = 1000.0;

/// Cost that stands for "certain".
const CERTAIN: f32 = 6.0;

/// Costs of one cell.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Costs {
    as_part: f32,
    as_paper: f32,
}

/// What is known of a cell before its neighbours are heard.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Sure {
    /// Reached from bare paper by small steps of light.
    Paper,
    /// A part's face, or too far from any paper to be its shade.
    Part,
    /// Flat, very dark, and of the colour of the room's remaining light: where two lamps are hidden.
    DeepShade,
    /// Neither; how deep it lies in what is not paper, 0 at the rim to 1 from two millimetres on.
    No(f32),
}

/// The costs of a cell from its light.
///
/// `log` is the natural logarithm of cell over bare paper per channel; `noise` one sigma of the logarithm
/// on bare paper; `lamps` whether several lamps cast shade.
fn costs_of(log: [f32; 3], sure: Sure, noise: f32, lamps: bool) -> Costs {
    let level = faces::level(log);
    // Somewhat more tint than shade can have says nothing yet: a part's colour falls into its shade, and
    // several lamps each have their own.
    let unsaid = if lamps && level > -1.2 { 4.0 } else { 1.0 };
    let tinted = (faces::tint_excess(log, noise) - unsaid).max(0.0);
    let depth = match sure {
        Sure::Paper => {
            return Costs {
                as_part: CERTAIN,
                as_paper: tinted.min(CERTAIN),
            };
        }
        Sure::Part => {
            let deep = (faces::DARKEST_SHADE - level).max(0.0);
            return Costs {
                as_part: 0.1,
                as_paper: (3.0 + 4.0 * deep + tinted).min(CERTAIN),
            };
        }
        Sure::DeepShade => {
            return Costs {
                as_part: 1.0,
                as_paper: 0.1,
            };
        }
        Sure::No(depth) => depth,
    };
    if level > BRIGHT && level < BRIGHTEST_THROWN {
        // As bright as paper, but not reached: a small hole, or white print on a part.
        return Costs {
            as_part: 0.5,
            as_paper: (0.1 + tinted).min(CERTAIN),
        };
    }
    // Neutral and no face: shade at a part's foot, or a grey part. Edges have to decide.
    let glint = 4.0 * (level - BRIGHTEST_THROWN).max(0.0);
    let (as_part, as_paper) = if level < faces::DARKEST_ONE_LAMP && lamps {
        (0.24, 0.2)
    } else if level < faces::DARKEST_ONE_LAMP {
        (0.1, 0.3)
    } else {
        // Narrow light strips are shade more often than part, broad light patches part.
        (0.2, 0.2 + 0.02 * depth)
    };
    Costs {
        as_part: (as_part - 0.5 * tinted).max(0.1),
        as_paper: (as_paper + tinted + glint).min(CERTAIN),
    }
}

/// What is sure about each cell.
fn sure_cells(
    grid: &FieldGrid,
    relative: &Relative,
    shade: &shade::Shade,
    cells_per_mm: f64,
) -> Vec<Sure> {
    let paper = &shade.reached;
    let (w, h) = (grid.width, grid.height);
    let flat = faces::flat_cells(grid, relative);
    let face = faces::find_faces(grid, relative, &flat, cells_per_mm);
    let lamps = shade.has_several_lamps();
    // Only where several lamps cast shade can some of it be out of the light of all.
    let may_be_deep = if lamps {
        near(&flat, 2, (w, h))
    } else {
        vec![false; w * h]
    };
    // How far each cell is from anything that may be bright paper, small holes included.
    let away: Vec<u32> = (0..w * h)
        .map(|c| {
            if paper[c] || is_bright(relative, c) {
                u32::MAX
            } else {
                0
            }
        })
        .collect();
    let depth = faces::depths(&away, w, h);
    let far = (FAR_FROM_PAPER_MM * cells_per_mm).round() as u16;
    let core = cores_without_face(paper, &face, (w, h), cells_per_mm);
    (0..w * h)
        .map(|c| {
            let log = relative.log[c];
            if paper[c] {
                Sure::Paper
            } else if face[c]
                || core[c]
                || (depth[c] > far && grid.inside(c) && faces::level(log) < faces::LIGHTEST_GREY)
            {
                Sure::Part
            } else if may_be_deep[c] && faces::level(log) < -2.0 && faces::tint(log) > 0.07 {
                Sure::DeepShade
            } else {
                let depth_mm = f64::from(depth[c]) / cells_per_mm;
                // Lamps cast narrow sharp shade, which is taken for part less readily.
                let rim = if lamps { -0.2 } else { 0.0 };
                Sure::No((((depth_mm - 0.8) / 1.2) as f32).clamp(rim, 1.0))
            }
        })
        .collect()
}

/// Marks the cells that lie within `reach` rows and columns of a marked one.
fn near(marked: &[bool], reach: usize, (w, h): (usize, usize)) -> Vec<bool> {
    let mut all = marked.to_vec();
    for _ in 0..reach {
        let before = all.clone();
        for y in 1..h.saturating_sub(1) {
            for x in 1..w.saturating_sub(1) {
                let c = y * w + x;
                all[c] |= [c - 1, c + 1, c - w, c + w].into_iter().any(|n| before[n]);
            }
        }
    }
    all
}

/// Shade has something that casts it: in a patch apart from paper with hardly any sure face, such as a bright
/// screw, the cells farthest from the paper are the part's.
fn cores_without_face(
    paper: &[bool],
    face: &[bool],
    (w, h): (usize, usize),
    cells_per_mm: f64,
) -> Vec<bool> {
    // Smaller ones are mostly shade.
    let least = (12.0 * cells_per_mm * cells_per_mm) as usize;
    let patches = trace::components(w, h, |c| !paper[c], false);
    let depth = faces::depths(&patches.label, w, h);
    let mut faces_in = vec![0usize; patches.sizes.len()];
    let mut deepest = vec![0u16; patches.sizes.len()];
    for c in 0..w * h {
        if let Some(k) = patches.of(c) {
            faces_in[k] += usize::from(face[c]);
            deepest[k] = deepest[k].max(depth[c]);
        }
    }
    (0..w * h)
        .map(|c| {
            patches.of(c).is_some_and(|k| {
                7 * faces_in[k] < patches.sizes[k]
                    && patches.sizes[k] >= least
                    && deepest[k] >= 3
                    && 5 * u32::from(depth[c]) > 3 * u32::from(deepest[k])
            })
        })
        .collect()
}

/// Shade at a part's foot that is too steep to be reached is narrower than this, mm (measured on rendered
/// photos: 2.2 mm beside a card 1.5 mm high).
const FAR_FROM_PAPER_MM: f64 = 3.5;

/// Paper in half shade or better keeps this much of its light (logarithm).
const BRIGHT: f32 = -0.32;

/// Light thrown onto paper by a shiny part beside it seldom adds more than this (logarithm; measured
/// on rendered photos: 0.3).
const BRIGHTEST_THROWN: f32 = 0.35;

/// The field's cells, told apart.
pub(crate) struct Labels {
    /// Belongs to a part.
    pub(crate) part: Vec<bool>,
    /// Surely is paper, whatever lies round it.
    pub(crate) sure_paper: Vec<bool>,
}

/// Tells parts from paper.
pub(crate) fn label_parts(grid: &FieldGrid, relative: &Relative, cells_per_mm: f64) -> Labels {
    let (w, h) = (grid.width, grid.height);
    let mut cut = GridCut::new(w, h);
    let noise = relative.noise;
    let shade = shade::find_paper(grid, relative, cells_per_mm);
    let lamps = shade.has_several_lamps();
    let sure = sure_cells(grid, relative, &shade, cells_per_mm);
    for cell in 0..w * h {
        if grid.inside(cell) {
            let c = costs_of(relative.log[cell], sure[cell], noise, lamps);
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
        // How much of the change over five cells comes in this one step: over a half at an edge, under
        // two fifths where a shade fades.
        let (before, after) = ((3 * a).wrapping_sub(2 * b), (3 * b).wrapping_sub(2 * a));
        let sharp = match (relative.log.get(before), relative.log.get(after)) {
            (Some(u), Some(v)) => {
                let change = (0..3).map(|k| (u[k] - v[k]).abs()).fold(0.0, f32::max);
                (2.0 * step / change.max(step).max(1e-6)).min(1.0)
            }
            _ => 1.0,
        };
        let share = 1.0 / (1.0 + (step * sharp * sharp / scale).powi(2));
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
    let part = cut.solve();
    let mut sure_paper: Vec<bool> = sure.iter().map(|s| *s == Sure::Paper).collect();
    trust_bright_holes(&mut sure_paper, &part, relative, &shade, (w, h));
    Labels { part, sure_paper }
}

/// Holes that the cut left in parts count as paper where they hold a bright cell and get lighter the way that
/// shade does.
fn trust_bright_holes(
    sure_paper: &mut [bool],
    part: &[bool],
    relative: &Relative,
    shade: &shade::Shade,
    (w, h): (usize, usize),
) {
    let holes = trace::components(w, h, |c| !part[c], true);
    let mut cells: Vec<Vec<usize>> = vec![Vec::new(); holes.sizes.len()];
    for c in 0..w * h {
        // Anything larger is the paper round the parts, or an opening that was found before.
        if let Some(k) = holes.of(c).filter(|&k| holes.sizes[k] < 4_000) {
            cells[k].push(c);
        }
    }
    for hole in cells.iter().filter(|cells| !cells.is_empty()) {
        let shaded = |c: &&usize| {
            let log = relative.log[**c];
            faces::tint_excess(log, relative.noise) < 1.5
                && faces::level(log) > faces::DARKEST_ONE_LAMP
        };
        let bright = hole.iter().filter(|&&c| is_bright(relative, c)).count();
        let paper = hole.iter().filter(shaded).count();
        if bright >= 2 && 2 * paper > hole.len() && shade.along(hole.iter().copied(), w) > 0.6 {
            for &c in hole {
                sure_paper[c] = true;
            }
        }
    }
}

/// As bright as paper in half shade or better, and without tint.
fn is_bright(relative: &Relative, cell: usize) -> bool {
    let log = relative.log[cell];
    faces::level(log) > BRIGHT && faces::tint_excess(log, relative.noise) < 1.5
}
