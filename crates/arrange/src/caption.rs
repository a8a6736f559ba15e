//! Captions beside their parts.

use crate::board::Board;
use crate::cell::TextBlock;
use crate::spacing::Spacing;
use piece::{Caption, PartId};
use shape::{Bounds, Point};

/// Places of one caption's box beside its part, the best first: below, above, right, left; in each the
/// middle first, then the ends.
pub(crate) fn beside(part: Bounds, block: &TextBlock, spacing: &Spacing) -> Vec<Bounds> {
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
