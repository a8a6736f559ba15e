//! The whole job: cells, composition, captions.

mod lay_out;

use crate::board::{Board, caption_sheet, keep_outs, share_area};
use crate::cell::{Cell, TextBlock, make_cells};
use crate::error::{ArrangeError, TooLarge};
use crate::held::Held;
use crate::lettering_size::{MeasureText, letter_height_mm};
use crate::naming::{PinnedCaptions, caption_pinned};
use crate::score::{Score, leaders};
use crate::spacing::Spacing;
use crate::{Options, fit};
use piece::{Caption, PartId, Piece, Placement};
use shape::{EdgeTree, Point, Watch};
use std::collections::BTreeSet;

/// What ended the search.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StoppedBy {
    /// All its steps were done: the same piece, seed and steps give the same bytes again.
    Steps,
    /// The watch said so: a person cancelled or the caller's time was up. The best layout seen so far
    /// is returned; it keeps all rules.
    Watch,
}

/// How the parts found their places.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Room {
    /// Spread along the run in one piece, as the device comes apart, and moved no more than needed.
    Spread,
    /// Composed in rows, each caption below its part.
    Composed,
    /// Composed in rows without room for captions; they found places afterwards.
    Tight,
    /// No composition fits: each part lies in the free place nearest to where it should be.
    Packed,
    /// A layout that was there was put right.
    Kept,
}

/// Where parts and captions go.
#[derive(Debug, Clone, PartialEq)]
pub struct Arranged {
    /// All placements in the order of the parts list, pinned ones unchanged.
    pub placements: Vec<Placement>,
    /// All captions in the order of the parts list. Equal small parts in one row share a caption.
    pub captions: Vec<Caption>,
    /// Parts for whose caption there was no room.
    pub uncaptioned: Vec<PartId>,
    /// Why this layout was chosen.
    pub score: Score,
    /// How the parts found their places.
    pub room: Room,
    /// Bands that the run of layers is folded into.
    pub bands: usize,
    /// Stations in which several layers stand together.
    pub shared_stations: usize,
    /// What ended the search.
    pub stopped_by: StoppedBy,
}

/// Places of cells' bodies and what is known of how they were found.
pub(crate) struct Layout {
    pub(crate) at: Vec<Point>,
    pub(crate) room: Room,
    pub(crate) score: Score,
    pub(crate) bands: usize,
    pub(crate) shared_stations: usize,
    pub(crate) stopped: bool,
}

/// [`crate::arrange`] with another way to measure text.
///
/// # Errors
/// As [`crate::arrange`].
pub fn arrange_with(
    piece: &Piece,
    options: &Options,
    measure: &dyn MeasureText,
    watch: &dyn Watch,
) -> Result<Arranged, ArrangeError> {
    piece.check_sound().map_err(ArrangeError::Unsound)?;
    let job = Job::new(piece, options, measure)?;
    job.run(watch)
}

/// Everything that is fixed before places are sought.
pub(crate) struct Job<'a> {
    pub(crate) piece: &'a Piece,
    pub(crate) options: &'a Options,
    pub(crate) measure: &'a dyn MeasureText,
    pub(crate) spacing: Spacing,
    pub(crate) cells: Vec<Cell>,
    /// Cells of groups with a pinned part: they have their places already.
    pub(crate) held: Held,
    /// Pinned parts, their keep-outs and their captions.
    pub(crate) board: Board,
    pub(crate) pinned_captions: Vec<Caption>,
    /// Pinned parts that found no room for a caption beside them, with the ways to break it.
    pub(crate) pinned_waiting: Vec<(usize, Vec<TextBlock>)>,
    /// Pinned parts whose caption lies beside them and may go elsewhere.
    pub(crate) pinned_loose: Vec<(usize, Vec<TextBlock>)>,
}

impl<'a> Job<'a> {
    pub(crate) fn new(
        piece: &'a Piece,
        options: &'a Options,
        measure: &'a dyn MeasureText,
    ) -> Result<Self, ArrangeError> {
        let spacing = Spacing {
            gap_mm: piece.layout.gap_mm,
            letter_mm: letter_height_mm(options.viewing_distance_m),
            captions: options.captions,
        };
        let pinned: BTreeSet<usize> = piece
            .parts
            .iter()
            .enumerate()
            .filter(|(_, part)| piece.placement(&part.id).is_some_and(|p| p.pinned))
            .map(|(i, _)| i)
            .collect();
        let movable: BTreeSet<usize> = (0..piece.parts.len())
            .filter(|i| !pinned.contains(i))
            .collect();
        let mut board = Board {
            sheet: caption_sheet(piece),
            parts: pinned
                .iter()
                .filter_map(|&i| {
                    let part = &piece.parts[i];
                    let placement = piece.placement(&part.id)?;
                    let outline = part.shown_outline().placed(placement.board_from_part());
                    Some((i, EdgeTree::new(outline)))
                })
                .collect(),
            keep_outs: keep_outs(piece),
            captions: Vec::new(),
            leaders: Vec::new(),
        };
        refuse_pinned_conflicts(piece, &board)?;
        let pinned_captions = if options.captions {
            caption_pinned(piece, &mut board, &spacing, measure)
        } else {
            PinnedCaptions::default()
        };
        let mut job = Self {
            piece,
            options,
            measure,
            spacing,
            cells: Vec::new(),
            held: Held::default(),
            board,
            pinned_captions: pinned_captions.captions,
            pinned_waiting: pinned_captions.waiting,
            pinned_loose: pinned_captions.loose,
        };
        job.held = job.hold_groups()?;
        let held: BTreeSet<usize> = job
            .held
            .cells
            .iter()
            .flat_map(|(c, _)| c.members.iter().map(|(t, _)| t.index))
            .collect();
        let movable: BTreeSet<usize> = movable.difference(&held).copied().collect();
        job.cells = make_cells(piece, &movable, &spacing, measure, true);
        Ok(job)
    }

    fn run(mut self, watch: &dyn Watch) -> Result<Arranged, ArrangeError> {
        self.refuse_too_large()?;
        let layout = match self.lay_out(watch)? {
            Some(layout) => layout,
            None => return Err(self.no_room()),
        };
        Ok(self.finish(layout))
    }

    /// A layout, or `None` where there is no room, without looking for the frame that would do.
    pub(crate) fn attempt(mut self, watch: &dyn Watch) -> Result<Option<Arranged>, ArrangeError> {
        let layout = self.lay_out(watch)?;
        Ok(layout.map(|layout| self.finish(layout)))
    }

    fn refuse_too_large(&self) -> Result<(), ArrangeError> {
        let field = self.piece.frame.field();
        for cell in &self.cells {
            for (turned, _) in &cell.members {
                let part = &self.piece.parts[turned.index];
                if let Some(size_mm) = fit::too_large_for(part, field) {
                    return Err(ArrangeError::PartTooLarge(Box::new(TooLarge {
                        part: part.id.clone(),
                        name: part.name.clone(),
                        size_mm,
                        field_mm: [field.width_mm(), field.height_mm()],
                        least_frame_mm: self.least_frame_mm(),
                    })));
                }
            }
            let [w, h] = cell.body;
            if let Some(group) = &cell.group
                && (w > field.width_mm() + 1e-9 || h > field.height_mm() + 1e-9)
            {
                return Err(ArrangeError::GroupTooLarge {
                    group: group.clone(),
                    size_mm: cell.body,
                    field_mm: [field.width_mm(), field.height_mm()],
                    least_frame_mm: self.least_frame_mm(),
                });
            }
        }
        Ok(())
    }

    fn no_room(&self) -> ArrangeError {
        let field = self.piece.frame.field();
        ArrangeError::NoRoom {
            parts: self.cells.iter().map(|c| c.members.len()).sum(),
            gap_mm: self.spacing.gap_mm,
            field_mm: [field.width_mm(), field.height_mm()],
            least_frame_mm: self.least_frame_mm(),
        }
    }

    /// Makes placements and captions of the cells' places.
    fn finish(mut self, layout: Layout) -> Arranged {
        let piece = self.piece;
        let mut placements: Vec<Option<Placement>> = vec![None; piece.parts.len()];
        for (i, part) in piece.parts.iter().enumerate() {
            placements[i] = piece.placement(&part.id).filter(|p| p.pinned).cloned();
        }
        let mut layout = layout;
        for (cell, at) in std::mem::take(&mut self.held.cells) {
            self.cells.push(cell);
            layout.at.push(at);
        }
        for (cell, at) in self.cells.iter().zip(&layout.at) {
            for (turned, corner) in cell.members_at(*at) {
                let shift = corner - turned.bounds.min;
                let placement = Placement {
                    part: piece.parts[turned.index].id.clone(),
                    x: shift.x,
                    y: shift.y,
                    turn_deg: turned.turn_deg,
                    pinned: false,
                };
                let tree = EdgeTree::new(
                    piece.parts[turned.index]
                        .shown_outline()
                        .placed(placement.board_from_part()),
                );
                self.board.parts.push((turned.index, tree));
                placements[turned.index] = Some(placement);
            }
        }
        self.board.parts.sort_by_key(|(i, _)| *i);
        let (captions, uncaptioned) = if self.options.captions {
            self.caption_all(&layout)
        } else {
            (Vec::new(), Vec::new())
        };
        let mut score = layout.score;
        score.leaders = leaders(&captions, piece.frame.field(), piece.parts.len());
        Arranged {
            placements: placements.into_iter().flatten().collect(),
            captions,
            uncaptioned,
            score,
            room: layout.room,
            bands: layout.bands,
            shared_stations: layout.shared_stations,
            stopped_by: if layout.stopped {
                StoppedBy::Watch
            } else {
                StoppedBy::Steps
            },
        }
    }
}

/// Pinned parts that lie on each other cannot be put right without moving them.
fn refuse_pinned_conflicts(piece: &Piece, board: &Board) -> Result<(), ArrangeError> {
    for (k, (i, a)) in board.parts.iter().enumerate() {
        for (j, b) in &board.parts[k + 1..] {
            if share_area(a, b) {
                return Err(ArrangeError::pinned_overlap(
                    &piece.parts[*i],
                    &piece.parts[*j],
                ));
            }
        }
    }
    Ok(())
}
