//! Rigid placements in the plane.

use crate::{Point, Vector};

/// A turn about the origin followed by a shift: `outer_from_inner`.
///
/// A placement of a part on the board is a pose named `board_from_part`; it carries the part's own
/// origin to `(x, y)`.
///
/// Its numbers are finite. That is not checked here: a pose is never read, it is made of places that were
/// checked where their document was read (within 100 m of the origin), or of others by turning and shifting.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Pose {
    /// Where the inner origin comes to lie, mm to the right.
    pub x: f64,
    /// Where the inner origin comes to lie, mm upwards.
    pub y: f64,
    /// Turn, degrees counter-clockwise.
    pub turn_deg: f64,
}

impl Pose {
    /// A pose from its shift (mm) and turn (degrees counter-clockwise).
    pub const fn new(x: f64, y: f64, turn_deg: f64) -> Self {
        Self { x, y, turn_deg }
    }

    /// The pose that turns by so many degrees and brings an inner point to an outer one.
    pub fn bringing(inner: Point, outer: Point, turn_deg: f64) -> Self {
        let turned = Self::new(0.0, 0.0, turn_deg).apply(inner);
        Self::new(outer.x - turned.x, outer.y - turned.y, turn_deg)
    }

    /// The pose that turns by so many degrees about a point, which stays where it is.
    pub fn about(point: Point, turn_deg: f64) -> Self {
        Self::bringing(point, point, turn_deg)
    }

    /// Sine and cosine of the turn; exact for multiples of a quarter turn, so that a part turned by
    /// 90 degrees keeps right angles to the last bit.
    fn sin_cos(self) -> (f64, f64) {
        let turn_deg = self.turn_deg.rem_euclid(360.0);
        if turn_deg == 0.0 {
            (0.0, 1.0)
        } else if turn_deg == 90.0 {
            (1.0, 0.0)
        } else if turn_deg == 180.0 {
            (0.0, -1.0)
        } else if turn_deg == 270.0 {
            (-1.0, 0.0)
        } else {
            turn_deg.to_radians().sin_cos()
        }
    }

    /// Carries an inner displacement into the outer frame (turn only).
    pub fn turn(self, v: Vector) -> Vector {
        let (s, c) = self.sin_cos();
        Vector::new(c * v.x - s * v.y, s * v.x + c * v.y)
    }

    /// Carries an inner point into the outer frame.
    pub fn apply(self, p: Point) -> Point {
        Point::new(self.x, self.y) + self.turn(Vector::new(p.x, p.y))
    }

    /// The pose that undoes this one.
    pub fn inverse(self) -> Self {
        let back = Self::new(0.0, 0.0, -self.turn_deg).turn(Vector::new(-self.x, -self.y));
        Self::new(back.x, back.y, -self.turn_deg)
    }

    /// First `inner`, then this: `a_from_b.after(b_from_c)` is `a_from_c`.
    pub fn after(self, inner: Self) -> Self {
        let at = self.apply(Point::new(inner.x, inner.y));
        Self::new(at.x, at.y, self.turn_deg + inner.turn_deg)
    }
}
