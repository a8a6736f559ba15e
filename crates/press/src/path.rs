//! Paths in mm.

use shape::exact::{ExactRing, Segment};
use shape::{Bounds, Outline, Point, Vector};
use std::f64::consts::FRAC_PI_2;

/// One step of a path; coordinates in mm, y up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Starts a contour.
    Move(Point),
    /// A straight line.
    Line(Point),
    /// A quadratic curve: control point, end.
    Quad(Point, Point),
    /// A cubic curve: two control points, end.
    Cubic(Point, Point, Point),
    /// An arc of a circle: end, and the tangent of a quarter of the included angle, positive
    /// counter-clockwise, as in DXF.
    Arc(Point, f64),
    /// Closes the contour.
    Close,
}

/// A path of straight lines and curves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Path {
    /// Its steps.
    pub steps: Vec<Step>,
}

/// Control length of a cubic curve for a quarter of a unit circle: 4/3 (sqrt 2 - 1), which is off the
/// circle by 0.027 % of the radius at most (both by calculation).
const QUARTER: f64 = 0.552_284_749_830_793_4;

/// Cubic curves that stand for arcs miss them by this much at most, mm.
pub(crate) const CUBIC_MISS_MM: f64 = 0.001;

/// What [`QUARTER`] is off the unit circle.
const QUARTER_MISS: f64 = 2.73e-4;

/// Angle of the pieces by which it is told what an arc touches: chords off it by 0.4 % of the radius.
const TOUCH_RAD: f64 = FRAC_PI_2 / 9.0;

impl Path {
    /// A straight line.
    pub fn line(from: Point, to: Point) -> Self {
        Self::polyline(&[from, to])
    }

    /// Straight lines from point to point, left open.
    pub fn polyline(points: &[Point]) -> Self {
        let steps = points
            .iter()
            .enumerate()
            .map(|(i, &p)| if i == 0 { Step::Move(p) } else { Step::Line(p) })
            .collect();
        Self { steps }
    }

    /// Straight lines from point to point and back to the first.
    pub fn polygon(points: &[Point]) -> Self {
        let mut path = Self::polyline(points);
        path.steps.push(Step::Close);
        path
    }

    /// The edge of a box.
    pub fn rectangle(b: Bounds) -> Self {
        Self::polygon(&[
            b.min,
            Point::new(b.max.x, b.min.y),
            b.max,
            Point::new(b.min.x, b.max.y),
        ])
    }

    /// The edge of a box with round corners.
    pub fn rounded_rectangle(b: Bounds, radius_mm: f64) -> Self {
        let r = radius_mm.min(b.width_mm() / 2.0).min(b.height_mm() / 2.0);
        let k = r * (1.0 - QUARTER);
        let (x0, y0, x1, y1) = (b.min.x, b.min.y, b.max.x, b.max.y);
        let p = Point::new;
        let steps = vec![
            Step::Move(p(x0 + r, y0)),
            Step::Line(p(x1 - r, y0)),
            Step::Cubic(p(x1 - k, y0), p(x1, y0 + k), p(x1, y0 + r)),
            Step::Line(p(x1, y1 - r)),
            Step::Cubic(p(x1, y1 - k), p(x1 - k, y1), p(x1 - r, y1)),
            Step::Line(p(x0 + r, y1)),
            Step::Cubic(p(x0 + k, y1), p(x0, y1 - k), p(x0, y1 - r)),
            Step::Line(p(x0, y0 + r)),
            Step::Cubic(p(x0, y0 + k), p(x0 + k, y0), p(x0 + r, y0)),
            Step::Close,
        ];
        Self { steps }
    }

    /// A circle.
    pub fn circle(centre: Point, radius_mm: f64) -> Self {
        let r = Vector::new(radius_mm, radius_mm);
        Self::rounded_rectangle(
            Bounds {
                min: centre - r,
                max: centre + r,
            },
            radius_mm,
        )
    }

    /// All rings of an outline, as straight lines and arcs where it has them; filled by the even-odd rule or by
    /// winding the holes stay open.
    pub fn outline(outline: &Outline) -> Self {
        let mut path = Self::default();
        match outline.exact() {
            Some(exact) => exact.rings().for_each(|r| path.append(Self::exact_ring(r))),
            None => outline
                .rings()
                .for_each(|r| path.append(Self::polygon(r.points()))),
        }
        path
    }

    fn exact_ring(ring: &ExactRing) -> Self {
        let mut steps = Vec::with_capacity(ring.points().len() + 2);
        for side in ring.segments() {
            if steps.is_empty() {
                steps.push(Step::Move(side.from));
            }
            steps.push(if side.bulge == 0.0 {
                Step::Line(side.to)
            } else {
                Step::Arc(side.to, side.bulge)
            });
        }
        // Closing draws the last side where it is straight.
        if let Some(Step::Line(_)) = steps.last() {
            steps.pop();
        }
        steps.push(Step::Close);
        Self { steps }
    }

    /// Adds another path's contours.
    pub fn append(&mut self, other: Self) {
        self.steps.extend(other.steps);
    }

    /// This path with every point carried by an affine map; arcs become cubic curves, since a map may stretch them.
    pub fn mapped(&self, map: impl Fn(Point) -> Point) -> Self {
        let steps = self.without_arcs();
        let steps = steps
            .into_iter()
            .map(|step| match step {
                Step::Move(p) => Step::Move(map(p)),
                Step::Line(p) => Step::Line(map(p)),
                Step::Quad(c, p) => Step::Quad(map(c), map(p)),
                Step::Cubic(c, d, p) => Step::Cubic(map(c), map(d), map(p)),
                Step::Arc(p, bulge) => Step::Arc(map(p), bulge),
                Step::Close => Step::Close,
            })
            .collect();
        Self { steps }
    }

    /// This path shifted; arcs stay arcs.
    pub fn shifted(&self, by: Vector) -> Self {
        let steps = self
            .steps
            .iter()
            .map(|&step| match step {
                Step::Move(p) => Step::Move(p + by),
                Step::Line(p) => Step::Line(p + by),
                Step::Quad(c, p) => Step::Quad(c + by, p + by),
                Step::Cubic(c, d, p) => Step::Cubic(c + by, d + by, p + by),
                Step::Arc(p, bulge) => Step::Arc(p + by, bulge),
                Step::Close => Step::Close,
            })
            .collect();
        Self { steps }
    }

    /// The same steps with cubic curves in place of arcs, off them by 0.001 mm at most.
    pub(crate) fn without_arcs(&self) -> Vec<Step> {
        let mut steps = Vec::with_capacity(self.steps.len());
        let mut pen = Point::default();
        let mut start = pen;
        for &step in &self.steps {
            match step {
                Step::Move(p) => (pen, start) = (p, p),
                Step::Line(p) | Step::Quad(_, p) | Step::Cubic(_, _, p) => pen = p,
                Step::Close => pen = start,
                Step::Arc(to, bulge) => {
                    let arc = Segment {
                        from: pen,
                        to,
                        bulge,
                    };
                    steps.extend(cubics(arc));
                    pen = to;
                    continue;
                }
            }
            steps.push(step);
        }
        steps
    }

    /// A step's own box meets the given one (curves by their control points).
    pub(crate) fn lines_touch(&self, b: Bounds) -> bool {
        let (mut start, mut pen) = (Point::default(), Point::default());
        self.steps.iter().any(|&step| {
            let from = pen;
            let span = match step {
                Step::Move(p) => {
                    start = p;
                    vec![p]
                }
                Step::Line(p) => vec![from, p],
                Step::Quad(c, p) => vec![from, c, p],
                Step::Cubic(c, d, p) => vec![from, c, d, p],
                Step::Arc(to, bulge) => {
                    pen = to;
                    let arc = Segment { from, to, bulge };
                    return pieces(arc, TOUCH_RAD).any(|piece| {
                        Bounds::around([piece.from, piece.at(0.5), piece.to])
                            .is_some_and(|s| s.distance_mm(b) <= 0.0)
                    });
                }
                Step::Close => vec![from, start],
            };
            pen = span.last().copied().unwrap_or(from);
            Bounds::around(span).is_some_and(|s| s.distance_mm(b) <= 0.0)
        })
    }

    /// A box that holds the path (control points of curves included); `None` for an empty path.
    pub fn bounds(&self) -> Option<Bounds> {
        let (mut start, mut pen) = (Point::default(), Point::default());
        let points = self.steps.iter().flat_map(|&step| {
            let from = pen;
            let points = match step {
                Step::Move(p) => {
                    start = p;
                    vec![p]
                }
                Step::Line(p) => vec![p],
                Step::Quad(c, p) => vec![c, p],
                Step::Cubic(c, d, p) => vec![c, d, p],
                Step::Arc(to, bulge) => farthest(Segment { from, to, bulge }),
                Step::Close => vec![],
            };
            pen = points.last().copied().unwrap_or(start);
            points
        });
        Bounds::around(points)
    }
}

/// The leftmost, lowest, rightmost and uppermost points of an arc's circle that lie on the arc, and its end.
fn farthest(arc: Segment) -> Vec<Point> {
    let mut points = Vec::with_capacity(5);
    if let Some(circle) = arc.circle() {
        let r = circle.radius_mm;
        for (x, y) in [(-r, 0.0), (0.0, -r), (r, 0.0), (0.0, r)] {
            let p = circle.centre + Vector::new(x, y);
            if arc.distance_mm(p) <= 1e-9 * r.max(1.0) {
                points.push(p);
            }
        }
    }
    points.push(arc.to);
    points
}

/// An arc in equal pieces of at most that angle, radians.
pub(crate) fn pieces(arc: Segment, most_rad: f64) -> impl Iterator<Item = Segment> {
    let n = (arc.angle_rad().abs() / most_rad - 1e-9).ceil().max(1.0) as u32;
    let bulge = (0.25 * arc.angle_rad() / f64::from(n)).tan();
    let at = move |k: u32| {
        // The ends themselves, to the last bit.
        if k == 0 {
            arc.from
        } else if k == n {
            arc.to
        } else {
            arc.at(f64::from(k) / f64::from(n))
        }
    };
    (0..n).map(move |k| Segment {
        from: at(k),
        to: at(k + 1),
        bulge,
    })
}

/// Cubic curves for an arc: ends and tangents are its own, control lengths 4/3 tan(angle / 4) of the radius. Their miss
/// falls with the sixth power of the angle.
fn cubics(arc: Segment) -> impl Iterator<Item = Step> {
    let radius_mm = arc.circle().map_or(0.0, |c| c.radius_mm);
    let share = (CUBIC_MISS_MM / (QUARTER_MISS * radius_mm.max(1e-9))).powf(1.0 / 6.0);
    pieces(arc, FRAC_PI_2 * share.min(1.0)).map(move |piece| {
        let [along, arriving] = piece.directions();
        let control_mm = 4.0 / 3.0 * piece.bulge.abs() * radius_mm;
        Step::Cubic(
            piece.from + along * control_mm,
            piece.to - arriving * control_mm,
            piece.to,
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where a cubic curve is a share `t` of the way along (Bernstein's form).
    fn on_cubic([a, b, c, d]: [Point; 4], t: f64) -> Point {
        let u = 1.0 - t;
        let [wa, wb, wc, wd] = [u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t];
        Point::new(
            wa * a.x + wb * b.x + wc * c.x + wd * d.x,
            wa * a.y + wb * b.y + wc * c.y + wd * d.y,
        )
    }

    /// Truth: the circle's own equation.
    #[test]
    fn cubic_curves_keep_to_their_arc_whatever_its_radius_and_angle() {
        for radius_mm in [0.3, 2.0, 25.0, 400.0, 3000.0] {
            for angle_deg in [-350.0, -180.0, -12.0, 0.5, 90.0, 91.0, 240.0, 340.0_f64] {
                let angle = angle_deg.to_radians();
                let centre = Point::new(7.0, -3.0);
                let on = |a: f64| centre + Vector::new(a.cos(), a.sin()) * radius_mm;
                let arc = Segment {
                    from: on(1.0),
                    to: on(1.0 + angle),
                    bulge: (angle / 4.0).tan(),
                };
                let mut pen = arc.from;
                let mut swept = 0.0;
                for step in cubics(arc) {
                    let Step::Cubic(c, d, p) = step else {
                        panic!("{step:?}");
                    };
                    for k in 0..=20 {
                        let q = on_cubic([pen, c, d, p], f64::from(k) / 20.0);
                        let off = (q.distance_mm(centre) - radius_mm).abs();
                        assert!(off < CUBIC_MISS_MM * 1.05, "{radius_mm} {angle_deg}: {off}");
                    }
                    let (v, w) = (pen - centre, p - centre);
                    swept += v.cross(w).atan2(v.dot(w));
                    pen = p;
                }
                assert_eq!(pen, arc.to);
                assert!((swept - angle).abs() < 1e-6, "{swept} {angle}");
            }
        }
    }

    #[test]
    fn a_box_of_an_arc_holds_what_bulges_out_and_a_shift_keeps_it_an_arc() {
        let half = Path {
            steps: vec![
                Step::Move(Point::new(10.0, 0.0)),
                Step::Arc(Point::new(-10.0, 0.0), 1.0),
                Step::Close,
            ],
        };
        let b = half.bounds().unwrap();
        assert!(
            (b.max.y - 10.0).abs() < 1e-9 && b.min.y.abs() < 1e-9,
            "{b:?}"
        );
        assert!(half.lines_touch(Bounds {
            min: Point::new(-1.0, 9.9),
            max: Point::new(1.0, 10.1)
        }));
        assert!(!half.lines_touch(Bounds {
            min: Point::new(-1.0, 4.0),
            max: Point::new(1.0, 6.0)
        }));
        let there = half.shifted(Vector::new(3.0, 4.0));
        assert_eq!(there.steps[1], Step::Arc(Point::new(-7.0, 4.0), 1.0));
        let stretched = half.mapped(|p| Point::new(2.0 * p.x, p.y));
        assert!(!stretched.steps.iter().any(|s| matches!(s, Step::Arc(..))));
        assert!((stretched.bounds().unwrap().width_mm() - 40.0).abs() < 1e-9);
    }
}
