//! Where glue, supports and holes of a build plan lie.

use crate::Path;
use piece::{Bond, Joint};
use piece::{PartId, Piece};
use shape::{Outline, Point, Pose, RingOverlay, offset, overlay_rings};
use std::f64::consts::TAU;

/// Where a part lies on the board; `None` for one that is not placed.
pub(crate) fn board_from_part(piece: &Piece, part: &PartId) -> Option<Pose> {
    piece.placement(part).map(piece::Placement::board_from_part)
}

/// The joint lies on the board's own face.
pub(crate) fn is_on_board(bond: &Bond) -> bool {
    matches!(bond.joint, Joint::PartToBoard | Joint::SupportToBoard)
}

/// What a bond covers when it is pressed, in the part's own coordinates as shown: beads as wide as they spread, dots,
/// tape.
pub(crate) fn covered(bond: &Bond) -> Vec<Outline> {
    let mut rings: Vec<Vec<Point>> = Vec::new();
    let radius = 0.5 * bond.spread_mm;
    for &dot in &bond.dots {
        rings.push(circle(dot, radius));
    }
    rings.extend(bond.tapes.iter().map(|t| t.outer.clone()));
    for path in &bond.paths {
        for pair in path.windows(2) {
            rings.extend(stadium(pair[0], pair[1], radius));
        }
    }
    rings.retain(|r| r.len() > 2);
    overlay_rings(&rings, &[], RingOverlay::Union)
}

fn circle(centre: Point, radius: f64) -> Vec<Point> {
    const SIDES: u32 = 32;
    (0..SIDES)
        .map(|k| {
            let a = TAU * f64::from(k) / f64::from(SIDES);
            Point::new(centre.x + radius * a.cos(), centre.y + radius * a.sin())
        })
        .collect()
}

/// A line of some width with round ends.
fn stadium(a: Point, b: Point, radius: f64) -> Option<Vec<Point>> {
    let along = b - a;
    let length = along.length_mm();
    if length < 1e-9 || radius <= 0.0 {
        return None;
    }
    const HALF: u32 = 12;
    let start = along.y.atan2(along.x) - 0.25 * TAU;
    let arc = |centre: Point, from: f64| {
        (0..=HALF).map(move |k| {
            let t = from + 0.5 * TAU * f64::from(k) / f64::from(HALF);
            Point::new(centre.x + radius * t.cos(), centre.y + radius * t.sin())
        })
    };
    Some(arc(b, start).chain(arc(a, start + 0.5 * TAU)).collect())
}

/// All that is glued to the board's own face, grown by a margin, in board coordinates.
pub(crate) fn glued_on_board(piece: &Piece, margin_mm: f64) -> Vec<Outline> {
    let Some(plan) = &piece.build else {
        return Vec::new();
    };
    let mut zones = Vec::new();
    for bond in plan.bonds.iter().filter(|b| is_on_board(b)) {
        let Some(pose) = board_from_part(piece, &bond.part) else {
            continue;
        };
        let covered: Vec<Outline> = covered(bond).iter().map(|o| o.placed(pose)).collect();
        zones.extend(offset(&covered, margin_mm));
    }
    zones
}

/// Supports where they lie on the board, each with the name of its part.
pub(crate) fn fills_on_board(piece: &Piece) -> Vec<(String, Outline)> {
    let Some(plan) = &piece.build else {
        return Vec::new();
    };
    let numbers = piece.item_numbers();
    plan.supports
        .iter()
        .filter_map(|support| {
            let pose = board_from_part(piece, &support.part)?;
            let part = piece.part(&support.part)?;
            let number = numbers.get(&support.part).copied().unwrap_or(0);
            let outline = support.outline().ok()?.placed(pose);
            Some((format!("{number}  {}", part.name), outline))
        })
        .collect()
}

/// Holes through the board as centres and diameters in board coordinates, each with the name of its part.
pub(crate) fn holes_in_board(piece: &Piece) -> Vec<(String, Point, f64)> {
    let Some(plan) = &piece.build else {
        return Vec::new();
    };
    let numbers = piece.item_numbers();
    let mut holes = Vec::new();
    for fastener in &plan.fasteners {
        let (Some(pose), Some(part)) = (
            board_from_part(piece, &fastener.part),
            piece.part(&fastener.part),
        ) else {
            continue;
        };
        let number = numbers.get(&fastener.part).copied().unwrap_or(0);
        for hole in &fastener.holes {
            let at = pose.apply(Point::new(hole.x, hole.y));
            holes.push((format!("{number}  {}", part.name), at, hole.diameter_mm));
        }
    }
    holes
}

/// A bead's path as lines.
pub(crate) fn bead_path(points: &[Point]) -> Path {
    Path::polyline(points)
}
