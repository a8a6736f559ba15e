//! Gives every part its caption: below it in a composition, else beside it, else with a leader.

use crate::arranging::{Job, Layout, Room};
use crate::board::Board;
use crate::boundary::{Waiting, place_together};
use crate::caption::{caption_in, place_beside};
use crate::cell::{TextBlock, caption_text, set_caption};
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
        // What is said of which box, and where it would lie in the composition.
        let mut labels: Vec<(&TextBlock, Bounds, Bounds)> = Vec::new();
        for (cell, &at) in cells.iter().zip(&layout.at) {
            let [w, h] = cell.body;
            if cell.is_captioned() {
                let body = Bounds::between(at, Point::new(at.x + w, at.y + h));
                let below = Point::new(
                    body.centre().x - 0.5 * cell.caption.w,
                    body.min.y - self.spacing.own_caption_drop_mm() - cell.caption.h,
                );
                labels.push((&cell.caption, body, box_at(below, &cell.caption)));
            }
            let by = at - Point::default();
            for inner in &cell.inner {
                let names = Bounds {
                    min: inner.names.min + by,
                    max: inner.names.max + by,
                };
                labels.push((&inner.block, names, box_at(at + inner.at, &inner.block)));
            }
        }
        let has_room = matches!(layout.room, Room::Composed | Room::Spread);
        let mut waiting: Vec<(&TextBlock, Bounds)> = Vec::new();
        for (block, body, below) in labels {
            let in_group = cells
                .iter()
                .any(|c| c.inner.iter().any(|i| i.block.part == block.part));
            if (has_room || in_group) && self.board.is_free(block.part, below) {
                let id = &piece.parts[block.part].id;
                let caption = caption_in(id, block, below, self.spacing.letter_mm, None);
                self.board.note(block.part, &caption);
                captions.push(caption);
            } else {
                waiting.push((block, body));
            }
        }
        // Beside first, the largest parts first; then leaders for the rest.
        let mut far: Vec<(usize, Vec<TextBlock>)> = Vec::new();
        for (block, body) in waiting {
            let blocks = self.blocks_for(block);
            let id = &piece.parts[block.part].id;
            match place_beside(&self.board, id, body, &blocks, &self.spacing) {
                Some(caption) => {
                    self.board.note(block.part, &caption);
                    captions.push(caption);
                }
                None => far.push((block.part, blocks)),
            }
        }
        far.extend(std::mem::take(&mut self.pinned_waiting));
        let mut uncaptioned = Vec::new();
        let waiting: Vec<Waiting<'_>> = far
            .into_iter()
            .filter_map(|(part, blocks)| {
                let (_, tree) = self.board.parts.iter().find(|(i, _)| *i == part)?;
                Some(Waiting { part, tree, blocks })
            })
            .collect();
        let led = waiting.len().min(MOST_LEADERS);
        let mut spots = place_together(&self.board, &waiting[..led], self.options.seed);
        spots.resize(waiting.len(), None);
        for (waiting, spot) in waiting.iter().zip(spots) {
            let id = &piece.parts[waiting.part].id;
            match spot {
                Some(spot) => captions.push(caption_in(
                    id,
                    &waiting.blocks[spot.block],
                    spot.bounds,
                    self.spacing.letter_mm,
                    Some(spot.leader),
                )),
                None => uncaptioned.push(id.clone()),
            }
        }
        let numbers = piece.item_numbers();
        captions.sort_by_key(|c| numbers.get(&c.part).copied());
        (captions, uncaptioned)
    }

    /// The ways to break a caption: as composed, in one line, and as narrow as its words allow.
    fn blocks_for(&self, block: &TextBlock) -> Vec<TextBlock> {
        let text = block.text.replace('\n', " ");
        let set = |beside_mm: f64| {
            set_caption(
                block.part,
                &text,
                beside_mm,
                self.spacing.letter_mm,
                self.measure,
            )
        };
        let mut blocks = vec![block.clone(), set(f64::INFINITY), set(0.0)];
        blocks.dedup();
        blocks
    }
}

fn box_at(corner: Point, block: &TextBlock) -> Bounds {
    Bounds::between(corner, Point::new(corner.x + block.w, corner.y + block.h))
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
