//! Closed rings of points, checked at construction.

use crate::{Bounds, Point};

/// More points than any outline of a hand-sized part needs at a chord error of 0.005 mm; a document
/// that asks for more is refused before work is spent on it.
pub const MAX_POINTS_PER_RING: usize = 20_000;

/// Two points nearer than this are one, mm.
const SAME_POINT_MM: f64 = 1e-9;

/// A simple closed ring: at least three distinct finite points, no crossing, some area.
///
/// Open form: the first point is not repeated at the end. Either direction is kept as given.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    points: Vec<Point>,
}

/// Why points do not make a ring. Indices count from 0 in the points as given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RingError {
    /// Fewer than three distinct points.
    #[error("needs three distinct points or more, has {found}")]
    TooFewPoints {
        /// Distinct points found.
        found: usize,
    },
    /// More points than [`MAX_POINTS_PER_RING`].
    #[error("has {found} points, the limit is {MAX_POINTS_PER_RING}; simplify it to 0.005 mm")]
    TooManyPoints {
        /// Points found.
        found: usize,
    },
    /// A coordinate that is NaN or infinite, or beyond 100 m.
    #[error("point {index} is not a usable number")]
    NotFinite {
        /// Which point.
        index: usize,
    },
    /// The enclosed area is nothing.
    #[error("encloses no area")]
    NoArea,
    /// Two sides of the ring cross or touch.
    #[error("crosses or touches itself at ({:.3}, {:.3}) mm", .at.x, .at.y)]
    CrossesItself {
        /// Where, mm.
        at: Point,
    },
}

impl Ring {
    /// Checks points and makes a ring of them. Repeated neighbours (and a repeated first point at the
    /// end) are dropped.
    ///
    /// # Errors
    /// Any [`RingError`]; the first that is found.
    pub fn try_new(points: Vec<Point>) -> Result<Self, RingError> {
        if points.len() > MAX_POINTS_PER_RING {
            return Err(RingError::TooManyPoints {
                found: points.len(),
            });
        }
        Self::of_any_length(points)
    }

    /// The same without a limit on the number of points: for rings that were worked out of valid ones. An offset of a
    /// legal ring has more points than the ring.
    pub(crate) fn of_any_length(points: Vec<Point>) -> Result<Self, RingError> {
        if let Some(index) = points
            .iter()
            .position(|p| !p.is_finite() || p.x.abs() > 1e5 || p.y.abs() > 1e5)
        {
            return Err(RingError::NotFinite { index });
        }
        let mut kept: Vec<Point> = Vec::with_capacity(points.len());
        for p in points {
            if kept
                .last()
                .is_none_or(|q| p.distance_mm(*q) > SAME_POINT_MM)
            {
                kept.push(p);
            }
        }
        while kept.len() > 1 && kept[0].distance_mm(kept[kept.len() - 1]) <= SAME_POINT_MM {
            kept.pop();
        }
        if kept.len() < 3 {
            return Err(RingError::TooFewPoints { found: kept.len() });
        }
        let ring = Self { points: kept };
        if ring.signed_area_mm2().abs() < 1e-9 {
            return Err(RingError::NoArea);
        }
        match find_crossing(&[&ring.points]) {
            Some(at) => Err(RingError::CrossesItself { at }),
            None => Ok(ring),
        }
    }

    /// A ring from points that are known to be good: made from a valid ring by a rigid motion.
    pub(crate) fn from_valid(points: Vec<Point>) -> Self {
        Self { points }
    }

    /// The points, first not repeated.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// The sides, each from one point to the next, the last back to the first.
    pub fn sides(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        let n = self.points.len();
        (0..n).map(move |i| (self.points[i], self.points[(i + 1) % n]))
    }

    /// Enclosed area, mm2: positive where the ring runs counter-clockwise.
    pub fn signed_area_mm2(&self) -> f64 {
        // Relative to the first point: far from the origin the plain shoelace loses digits.
        let o = self.points[0];
        0.5 * self.sides().map(|(a, b)| (a - o).cross(b - o)).sum::<f64>()
    }

    /// Length of the ring, mm.
    pub fn length_mm(&self) -> f64 {
        self.sides().map(|(a, b)| a.distance_mm(b)).sum()
    }

    /// The ring's bounding box.
    pub fn bounds(&self) -> Bounds {
        Bounds::around(self.points.iter().copied()).unwrap_or(Bounds {
            min: Point::default(),
            max: Point::default(),
        })
    }

    /// The place of the ring's sides that is nearest to a point; the first of several. Looks at every side: for many points
    /// there is [`crate::EdgeTree`].
    pub fn nearest(&self, p: Point) -> Point {
        let start = self.points[0];
        self.sides()
            .map(|(a, b)| p.nearest_on_segment(a, b))
            .fold(start, |best, at| {
                if p.distance_mm(at) < p.distance_mm(best) {
                    at
                } else {
                    best
                }
            })
    }

    /// The point lies inside (crossing number; on the edge is either).
    pub fn contains(&self, p: Point) -> bool {
        let mut inside = false;
        for (a, b) in self.sides() {
            if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
                inside = !inside;
            }
        }
        inside
    }

    pub(crate) fn counter_clockwise(mut self, ccw: bool) -> Self {
        if (self.signed_area_mm2() > 0.0) != ccw {
            self.points.reverse();
        }
        self
    }
}

/// A place where two sides of the rings cross or touch, neighbours in one ring excepted.
///
/// Sweep over x with sides sorted by their left end: fine for outlines, whose sides are short against
/// their extent.
pub(crate) fn find_crossing(rings: &[&[Point]]) -> Option<Point> {
    find_crossings(rings, 1).first().map(|c| c.at)
}

/// A side by its ring and its number in it.
pub(crate) type RingSide = (usize, usize);

/// A place where two sides cross or touch.
pub(crate) struct Crossing {
    pub(crate) at: Point,
    pub(crate) sides: [RingSide; 2],
}

/// Such places with their sides, up to a number of them.
pub(crate) fn find_crossings(rings: &[&[Point]], most: usize) -> Vec<Crossing> {
    let mut found = Vec::new();
    struct Side {
        a: Point,
        b: Point,
        ring: usize,
        i: usize,
    }
    let mut sides: Vec<Side> = Vec::new();
    for (ring, points) in rings.iter().enumerate() {
        for i in 0..points.len() {
            sides.push(Side {
                a: points[i],
                b: points[(i + 1) % points.len()],
                ring,
                i,
            });
        }
    }
    sides.sort_by(|s, t| s.a.x.min(s.b.x).total_cmp(&t.a.x.min(t.b.x)));
    let mut active: Vec<usize> = Vec::new();
    for k in 0..sides.len() {
        let s = &sides[k];
        let left = s.a.x.min(s.b.x);
        active.retain(|&j| sides[j].a.x.max(sides[j].b.x) >= left);
        for &j in &active {
            let t = &sides[j];
            if s.a.y.min(s.b.y) > t.a.y.max(t.b.y) || t.a.y.min(t.b.y) > s.a.y.max(s.b.y) {
                continue;
            }
            if s.ring == t.ring {
                let n = rings[s.ring].len();
                let (first, second) = if (t.i + 1) % n == s.i { (t, s) } else { (s, t) };
                if (first.i + 1) % n == second.i {
                    // Neighbours share a point; they must not fold back onto each other.
                    let (u, v) = (first.a - first.b, second.b - second.a);
                    let folded = u.cross(v) == 0.0 && u.dot(v) > 0.0;
                    if folded {
                        found.push(Crossing {
                            at: first.b,
                            sides: [(s.ring, s.i), (t.ring, t.i)],
                        });
                    }
                    continue;
                }
            }
            if let Some(at) = meeting(s.a, s.b, t.a, t.b) {
                found.push(Crossing {
                    at,
                    sides: [(s.ring, s.i), (t.ring, t.i)],
                });
            }
        }
        if found.len() >= most {
            break;
        }
        active.push(k);
    }
    found
}

/// Where two sides cross or touch; of sides that run along each other an end that lies on both.
fn meeting(a: Point, b: Point, c: Point, d: Point) -> Option<Point> {
    let side = |p: Point, q: Point, r: Point| (q - p).cross(r - p);
    let (d1, d2, d3, d4) = (side(c, d, a), side(c, d, b), side(a, b, c), side(a, b, d));
    if ((d1 > 0.0 && d2 < 0.0) || (d1 < 0.0 && d2 > 0.0))
        && ((d3 > 0.0 && d4 < 0.0) || (d3 < 0.0 && d4 > 0.0))
    {
        // The ends' distances from the other side are as d1 to d2.
        return Some(a.lerp(b, d1 / (d1 - d2)));
    }
    let on = |p: Point, q: Point, r: Point, cross: f64| {
        (cross == 0.0 && Bounds::between(p, q).contains(r)).then_some(r)
    };
    on(c, d, a, d1)
        .or_else(|| on(c, d, b, d2))
        .or_else(|| on(a, b, c, d3))
        .or_else(|| on(a, b, d, d4))
}
