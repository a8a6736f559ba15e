//! Where glue, supports and holes of a build plan lie.

use crate::Path;
use piece::{Bond, Joint};
use piece::{PartId, Piece};
use shape::{Outline, Point, Pose, RingOverlay, mapped, offset, overlay_rings, stroked};
use std::f64::consts::TAU;

/// Where a part lies on the board; `None` for one that is not placed.
pub(crate) fn board_from_part(piece: &Piece, part: &PartId) -> Option<Pose> {
    piece.placement(part).map(piece::Placement::board_from_part)
}

/// The joint lies on the board's own face.
pub(crate) fn is_on_board(bond: &Bond) -> bool {
    matches!(bond.joint, Joint::PartToBoard | Joint::SupportToBoard)
}

/// What a bond covers when it is pressed, grown by a margin, in the part's own coordinates as shown: beads as wide as they
/// spread, dots, tape. Stretches may lie on each other.
pub(crate) fn covered(bond: &Bond, margin_mm: f64) -> Vec<Outline> {
    let width = bond.spread_mm + 2.0 * margin_mm;
    let mut covered = stroked(&bond.paths, width);
    covered.extend(
        bond.dots
            .iter()
            .filter_map(|&dot| Outline::try_new(circle(dot, 0.5 * width), Vec::new()).ok()),
    );
    let tapes: Vec<Vec<Point>> = bond.tapes.iter().map(|t| t.outer.clone()).collect();
    if !tapes.is_empty() {
        let tapes = overlay_rings(&tapes, &[], RingOverlay::Union);
        covered.extend(offset(&tapes, margin_mm));
    }
    covered
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

/// All that is glued to the board's own face, grown by a margin, in board coordinates; stretches may lie on each other.
pub(crate) fn glued_on_board(piece: &Piece, margin_mm: f64) -> Vec<Outline> {
    let Some(plan) = &piece.build else {
        return Vec::new();
    };
    let bonds: Vec<&Bond> = plan.bonds.iter().filter(|b| is_on_board(b)).collect();
    let zones = mapped(&bonds, |bond| {
        let Some(pose) = board_from_part(piece, &bond.part) else {
            return Vec::new();
        };
        let covered = covered(bond, margin_mm);
        covered.iter().map(|o| o.placed(pose)).collect()
    });
    zones.into_iter().flatten().collect()
}

/// Supports on the board.
#[derive(Debug, Default)]
pub(crate) struct Fills {
    /// Where they lie, each with the name of its part.
    pub(crate) outlines: Vec<(String, Outline)>,
    /// The parts of those whose outline is none.
    pub(crate) unreadable: Vec<String>,
}

/// Supports where they lie on the board.
pub(crate) fn fills_on_board(piece: &Piece) -> Fills {
    let mut fills = Fills::default();
    for support in piece.build.iter().flat_map(|plan| &plan.supports) {
        let pose = board_from_part(piece, &support.part);
        let (Some(pose), Some(part)) = (pose, piece.part(&support.part)) else {
            continue;
        };
        let name = piece.item_label(part);
        match support.outline() {
            Ok(outline) => fills.outlines.push((name, outline.placed(pose))),
            Err(_) => fills.unreadable.push(name),
        }
    }
    fills
}

/// Holes through the board as centres and diameters in board coordinates, each with the name of its part.
pub(crate) fn holes_in_board(piece: &Piece) -> Vec<(String, Point, f64)> {
    let Some(plan) = &piece.build else {
        return Vec::new();
    };
    let mut holes = Vec::new();
    for fastener in &plan.fasteners {
        let (Some(pose), Some(part)) = (
            board_from_part(piece, &fastener.part),
            piece.part(&fastener.part),
        ) else {
            continue;
        };
        for hole in &fastener.holes {
            let at = pose.apply(Point::new(hole.x, hole.y));
            holes.push((piece.item_label(part), at, hole.diameter_mm));
        }
    }
    holes
}

/// A bead's path as lines.
pub(crate) fn bead_path(points: &[Point]) -> Path {
    Path::polyline(points)
}
