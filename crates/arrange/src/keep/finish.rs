//! Placements and captions of a layout that was put right.

use super::{Body, Repair};
use crate::arranging::{Arranged, Room, StoppedBy};
use crate::board::Board;
use crate::boundary::{Waiting, place_together};
use crate::caption::{caption_in, place_beside};
use crate::cell::{TextBlock, set_caption};
use crate::score::score_of;
use piece::Caption;
use shape::{EdgeTree, Vector};

impl Repair<'_> {
    /// Placements and captions of the bodies as they lie now; leaders are kept where they are still free, else set
    /// anew.
    pub(super) fn finish(self, before: &[Body]) -> Arranged {
        let piece = self.piece;
        let mut placements = self.placements.clone();
        for (now, was) in self.bodies.iter().zip(before) {
            let by = now.parts_bounds().min - was.parts_bounds().min;
            if by != Vector::default() {
                for &i in &now.parts {
                    placements[i].x += by.x;
                    placements[i].y += by.y;
                }
            }
        }
        let mut board = Board {
            sheet: self.sheet,
            parts: Vec::new(),
            keep_outs: self.keep_outs.clone(),
            captions: Vec::new(),
            leaders: Vec::new(),
        };
        for (i, placement) in placements.iter().enumerate() {
            let outline = piece.parts[i]
                .shown_outline()
                .placed(placement.board_from_part());
            board.parts.push((i, EdgeTree::new(outline)));
        }
        let index_of = |caption: &Caption| piece.parts.iter().position(|p| p.id == caption.part);
        let mut captions: Vec<Caption> = Vec::new();
        let mut homeless: Vec<(usize, String)> = Vec::new();
        for body in &self.bodies {
            for caption in &body.kept {
                if let Some(i) = index_of(caption) {
                    board.note(i, caption);
                    captions.push(caption.clone());
                }
            }
        }
        for body in &self.bodies {
            for (block, bounds) in &body.fresh {
                if board.is_free(block.part, *bounds) {
                    let id = &piece.parts[block.part].id;
                    let caption = caption_in(id, block, *bounds, self.spacing.letter_mm, None);
                    board.note(block.part, &caption);
                    captions.push(caption);
                } else {
                    homeless.push((block.part, block.text.replace('\n', " ")));
                }
            }
        }
        let done: Vec<&piece::PartId> = captions.iter().map(|c| &c.part).collect();
        let led: Vec<&Caption> = piece
            .captions
            .iter()
            .filter(|c| self.options.captions && !done.contains(&&c.part) && !c.leader.is_empty())
            .collect();
        for caption in led {
            let Some(i) = index_of(caption) else { continue };
            if homeless.iter().any(|(h, _)| *h == i) {
                continue;
            }
            let free = board.is_free(i, caption.bounds())
                && caption
                    .leader
                    .windows(2)
                    .all(|w| board.leader_is_free(i, [w[0], w[1]]))
                && caption
                    .leader
                    .last()
                    .is_some_and(|&end| board.parts[i].1.outline().contains(end));
            if free {
                board.note(i, caption);
                captions.push(caption.clone());
            } else {
                homeless.push((i, caption.text.replace('\n', " ")));
            }
        }
        let mut uncaptioned = Vec::new();
        let mut far: Vec<(usize, Vec<TextBlock>)> = Vec::new();
        for (i, text) in homeless {
            let bounds = board.parts[i].1.bounds();
            let blocks = [bounds.width_mm(), f64::INFINITY, 0.0]
                .map(|beside| set_caption(i, &text, beside, self.spacing.letter_mm, self.measure));
            let id = &piece.parts[i].id;
            match place_beside(&board, id, bounds, &blocks, &self.spacing) {
                Some(caption) => {
                    board.note(i, &caption);
                    captions.push(caption);
                }
                None => far.push((i, blocks.to_vec())),
            }
        }
        let waiting: Vec<Waiting<'_>> = far
            .into_iter()
            .map(|(part, blocks)| Waiting {
                part,
                tree: &board.parts[part].1,
                blocks,
                beside: Vec::new(),
            })
            .collect();
        for (w, spot) in waiting
            .iter()
            .zip(place_together(&board, &waiting, self.options.seed))
        {
            let id = &piece.parts[w.part].id;
            match spot {
                Some(s) => captions.push(caption_in(
                    id,
                    &w.blocks[s.block],
                    s.bounds,
                    self.spacing.letter_mm,
                    s.leader,
                )),
                None => uncaptioned.push(id.clone()),
            }
        }
        let numbers = piece.item_numbers();
        captions.sort_by_key(|c| numbers.get(&c.part).copied());
        let score = score_of(piece, &placements, &captions, self.options);
        Arranged {
            placements,
            captions,
            uncaptioned,
            score,
            room: Room::Kept,
            bands: 1,
            shared_stations: 0,
            stopped_by: StoppedBy::Steps,
        }
    }
}
