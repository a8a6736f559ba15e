//! A layout put right with the least movement after a part was changed, swapped, added or taken out.
//!
//! What keeps the rules stays where it is. What is new or breaks a rule is put into the nearest free place, or its
//! neighbours make room, whichever moves less in all.

mod begin;
mod finish;
mod room;

use crate::arranging::{Arranged, arrange_with};
use crate::board::share_area;
use crate::cell::TextBlock;
use crate::error::ArrangeError;
use crate::lettering_size::MeasureText;
use crate::spacing::{CAPTION_CLEAR_MM, Spacing};
use crate::{Options, TOLERANCE_MM};
use piece::{Caption, Piece, Placement};
use shape::{Bounds, EdgeTree, Point, Pose, Vector, Watch};

/// A new part's distance from its wish counts as so much of an old part's movement.
const NEW_PART_SHARE: f64 = 0.5;

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

impl Repair<'_> {
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
}

/// The boxes share more than rounding.
fn overlap_beyond(a: Bounds, b: Bounds) -> bool {
    crate::board::overlap(a.grown(-TOLERANCE_MM), b)
}
