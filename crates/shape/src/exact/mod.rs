//! Outlines of straight lines and arcs.

mod parallel;
mod segment;

pub use parallel::offset_exact;
pub use segment::{Circle, Segment};

use crate::edge_distance::farthest_mm;
use crate::{EdgeTree, MAX_POINTS_PER_RING, Outline, OutlineError, Point, Ring};
use serde::{Deserialize, Serialize};

/// Chord error of the polygon that stands for an exact outline, mm.
pub const CHORD_MM: f64 = 0.005;

/// An exact outline and the polygon beside it lie at most this far apart, mm.
pub(crate) const AGREEMENT_MM: f64 = 0.01;

/// Arcs of nearly a whole circle are refused: 4 atan 20 is 348 degrees, and beyond it the circle hangs on
/// the last digits of two points.
const MAX_BULGE: f64 = 20.0;

/// A corner of an exact ring, with the bulge of the side that follows. Written as `[x, y, bulge]`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "[f64; 3]", into = "[f64; 3]")]
pub struct ExactPoint {
    /// The place, mm.
    pub at: Point,
    /// Tangent of a quarter of the included angle of the side from here to the next point, positive
    /// counter-clockwise; 0 for a straight side.
    pub bulge: f64,
}

impl From<[f64; 3]> for ExactPoint {
    fn from([x, y, bulge]: [f64; 3]) -> Self {
        Self {
            at: Point::new(x, y),
            bulge,
        }
    }
}

impl From<ExactPoint> for [f64; 3] {
    fn from(p: ExactPoint) -> Self {
        [p.at.x, p.at.y, p.bulge]
    }
}

/// A closed ring of straight lines and arcs: two points or more, the first not repeated.
#[derive(Debug, Clone, PartialEq)]
pub struct ExactRing {
    points: Vec<ExactPoint>,
}

/// The rings of an outline as straight lines and arcs, mm: outer ring counter-clockwise, holes clockwise,
/// nothing crosses (tested on the polygon of chord error [`CHORD_MM`]).
///
/// In JSON `{"outer": [[x, y, bulge], …], "holes": [[[x, y, bulge], …], …]}`; either direction is accepted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "ExactRings", into = "ExactRings")]
pub struct ExactOutline {
    outer: ExactRing,
    holes: Vec<ExactRing>,
}

/// Why points with bulges do not make an exact outline.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ExactError {
    /// A ring of fewer than two points.
    #[error("{ring}: needs two points or more, has {found}")]
    TooFewPoints {
        /// `the outer ring` or `hole 3`, holes counted from 0.
        ring: String,
        /// Points found.
        found: usize,
    },
    /// A coordinate or bulge that is NaN, infinite or too large.
    #[error(
        "{ring}: point {index} is not usable: coordinates up to 100 m, bulges up to {MAX_BULGE}"
    )]
    NotUsable {
        /// Which ring.
        ring: String,
        /// Which point, from 0.
        index: usize,
    },
    /// As a polygon it would have too many points.
    #[error(
        "{ring}: as a polygon of 0.005 mm chord error it has more than {MAX_POINTS_PER_RING} points"
    )]
    TooManyPoints {
        /// Which ring.
        ring: String,
    },
    /// The polygon that stands for it is no outline.
    #[error("as a polygon of 0.005 mm chord error: {0}")]
    Outline(#[from] Box<OutlineError>),
}

#[derive(Serialize, Deserialize)]
struct ExactRings {
    outer: Vec<ExactPoint>,
    #[serde(default)]
    holes: Vec<Vec<ExactPoint>>,
}

impl TryFrom<ExactRings> for ExactOutline {
    type Error = ExactError;
    fn try_from(r: ExactRings) -> Result<Self, ExactError> {
        Self::try_new(r.outer, r.holes)
    }
}

impl From<ExactOutline> for ExactRings {
    fn from(o: ExactOutline) -> Self {
        Self {
            outer: o.outer.points,
            holes: o.holes.into_iter().map(|h| h.points).collect(),
        }
    }
}

impl ExactRing {
    fn try_new(points: Vec<ExactPoint>, name: impl Fn() -> String) -> Result<Self, ExactError> {
        if points.len() < 2 {
            return Err(ExactError::TooFewPoints {
                ring: name(),
                found: points.len(),
            });
        }
        let usable = |p: &ExactPoint| {
            p.at.is_finite()
                && p.at.x.abs() <= 1e5
                && p.at.y.abs() <= 1e5
                && p.bulge.abs() <= MAX_BULGE
        };
        if let Some(index) = points.iter().position(|p| !usable(p)) {
            return Err(ExactError::NotUsable {
                ring: name(),
                index,
            });
        }
        let ring = Self { points };
        let count = ring
            .segments()
            .try_fold(0usize, |sum, s| sum.checked_add(s.pieces(CHORD_MM)));
        if count.is_none_or(|n| n > MAX_POINTS_PER_RING) {
            return Err(ExactError::TooManyPoints { ring: name() });
        }
        Ok(ring)
    }

    /// The points with their bulges, first not repeated.
    pub fn points(&self) -> &[ExactPoint] {
        &self.points
    }

    /// The sides, each from one point to the next, the last back to the first.
    pub fn segments(&self) -> impl Iterator<Item = Segment> + '_ {
        let n = self.points.len();
        (0..n).map(move |i| Segment {
            from: self.points[i].at,
            to: self.points[(i + 1) % n].at,
            bulge: self.points[i].bulge,
        })
    }

    /// Points of the polygon whose chords are off the arcs by at most `chord_mm`.
    pub(crate) fn flattened(&self, chord_mm: f64) -> Vec<Point> {
        let mut points = Vec::with_capacity(self.points.len());
        for s in self.segments() {
            let n = s.pieces(chord_mm);
            points.push(s.from);
            points.extend((1..n).map(|k| s.at(k as f64 / n as f64)));
        }
        points
    }

    fn reversed(mut self) -> Self {
        self.points.reverse();
        // The bulge belongs to the side, which now starts at its other end and turns the other way.
        let first = self.points[0].bulge;
        let n = self.points.len();
        for i in 0..n - 1 {
            self.points[i].bulge = -self.points[i + 1].bulge;
        }
        self.points[n - 1].bulge = -first;
        self
    }

    fn mapped(&self, f: impl Fn(Point) -> Point) -> Self {
        let moved = |p: &ExactPoint| ExactPoint {
            at: f(p.at),
            bulge: p.bulge,
        };
        Self {
            points: self.points.iter().map(moved).collect(),
        }
    }

    /// Points given by the crate's own fitting, not checked.
    pub(crate) fn from_points(points: Vec<ExactPoint>) -> Self {
        Self { points }
    }
}

impl ExactOutline {
    /// Checks rings and makes an exact outline of them; each ring may run either way.
    ///
    /// # Errors
    /// Any [`ExactError`]; the first that is found.
    pub fn try_new(
        outer: Vec<ExactPoint>,
        holes: Vec<Vec<ExactPoint>>,
    ) -> Result<Self, ExactError> {
        let outer = ExactRing::try_new(outer, || "the outer ring".into())?;
        let holes = holes
            .into_iter()
            .enumerate()
            .map(|(k, h)| ExactRing::try_new(h, || format!("hole {k}")))
            .collect::<Result<Vec<_>, _>>()?;
        Self::from_rings(outer, holes).map(|(exact, _)| exact)
    }

    /// The outline and its polygon.
    pub(crate) fn from_rings(
        outer: ExactRing,
        holes: Vec<ExactRing>,
    ) -> Result<(Self, Outline), ExactError> {
        let polygon = Outline::try_new(
            outer.flattened(CHORD_MM),
            holes.iter().map(|h| h.flattened(CHORD_MM)).collect(),
        )
        .map_err(Box::new)?;
        let directed = |ring: ExactRing, ccw: bool| {
            let points = ring.flattened(CHORD_MM);
            if (Ring::from_valid(points).signed_area_mm2() > 0.0) == ccw {
                ring
            } else {
                ring.reversed()
            }
        };
        let exact = Self {
            outer: directed(outer, true),
            holes: holes.into_iter().map(|h| directed(h, false)).collect(),
        };
        Ok((exact, polygon))
    }

    /// The outer ring, counter-clockwise.
    pub fn outer(&self) -> &ExactRing {
        &self.outer
    }

    /// The holes, each clockwise.
    pub fn holes(&self) -> &[ExactRing] {
        &self.holes
    }

    /// All rings, the outer one first.
    pub fn rings(&self) -> impl Iterator<Item = &ExactRing> {
        std::iter::once(&self.outer).chain(&self.holes)
    }

    /// The polygon whose chords are off the arcs by at most [`CHORD_MM`].
    ///
    /// # Errors
    /// [`OutlineError`] cannot come of an outline that passed its own check, but for rounding after a
    /// rigid motion.
    pub fn polygon(&self) -> Result<Outline, OutlineError> {
        Outline::try_new(
            self.outer.flattened(CHORD_MM),
            self.holes.iter().map(|h| h.flattened(CHORD_MM)).collect(),
        )
    }

    /// How many sides are straight, and how many are arcs.
    pub fn counts(&self) -> (usize, usize) {
        let (arcs, lines): (Vec<_>, Vec<_>) = self
            .rings()
            .flat_map(ExactRing::segments)
            .partition(|s| s.bulge != 0.0);
        (lines.len(), arcs.len())
    }

    /// Greatest distance between the sides of the same rings here and in a polygon, either way, mm, to
    /// within 0.002 mm; infinite where the numbers of rings differ.
    pub fn distance_mm(&self, polygon: &Outline) -> f64 {
        if self.holes.len() != polygon.holes().len() {
            return f64::INFINITY;
        }
        self.rings()
            .zip(polygon.rings())
            .map(|(exact, ring)| ring_distance_mm(exact, ring))
            .fold(0.0, f64::max)
    }

    pub(crate) fn mapped(&self, f: impl Fn(Point) -> Point) -> Self {
        Self {
            outer: self.outer.mapped(&f),
            holes: self.holes.iter().map(|h| h.mapped(&f)).collect(),
        }
    }

    /// Mirrored about the vertical line `x = axis2 / 2`.
    pub(crate) fn mirrored(&self, axis2: f64) -> Self {
        let flip = |ring: &ExactRing| {
            let mut ring = ring.mapped(|p| Point::new(axis2 - p.x, p.y)).reversed();
            // Mirroring turns every arc the other way once more.
            for p in &mut ring.points {
                p.bulge = -p.bulge;
            }
            ring
        };
        Self {
            outer: flip(&self.outer),
            holes: self.holes.iter().map(flip).collect(),
        }
    }
}

/// Greatest distance either way between an exact ring and a polygon's ring, mm.
pub(crate) fn ring_distance_mm(exact: &ExactRing, ring: &Ring) -> f64 {
    // A fifth of the polygon's own chord error, so that the answer is good to that.
    let fine = Ring::from_valid(exact.flattened(0.2 * CHORD_MM));
    let (fine_tree, tree) = (
        EdgeTree::of_ring(fine.clone()),
        EdgeTree::of_ring(ring.clone()),
    );
    farthest_mm(fine.sides(), &tree).max(farthest_mm(ring.sides(), &fine_tree))
}
