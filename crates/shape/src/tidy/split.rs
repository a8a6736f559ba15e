//! Which runs of a ring become one side each: the cheapest split by dynamic programming.

use super::samples::{Fit, Samples};
use std::f64::consts::PI;

/// What one side costs. An arc has one number more than a line (two of its start, one of its bow); a
/// third of what a misfit at the whole tolerance would cost keeps flat bows straight.
const LINE_COST: f64 = 2.0;
const ARC_COST: f64 = 3.0;
const MISFIT_COST: f64 = 2.0;

/// A place may miss its side by this share of the tolerance at most; the rest is for what the joints move.
const MISS_SHARE: f64 = 0.95;

/// A run that no side fits still costs something, so that a split exists always.
const MISFIT_RUN_COST: f64 = 50.0;

/// The included angle of an arc at most: beyond it both ends come near each other and say little of the
/// circle.
const MAX_ARC_RAD: f64 = 1.5 * PI;

/// Places of a run that are looked at.
const LOOKS: usize = 48;

/// Joints are looked for at this many places of a ring at most.
const MAX_CANDIDATES: usize = 420;

/// A side fitted to the places `first..=last` (beyond the ring's end counted on).
#[derive(Debug, Clone, Copy)]
pub(super) struct Run {
    pub(super) first: usize,
    pub(super) last: usize,
    pub(super) fit: Fit,
    /// Included angle of the arc, radians, positive counter-clockwise; 0 for a line.
    pub(super) angle_rad: f64,
}

/// Splits a ring into the runs of fewest sides.
pub(super) fn split(samples: &Samples, tolerance_mm: f64) -> Vec<Run> {
    let candidates = candidates(samples);
    let mut costs = Costs {
        samples,
        candidates: &candidates,
        tolerance_mm,
        rows: vec![None; candidates.len()],
    };
    // Any start may lie amid a side. The joint that lies farthest from it in the first answer is a
    // better one.
    let first = cheapest(&mut costs, 0);
    let m = candidates.len();
    let start = first
        .iter()
        .copied()
        .min_by_key(|&j| (2 * j).abs_diff(m))
        .unwrap_or(0);
    let joints = cheapest(&mut costs, start % m);
    let mut breaks: Vec<usize> = joints.iter().map(|&j| candidates[j % m]).collect();
    settle(samples, &mut breaks, tolerance_mm);
    (0..breaks.len())
        .map(|k| {
            let (first, next) = (breaks[k], breaks[(k + 1) % breaks.len()]);
            let last = if next > first {
                next
            } else {
                next + samples.len()
            };
            best_run(samples, first, last, tolerance_mm).run
        })
        .collect()
}

/// A side for a run that was cut out of another one.
pub(super) fn run_between(samples: &Samples, first: usize, last: usize, tolerance_mm: f64) -> Run {
    best_run(samples, first, last, tolerance_mm).run
}

/// Places where a joint may be: those where a chain of straight lines would bend most.
fn candidates(samples: &Samples) -> Vec<usize> {
    let n = samples.len();
    let mut weight = vec![0.0; n];
    let far = (0..n)
        .max_by(|&i, &j| {
            let d = |i: usize| samples.at[i].distance_mm(samples.at[0]);
            d(i).total_cmp(&d(j)).then(j.cmp(&i))
        })
        .unwrap_or(0);
    weight[0] = f64::INFINITY;
    weight[far] = f64::INFINITY;
    // Douglas and Peucker's halving, down to single places; a place weighs what it was off its chord,
    // and never more than the one that it was found under.
    let mut stack = vec![(0, far, f64::INFINITY), (far, n, f64::INFINITY)];
    while let Some((i, j, limit)) = stack.pop() {
        let (a, b) = (samples.place(i), samples.place(j));
        let mut best = (0.0, i);
        for k in i + 1..j {
            let p = samples.place(k);
            let off = p.distance_mm(p.nearest_on_segment(a, b));
            if off > best.0 {
                best = (off, k);
            }
        }
        let (off, k) = best;
        if k > i && off > 1e-9 {
            weight[k] = off.min(limit);
            stack.push((i, k, weight[k]));
            stack.push((k, j, weight[k]));
        }
    }
    let mut order: Vec<usize> = (0..n).filter(|&i| weight[i] > 0.0).collect();
    order.sort_by(|&i, &j| weight[j].total_cmp(&weight[i]).then(i.cmp(&j)));
    order.truncate(MAX_CANDIDATES - 24);
    // A circle bends nowhere more than elsewhere, and a plate of four corners needs no more.
    order.extend((0..24).map(|k| k * n / 24));
    order.sort_unstable();
    order.dedup();
    order
}

/// Cost of each run between candidates, found when asked for.
struct Costs<'a> {
    samples: &'a Samples,
    candidates: &'a [usize],
    tolerance_mm: f64,
    /// Per first candidate: cost of the run to the next, to the one after it, …
    rows: Vec<Option<Vec<f64>>>,
}

impl Costs<'_> {
    fn row(&mut self, i: usize) -> &[f64] {
        let (samples, candidates, tolerance) = (self.samples, self.candidates, self.tolerance_mm);
        self.rows[i].get_or_insert_with(|| {
            let (m, n) = (candidates.len(), samples.len());
            let first = candidates[i];
            let mut row = Vec::new();
            let mut hopeless = 0;
            for step in 1..m {
                let last = candidates[(i + step) % m] + if i + step >= m { n } else { 0 };
                // No side runs more than two thirds round its ring.
                if step > 1 && 3 * (last - first) > 2 * n {
                    break;
                }
                let cost = best_run(samples, first, last, tolerance).cost;
                // What does not fit by far will not fit when it grows.
                hopeless = if cost >= MISFIT_RUN_COST {
                    hopeless + 1
                } else {
                    0
                };
                if step > 1 && cost >= MISFIT_RUN_COST {
                    row.push(f64::INFINITY);
                } else {
                    row.push(cost);
                }
                if hopeless > 12 {
                    break;
                }
            }
            row
        })
    }
}

/// The joints of the cheapest split that has one at candidate `start`, counted on from there.
fn cheapest(costs: &mut Costs<'_>, start: usize) -> Vec<usize> {
    let m = costs.candidates.len();
    let mut best = vec![(f64::INFINITY, 0usize); m + 1];
    best[0].0 = 0.0;
    for i in 0..m {
        let so_far = best[i].0;
        let row = costs.row((start + i) % m);
        for (k, cost) in row.iter().enumerate() {
            let j = i + k + 1;
            if j > m {
                break;
            }
            if so_far + cost < best[j].0 {
                best[j] = (so_far + cost, i);
            }
        }
    }
    let mut joints = Vec::new();
    let mut at = m;
    while at > 0 {
        at = best[at].1;
        joints.push(start + at);
    }
    joints.reverse();
    joints
}

/// The better of line and arc on a run.
struct Best {
    cost: f64,
    /// Mean square miss, mm2.
    mean2: f64,
    run: Run,
}

/// The cheaper of line and arc on a run.
fn best_run(samples: &Samples, first: usize, last: usize, tolerance_mm: f64) -> Best {
    let limit = MISS_SHARE * tolerance_mm;
    let per_mean2 = MISFIT_COST / (tolerance_mm * tolerance_mm);
    let straight = Run {
        first,
        last,
        fit: Fit::Line {
            through: samples.place(first),
            along: crate::Vector::new(1.0, 0.0),
        },
        angle_rad: 0.0,
    };
    let mut best = Best {
        cost: MISFIT_RUN_COST,
        mean2: 0.0,
        run: straight,
    };
    if let Some((fit, mean)) = samples.fit_line(first, last) {
        best.run.fit = fit;
        if mean <= limit && line_holds(samples, first, last, fit, limit) {
            best.mean2 = mean * mean;
            best.cost = LINE_COST + per_mean2 * best.mean2;
        }
    }
    if last - first >= 3 && best.cost > ARC_COST {
        let held = samples
            .fit_circle(first, last)
            .and_then(|fit| Some((fit, arc_holds(samples, first, last, fit, limit)?)));
        if let Some((fit, (mean2, angle_rad))) = held {
            let cost = ARC_COST + per_mean2 * mean2;
            if cost < best.cost {
                let run = Run {
                    first,
                    last,
                    fit,
                    angle_rad,
                };
                best = Best { cost, mean2, run };
            }
        }
    }
    best
}

/// Up to [`LOOKS`] places of a run, both ends among them.
fn looks(first: usize, last: usize) -> impl Iterator<Item = usize> {
    let steps = (last - first).min(LOOKS);
    (0..=steps).map(move |k| first + k * (last - first) / steps.max(1))
}

/// Every place lies within the limit of the line, and the run goes forward along it.
fn line_holds(samples: &Samples, first: usize, last: usize, fit: Fit, limit: f64) -> bool {
    let Fit::Line { through, along } = fit else {
        return false;
    };
    let mut front = f64::NEG_INFINITY;
    let near = |i: usize| fit.miss_mm(samples.place(i)).abs() <= limit;
    looks(first, last).all(near)
        && (first..=last).all(|i| {
            let ahead = along.dot(samples.place(i) - through);
            front = front.max(ahead);
            near(i) && ahead >= front - 2.0 * limit
        })
}

/// Every place lies within the limit of the circle and the run goes forward round it: its mean square
/// miss, mm2, and the angle that it turns through, radians.
fn arc_holds(
    samples: &Samples,
    first: usize,
    last: usize,
    fit: Fit,
    limit: f64,
) -> Option<(f64, f64)> {
    let Fit::Circle { centre, radius_mm } = fit else {
        return None;
    };
    if radius_mm < 2.0 * limit {
        return None;
    }
    let back = 2.0 * limit / radius_mm;
    let (mut angle, mut least, mut most): (f64, f64, f64) = (0.0, 0.0, 0.0);
    let (mut fell, mut rose): (f64, f64) = (0.0, 0.0);
    let (mut sum, mut count) = (0.0, 0.0);
    let mut before: Option<crate::Vector> = None;
    for i in looks(first, last) {
        let p = samples.place(i);
        let v = p - centre;
        let miss = v.length_mm() - radius_mm;
        if miss.abs() > limit {
            return None;
        }
        sum += miss * miss;
        count += 1.0;
        if let Some(u) = before {
            angle += u.cross(v).atan2(u.dot(v));
        }
        before = Some(v);
        least = least.min(angle);
        most = most.max(angle);
        fell = fell.max(most - angle);
        rose = rose.max(angle - least);
        if fell > back && rose > back {
            return None;
        }
    }
    let near = |i: usize| fit.miss_mm(samples.place(i)).abs() <= limit;
    (angle.abs() <= MAX_ARC_RAD && angle != 0.0 && (first..=last).all(near))
        .then_some((sum / count, angle))
}

/// Moves each joint to the place, between its neighbours, where both runs fit best together.
fn settle(samples: &Samples, breaks: &mut [usize], tolerance_mm: f64) {
    let (n, m) = (samples.len(), breaks.len());
    if m < 3 {
        return;
    }
    let per_mean2 = MISFIT_COST / (tolerance_mm * tolerance_mm);
    for _round in 0..2 {
        for k in 0..m {
            // Counted so that the joint before is the least of the three.
            let before = breaks[(k + m - 1) % m] % n;
            let on = |i: usize| if i % n <= before { i % n + n } else { i % n };
            let here = on(breaks[k]);
            let after = on(breaks[(k + 1) % m]);
            if after <= here || after - before > n {
                continue;
            }
            let cost = |at: usize| {
                let a = best_run(samples, before, at, tolerance_mm);
                let back = if at >= n { n } else { 0 };
                let b = best_run(samples, at - back, after - back, tolerance_mm);
                // The misfits count by the length that they run along.
                let kinds = |best: &Best| best.cost - per_mean2 * best.mean2;
                let share = (at - before) as f64 / (after - before) as f64;
                let mean2 = a.mean2 * share + b.mean2 * (1.0 - share);
                kinds(&a) + kinds(&b) + per_mean2 * mean2
            };
            let reach = 1 + (after - before) / 16;
            let stride = 1 + reach / 8;
            let mut best = (cost(here), here);
            let mut at = here.saturating_sub(reach).max(before + 1);
            while at < after && at <= here + reach {
                let c = cost(at);
                if c < best.0 - 1e-12 {
                    best = (c, at);
                }
                at += stride;
            }
            breaks[k] = best.1 % n;
        }
    }
}
