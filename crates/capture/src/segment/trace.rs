//! Rings along the borders between labelled cells.

use super::Labels;
use super::grid::FieldGrid;

/// A rectangle of cells: from (x0, y0) up to but not with (x1, y1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Window {
    pub(crate) x0: usize,
    pub(crate) y0: usize,
    pub(crate) x1: usize,
    pub(crate) y1: usize,
}

impl Window {
    /// The whole grid.
    pub(crate) fn all(grid: &FieldGrid) -> Self {
        Self {
            x0: 0,
            y0: 0,
            x1: grid.width,
            y1: grid.height,
        }
    }

    /// The least window that holds some cells; `None` without any.
    pub(crate) fn of_cells(
        cells: impl IntoIterator<Item = usize>,
        grid: &FieldGrid,
    ) -> Option<Self> {
        cells
            .into_iter()
            .map(|c| {
                let (x0, y0) = (c % grid.width, c / grid.width);
                let (x1, y1) = (x0 + 1, y0 + 1);
                Self { x0, y0, x1, y1 }
            })
            .reduce(Self::with)
    }

    /// Whether two windows share a cell.
    pub(crate) fn meets(self, other: Self) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }

    /// The least window that holds both.
    pub(crate) fn with(self, other: Self) -> Self {
        Self {
            x0: self.x0.min(other.x0),
            y0: self.y0.min(other.y0),
            x1: self.x1.max(other.x1),
            y1: self.y1.max(other.y1),
        }
    }

    /// The window with a margin of cells, on the grid.
    pub(crate) fn grown(self, cells: usize, grid: &FieldGrid) -> Self {
        Self {
            x0: self.x0.saturating_sub(cells),
            y0: self.y0.saturating_sub(cells),
            x1: (self.x1 + cells).min(grid.width),
            y1: (self.y1 + cells).min(grid.height),
        }
    }
}

/// A connected set of part cells, as closed rings on the grid.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Blob {
    /// Cells in it.
    pub(crate) cells: usize,
    /// It reaches the edge of the field.
    pub(crate) at_edge: bool,
    /// The least window that holds it.
    pub(crate) window: Window,
    /// Border rings in grid coordinates (cell centres at integers, x right, y down), the material on
    /// the left as seen with y up: the outer ring first.
    pub(crate) rings: Vec<Vec<[f64; 2]>>,
}

/// Cells of one kind side by side in a row.
struct Run {
    y: usize,
    x0: usize,
    x1: usize,
    part: bool,
    /// The run that stands for all that hang together with this one, or one nearer to it.
    parent: usize,
}

/// Runs of part and of paper in a window, joined: parts by their sides, paper also across corners, so that a line of
/// cells that touch by corners is a border.
struct Runs {
    runs: Vec<Run>,
}

impl Runs {
    fn of(window: Window, part: impl Fn(usize, usize) -> bool) -> Self {
        let mut all = Self { runs: Vec::new() };
        let mut above = 0..0;
        for y in window.y0..window.y1 {
            let first = all.runs.len();
            let mut x0 = window.x0;
            while x0 < window.x1 {
                let kind = part(x0, y);
                let x1 = (x0 + 1..window.x1)
                    .find(|&x| part(x, y) != kind)
                    .unwrap_or(window.x1);
                all.runs.push(Run {
                    y,
                    x0,
                    x1,
                    part: kind,
                    parent: all.runs.len(),
                });
                x0 = x1;
            }
            let row = first..all.runs.len();
            all.join_rows(above, row.clone());
            above = row;
        }
        for k in 0..all.runs.len() {
            all.runs[k].parent = all.root(k);
        }
        all
    }

    fn root(&self, mut k: usize) -> usize {
        while self.runs[k].parent != k {
            k = self.runs[k].parent;
        }
        k
    }

    fn join_rows(&mut self, above: std::ops::Range<usize>, row: std::ops::Range<usize>) {
        let mut a = above.start;
        for k in row {
            let (x0, x1, part) = (self.runs[k].x0, self.runs[k].x1, self.runs[k].part);
            // One to the left may still touch by a corner.
            while a > above.start && self.runs[a - 1].x1 >= x0 {
                a -= 1;
            }
            while a < above.end && self.runs[a].x0 <= x1 {
                let u = &self.runs[a];
                let side = u.x0 < x1 && x0 < u.x1;
                let corner = u.x0 <= x1 && x0 <= u.x1;
                if u.part == part && (side || (corner && !part)) {
                    let (p, q) = (self.root(a), self.root(k));
                    // The earlier run stands for both: the result does not depend on the order.
                    let (low, high) = (p.min(q), p.max(q));
                    self.runs[high].parent = low;
                }
                a += 1;
            }
            a = a.saturating_sub(1).max(above.start);
        }
    }
}

/// What is known of all runs that hang together.
#[derive(Clone)]
struct Whole {
    cells: usize,
    window: Window,
    /// Reaches the window's or the field's edge.
    open: bool,
    /// Cells that surely are paper.
    sure: usize,
}

impl Whole {
    /// Paper is seen in it: what surely is paper is more than a speck in it.
    fn shows_paper(&self) -> bool {
        self.sure >= LEAST_SURE && self.sure as f64 >= LEAST_SURE_SHARE * self.cells as f64
    }
}

/// A hole needs this many cells that surely are paper,
const LEAST_SURE: usize = 4;

/// and this share of all its cells.
const LEAST_SURE_SHARE: f64 = 0.24;

/// Finds the sets of part cells in a window that hang together by their sides, and the rings round them and round their
/// holes. No set may reach beyond the window.
///
/// Sets of fewer than `least_cells` are dropped: they are below what the grid can tell from noise.
/// Holes in which hardly any cell surely is paper are filled: print and pads on a part's face.
pub(crate) fn trace_blobs(
    labels: &Labels,
    grid: &FieldGrid,
    window: Window,
    least_cells: usize,
) -> Vec<Blob> {
    let (w, h) = (window.x1 - window.x0, window.y1 - window.y0);
    let runs = Runs::of(window, |x, y| labels.part(y * grid.width + x)).runs;
    let inside = |x: i64, y: i64| {
        x >= 0
            && y >= 0
            && x < grid.width as i64
            && y < grid.height as i64
            && grid.inside(y as usize * grid.width + x as usize)
    };
    let mut wholes: Vec<Option<Whole>> = vec![None; runs.len()];
    for run in &runs {
        let own = Window {
            x0: run.x0,
            y0: run.y,
            x1: run.x1,
            y1: run.y + 1,
        };
        let whole = wholes[run.parent].get_or_insert(Whole {
            cells: 0,
            window: own,
            open: false,
            sure: 0,
        });
        whole.cells += run.x1 - run.x0;
        whole.window = whole.window.with(own);
        let (x0, x1, y) = (run.x0 as i64, run.x1 as i64, run.y as i64);
        let at_window = !run.part
            && (run.y == window.y0
                || run.y + 1 == window.y1
                || run.x0 == window.x0
                || run.x1 == window.x1);
        // Part cells beside the field's edge, paper cells beyond it.
        let reach = i64::from(run.part);
        whole.open |= at_window
            || !inside(x0 - reach, y)
            || !inside(x1 - 1 + reach, y)
            || (x0..x1).any(|x| !inside(x, y - reach) || !inside(x, y + reach));
        if !run.part {
            let sure = (run.x0..run.x1).filter(|x| labels.sure_paper(run.y * grid.width + x));
            whole.sure += sure.count();
        }
    }
    // A filled hole counts as part: a border between the two is then no border.
    let mut solid = vec![false; w * h];
    let mut own = vec![u32::MAX; w * h];
    for run in &runs {
        let Some(whole) = &wholes[run.parent] else {
            continue;
        };
        if run.part || (!whole.open && !whole.shows_paper()) {
            let row = (run.y - window.y0) * w;
            solid[row + run.x0 - window.x0..row + run.x1 - window.x0].fill(true);
            if run.part && whole.cells >= least_cells {
                own[row + run.x0 - window.x0..row + run.x1 - window.x0].fill(run.parent as u32);
            }
        }
    }
    let mut rings: Vec<Vec<Vec<[f64; 2]>>> = vec![Vec::new(); runs.len()];
    let mut seen = vec![false; w * h];
    let global = |cell: usize| (cell / w + window.y0) * grid.width + cell % w + window.x0;
    for cell in 0..w * h {
        if own[cell] == u32::MAX || seen[cell] || (cell >= w && solid[cell - w]) {
            continue;
        }
        let mut ring = follow(
            cell % w,
            cell / w,
            (w, h),
            &mut seen,
            |c| solid[c],
            |a, b| labels.even_between(global(a), global(b)),
        );
        for p in &mut ring {
            *p = [p[0] + window.x0 as f64, p[1] + window.y0 as f64];
        }
        rings[own[cell] as usize].push(ring);
    }
    let mut blobs = Vec::new();
    for (k, mut rings) in rings.into_iter().enumerate().filter(|(_, r)| !r.is_empty()) {
        let Some(whole) = &wholes[k] else { continue };
        // The outer ring is the one that encloses the most.
        rings.sort_by(|a, b| enclosed(b).abs().total_cmp(&enclosed(a).abs()));
        blobs.push(Blob {
            cells: whole.cells,
            at_edge: whole.open,
            window: whole.window,
            rings,
        });
    }
    blobs
}

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
    (width, height): (usize, usize),
    seen: &mut [bool],
    solid: impl Fn(usize) -> bool,
    even_between: impl Fn(usize, usize) -> f64,
) -> Vec<[f64; 2]> {
    let cell_at = |(x, y): (i64, i64)| {
        (x >= 0 && y >= 0 && x < width as i64 && y < height as i64)
            .then(|| y as usize * width + x as usize)
    };
    let is = |x: i64, y: i64| cell_at((x, y)).is_some_and(&solid);
    // Corner (cx, cy) is the upper-left corner of cell (cx, cy). Heading 0: right, 1: down, 2: left, 3: up.
    let (mut cx, mut cy, mut heading) = (x as i64, y as i64, 0usize);
    let start = (cx, cy, heading);
    let mut ring = Vec::new();
    loop {
        if heading == 0 {
            seen[cy as usize * width + cx as usize] = true;
        }
        // On the line between the two cells' centres, where part and paper are as likely.
        let (inner, outer) = match heading {
            0 => ((cx, cy), (cx, cy - 1)),
            1 => ((cx - 1, cy), (cx, cy)),
            2 => ((cx - 1, cy - 1), (cx - 1, cy)),
            _ => ((cx, cy - 1), (cx - 1, cy - 1)),
        };
        let share = match (cell_at(inner), cell_at(outer)) {
            (Some(a), Some(b)) => even_between(a, b),
            _ => 0.5,
        };
        let between = |a: i64, b: i64| a as f64 + (b - a) as f64 * share;
        ring.push([between(inner.0, outer.0), between(inner.1, outer.1)]);
        let (dx, dy) = [(1i64, 0i64), (0, 1), (-1, 0), (0, -1)][heading];
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture drawn in letters: `#` part, `.` paper that is seen, `o` paper that is not sure.
    fn drawn(rows: &[&str]) -> (Labels, FieldGrid) {
        let width = rows[0].len();
        let odds = rows
            .iter()
            .flat_map(|r| r.bytes())
            .map(|b| match b {
                b'#' => 3.0,
                b'o' => -0.5,
                _ => -3.0,
            })
            .collect();
        (Labels { odds }, FieldGrid::of_cells(width, rows.len()))
    }

    fn traced(rows: &[&str]) -> Vec<Blob> {
        let (labels, grid) = drawn(rows);
        trace_blobs(&labels, &grid, Window::all(&grid), 1)
    }

    #[test]
    fn parts_that_touch_by_a_corner_are_two() {
        let blobs = traced(&["......", ".##...", ".##...", "...##.", "...##.", "......"]);
        assert_eq!(blobs.len(), 2);
        assert!(
            blobs
                .iter()
                .all(|b| b.cells == 4 && b.rings.len() == 1 && !b.at_edge)
        );
    }

    #[test]
    fn holes_are_kept_where_paper_is_seen_and_filled_where_not() {
        let ring = |middle: char| {
            let row = format!(".##{middle}{middle}##.");
            vec![
                "........".into(),
                ".######.".into(),
                row.clone(),
                row,
                ".######.".into(),
                "........".to_string(),
            ]
        };
        let holes = |middle: char| {
            let rows = ring(middle);
            let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
            traced(&rows)[0].rings.len() - 1
        };
        assert_eq!(holes('.'), 1);
        assert_eq!(holes('o'), 0);
    }

    #[test]
    fn a_ring_encloses_its_cells() {
        let blobs = traced(&["......", ".####.", ".#..#.", ".#..#.", ".####.", "......"]);
        assert_eq!(blobs[0].rings.len(), 2);
        // Odds are even half-way between two cells of equal sureness: the ring cuts only the corners.
        let area = enclosed(&blobs[0].rings[0]).abs();
        assert!((area - 15.5).abs() < 1e-9, "{area}");
        assert!(enclosed(&blobs[0].rings[0]) * enclosed(&blobs[0].rings[1]) < 0.0);
    }

    #[test]
    fn a_part_at_the_edge_says_so_and_a_window_sees_only_its_own() {
        let rows = ["#....", ".....", "...#.", "....."];
        let blobs = traced(&rows);
        assert_eq!(
            blobs.iter().map(|b| b.at_edge).collect::<Vec<_>>(),
            [true, false]
        );
        let (labels, grid) = drawn(&rows);
        let window = Window {
            x0: 2,
            y0: 1,
            x1: 5,
            y1: 4,
        };
        let own = trace_blobs(&labels, &grid, window, 1);
        assert_eq!(own.len(), 1);
        assert_eq!(own[0].rings, blobs[1].rings);
    }

    #[test]
    fn sets_join_over_rows_whatever_their_shape() {
        let blobs = traced(&["#.#.#", "#.#.#", "#####", "....."]);
        assert_eq!(blobs.len(), 1);
        assert_eq!(blobs[0].cells, 11);
    }
}
