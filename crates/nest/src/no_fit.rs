//! Where two outlines lie on each other, and how far apart they must be moved.
//!
//! The no-fit region of two outlines a and b is the set of displacements of b's origin from a's at which their
//! material overlaps: the Minkowski sum of a and b mirrored through its origin. The distance of a displacement from
//! that region's edge is the clearance of the two outlines (outside), or the depth of their overlap: the length of
//! the shortest shift that parts them (inside). One look-up answers both, whatever the gap.

use crate::convex::{convex_pieces, convex_sum};
use shape::{Bounds, Outline, Point, Vector, convex_hull, edge_of_union};

/// One side of the region's edge, ready for distances: the region lies to its left.
#[derive(Debug, Clone, Copy)]
struct Side {
    from: Point,
    to: Point,
    /// Length 1.
    along: Vector,
    length_mm: f64,
}

/// How a place lies to a side.
#[derive(Debug, Clone, Copy)]
struct Offset {
    /// Square of the distance from the side's nearest place.
    distance2: f64,
    /// How far left of the side's line, mm.
    left_mm: f64,
}

/// A no-fit region with a grid over it: each cell lists the sides that can be nearest to a place in it.
#[derive(Debug)]
pub(crate) struct NoFit {
    low: Point,
    cells_per_mm: f64,
    nx: usize,
    ny: usize,
    /// Where each cell's list starts; a cell without sides is clear of the region by the gap all over.
    starts: Vec<u32>,
    list: Vec<u16>,
    sides: Vec<Side>,
    gap_mm: f64,
    /// Displacements at which the outlines touch at corners, the gap between them.
    touching: Vec<Point>,
}

/// How deep two outlines lie in each other (or in the gap that is to be kept).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Depth {
    /// Length of the shortest shift that parts them, mm; 0 where they are clear.
    pub(crate) mm: f64,
    /// Direction of that shift, length 1, for the second outline.
    pub(crate) out: Vector,
}

/// Cells along the longer side of the grid.
const MOST_CELLS: f64 = 40.0;
const LEAST_CELLS: f64 = 8.0;
/// Parts of a cell's side in which its list is made.
const PARTS: usize = 4;
/// Sides that one region may have; numbers of sides are kept in 16 bits.
const MOST_SIDES: usize = 60_000;
/// Squares of distances that differ by less than this share are equal: both sides end in the same corner.
const TIE: f64 = 1e-11;
/// Places that lie as far left of one side as right of the other, to this share, lie at a slit.
const SLIT: f64 = 1e-9;
/// What counts as touching rather than overlapping, mm: well above rounding, since pieces that fit each other exactly are
/// moved to the very edge of their region.
pub(crate) const CONTACT_MM: f64 = 1e-8;

/// A point that lies so near the line between its neighbours carries no shape, mm: well below what counts as contact.
const STRAIGHT_MM: f64 = 1e-9;

impl NoFit {
    /// The region of two outlines given as convex pieces, with the gap that is to be kept between them.
    pub(crate) fn of_pieces(a: &[Vec<Point>], b: &[Vec<Point>], gap_mm: f64) -> Self {
        let mirrored: Vec<Vec<Point>> = b
            .iter()
            .map(|p| p.iter().map(|p| Point::new(-p.x, -p.y)).collect())
            .collect();
        let sums: Vec<Vec<Point>> = a
            .iter()
            .flat_map(|p| mirrored.iter().map(move |q| convex_sum(p, q)))
            .collect();
        Self::new(united(sums), gap_mm)
    }

    fn new(rings: Vec<Vec<Point>>, gap_mm: f64) -> Self {
        let mut sides = Vec::new();
        let mut touching = Vec::new();
        for ring in &rings {
            let n = ring.len();
            for i in 0..n {
                let (before, at, after) = (ring[(i + n - 1) % n], ring[i], ring[(i + 1) % n]);
                let (u, v) = (at - before, after - at);
                let length_mm = v.length_mm();
                sides.push(Side {
                    from: at,
                    to: after,
                    along: v * (1.0 / length_mm),
                    length_mm,
                });
                let right = |w: Vector| -w.turned_left() * (1.0 / w.length_mm());
                let (p, q) = (right(u), right(v));
                // Where the two sides meet when both are moved out by the gap.
                let mitre = (p + q) * (1.0 / (1.0 + p.dot(q)).max(0.1));
                touching.push(at + mitre * gap_mm);
            }
        }
        sides.truncate(MOST_SIDES);
        let bounds = Bounds::around(rings.iter().flatten().copied())
            .unwrap_or(Bounds::between(Point::default(), Point::default()))
            .grown(gap_mm + CONTACT_MM);
        let long = bounds.width_mm().max(bounds.height_mm()).max(1e-9);
        let cells = (4.0 * (sides.len() as f64).sqrt()).clamp(LEAST_CELLS, MOST_CELLS);
        let cells_per_mm = cells / long;
        let count = |length: f64| ((length * cells_per_mm).ceil() as usize).max(1);
        let (nx, ny) = (count(bounds.width_mm()), count(bounds.height_mm()));
        let mut region = Self {
            low: bounds.min,
            cells_per_mm,
            nx,
            ny,
            starts: Vec::with_capacity(nx * ny + 1),
            list: Vec::new(),
            sides,
            gap_mm,
            touching,
        };
        region.fill_grid();
        region
    }

    fn fill_grid(&mut self) {
        let cell = 1.0 / self.cells_per_mm;
        let all: Vec<u16> = (0..self.sides.len()).map(|k| k as u16).collect();
        let (mut near, mut nearer, mut wanted) = (Vec::new(), Vec::new(), Vec::new());
        let mut distances = Vec::new();
        for j in 0..self.ny {
            for i in 0..self.nx {
                self.starts.push(self.list.len() as u32);
                let at = |share_x: f64, share_y: f64| {
                    Point::new(
                        self.low.x + (i as f64 + share_x) * cell,
                        self.low.y + (j as f64 + share_y) * cell,
                    )
                };
                if !self.can_be_nearest(at(0.5, 0.5), 0.5 * cell, &all, &mut near, &mut distances) {
                    continue;
                }
                // Looked at part by part, fewer sides are left.
                wanted.clear();
                for part in 0..PARTS * PARTS {
                    let share = |k: usize| (k as f64 + 0.5) / PARTS as f64;
                    let middle = at(share(part % PARTS), share(part / PARTS));
                    let half_mm = 0.5 * cell / PARTS as f64;
                    self.can_be_nearest(middle, half_mm, &near, &mut nearer, &mut distances);
                    wanted.extend_from_slice(&nearer);
                }
                wanted.sort_unstable();
                wanted.dedup();
                self.list.extend_from_slice(&wanted);
            }
        }
        self.starts.push(self.list.len() as u32);
    }

    /// Those of the listed sides that can be the nearest to a place in a square; false, and none, where all of it is clear.
    /// `distances` is room to work in.
    fn can_be_nearest(
        &self,
        centre: Point,
        half_mm: f64,
        of: &[u16],
        found: &mut Vec<u16>,
        distances: &mut Vec<f64>,
    ) -> bool {
        let half_diagonal = half_mm * std::f64::consts::SQRT_2 * 1.000_001;
        let distance = |&k: &u16| self.sides[usize::from(k)].offset(centre).distance2.sqrt();
        distances.clear();
        distances.extend(of.iter().map(distance));
        let least = distances.iter().copied().fold(f64::INFINITY, f64::min);
        found.clear();
        if least > self.gap_mm + half_diagonal
            && self.nearest(centre, of).is_some_and(|n| n.signed_mm > 0.0)
        {
            return false;
        }
        let reach = least + 2.0 * half_diagonal;
        let within = of
            .iter()
            .zip(distances.iter())
            .filter(|(_, d)| **d <= reach);
        found.extend(within.map(|(k, _)| *k));
        true
    }

    /// How deep the two outlines lie in each other where the second is displaced by `d` from the first.
    #[inline]
    pub(crate) fn depth(&self, d: Point) -> Depth {
        let clear = Depth {
            mm: 0.0,
            out: Vector { x: 0.0, y: 0.0 },
        };
        let (x, y) = (
            (d.x - self.low.x) * self.cells_per_mm,
            (d.y - self.low.y) * self.cells_per_mm,
        );
        // Written so that what is no number is clear too.
        if !(x >= 0.0 && y >= 0.0) {
            return clear;
        }
        let (i, j) = (x as usize, y as usize);
        if i >= self.nx || j >= self.ny {
            return clear;
        }
        let cell = j * self.nx + i;
        let list = &self.list[self.starts[cell] as usize..self.starts[cell + 1] as usize];
        let Some(near) = self.nearest(d, list) else {
            return clear;
        };
        let mm = self.gap_mm - near.signed_mm;
        if mm > CONTACT_MM {
            Depth { mm, out: near.out }
        } else {
            clear
        }
    }

    #[inline]
    fn nearest(&self, p: Point, list: &[u16]) -> Option<Near> {
        let mut best = Offset {
            distance2: f64::INFINITY,
            left_mm: 0.0,
        };
        let mut nearest = None;
        for &k in list {
            let side = &self.sides[usize::from(k)];
            let offset = side.offset(p);
            if offset.distance2 > best.distance2 * (1.0 + TIE) {
                continue;
            }
            let nearer = offset.distance2 < best.distance2 * (1.0 - TIE);
            let (left_mm, best_mm) = (offset.left_mm, best.left_mm);
            // Both sides of a slit that rounding left: where a piece fits a slot exactly, the region has a slit as wide as
            // nothing, and beside it lies the region, whichever of its sides is asked.
            let slit = !nearer && (left_mm + best_mm).abs() <= SLIT * left_mm.abs();
            let tells = if slit {
                left_mm > 0.0
            } else {
                // Of two sides that share the nearest corner, the one that the place lies farther across tells on
                // which side of the edge it is.
                left_mm.abs() > best_mm.abs()
            };
            if nearer || tells {
                (best, nearest) = (offset, Some(side));
            }
        }
        let side = nearest?;
        let distance = best.distance2.sqrt();
        let signed_mm = if best.left_mm < 0.0 {
            distance
        } else {
            -distance
        };
        // On the edge itself the difference has no direction of its own.
        let out = if distance > 1e-7 {
            side.way_to(p) * (1.0 / signed_mm)
        } else {
            -side.along.turned_left()
        };
        Some(Near { signed_mm, out })
    }

    /// Displacements at which the outlines touch with a corner of the region.
    pub(crate) fn touching(&self) -> &[Point] {
        &self.touching
    }

    #[cfg(test)]
    fn area_mm2(&self) -> f64 {
        self.sides
            .iter()
            .map(|s| 0.5 * (s.from - Point::default()).cross(s.along) * s.length_mm)
            .sum()
    }
}

struct Near {
    /// Distance from the edge, mm; negative in the region.
    signed_mm: f64,
    /// The way out, length 1.
    out: Vector,
}

impl Side {
    /// The distance from an end comes from that end's place alone, so that two sides tell the same of a corner they share.
    #[inline]
    fn offset(&self, p: Point) -> Offset {
        let (w, end) = (p - self.from, p - self.to);
        let (along_mm, left_mm) = (self.along.dot(w), self.along.cross(w));
        let distance2 = if along_mm <= 0.0 {
            w.dot(w)
        } else if along_mm >= self.length_mm {
            end.dot(end)
        } else {
            left_mm * left_mm
        };
        Offset { distance2, left_mm }
    }

    /// From the nearest place of the side to the point.
    #[inline]
    fn way_to(&self, p: Point) -> Vector {
        let w = p - self.from;
        let along_mm = self.along.dot(w);
        if along_mm <= 0.0 {
            w
        } else if along_mm >= self.length_mm {
            p - self.to
        } else {
            let left = self.along.turned_left();
            left * left.dot(w)
        }
    }
}

/// The union of convex polygons as rings, material to the left of each.
fn united(sums: Vec<Vec<Point>>) -> Vec<Vec<Point>> {
    if sums.len() == 1 {
        return sums;
    }
    let mut rings = edge_of_union(&sums);
    rings.iter_mut().for_each(straighten);
    let around = |r: &[Vec<Point>]| Bounds::around(r.iter().flatten().copied());
    let (Some(asked), got) = (around(&sums), around(&rings)) else {
        return rings;
    };
    let slack = 1e-6 * asked.width_mm().max(asked.height_mm());
    if got.is_some_and(|g| g.grown(slack).holds(asked)) {
        rings
    } else {
        // What stands for a region where rounding spoilt the union: it holds it, so that nothing is taken for clear that is
        // not.
        vec![convex_hull(sums.into_iter().flatten().collect(), 0.0)]
    }
}

/// Takes out the points of a ring that lie on the straight line between their neighbours, or on the one before them.
fn straighten(ring: &mut Vec<Point>) {
    ring.dedup_by(|b, a| a.distance_mm(*b) < STRAIGHT_MM);
    // A point that stands for the last one too would take the whole corner with it.
    while ring.len() > 1 && ring[0].distance_mm(ring[ring.len() - 1]) < STRAIGHT_MM {
        ring.pop();
    }
    let mut kept: Vec<Point> = Vec::with_capacity(ring.len());
    for (k, &at) in ring.iter().enumerate() {
        let before = kept.last().copied().unwrap_or(ring[ring.len() - 1]);
        let after = ring[(k + 1) % ring.len()];
        let base = after - before;
        let bend = base.cross(at - before).abs();
        // Not where the ring turns back, either.
        let between = (at - before).dot(after - at) > 0.0;
        if !(between && bend <= STRAIGHT_MM * base.length_mm()) {
            kept.push(at);
        }
    }
    if kept.len() > 2 {
        *ring = kept;
    }
}

/// The region of two outlines.
#[cfg(test)]
pub(crate) fn no_fit(a: &Outline, b: &Outline, gap_mm: f64) -> NoFit {
    NoFit::of_pieces(&convex_pieces(a), &convex_pieces(b), gap_mm)
}

/// An outline's convex pieces, for many regions.
pub(crate) fn pieces(outline: &Outline) -> Vec<Vec<Point>> {
    convex_pieces(outline)
}

#[cfg(test)]
mod tests;
