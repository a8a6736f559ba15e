//! Gives every part its caption: below it in a composition, else beside it, else with a leader.

use crate::arranging::{Job, Layout, Room};
use crate::board::Board;
use crate::caption::{caption_in, place_beside, place_with_leader};
use crate::cell::{Cell, TextBlock, caption_text, set_caption};
use crate::lettering_size::MeasureText;
use crate::spacing::Spacing;
use piece::{Caption, PartId, Piece};
use shape::{Bounds, Point};

/// More leaders than this are a thicket that no one follows; the captions beyond are told as missing.
const MOST_LEADERS: usize = 80;

impl Job<'_> {
    pub(crate) fn caption_all(&mut self, layout: &Layout) -> (Vec<Caption>, Vec<PartId>) {
        let piece = self.piece;
        let cells = std::mem::take(&mut self.cells);
        let mut captions = self.pinned_captions.clone();
        let mut waiting: Vec<(&Cell, Point)> = Vec::new();
        for (cell, &at) in cells.iter().zip(&layout.at) {
            let id = &piece.parts[cell.caption.part].id;
            let [w, h] = cell.body;
            let body = Bounds::between(at, Point::new(at.x + w, at.y + h));
            let below = Point::new(
                body.centre().x - 0.5 * cell.caption.w,
                body.min.y - self.spacing.own_caption_drop_mm() - cell.caption.h,
            );
            let below = Bounds::between(
                below,
                Point::new(below.x + cell.caption.w, below.y + cell.caption.h),
            );
            if layout.room == Room::Composed && self.board.is_free(cell.caption.part, below) {
                let caption = caption_in(id, &cell.caption, below, self.spacing.letter_mm, None);
                self.board.note(cell.caption.part, &caption);
                captions.push(caption);
            } else {
                waiting.push((cell, at));
            }
        }
        // Beside first, the largest parts first; then leaders for the rest.
        let mut far: Vec<(&Cell, Point)> = Vec::new();
        for (cell, at) in waiting {
            let [w, h] = cell.body;
            let body = Bounds::between(at, Point::new(at.x + w, at.y + h));
            let blocks = self.blocks_for(cell);
            let id = &piece.parts[cell.caption.part].id;
            match place_beside(&self.board, id, body, &blocks, &self.spacing) {
                Some(caption) => {
                    self.board.note(cell.caption.part, &caption);
                    captions.push(caption);
                }
                None => far.push((cell, at)),
            }
        }
        let pinned_waiting = std::mem::take(&mut self.pinned_waiting);
        let far: Vec<(usize, Vec<TextBlock>)> = far
            .into_iter()
            .map(|(cell, _)| (cell.caption.part, self.blocks_for(cell)))
            .chain(pinned_waiting)
            .collect();
        let mut uncaptioned = Vec::new();
        for (led, (index, blocks)) in far.into_iter().enumerate() {
            let id = &piece.parts[index].id;
            let tree = self.board.parts.iter().find(|(i, _)| *i == index);
            let tree = tree.filter(|_| led < MOST_LEADERS);
            let caption = tree.and_then(|(_, tree)| {
                place_with_leader(&self.board, id, tree, &blocks, &self.spacing)
            });
            match caption {
                Some(caption) => {
                    self.board.note(index, &caption);
                    captions.push(caption);
                }
                None => uncaptioned.push(id.clone()),
            }
        }
        let numbers = piece.item_numbers();
        captions.sort_by_key(|c| numbers.get(&c.part).copied());
        (captions, uncaptioned)
    }

    /// The ways to break a cell's caption: as composed, and in one line.
    fn blocks_for(&self, cell: &Cell) -> Vec<TextBlock> {
        let members = cell.members.iter().map(|(t, _)| &self.piece.parts[t.index]);
        let text = caption_text(members);
        let set = |beside_mm: f64| {
            set_caption(
                cell.caption.part,
                &text,
                beside_mm,
                self.spacing.letter_mm,
                self.measure,
            )
        };
        let mut blocks = vec![cell.caption.clone(), set(f64::INFINITY), set(0.0)];
        blocks.dedup();
        blocks
    }
}

/// Captions of pinned parts come first, so that the others keep clear of them: the one that is there
/// already where it is still good, else one beside the part where nothing pinned is in the way.
pub(crate) fn caption_pinned(
    piece: &Piece,
    board: &mut Board,
    spacing: &Spacing,
    measure: &dyn MeasureText,
) -> (Vec<Caption>, Vec<(usize, Vec<TextBlock>)>) {
    let (mut captions, mut waiting) = (Vec::new(), Vec::new());
    let pinned: Vec<(usize, Bounds)> = board.parts.iter().map(|(i, t)| (*i, t.bounds())).collect();
    for (i, bounds) in pinned {
        let part = &piece.parts[i];
        let kept = piece
            .caption(&part.id)
            .filter(|c| c.leader.is_empty() && board.is_free(i, c.bounds()))
            .cloned();
        let text = caption_text(std::iter::once(part));
        let blocks = [bounds.width_mm(), f64::INFINITY, 0.0]
            .map(|beside_mm| set_caption(i, &text, beside_mm, spacing.letter_mm, measure));
        let found = kept.or_else(|| place_beside(board, &part.id, bounds, &blocks[..1], spacing));
        match found {
            Some(caption) => {
                board.note(i, &caption);
                captions.push(caption);
            }
            None => waiting.push((i, blocks.to_vec())),
        }
    }
    (captions, waiting)
}
