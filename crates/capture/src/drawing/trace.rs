//! What a drawing's reader draws: traces, and what it leaves out, under limits.

use super::{DrawingError, DrawingFormat, DrawingLimits, DrawingWarning};
use shape::{Point, Vector};
use std::collections::BTreeMap;

/// Coordinates beyond this are no drawing of a part, mm.
const FARTHEST_MM: f64 = 1e5;

/// One line, curve or ring as drawn, in chords, mm.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Trace {
    /// At least two points; of a closed trace the first is not repeated.
    pub(super) points: Vec<Point>,
    pub(super) closed: bool,
    pub(super) name: Option<String>,
}

/// A place in the file that errors name. Looking up its line may take long: only errors ask for it.
pub(super) trait InFile: Copy {
    /// The line, from 1.
    fn line(self) -> usize;
}

/// For readers that count lines as they go.
impl InFile for usize {
    fn line(self) -> usize {
        self
    }
}

/// An affine map of the plane: x' = a x + c y + e, y' = b x + d y + f.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Affine {
    pub(super) a: f64,
    pub(super) b: f64,
    pub(super) c: f64,
    pub(super) d: f64,
    pub(super) e: f64,
    pub(super) f: f64,
}

impl Affine {
    pub(super) const IDENTITY: Self = Self::new(1.0, 0.0, 0.0, 1.0, 0.0, 0.0);

    pub(super) const fn new(a: f64, b: f64, c: f64, d: f64, e: f64, f: f64) -> Self {
        Self { a, b, c, d, e, f }
    }

    pub(super) const fn scale(x: f64, y: f64) -> Self {
        Self::new(x, 0.0, 0.0, y, 0.0, 0.0)
    }

    pub(super) const fn shift(x: f64, y: f64) -> Self {
        Self::new(1.0, 0.0, 0.0, 1.0, x, y)
    }

    pub(super) fn turn_deg(degrees: f64) -> Self {
        let (sin, cos) = degrees.to_radians().sin_cos();
        Self::new(cos, sin, -sin, cos, 0.0, 0.0)
    }

    /// This map after `first`.
    pub(super) fn after(self, first: Self) -> Self {
        let (x, y) = (self.vector(first.a, first.b), self.vector(first.c, first.d));
        let o = self.point(first.e, first.f);
        Self::new(x.x, x.y, y.x, y.y, o.x, o.y)
    }

    pub(super) fn point(self, x: f64, y: f64) -> Point {
        Point::new(
            self.a * x + self.c * y + self.e,
            self.b * x + self.d * y + self.f,
        )
    }

    pub(super) fn vector(self, x: f64, y: f64) -> Vector {
        Vector::new(self.a * x + self.c * y, self.b * x + self.d * y)
    }
}

/// Takes traces from a reader and counts them against the limits.
pub(super) struct Traces {
    format: DrawingFormat,
    pub(super) limits: DrawingLimits,
    traces: Vec<Trace>,
    points: usize,
    entities: usize,
    left_out: BTreeMap<(String, &'static str), usize>,
    warnings: Vec<DrawingWarning>,
}

impl Traces {
    pub(super) fn new(format: DrawingFormat, limits: DrawingLimits) -> Self {
        Self {
            format,
            limits,
            traces: Vec::new(),
            points: 0,
            entities: 0,
            left_out: BTreeMap::new(),
            warnings: Vec::new(),
        }
    }

    /// An error at a place of the file.
    pub(super) fn broken(&self, at: impl InFile, problem: impl Into<String>) -> DrawingError {
        DrawingError::Broken {
            format: self.format,
            line: at.line(),
            problem: problem.into(),
        }
    }

    pub(super) fn truncated(&self, missing: &'static str) -> DrawingError {
        DrawingError::Truncated {
            format: self.format,
            missing,
        }
    }

    /// One more entity is looked at.
    pub(super) fn count_entity(&mut self) -> Result<(), DrawingError> {
        self.entities += 1;
        if self.entities > self.limits.entities {
            return Err(DrawingError::TooMany {
                what: "entities",
                limit: self.limits.entities,
            });
        }
        Ok(())
    }

    /// How many points may still come.
    pub(super) fn points_left(&self) -> usize {
        self.limits.points.saturating_sub(self.points)
    }

    pub(super) fn too_many_points(&self) -> DrawingError {
        DrawingError::TooMany {
            what: "points",
            limit: self.limits.points,
        }
    }

    /// Takes a trace. A closed one may repeat its first point at the end; what is a single point is
    /// counted and dropped.
    pub(super) fn add(
        &mut self,
        mut points: Vec<Point>,
        closed: bool,
        name: Option<&str>,
        at: impl InFile,
    ) -> Result<(), DrawingError> {
        if let Some(p) = points
            .iter()
            .find(|p| !p.is_finite() || p.x.abs() > FARTHEST_MM || p.y.abs() > FARTHEST_MM)
        {
            let problem = format!(
                "a point at ({}, {}) mm is no place on a part; check the drawing's unit and numbers",
                p.x, p.y
            );
            return Err(self.broken(at, problem));
        }
        points.dedup_by(|a, b| a.distance_mm(*b) < 1e-9);
        if closed && points.len() > 1 && points[0].distance_mm(points[points.len() - 1]) < 1e-9 {
            points.pop();
        }
        if points.len() < 2 {
            self.leave_out("point", "a point has no outline");
            return Ok(());
        }
        self.points += points.len();
        if self.points > self.limits.points {
            return Err(self.too_many_points());
        }
        self.traces.push(Trace {
            points,
            closed,
            name: name.map(str::to_owned),
        });
        Ok(())
    }

    /// Traces so far: for readers that repeat some.
    pub(super) fn len(&self) -> usize {
        self.traces.len()
    }

    /// Repeats all traces from `start` to `end`, shifted, mm.
    pub(super) fn repeat(
        &mut self,
        start: usize,
        end: usize,
        by: Vector,
        line: usize,
    ) -> Result<(), DrawingError> {
        for k in start..end {
            self.count_entity()?;
            let Some(t) = self.traces.get(k) else { break };
            let points = t.points.iter().map(|&p| p + by).collect();
            let (closed, name) = (t.closed, t.name.clone());
            self.add(points, closed, name.as_deref(), line)?;
        }
        Ok(())
    }

    /// Counts something that is not drawn here.
    pub(super) fn leave_out(&mut self, what: &str, remedy: &'static str) {
        *self.left_out.entry((what.to_owned(), remedy)).or_default() += 1;
    }

    pub(super) fn warn(&mut self, warning: DrawingWarning) {
        self.warnings.push(warning);
    }

    pub(super) fn into_parts(self) -> (Vec<Trace>, Vec<DrawingWarning>) {
        let mut warnings = self.warnings;
        for ((what, remedy), count) in self.left_out {
            warnings.push(DrawingWarning::LeftOut {
                count,
                what,
                remedy,
            });
        }
        (self.traces, warnings)
    }
}
