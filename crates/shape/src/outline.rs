//! A part's silhouette: one outer ring and its holes.

use crate::exact::{AGREEMENT_MM, ExactError};
use crate::ring::find_crossing;
use crate::{Bounds, ExactOutline, Point, Pose, Ring, RingError, Vector};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// A true-scale silhouette, mm: outer ring counter-clockwise, holes clockwise, nothing crosses.
///
/// In JSON `{"outer": [[x, y], …], "holes": [[[x, y], …], …]}`; either direction is accepted. Beside them
/// `exact` may carry the same rings as straight lines and arcs ([`ExactOutline`]); rigid motions keep it,
/// whatever makes other outlines (overlays, offsets) leaves it out.
///
/// ```
/// use shape::{Outline, Point};
/// let square = [(0.0, 0.0), (0.0, 2.0), (2.0, 2.0), (2.0, 0.0)];
/// let outline = Outline::try_new(square.map(|(x, y)| Point::new(x, y)).to_vec(), vec![])?;
/// assert_eq!(outline.area_mm2(), 4.0);
/// # Ok::<(), shape::OutlineError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Rings", into = "Rings")]
pub struct Outline {
    outer: Ring,
    holes: Vec<Ring>,
    exact: Option<Arc<ExactOutline>>,
}

/// Why rings do not make an outline.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum OutlineError {
    /// The outer ring is not a ring.
    #[error("the outer ring {0}")]
    Outer(#[source] RingError),
    /// A hole is not a ring.
    #[error("hole {index} {source}")]
    Hole {
        /// Which hole, from 0.
        index: usize,
        /// What is wrong with it.
        source: RingError,
    },
    /// A hole crosses or touches another ring.
    #[error("two rings cross or touch near ({:.3}, {:.3}) mm", .at.x, .at.y)]
    RingsCross {
        /// Near where, mm.
        at: Point,
    },
    /// A hole lies outside the outer ring.
    #[error("hole {index} lies outside the outer ring")]
    HoleOutside {
        /// Which hole, from 0.
        index: usize,
    },
    /// A hole lies inside another hole.
    #[error("hole {index} lies inside another hole")]
    HoleInHole {
        /// Which hole, from 0.
        index: usize,
    },
    /// What stands beside the rings as straight lines and arcs is no outline itself.
    #[error("exact: {0}")]
    Exact(#[from] ExactError),
    /// What stands beside the rings as straight lines and arcs is another outline.
    #[error(
        "exact: lies up to {apart_mm:.3} mm from outer and holes (infinite: another number of holes), the limit is {AGREEMENT_MM} mm; leave it out or make outer and holes from it"
    )]
    ExactDiffers {
        /// How far the two lie apart, mm.
        apart_mm: f64,
    },
}

/// The unchecked form that documents carry.
#[derive(Serialize, Deserialize)]
struct Rings {
    outer: Vec<Point>,
    #[serde(default)]
    holes: Vec<Vec<Point>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    exact: Option<ExactOutline>,
}

impl TryFrom<Rings> for Outline {
    type Error = OutlineError;
    fn try_from(r: Rings) -> Result<Self, OutlineError> {
        let polygon = Self::try_new(r.outer, r.holes)?;
        match r.exact {
            Some(exact) => polygon.with_exact(exact),
            None => Ok(polygon),
        }
    }
}

impl From<Outline> for Rings {
    fn from(o: Outline) -> Self {
        Self {
            outer: o.outer.points().to_vec(),
            holes: o.holes.iter().map(|h| h.points().to_vec()).collect(),
            exact: o.exact.map(Arc::unwrap_or_clone),
        }
    }
}

impl Outline {
    /// Checks rings and makes an outline of them; each ring may run either way.
    ///
    /// # Errors
    /// Any [`OutlineError`]; the first that is found.
    pub fn try_new(outer: Vec<Point>, holes: Vec<Vec<Point>>) -> Result<Self, OutlineError> {
        Self::of_checked(outer, holes, Ring::try_new)
    }

    /// The same without a limit on the number of points, as [`Ring::of_any_length`].
    pub(crate) fn of_any_length(
        outer: Vec<Point>,
        holes: Vec<Vec<Point>>,
    ) -> Result<Self, OutlineError> {
        Self::of_checked(outer, holes, Ring::of_any_length)
    }

    fn of_checked(
        outer: Vec<Point>,
        holes: Vec<Vec<Point>>,
        ring: fn(Vec<Point>) -> Result<Ring, RingError>,
    ) -> Result<Self, OutlineError> {
        let outer = ring(outer)
            .map_err(OutlineError::Outer)?
            .counter_clockwise(true);
        let holes = holes
            .into_iter()
            .enumerate()
            .map(|(index, h)| {
                ring(h)
                    .map(|r| r.counter_clockwise(false))
                    .map_err(|source| OutlineError::Hole { index, source })
            })
            .collect::<Result<Vec<_>, _>>()?;
        if !holes.is_empty() {
            let all: Vec<&[Point]> = std::iter::once(outer.points())
                .chain(holes.iter().map(Ring::points))
                .collect();
            if let Some(at) = find_crossing(&all) {
                return Err(OutlineError::RingsCross { at });
            }
        }
        for (index, hole) in holes.iter().enumerate() {
            let p = hole.points()[0];
            if !outer.contains(p) {
                return Err(OutlineError::HoleOutside { index });
            }
            if holes
                .iter()
                .enumerate()
                .any(|(k, other)| k != index && other.contains(p))
            {
                return Err(OutlineError::HoleInHole { index });
            }
        }
        Ok(Self {
            outer,
            holes,
            exact: None,
        })
    }

    /// Rings as they are, one or more, not checked: only for distances to their edges.
    pub(crate) fn of_rings(mut rings: Vec<Ring>) -> Self {
        Self {
            outer: rings.remove(0),
            holes: rings,
            exact: None,
        }
    }

    /// This polygon with the same rings as straight lines and arcs beside it.
    ///
    /// # Errors
    /// [`OutlineError::ExactDiffers`] where the two lie more than 0.01 mm apart anywhere.
    pub fn with_exact(mut self, exact: ExactOutline) -> Result<Self, OutlineError> {
        let apart_mm = exact.distance_mm(&self);
        if apart_mm > AGREEMENT_MM {
            return Err(OutlineError::ExactDiffers { apart_mm });
        }
        self.exact = Some(Arc::new(exact));
        Ok(self)
    }

    /// The polygon of chord error 0.005 mm that stands for an exact outline, with that beside it.
    ///
    /// # Errors
    /// As [`ExactOutline::polygon`] and [`Self::with_exact`]: only by rounding, since the two are made of each other.
    pub fn from_exact(exact: ExactOutline) -> Result<Self, OutlineError> {
        let polygon = exact.polygon()?;
        polygon.with_exact(exact)
    }

    /// The same rings as straight lines and arcs, where they are known.
    pub fn exact(&self) -> Option<&ExactOutline> {
        self.exact.as_deref()
    }

    /// An axis-parallel rectangle between two corners.
    ///
    /// # Errors
    /// [`OutlineError::Outer`] where it has no area or is not finite.
    pub fn rectangle(corner: Point, opposite: Point) -> Result<Self, OutlineError> {
        let (a, b) = (corner, opposite);
        Self::try_new(
            vec![a, Point::new(b.x, a.y), b, Point::new(a.x, b.y)],
            vec![],
        )
    }

    /// The outer ring, counter-clockwise.
    pub fn outer(&self) -> &Ring {
        &self.outer
    }

    /// The holes, each clockwise.
    pub fn holes(&self) -> &[Ring] {
        &self.holes
    }

    /// All rings, the outer one first.
    pub fn rings(&self) -> impl Iterator<Item = &Ring> {
        std::iter::once(&self.outer).chain(&self.holes)
    }

    /// Area without the holes, mm2.
    pub fn area_mm2(&self) -> f64 {
        self.rings().map(Ring::signed_area_mm2).sum()
    }

    /// Length of all rings, mm.
    pub fn perimeter_mm(&self) -> f64 {
        self.rings().map(Ring::length_mm).sum()
    }

    /// The outer ring's bounding box.
    pub fn bounds(&self) -> Bounds {
        self.outer.bounds()
    }

    /// Centre of area, holes left out.
    pub fn centroid(&self) -> Point {
        let o = self.outer.points()[0];
        let (mut area2, mut moment) = (0.0, Vector::default());
        for (a, b) in self.rings().flat_map(Ring::sides) {
            let (u, v) = (a - o, b - o);
            let cross = u.cross(v);
            area2 += cross;
            moment = moment + (u + v) * cross;
        }
        o + moment * (1.0 / (3.0 * area2))
    }

    /// The point lies in the material (on an edge is either).
    pub fn contains(&self, p: Point) -> bool {
        self.bounds().contains(p)
            && self.outer.contains(p)
            && !self.holes.iter().any(|h| h.contains(p))
    }

    /// This outline carried by a pose, whose numbers are finite and leave it within 100 m of the origin: that is not checked.
    pub fn placed(&self, outer_from_inner: Pose) -> Self {
        self.mapped(|p| outer_from_inner.apply(p))
    }

    /// This outline shifted, mm; as [`Self::placed`].
    pub fn shifted(&self, by: Vector) -> Self {
        self.mapped(|p| p + by)
    }

    /// Mirrored about the vertical line through the middle of its own bounding box: what is seen when
    /// the part is turned over left to right.
    pub fn mirrored(&self) -> Self {
        let axis2 = self.bounds().min.x + self.bounds().max.x;
        let flip = |r: &Ring| {
            Ring::from_valid(
                r.points()
                    .iter()
                    .rev()
                    .map(|p| Point::new(axis2 - p.x, p.y))
                    .collect(),
            )
        };
        Self {
            outer: flip(&self.outer),
            holes: self.holes.iter().map(flip).collect(),
            exact: self.exact.as_ref().map(|e| Arc::new(e.mirrored(axis2))),
        }
    }

    /// Shifted so that the lower-left corner of its bounding box is the origin, and by how much the
    /// origin moved: `old = new + shift`.
    pub fn at_origin(&self) -> (Self, Vector) {
        let shift = self.bounds().min - Point::default();
        (self.shifted(-shift), shift)
    }

    /// Only for maps that keep direction and simplicity (rigid motions).
    fn mapped(&self, f: impl Fn(Point) -> Point) -> Self {
        let map = |r: &Ring| Ring::from_valid(r.points().iter().map(|&p| f(p)).collect());
        Self {
            outer: map(&self.outer),
            holes: self.holes.iter().map(map).collect(),
            exact: self.exact.as_ref().map(|e| Arc::new(e.mapped(&f))),
        }
    }
}
