//! Settling one outline on another: weighted least squares on the distances between their edges.

use super::{even_points, even_points_of};
use crate::{EdgeTree, Outline, Point, Pose, Ring, Vector};

/// An outline ready to be placed: its edge averaged, and points of that.
pub(super) struct Edge {
    pub(super) tree: EdgeTree,
    /// Centre of area: motions turn about it.
    pub(super) centre: Point,
    /// Greatest distance of its edge from there, mm.
    pub(super) radius_mm: f64,
    pub(super) coarse: Vec<Point>,
    pub(super) middle: Vec<Point>,
    pub(super) fine: Vec<Point>,
}

/// A turn about the part's centre, which then lies at `centre`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Motion {
    pub(super) turn_rad: f64,
    pub(super) centre: Point,
}

/// How a settling goes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stage {
    density: Density,
    /// Distances well beyond this have little say, mm: at first, and at last.
    from_mm: f64,
    to_mm: f64,
    rounds: usize,
}

#[derive(Debug, Clone, Copy)]
enum Density {
    Coarse,
    Middle,
    Fine,
}

impl Stage {
    /// From a start that may be off by centimetres.
    pub(super) const ROUGH: Self = Self {
        density: Density::Coarse,
        from_mm: 8.0,
        to_mm: 3.0,
        rounds: 5,
    };
    /// Among the best starts.
    pub(super) const BETTER: Self = Self {
        density: Density::Middle,
        from_mm: 3.0,
        to_mm: 0.5,
        rounds: 12,
    };
    /// To the last hundredth: what lies beyond the noise of both edges is let go. Zero stands for the
    /// noise itself.
    pub(super) const LOCKING: [Self; 2] = [
        Self {
            density: Density::Middle,
            from_mm: 1.0,
            to_mm: 0.2,
            rounds: 15,
        },
        Self {
            density: Density::Fine,
            from_mm: 0.3,
            to_mm: 0.0,
            rounds: 25,
        },
    ];
    /// Everything has its say.
    pub(super) const CENTRING: Self = Self {
        density: Density::Fine,
        from_mm: 50.0,
        to_mm: 50.0,
        rounds: 30,
    };
    /// Distances beyond this count as this much when placings are compared, mm.
    pub(super) const CHOOSING_MM: f64 = 1.5;
}

/// Weights are never cut sharper than for this noise, mm.
const LEAST_NOISE_MM: f64 = 0.005;

/// Edges are averaged along their length by a bell of this width (one sigma), mm: noise of single points
/// goes, and their normals become usable. Corners become round by it, in both outlines alike.
const BELL_MM: f64 = 0.4;

/// Distance between the points of an averaged edge, mm, and how many a ring may have.
const BELL_STEP_MM: f64 = 0.12;
const MOST_POINTS: f64 = 5_000.0;

/// A ring averaged along its length.
fn averaged(ring: &Ring) -> Ring {
    let length = ring.length_mm();
    let count = (length / BELL_STEP_MM).clamp(48.0, MOST_POINTS).ceil();
    let points = even_points_of(ring, count);
    let (n, step) = (points.len(), length / count);
    let sigma = BELL_MM.min(length / 24.0).max(0.5 * step);
    let reach = ((3.0 * sigma / step).ceil() as usize).min(n / 2);
    let weights: Vec<f64> = (0..=reach)
        .map(|k| (-0.5 * (k as f64 * step / sigma).powi(2)).exp())
        .collect();
    let total = 2.0 * weights.iter().sum::<f64>() - weights[0];
    let averaged = (0..n).map(|i| {
        // Relative to the point itself, so that far from the origin no digits go.
        let mut sum = Vector::default();
        for (k, w) in weights.iter().enumerate().skip(1) {
            let (next, before) = (points[(i + k) % n], points[(i + n - k) % n]);
            sum = sum + ((next - points[i]) + (before - points[i])) * *w;
        }
        points[i] + sum * (1.0 / total)
    });
    Ring::from_valid(averaged.collect())
}

impl Edge {
    pub(super) fn new(outline: &Outline) -> Self {
        let centre = outline.centroid();
        let radius = outline
            .outer()
            .points()
            .iter()
            .map(|p| p.distance_mm(centre));
        let rings: Vec<Ring> = outline.rings().map(averaged).collect();
        Self {
            radius_mm: radius.fold(0.0, f64::max),
            centre,
            coarse: even_points(&rings, 64),
            middle: even_points(&rings, 240),
            fine: even_points(&rings, 1_600),
            tree: EdgeTree::of_rings(rings),
        }
    }

    /// The motion as a pose that carries the outline's own coordinates.
    pub(super) fn pose(&self, motion: Motion, turn_deg: f64) -> Pose {
        Pose::bringing(self.centre, motion.centre, turn_deg)
    }

    fn points(&self, density: Density) -> &[Point] {
        match density {
            Density::Coarse => &self.coarse,
            Density::Middle => &self.middle,
            Density::Fine => &self.fine,
        }
    }
}

fn turned(v: Vector, (s, c): (f64, f64)) -> Vector {
    Vector::new(c * v.x - s * v.y, s * v.x + c * v.y)
}

/// A signed distance between the two edges, and how it changes with the motion (x, y, turn).
#[derive(Clone, Copy)]
struct Residual {
    miss_mm: f64,
    slope: [f64; 3],
}

/// Distances of the part's points from the place's edge, and of the place's points from the part's.
fn residuals(part: &Edge, place: &Edge, motion: Motion, density: Density) -> Vec<Residual> {
    let (s, c) = motion.turn_rad.sin_cos();
    let (mut last_there, mut last_back) = (None, None);
    let there = part.points(density).iter().filter_map(|&p| {
        let arm = turned(p - part.centre, (s, c));
        let near = (place.tree).nearest_after(motion.centre + arm, f64::INFINITY, last_there)?;
        last_there = Some(near);
        let n = near.outward;
        Some(Residual {
            miss_mm: near.signed_mm,
            slope: [n.x, n.y, n.dot(arm.turned_left())],
        })
    });
    let back = place.points(density).iter().filter_map(|&q| {
        let arm = q - motion.centre;
        let own = part.centre + turned(arm, (-s, c));
        let near = (part.tree).nearest_after(own, f64::INFINITY, last_back)?;
        last_back = Some(near);
        let n = turned(near.outward, (s, c));
        Some(Residual {
            miss_mm: near.signed_mm,
            slope: [-n.x, -n.y, -n.dot(arm.turned_left())],
        })
    });
    there.chain(back).collect()
}

/// Median of the distances' sizes as a standard deviation (of a normal distribution: 1.4826), mm.
fn noise_mm(residuals: &[Residual]) -> f64 {
    let mut sizes: Vec<f64> = residuals.iter().map(|r| r.miss_mm.abs()).collect();
    if sizes.is_empty() {
        return LEAST_NOISE_MM;
    }
    let middle = sizes.len() / 2;
    let (_, median, _) = sizes.select_nth_unstable_by(middle, f64::total_cmp);
    (1.4826 * *median).max(LEAST_NOISE_MM)
}

/// Geman and McClure's weight, which lets go of what is far off.
fn weight(miss_mm: f64, scale_mm: f64) -> f64 {
    let ratio = miss_mm / scale_mm;
    (1.0 + ratio * ratio).powi(-2)
}

/// Settles the part where it is, in rounds of weighted least squares.
pub(super) fn settle(part: &Edge, place: &Edge, motion: &mut Motion, stage: Stage) {
    let mut scale = stage.from_mm;
    let shrink = if stage.to_mm > 0.0 {
        (stage.to_mm / stage.from_mm).powf(1.0 / (stage.rounds as f64 - 1.0))
    } else {
        0.75
    };
    let radius = part.radius_mm.max(1e-6);
    for _ in 0..stage.rounds {
        let all = residuals(part, place, *motion, stage.density);
        let now = if stage.to_mm > 0.0 {
            scale
        } else {
            scale.max(4.0 * noise_mm(&all))
        };
        // The turn is scaled by the part's radius, so that all three numbers are mm.
        let (mut matrix, mut right) = ([[0.0; 3]; 3], [0.0; 3]);
        let mut sum = 0.0;
        for r in &all {
            let w = weight(r.miss_mm, now);
            let slope = [r.slope[0], r.slope[1], r.slope[2] / radius];
            sum += w;
            for i in 0..3 {
                right[i] -= w * slope[i] * r.miss_mm;
                for j in 0..3 {
                    matrix[i][j] += w * slope[i] * slope[j];
                }
            }
        }
        // A disc has no turn of its own: a little stiffness keeps it where it is.
        for (i, row) in matrix.iter_mut().enumerate() {
            row[i] += 1e-6 * sum + f64::MIN_POSITIVE;
        }
        let Some(step) = solved(matrix, right) else {
            return;
        };
        motion.centre = motion.centre + Vector::new(step[0], step[1]);
        // Far from home the first steps may want more than a linear model can say.
        motion.turn_rad += (step[2] / radius).clamp(-0.3, 0.3);
        scale *= shrink;
        let small = step.iter().all(|s| s.abs() < 1e-7);
        if small && scale <= now {
            break;
        }
    }
}

/// Solves three equations by Cramer's rule.
fn solved(m: [[f64; 3]; 3], r: [f64; 3]) -> Option<[f64; 3]> {
    let minor = |a: [f64; 3], b: [f64; 3], c: [f64; 3]| {
        a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    };
    let whole = minor(m[0], m[1], m[2]);
    let solution: [f64; 3] = std::array::from_fn(|k| {
        let mut n = m;
        for i in 0..3 {
            n[i][k] = r[i];
        }
        minor(n[0], n[1], n[2]) / whole
    });
    solution.iter().all(|s| s.is_finite()).then_some(solution)
}

/// Mean square of the distances between both edges, each counted as `cap_mm` at most, mm2.
pub(super) fn cost(part: &Edge, place: &Edge, motion: Motion, cap_mm: f64) -> f64 {
    mean_square(&residuals(part, place, motion, Density::Fine), cap_mm)
}

/// The same on few points.
pub(super) fn rough_cost(
    part: &Edge,
    place: &Edge,
    motion: Motion,
    middle: bool,
    cap_mm: f64,
) -> f64 {
    let density = if middle {
        Density::Middle
    } else {
        Density::Coarse
    };
    mean_square(&residuals(part, place, motion, density), cap_mm)
}

fn mean_square(all: &[Residual], cap_mm: f64) -> f64 {
    let sum: f64 = all
        .iter()
        .map(|r| r.miss_mm.abs().min(cap_mm).powi(2))
        .sum();
    sum / all.len().max(1) as f64
}

/// Share of both edges that lies within the noise of the other one.
pub(super) fn meeting_share(part: &Edge, place: &Edge, motion: Motion) -> f64 {
    meeting(part, place, motion).1
}

/// Root mean square distance of what meets, mm, and its share of both edges.
pub(super) fn meeting(part: &Edge, place: &Edge, motion: Motion) -> (f64, f64) {
    let all = residuals(part, place, motion, Density::Fine);
    // Edges that differ all over would make a wide noise of it; a measured edge is good to a tenth.
    let limit = (4.0 * noise_mm(&all)).clamp(0.05, 0.3);
    let met = || all.iter().filter(|r| r.miss_mm.abs() <= limit);
    let count = met().count();
    let sum: f64 = met().map(|r| r.miss_mm * r.miss_mm).sum();
    (
        (sum / count.max(1) as f64).sqrt(),
        count as f64 / all.len().max(1) as f64,
    )
}
