//! `strip-fill` (hidden): fills a strip from an instance file of the packing literature.

use super::Outcome;
use crate::cli;
use crate::failure::Failure;
use crate::progress::Progress;
use crate::{files, say};
use nest::{Budget, Item, NestError, Spacing, StoppedBy, Strip, Turns, fill_strip};
use serde::Deserialize;
use serde_json::{Value, json};
use shape::{Outline, OutlineError, Point, Pose, RingError, RingOverlay, Vector, overlay_rings};
use std::path::Path;

/// Largest instance file, bytes.
const MOST_BYTES: u64 = 16 << 20;
/// Longest time that may be asked for, s.
const MOST_SECONDS: f64 = 86_400.0;
/// Steps where only a time is given: more than any time allows.
const NO_END: u64 = 1 << 50;
/// Time that is kept back for checking and writing, s.
const RESERVE_S: f64 = 0.2;

/// An instance: a strip's height and what goes on it. Fields that are not used here may be there.
#[derive(Debug, Deserialize)]
struct Instance {
    #[serde(default)]
    name: Option<String>,
    strip_height: f64,
    items: Vec<InstanceItem>,
}

#[derive(Debug, Deserialize)]
struct InstanceItem {
    #[serde(default)]
    id: Option<Value>,
    demand: u64,
    /// Degrees; left out where any turn is allowed.
    #[serde(default)]
    allowed_orientations: Option<Vec<f64>>,
    shape: InstanceShape,
}

#[derive(Debug, Deserialize)]
#[serde(tag = "type", content = "data", rename_all = "snake_case")]
enum InstanceShape {
    SimplePolygon(Vec<Point>),
    Polygon {
        outer: Vec<Point>,
        #[serde(default)]
        inner: Vec<Vec<Point>>,
    },
    Rectangle {
        x_min: f64,
        y_min: f64,
        width: f64,
        height: f64,
    },
}

impl InstanceShape {
    fn rings(&self) -> (Vec<Point>, Vec<Vec<Point>>) {
        match self {
            Self::SimplePolygon(points) => (points.clone(), Vec::new()),
            Self::Polygon { outer, inner } => (outer.clone(), inner.clone()),
            &Self::Rectangle {
                x_min: x,
                y_min: y,
                width: w,
                height: h,
            } => {
                let corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)];
                (corners.map(|(x, y)| Point::new(x, y)).to_vec(), Vec::new())
            }
        }
    }
}

/// An item as it goes to the search: scaled, its origin near its outline.
struct Scaled {
    item: Item,
    /// What was taken off its coordinates before they were scaled.
    origin: Vector,
}

pub(crate) fn run(args: &cli::StripFill) -> Result<Outcome, Failure> {
    let budget = budget_of(args)?;
    let progress = Progress::with_time_limit(args.time.map(|s| (s - RESERVE_S).max(0.5 * s)));
    let path = &args.instance;
    let instance = read(path)?;
    let scale = scale_of(path, instance.strip_height)?;
    let scaled = instance
        .items
        .iter()
        .enumerate()
        .map(|(at, item)| scaled_item(path, at, item, scale))
        .collect::<Result<Vec<_>, _>>()?;
    let items: Vec<Item> = scaled.iter().map(|s| s.item.clone()).collect();
    let refused = |source: NestError| refusal(path, &instance, &source, scale);
    let spacing = Spacing {
        gap_mm: args.gap * scale,
        edge_mm: 0.0,
    };
    let strip = Strip::try_new(instance.strip_height * scale, spacing).map_err(refused)?;
    let filled = fill_strip(&items, &strip, &budget, &progress).map_err(refused)?;
    drop(progress);
    let placements: Vec<Value> = filled
        .placements
        .iter()
        .map(|p| {
            let turn_deg = p.strip_from_item.turn_deg;
            let shift = Pose::new(0.0, 0.0, turn_deg).turn(scaled[p.item].origin);
            json!({
                "item": instance.items[p.item].id.clone().unwrap_or(json!(p.item)),
                "x": p.strip_from_item.x / scale - shift.x,
                "y": p.strip_from_item.y / scale - shift.y,
                "turn_deg": turn_deg,
            })
        })
        .collect();
    let stopped_by = match filled.stopped_by {
        StoppedBy::Steps => "steps",
        StoppedBy::Goal => "goal",
        StoppedBy::Watch => "time",
    };
    say::json(&json!({
        "name": instance.name,
        "length": filled.length_mm / scale,
        "density": filled.density,
        "steps": filled.steps,
        "stopped_by": stopped_by,
        "placements": placements,
    }));
    Ok(Outcome::Fine)
}

fn budget_of(args: &cli::StripFill) -> Result<Budget, Failure> {
    if args
        .time
        .is_some_and(|s| !(0.0..=MOST_SECONDS).contains(&s))
    {
        return Err(Failure::Argument {
            option: "--time",
            problem: "give seconds from 0 to 86400".into(),
        });
    }
    if !(args.gap >= 0.0 && args.gap.is_finite()) {
        return Err(Failure::Argument {
            option: "--gap",
            problem: "give a length of 0 or more, in the instance's unit".into(),
        });
    }
    let steps = match (args.steps, args.time) {
        (Some(steps), _) => steps,
        (None, Some(_)) => NO_END,
        (None, None) => Budget::default().steps,
    };
    Ok(Budget {
        steps,
        seed: args.seed,
        threads: std::thread::available_parallelism().map_or(1, usize::from),
    })
}

fn read(path: &Path) -> Result<Instance, Failure> {
    let bytes = files::read(path, MOST_BYTES, "an instance")?;
    let mut from = serde_json::Deserializer::from_slice(&bytes);
    let problem = |text: String| Failure::Instance {
        path: path.into(),
        problem: text,
    };
    let instance = serde_path_to_error::deserialize(&mut from)
        .map_err(|e| problem(format!("{}: {}", e.path(), e.inner())))?;
    from.end().map_err(|e| problem(e.to_string()))?;
    Ok(instance)
}

/// A power of two, so that nothing is rounded: instances come in any unit, and the search works in lengths of hand-sized
/// parts.
fn scale_of(path: &Path, height: f64) -> Result<f64, Failure> {
    if height.is_finite() && (1e-6..=1e12).contains(&height) {
        Ok((1024.0 / height).log2().floor().exp2())
    } else {
        Err(Failure::Instance {
            path: path.into(),
            problem: format!("strip_height is {height}; give a length above 0"),
        })
    }
}

fn scaled_item(path: &Path, at: usize, item: &InstanceItem, scale: f64) -> Result<Scaled, Failure> {
    let problem = |text: String| Failure::Instance {
        path: path.into(),
        problem: format!("items[{at}]{}: {text}", called(item)),
    };
    let (outer, holes) = item.shape.rings();
    if !outer
        .iter()
        .chain(holes.iter().flatten())
        .all(|p| p.is_finite())
    {
        return Err(problem("holds a coordinate that is no number".into()));
    }
    let far = outer.iter().any(|p| p.x.abs().max(p.y.abs()) * scale > 5e4);
    let origin = match outer.first() {
        Some(first) if far => *first - Point::default(),
        _ => Vector::default(),
    };
    let near = |p: &Point| {
        let p = *p - origin;
        Point::new(p.x * scale, p.y * scale)
    };
    let outer: Vec<Point> = outer.iter().map(near).collect();
    let holes: Vec<Vec<Point>> = holes.iter().map(|h| h.iter().map(near).collect()).collect();
    let outline = outline_of(outer, holes).map_err(|e| problem(e.to_string()))?;
    let turns = match &item.allowed_orientations {
        None => Turns::Free,
        Some(list) => Turns::Listed(list.clone()),
    };
    Ok(Scaled {
        item: Item {
            outline,
            demand: usize::try_from(item.demand).unwrap_or(usize::MAX),
            turns,
        },
        origin,
    })
}

/// An outline of the rings; an outer ring that touches itself without crossing is taken as what it encloses.
fn outline_of(outer: Vec<Point>, holes: Vec<Vec<Point>>) -> Result<Outline, OutlineError> {
    let refused = match Outline::try_new(outer.clone(), holes) {
        Err(e @ OutlineError::Outer(RingError::CrossesItself { .. })) => e,
        other => return other,
    };
    let n = outer.len();
    let shoelace: f64 = (0..n)
        .map(|i| {
            let (p, q) = (outer[i] - outer[0], outer[(i + 1) % n] - outer[0]);
            0.5 * p.cross(q)
        })
        .sum();
    let mut enclosed = overlay_rings(&[outer], &[], RingOverlay::Union);
    let whole = enclosed.pop().filter(|_| enclosed.is_empty());
    // Where it crosses, some of it counts the other way or twice, and the two areas differ.
    whole
        .filter(|o| (o.area_mm2() - shoelace.abs()).abs() <= 1e-6 * o.area_mm2())
        .ok_or(refused)
}

fn called(item: &InstanceItem) -> String {
    item.id
        .as_ref()
        .map_or(String::new(), |id| format!(" (id {id})"))
}

/// The engine's refusal in the instance's words and unit.
fn refusal(path: &Path, instance: &Instance, source: &NestError, scale: f64) -> Failure {
    let problem = match source {
        NestError::ItemTooLarge { item, needs_mm, .. } => format!(
            "items[{item}]{}: is {} high at least, and the strip is {}; make the strip higher or allow more orientations",
            called(&instance.items[*item]),
            needs_mm[1] / scale,
            instance.strip_height
        ),
        other => other.to_string(),
    };
    Failure::Instance {
        path: path.into(),
        problem,
    }
}
