//! What the user draws where the machine cannot know: this is part, this is paper, these are two parts.

use crate::taken::Taken;
use serde::Deserialize;
use shape::{Point, Vector};

/// Most strokes taken at once.
const MOST_STROKES: usize = 1_000;

/// Most points of one stroke.
const MOST_POINTS: usize = 10_000;

/// Farthest place and broadest stroke taken, mm.
const FARTHEST_MM: f64 = 5_000.0;

/// What a stroke says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum StrokeKind {
    /// What lies under it belongs to a part.
    Include,
    /// What lies under it is paper, or something that is no part.
    Exclude,
    /// Parts that touch end at this line.
    Split,
}

/// One line drawn over the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// What it says.
    pub kind: StrokeKind,
    /// Its breadth, mm; a `split` line has none.
    pub width_mm: f64,
    /// Its points, mm of the sheet, one or more (a `split` line: two or more).
    pub points: Vec<Point>,
}

/// The form of a file of strokes.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    strokes: Vec<Entry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    kind: StrokeKind,
    #[serde(default = "usual_width_mm")]
    width_mm: f64,
    points_mm: Vec<[f64; 2]>,
}

/// A felt pen's line.
fn usual_width_mm() -> f64 {
    1.0
}

/// Why a text gave no strokes.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{path}: {problem}")]
pub struct StrokesError {
    /// Where.
    pub path: String,
    /// What is wrong there.
    pub problem: String,
}

/// Steps along a stroke by which it is told what it touches, mm.
const STEP_MM: f64 = 0.5;

impl Stroke {
    /// Whether some of the stroke lies where parts are looked for. One that does not says nothing.
    pub fn touches(&self, taken: &Taken) -> bool {
        let reach = match self.kind {
            StrokeKind::Split => 0.0,
            StrokeKind::Include | StrokeKind::Exclude => 0.5 * self.width_mm,
        };
        let round = [
            Vector::new(0.0, 0.0),
            Vector::new(reach, 0.0),
            Vector::new(-reach, 0.0),
            Vector::new(0.0, reach),
            Vector::new(0.0, -reach),
        ];
        let near = |p: Point| round.iter().any(|r| taken.field_holds(p + *r));
        self.points.iter().any(|&p| near(p))
            || self.points.windows(2).any(|w| {
                let steps = (w[0].distance_mm(w[1]) / STEP_MM).ceil().max(1.0) as usize;
                (1..steps).any(|k| near(w[0].lerp(w[1], k as f64 / steps as f64)))
            })
    }

    /// Reads strokes from JSON: `{"strokes": [{"kind": "include", "width_mm": 1, "points_mm": [[x, y], ...]}]}`.
    ///
    /// # Errors
    /// [`StrokesError`] with the path of the bad field.
    pub fn list_from_json(bytes: &[u8]) -> Result<Vec<Self>, StrokesError> {
        let bad = |path: String, problem: &str| StrokesError {
            path,
            problem: problem.into(),
        };
        let file: File = shape::from_json(bytes).map_err(|e| bad(e.path, &e.problem))?;
        if file.strokes.len() > MOST_STROKES {
            return Err(bad("strokes".into(), "has more than 1000 strokes"));
        }
        let stroke = |(k, e): (usize, Entry)| {
            let at = |field: &str| format!("strokes[{k}].{field}");
            let least = if e.kind == StrokeKind::Split { 2 } else { 1 };
            if !(least..=MOST_POINTS).contains(&e.points_mm.len()) {
                let problem = "needs one point or more, a split line two or more, 10000 at most";
                return Err(bad(at("points_mm"), problem));
            }
            let sound = |v: &f64| v.abs() <= FARTHEST_MM;
            if !e.points_mm.iter().flatten().all(sound) {
                return Err(bad(at("points_mm"), "has a place farther than 5000 mm off"));
            }
            if !(e.width_mm > 0.0 && e.width_mm <= 200.0) {
                return Err(bad(at("width_mm"), "must be over 0 and at most 200 mm"));
            }
            Ok(Self {
                kind: e.kind,
                width_mm: e.width_mm,
                points: e.points_mm.into_iter().map(Point::from).collect(),
            })
        };
        file.strokes.into_iter().enumerate().map(stroke).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_are_read() {
        let text =
            br#"{"strokes": [{"kind": "include", "width_mm": 2.5, "points_mm": [[1, 2], [3, 4]]},
            {"kind": "split", "points_mm": [[0, 0], [5, 0]]}]}"#;
        let strokes = Stroke::list_from_json(text).unwrap();
        assert_eq!(strokes.len(), 2);
        assert_eq!(strokes[0].kind, StrokeKind::Include);
        assert_eq!(strokes[0].points[1], Point::new(3.0, 4.0));
        assert_eq!(strokes[1].width_mm, 1.0);
    }

    #[test]
    fn bad_strokes_say_where() {
        let path = |text: &str| Stroke::list_from_json(text.as_bytes()).unwrap_err().path;
        assert_eq!(
            path(r#"{"strokes": [{"kind": "rub", "points_mm": [[1, 2]]}]}"#),
            "strokes[0].kind"
        );
        assert_eq!(
            path(r#"{"strokes": [{"kind": "split", "points_mm": [[1, 2]]}]}"#),
            "strokes[0].points_mm"
        );
        assert_eq!(
            path(r#"{"strokes": [{"kind": "include", "points_mm": [[1, 1e9]]}]}"#),
            "strokes[0].points_mm"
        );
        assert_eq!(
            path(r#"{"strokes": [{"kind": "include", "width_mm": 0, "points_mm": [[1, 1]]}]}"#),
            "strokes[0].width_mm"
        );
        assert_eq!(path(r#"{"strokes": []} x"#), ".");
    }
}
