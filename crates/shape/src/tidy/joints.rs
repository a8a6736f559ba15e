//! Corners and bows of all sides of a ring together, by damped least squares.

use super::samples::Samples;
use crate::exact::{ExactPoint, Segment};
use crate::{Point, Vector};

/// A side with the run of places that it stands for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Side {
    /// Where it starts; it ends where the next one starts.
    pub(super) from: Point,
    /// Its bow, as in [`ExactPoint`].
    pub(super) bulge: f64,
    pub(super) first: usize,
    pub(super) last: usize,
}

/// Side `k` as a segment.
pub(super) fn segment(sides: &[Side], k: usize) -> Segment {
    Segment {
        from: sides[k].from,
        to: sides[(k + 1) % sides.len()].from,
        bulge: sides[k].bulge,
    }
}

/// The sides as an exact ring's points.
pub(super) fn points(sides: &[Side]) -> Vec<ExactPoint> {
    let point = |s: &Side| ExactPoint {
        at: s.from,
        bulge: s.bulge,
    };
    sides.iter().map(point).collect()
}

/// Places of a run that are looked at.
const LOOKS: usize = 120;

const ROUNDS: usize = 10;

/// A joint this near to smooth is tried as smooth, radians.
const SMOOTH_RAD: f64 = 0.2;

/// How strongly a smooth joint is held smooth: a kink of 0.001 rad costs as much as 10 mm of side that
/// are 0.01 mm off.
const SMOOTH_WEIGHT: f64 = 1e3;

/// Some residuals' share of the normal equations; three numbers a side: x, y, bulge.
struct Block {
    vars: Vec<usize>,
    matrix: Vec<f64>,
    gradient: Vec<f64>,
}

impl Block {
    fn new(vars: Vec<usize>) -> Self {
        let n = vars.len();
        Self {
            vars,
            matrix: vec![0.0; n * n],
            gradient: vec![0.0; n],
        }
    }

    fn add(&mut self, slopes: &[f64], residual: f64, weight: f64) {
        let n = self.vars.len();
        for i in 0..n {
            self.gradient[i] += weight * slopes[i] * residual;
            for j in 0..n {
                self.matrix[i * n + j] += weight * slopes[i] * slopes[j];
            }
        }
    }
}

/// Joints (by the side that starts there) that are smooth or nearly so, with an arc on one side at least.
pub(super) fn nearly_smooth(sides: &[Side]) -> Vec<bool> {
    let m = sides.len();
    (0..m)
        .map(|k| {
            let arc = sides[k].bulge != 0.0 || sides[(k + m - 1) % m].bulge != 0.0;
            arc && kink_rad(sides, k).abs() < SMOOTH_RAD
        })
        .collect()
}

/// By what angle the ring turns at the start of side `k`, radians.
fn kink_rad(sides: &[Side], k: usize) -> f64 {
    let m = sides.len();
    let [_, end] = segment(sides, (k + m - 1) % m).directions();
    let [start, _] = segment(sides, k).directions();
    end.cross(start).atan2(end.dot(start))
}

/// Moves joints and bows to where the sides fit their runs best; joints marked smooth are held smooth.
pub(super) fn refine(samples: &Samples, sides: &mut [Side], smooth: &[bool]) {
    let m = sides.len();
    let step_mm = samples.length_mm / samples.len() as f64;
    let mut damping = 1e-3;
    let mut cost = total(samples, sides, smooth, step_mm);
    for _ in 0..ROUNDS {
        let blocks = blocks(samples, sides, smooth, step_mm);
        let change = solve(&blocks, 3 * m, damping);
        let mut moved = sides.to_vec();
        for k in 0..m {
            let by = Vector::new(change[3 * k], change[3 * k + 1]);
            moved[k].from = moved[k].from + by;
            if moved[k].bulge != 0.0 {
                moved[k].bulge += change[3 * k + 2];
            }
        }
        let usable = moved
            .iter()
            .all(|s| s.from.is_finite() && s.bulge.abs() < 10.0);
        let new = total(samples, &moved, smooth, step_mm);
        if usable && new < cost {
            let settled = cost - new < 1e-6 * cost;
            sides.copy_from_slice(&moved);
            cost = new;
            damping = (damping * 0.2).max(1e-9);
            if settled {
                break;
            }
        } else {
            damping *= 10.0;
        }
    }
}

/// Signed distance from the whole line or circle of a side, mm; positive on the left.
fn miss_mm(s: Segment, p: Point) -> f64 {
    match s.circle() {
        Some(c) => s.bulge.signum() * (c.radius_mm - c.centre.distance_mm(p)),
        None => {
            let u = s.to - s.from;
            u.cross(p - s.from) / u.length_mm().max(1e-9)
        }
    }
}

/// Weighted places of a side's run.
fn looks<'a>(samples: &'a Samples, side: &Side) -> impl Iterator<Item = (Point, f64)> + 'a {
    let (first, count) = (side.first, side.last - side.first);
    let steps = count.min(LOOKS);
    let weight = count as f64 / steps.max(1) as f64;
    let n = samples.len();
    (0..=steps).map(move |k| {
        let i = (first + k * count / steps.max(1)) % n;
        (samples.at[i], weight * samples.weight_mm[i])
    })
}

/// A joint is held near its own place a little: along smooth joints nothing else says where it lies.
const HOLD: f64 = 1e-3;

fn total(samples: &Samples, sides: &[Side], smooth: &[bool], step_mm: f64) -> f64 {
    (0..sides.len())
        .map(|k| {
            let s = segment(sides, k);
            let fit: f64 = looks(samples, &sides[k])
                .map(|(p, w)| w * miss_mm(s, p).powi(2))
                .sum();
            let held = s.from - samples.place(sides[k].first);
            let kink = if smooth[k] { kink_rad(sides, k) } else { 0.0 };
            fit + HOLD * step_mm * held.dot(held) + SMOOTH_WEIGHT * step_mm * kink * kink
        })
        .sum()
}

fn blocks(samples: &Samples, sides: &[Side], smooth: &[bool], step_mm: f64) -> Vec<Block> {
    let m = sides.len();
    let mut blocks = Vec::new();
    for k in 0..m {
        let (a, b) = (3 * k, 3 * ((k + 1) % m));
        let s = segment(sides, k);
        let mut block = Block::new(vec![a, a + 1, b, b + 1, a + 2]);
        let shifted = shifted_segments(s);
        for (p, w) in looks(samples, &sides[k]) {
            let here = miss_mm(s, p);
            let slopes = shifted.map(|t| t.map_or(0.0, |t| (miss_mm(t, p) - here) / SHIFT));
            block.add(&slopes, here, w);
        }
        blocks.push(block);
        let held = s.from - samples.place(sides[k].first);
        let mut block = Block::new(vec![a, a + 1]);
        block.add(&[1.0, 0.0], held.x, HOLD * step_mm);
        block.add(&[0.0, 1.0], held.y, HOLD * step_mm);
        blocks.push(block);
        if smooth[k] && m > 2 {
            blocks.push(kink_block(sides, k, step_mm));
        }
    }
    blocks
}

/// Step of the difference quotients: mm for places, none for bulges.
const SHIFT: f64 = 1e-6;

/// The segment with each of its five numbers shifted; a straight one keeps its bulge.
fn shifted_segments(s: Segment) -> [Option<Segment>; 5] {
    let by = Vector::new(SHIFT, 0.0);
    let up = Vector::new(0.0, SHIFT);
    [
        Some(Segment {
            from: s.from + by,
            ..s
        }),
        Some(Segment {
            from: s.from + up,
            ..s
        }),
        Some(Segment { to: s.to + by, ..s }),
        Some(Segment { to: s.to + up, ..s }),
        (s.bulge != 0.0).then_some(Segment {
            bulge: s.bulge + SHIFT,
            ..s
        }),
    ]
}

fn kink_block(sides: &[Side], k: usize, step_mm: f64) -> Block {
    let m = sides.len();
    let (before, after) = ((k + m - 1) % m, (k + 1) % m);
    let mut vars = Vec::new();
    for j in [before, k, after] {
        vars.extend([3 * j, 3 * j + 1]);
    }
    vars.extend([3 * before + 2, 3 * k + 2]);
    let here = kink_rad(sides, k);
    let mut moved = sides.to_vec();
    let slopes: Vec<f64> = vars
        .iter()
        .map(|&v| {
            let kept = moved[v / 3];
            let side = &mut moved[v / 3];
            match v % 3 {
                0 => side.from.x += SHIFT,
                1 => side.from.y += SHIFT,
                _ if side.bulge != 0.0 => side.bulge += SHIFT,
                _ => return 0.0,
            }
            let slope = (kink_rad(&moved, k) - here) / SHIFT;
            moved[v / 3] = kept;
            slope
        })
        .collect();
    let mut block = Block::new(vars);
    block.add(&slopes, here, SMOOTH_WEIGHT * step_mm);
    block
}

/// Steps of the conjugate gradients at most.
const MOST_STEPS: usize = 120;

/// The damped step, by conjugate gradients with the diagonal taken out.
fn solve(blocks: &[Block], n: usize, damping: f64) -> Vec<f64> {
    let (mut diagonal, mut right) = (vec![1e-12; n], vec![0.0; n]);
    for b in blocks {
        let size = b.vars.len();
        for (i, &v) in b.vars.iter().enumerate() {
            diagonal[v] += b.matrix[i * size + i];
            right[v] -= b.gradient[i];
        }
    }
    let times = |x: &[f64]| {
        let mut y: Vec<f64> = (0..n).map(|i| damping * diagonal[i] * x[i]).collect();
        for b in blocks {
            let size = b.vars.len();
            for (i, &v) in b.vars.iter().enumerate() {
                let row = &b.matrix[i * size..(i + 1) * size];
                y[v] += b.vars.iter().zip(row).map(|(&u, a)| a * x[u]).sum::<f64>();
            }
        }
        y
    };
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let mut x = vec![0.0; n];
    let mut r = right;
    let mut z: Vec<f64> = (0..n).map(|i| r[i] / diagonal[i]).collect();
    let mut p = z.clone();
    let mut rz = dot(&r, &z);
    let goal = 1e-20 * rz;
    // A joint feels its neighbours, not the far side of the ring: few steps do.
    for _ in 0..(2 * n + 20).min(MOST_STEPS) {
        if rz <= goal || rz.is_nan() {
            break;
        }
        let ap = times(&p);
        let alpha = rz / dot(&p, &ap);
        if !alpha.is_finite() {
            break;
        }
        for i in 0..n {
            x[i] += alpha * p[i];
            r[i] -= alpha * ap[i];
            z[i] = r[i] / diagonal[i];
        }
        let next = dot(&r, &z);
        for i in 0..n {
            p[i] = z[i] + next / rz * p[i];
        }
        rz = next;
    }
    x
}
