//! Distance from points and lines to an outline's edge.

use crate::{Bounds, EdgeTree, Point, Vector};

/// The place of an outline's edge that is nearest to a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// That place.
    pub at: Point,
    /// Distance from the point, mm: negative where the point lies in the material.
    pub signed_mm: f64,
    /// Direction in which the signed distance grows at the point, of length 1.
    pub outward: Vector,
    side: usize,
}

impl EdgeTree {
    /// The nearest place of the edge; `None` where it is `cap_mm` away or more.
    pub fn nearest(&self, p: Point, cap_mm: f64) -> Option<Nearest> {
        self.nearest_after(p, cap_mm, None)
    }

    /// The same, found sooner where what is nearest to a place close by is known.
    pub(crate) fn nearest_after(
        &self,
        p: Point,
        cap_mm: f64,
        close_by: Option<Nearest>,
    ) -> Option<Nearest> {
        let mut best = Candidate {
            distance2: cap_mm * cap_mm,
            across: 0.0,
            at: p,
            side: usize::MAX,
        };
        if let Some(Nearest { side, .. }) = close_by {
            best.take_nearer(p, self.sides[side], side);
        }
        let mut stack = Vec::with_capacity(32);
        stack.push((0usize, 0.0));
        while let Some((i, near2)) = stack.pop() {
            if near2 > best.distance2 {
                continue;
            }
            let node = self.nodes[i];
            if node.right == 0 {
                for k in node.first..node.last {
                    best.take_nearer(p, self.sides[k], k);
                }
                continue;
            }
            let [a, b] = [i + 1, node.right].map(|k| (k, point_box2(p, self.nodes[k].bounds)));
            let (first, then) = if a.1 <= b.1 { (a, b) } else { (b, a) };
            stack.push(then);
            stack.push(first);
        }
        if best.side == usize::MAX {
            return None;
        }
        let (a, b) = self.sides[best.side];
        let along = b - a;
        let right = -along.turned_left() * (1.0 / along.length_mm().max(f64::MIN_POSITIVE));
        // The material lies to the left of every side.
        let outside = right.dot(p - best.at) > 0.0;
        let distance = best.distance2.sqrt();
        let sign = if outside { 1.0 } else { -1.0 };
        let away = (p - best.at) * (sign / distance.max(f64::MIN_POSITIVE));
        // Within rounding of the edge the difference has no direction of its own.
        let outward = if distance > 1e-6 { away } else { right };
        Some(Nearest {
            at: best.at,
            signed_mm: sign * distance,
            outward,
            side: best.side,
        })
    }

    /// Signed distance to the edge, mm: negative in the material.
    pub fn signed_distance_mm(&self, p: Point) -> f64 {
        self.nearest(p, f64::INFINITY)
            .map_or(f64::INFINITY, |n| n.signed_mm)
    }
}

struct Candidate {
    distance2: f64,
    /// Distance from the side's own line: of two sides that share the nearest corner, the one that the
    /// point lies farther across tells on which side of the edge it is.
    across: f64,
    at: Point,
    side: usize,
}

impl Candidate {
    fn take_nearer(&mut self, p: Point, (a, b): (Point, Point), side: usize) {
        let (u, w) = (b - a, p - a);
        let length2 = u.dot(u);
        // Two sides answer a shared corner with the same bits.
        let at = p.nearest_on_segment(a, b);
        let miss = p - at;
        let distance2 = miss.dot(miss);
        let across = (u.cross(w) / length2.sqrt()).abs();
        if distance2 < self.distance2 || (distance2 == self.distance2 && across > self.across) {
            *self = Self {
                distance2,
                across,
                at,
                side,
            };
        }
    }
}

fn point_box2(p: Point, b: Bounds) -> f64 {
    let dx = (b.min.x - p.x).max(p.x - b.max.x).max(0.0);
    let dy = (b.min.y - p.y).max(p.y - b.max.y).max(0.0);
    dx * dx + dy * dy
}

/// How much the answer of [`farthest_mm`] may be too large, mm.
const SEARCH_MM: f64 = 0.0005;

/// The greatest distance that any place of the lines has from the tree's edge, mm: never too small, and
/// at most 0.0005 mm too large.
///
/// Branch and bound: along a piece of line the distance to the edge is at most the distance to one of
/// its sides, which is convex, and it changes by no more than the way along.
pub(crate) fn farthest_mm(lines: impl Iterator<Item = (Point, Point)>, tree: &EdgeTree) -> f64 {
    let near = |p: Point| tree.nearest(p, f64::INFINITY);
    let mut best: f64 = 0.0;
    for (a, b) in lines {
        let (Some(near_a), Some(near_b)) = (near(a), near(b)) else {
            return f64::INFINITY;
        };
        best = best.max(near_a.signed_mm.abs()).max(near_b.signed_mm.abs());
        let mut stack = vec![((a, near_a), (b, near_b))];
        while let Some(((p, near_p), (q, near_q))) = stack.pop() {
            let (dp, dq) = (near_p.signed_mm.abs(), near_q.signed_mm.abs());
            let by_length = 0.5 * (dp + dq + p.distance_mm(q));
            let by_sides = tree
                .side_distance_mm(near_p.side, q)
                .max(dp)
                .min(tree.side_distance_mm(near_q.side, p).max(dq));
            if by_length.min(by_sides) <= best + SEARCH_MM {
                continue;
            }
            let middle = p.lerp(q, 0.5);
            let Some(near_middle) = near(middle) else {
                return f64::INFINITY;
            };
            best = best.max(near_middle.signed_mm.abs());
            stack.push(((p, near_p), (middle, near_middle)));
            stack.push(((middle, near_middle), (q, near_q)));
        }
    }
    best + SEARCH_MM
}

impl EdgeTree {
    fn side_distance_mm(&self, side: usize, p: Point) -> f64 {
        let mut one = Candidate {
            distance2: f64::INFINITY,
            across: 0.0,
            at: p,
            side,
        };
        one.take_nearer(p, self.sides[side], side);
        one.distance2.sqrt()
    }
}
