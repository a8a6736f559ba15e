//! Parts drawn nearer to where they want to be, as far as their true outlines let them.
//!
//! Settling holds boxes apart. Where the window is tight, round parts, feet of ribbons and notches of boards leave room
//! that their boxes do not show: one part after another goes there if that brings it nearer to its wish, and pushes one or
//! two others aside where all of them together come nearer to theirs.

use crate::cell::Cell;
use crate::pack::{clear_of, solid};
use crate::settle::{fitted, flipped_share, moved_mm};
use shape::{Bounds, EdgeTree, Point, Pose, Vector};

/// Rounds over all parts; it ends earlier where no part moves.
const ROUNDS: usize = 24;

/// What is nearer than this to its wish stays, and less than a quarter of it is no gain, mm.
const NEAR_MM: f64 = 0.02;

/// Outlines keep the gap but for rounding, mm.
const ROUNDING_MM: f64 = 1e-7;

/// Directions tried, as turns of the way to the wish in degrees, and how far along them.
const TURNS_DEG: [f64; 7] = [0.0, 20.0, -20.0, 45.0, -45.0, 70.0, -70.0];
const SHARES: [f64; 5] = [1.0, 0.6, 0.35, 0.2, 0.08];

/// Most parts that one pushes aside.
const PUSHED: usize = 2;

/// What does not change while parts are drawn in.
pub(crate) struct Tight<'a> {
    pub(crate) cells: &'a [Cell],
    /// Where the bodies' centres stood before anything was moved, per axis.
    pub(crate) start: &'a [Vec<f64>; 2],
    pub(crate) field: Bounds,
    pub(crate) gap_mm: f64,
    /// Parts may lie in others' holes and notches.
    pub(crate) nesting: bool,
    /// Share of pairs that may change their order.
    pub(crate) allowed: f64,
}

/// Bodies as they lie.
struct Lying {
    /// Lower-left corners.
    at: Vec<Point>,
    /// Centres, per axis.
    centres: [Vec<f64>; 2],
    /// Outlines.
    placed: Vec<Vec<EdgeTree>>,
}

impl Tight<'_> {
    /// Moves bodies (lower-left corners `at`) towards the fitted start of their centres. No more pairs change their order
    /// than may, or than have changed already. Returns what the layout costs, less is better.
    pub(crate) fn draw_in(&self, at: &mut [Point]) -> f64 {
        let n = self.cells.len();
        let bodies: Vec<Vec<EdgeTree>> =
            self.cells.iter().map(|c| solid(c, self.nesting)).collect();
        let mut lying = Lying {
            at: at.to_vec(),
            centres: [0, 1].map(|axis: usize| (0..n).map(|c| self.centre(at, c)[axis]).collect()),
            placed: (0..n).map(|c| placed(&bodies[c], at[c])).collect(),
        };
        let allowed = self.allowed.max(flipped_share(self.start, &lying.centres));
        for _ in 0..ROUNDS {
            let wish = fitted(self.start, &lying.centres);
            let off = |c: usize, l: &Lying| {
                Vector::new(wish[0][c] - l.centres[0][c], wish[1][c] - l.centres[1][c])
            };
            let mut order: Vec<usize> = (0..n).collect();
            let far = |c: usize| length_of(off(c, &lying));
            order.sort_by(|&a, &b| far(b).total_cmp(&far(a)).then(a.cmp(&b)));
            let mut moved = false;
            for c in order {
                let way = off(c, &lying);
                if length_of(way) < NEAR_MM {
                    continue;
                }
                let shift = steps_along(way).find_map(|by| {
                    let shifted = self.shifted(&bodies, &lying, c, by)?;
                    let gain: f64 = shifted
                        .iter()
                        .map(|&o| {
                            let was = off(o, &lying);
                            length_of(was) - length_of(was + -by)
                        })
                        .sum();
                    if gain < 0.25 * NEAR_MM {
                        return None;
                    }
                    let mut centres = lying.centres.clone();
                    for &o in &shifted {
                        centres[0][o] += by.x;
                        centres[1][o] += by.y;
                    }
                    (flipped_share(self.start, &centres) <= allowed + 1e-12)
                        .then_some((shifted, by, centres))
                });
                if let Some((shifted, by, centres)) = shift {
                    for o in shifted {
                        lying.at[o] = lying.at[o] + by;
                        lying.placed[o] = placed(&bodies[o], lying.at[o]);
                    }
                    lying.centres = centres;
                    moved = true;
                }
            }
            if !moved {
                break;
            }
        }
        at.copy_from_slice(&lying.at);
        let mm = moved_mm(self.start, &lying.centres);
        let beyond = flipped_share(self.start, &lying.centres) - self.allowed;
        mm * (1.0 + 1e3 * beyond.max(0.0))
    }

    fn centre(&self, at: &[Point], c: usize) -> [f64; 2] {
        let [w, h] = self.cells[c].body;
        [at[c].x + 0.5 * w, at[c].y + 0.5 * h]
    }

    /// What has to go with a body that is shifted: itself, and those that are in its way; `None` where that does not
    /// do.
    fn shifted(
        &self,
        bodies: &[Vec<EdgeTree>],
        lying: &Lying,
        c: usize,
        by: Vector,
    ) -> Option<Vec<usize>> {
        let mut shifted = vec![c];
        let mut k = 0;
        while k < shifted.len() {
            let i = shifted[k];
            let p = lying.at[i] + by;
            let [w, h] = self.cells[i].body;
            let body = Bounds::between(p, p + Vector::new(w, h));
            if !self.field.grown(ROUNDING_MM).holds(body) {
                return None;
            }
            for o in 0..bodies.len() {
                if shifted.contains(&o) {
                    continue;
                }
                let others = lying.placed[o].iter();
                if !clear_of(&bodies[i], p, others, self.gap_mm - ROUNDING_MM) {
                    if shifted.len() > PUSHED {
                        return None;
                    }
                    shifted.push(o);
                }
            }
            k += 1;
        }
        Some(shifted)
    }
}

fn placed(body: &[EdgeTree], at: Point) -> Vec<EdgeTree> {
    let pose = Pose::new(at.x, at.y, 0.0);
    body.iter().map(|t| t.placed(pose)).collect()
}

fn length_of(v: Vector) -> f64 {
    v.x.hypot(v.y)
}

/// Shifts that bring a body nearer to its wish.
fn steps_along(way: Vector) -> impl Iterator<Item = Vector> {
    TURNS_DEG.iter().flat_map(move |turn| {
        // A step that is turned away is at its best where it comes nearest to the wish.
        let (sin, cos) = turn.to_radians().sin_cos();
        let turned = Vector::new(cos * way.x - sin * way.y, sin * way.x + cos * way.y);
        SHARES.iter().map(move |share| turned * (cos * *share))
    })
}
