//! The whole job: cells, composition, captions.

use crate::axes::Axes;
use crate::board::{Board, caption_sheet, keep_outs, share_area};
use crate::cell::{Cell, TextBlock, make_cells};
use crate::error::{ArrangeError, TooLarge};
use crate::free::free_rectangles;
use crate::held::Held;
use crate::lettering_size::{MeasureText, letter_height_mm};
use crate::naming::{PinnedCaptions, caption_pinned};
use crate::pack::{Choice, Taken, pack};
use crate::plan::Setting;
use crate::score::{Score, leaders};
use crate::search::{Found, find_plan};
use crate::spacing::{CAPTION_CLEAR_MM, Spacing};
use crate::{Options, fit};
use piece::{Caption, PartId, Piece, Placement, Style};
use shape::{Bounds, EdgeTree, Point, Watch};
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

/// Free rectangles that a composition is tried in, the largest first.
const REGIONS: usize = 3;

/// More cells than this are composed or refused: packing them one by one would take minutes, and no
/// one hangs so many without rows.
const MOST_TO_PACK: usize = 150;

/// A part of the field, and what in it is taken.
#[derive(Debug, Clone)]
struct Place {
    region: Bounds,
    obstacles: Vec<Bounds>,
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

    /// Boxes that bodies must keep out of: pinned parts with their gap, their captions, keep-outs.
    pub(crate) fn obstacles(&self) -> Vec<Bounds> {
        let gap = self.spacing.gap_mm;
        let parts = self.board.parts.iter().map(|(_, t)| t.bounds().grown(gap));
        let captions = self
            .board
            .captions
            .iter()
            .map(|(_, b)| b.grown(self.spacing.beside_caption_mm()));
        let keep_outs = self.board.keep_outs.iter().map(|k| k.grown(gap));
        let blocks = self.held.blocks.iter().map(|b| b.grown(gap));
        parts
            .chain(captions)
            .chain(keep_outs)
            .chain(blocks)
            .collect()
    }

    fn lay_out(&mut self, watch: &dyn Watch) -> Result<Option<Layout>, ArrangeError> {
        if self.piece.layout.style == Style::Exploded
            && let Some((cells, layout)) = self.spread_out(self.spacing, watch)
        {
            self.cells = cells;
            return Ok(Some(layout));
        }
        if self.cells.is_empty() {
            return Ok(Some(Layout {
                at: Vec::new(),
                room: Room::Composed,
                score: Score::default(),
                bands: 0,
                shared_stations: 0,
                stopped: false,
            }));
        }
        let field = self.piece.frame.field();
        let least_mm2: f64 = self.cells.iter().map(|c| c.weight).sum();
        if least_mm2 > field.width_mm() * field.height_mm() {
            return Ok(None);
        }
        let places = self.places_to_compose();
        let mut nearest: Option<Found> = None;
        for &captions in if self.options.captions {
            &[true, false][..]
        } else {
            &[false][..]
        } {
            let spacing = Spacing {
                captions,
                ..self.spacing
            };
            for place in &places {
                let Some(found) = self.compose(place.clone(), spacing, watch) else {
                    continue;
                };
                if found.fits() {
                    let room = if captions == self.options.captions {
                        Room::Composed
                    } else {
                        Room::Tight
                    };
                    return Ok(Some(self.layout_of(&found, room)));
                }
                if nearest.is_none() {
                    nearest = Some(found);
                }
            }
        }
        self.pack(nearest, field, watch)
    }

    /// Where a composition is tried, the best first: the whole field around what is pinned or kept
    /// free, then the largest free rectangles.
    fn places_to_compose(&self) -> Vec<Place> {
        let field = self.piece.frame.field();
        let obstacles: Vec<Bounds> = self
            .obstacles()
            .into_iter()
            .filter(|o| crate::board::overlap(*o, field))
            .collect();
        let free = free_rectangles(field, &obstacles)
            .into_iter()
            .take(REGIONS)
            .map(|region| Place {
                region,
                obstacles: Vec::new(),
            });
        if obstacles.is_empty() {
            return free.collect();
        }
        let around = Place {
            region: field,
            obstacles: obstacles.clone(),
        };
        std::iter::once(around).chain(free).collect()
    }

    fn compose(&self, place: Place, spacing: Spacing, watch: &dyn Watch) -> Option<Found> {
        let axes = Axes {
            spread: self.piece.layout.spread,
            region: place.region,
        };
        let mut setting = Setting::new(
            &self.cells,
            axes,
            spacing,
            self.options.weights,
            place.obstacles,
        );
        if self.piece.layout.style == Style::Knolled {
            setting.rows = true;
            let in_rows = find_plan(&setting, self.options.seed, self.steps(), watch);
            if in_rows.as_ref().is_some_and(|f| f.fits() || f.stopped) {
                return in_rows;
            }
            // Rows of single parts take more room than parts that are stacked where there is some.
            setting.rows = false;
        }
        find_plan(&setting, self.options.seed, self.steps(), watch)
    }

    /// Steps for so many cells. The work of one grows faster than their number, so beyond two dozen
    /// they become fewer: a piece of two thousand parts takes no longer than one of sixty.
    pub(crate) fn steps(&self) -> u32 {
        let n = self.cells.len().max(1) as f64;
        let share = (24.0 / n).min(1.0) * (60.0 / n).min(1.0);
        (f64::from(self.options.steps) * share) as u32
    }

    fn layout_of(&self, found: &Found, room: Room) -> Layout {
        let layers_count = self.piece.layout.style == Style::Exploded;
        let shared = found
            .plan
            .bands
            .iter()
            .flatten()
            .filter(|_| layers_count)
            .filter(|station| {
                let mut layers: Vec<u32> = station
                    .iter()
                    .flatten()
                    .map(|&c| self.cells[c].layer)
                    .collect();
                layers.sort_unstable();
                layers.dedup();
                layers.len() > 1
            })
            .count();
        Layout {
            at: found.composed.at.clone(),
            room,
            score: found.score,
            bands: found.plan.bands.len(),
            shared_stations: shared,
            stopped: found.stopped,
        }
    }

    /// Squeezes what does not fit as a composition into the free room.
    fn pack(
        &self,
        nearest: Option<Found>,
        field: Bounds,
        watch: &dyn Watch,
    ) -> Result<Option<Layout>, ArrangeError> {
        if self.cells.len() > MOST_TO_PACK {
            return Ok(None);
        }
        let wishes = match &nearest {
            Some(found) => squeezed(&found.composed.at, found.composed.extent, field),
            None => vec![field.min; self.cells.len()],
        };
        let taken = Taken {
            parts: self.board.parts.iter().map(|(_, t)| t.clone()).collect(),
            boxes: self
                .board
                .captions
                .iter()
                .map(|(_, b)| b.grown(CAPTION_CLEAR_MM))
                .chain(
                    self.board
                        .keep_outs
                        .iter()
                        .map(|k| k.grown(self.spacing.gap_mm)),
                )
                .chain(
                    self.held
                        .blocks
                        .iter()
                        .map(|b| b.grown(self.spacing.gap_mm)),
                )
                .collect(),
        };
        for choice in [Choice::Nearest, Choice::LowestLeft] {
            let at = pack(
                &self.cells,
                &wishes,
                field,
                &taken,
                &self.spacing,
                choice,
                self.piece.layout.nesting,
                watch,
            )
            .map_err(|_| ArrangeError::Cancelled)?;
            if let Some(at) = at {
                return Ok(Some(Layout {
                    at,
                    room: Room::Packed,
                    score: nearest.map(|f| f.score).unwrap_or_default(),
                    bands: 1,
                    shared_stations: 0,
                    stopped: false,
                }));
            }
        }
        Ok(None)
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

/// Carries places from a composition that is too large into the field.
fn squeezed(at: &[Point], from: Bounds, field: Bounds) -> Vec<Point> {
    let scale = |have: f64, room: f64| if have > room { room / have } else { 1.0 };
    let (sx, sy) = (
        scale(from.width_mm(), field.width_mm()),
        scale(from.height_mm(), field.height_mm()),
    );
    let c = from.centre();
    let to = field.centre();
    at.iter()
        .map(|p| Point::new(to.x + sx * (p.x - c.x), to.y + sy * (p.y - c.y)))
        .collect()
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
