//! A ring on its way to lines and arcs: split, joined again, held to its tolerance, made finer where sides cross.

use super::MEASURE_MM;
use super::joints::{Side, nearly_smooth, points, refine, segment};
use super::samples::{Fit, Samples};
use super::split::{run_between, split};
use crate::edge_distance::farthest_mm;
use crate::exact::{CHORD_MM, ExactRing, Segment, ring_distance_mm};
use crate::{EdgeTree, Point, Ring};

/// A ring of more sides than this is left as fine as splitting made it: joining them again takes long and
/// gains little on what is noise.
const MOST_MERGED: usize = 800;

/// A ring of more sides than this follows noise; none of its joints is meant to be smooth.
const MOST_SMOOTHED: usize = 300;

/// A ring on its way to lines and arcs.
pub(super) struct WorkRing<'a> {
    ring: &'a Ring,
    tree: EdgeTree,
    samples: Samples,
    pub(super) sides: Vec<Side>,
    tolerance_mm: f64,
}

impl<'a> WorkRing<'a> {
    pub(super) fn fitted(ring: &'a Ring, tolerance_mm: f64) -> Self {
        let mut work = Self {
            ring,
            tree: EdgeTree::of_ring(ring.clone()),
            samples: Samples::of(ring),
            sides: Vec::new(),
            tolerance_mm,
        };
        if let Some(circle) = work.whole_circle() {
            work.sides = circle;
            return work;
        }
        work.sides = work.first_sides();
        if work.hold(true) && work.sides.len() <= MOST_MERGED {
            work.merge();
        }
        work
    }

    /// Two half circles, where the whole ring lies on one circle.
    fn whole_circle(&self) -> Option<Vec<Side>> {
        let n = self.samples.len();
        let fit = self.samples.fit_circle(0, n - 1)?;
        let Fit::Circle { radius_mm, .. } = fit else {
            return None;
        };
        let all_near = self
            .samples
            .at
            .iter()
            .all(|&p| fit.miss_mm(p).abs() <= self.tolerance_mm);
        if !all_near || radius_mm < 2.0 * self.tolerance_mm {
            return None;
        }
        let bulge = self.ring.signed_area_mm2().signum();
        let from = fit.nearest(self.samples.at[0]);
        let Fit::Circle { centre, .. } = fit else {
            return None;
        };
        let opposite = centre - (from - centre);
        let side = |from, first, last| Side {
            from,
            bulge,
            first,
            last,
        };
        let sides = vec![side(from, 0, n / 2), side(opposite, n / 2, n)];
        let round = ExactRing::from_points(points(&sides));
        // A ring that runs round its circle more or less than once, or goes back on its way, is none.
        (ring_distance_mm(&round, self.ring) <= self.tolerance_mm
            && (self.ring.length_mm() / (std::f64::consts::TAU * radius_mm) - 1.0).abs() < 0.5)
            .then_some(sides)
    }

    /// Sides of the cheapest split, each joint between what its two fits say.
    fn first_sides(&self) -> Vec<Side> {
        let runs = split(&self.samples, self.tolerance_mm);
        let m = runs.len();
        let mut sides: Vec<Side> = (0..m)
            .map(|k| {
                let (before, run) = (runs[(k + m - 1) % m], runs[k]);
                let p = self.samples.place(run.first);
                Side {
                    from: before.fit.nearest(p).lerp(run.fit.nearest(p), 0.5),
                    bulge: (0.25 * run.angle_rad).tan(),
                    first: run.first,
                    last: run.last,
                }
            })
            .collect();
        if m < 2 {
            return self.own_points();
        }
        let plain = vec![false; m];
        refine(&self.samples, &mut sides, &plain);
        self.pull_in(&mut sides);
        let untangent = sides.clone();
        let mut smooth = nearly_smooth(&sides);
        if m > MOST_SMOOTHED {
            return untangent;
        }
        // Smooth joints that cost the tolerance are let go.
        for _ in 0..4 {
            if !smooth.contains(&true) {
                break;
            }
            let mut trial = untangent.clone();
            refine(&self.samples, &mut trial, &smooth);
            self.pull_in(&mut trial);
            let bad: Vec<usize> = (0..m).filter(|&k| !self.holds(&trial, k)).collect();
            if bad.is_empty() {
                return trial;
            }
            for k in bad {
                smooth[k] = false;
                smooth[(k + 1) % m] = false;
            }
        }
        untangent
    }

    /// One straight side from each of the ring's places to the next.
    fn own_points(&self) -> Vec<Side> {
        let side = |k: usize| Side {
            from: self.samples.at[k],
            bulge: 0.0,
            first: k,
            last: k + 1,
        };
        (0..self.samples.len()).map(side).collect()
    }

    /// Side `k` lies within the tolerance of its run, both ways.
    fn holds(&self, sides: &[Side], k: usize) -> bool {
        let (side, s) = (sides[k], segment(sides, k));
        if s.angle_rad().abs() > 6.0 {
            return false;
        }
        // As `miss_mm` has it; mostly the side itself is near enough, and nothing else is asked.
        let about = about(sides, k);
        let near = |i| {
            let p = self.samples.place(i);
            let near = |s: &Segment| s.distance_mm(p) <= self.tolerance_mm;
            about.iter().any(near)
        };
        if !(side.first..=side.last).all(near) {
            return false;
        }
        let pieces = s.pieces(0.2 * CHORD_MM);
        let at = |j: usize| s.at(j as f64 / pieces as f64);
        let lines = (0..pieces).map(|j| (at(j), at(j + 1)));
        farthest_mm(lines, &self.tree) <= self.tolerance_mm + MEASURE_MM
    }

    /// Distance of place `i` from side `k` or its neighbours, mm: a smooth joint lies anywhere along its
    /// two sides, so that places near it may belong to either.
    fn miss_mm(&self, sides: &[Side], k: usize, i: usize) -> f64 {
        about(sides, k)
            .map(|s| s.distance_mm(self.samples.place(i)))
            .into_iter()
            .fold(f64::INFINITY, f64::min)
    }

    /// Moves corners that lie too far off the ring nearer to it: where a corner of the part is cut off a
    /// little, the two sides beside it meet outside.
    fn pull_in(&self, sides: &mut [Side]) {
        let reach = 0.9 * self.tolerance_mm;
        for side in sides {
            let Some(near) = self.tree.nearest(side.from, f64::INFINITY) else {
                continue;
            };
            let off = near.signed_mm.abs();
            if off > reach {
                side.from = near.at.lerp(side.from, reach / off);
            }
        }
    }

    /// Joins neighbouring sides into one wherever that stays within the tolerance: what splitting left too
    /// fine.
    fn merge(&mut self) {
        let mut k = 0;
        let mut idle = 0;
        while idle < self.sides.len() && self.sides.len() > 3 {
            let m = self.sides.len();
            k %= m;
            if self.merge_with_next(k) {
                idle = 0;
                // The one before may go on with the longer one.
                k = (k + m - 1).min(self.sides.len() - 1);
            } else {
                idle += 1;
                k += 1;
            }
        }
    }

    /// Makes side `k` and the next one a single side, where that holds.
    fn merge_with_next(&mut self, k: usize) -> bool {
        let (m, n) = (self.sides.len(), self.samples.len());
        let next = (k + 1) % m;
        let (one, other) = (self.sides[k], self.sides[next]);
        let count = one.last - one.first + other.last - other.first;
        if 3 * count > 2 * n {
            return false;
        }
        let first = one.first % n;
        let last = first + count;
        let run = run_between(&self.samples, first, last, self.tolerance_mm);
        let to = self.sides[(next + 1) % m].from;
        let middle = self.samples.place(first + count / 2);
        self.sides.remove(next);
        let at = if next < k { k - 1 } else { k };
        let around = [at + m - 2, at, at + 1].map(|j| j % (m - 1));
        for bulge in [
            0.0,
            (0.25 * run.angle_rad).tan(),
            bulge_through(one.from, middle, to),
        ] {
            self.sides[at] = Side {
                from: one.from,
                bulge,
                first,
                last,
            };
            if around.iter().all(|&j| self.holds(&self.sides, j)) {
                return true;
            }
        }
        self.sides[at] = one;
        self.sides.insert(next, other);
        false
    }

    /// Splits sides that miss the tolerance until none do, and says whether any did. Ends with the ring's
    /// own places at the latest.
    pub(super) fn hold(&mut self, refit: bool) -> bool {
        for round in 0..64 {
            let bad: Vec<usize> = (0..self.sides.len())
                .filter(|&k| !self.holds(&self.sides, k))
                .collect();
            if bad.is_empty() {
                return round > 0;
            }
            let mut finer = false;
            for &k in bad.iter().rev() {
                finer |= if round < 6 && refit {
                    self.halve(k)
                } else {
                    self.refine_side(k)
                };
            }
            if !finer {
                break;
            }
            if round < 6 && refit {
                let plain = vec![false; self.sides.len()];
                let mut sides = self.sides.clone();
                refine(&self.samples, &mut sides, &plain);
                self.pull_in(&mut sides);
                self.sides = sides;
            }
        }
        self.sides = self.own_points();
        true
    }

    /// Splits side `k` where it misses most; false where it has no place left to split at.
    fn halve(&mut self, k: usize) -> bool {
        let side = self.sides[k];
        let count = side.last - side.first;
        if count < 2 {
            return self.own_ends(k);
        }
        let guard = 1 + count / 8;
        let middle = (side.first + guard..=(side.last - guard).max(side.first + guard))
            .max_by(|&i, &j| {
                let miss = |i| self.miss_mm(&self.sides, k, i);
                miss(i).total_cmp(&miss(j)).then(j.cmp(&i))
            })
            .unwrap_or(side.first + count / 2)
            .clamp(side.first + 1, side.last - 1);
        self.cut(k, middle);
        true
    }

    fn cut(&mut self, k: usize, middle: usize) {
        let (side, n) = (self.sides[k], self.samples.len());
        let bow = |first: usize, last: usize| {
            let back = if first >= n { n } else { 0 };
            let run = run_between(&self.samples, first - back, last - back, self.tolerance_mm);
            (0.25 * run.angle_rad).tan()
        };
        let (before, after) = (bow(side.first, middle), bow(middle, side.last));
        let second = Side {
            from: self.samples.place(middle),
            bulge: after,
            first: middle,
            last: side.last,
        };
        self.sides[k].last = middle;
        self.sides[k].bulge = before;
        self.sides.insert(k + 1, second);
    }

    /// Moves both ends of side `k` onto the ring; false where they were there and the side is straight.
    fn own_ends(&mut self, k: usize) -> bool {
        let m = self.sides.len();
        let (first, last) = (self.sides[k].first, self.sides[k].last);
        let (from, to) = (self.samples.place(first), self.samples.place(last));
        let next = (k + 1) % m;
        let moved = self.sides[k].from != from
            || self.sides[next].from != to
            || (last - first == 1 && self.sides[k].bulge != 0.0);
        self.sides[k].from = from;
        self.sides[next].from = to;
        if last - first == 1 {
            self.sides[k].bulge = 0.0;
        }
        moved
    }

    /// Makes side `k` follow the ring more closely: ends on the ring, and half as long.
    pub(super) fn refine_side(&mut self, k: usize) -> bool {
        let moved = self.own_ends(k);
        let side = self.sides[k];
        if side.last - side.first < 2 {
            return moved;
        }
        self.cut(k, side.first + (side.last - side.first) / 2);
        true
    }

    /// The polygon of chord error 0.005 mm, and which side each of its sides belongs to.
    pub(super) fn flattened(&self) -> (Vec<Point>, Vec<usize>) {
        let (mut flat, mut owner) = (Vec::new(), Vec::new());
        for k in 0..self.sides.len() {
            let s = segment(&self.sides, k);
            let n = s.pieces(CHORD_MM);
            flat.push(s.from);
            flat.extend((1..n).map(|j| s.at(j as f64 / n as f64)));
            owner.resize(flat.len(), k);
        }
        (flat, owner)
    }
}

/// Side `k`, and the next one and the one before.
fn about(sides: &[Side], k: usize) -> [Segment; 3] {
    let m = sides.len();
    [k, (k + 1) % m, (k + m - 1) % m].map(|j| segment(sides, j))
}

/// Bulge of the arc from one point to another through a third.
fn bulge_through(from: Point, by: Point, to: Point) -> f64 {
    let (u, v) = (by - from, to - by);
    // The chords turn by half of the included angle.
    let half = u.cross(v).atan2(u.dot(v));
    (0.5 * half).tan()
}
