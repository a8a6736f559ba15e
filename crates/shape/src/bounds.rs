//! Axis-parallel bounding boxes.

use crate::{Point, Vector};

/// An axis-parallel box, mm: `min` is its lower-left corner, `max` its upper-right one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Lower-left corner, mm.
    pub min: Point,
    /// Upper-right corner, mm.
    pub max: Point,
}

impl Bounds {
    /// The box between two opposite corners, in either order.
    pub fn between(a: Point, b: Point) -> Self {
        Self {
            min: Point::new(a.x.min(b.x), a.y.min(b.y)),
            max: Point::new(a.x.max(b.x), a.y.max(b.y)),
        }
    }

    /// The smallest box that holds all points; `None` where there are none.
    pub fn around(points: impl IntoIterator<Item = Point>) -> Option<Self> {
        points
            .into_iter()
            .map(|p| Self { min: p, max: p })
            .reduce(Self::joined)
    }

    /// The smallest box that holds both.
    pub fn joined(self, other: Self) -> Self {
        Self {
            min: Point::new(self.min.x.min(other.min.x), self.min.y.min(other.min.y)),
            max: Point::new(self.max.x.max(other.max.x), self.max.y.max(other.max.y)),
        }
    }

    /// This box grown by `by_mm` on all four sides (shrunk where negative).
    pub fn grown(self, by_mm: f64) -> Self {
        let by = Vector::new(by_mm, by_mm);
        Self {
            min: self.min - by,
            max: self.max + by,
        }
    }

    /// The same box elsewhere.
    pub fn shifted(self, by: Vector) -> Self {
        Self {
            min: self.min + by,
            max: self.max + by,
        }
    }

    /// Width, mm.
    pub fn width_mm(self) -> f64 {
        self.max.x - self.min.x
    }

    /// Height, mm.
    pub fn height_mm(self) -> f64 {
        self.max.y - self.min.y
    }

    /// The middle of the box.
    pub fn centre(self) -> Point {
        self.min.lerp(self.max, 0.5)
    }

    /// The point lies in the box or on its edge.
    pub fn contains(self, p: Point) -> bool {
        p.x >= self.min.x && p.x <= self.max.x && p.y >= self.min.y && p.y <= self.max.y
    }

    /// The other box lies in this one; edges may touch.
    pub fn holds(self, other: Self) -> bool {
        self.contains(other.min) && self.contains(other.max)
    }

    /// Least distance between the two boxes, mm; 0 where they touch or overlap.
    pub fn distance_mm(self, other: Self) -> f64 {
        let dx = (other.min.x - self.max.x)
            .max(self.min.x - other.max.x)
            .max(0.0);
        let dy = (other.min.y - self.max.y)
            .max(self.min.y - other.max.y)
            .max(0.0);
        dx.hypot(dy)
    }
}
