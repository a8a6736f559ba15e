//! Room for what is in trouble: the nearest free place, or neighbours that give way.

use super::{Body, Repair};
use crate::error::ArrangeError;
use crate::pack::clear_of;
use crate::settle::{Boxes, MOST_BOXES, settle};
use shape::{Bounds, Point, Vector, Watch};

/// Steps of settling a repair; a layout that was sound needs few.
const STEPS: u32 = 400;

/// Free places are sought on a grid of this many steps along the field's longer side.
const GRID: f64 = 160.0;

impl Repair<'_> {
    /// Of the bodies in trouble, the ones that can end all of it by moving alone: the one that moves least. Several
    /// new ones are put in one after the other.
    pub(super) fn move_one(&self, watch: &dyn Watch) -> Result<Option<Vec<Body>>, ArrangeError> {
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
    pub(super) fn make_room(&self, watch: &dyn Watch) -> Option<Vec<Body>> {
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
}
