//! One side of an exact ring: a straight line or an arc of a circle.

use crate::{Point, Vector};
use std::f64::consts::TAU;

/// A side from one point to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Where it starts.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
    /// Tangent of a quarter of the included angle, positive counter-clockwise; 0 for a straight line.
    pub bulge: f64,
}

/// The circle that an arc lies on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Its centre.
    pub centre: Point,
    /// Its radius, mm.
    pub radius_mm: f64,
}

impl Segment {
    /// The circle of an arc; `None` for a straight line.
    pub fn circle(self) -> Option<Circle> {
        if self.bulge == 0.0 {
            return None;
        }
        let (chord, b) = (self.to - self.from, self.bulge);
        // Half the chord over the tangent of half the included angle, and tan 2x = 2 tan x / (1 - tan2 x).
        let rise = (1.0 - b * b) / (4.0 * b);
        Some(Circle {
            centre: self.from.lerp(self.to, 0.5) + chord.turned_left() * rise,
            radius_mm: chord.length_mm() * (1.0 + b * b) / (4.0 * b.abs()),
        })
    }

    /// Included angle, radians, positive counter-clockwise; 0 for a straight line.
    pub fn angle_rad(self) -> f64 {
        4.0 * self.bulge.atan()
    }

    /// Length along the side, mm.
    pub fn length_mm(self) -> f64 {
        match self.circle() {
            Some(circle) => circle.radius_mm * self.angle_rad().abs(),
            None => self.from.distance_mm(self.to),
        }
    }

    /// The place a share `t` of the way along (0 at the start, 1 at the end).
    pub fn at(self, t: f64) -> Point {
        match self.circle() {
            None => self.from.lerp(self.to, t),
            Some(circle) => {
                let (s, c) = (t * self.angle_rad()).sin_cos();
                let v = self.from - circle.centre;
                circle.centre + Vector::new(c * v.x - s * v.y, s * v.x + c * v.y)
            }
        }
    }

    /// Directions at the start and at the end, of length 1.
    pub fn directions(self) -> [Vector; 2] {
        let chord = self.to - self.from;
        let length = chord.length_mm().max(f64::MIN_POSITIVE);
        let along = chord * (1.0 / length);
        // An arc leaves its chord by half of its included angle to the right where it turns left.
        let half = 0.5 * self.angle_rad();
        let turned = |by: f64| {
            let (s, c) = by.sin_cos();
            Vector::new(c * along.x - s * along.y, s * along.x + c * along.y)
        };
        [turned(-half), turned(half)]
    }

    /// Distance from a point to the side, mm.
    pub fn distance_mm(self, p: Point) -> f64 {
        let ends = self.from.distance_mm(p).min(self.to.distance_mm(p));
        match self.circle() {
            None => {
                let u = self.to - self.from;
                let length2 = u.dot(u);
                let t = (p - self.from).dot(u);
                if t > 0.0 && t < length2 {
                    (u.cross(p - self.from) / length2.sqrt()).abs().min(ends)
                } else {
                    ends
                }
            }
            Some(circle) => {
                let (v, w) = (self.from - circle.centre, p - circle.centre);
                let turn = v.cross(w).atan2(v.dot(w)) * self.bulge.signum();
                if turn.rem_euclid(TAU) <= self.angle_rad().abs() {
                    (w.length_mm() - circle.radius_mm).abs().min(ends)
                } else {
                    ends
                }
            }
        }
    }

    /// Into how many equal pieces the arc falls so that no chord is off it by more than `chord_mm`.
    pub(crate) fn pieces(self, chord_mm: f64) -> usize {
        let Some(circle) = self.circle() else {
            return 1;
        };
        // Sagitta s = r (1 - cos(step/2)).
        let cos = 1.0 - (chord_mm / circle.radius_mm).min(1.0);
        let step = 2.0 * cos.acos();
        // Never fewer than six to a circle: a ring of two arcs must enclose an area.
        let step = step.clamp(1e-6, TAU / 6.0);
        (self.angle_rad().abs() / step).ceil().max(1.0) as usize
    }
}
