//! What already lies on the board while captions find their places.

use crate::TOLERANCE_MM;
use crate::spacing::CAPTION_CLEAR_MM;
use piece::{Caption, Piece};
use shape::{Bounds, EdgeTree, Outline, Point, intersection_area_mm2};

/// A leader keeps at least this far from parts, captions and leaders that are not its own, mm.
pub(crate) const LEADER_CLEAR_MM: f64 = 0.5;

/// Parts, captions and leaders that are in place.
#[derive(Debug)]
pub(crate) struct Board {
    /// Where captions may lie.
    pub(crate) sheet: Bounds,
    /// Parts by their place in the piece's list.
    pub(crate) parts: Vec<(usize, EdgeTree)>,
    pub(crate) keep_outs: Vec<Bounds>,
    pub(crate) captions: Vec<(usize, Bounds)>,
    pub(crate) leaders: Vec<(usize, [Point; 2])>,
}

/// The piece's keep-outs as boxes.
pub(crate) fn keep_outs(piece: &Piece) -> Vec<Bounds> {
    piece
        .layout
        .keep_outs
        .iter()
        .map(|k| Bounds::between(Point::new(k.x, k.y), Point::new(k.x + k.w, k.y + k.h)))
        .collect()
}

/// Where captions may lie: the window, less the spacer and what makes a text look cut off.
pub(crate) fn caption_sheet(piece: &Piece) -> Bounds {
    const FROM_EDGE_MM: f64 = 2.0;
    piece
        .frame
        .window()
        .grown(-(piece.frame.spacer_width_mm + FROM_EDGE_MM))
}

pub(crate) fn box_tree(bounds: Bounds) -> Option<EdgeTree> {
    Outline::rectangle(bounds.min, bounds.max)
        .ok()
        .map(EdgeTree::new)
}

impl Board {
    /// A caption of part `owner` may lie here: it touches no part (its own neither), no caption, no
    /// leader and no keep-out.
    pub(crate) fn is_free(&self, owner: usize, bounds: Bounds) -> bool {
        if !self.sheet.holds(bounds) || self.keep_outs.iter().any(|k| overlap(*k, bounds)) {
            return false;
        }
        if self
            .captions
            .iter()
            .any(|(other, b)| *other != owner && overlap(b.grown(CAPTION_CLEAR_MM), bounds))
        {
            return false;
        }
        if self
            .leaders
            .iter()
            .any(|(other, [a, b])| *other != owner && line_meets_box(*a, *b, bounds))
        {
            return false;
        }
        let mut tree = None;
        for (_, part) in &self.parts {
            if !overlap(part.bounds().grown(CAPTION_CLEAR_MM), bounds) {
                continue;
            }
            let tree = match &tree {
                Some(tree) => tree,
                None => match box_tree(bounds) {
                    Some(made) => tree.insert(made),
                    None => return false,
                },
            };
            if part.clearance_mm(tree, CAPTION_CLEAR_MM) < CAPTION_CLEAR_MM {
                return false;
            }
        }
        true
    }

    /// A leader of part `owner` may run here: it meets no foreign part, caption or leader.
    pub(crate) fn leader_is_free(&self, owner: usize, [a, b]: [Point; 2]) -> bool {
        let line = Bounds::between(a, b);
        self.leaders.iter().all(|(other, [c, d])| {
            *other == owner || lines_distance_mm(a, b, *c, *d) > LEADER_CLEAR_MM
        }) && self
            .captions
            .iter()
            .all(|(other, bounds)| *other == owner || !line_meets_box(a, b, *bounds))
            && self.parts.iter().all(|(other, tree)| {
                *other == owner
                    || tree.bounds().distance_mm(line) > LEADER_CLEAR_MM
                    || tree.line_clearance_mm(a, b, 2.0 * LEADER_CLEAR_MM) > LEADER_CLEAR_MM
            })
    }

    pub(crate) fn note(&mut self, part: usize, caption: &Caption) {
        self.captions.push((part, caption.bounds()));
        for pair in caption.leader.windows(2) {
            self.leaders.push((part, [pair[0], pair[1]]));
        }
    }
}

/// The parts lie on each other: they share area beyond rounding, and do not only touch.
pub(crate) fn share_area(a: &EdgeTree, b: &EdgeTree) -> bool {
    a.clearance_mm(b, TOLERANCE_MM) == 0.0
        && intersection_area_mm2(a.outline(), b.outline()) > TOLERANCE_MM
}

/// The boxes share some area.
pub(crate) fn overlap(a: Bounds, b: Bounds) -> bool {
    a.min.x < b.max.x && b.min.x < a.max.x && a.min.y < b.max.y && b.min.y < a.max.y
}

pub(crate) fn line_meets_box(a: Point, b: Point, bounds: Bounds) -> bool {
    let bounds = bounds.grown(LEADER_CLEAR_MM);
    if !overlap(Bounds::between(a, b).grown(1e-9), bounds) {
        return false;
    }
    if bounds.contains(a) || bounds.contains(b) {
        return true;
    }
    let (p, q) = (bounds.min, bounds.max);
    let corners = [p, Point::new(q.x, p.y), q, Point::new(p.x, q.y)];
    (0..4).any(|k| lines_cross(a, b, corners[k], corners[(k + 1) % 4]))
}

pub(crate) fn lines_cross(a: Point, b: Point, c: Point, d: Point) -> bool {
    let side = |p: Point, q: Point, r: Point| (q - p).cross(r - p);
    side(a, b, c) * side(a, b, d) <= 0.0
        && side(c, d, a) * side(c, d, b) <= 0.0
        && overlap(
            Bounds::between(a, b).grown(1e-9),
            Bounds::between(c, d).grown(1e-9),
        )
}

/// Least distance between two straight lines, mm.
pub(crate) fn lines_distance_mm(a: Point, b: Point, c: Point, d: Point) -> f64 {
    if lines_cross(a, b, c, d) {
        return 0.0;
    }
    [(a, c, d), (b, c, d), (c, a, b), (d, a, b)]
        .map(|(p, from, to)| p.distance_mm(p.nearest_on_segment(from, to)))
        .into_iter()
        .fold(f64::INFINITY, f64::min)
}
