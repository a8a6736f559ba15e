//! Assembly axes: lines along which parts go together, as exploded views show them.
//!
//! Features that lie one behind the other in the device belong together: screw holes, round parts, whole parts'
//! centres. Where a layout has pulled their parts apart straight along the run, the line between them is an axis.

use piece::{AssemblyAxis, Part, PartKind, Piece, Spread, Style};
use shape::{Bounds, Outline, Point, Vector};

/// Features whose homes are nearer than this lie on one axis, mm.
const SAME_AXIS_MM: f64 = 0.8;

/// How far off the run's direction the parts of one axis may have come to lie, mm.
const STRAIGHT_MM: f64 = 0.5;

/// Holes up to this breadth are taken for screw holes, mm.
const SCREW_HOLE_MM: f64 = 6.0;

/// White between an axis and what breaks it, mm.
const BREAK_MM: f64 = 1.2;

/// Pieces of an axis shorter than this are left out, mm.
const SHORT_MM: f64 = 4.0;

/// More features than this are not followed; a board with so many holes shows no axes worth reading.
const MOST_FEATURES: usize = 4_000;

/// What of a part lies on an axis.
struct Feature {
    /// Place of the part in the list of placed parts.
    part: usize,
    layer: u32,
    /// In the device, mm.
    home: Point,
    /// On the board, mm.
    at: Point,
    is_hole: bool,
}

/// The axes of an exploded layout as it stands: none in other styles, and none between parts that do not lie
/// straight behind each other on the board.
pub fn assembly_axes(piece: &Piece) -> Vec<AssemblyAxis> {
    if piece.layout.style != Style::Exploded {
        return Vec::new();
    }
    let placed = piece.outlines_on_board();
    let mut features = Vec::new();
    for (k, (part, _)) in placed.iter().enumerate() {
        features_of(piece, k, part, &mut features);
    }
    if features.len() > MOST_FEATURES {
        return Vec::new();
    }
    // Each feature follows the nearest one in front of it that shares its axis.
    features.sort_by(|a, b| a.layer.cmp(&b.layer).then(a.part.cmp(&b.part)));
    let mut axes: Vec<AssemblyAxis> = Vec::new();
    let mut joined: Vec<[usize; 2]> = Vec::new();
    for (j, b) in features.iter().enumerate() {
        let before = features[..j].iter().rev().find(|a| {
            a.layer < b.layer
                && a.is_hole == b.is_hole
                && a.home.distance_mm(b.home) <= SAME_AXIS_MM
        });
        let Some(a) = before else { continue };
        let pair = [a.part, b.part];
        // Of whole parts' centres one line for a pair is enough, and none where screws join it.
        if (!b.is_hole && joined.contains(&pair)) || !runs_straight(piece.layout.spread, a.at, b.at)
        {
            continue;
        }
        let lines = visible(piece, &placed, a.at, b.at);
        if lines.is_empty() {
            continue;
        }
        joined.push(pair);
        axes.push(AssemblyAxis {
            parts: pair.map(|k| placed[k].0.id.clone()).to_vec(),
            lines,
        });
    }
    axes
}

fn features_of(piece: &Piece, k: usize, part: &Part, features: &mut Vec<Feature>) {
    let (Some(home), Some(placement)) = (part.home, piece.placement(&part.id)) else {
        return;
    };
    let shown = part.shown_outline();
    let mut add = |in_part: Point, is_hole: bool| {
        features.push(Feature {
            part: k,
            layer: home.layer,
            home: home.device_from_part().apply(in_part),
            at: placement.board_from_part().apply(in_part),
            is_hole,
        });
    };
    for hole in shown.holes() {
        let b = Bounds::around(hole.points().iter().copied());
        if let Some(b) = b.filter(|b| b.width_mm().max(b.height_mm()) <= SCREW_HOLE_MM) {
            add(b.centre(), true);
        }
    }
    let b = shown.bounds();
    if part.kind == PartKind::Screw {
        add(b.centre(), true);
    }
    add(b.centre(), false);
}

fn runs_straight(spread: Spread, a: Point, b: Point) -> bool {
    let by = b - a;
    let (along, across) = match spread {
        Spread::Right => (by.x, by.y),
        Spread::Left => (-by.x, by.y),
        Spread::Up => (by.y, by.x),
        Spread::Down => (-by.y, by.x),
    };
    along > SHORT_MM && across.abs() <= STRAIGHT_MM
}

/// What is seen of a line: the pieces that lie clear of all parts and captions.
fn visible(piece: &Piece, placed: &[(&Part, Outline)], a: Point, b: Point) -> Vec<[Point; 2]> {
    let length = a.distance_mm(b);
    let line = Bounds::between(a, b);
    let mut hidden: Vec<(f64, f64)> = Vec::new();
    for (_, outline) in placed {
        if outline.bounds().distance_mm(line) <= BREAK_MM {
            hidden.extend(inside(outline, a, b, length));
        }
    }
    for caption in &piece.captions {
        hidden.extend(in_box(caption.bounds(), a, b, length));
    }
    hidden.sort_by(|p, q| p.0.total_cmp(&q.0));
    let mut lines = Vec::new();
    let mut from = 0.0;
    let at = |t: f64| a.lerp(b, t / length);
    for (start, end) in hidden.into_iter().chain([(length, length)]) {
        if start - from >= SHORT_MM {
            lines.push([at(from), at(start)]);
        }
        from = from.max(end);
    }
    lines
}

/// Stretches of a line inside a part's outer edge, holes included, with a little white round them; mm from its start.
fn inside(outline: &Outline, a: Point, b: Point, length: f64) -> Vec<(f64, f64)> {
    let u: Vector = (b - a) * (1.0 / length);
    let mut cuts = vec![0.0, length];
    for (p, q) in outline.outer().sides() {
        let (sp, sq) = (u.cross(p - a), u.cross(q - a));
        if (sp > 0.0) != (sq > 0.0) {
            let t = u.dot(p.lerp(q, sp / (sp - sq)) - a);
            if t > 0.0 && t < length {
                cuts.push(t);
            }
        }
    }
    cuts.sort_by(f64::total_cmp);
    cuts.windows(2)
        .filter(|w| outline.outer().contains(a + u * (0.5 * (w[0] + w[1]))))
        .map(|w| (w[0] - BREAK_MM, w[1] + BREAK_MM))
        .collect()
}

/// The stretch of a line in a box with a little white round it, mm from its start.
fn in_box(bounds: Bounds, a: Point, b: Point, length: f64) -> Option<(f64, f64)> {
    let bounds = bounds.grown(BREAK_MM);
    let u = (b - a) * (1.0 / length);
    let (mut from, mut to) = (0.0_f64, length);
    for (p, d, low, high) in [
        (a.x, u.x, bounds.min.x, bounds.max.x),
        (a.y, u.y, bounds.min.y, bounds.max.y),
    ] {
        if d.abs() < 1e-12 {
            if p < low || p > high {
                return None;
            }
            continue;
        }
        let (s, t) = ((low - p) / d, (high - p) / d);
        from = from.max(s.min(t));
        to = to.min(s.max(t));
    }
    (from < to).then_some((from, to))
}
