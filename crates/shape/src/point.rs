//! Places and displacements in the plane.

use serde::{Deserialize, Serialize};

/// A place in the plane, mm. Written in JSON as `[x, y]`.
///
/// Two points cannot be added; their difference is a [`Vector`].
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct Point {
    /// To the right, mm.
    pub x: f64,
    /// Upwards, mm.
    pub y: f64,
}

/// A displacement in the plane, mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Vector {
    /// To the right, mm.
    pub x: f64,
    /// Upwards, mm.
    pub y: f64,
}

impl Point {
    /// A point from its coordinates, mm.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Both coordinates are finite numbers.
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }

    /// Distance to another point, mm.
    pub fn distance_mm(self, other: Self) -> f64 {
        (self - other).length_mm()
    }

    /// The place between `a` and `b` that is nearest to this point. The ends are answered to the bit.
    #[inline]
    pub fn nearest_on_segment(self, a: Self, b: Self) -> Self {
        let along = b - a;
        let length2 = along.dot(along);
        let t = along.dot(self - a);
        if t <= 0.0 {
            a
        } else if t >= length2 {
            b
        } else {
            a + along * (t / length2)
        }
    }

    /// The point a share `t` of the way from here to `other` (0 here, 1 there).
    pub fn lerp(self, other: Self, t: f64) -> Self {
        self + (other - self) * t
    }
}

impl Vector {
    /// A displacement from its components, mm.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Scalar product, mm2.
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// z of the cross product, mm2: positive where `other` lies counter-clockwise of this.
    pub fn cross(self, other: Self) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// Length, mm.
    pub fn length_mm(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// This displacement turned a quarter counter-clockwise.
    pub fn turned_left(self) -> Self {
        Self::new(-self.y, self.x)
    }
}

impl From<[f64; 2]> for Point {
    fn from([x, y]: [f64; 2]) -> Self {
        Self { x, y }
    }
}

impl From<Point> for [f64; 2] {
    fn from(p: Point) -> Self {
        [p.x, p.y]
    }
}

impl std::ops::Sub for Point {
    type Output = Vector;
    fn sub(self, other: Self) -> Vector {
        Vector::new(self.x - other.x, self.y - other.y)
    }
}

impl std::ops::Add<Vector> for Point {
    type Output = Self;
    fn add(self, by: Vector) -> Self {
        Self::new(self.x + by.x, self.y + by.y)
    }
}

impl std::ops::Sub<Vector> for Point {
    type Output = Self;
    fn sub(self, by: Vector) -> Self {
        Self::new(self.x - by.x, self.y - by.y)
    }
}

impl std::ops::Add for Vector {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y)
    }
}

impl std::ops::Sub for Vector {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y)
    }
}

impl std::ops::Neg for Vector {
    type Output = Self;
    fn neg(self) -> Self {
        Self::new(-self.x, -self.y)
    }
}

impl std::ops::Mul<f64> for Vector {
    type Output = Self;
    fn mul(self, by: f64) -> Self {
        Self::new(self.x * by, self.y * by)
    }
}
