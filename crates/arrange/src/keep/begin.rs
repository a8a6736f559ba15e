//! A layout as it is found: what moves as one, where new parts would like to lie, what breaks a rule.

use super::{Body, Repair, overlap_beyond};
use crate::alike::alike;
use crate::board::{caption_sheet, keep_outs, share_area};
use crate::cell::{TurnedPart, caption_text, set_caption};
use crate::error::ArrangeError;
use crate::fit::turned_to_fit;
use crate::lettering_size::{MeasureText, letter_height_mm};
use crate::spacing::{CAPTION_CLEAR_MM, Spacing};
use crate::{Options, TOLERANCE_MM};
use piece::{Caption, Piece, Placement};
use shape::{Bounds, EdgeTree, Point, Vector};

impl<'a> Repair<'a> {
    pub(super) fn new(
        piece: &'a Piece,
        options: &'a Options,
        measure: &'a dyn MeasureText,
    ) -> Self {
        let spacing = Spacing {
            gap_mm: piece.layout.gap_mm,
            letter_mm: letter_height_mm(options.viewing_distance_m),
            captions: options.captions,
        };
        let mut repair = Self {
            piece,
            options,
            measure,
            spacing,
            field: piece.frame.field(),
            sheet: caption_sheet(piece),
            keep_outs: keep_outs(piece),
            bodies: Vec::new(),
            placements: Vec::new(),
        };
        for (i, part) in piece.parts.iter().enumerate() {
            let old = piece.placement(&part.id);
            let placement = old.cloned().unwrap_or_else(|| repair.wished(i));
            let tree = EdgeTree::new(part.shown_outline().placed(placement.board_from_part()));
            repair.placements.push(placement);
            repair.bodies.push(Body {
                parts: vec![i],
                kept: Vec::new(),
                fresh: Vec::new(),
                trees: vec![tree],
                fixed: old.is_some_and(|p| p.pinned),
                troubled: old.is_none(),
                new: old.is_none(),
            });
        }
        if options.captions {
            repair.join_captions();
        }
        repair.find_trouble();
        repair.join_overlapping();
        repair
    }

    /// Where a part without a placement would like to lie: beside the placed part that was nearest to it at home,
    /// as far from it as at home; in the middle of the field where nothing is known.
    fn wished(&self, index: usize) -> Placement {
        let part = &self.piece.parts[index];
        let turned: TurnedPart = turned_to_fit(index, part, self.field);
        let mut centre = self.field.centre();
        if let Some(home) = part.home {
            let home_centre = |i: usize| {
                let p = &self.piece.parts[i];
                let h = p.home?;
                Some((
                    p.outline.placed(h.device_from_part()).bounds().centre(),
                    h.layer,
                ))
            };
            let own = part
                .outline
                .placed(home.device_from_part())
                .bounds()
                .centre();
            let size = part.outline.bounds();
            let layer_mm = size.width_mm().hypot(size.height_mm()).max(20.0);
            let nearest = (0..self.piece.parts.len())
                .filter(|&i| i != index)
                .filter_map(|i| {
                    let (c, layer) = home_centre(i)?;
                    let placement = self.piece.placement(&self.piece.parts[i].id)?;
                    let far = c.distance_mm(own) + layer_mm * f64::from(layer.abs_diff(home.layer));
                    Some((far, c, placement, i))
                })
                .min_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((_, c, placement, i)) = nearest {
                let other = self.piece.parts[i].shown_outline();
                let on_board = other.placed(placement.board_from_part()).bounds().centre();
                centre = on_board + (own - c);
            }
        }
        let half = Vector::new(
            0.5 * turned.bounds.width_mm(),
            0.5 * turned.bounds.height_mm(),
        );
        let low = centre - half;
        let f = self.field;
        let clamp = |v: f64, low: f64, high: f64| v.min(high).max(low);
        let low = Point::new(
            clamp(low.x, f.min.x, f.max.x - 2.0 * half.x),
            clamp(low.y, f.min.y, f.max.y - 2.0 * half.y),
        );
        let at = low - turned.bounds.min;
        Placement {
            part: part.id.clone(),
            x: at.x,
            y: at.y,
            turn_deg: turned.turn_deg,
            pinned: false,
        }
    }

    /// Gives each body the captions that lie beside it, and a new one below where it lost its own.
    fn join_captions(&mut self) {
        let piece = self.piece;
        for i in 0..piece.parts.len() {
            let part = &piece.parts[i];
            let caption = piece.caption(&part.id);
            let says_its_name = |c: &&Caption| {
                let said = c.text.replace('\n', " ");
                let said = said
                    .rsplit_once(" (")
                    .map_or(said.as_str(), |(name, _)| name)
                    .to_owned();
                part.name.starts_with(said.trim_end())
            };
            let Some(caption) = caption
                .filter(says_its_name)
                .filter(|_| !self.bodies[i].new)
            else {
                let alike_is_captioned = piece
                    .parts
                    .iter()
                    .any(|p| p.id != part.id && alike(p, part) && piece.caption(&p.id).is_some());
                if !alike_is_captioned {
                    self.set_fresh(i, &caption_text(std::iter::once(part)));
                }
                continue;
            };
            if !caption.leader.is_empty() {
                // Leaders are looked at when all parts have their places.
                continue;
            }
            let own = &self.bodies[i].trees[0];
            let clear = crate::board::box_tree(caption.bounds())
                .is_some_and(|b| b.clearance_mm(own, 1.0) >= CAPTION_CLEAR_MM - TOLERANCE_MM);
            let near = caption.bounds().distance_mm(own.bounds()) <= 12.0 * self.spacing.letter_mm;
            if clear && near && self.sheet.grown(2.0).holds(caption.bounds()) {
                self.bodies[i].kept.push(caption.clone());
            } else {
                let text = caption.text.replace('\n', " ");
                self.set_fresh(i, &text);
            }
        }
    }

    /// A caption below a part, as in a composition.
    fn set_fresh(&mut self, i: usize, text: &str) {
        let b = self.bodies[i].parts_bounds();
        let letter_mm = self.spacing.letter_mm;
        let block = set_caption(i, text, b.width_mm(), letter_mm, self.measure);
        let corner = Point::new(
            b.centre().x - 0.5 * block.w,
            b.min.y - self.spacing.own_caption_drop_mm() - block.h,
        );
        let bounds = Bounds::between(corner, Point::new(corner.x + block.w, corner.y + block.h));
        self.bodies[i].fresh.push((block, bounds));
        self.bodies[i].troubled |= !self.bodies[i].fixed;
    }

    /// Marks the bodies that break a rule.
    fn find_trouble(&mut self) {
        for i in 0..self.bodies.len() {
            let fits = self
                .field
                .grown(TOLERANCE_MM)
                .holds(self.bodies[i].parts_bounds());
            let kept_out = self
                .keep_outs
                .iter()
                .any(|k| overlap_beyond(*k, self.bodies[i].parts_bounds()));
            if !fits || kept_out {
                self.bodies[i].troubled = true;
            }
            for j in 0..i {
                if self.collide(&self.bodies[i], &self.bodies[j]) {
                    self.bodies[i].troubled = true;
                    self.bodies[j].troubled = true;
                }
            }
        }
    }

    /// Bodies whose boxes overlap though they break no rule (a row of screws over one caption, a part in another's
    /// notch) move as one.
    fn join_overlapping(&mut self) {
        let mut k = 0;
        while k < self.bodies.len() {
            let meets = |a: &Body, b: &Body| {
                !a.troubled && !b.troubled && overlap_beyond(a.bounds(), b.bounds())
            };
            let other =
                (0..self.bodies.len()).find(|&o| o != k && meets(&self.bodies[k], &self.bodies[o]));
            let Some(other) = other else {
                k += 1;
                continue;
            };
            let (low, high) = (k.min(other), k.max(other));
            let taken = self.bodies.remove(high);
            let into = &mut self.bodies[low];
            into.parts.extend(taken.parts);
            into.kept.extend(taken.kept);
            into.fresh.extend(taken.fresh);
            into.trees.extend(taken.trees);
            into.fixed |= taken.fixed;
            k = 0;
        }
    }

    pub(super) fn refuse_hopeless(&self) -> Result<(), ArrangeError> {
        for (k, a) in self.bodies.iter().enumerate() {
            for b in &self.bodies[..k] {
                if a.fixed
                    && b.fixed
                    && a.trees
                        .iter()
                        .any(|s| b.trees.iter().any(|t| share_area(s, t)))
                {
                    return Err(ArrangeError::pinned_overlap(
                        &self.piece.parts[b.parts[0]],
                        &self.piece.parts[a.parts[0]],
                    ));
                }
            }
        }
        Ok(())
    }
}
