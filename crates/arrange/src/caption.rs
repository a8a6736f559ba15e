//! Captions: beside their parts where there is room, else in free space with a leader.

use crate::board::Board;
use crate::cell::TextBlock;
use crate::spacing::Spacing;
use piece::{Caption, PartId};
use shape::{Bounds, EdgeTree, Point};

/// Step of the places that are tried for a caption with a leader, mm.
const STEP_MM: f64 = 4.0;

/// Places that are tried for one caption with a leader, the nearest first: a disc of about 140 mm
/// around the part.
const MOST_PLACES: usize = 4_000;

/// How far inside the outline a leader's dot lies where the part is broad enough, mm (ISO 128-2: a
/// leader that ends within an outline ends in a dot).
const DOT_INSIDE_MM: f64 = 1.5;

/// Places of one caption's box beside its part, the best first: below, above, right, left; in each the
/// middle first, then the ends.
fn beside(part: Bounds, block: &TextBlock, spacing: &Spacing) -> Vec<Bounds> {
    let d = spacing.own_caption_drop_mm();
    let (w, h) = (block.w, block.h);
    let (mid_x, mid_y) = (part.centre().x - 0.5 * w, part.centre().y - 0.5 * h);
    let (ends_x, ends_y) = (
        [mid_x, part.min.x, part.max.x - w],
        [mid_y, part.max.y - h, part.min.y],
    );
    let below = ends_x.map(|x| Point::new(x, part.min.y - d - h));
    let above = ends_x.map(|x| Point::new(x, part.max.y + d));
    let right = ends_y.map(|y| Point::new(part.max.x + d, y));
    let left = ends_y.map(|y| Point::new(part.min.x - d - w, y));
    [below, above, right, left]
        .into_iter()
        .flatten()
        .map(|p| Bounds::between(p, Point::new(p.x + w, p.y + h)))
        .collect()
}

/// A caption in a box, without or with a leader.
pub(crate) fn caption_in(
    id: &PartId,
    block: &TextBlock,
    bounds: Bounds,
    letter_mm: f64,
    leader: Option<[Point; 2]>,
) -> Caption {
    Caption {
        part: id.clone(),
        text: block.text.clone(),
        x: bounds.min.x,
        y: bounds.min.y,
        w: block.w,
        h: block.h,
        letter_mm: Some(letter_mm),
        leader: leader.map_or_else(Vec::new, |l| l.to_vec()),
    }
}

/// A place beside the part, or `None` where each is taken. `blocks` are the ways the text can be
/// broken, the best first.
pub(crate) fn place_beside(
    board: &Board,
    id: &PartId,
    part: Bounds,
    blocks: &[TextBlock],
    spacing: &Spacing,
) -> Option<Caption> {
    blocks.iter().find_map(|block| {
        beside(part, block, spacing)
            .into_iter()
            .find(|b| board.is_free(block.part, *b))
            .map(|b| caption_in(id, block, b, spacing.letter_mm, None))
    })
}

/// The place with the shortest leader that is free, or `None`.
pub(crate) fn place_with_leader(
    board: &Board,
    id: &PartId,
    tree: &EdgeTree,
    blocks: &[TextBlock],
    spacing: &Spacing,
) -> Option<Caption> {
    blocks.iter().find_map(|block| {
        let sheet = board.sheet;
        let (room_x, room_y) = (sheet.width_mm() - block.w, sheet.height_mm() - block.h);
        if room_x < 0.0 || room_y < 0.0 {
            return None;
        }
        let part = tree.outline().bounds();
        let (nx, ny) = ((room_x / STEP_MM) as usize, (room_y / STEP_MM) as usize);
        let mut places: Vec<(f64, Bounds)> = (0..=nx)
            .flat_map(|i| (0..=ny).map(move |j| (i, j)))
            .map(|(i, j)| {
                // The last column and row lie at the far edge.
                let x = sheet.min.x + if i == nx { room_x } else { i as f64 * STEP_MM };
                let y = sheet.min.y + if j == ny { room_y } else { j as f64 * STEP_MM };
                let b = Bounds::between(Point::new(x, y), Point::new(x + block.w, y + block.h));
                (b.distance_mm(part), b)
            })
            .collect();
        // Stable, so equal distances keep the order of the grid.
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        places
            .into_iter()
            .take(MOST_PLACES)
            .find_map(|(_, bounds)| {
                if !board.is_free(block.part, bounds) {
                    return None;
                }
                let leader = leader_from(board, block.part, bounds, tree)?;
                Some(caption_in(
                    id,
                    block,
                    bounds,
                    spacing.letter_mm,
                    Some(leader),
                ))
            })
    })
}

/// The shortest free leader from a box's edge into the part.
fn leader_from(board: &Board, part: usize, bounds: Bounds, tree: &EdgeTree) -> Option<[Point; 2]> {
    let (c, p, q) = (bounds.centre(), bounds.min, bounds.max);
    let anchors = [
        Point::new(p.x, c.y),
        Point::new(q.x, c.y),
        Point::new(c.x, p.y),
        Point::new(c.x, q.y),
    ];
    let outline = tree.outline();
    let body = outline.bounds();
    let aims = [outline.centroid(), body.centre()].into_iter().chain(
        outline.outer().points().iter().copied().step_by(
            // A dozen points of the outline are enough to aim past a neighbour.
            outline.outer().points().len().div_ceil(12),
        ),
    );
    let mut best: Option<(f64, [Point; 2])> = None;
    for aim in aims {
        for anchor in anchors {
            let Some(dot) = dot_inside(tree, anchor, aim) else {
                continue;
            };
            let length = anchor.distance_mm(dot);
            let leaves = !bounds.grown(-1e-6).contains(anchor.lerp(dot, 1e-3));
            if leaves
                && best.as_ref().is_none_or(|(l, _)| length < *l)
                && board.leader_is_free(part, [anchor, dot])
            {
                best = Some((length, [anchor, dot]));
            }
        }
    }
    best.map(|(_, leader)| leader)
}

/// The first point on the way from `from` to `aim` (and a little beyond) that lies inside the part,
/// as deep as [`DOT_INSIDE_MM`] where the part is broad enough.
fn dot_inside(tree: &EdgeTree, from: Point, aim: Point) -> Option<Point> {
    let outline = tree.outline();
    let length = from.distance_mm(aim);
    if length < 1e-6 {
        return None;
    }
    let step = 0.25_f64.max(length / 800.0);
    let reach = length + 4.0;
    let mut entered: Option<f64> = None;
    let mut deepest = None;
    let mut at = 0.0;
    while at <= reach {
        let p = from.lerp(aim, at / length);
        if outline.contains(p) {
            let since = *entered.get_or_insert(at);
            if at - since >= DOT_INSIDE_MM {
                return Some(p);
            }
            deepest = Some(from.lerp(aim, 0.5 * (since + at) / length));
        } else if entered.is_some() {
            break;
        }
        at += step;
    }
    deepest
}
