//! Minimum cut on an 8-connected grid of cells.
//!
//! Method: augmenting paths with two search trees that are kept from one path to the next (Boykov and
//! Kolmogorov, IEEE PAMI 26 (2004) 1124-1137), on arrays instead of a graph, with whole-number
//! capacities, so that the result is the same on every machine.

use std::collections::VecDeque;

/// Neighbour steps; the opposite of direction `d` is `d ^ 1`.
const STEPS: [(i32, i32); 8] = [
    (1, 0),
    (-1, 0),
    (0, 1),
    (0, -1),
    (1, 1),
    (-1, -1),
    (1, -1),
    (-1, 1),
];

/// `parent` of a cell that hangs on its terminal.
const AT_TERMINAL: u8 = 8;
/// `parent` of a cell that lost its parent and looks for another.
const ORPHAN: u8 = 9;
/// `parent` of a cell in no tree.
const NO_PARENT: u8 = 255;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Tree {
    Free,
    Source,
    Sink,
}

/// A grid of cells to be split into two sides at least cost. It is kept with a rim of cells to which nothing leads, so that no step has
/// to be checked.
pub(crate) struct GridCut {
    width: usize,
    height: usize,
    /// What is left of the arc from a cell in each direction.
    arcs: Vec<[i32; 8]>,
    /// What is left of the arc from the source (positive) or to the sink (negative).
    terminal: Vec<i32>,
    tree: Vec<Tree>,
    parent: Vec<u8>,
    time: Vec<u32>,
    distance: Vec<u32>,
    active: VecDeque<u32>,
    queued: Vec<bool>,
    orphans: VecDeque<u32>,
    now: u32,
}

impl GridCut {
    pub(crate) fn new(width: usize, height: usize) -> Self {
        let n = (width + 2) * (height + 2);
        Self {
            width,
            height,
            arcs: vec![[0; 8]; n],
            terminal: vec![0; n],
            tree: vec![Tree::Free; n],
            parent: vec![NO_PARENT; n],
            time: vec![0; n],
            distance: vec![0; n],
            active: VecDeque::new(),
            queued: vec![false; n],
            orphans: VecDeque::new(),
            now: 0,
        }
    }

    /// Where a cell, counted from the grid's first, is kept.
    fn kept_at(&self, cell: usize) -> usize {
        (cell / self.width + 1) * (self.width + 2) + cell % self.width + 1
    }

    /// Sets what each side costs a cell: `source_cost` is paid where it ends on the source side.
    pub(crate) fn set_costs(&mut self, cell: usize, source_cost: i32, sink_cost: i32) {
        // The arc from the source is cut where the cell ends on the sink side.
        let at = self.kept_at(cell);
        self.terminal[at] = sink_cost - source_cost;
    }

    /// Sets what it costs to part a cell from its neighbour in direction `d` (0: right, 2: down, 4:
    /// right and down, 6: right and up). The neighbour must lie on the grid.
    pub(crate) fn set_link(&mut self, cell: usize, d: usize, cost: i32) {
        let at = self.kept_at(cell);
        let other = self.step(at, d);
        self.arcs[at][d] = cost;
        self.arcs[other][d ^ 1] = cost;
    }

    fn step(&self, at: usize, d: usize) -> usize {
        let (dx, dy) = STEPS[d];
        // Nothing is left of the arcs out of the rim: from there no step is taken.
        at.wrapping_add_signed(dx as isize + dy as isize * (self.width as isize + 2))
    }

    /// Finds the cut; `true` where a cell ends on the source side.
    pub(crate) fn solve(mut self) -> Vec<bool> {
        for cell in 0..self.terminal.len() {
            if self.terminal[cell] != 0 {
                self.tree[cell] = if self.terminal[cell] > 0 {
                    Tree::Source
                } else {
                    Tree::Sink
                };
                self.parent[cell] = AT_TERMINAL;
                self.distance[cell] = 1;
                self.activate(cell);
            }
        }
        while let Some(cell) = self.active.front().map(|&c| c as usize) {
            if self.tree[cell] == Tree::Free {
                self.deactivate_front();
                continue;
            }
            match self.grow(cell) {
                Some((source_end, d)) => {
                    self.now += 1;
                    self.augment(source_end, d);
                    while let Some(orphan) = self.orphans.pop_front() {
                        self.adopt(orphan as usize);
                    }
                }
                None => self.deactivate_front(),
            }
        }
        (0..self.width * self.height)
            .map(|cell| self.tree[self.kept_at(cell)] == Tree::Source)
            .collect()
    }

    fn activate(&mut self, cell: usize) {
        if !self.queued[cell] {
            self.queued[cell] = true;
            self.active.push_back(cell as u32);
        }
    }

    fn deactivate_front(&mut self) {
        if let Some(cell) = self.active.pop_front() {
            self.queued[cell as usize] = false;
        }
    }

    /// What is left from `cell` outwards (source tree) or inwards (sink tree) in direction `d`.
    fn residual(&self, cell: usize, d: usize) -> i32 {
        if self.tree[cell] == Tree::Source {
            self.arcs[cell][d]
        } else {
            self.arcs[self.step(cell, d)][d ^ 1]
        }
    }

    /// Grows the tree round an active cell; answers where it meets the other tree, as the cell on the
    /// source side and the direction from there.
    fn grow(&mut self, cell: usize) -> Option<(usize, usize)> {
        for d in 0..8 {
            if self.residual(cell, d) == 0 {
                continue;
            }
            let other = self.step(cell, d);
            if self.tree[other] == Tree::Free {
                self.tree[other] = self.tree[cell];
                self.parent[other] = (d ^ 1) as u8;
                self.time[other] = self.time[cell];
                self.distance[other] = self.distance[cell] + 1;
                self.activate(other);
            } else if self.tree[other] != self.tree[cell] {
                return Some(if self.tree[cell] == Tree::Source {
                    (cell, d)
                } else {
                    (other, d ^ 1)
                });
            } else if self.time[other] <= self.time[cell]
                && self.distance[other] > self.distance[cell] + 1
                && self.parent[other] < AT_TERMINAL
            {
                self.parent[other] = (d ^ 1) as u8;
                self.time[other] = self.time[cell];
                self.distance[other] = self.distance[cell] + 1;
            }
        }
        None
    }

    fn augment(&mut self, source_end: usize, middle: usize) {
        let sink_end = self.step(source_end, middle);
        let mut flow = self.arcs[source_end][middle];
        let mut cell = source_end;
        while self.parent[cell] != AT_TERMINAL {
            let d = self.parent[cell] as usize;
            let up = self.step(cell, d);
            flow = flow.min(self.arcs[up][d ^ 1]);
            cell = up;
        }
        flow = flow.min(self.terminal[cell]);
        cell = sink_end;
        while self.parent[cell] != AT_TERMINAL {
            let d = self.parent[cell] as usize;
            flow = flow.min(self.arcs[cell][d]);
            cell = self.step(cell, d);
        }
        flow = flow.min(-self.terminal[cell]);

        self.arcs[source_end][middle] -= flow;
        self.arcs[sink_end][middle ^ 1] += flow;
        cell = source_end;
        while self.parent[cell] != AT_TERMINAL {
            let d = self.parent[cell] as usize;
            let up = self.step(cell, d);
            self.arcs[up][d ^ 1] -= flow;
            self.arcs[cell][d] += flow;
            if self.arcs[up][d ^ 1] == 0 {
                self.make_orphan(cell);
            }
            cell = up;
        }
        self.terminal[cell] -= flow;
        if self.terminal[cell] == 0 {
            self.make_orphan(cell);
        }
        cell = sink_end;
        while self.parent[cell] != AT_TERMINAL {
            let d = self.parent[cell] as usize;
            let up = self.step(cell, d);
            self.arcs[cell][d] -= flow;
            self.arcs[up][d ^ 1] += flow;
            if self.arcs[cell][d] == 0 {
                self.make_orphan(cell);
            }
            cell = up;
        }
        self.terminal[cell] += flow;
        if self.terminal[cell] == 0 {
            self.make_orphan(cell);
        }
    }

    fn make_orphan(&mut self, cell: usize) {
        self.parent[cell] = ORPHAN;
        self.orphans.push_front(cell as u32);
    }

    fn adopt(&mut self, cell: usize) {
        let side = self.tree[cell];
        let mut best: Option<(u8, u32)> = None;
        for d in 0..8 {
            let other = self.step(cell, d);
            let left = if side == Tree::Source {
                self.arcs[other][d ^ 1]
            } else {
                self.arcs[cell][d]
            };
            if left == 0 || self.tree[other] != side {
                continue;
            }
            if let Some(distance) = self.distance_to_terminal(other)
                && best.is_none_or(|(_, least)| distance < least)
            {
                best = Some((d as u8, distance));
            }
        }
        if let Some((d, distance)) = best {
            self.parent[cell] = d;
            self.time[cell] = self.now;
            self.distance[cell] = distance + 1;
            return;
        }
        self.time[cell] = 0;
        for d in 0..8 {
            let other = self.step(cell, d);
            if self.tree[other] != side {
                continue;
            }
            let left = if side == Tree::Source {
                self.arcs[other][d ^ 1]
            } else {
                self.arcs[cell][d]
            };
            if left != 0 {
                self.activate(other);
            }
            if self.parent[other] < AT_TERMINAL
                && self.step(other, self.parent[other] as usize) == cell
            {
                self.parent[other] = ORPHAN;
                self.orphans.push_back(other as u32);
            }
        }
        self.tree[cell] = Tree::Free;
        self.parent[cell] = NO_PARENT;
    }

    /// Steps from a cell to its terminal; `None` where the way ends in an orphan.
    fn distance_to_terminal(&mut self, start: usize) -> Option<u32> {
        let (mut cell, mut steps) = (start, 0u32);
        let total = loop {
            if self.time[cell] == self.now {
                break steps + self.distance[cell];
            }
            match self.parent[cell] {
                AT_TERMINAL => {
                    self.time[cell] = self.now;
                    self.distance[cell] = 1;
                    break steps + 1;
                }
                d if d < AT_TERMINAL => {
                    cell = self.step(cell, d as usize);
                    steps += 1;
                }
                _ => return None,
            }
        };
        // Marks the way, so that later questions stop early.
        let (mut cell, mut distance) = (start, total);
        while self.time[cell] != self.now {
            self.time[cell] = self.now;
            self.distance[cell] = distance;
            distance -= 1;
            cell = self.step(cell, self.parent[cell] as usize);
        }
        Some(total)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cost of a labelling, counted from the problem itself.
    fn cost(
        w: usize,
        h: usize,
        unary: &[(i32, i32)],
        links: &[(usize, usize, i32)],
        on: &[bool],
    ) -> i64 {
        assert_eq!(unary.len(), w * h);
        let ends: i64 = unary
            .iter()
            .zip(on)
            .map(|(u, &s)| i64::from(if s { u.0 } else { u.1 }))
            .sum();
        let cut: i64 = links
            .iter()
            .filter(|l| on[l.0] != on[l.1])
            .map(|l| i64::from(l.2))
            .sum();
        ends + cut
    }

    /// Truth: every labelling of a 4 x 3 grid tried, 200 random problems.
    #[test]
    fn the_cut_costs_no_more_than_any_labelling() {
        let (w, h) = (4usize, 3usize);
        let mut state = 12345u64;
        let mut random = move |n: u64| {
            state = state
                .wrapping_mul(6364136223846793005)
                .wrapping_add(1442695040888963407);
            ((state >> 33) % n) as i32
        };
        for _ in 0..200 {
            let unary: Vec<_> = (0..w * h).map(|_| (random(20), random(20))).collect();
            let mut cut = GridCut::new(w, h);
            for (cell, &(s, t)) in unary.iter().enumerate() {
                cut.set_costs(cell, s, t);
            }
            let mut links = Vec::new();
            for cell in 0..w * h {
                for d in [0, 2, 4, 6] {
                    let (x, y) = (
                        (cell % w) as i32 + STEPS[d].0,
                        (cell / w) as i32 + STEPS[d].1,
                    );
                    if x < w as i32 && (0..h as i32).contains(&y) {
                        let c = random(9);
                        cut.set_link(cell, d, c);
                        links.push((cell, y as usize * w + x as usize, c));
                    }
                }
            }
            let least = (0..1u32 << (w * h))
                .map(|bits| {
                    let on: Vec<bool> = (0..w * h).map(|i| bits >> i & 1 == 1).collect();
                    cost(w, h, &unary, &links, &on)
                })
                .min();
            let found = cost(w, h, &unary, &links, &cut.solve());
            assert_eq!(Some(found), least);
        }
    }
}
