//! Rings along the borders between labelled cells.

use super::Labels;

/// A connected set of part cells, as closed rings on the grid.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Blob {
    /// Cells in it.
    pub(crate) cells: usize,
    /// It reaches the edge of the field.
    pub(crate) at_edge: bool,
    /// Border rings in grid coordinates (cell centres at integers, x right, y down), the material on
    /// the left as seen with y up: the outer ring first.
    pub(crate) rings: Vec<Vec<[f64; 2]>>,
}

/// Finds the 4-connected sets of marked cells and the rings round them and round their holes.
///
/// Sets of fewer than `least_cells` are dropped: they are below what the grid can tell from noise.
/// Holes without a cell that surely is paper are filled: print and pads on a part's face. `inside` says
/// whether a cell lies in the field.
pub(crate) fn trace_blobs(
    labels: &Labels,
    width: usize,
    height: usize,
    least_cells: usize,
    inside: impl Fn(usize) -> bool,
) -> Vec<Blob> {
    let marked = &labels.part;
    let part = components(width, height, |c| marked[c], false);
    // Paper joins across corners, so that a line of cells that touch by corners is a border.
    let paper = components(width, height, |c| !marked[c], true);
    let reaches_out = |cell: usize| {
        let (x, y) = (cell % width, cell / width);
        x == 0 || y == 0 || x + 1 == width || y + 1 == height || !inside(cell)
    };
    let mut paper_open = vec![false; paper.sizes.len()];
    let mut paper_sure = vec![false; paper.sizes.len()];
    let mut at_edge = vec![false; part.sizes.len()];
    for cell in 0..width * height {
        if let Some(k) = paper.of(cell) {
            paper_open[k] |= reaches_out(cell);
            paper_sure[k] |= labels.sure_paper[cell];
        }
        if let Some(k) = part.of(cell) {
            at_edge[k] |= reaches_out(cell)
                || !inside(cell - 1)
                || !inside(cell + 1)
                || !inside(cell - width)
                || !inside(cell + width);
        }
    }
    let mut blobs: Vec<Blob> = part
        .sizes
        .iter()
        .zip(&at_edge)
        .map(|(&cells, &at_edge)| Blob {
            cells,
            at_edge,
            rings: Vec::new(),
        })
        .collect();
    let solid = |cell: usize| -> Option<usize> {
        match part.of(cell) {
            Some(k) => Some(k),
            None => {
                // A filled hole counts as the part round it; which part does not matter for a
                // border that is then no border.
                let k = paper.of(cell)?;
                (!paper_open[k] && !paper_sure[k]).then_some(usize::MAX)
            }
        }
    };
    let mut seen = vec![false; width * height];
    for y in 0..height {
        for x in 0..width {
            let cell = y * width + x;
            let Some(k) = part.of(cell) else { continue };
            let above_open = y == 0 || solid(cell - width).is_none();
            if above_open && !seen[cell] && part.sizes[k] >= least_cells {
                let ring = follow(x, y, width, height, &mut seen, |c| solid(c).is_some());
                blobs[k].rings.push(ring);
            }
        }
    }
    blobs.retain(|b| b.cells >= least_cells && !b.rings.is_empty());
    for blob in &mut blobs {
        // The outer ring is the one that encloses the most.
        blob.rings
            .sort_by(|a, b| enclosed(b).abs().total_cmp(&enclosed(a).abs()));
    }
    blobs
}

/// Marks the cells between sets that lie within twice `reach` cells of each other, so that they become one.
///
/// A bright bevel or a glint can cut a part in two; two parts that lie this close cannot be told from
/// one, and the sheet asks for more room between them.
pub(crate) fn bridge_fragments(labels: &mut Labels, width: usize, height: usize, reach: usize) {
    let mut sets = components(width, height, |c| labels.part[c], false);
    // Specks are no fragments: they are what a cut leaves in the corner of a hole.
    for label in &mut sets.label {
        if *label != u32::MAX && sets.sizes[*label as usize] < LEAST_FRAGMENT {
            *label = u32::MAX;
        }
    }
    // The least and the greatest label within reach, along rows, then along columns.
    let spread = |label: &[u32], pick: fn(u32, u32) -> u32, none: u32| -> Vec<u32> {
        let mut rows = vec![none; label.len()];
        for y in 0..height {
            for x in 0..width {
                let (from, to) = (x.saturating_sub(reach), (x + reach).min(width - 1));
                rows[y * width + x] = label[y * width + from..=y * width + to]
                    .iter()
                    .fold(none, |a, &b| pick(a, b));
            }
        }
        let mut both = vec![none; label.len()];
        for y in 0..height {
            let (from, to) = (y.saturating_sub(reach), (y + reach).min(height - 1));
            for x in 0..width {
                both[y * width + x] = (from..=to).fold(none, |a, v| pick(a, rows[v * width + x]));
            }
        }
        both
    };
    let least = spread(&sets.label, u32::min, u32::MAX);
    // Unlabelled cells hold the greatest number: count them as the least, one up.
    let shifted: Vec<u32> = sets.label.iter().map(|l| l.wrapping_add(1)).collect();
    let most = spread(&shifted, u32::max, 0);
    for c in 0..labels.part.len() {
        labels.part[c] |= !labels.sure_paper[c] && most[c] > 0 && most[c] - 1 != least[c];
    }
}

/// Cells of the smallest fragment that is joined to others.
const LEAST_FRAGMENT: usize = 12;

fn enclosed(ring: &[[f64; 2]]) -> f64 {
    let n = ring.len();
    (0..n)
        .map(|i| ring[i][0] * ring[(i + 1) % n][1] - ring[(i + 1) % n][0] * ring[i][1])
        .sum::<f64>()
        * 0.5
}

/// Walks the border of the solid cells from the upper side of a cell, the solid on the right hand (in
/// pixel coordinates, y down). Marks the cells whose upper side was walked.
fn follow(
    x: usize,
    y: usize,
    width: usize,
    height: usize,
    seen: &mut [bool],
    solid: impl Fn(usize) -> bool,
) -> Vec<[f64; 2]> {
    let is = |x: i64, y: i64| {
        x >= 0
            && y >= 0
            && x < width as i64
            && y < height as i64
            && solid(y as usize * width + x as usize)
    };
    // Corner (cx, cy) is the upper-left corner of cell (cx, cy). Heading 0: right, 1: down, 2: left, 3: up.
    let (mut cx, mut cy, mut heading) = (x as i64, y as i64, 0usize);
    let start = (cx, cy, heading);
    let mut ring = Vec::new();
    loop {
        if heading == 0 {
            seen[cy as usize * width + cx as usize] = true;
        }
        // The middle of each walked side: rounder than its corners, and as many points.
        let (dx, dy) = [(1i64, 0i64), (0, 1), (-1, 0), (0, -1)][heading];
        ring.push([
            cx as f64 + 0.5 * dx as f64 - 0.5,
            cy as f64 + 0.5 * dy as f64 - 0.5,
        ]);
        cx += dx;
        cy += dy;
        // Cells ahead on the left and on the right hand.
        let (left, right) = match heading {
            0 => ((cx, cy - 1), (cx, cy)),
            1 => ((cx, cy), (cx - 1, cy)),
            2 => ((cx - 1, cy), (cx - 1, cy - 1)),
            _ => ((cx - 1, cy - 1), (cx, cy - 1)),
        };
        // 4-connected solid: turn right first, so that cells that touch by a corner stay apart.
        heading = if !is(right.0, right.1) {
            (heading + 1) % 4
        } else if is(left.0, left.1) {
            (heading + 3) % 4
        } else {
            heading
        };
        if (cx, cy, heading) == start {
            return ring;
        }
    }
}

pub(super) struct Components {
    pub(super) label: Vec<u32>,
    pub(super) sizes: Vec<usize>,
}

impl Components {
    /// Least and greatest column and row of each component: x0, y0, x1, y1.
    pub(super) fn bounds(&self, width: usize) -> Vec<[usize; 4]> {
        let mut all = vec![[usize::MAX, usize::MAX, 0, 0]; self.sizes.len()];
        for (cell, &k) in self.label.iter().enumerate() {
            if let Some(b) = all.get_mut(k as usize) {
                let (x, y) = (cell % width, cell / width);
                *b = [b[0].min(x), b[1].min(y), b[2].max(x), b[3].max(y)];
            }
        }
        all
    }

    pub(super) fn of(&self, cell: usize) -> Option<usize> {
        (self.label[cell] != u32::MAX).then_some(self.label[cell] as usize)
    }
}

pub(super) fn components(
    width: usize,
    height: usize,
    is: impl Fn(usize) -> bool,
    corners: bool,
) -> Components {
    let mut label = vec![u32::MAX; width * height];
    let mut sizes = Vec::new();
    let mut stack = Vec::new();
    for start in 0..width * height {
        if label[start] != u32::MAX || !is(start) {
            continue;
        }
        let k = sizes.len() as u32;
        sizes.push(0usize);
        label[start] = k;
        stack.push(start);
        while let Some(cell) = stack.pop() {
            sizes[k as usize] += 1;
            let (x, y) = (cell % width, cell / width);
            let mut visit = |next: usize| {
                if label[next] == u32::MAX && is(next) {
                    label[next] = k;
                    stack.push(next);
                }
            };
            let (left, right, up, down) = (x > 0, x + 1 < width, y > 0, y + 1 < height);
            if left {
                visit(cell - 1);
            }
            if right {
                visit(cell + 1);
            }
            if up {
                visit(cell - width);
            }
            if down {
                visit(cell + width);
            }
            if corners {
                if left && up {
                    visit(cell - width - 1);
                }
                if right && up {
                    visit(cell - width + 1);
                }
                if left && down {
                    visit(cell + width - 1);
                }
                if right && down {
                    visit(cell + width + 1);
                }
            }
        }
    }
    Components { label, sizes }
}
