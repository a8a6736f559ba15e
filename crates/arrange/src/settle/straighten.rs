//! Lines: edges and middles that almost stand in line are put in line.

use super::state::{IN_ORDER_MM, State};
use super::{Boxes, flipped_share, moved_mm};

impl State {
    /// Puts edges and middles that almost stand on one line on it, as far as that takes no room from others and
    /// changes no order. Boxes on one line move together from then on.
    pub(super) fn straighten(&self, boxes: &Boxes, at: &mut [Vec<f64>; 2]) {
        /// What is farther apart than this is two lines, mm.
        const ALMOST_MM: f64 = 4.0;
        let n = self.n;
        // Where the window is tight, straight lines are not bought with movement.
        let slack = (boxes.scale_into_room() - 1.05).clamp(0.0, 1.0);
        let most_mm = moved_mm(&boxes.start, at) * 1.002 + 0.06 * slack * boxes.side_mm();
        for axis in 0..2 {
            let by_start = boxes.start_ranks(axis);
            let mut pairs: Vec<(f64, usize, usize, f64)> = Vec::new();
            for i in 0..n {
                for j in 0..n {
                    // Those that this axis holds apart do not stand on one line.
                    if self.rank[axis][i] >= self.rank[axis][j] || self.apart[axis][i] >> j & 1 == 1
                    {
                        continue;
                    }
                    let wider = boxes.half[axis][j] - boxes.half[axis][i];
                    let later = IN_ORDER_MM * (by_start[j] as f64 - by_start[i] as f64);
                    for (line, dearer) in [(0.0, 1.0), (wider, 1.1), (-wider, 1.2)] {
                        let apart = line + later;
                        let off = (at[axis][j] - at[axis][i] - apart).abs();
                        if off <= ALMOST_MM {
                            pairs.push((off * dearer, i, j, apart));
                        }
                    }
                }
            }
            pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
            let mut line_of: Vec<usize> = (0..n).collect();
            for (_, i, j, apart) in pairs {
                if line_of[i] == line_of[j] {
                    continue;
                }
                let by = at[axis][i] + apart - at[axis][j];
                // Either line may come to the other; the shorter one is tried first.
                let size = |c: usize| line_of.iter().filter(|&&l| l == line_of[c]).count();
                let mut tries = [(j, by), (i, -by)];
                if size(i) < size(j) {
                    tries.reverse();
                }
                for (c, by) in tries {
                    let mut moved = at[axis].clone();
                    for k in 0..n {
                        if line_of[k] == line_of[c] {
                            moved[k] += by;
                        }
                    }
                    if !self.keeps(boxes, axis, &moved) {
                        continue;
                    }
                    let mut tried = at.clone();
                    tried[axis] = moved;
                    if flipped_share(&boxes.start, &tried) <= flipped_share(&boxes.start, at)
                        && moved_mm(&boxes.start, &tried) <= most_mm
                    {
                        *at = tried;
                        let (from, to) = (line_of[j], line_of[i]);
                        for line in &mut line_of {
                            if *line == from {
                                *line = to;
                            }
                        }
                        break;
                    }
                }
            }
        }
    }

    /// Whether places on an axis keep all its constraints.
    pub(super) fn keeps(&self, boxes: &Boxes, axis: usize, at: &[f64]) -> bool {
        let order = &self.order[axis];
        (0..self.n).all(|i| {
            let (low, high) = boxes.limits(axis, i);
            at[i] >= low - 1e-9 && at[i] <= high + 1e-9
        }) && order.iter().enumerate().all(|(k, &i)| {
            order[k + 1..].iter().all(|&j| {
                self.least(boxes, axis, i, j)
                    .is_none_or(|d| at[j] - at[i] >= d - 1e-9)
            })
        })
    }
}
