//! A ring as evenly weighted places, with sums from which lines and circles are fitted to any run.

use crate::{Point, Ring, Vector};

/// Places along a ring and running sums over two rounds of it, so that a run may cross the start.
pub(super) struct Samples {
    /// The places, all of the ring's points among them.
    pub(super) at: Vec<Point>,
    /// What length of the ring each stands for, mm.
    pub(super) weight_mm: Vec<f64>,
    /// Length of the ring, mm.
    pub(super) length_mm: f64,
    origin: Point,
    sums: Vec<Sums>,
}

/// Greatest distance between neighbouring places, mm.
const STEP_MM: f64 = 0.25;

/// Weighted sums of 1, x, y, x2, xy, y2, xz, yz, z2 with z = x2 + y2.
const TERMS: usize = 9;

#[derive(Clone, Copy)]
struct Sums {
    high: [f64; TERMS],
    /// What rounding took from `high`: a short run is the difference of two large sums.
    low: [f64; TERMS],
}

/// A line or circle fitted to a run of places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Fit {
    /// Through a place, along a direction of length 1.
    Line { through: Point, along: Vector },
    /// Centre and radius, mm.
    Circle { centre: Point, radius_mm: f64 },
}

impl Fit {
    /// Distance from the line or circle, mm; positive to the left of the line or inside the circle.
    pub(super) fn miss_mm(self, p: Point) -> f64 {
        match self {
            Self::Line { through, along } => along.cross(p - through),
            Self::Circle { centre, radius_mm } => radius_mm - centre.distance_mm(p),
        }
    }

    /// The place of the line or circle that is nearest to a point.
    pub(super) fn nearest(self, p: Point) -> Point {
        match self {
            Self::Line { through, along } => through + along * along.dot(p - through),
            Self::Circle { centre, radius_mm } => {
                let v = p - centre;
                let length = v.length_mm();
                if length > 0.0 {
                    centre + v * (radius_mm / length)
                } else {
                    p
                }
            }
        }
    }
}

impl Samples {
    pub(super) fn of(ring: &Ring) -> Self {
        let length_mm = ring.length_mm();
        let step = STEP_MM.min(length_mm / 400.0);
        let mut at = Vec::new();
        for (a, b) in ring.sides() {
            let n = (a.distance_mm(b) / step).ceil().max(1.0) as usize;
            at.extend((0..n).map(|k| a.lerp(b, k as f64 / n as f64)));
        }
        let n = at.len();
        let gap = |i: usize| at[i % n].distance_mm(at[(i + 1) % n]);
        let weight_mm: Vec<f64> = (0..n).map(|i| 0.5 * (gap(i) + gap(i + n - 1))).collect();
        let origin = ring.bounds().centre();
        let mut running = Sums {
            high: [0.0; TERMS],
            low: [0.0; TERMS],
        };
        let mut sums = vec![running];
        for i in 0..2 * n {
            let (p, w) = (at[i % n] - origin, weight_mm[i % n]);
            let z = p.dot(p);
            let terms = [
                1.0,
                p.x,
                p.y,
                p.x * p.x,
                p.x * p.y,
                p.y * p.y,
                p.x * z,
                p.y * z,
                z * z,
            ];
            for k in 0..TERMS {
                // Neumaier's sum.
                let (term, old) = (w * terms[k], running.high[k]);
                let new = old + term;
                running.low[k] += if old.abs() >= term.abs() {
                    (old - new) + term
                } else {
                    (term - new) + old
                };
                running.high[k] = new;
            }
            sums.push(running);
        }
        Self {
            at,
            weight_mm,
            length_mm,
            origin,
            sums,
        }
    }

    pub(super) fn len(&self) -> usize {
        self.at.len()
    }

    /// Place `i`, counted on beyond the ring's end.
    pub(super) fn place(&self, i: usize) -> Point {
        self.at[i % self.at.len()]
    }

    /// Sums over the places `first..=last`; `last` at most one round further.
    fn run(&self, first: usize, last: usize) -> [f64; TERMS] {
        let (a, b) = (&self.sums[first], &self.sums[last + 1]);
        std::array::from_fn(|k| (b.high[k] - a.high[k]) + (b.low[k] - a.low[k]))
    }

    /// Least-squares line through `first..=last`, and the root of its mean square miss, mm.
    pub(super) fn fit_line(&self, first: usize, last: usize) -> Option<(Fit, f64)> {
        let [w, sx, sy, sxx, sxy, syy, ..] = self.run(first, last);
        let (x, y) = (sx / w, sy / w);
        let (xx, xy, yy) = (sxx / w - x * x, sxy / w - x * y, syy / w - y * y);
        let (half_sum, half_difference) = (0.5 * (xx + yy), 0.5 * (xx - yy));
        let spread = half_difference.hypot(xy);
        let mean2 = (half_sum - spread).max(0.0);
        let angle = 0.5 * xy.atan2(half_difference);
        let mut along = Vector::new(angle.cos(), angle.sin());
        if along.dot(self.place(last) - self.place(first)) < 0.0 {
            along = -along;
        }
        let through = self.origin + Vector::new(x, y);
        (w > 0.0 && spread > 0.0).then_some((Fit::Line { through, along }, mean2.sqrt()))
    }

    /// Circle through `first..=last` by Taubin's method (G. Taubin 1991), solved by Newton's method on
    /// its characteristic polynomial.
    pub(super) fn fit_circle(&self, first: usize, last: usize) -> Option<Fit> {
        let [w, sx, sy, sxx, sxy, syy, sxz, syz, szz] = self.run(first, last);
        if w <= 0.0 {
            return None;
        }
        let (a, b) = (sx / w, sy / w);
        let [sxx, sxy, syy, sxz, syz, szz] = [sxx, sxy, syy, sxz, syz, szz].map(|s| s / w);
        // The same means about the run's own centroid.
        let (c, sz) = (a * a + b * b, sxx + syy);
        let (mxx, mxy, myy) = (sxx - a * a, sxy - a * b, syy - b * b);
        let mz = sz - c;
        let mxz = (sxz - 2.0 * a * sxx - 2.0 * b * sxy + c * a) - a * mz;
        let myz = (syz - 2.0 * a * sxy - 2.0 * b * syy + c * b) - b * mz;
        let mzz = szz - 4.0 * a * sxz - 4.0 * b * syz
            + 4.0 * (a * a * sxx + b * b * syy + 2.0 * a * b * sxy)
            + 2.0 * c * sz
            - 4.0 * c * c
            + c * c;
        let cov = mxx * myy - mxy * mxy;
        let var_z = mzz - mz * mz;
        let (a3, a2) = (4.0 * mz, -3.0 * mz * mz - mzz);
        let a1 = var_z * mz + 4.0 * cov * mz - mxz * mxz - myz * myz;
        let a0 = mxz * (mxz * myy - myz * mxy) + myz * (myz * mxx - mxz * mxy) - var_z * cov;
        let (mut x, mut y) = (0.0, a0);
        for _ in 0..50 {
            let slope = a1 + x * (2.0 * a2 + 3.0 * a3 * x);
            let next = x - y / slope;
            if next == x || !next.is_finite() {
                break;
            }
            let value = a0 + next * (a1 + next * (a2 + next * a3));
            if value.abs() >= y.abs() {
                break;
            }
            (x, y) = (next, value);
        }
        let determinant = x * x - x * mz + cov;
        let cx = (mxz * (myy - x) - myz * mxy) / determinant / 2.0;
        let cy = (myz * (mxx - x) - mxz * mxy) / determinant / 2.0;
        let radius_mm = (cx * cx + cy * cy + mz).sqrt();
        let centre = self.origin + Vector::new(a + cx, b + cy);
        (centre.is_finite() && radius_mm.is_finite()).then_some(Fit::Circle { centre, radius_mm })
    }
}
