//! A layout put right with the least movement after a part was changed, swapped, added or taken out.
//!
//! What keeps the rules stays where it is. What is new or breaks a rule is put into the nearest free place, or its
//! neighbours make room, whichever moves less in all.

use crate::alike::alike;
use crate::arranging::{Arranged, Room, StoppedBy, arrange_with};
use crate::board::{Board, caption_sheet, keep_outs, share_area};
use crate::boundary::{Waiting, place_together};
use crate::caption::{caption_in, place_beside};
use crate::cell::{TextBlock, TurnedPart, caption_text, set_caption};
use crate::error::ArrangeError;
use crate::fit::turned_to_fit;
use crate::lettering_size::{MeasureText, letter_height_mm};
use crate::pack::clear_of;
use crate::score::score_of;
use crate::settle::{Boxes, MOST_BOXES, settle};
use crate::spacing::{CAPTION_CLEAR_MM, Spacing};
use crate::{Options, TOLERANCE_MM};
use piece::{Caption, Piece, Placement};
use shape::{Bounds, EdgeTree, Point, Pose, Vector, Watch};

/// Steps of settling a repair; a layout that was sound needs few.
const STEPS: u32 = 400;

/// A new part's distance from its wish counts as so much of an old part's movement.
const NEW_PART_SHARE: f64 = 0.5;

/// Free places are sought on a grid of this many steps along the field's longer side.
const GRID: f64 = 160.0;

/// Puts a layout right with the least movement. Parts that keep all rules stay where they are as far as can be; parts
/// without a placement are put in; captions of parts that are gone go too. A piece of which nothing is placed is
/// arranged as by [`arrange_with`].
///
/// # Errors
/// [`ArrangeError`] as for arranging; [`ArrangeError::NoRoom`] also where a layout exists but not near this one.
pub fn keep_with(
    piece: &Piece,
    options: &Options,
    measure: &dyn MeasureText,
    watch: &dyn Watch,
) -> Result<Arranged, ArrangeError> {
    piece.check_sound().map_err(ArrangeError::Unsound)?;
    if piece.placements.is_empty() {
        return arrange_with(piece, options, measure, watch);
    }
    let repair = Repair::new(piece, options, measure);
    repair.refuse_hopeless()?;
    repair.run(watch)
}

/// One or several parts with their captions that move as one.
#[derive(Debug, Clone)]
struct Body {
    /// Places of its parts in the piece's list.
    parts: Vec<usize>,
    /// Captions beside them, as they are in the document.
    kept: Vec<Caption>,
    /// Captions that are set anew, and where.
    fresh: Vec<(TextBlock, Bounds)>,
    trees: Vec<EdgeTree>,
    fixed: bool,
    /// It breaks a rule, or is new.
    troubled: bool,
    new: bool,
}

impl Body {
    fn parts_bounds(&self) -> Bounds {
        let all = self.trees.iter().map(EdgeTree::bounds);
        all.reduce(Bounds::joined).unwrap_or(NOWHERE)
    }

    fn captions(&self) -> impl Iterator<Item = Bounds> + '_ {
        let kept = self.kept.iter().map(Caption::bounds);
        kept.chain(self.fresh.iter().map(|(_, b)| *b))
    }

    fn bounds(&self) -> Bounds {
        self.captions().fold(self.parts_bounds(), Bounds::joined)
    }

    fn shift(&mut self, by: Vector) {
        for tree in &mut self.trees {
            *tree = tree.placed(Pose::new(by.x, by.y, 0.0));
        }
        for caption in &mut self.kept {
            caption.x += by.x;
            caption.y += by.y;
        }
        for (_, b) in &mut self.fresh {
            *b = b.shifted(by);
        }
    }
}

const NOWHERE: Bounds = Bounds {
    min: Point { x: 0.0, y: 0.0 },
    max: Point { x: 0.0, y: 0.0 },
};

struct Repair<'a> {
    piece: &'a Piece,
    options: &'a Options,
    measure: &'a dyn MeasureText,
    spacing: Spacing,
    field: Bounds,
    sheet: Bounds,
    keep_outs: Vec<Bounds>,
    bodies: Vec<Body>,
    placements: Vec<Placement>,
}

impl<'a> Repair<'a> {
    fn new(piece: &'a Piece, options: &'a Options, measure: &'a dyn MeasureText) -> Self {
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

    /// Two bodies break a rule between them: gap, or a caption on what it may not touch.
    fn collide(&self, a: &Body, b: &Body) -> bool {
        let gap = self.spacing.gap_mm;
        let reach = gap.max(CAPTION_CLEAR_MM);
        if a.bounds().distance_mm(b.bounds()) > reach {
            return false;
        }
        let parts = a.trees.iter().any(|s| {
            b.trees.iter().any(|t| {
                let apart = s.clearance_mm(t, gap.max(TOLERANCE_MM));
                apart < gap - TOLERANCE_MM || (apart == 0.0 && share_area(s, t))
            })
        });
        let on_part = |captions: &Body, parts: &Body| {
            captions.captions().any(|c| {
                parts.trees.iter().any(|t| {
                    t.bounds().distance_mm(c) < CAPTION_CLEAR_MM
                        && crate::board::box_tree(c).is_some_and(|tree| {
                            tree.clearance_mm(t, 2.0) < CAPTION_CLEAR_MM - TOLERANCE_MM
                        })
                })
            })
        };
        let on_caption = || {
            a.captions().any(|c| {
                b.captions()
                    .any(|d| crate::board::overlap(c.grown(CAPTION_CLEAR_MM - TOLERANCE_MM), d))
            })
        };
        parts || on_part(a, b) || on_part(b, a) || on_caption()
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

    fn refuse_hopeless(&self) -> Result<(), ArrangeError> {
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

    fn run(mut self, watch: &dyn Watch) -> Result<Arranged, ArrangeError> {
        let before = self.bodies.clone();
        if self.bodies.iter().any(|b| b.troubled) && !self.is_sound() {
            let alone = self.move_one(watch)?;
            let together = self.make_room(watch);
            let paid = |bodies: &Vec<Body>| -> f64 {
                bodies
                    .iter()
                    .zip(&before)
                    .map(|(now, was)| {
                        let d = now.parts_bounds().min.distance_mm(was.parts_bounds().min);
                        if was.new { NEW_PART_SHARE * d } else { d }
                    })
                    .sum()
            };
            let found = [alone, together]
                .into_iter()
                .flatten()
                .min_by(|a, b| paid(a).total_cmp(&paid(b)));
            match found {
                Some(bodies) => self.bodies = bodies,
                None => {
                    return Err(ArrangeError::NoRoom {
                        parts: self.piece.parts.len(),
                        gap_mm: self.spacing.gap_mm,
                        field_mm: [self.field.width_mm(), self.field.height_mm()],
                        least_frame_mm: None,
                    });
                }
            }
        }
        Ok(self.finish(&before))
    }

    fn is_sound(&self) -> bool {
        self.bodies
            .iter()
            .enumerate()
            .all(|(i, a)| self.is_inside(a) && self.bodies[..i].iter().all(|b| !self.collide(a, b)))
    }

    fn is_inside(&self, body: &Body) -> bool {
        self.field.grown(TOLERANCE_MM).holds(body.parts_bounds())
            && body.captions().all(|c| self.sheet.grown(2.0).holds(c))
            && !self.keep_outs.iter().any(|k| {
                overlap_beyond(k.grown(self.spacing.gap_mm), body.parts_bounds())
                    || body.captions().any(|c| overlap_beyond(*k, c))
            })
    }

    /// Of the bodies in trouble, the ones that can end all of it by moving alone: the one that moves least. Several
    /// new ones are put in one after the other.
    fn move_one(&self, watch: &dyn Watch) -> Result<Option<Vec<Body>>, ArrangeError> {
        let new: Vec<usize> = (0..self.bodies.len())
            .filter(|&k| self.bodies[k].new)
            .collect();
        let choices: Vec<Vec<usize>> = if new.is_empty() {
            (0..self.bodies.len())
                .filter(|&k| self.bodies[k].troubled && !self.bodies[k].fixed)
                .map(|k| vec![k])
                .collect()
        } else {
            vec![new]
        };
        let mut best: Option<(f64, Vec<Body>)> = None;
        for movers in choices {
            watch
                .step("looking for room", 0.0)
                .map_err(|_| ArrangeError::Cancelled)?;
            let mut bodies: Vec<Body> = self.bodies.clone();
            let mut far = 0.0;
            let mut placed: Vec<usize> =
                (0..bodies.len()).filter(|k| !movers.contains(k)).collect();
            let others_are_sound = placed.iter().all(|&i| {
                self.is_inside(&bodies[i])
                    && placed
                        .iter()
                        .all(|&j| j >= i || !self.collide(&bodies[i], &bodies[j]))
            });
            if !others_are_sound {
                continue;
            }
            let mut fits = true;
            for &k in &movers {
                let others: Vec<&Body> = placed.iter().map(|&o| &bodies[o]).collect();
                let Some(by) = self.nearest_room(&bodies[k], &others) else {
                    fits = false;
                    break;
                };
                bodies[k].shift(by);
                far += by.dot(by).sqrt();
                placed.push(k);
            }
            if fits && best.as_ref().is_none_or(|(b, _)| far < *b) {
                best = Some((far, bodies));
            }
        }
        Ok(best.map(|(_, bodies)| bodies))
    }

    /// The least shift that brings a body into free room, as far as a grid and a walk back from it tell.
    fn nearest_room(&self, body: &Body, others: &[&Body]) -> Option<Vector> {
        let parts = body.parts_bounds();
        let step = self.field.width_mm().max(self.field.height_mm()) / GRID;
        let room = |low: f64, high: f64, from: f64, to: f64| (low - from, high - to);
        let (x0, x1) = room(self.field.min.x, self.field.max.x, parts.min.x, parts.max.x);
        let (y0, y1) = room(self.field.min.y, self.field.max.y, parts.min.y, parts.max.y);
        if x1 < x0 || y1 < y0 {
            return None;
        }
        let ticks = |low: f64, high: f64| -> Vec<f64> {
            let n = ((high - low) / step) as usize;
            (0..=n)
                .map(|k| low + k as f64 * step)
                .chain([high])
                .collect()
        };
        let mut shifts: Vec<(f64, Vector)> = ticks(x0, x1)
            .iter()
            .flat_map(|&x| ticks(y0, y1).into_iter().map(move |y| Vector::new(x, y)))
            .chain([Vector::default()])
            .map(|v| (v.dot(v), v))
            .collect();
        shifts.sort_by(|a, b| a.0.total_cmp(&b.0));
        let trees = others.iter().flat_map(|o| &o.trees);
        let is_free = |by: Vector| {
            let p = Point::default() + by;
            // Cheap first: parts against parts, then everything.
            if !clear_of(&body.trees, p, trees.clone(), self.spacing.gap_mm) {
                return false;
            }
            let mut tried = body.clone();
            tried.shift(by);
            self.is_inside(&tried) && others.iter().all(|o| !self.collide(&tried, o))
        };
        let (_, found) = shifts.into_iter().find(|(_, by)| is_free(*by))?;
        // Back towards where it was as far as it goes.
        let mut best = found;
        let (mut free, mut taken) = (1.0, 0.0);
        for _ in 0..14 {
            let middle = 0.5 * (free + taken);
            if is_free(found * middle) {
                free = middle;
                best = found * middle;
            } else {
                taken = middle;
            }
        }
        Some(best)
    }

    /// Neighbours make room: all bodies as boxes, moved as little as may be.
    fn make_room(&self, watch: &dyn Watch) -> Option<Vec<Body>> {
        let gap = self.spacing.gap_mm;
        let mut all: Vec<(Bounds, bool, bool)> = self
            .bodies
            .iter()
            .map(|b| (b.bounds(), b.fixed, b.troubled))
            .collect();
        let n_bodies = all.len();
        all.extend(self.keep_outs.iter().map(|k| (*k, true, false)));
        let n = all.len();
        if n > MOST_BOXES {
            return None;
        }
        let side = |b: Bounds, axis: usize| match axis {
            0 => (b.min.x, b.max.x),
            _ => (b.min.y, b.max.y),
        };
        let middle = |b: Bounds, axis: usize| 0.5 * (side(b, axis).0 + side(b, axis).1);
        let walls = [
            (self.field.min.x, self.field.max.x),
            (self.field.min.y, self.field.max.y),
        ];
        let reach = [0, 1].map(|axis: usize| {
            (0..n)
                .map(|k| {
                    let c = middle(all[k].0, axis);
                    let Some(body) = self.bodies.get(k) else {
                        return (0.0, 0.0);
                    };
                    let (low, high) = side(body.parts_bounds(), axis);
                    let mut before = c - low;
                    let mut after = high - c;
                    for caption in body.captions() {
                        let (low, high) = side(caption, axis);
                        let sheet = side(self.sheet, axis);
                        before = before.max(c - low - (walls[axis].0 - sheet.0));
                        after = after.max(high - c - (sheet.1 - walls[axis].1));
                    }
                    (before, after)
                })
                .collect::<Vec<_>>()
        });
        let usual = if self.spacing.captions {
            [
                gap.max(self.spacing.beside_caption_mm()),
                self.spacing.below_caption_mm(),
            ]
        } else {
            [gap, gap]
        };
        let need = [0, 1].map(|axis: usize| {
            let mut need = vec![0.0; n * n];
            for i in 0..n {
                for j in 0..n {
                    let (a, b) = (side(all[i].0, axis), side(all[j].0, axis));
                    let touch = 0.5 * (a.1 - a.0 + b.1 - b.0);
                    let apart = b.0 - a.1;
                    // What was closer and sound stays as close.
                    let settled = !all[i].2 && !all[j].2 && apart >= 0.0;
                    need[i * n + j] = touch
                        + if settled {
                            usual[axis].min(apart)
                        } else {
                            usual[axis]
                        };
                }
            }
            need
        });
        let boxes = Boxes {
            start: [0, 1].map(|axis: usize| all.iter().map(|(b, ..)| middle(*b, axis)).collect()),
            half: [0, 1].map(|axis: usize| {
                all.iter()
                    .map(|(b, ..)| 0.5 * (side(*b, axis).1 - side(*b, axis).0))
                    .collect()
            }),
            reach,
            walls,
            need,
            fixed: all.iter().map(|(_, fixed, _)| *fixed).collect(),
            stay: true,
        };
        let settled = settle(&boxes, self.options.seed, STEPS, false, watch)?;
        let mut bodies = self.bodies.clone();
        for (k, body) in bodies.iter_mut().enumerate().take(n_bodies) {
            let by = settled.found[0][k] - all[k].0.centre();
            // Rounding of the solver is no movement.
            if by.dot(by) > 1e-10 {
                body.shift(by);
            }
        }
        Some(bodies)
    }

    /// Placements and captions of the bodies as they lie now; leaders are kept where they are still free, else set
    /// anew.
    fn finish(self, before: &[Body]) -> Arranged {
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

/// The boxes share more than rounding.
fn overlap_beyond(a: Bounds, b: Bounds) -> bool {
    crate::board::overlap(a.grown(-TOLERANCE_MM), b)
}
