//! Cells that surely are paper, bare or in soft shade.
//!
//! Shade fades over many cells, a part ends within two. So paper is what can be reached from evenly lit
//! cells by small steps of light. The way has to be three cells wide: no leaking through a weak spot of
//! a part's edge.

use super::faces::{level, tint_excess};
use super::grid::FieldGrid;
use super::paper::Relative;
use super::trace::components;

/// Flood starts at cells within these levels (logarithm of light over paper).
const SEED_LEVELS: std::ops::Range<f32> = -0.15..0.15;

/// A seed's light changes less than this over two cells.
const SEED_STEP: f32 = 0.05;

/// Flood ends at this level: deeper shade is as dark as most parts, and edges have to decide.
const DEEPEST: f32 = -2.0;

/// Below this level only the flat floor of a shade goes on.
const FLOOR: f32 = -1.65;

/// Light thrown onto paper by a shiny part is not brighter than this.
const BRIGHTEST: f32 = 0.5;

/// The step over two cells that shade may have at a level: the deeper, the steeper it fades (measured on
/// rendered photos under window and lamp light: 0.45 at a level of -1.4).
fn allowed_step(level: f32) -> f32 {
    if level < FLOOR {
        0.12
    } else {
        0.05 + 0.30 * level.abs().min(1.3)
    }
}

/// What is known of paper and its shade.
pub(super) struct Shade {
    /// Cells that surely are paper.
    pub(super) reached: Vec<bool>,
    /// Levels averaged over three by three cells.
    pub(super) smooth: Vec<f32>,
    /// Which way shade gets lighter: a unit vector on the grid, or zero where there is no one way.
    pub(super) way: [f32; 2],
}

impl Shade {
    /// Shade falls more than one way: several lamps cast it.
    pub(super) fn has_several_lamps(&self) -> bool {
        self.way == [0.0; 2]
    }

    /// Cosine between the way in which cells get lighter and that of all shade; 1 where shade has no way.
    pub(super) fn along(&self, cells: impl Iterator<Item = usize>, w: usize) -> f32 {
        if self.has_several_lamps() {
            return 1.0;
        }
        let gradient = cells.fold([0.0; 2], |sum, c| {
            added(sum, gradient_at(&self.smooth, c, w))
        });
        cosine(gradient, self.way)
    }
}

fn added(a: [f32; 2], b: [f32; 2]) -> [f32; 2] {
    [a[0] + b[0], a[1] + b[1]]
}

/// Cosine between a vector and a unit vector; 0 for a vector without length.
fn cosine(v: [f32; 2], unit: [f32; 2]) -> f32 {
    (v[0] * unit[0] + v[1] * unit[1]) / v[0].hypot(v[1]).max(1e-6)
}

/// Marks the cells that are reached.
pub(super) fn find_paper(grid: &FieldGrid, relative: &Relative, cells_per_mm: f64) -> Shade {
    let (w, h) = (grid.width, grid.height);
    let smooth = smoothed_levels(grid, relative);
    let step_at = |c: usize, x: usize, y: usize| -> f32 {
        if x == 0 || y == 0 || x + 1 == w || y + 1 == h {
            return 0.0;
        }
        let across = (smooth[c + 1] - smooth[c - 1]).abs();
        let down = (smooth[c + w] - smooth[c - w]).abs();
        across.max(down)
    };
    let rough = roughness(grid, relative, &smooth);
    let mut gentle = vec![false; w * h];
    let mut seed = vec![false; w * h];
    let mut opening = vec![false; w * h];
    for y in 0..h {
        for x in 0..w {
            let c = y * w + x;
            if !grid.inside(c) {
                continue;
            }
            let (l, step) = (smooth[c], step_at(c, x, y));
            // Paper has no texture but the camera's noise, which grows as light falls.
            let textured = rough[c] > 1.8 * relative.grain * (-0.5 * l).exp() + 0.004;
            let tinted = tint_excess(relative.log[c], relative.noise) > 1.0;
            let marked = textured || tinted;
            gentle[c] = !marked && (DEEPEST..BRIGHTEST).contains(&l) && step < allowed_step(l);
            opening[c] = !tinted && (DEEPEST..BRIGHTEST).contains(&l) && step < OPENING_STEP;
            seed[c] = gentle[c] && SEED_LEVELS.contains(&l) && step < SEED_STEP;
        }
    }
    // Wide enough: the cell and its eight neighbours are gentle.
    let wide: Vec<bool> = (0..w * h)
        .map(|c| {
            let (x, y) = (c % w, c / w);
            gentle[c]
                && x > 0
                && y > 0
                && x + 1 < w
                && y + 1 < h
                && neighbours(c, w)
                    .into_iter()
                    .all(|n| gentle[n] || !grid.inside(n))
        })
        .collect();
    let mut reached = vec![false; w * h];
    let mut stack: Vec<usize> = (0..w * h).filter(|&c| wide[c] && seed[c]).collect();
    for &c in &stack {
        reached[c] = true;
    }
    while let Some(c) = stack.pop() {
        for n in [c - 1, c + 1, c - w, c + w] {
            if wide[n] && !reached[n] {
                reached[n] = true;
                stack.push(n);
            }
        }
    }
    let way = shade_direction(&reached, &smooth, w);
    add_openings(&mut reached, &opening, &smooth, way, (w, h), cells_per_mm);
    // The rim of what was reached is paper as well.
    let core = reached.clone();
    for c in 0..w * h {
        if core[c] {
            for n in neighbours(c, w) {
                reached[n] |= gentle[n];
            }
        }
    }
    Shade {
        reached,
        smooth,
        way,
    }
}

/// Paper seen through an opening lies in the shade of its rim: it is not reached from outside, and it may
/// hold no evenly lit cell. It is a patch without tint, enclosed by the part, that is as bright as paper at
/// its brightest, or at least fades from light to dark as shade does; a label on a face is flat.
fn add_openings(
    reached: &mut [bool],
    opening: &[bool],
    smooth: &[f32],
    way: [f32; 2],
    (w, h): (usize, usize),
    cells_per_mm: f64,
) {
    let patches = components(w, h, |c| opening[c] && !reached[c], false);
    let n = patches.sizes.len();
    let mut darkest = vec![f32::INFINITY; n];
    let mut brightest = vec![f32::NEG_INFINITY; n];
    let mut gradient = vec![[0.0f32; 2]; n];
    let mut open = vec![false; n];
    for c in 0..w * h {
        let Some(k) = patches.of(c) else { continue };
        darkest[k] = darkest[k].min(smooth[c]);
        brightest[k] = brightest[k].max(smooth[c]);
        gradient[k] = added(gradient[k], gradient_at(smooth, c, w));
        let (x, y) = (c % w, c / w);
        let near = 3;
        open[k] |= x < near || y < near || x + near >= w || y + near >= h || {
            [c - near, c + near, c - near * w, c + near * w]
                .into_iter()
                .any(|m| reached[m])
        };
    }
    let cells = |mm2: f64| (mm2 * cells_per_mm * cells_per_mm) as usize;
    let (least, large) = (cells(LEAST_OPENING_MM2), cells(LARGE_OPENING_MM2));
    let mut is_paper: Vec<bool> = (0..n)
        .map(|k| {
            let size = patches.sizes[k];
            // Inside an opening it gets lighter the way the light goes, as in shade outside.
            let along = cosine(gradient[k], way);
            let fades = brightest[k] - darkest[k] > FADING && brightest[k] > HALF_LIT;
            let even = darkest[k] > LIT;
            !open[k]
                && ((brightest[k] > LIT
                    && size >= least
                    && (way == [0.0; 2] || along > LIKE_WAY || even))
                    || (brightest[k] > FULLY_LIT && 3 * size >= least)
                    || (fades && along > SAME_WAY && 5 * size >= 3 * least)
                    || (fades && along > LIKE_WAY && size >= large))
        })
        .collect();
    // Paper has nothing on it: a patch round islands is a face with lettering or relief.
    let bounds = patches.bounds(w);
    for k in 0..n {
        is_paper[k] = is_paper[k]
            && island_cells(&patches.label, w, k as u32, bounds[k]) * 50 < patches.sizes[k];
    }
    for c in 0..w * h {
        reached[c] |= patches.of(c).is_some_and(|k| is_paper[k]);
    }
}

/// Which way shade gets lighter, all shade taken together: a unit vector on the grid, or zero where shade falls
/// all ways alike.
fn shade_direction(reached: &[bool], smooth: &[f32], w: usize) -> [f32; 2] {
    let (mut sum, mut all) = ([0.0f64; 2], 0.0f64);
    for (c, _) in reached.iter().enumerate().filter(|(_, r)| **r) {
        if (-1.2..-0.15).contains(&smooth[c]) {
            let g = gradient_at(smooth, c, w);
            sum = [sum[0] + f64::from(g[0]), sum[1] + f64::from(g[1])];
            all += f64::from(g[0].hypot(g[1]));
        }
    }
    let length = sum[0].hypot(sum[1]);
    if length < ONE_WAY * all || length == 0.0 {
        return [0.0; 2];
    }
    [(sum[0] / length) as f32, (sum[1] / length) as f32]
}

/// Share of all shade's gradients that has to point one way. On rendered photos under one window or lamp it was
/// 0.63 to 0.79, under two lamps 0.31.
const ONE_WAY: f64 = 0.45;

/// Change of the level over two cells along each axis; zero at the grid's edge.
fn gradient_at(smooth: &[f32], c: usize, w: usize) -> [f32; 2] {
    if c < w || c + w >= smooth.len() || c.is_multiple_of(w) || (c + 1).is_multiple_of(w) {
        return [0.0; 2];
    }
    [smooth[c + 1] - smooth[c - 1], smooth[c + w] - smooth[c - w]]
}

/// Cells that a patch encloses.
fn island_cells(label: &[u32], w: usize, k: u32, [x0, y0, x1, y1]: [usize; 4]) -> usize {
    // One cell of margin all round, so that the outside hangs together.
    let (bw, bh) = (x1 - x0 + 3, y1 - y0 + 3);
    let own = |i: usize| {
        let (x, y) = (i % bw, i / bw);
        x > 0 && y > 0 && x + 1 < bw && y + 1 < bh && label[(y0 + y - 1) * w + x0 + x - 1] == k
    };
    let mut outside = vec![false; bw * bh];
    outside[0] = true;
    let mut stack = vec![0usize];
    while let Some(i) = stack.pop() {
        let (x, y) = (i % bw, i / bw);
        let next = [
            (x > 0).then(|| i - 1),
            (x + 1 < bw).then(|| i + 1),
            (y > 0).then(|| i - bw),
            (y + 1 < bh).then(|| i + bw),
        ];
        for j in next.into_iter().flatten() {
            if !outside[j] && !own(j) {
                outside[j] = true;
                stack.push(j);
            }
        }
    }
    (0..bw * bh).filter(|&i| !outside[i] && !own(i)).count()
}

/// Paper in an opening may fade this steeply over two cells.
const OPENING_STEP: f32 = 0.8;

/// The inside of an opening 1.5 mm across, less its blurred rim, mm2.
const LEAST_OPENING_MM2: f64 = 0.8;

/// A small opening in a thin part lets paper be seen that is nearly as bright as outside. Bright metal tops of
/// small components were seen at -0.26.
const LIT: f32 = -0.22;

/// Paper that is as bright as outside, in openings down to half the least size.
const FULLY_LIT: f32 = -0.1;

/// Openings larger than this may lie in shade all over, mm2.
const LARGE_OPENING_MM2: f64 = 20.0;

/// Paper in a shaded opening is this bright somewhere (logarithm of light over paper).
const HALF_LIT: f32 = -0.7;

/// Cosine between the way it gets lighter in a small patch and in all shade. On rendered photos holes had 0.93
/// and more, bright metal tops and print anything from -1 to 0.9.
const SAME_WAY: f32 = 0.9;

/// The same for large openings, whose shade is bent by their shape.
const LIKE_WAY: f32 = 0.6;

/// Shade in an opening spans this much between its brightest and its darkest place.
const FADING: f32 = 0.35;

fn neighbours(c: usize, w: usize) -> [usize; 8] {
    [
        c - w - 1,
        c - w,
        c - w + 1,
        c - 1,
        c + 1,
        c + w - 1,
        c + w,
        c + w + 1,
    ]
}

/// Root mean square over five by five cells of how far a cell's level is from that of the cells round it.
fn roughness(grid: &FieldGrid, relative: &Relative, smooth: &[f32]) -> Vec<f32> {
    let (w, h) = (grid.width, grid.height);
    let square: Vec<f32> = (0..w * h)
        .map(|c| (level(relative.log[c]) - smooth[c]).powi(2))
        .collect();
    let mut rough = vec![0.0; w * h];
    for y in 2..h.saturating_sub(2) {
        for x in 2..w.saturating_sub(2) {
            let c = y * w + x;
            if grid.inside(c) {
                let row = |v: usize| square[v * w + x - 2..=v * w + x + 2].iter().sum::<f32>();
                rough[c] = ((y - 2..=y + 2).map(row).sum::<f32>() / 25.0).sqrt();
            }
        }
    }
    rough
}

/// Levels averaged over three by three cells of the field.
fn smoothed_levels(grid: &FieldGrid, relative: &Relative) -> Vec<f32> {
    let (w, h) = (grid.width, grid.height);
    let levels: Vec<f32> = relative.log.iter().map(|l| level(*l)).collect();
    let mut smooth = levels.clone();
    for y in 1..h.saturating_sub(1) {
        for x in 1..w.saturating_sub(1) {
            let c = y * w + x;
            if grid.inside(c) {
                let (mut sum, mut n) = (levels[c], 1.0);
                for k in neighbours(c, w) {
                    if grid.inside(k) {
                        sum += levels[k];
                        n += 1.0;
                    }
                }
                smooth[c] = sum / n;
            }
        }
    }
    smooth
}
