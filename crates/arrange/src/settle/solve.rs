//! Places of a state: a quadratic program with separation constraints on each axis.

use super::Boxes;
use super::state::State;

/// Passes over all constraints before the quadratic program's answer is taken as it is; what is then
/// still wrong is put right exactly.
const PASSES: usize = 80;

/// A solution with the constraints that push in it: axis, first, second, force.
#[derive(Debug, Clone)]
pub(super) struct Solution {
    pub(super) at: [Vec<f64>; 2],
    pub(super) pushes: Vec<(usize, usize, usize, f64)>,
    /// What each wall pushes each box, per axis: from below and from above.
    pub(super) walls: [Vec<[f64; 2]>; 2],
}

impl State {
    /// Places that keep all constraints and are nearest to the wish; what pushed in a solution of nearly the same
    /// state is where the search for them starts.
    pub(super) fn solve(
        &self,
        boxes: &Boxes,
        wish: &[Vec<f64>; 2],
        ease: &[f64],
        like: Option<&Solution>,
    ) -> Solution {
        let n = self.n;
        let mut found = Solution {
            at: [Vec::new(), Vec::new()],
            pushes: Vec::new(),
            walls: [vec![[0.0; 2]; n], vec![[0.0; 2]; n]],
        };
        for axis in 0..2 {
            let mut force = vec![0.0; n * n];
            if let Some(like) = like {
                for &(_, i, j, f) in like.pushes.iter().filter(|p| p.0 == axis) {
                    force[i * n + j] = f;
                }
                found.walls[axis].clone_from(&like.walls[axis]);
            }
            found.at[axis] = self.solve_axis(
                boxes,
                axis,
                &wish[axis],
                ease,
                &force,
                &mut found.walls[axis],
                &mut found.pushes,
            );
        }
        found
    }

    /// Constraints of an axis that no others imply.
    pub(super) fn arcs(&self, boxes: &Boxes, axis: usize) -> Vec<(usize, usize, f64)> {
        let n = self.n;
        let order = &self.order[axis];
        let mut after: Vec<u128> = vec![0; n];
        let mut before: Vec<u128> = vec![0; n];
        let mut apart_before: Vec<u128> = vec![0; n];
        let mut apart_after: Vec<u128> = vec![0; n];
        for (k, &i) in order.iter().enumerate() {
            for &j in &order[k + 1..] {
                if self.least(boxes, axis, i, j).is_some() {
                    after[i] |= 1 << j;
                    before[j] |= 1 << i;
                }
                if self.apart[axis][i] >> j & 1 == 1 {
                    apart_before[j] |= 1 << i;
                    apart_after[i] |= 1 << j;
                }
            }
        }
        let mut arcs = Vec::new();
        for (k, &i) in order.iter().enumerate() {
            for &j in &order[k + 1..] {
                let Some(d) = self.least(boxes, axis, i, j) else {
                    continue;
                };
                let implied = if self.apart[axis][i] >> j & 1 == 1 {
                    apart_after[i] & apart_before[j]
                } else {
                    after[i] & before[j]
                };
                if implied == 0 {
                    arcs.push((i, j, d));
                }
            }
        }
        arcs
    }

    /// Places on one axis nearest to the wish in the least squares' sense that keep all constraints. `pushed` and
    /// `walls` are the forces to start from; the forces found are added to `pushes` and left in `walls`.
    #[allow(clippy::too_many_arguments, reason = "two callers, all of it needed")]
    pub(super) fn solve_axis(
        &self,
        boxes: &Boxes,
        axis: usize,
        wish: &[f64],
        ease: &[f64],
        pushed: &[f64],
        walls: &mut [[f64; 2]],
        pushes: &mut Vec<(usize, usize, usize, f64)>,
    ) -> Vec<f64> {
        let n = self.n;
        let arcs = self.arcs(boxes, axis);
        let limits: Vec<(f64, f64)> = (0..n).map(|i| boxes.limits(axis, i)).collect();
        // What is fixed does not give way at all.
        let give: Vec<f64> = (0..n)
            .map(|c| if boxes.fixed[c] { 0.0 } else { ease[c] })
            .collect();
        let mut force: Vec<f64> = arcs.iter().map(|&(i, j, _)| pushed[i * n + j]).collect();
        let mut at: Vec<f64> = (0..n)
            .map(|i| {
                if boxes.fixed[i] {
                    limits[i].0
                } else {
                    wish[i] + walls[i][0] - walls[i][1]
                }
            })
            .collect();
        for (&(i, j, _), &f) in arcs.iter().zip(&force) {
            at[i] -= f * give[i];
            at[j] += f * give[j];
        }
        for _ in 0..PASSES {
            let mut most = 0.0_f64;
            for (k, &(i, j, d)) in arcs.iter().enumerate() {
                let lacking = at[i] + d - at[j];
                let both = give[i] + give[j];
                if both == 0.0 {
                    continue;
                }
                let push = (lacking / both).max(-force[k]);
                if push != 0.0 {
                    force[k] += push;
                    at[i] -= push * give[i];
                    at[j] += push * give[j];
                    most = most.max(push.abs() * both);
                }
            }
            for i in 0..n {
                if boxes.fixed[i] {
                    continue;
                }
                let up = (limits[i].0 - at[i]).max(-walls[i][0]);
                walls[i][0] += up;
                at[i] += up;
                let down = (at[i] - limits[i].1).max(-walls[i][1]);
                walls[i][1] += down;
                at[i] -= down;
                most = most.max(up.abs()).max(down.abs());
            }
            if most < 2e-3 {
                break;
            }
        }
        // Exactly: nobody above what the chains after it allow, nobody below what those before it ask.
        let (high, _) = self.highest(boxes, axis);
        for (k, &j) in self.order[axis].iter().enumerate() {
            let mut low = limits[j].0;
            for &i in &self.order[axis][..k] {
                if let Some(d) = self.least(boxes, axis, i, j) {
                    low = low.max(at[i] + d);
                }
            }
            at[j] = at[j].min(high[j]).max(low);
        }
        pushes.extend(
            arcs.iter()
                .zip(&force)
                .filter(|(_, f)| **f > 1e-6)
                .map(|(&(i, j, _), &f)| (axis, i, j, f)),
        );
        at
    }
}
