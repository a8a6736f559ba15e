//! Stress in a group of beads, dots, pieces of tape or fasteners that share a load.
//!
//! The group is taken as elastic between stiff faces: shear from a force beside the centroid by the polar formula (as
//! in handbooks for eccentric fastener and weld groups), pull and peel as a plane over the group. Lengths mm, forces N,
//! stresses MPa.

use shape::{Outline, Point, Vector};

/// One thing that holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Element {
    /// A fastener: an area at a point, mm2.
    Fastener {
        /// Where.
        at: Point,
        /// Its area, mm2.
        area_mm2: f64,
    },
    /// A round dot.
    Dot {
        /// Its centre.
        at: Point,
        /// Its diameter, mm.
        diameter_mm: f64,
    },
    /// A straight stretch of bead.
    Strip {
        /// One end of its centre line.
        from: Point,
        /// The other end.
        to: Point,
        /// Its width, mm.
        width_mm: f64,
    },
    /// A face that holds all over.
    Face(Outline),
}

/// Area, first and second moments about the origin.
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    area: f64,
    x: f64,
    y: f64,
    xx: f64,
    yy: f64,
    xy: f64,
}

impl Element {
    fn moments(&self) -> Moments {
        match self {
            Self::Fastener { at, area_mm2 } => spread_about(*at, *area_mm2, 0.0, 0.0, 0.0),
            Self::Dot { at, diameter_mm } => {
                let area = std::f64::consts::PI * diameter_mm * diameter_mm / 4.0;
                let own = diameter_mm * diameter_mm / 16.0;
                spread_about(*at, area, own, own, 0.0)
            }
            Self::Strip { from, to, width_mm } => {
                let along = *to - *from;
                let length = along.length_mm();
                if length == 0.0 {
                    return Moments::default();
                }
                let u = along * (1.0 / length);
                let (l2, w2) = (length * length / 12.0, width_mm * width_mm / 12.0);
                spread_about(
                    from.lerp(*to, 0.5),
                    length * width_mm,
                    l2 * u.x * u.x + w2 * u.y * u.y,
                    l2 * u.y * u.y + w2 * u.x * u.x,
                    (l2 - w2) * u.x * u.y,
                )
            }
            Self::Face(outline) => face_moments(outline),
        }
    }

    /// Points between which the stress is greatest: it grows with the distance from the centroid.
    fn extremes(&self) -> Vec<Point> {
        match self {
            Self::Fastener { at, .. } => vec![*at],
            Self::Dot { at, diameter_mm } => {
                let r = diameter_mm / 2.0;
                [(r, 0.0), (-r, 0.0), (0.0, r), (0.0, -r)]
                    .map(|(x, y)| *at + Vector::new(x, y))
                    .to_vec()
            }
            Self::Strip { from, to, width_mm } => {
                let along = *to - *from;
                let length = along.length_mm().max(1e-12);
                let across = along.turned_left() * (0.5 * width_mm / length);
                vec![*from + across, *from - across, *to + across, *to - across]
            }
            Self::Face(outline) => outline.outer().points().to_vec(),
        }
    }
}

/// Moments of an area whose own second moments per area about its centre are given.
fn spread_about(at: Point, area: f64, xx: f64, yy: f64, xy: f64) -> Moments {
    Moments {
        area,
        x: area * at.x,
        y: area * at.y,
        xx: area * (at.x * at.x + xx),
        yy: area * (at.y * at.y + yy),
        xy: area * (at.x * at.y + xy),
    }
}

/// By Green's theorem over the sides of all rings.
fn face_moments(outline: &Outline) -> Moments {
    let mut m = Moments::default();
    for (a, b) in outline.rings().flat_map(shape::Ring::sides) {
        let cross = a.x * b.y - b.x * a.y;
        m.area += cross / 2.0;
        m.x += (a.x + b.x) * cross / 6.0;
        m.y += (a.y + b.y) * cross / 6.0;
        m.xx += (a.x * a.x + a.x * b.x + b.x * b.x) * cross / 12.0;
        m.yy += (a.y * a.y + a.y * b.y + b.y * b.y) * cross / 12.0;
        m.xy += (a.x * b.y + 2.0 * a.x * a.y + 2.0 * b.x * b.y + b.x * a.y) * cross / 24.0;
    }
    m
}

/// What shares a load.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    elements: Vec<Element>,
    area_mm2: f64,
    centroid: Point,
    /// Second moments about the centroid, mm4.
    xx: f64,
    yy: f64,
    xy: f64,
}

impl Group {
    /// A group of elements; `None` where they have no area.
    pub fn try_new(elements: Vec<Element>) -> Option<Self> {
        let m = elements
            .iter()
            .map(Element::moments)
            .fold(Moments::default(), |s, m| Moments {
                area: s.area + m.area,
                x: s.x + m.x,
                y: s.y + m.y,
                xx: s.xx + m.xx,
                yy: s.yy + m.yy,
                xy: s.xy + m.xy,
            });
        if !(m.area > 0.0 && m.area.is_finite()) {
            return None;
        }
        let centroid = Point::new(m.x / m.area, m.y / m.area);
        Some(Self {
            elements,
            area_mm2: m.area,
            centroid,
            xx: (m.xx - m.area * centroid.x * centroid.x).max(0.0),
            yy: (m.yy - m.area * centroid.y * centroid.y).max(0.0),
            xy: m.xy - m.area * centroid.x * centroid.y,
        })
    }

    /// Area, mm2.
    pub fn area_mm2(&self) -> f64 {
        self.area_mm2
    }

    /// Centre of area.
    pub fn centroid(&self) -> Point {
        self.centroid
    }

    /// Polar second moment about the centroid, mm4.
    pub fn polar_mm4(&self) -> f64 {
        self.xx + self.yy
    }

    /// Shear stress at a point under a force in the plane that acts at another, and a moment (N mm, counter-clockwise).
    pub fn shear_at(&self, p: Point, force: Vector, acts_at: Point, moment: f64) -> Vector {
        let direct = force * (1.0 / self.area_mm2);
        let turning = (acts_at - self.centroid).cross(force) + moment;
        if turning == 0.0 {
            return direct;
        }
        let polar = self.polar_mm4();
        if polar <= 0.0 {
            return Vector::new(f64::INFINITY, 0.0);
        }
        direct + (p - self.centroid).turned_left() * (turning / polar)
    }

    /// Greatest shear stress under a force in the plane that acts at a point, MPa.
    pub fn greatest_shear_mpa(&self, force: Vector, acts_at: Point) -> f64 {
        self.extremes()
            .map(|p| self.shear_at(p, force, acts_at, 0.0).length_mm())
            .fold(0.0, f64::max)
    }

    /// Greatest pull off the face, MPa, under a pull (N) that acts at a point, and a couple that pulls on the side it
    /// points to (N mm): a weight that stands off the face makes one, upwards.
    pub fn greatest_pull_mpa(&self, pull_n: f64, acts_at: Point, couple: Vector) -> f64 {
        let moment = (acts_at - self.centroid) * pull_n + couple;
        let det = self.xx * self.yy - self.xy * self.xy;
        let slope = if moment.length_mm() < 1e-12 {
            Vector::default()
        } else if det <= 1e-9 * (self.xx + self.yy).powi(2) {
            // A row of points cannot bear a couple across itself.
            return f64::INFINITY;
        } else {
            Vector::new(
                (self.yy * moment.x - self.xy * moment.y) / det,
                (self.xx * moment.y - self.xy * moment.x) / det,
            )
        };
        let direct = pull_n / self.area_mm2;
        self.extremes()
            .map(|p| direct + slope.dot(p - self.centroid))
            .fold(0.0, f64::max)
    }

    fn extremes(&self) -> impl Iterator<Item = Point> + '_ {
        self.elements.iter().flat_map(Element::extremes)
    }
}
