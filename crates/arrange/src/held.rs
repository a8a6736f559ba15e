//! Groups of which a part is pinned: the others of the group find their places beside it, before all else.

use crate::arranging::Job;
use crate::board::overlap;
use crate::cell::{Cell, make_cells};
use crate::error::ArrangeError;
use crate::pack::{clear_of, solid};
use piece::{Part, Piece};
use shape::{Bounds, EdgeTree, Point};
use std::collections::BTreeSet;

/// Cells that have their places before the composition, and the block that each group takes up.
#[derive(Debug, Default)]
pub(crate) struct Held {
    pub(crate) cells: Vec<(Cell, Point)>,
    pub(crate) blocks: Vec<Bounds>,
}

/// The parts of each group, as places in the piece's list, in the order of their names.
fn groups_of(piece: &Piece) -> Vec<(&str, Vec<usize>)> {
    let names: BTreeSet<&str> = piece
        .parts
        .iter()
        .filter_map(|p| p.group.as_deref())
        .collect();
    let members = |name: &str| -> Vec<usize> {
        (0..piece.parts.len())
            .filter(|&i| piece.parts[i].group.as_deref() == Some(name))
            .collect()
    };
    names
        .into_iter()
        .map(|name| (name, members(name)))
        .collect()
}

impl Job<'_> {
    /// Places the loose parts of groups that have a pinned one.
    ///
    /// # Errors
    /// [`ArrangeError::GroupTorn`] where pinned parts of a group have another pinned part between them, or there
    /// is no room beside them.
    pub(crate) fn hold_groups(&self) -> Result<Held, ArrangeError> {
        let piece = self.piece;
        let mut held = Held::default();
        let mut on_board: Vec<(usize, EdgeTree)> = self.board.parts.clone();
        for (name, members) in groups_of(piece) {
            let pinned: Vec<usize> = members
                .iter()
                .copied()
                .filter(|i| self.board.parts.iter().any(|(p, _)| p == i))
                .collect();
            if pinned.is_empty() || members.len() < 2 {
                continue;
            }
            let Some(core) = self
                .board
                .parts
                .iter()
                .filter(|(i, _)| pinned.contains(i))
                .map(|(_, t)| t.bounds())
                .reduce(Bounds::joined)
            else {
                continue;
            };
            let foreign: Vec<&(usize, EdgeTree)> = on_board
                .iter()
                .filter(|(i, _)| piece.parts[*i].group.as_deref() != Some(name))
                .collect();
            if let Some((between, _)) = foreign.iter().find(|(_, t)| meets(t, core)) {
                return Err(torn(piece, name, &pinned, Some(&piece.parts[*between])));
            }
            let loose: BTreeSet<usize> = members
                .into_iter()
                .filter(|i| !pinned.contains(i))
                .collect();
            let made = make_cells(piece, &loose, &self.spacing, self.measure, true);
            let mut block = core;
            for cell in made {
                let Some((at, grown)) = self.beside(&cell, block, &on_board, name, &held.blocks)
                else {
                    return Err(torn(piece, name, &pinned, None));
                };
                block = grown;
                for (turned, corner) in cell.members_at(at) {
                    let outline = turned.outline.shifted(corner - turned.bounds.min);
                    on_board.push((turned.index, EdgeTree::new(outline)));
                }
                held.cells.push((cell, at));
            }
            held.blocks.push(block);
        }
        Ok(held)
    }

    /// The free place for a cell nearest to its group's block, and the block with the cell in it.
    fn beside(
        &self,
        cell: &Cell,
        block: Bounds,
        on_board: &[(usize, EdgeTree)],
        group: &str,
        blocks: &[Bounds],
    ) -> Option<(Point, Bounds)> {
        let gap = self.spacing.gap_mm;
        let hang = if self.spacing.captions && cell.is_captioned() {
            self.spacing.own_caption_drop_mm() + cell.caption.h
        } else {
            0.0
        };
        let field = self.piece.frame.field();
        let [w, h] = cell.body;
        let members = solid(cell, self.piece.layout.nesting);
        let foreign: Vec<&EdgeTree> = on_board
            .iter()
            .filter(|(i, _)| self.piece.parts[*i].group.as_deref() != Some(group))
            .map(|(_, t)| t)
            .collect();
        let all = on_board.iter().map(|(_, t)| t);
        let mut best: Option<(f64, Point, Bounds)> = None;
        for p in places_round(block, [w, h], gap, hang + gap) {
            let body = Bounds::between(p, Point::new(p.x + w, p.y + h));
            let grown = block.joined(body);
            if !field.holds(body)
                || foreign.iter().any(|t| meets(t, grown))
                || blocks.iter().any(|b| overlap(*b, grown))
                || self
                    .board
                    .keep_outs
                    .iter()
                    .any(|k| overlap(k.grown(gap), body))
                || self
                    .board
                    .captions
                    .iter()
                    .any(|(_, c)| overlap(c.grown(1.0), body))
                || !clear_of(&members, p, all.clone(), gap)
            {
                continue;
            }
            let off = body.centre().distance_mm(block.centre());
            let price = grown.width_mm() + grown.height_mm() + 0.1 * off;
            if best.as_ref().is_none_or(|(b, ..)| price < *b) {
                best = Some((price, p, grown));
            }
        }
        best.map(|(_, p, grown)| (p, grown))
    }
}

/// Lower-left corners round a block, level with its middle and its edges and in small steps between.
fn places_round(block: Bounds, [w, h]: [f64; 2], gap: f64, above: f64) -> Vec<Point> {
    const STEPS: usize = 16;
    let mut places = Vec::new();
    let slide = |low: f64, high: f64, size: f64| -> Vec<f64> {
        let (from, to) = (low - size, high);
        let middle = 0.5 * (low + high - size);
        [middle, low, high - size]
            .into_iter()
            .chain((0..=STEPS).map(|k| from + (to - from) * k as f64 / STEPS as f64))
            .collect()
    };
    for (rise, apart) in [(above, gap), (gap, gap), (2.0 * above, 2.0 * gap)] {
        for x in slide(block.min.x, block.max.x, w) {
            places.push(Point::new(x, block.min.y - rise - h));
            places.push(Point::new(x, block.max.y + rise));
        }
        for y in slide(block.min.y, block.max.y, h) {
            places.push(Point::new(block.max.x + apart, y));
            places.push(Point::new(block.min.x - apart - w, y));
        }
    }
    places
}

/// A part reaches into a box.
pub(crate) fn meets(part: &EdgeTree, bounds: Bounds) -> bool {
    overlap(part.bounds(), bounds)
        && crate::board::box_tree(bounds).is_some_and(|b| crate::board::share_area(&b, part))
}

fn torn(piece: &Piece, group: &str, pinned: &[usize], between: Option<&Part>) -> ArrangeError {
    let names: Vec<&str> = pinned
        .iter()
        .map(|&i| piece.parts[i].name.as_str())
        .collect();
    ArrangeError::GroupTorn {
        group: group.to_owned(),
        pinned: pinned.iter().map(|&i| piece.parts[i].id.clone()).collect(),
        between: between.map(|p| p.id.clone()),
        problem: match between {
            Some(part) => format!("{} lies pinned between {}", part.name, names.join(" and ")),
            None => format!(
                "the others of it find no room beside {}",
                names.join(" and ")
            ),
        },
    }
}
