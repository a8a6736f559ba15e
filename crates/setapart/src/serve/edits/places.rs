//! Where parts lie, and their order.

use super::{EditError, known};
use piece::{PartId, Piece, Placement};
use shape::{Point, Pose};

pub(super) fn placement_of<'a>(
    piece: &'a mut Piece,
    id: &PartId,
) -> Result<&'a mut Placement, EditError> {
    let k = known(piece, id)?;
    let name = piece.parts[k].name.clone();
    let found = piece.placements.iter_mut().find(|p| p.part == *id);
    found.ok_or(EditError::NotPlaced(name))
}

pub(super) fn take_off(piece: &mut Piece, id: &PartId) {
    piece.placements.retain(|p| p.part != *id);
    piece.captions.retain(|c| c.part != *id);
}

/// Moves a part; its caption goes with it where it lies beside it, and the leader's end where it is led.
pub(super) fn place(piece: &mut Piece, id: &PartId, to: Pose) -> Result<(), EditError> {
    let k = known(piece, id)?;
    let outline = piece.parts[k].shown_outline();
    let after = outline.bounds().centre();
    let Some(placement) = piece.placements.iter_mut().find(|p| p.part == *id) else {
        piece.placements.push(Placement {
            part: id.clone(),
            x: to.x,
            y: to.y,
            turn_deg: to.turn_deg,
            pinned: false,
        });
        sort_like_parts(piece);
        return Ok(());
    };
    let from = placement.board_from_part();
    (placement.x, placement.y, placement.turn_deg) = (to.x, to.y, to.turn_deg);
    let by = to.apply(after) - from.apply(after);
    if let Some(caption) = piece.captions.iter_mut().find(|c| c.part == *id) {
        if caption.leader.is_empty() {
            caption.x += by.x;
            caption.y += by.y;
        } else if let Some(end) = caption.leader.last_mut() {
            // The end stays at its place on the part.
            *end = to.apply(from.inverse().apply(*end));
        }
    }
    Ok(())
}

pub(super) fn sort_like_parts(piece: &mut Piece) {
    let rank = |id: &PartId| piece.parts.iter().position(|p| p.id == *id);
    piece.placements.sort_by_key(|p| rank(&p.part));
    piece.captions.sort_by_key(|c| rank(&c.part));
}

pub(super) fn swap(piece: &mut Piece, id: &PartId, with: &PartId) -> Result<(), EditError> {
    let (a, b) = (known(piece, id)?, known(piece, with)?);
    let centre_of = |piece: &Piece, k: usize| {
        let part = &piece.parts[k];
        let placement = piece.placement(&part.id)?;
        let middle = part.shown_outline().bounds().centre();
        Some(placement.board_from_part().apply(middle))
    };
    let Some(place_a) = centre_of(piece, a) else {
        return Err(EditError::NotPlaced(piece.parts[a].name.clone()));
    };
    let place_b = centre_of(piece, b);
    put_centre(piece, b, place_a)?;
    match place_b {
        Some(place) => put_centre(piece, a, place),
        None => {
            take_off(piece, id);
            Ok(())
        }
    }
}

/// Puts a part's middle at a point, turned as it is, or as its home has it.
fn put_centre(piece: &mut Piece, k: usize, at: Point) -> Result<(), EditError> {
    let part = &piece.parts[k];
    let turn_deg = piece
        .placement(&part.id)
        .map(|p| p.turn_deg)
        .or(part.home.map(|h| h.turn_deg))
        .unwrap_or(0.0);
    let middle = part.shown_outline().bounds().centre();
    let id = part.id.clone();
    place(piece, &id, Pose::bringing(middle, at, turn_deg))
}

pub(super) fn order(piece: &mut Piece, ids: &[PartId]) -> Result<(), EditError> {
    let mut left = std::mem::take(&mut piece.parts);
    let mut sorted = Vec::with_capacity(left.len());
    for id in ids {
        let Some(k) = left.iter().position(|p| p.id == *id) else {
            return Err(EditError::NoSuchPart(id.clone()));
        };
        sorted.push(left.remove(k));
    }
    // Parts that this window did not know of yet stay at the end.
    sorted.append(&mut left);
    piece.parts = sorted;
    sort_like_parts(piece);
    Ok(())
}
