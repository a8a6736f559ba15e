//! Paths in mm.

use shape::{Bounds, Outline, Point, Vector};

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

    /// All rings of an outline; filled by the even-odd rule or by winding the holes stay open.
    pub fn outline(outline: &Outline) -> Self {
        let mut path = Self::default();
        for ring in outline.rings() {
            path.append(Self::polygon(ring.points()));
        }
        path
    }

    /// Adds another path's contours.
    pub fn append(&mut self, other: Self) {
        self.steps.extend(other.steps);
    }

    /// This path with every point carried by a map (which must keep straight lines straight).
    pub fn mapped(&self, map: impl Fn(Point) -> Point) -> Self {
        let steps = self
            .steps
            .iter()
            .map(|&step| match step {
                Step::Move(p) => Step::Move(map(p)),
                Step::Line(p) => Step::Line(map(p)),
                Step::Quad(c, p) => Step::Quad(map(c), map(p)),
                Step::Cubic(c, d, p) => Step::Cubic(map(c), map(d), map(p)),
                Step::Close => Step::Close,
            })
            .collect();
        Self { steps }
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
                Step::Close => vec![from, start],
            };
            pen = span.last().copied().unwrap_or(from);
            Bounds::around(span).is_some_and(|s| s.distance_mm(b) <= 0.0)
        })
    }

    /// A box that holds the path (control points included); `None` for an empty path.
    pub fn bounds(&self) -> Option<Bounds> {
        let points = self.steps.iter().flat_map(|&step| match step {
            Step::Move(p) | Step::Line(p) => vec![p],
            Step::Quad(c, p) => vec![c, p],
            Step::Cubic(c, d, p) => vec![c, d, p],
            Step::Close => vec![],
        });
        Bounds::around(points)
    }
}
