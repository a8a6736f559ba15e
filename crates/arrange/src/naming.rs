//! Gives every part its caption: below it in a composition, else beside it, else with a leader.

use crate::arranging::{Job, Layout, Room};
use crate::board::Board;
use crate::boundary::{Waiting, place_together};
use crate::caption::{beside, caption_in, place_beside};
use crate::cell::{TextBlock, caption_text, set_caption};
use crate::lettering_size::MeasureText;
use crate::spacing::Spacing;
use piece::{Caption, PartId, Piece};
use shape::{Bounds, Point};
use std::cmp::Ordering;
use std::collections::BTreeSet;

/// More leaders than this are a thicket that no one follows; the captions beyond are told as missing.
const MOST_LEADERS: usize = 80;

/// More captions than this are not placed together a second time.
const MOST_TOGETHER: usize = 40;

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
                let names = inner.names.shifted(by);
                labels.push((&inner.block, names, box_at(at + inner.at, &inner.block)));
            }
        }
        let mut wanted: Vec<usize> = labels.iter().map(|(block, ..)| block.part).collect();
        wanted.extend(self.pinned_waiting.iter().map(|(i, _)| *i));
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
        let mut loose: Vec<(usize, Vec<TextBlock>)> = Vec::new();
        let mut far: Vec<(usize, Vec<TextBlock>)> = Vec::new();
        for (block, body) in waiting {
            let blocks = self.blocks_for(block);
            let id = &piece.parts[block.part].id;
            match place_beside(&self.board, id, body, &blocks, &self.spacing) {
                Some(caption) => {
                    self.board.note(block.part, &caption);
                    captions.push(caption);
                    loose.push((block.part, blocks));
                }
                None => far.push((block.part, blocks)),
            }
        }
        far.extend(std::mem::take(&mut self.pinned_waiting));
        far.truncate(MOST_LEADERS);
        let mut placed = self.together(&far, false);
        loose.extend(std::mem::take(&mut self.pinned_loose));
        if !far.is_empty() && far.len() + loose.len() <= MOST_TOGETHER {
            // Who came first may stand in the way: all that could lie elsewhere are placed once more, together.
            let released = |part: usize| loose.iter().any(|(i, _)| *i == part);
            let kept = self.board.captions.clone();
            self.board.captions.retain(|(i, _)| !released(*i));
            let all: Vec<_> = far.iter().chain(&loose).cloned().collect();
            let again = self.together(&all, true);
            let lost = all.len() - again.len();
            let better = match lost.cmp(&(far.len() - placed.len())) {
                Ordering::Less => true,
                Ordering::Equal => leaders_mm(&again) < leaders_mm(&placed),
                Ordering::Greater => false,
            };
            if better {
                captions.retain(|c| !loose.iter().any(|(i, _)| piece.parts[*i].id == c.part));
                placed = again;
            } else {
                self.board.captions = kept;
            }
        }
        captions.extend(placed);
        let said: BTreeSet<&PartId> = captions.iter().map(|c| &c.part).collect();
        let uncaptioned = wanted
            .into_iter()
            .map(|i| &piece.parts[i].id)
            .filter(|id| !said.contains(id))
            .cloned()
            .collect();
        let numbers = piece.item_numbers();
        captions.sort_by_key(|c| numbers.get(&c.part).copied());
        (captions, uncaptioned)
    }

    /// Captions that found places together, with leaders; and beside their parts too where that is wanted.
    fn together(&self, all: &[(usize, Vec<TextBlock>)], also_beside: bool) -> Vec<Caption> {
        let waiting: Vec<Waiting<'_>> = all
            .iter()
            .filter_map(|(part, blocks)| {
                let (_, tree) = self.board.parts.iter().find(|(i, _)| i == part)?;
                let beside = blocks
                    .iter()
                    .enumerate()
                    .filter(|_| also_beside)
                    .flat_map(|(k, block)| {
                        let places = beside(tree.bounds(), block, &self.spacing);
                        places.into_iter().map(move |b| (k, b))
                    })
                    .collect();
                Some(Waiting {
                    part: *part,
                    tree,
                    blocks: blocks.clone(),
                    beside,
                })
            })
            .collect();
        let spots = place_together(&self.board, &waiting, self.options.seed);
        waiting
            .iter()
            .zip(spots)
            .filter_map(|(w, spot)| {
                let spot = spot?;
                let id = &self.piece.parts[w.part].id;
                let block = &w.blocks[spot.block];
                let letter_mm = self.spacing.letter_mm;
                Some(caption_in(id, block, spot.bounds, letter_mm, spot.leader))
            })
            .collect()
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

/// Length of all leaders, mm.
fn leaders_mm(captions: &[Caption]) -> f64 {
    let lines = captions.iter().flat_map(|c| c.leader.windows(2));
    lines.map(|w| w[0].distance_mm(w[1])).sum()
}

fn box_at(corner: Point, block: &TextBlock) -> Bounds {
    Bounds::between(corner, Point::new(corner.x + block.w, corner.y + block.h))
}

/// Captions of pinned parts, each part by its place in the piece's list.
#[derive(Debug, Default)]
pub(crate) struct PinnedCaptions {
    pub(crate) captions: Vec<Caption>,
    /// Those of `captions` that may go elsewhere, with the ways to break them.
    pub(crate) loose: Vec<(usize, Vec<TextBlock>)>,
    /// Those that found no room beside their part, with the ways to break them.
    pub(crate) waiting: Vec<(usize, Vec<TextBlock>)>,
}

/// Captions of pinned parts come first, so that the others keep clear of them: the one that is there
/// already where it is still good, else one beside the part where nothing pinned is in the way.
pub(crate) fn caption_pinned(
    piece: &Piece,
    board: &mut Board,
    spacing: &Spacing,
    measure: &dyn MeasureText,
) -> PinnedCaptions {
    let mut found = PinnedCaptions::default();
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
        let is_kept = kept.is_some();
        let caption = kept.or_else(|| place_beside(board, &part.id, bounds, &blocks[..1], spacing));
        match caption {
            Some(caption) => {
                board.note(i, &caption);
                found.captions.push(caption);
                if !is_kept {
                    found.loose.push((i, blocks.to_vec()));
                }
            }
            None => found.waiting.push((i, blocks.to_vec())),
        }
    }
    found
}
