//! Telling parts from paper anew where the user drew.
//!
//! Round the strokes, blocks of two by two cells are split by a minimum cut: what the strokes say is certain, what looks like
//! what lies under them follows, and the border settles where the light steps. Only blocks that hang together with a
//! stroke change.

use super::cut::GridCut;
use super::eye::FARTHEST;
use super::grid::FieldGrid;
use super::paper::Relative;
use super::{Labels, trace::Window};

/// Cells along a block's side.
const BLOCK: usize = 2;

/// Whole-number cost units per unit of cost.
const UNITS: f32 = 1000.0;

/// Cost that stands for certain.
const CERTAIN: f32 = 60.0;

/// How much of the eye's own opinion is left where the user contradicts it.
const DOUBTED: f32 = 0.1;

/// The logarithm of the odds that a changed cell gets.
const TOLD: f32 = 0.5 * FARTHEST;

/// What a user's stroke says of some cells.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Mark {
    /// They belong to a part; else they are paper.
    pub(crate) part: bool,
    /// The cells under it.
    pub(crate) cells: Vec<usize>,
}

struct Blocks {
    x0: usize,
    y0: usize,
    width: usize,
    height: usize,
    log: Vec<[f32; 3]>,
    odds: Vec<f32>,
    inside: Vec<bool>,
    /// +1 told part, -1 told paper, 0 not told.
    told: Vec<i8>,
}

impl Blocks {
    fn cells(&self, block: usize, grid_width: usize) -> [usize; BLOCK * BLOCK] {
        let (x, y) = (
            self.x0 + block % self.width * BLOCK,
            self.y0 + block / self.width * BLOCK,
        );
        std::array::from_fn(|k| (y + k / BLOCK) * grid_width + x + k % BLOCK)
    }

    fn of(
        grid: &FieldGrid,
        labels: &Labels,
        relative: &Relative,
        window: Window,
        marks: &[Mark],
    ) -> Self {
        let (x0, y0) = (window.x0, window.y0);
        let (width, height) = ((window.x1 - x0) / BLOCK, (window.y1 - y0) / BLOCK);
        let mut blocks = Self {
            x0,
            y0,
            width,
            height,
            log: Vec::with_capacity(width * height),
            odds: Vec::with_capacity(width * height),
            inside: Vec::with_capacity(width * height),
            told: vec![0; width * height],
        };
        let share = 1.0 / (BLOCK * BLOCK) as f32;
        for block in 0..width * height {
            let cells = blocks.cells(block, grid.width);
            let mut log = [0.0f32; 3];
            for c in cells {
                for k in 0..3 {
                    log[k] += share * relative.log[c][k];
                }
            }
            blocks.log.push(log);
            let odds = cells.iter().map(|&c| labels.odds[c]).sum::<f32>() * share;
            blocks.odds.push(odds);
            blocks.inside.push(cells.iter().all(|&c| grid.inside(c)));
        }
        for mark in marks {
            for &cell in &mark.cells {
                let (x, y) = (cell % grid.width, cell / grid.width);
                if x >= x0 && y >= y0 {
                    let (bx, by) = ((x - x0) / BLOCK, (y - y0) / BLOCK);
                    if bx < width && by < height {
                        blocks.told[by * width + bx] = if mark.part { 1 } else { -1 };
                    }
                }
            }
        }
        blocks
    }

    fn neighbours(&self, block: usize) -> impl Iterator<Item = usize> + use<> {
        let (x, y, w, h) = (
            block % self.width,
            block / self.width,
            self.width,
            self.height,
        );
        [
            (x > 0).then(|| block - 1),
            (x + 1 < w).then_some(block + 1),
            (y > 0).then(|| block - w),
            (y + 1 < h).then_some(block + w),
        ]
        .into_iter()
        .flatten()
    }

    /// Mean light under the strokes of one kind.
    fn light_under(&self, told: i8) -> Option<[f32; 3]> {
        let (mut sum, mut count) = ([0.0f32; 3], 0.0f32);
        for (log, t) in self.log.iter().zip(&self.told) {
            if *t == told {
                for k in 0..3 {
                    sum[k] += log[k];
                }
                count += 1.0;
            }
        }
        (count > 0.0).then(|| sum.map(|s| s / count))
    }

    /// Blocks that a stroke contradicts: reached from it through blocks of the other opinion that look much like it.
    fn doubted(&self, told: i8, light: [f32; 3], spread: f32) -> Vec<bool> {
        let mut doubted = vec![false; self.told.len()];
        let mut stack: Vec<usize> = (0..self.told.len())
            .filter(|&b| self.told[b] == told)
            .collect();
        while let Some(b) = stack.pop() {
            if doubted[b] {
                continue;
            }
            doubted[b] = true;
            stack.extend(self.neighbours(b).filter(|&n| {
                !doubted[n]
                    && self.inside[n]
                    && self.odds[n] * f32::from(told) < 0.0
                    && likeness(self.log[n], light, spread) > 0.05
            }));
        }
        doubted
    }
}

/// How much one light is like another, 0 to 1.
fn likeness(a: [f32; 3], b: [f32; 3], spread: f32) -> f32 {
    let off: f32 = (0..3)
        .map(|k| ((a[k] - b[k]) / spread).powi(2))
        .sum::<f32>()
        / 3.0;
    (-0.5 * off).exp()
}

/// What strokes change.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Told {
    /// Cells with the logarithm of the odds that they get.
    pub(crate) cells: Vec<(usize, f32)>,
    /// The change runs into the window's border where the field goes on: in a larger window it may run on.
    pub(crate) runs_out: bool,
}

/// What strokes change of the labels inside a window.
pub(crate) fn guide(
    labels: &Labels,
    grid: &FieldGrid,
    relative: &Relative,
    window: Window,
    marks: &[Mark],
) -> Told {
    let blocks = Blocks::of(grid, labels, relative, window, marks);
    let (w, h) = (blocks.width, blocks.height);
    let mut told = Told::default();
    if w < 2 || h < 2 {
        return told;
    }
    let spread = 0.05 + 3.0 * relative.noise;
    let include = blocks.light_under(1);
    let exclude = blocks.light_under(-1);
    let doubt_paper = include.map(|light| blocks.doubted(1, light, spread));
    let doubt_part = exclude.map(|light| blocks.doubted(-1, light, spread));
    let mut cut = GridCut::new(w, h);
    for b in 0..w * h {
        if !blocks.inside[b] {
            continue;
        }
        let (mut as_part, mut as_paper) = match blocks.told[b] {
            1 => (0.0, CERTAIN),
            -1 => (CERTAIN, 0.0),
            _ => {
                let odds = blocks.odds[b].clamp(-3.0, 3.0);
                ((-odds).max(0.0), odds.max(0.0))
            }
        };
        let doubts =
            |doubt: &Option<Vec<bool>>| blocks.told[b] == 0 && doubt.as_ref().is_some_and(|d| d[b]);
        if doubts(&doubt_paper) {
            as_part *= DOUBTED;
            // More like what the stroke marks, or more like bare paper?
            let like = include.map_or(0.0, |l| likeness(blocks.log[b], l, spread));
            let bare = likeness(blocks.log[b], [0.0; 3], spread);
            let pull = like / (like + bare).max(1e-6) - 0.5;
            as_paper += 2.0 * pull.max(0.0);
            as_part += 2.0 * (-pull).max(0.0);
        }
        if doubts(&doubt_part) {
            as_paper *= DOUBTED;
            as_part += exclude.map_or(0.0, |l| likeness(blocks.log[b], l, spread));
        }
        cut.set_costs(b, (as_part * UNITS) as i32, (as_paper * UNITS) as i32);
    }
    // A step of this size (logarithm) makes a border half as dear.
    let scale = 4.0 * relative.noise + 0.02;
    let link = |a: usize, b: usize, length: f32| -> i32 {
        if !blocks.inside[a] || !blocks.inside[b] {
            return 0;
        }
        let (p, q) = (blocks.log[a], blocks.log[b]);
        let step = (0..3).map(|k| (p[k] - q[k]).abs()).fold(0.0, f32::max);
        (UNITS * (0.03 + 1.2 / (1.0 + (step / scale).powi(2))) / length) as i32
    };
    let diagonal = std::f32::consts::SQRT_2;
    for y in 0..h {
        for x in 0..w {
            let b = y * w + x;
            if x + 1 < w {
                cut.set_link(b, 0, link(b, b + 1, 1.0));
            }
            if y + 1 < h {
                cut.set_link(b, 2, link(b, b + w, 1.0));
            }
            if x + 1 < w && y + 1 < h {
                cut.set_link(b, 4, link(b, b + w + 1, diagonal));
            }
            if x + 1 < w && y > 0 {
                cut.set_link(b, 6, link(b, b + 1 - w, diagonal));
            }
        }
    }
    let part = cut.solve();
    // From the strokes outwards over what changed; nothing else may.
    let mut seen = vec![false; w * h];
    let mut stack: Vec<usize> = (0..w * h).filter(|&b| blocks.told[b] != 0).collect();
    while let Some(b) = stack.pop() {
        if seen[b]
            || !blocks.inside[b]
            || (blocks.told[b] == 0 && part[b] == (blocks.odds[b] > 0.0))
        {
            continue;
        }
        seen[b] = true;
        let odds = if part[b] { TOLD } else { -TOLD };
        let cells = blocks.cells(b, grid.width);
        told.cells.extend(
            cells
                .into_iter()
                .filter(|&c| labels.part(c) != part[b])
                .map(|c| (c, odds)),
        );
        let (x, y) = (b % w, b / w);
        told.runs_out |= (x == 0 && window.x0 > 0)
            || (y == 0 && window.y0 > 0)
            || (x + 1 == w && window.x1 < grid.width)
            || (y + 1 == h && window.y1 < grid.height);
        stack.extend(blocks.neighbours(b).filter(|&n| !seen[n]));
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    const W: usize = 80;
    const H: usize = 60;

    fn scene(
        light: impl Fn(usize, usize) -> f32,
        part: impl Fn(usize, usize) -> bool,
    ) -> (Labels, FieldGrid, Relative) {
        let cells = || (0..W * H).map(|c| (c % W, c / W));
        // A trace of grain, so that no step is exactly nothing.
        let log = cells()
            .map(|(x, y)| [light(x, y) + 0.002 * ((x * 7 + y * 13) % 5) as f32; 3])
            .collect();
        let odds = cells()
            .map(|(x, y)| if part(x, y) { 4.0 } else { -4.0 })
            .collect();
        let relative = Relative {
            log,
            noise: 0.01,
            ground: crate::segment::paper::Ground::Paper,
            ground_light: [0.0; 3],
        };
        (Labels { odds }, FieldGrid::of_cells(W, H), relative)
    }

    fn square(x: usize, y: usize) -> bool {
        (20..50).contains(&x) && (14..44).contains(&y)
    }

    fn mark(part: bool, x: std::ops::Range<usize>, y: usize) -> Mark {
        let cells = x.flat_map(|x| [y * W + x, (y + 1) * W + x]).collect();
        Mark { part, cells }
    }

    fn wrong(labels: &Labels, want: impl Fn(usize, usize) -> bool) -> usize {
        (0..W * H)
            .filter(|&c| labels.part(c) != want(c % W, c / W))
            .count()
    }

    #[test]
    fn a_pale_part_that_was_missed_is_taken_whole() {
        let pale = |x, y| if square(x, y) { -0.15 } else { 0.0 };
        let (mut labels, grid, relative) = scene(pale, |_, _| false);
        let window = Window::all(&grid);
        let told = guide(&labels, &grid, &relative, window, &[mark(true, 30..40, 28)]);
        labels.tell(&told.cells);
        assert!(wrong(&labels, square) < 20, "{}", wrong(&labels, square));
    }

    #[test]
    fn shade_that_was_taken_for_a_part_is_given_back() {
        let shaded = |x: usize, y| {
            if square(x, y) {
                if x < 36 { -3.0 } else { -0.8 }
            } else {
                0.0
            }
        };
        let (mut labels, grid, relative) = scene(shaded, square);
        let window = Window::all(&grid);
        let told = guide(
            &labels,
            &grid,
            &relative,
            window,
            &[mark(false, 38..48, 28)],
        );
        labels.tell(&told.cells);
        let want = |x: usize, y: usize| square(x, y) && x < 36;
        assert!(wrong(&labels, want) < 20, "{}", wrong(&labels, want));
    }

    #[test]
    fn a_change_that_leaves_its_window_says_so() {
        let pale = |x, y| if square(x, y) { -0.15 } else { 0.0 };
        let (labels, grid, relative) = scene(pale, |_, _| false);
        let marks = [mark(true, 30..40, 28)];
        let in_window = |x0, y0, x1, y1| {
            let window = Window { x0, y0, x1, y1 };
            guide(&labels, &grid, &relative, window, &marks).runs_out
        };
        assert!(in_window(24, 18, 46, 40));
        assert!(in_window(24, 4, 60, 50));
        assert!(!in_window(12, 6, 60, 52));
        // The field itself ends there.
        assert!(!in_window(0, 0, W, H));
    }

    #[test]
    fn what_no_stroke_touches_stays_as_it_was() {
        let two =
            |x: usize, y: usize| square(x, y) || (60..70).contains(&x) && (10..20).contains(&y);
        let (mut labels, grid, relative) = scene(|x, y| if two(x, y) { -2.0 } else { 0.0 }, two);
        let window = Window::all(&grid);
        let told = guide(
            &labels,
            &grid,
            &relative,
            window,
            &[mark(false, 62..68, 14)],
        );
        labels.tell(&told.cells);
        assert_eq!(wrong(&labels, square), 0);
    }
}
