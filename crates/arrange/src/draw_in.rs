//! Parts drawn nearer to where they want to be, as far as their true outlines let them.
//!
//! Settling holds boxes apart. Where the window is tight, round parts, feet of ribbons and notches of boards leave room
//! that their boxes do not show: one part after another goes there if that brings it nearer to its wish.

use crate::cell::Cell;
use crate::pack::{clear_of, solid};
use crate::settle::{fitted, flipped_share};
use shape::{Bounds, EdgeTree, Point, Pose, Vector};

/// Rounds over all parts; it ends earlier where no part moves.
const ROUNDS: usize = 16;

/// What is nearer than this to its wish stays, mm.
const NEAR_MM: f64 = 0.02;

/// Outlines keep the gap but for rounding, mm.
const ROUNDING_MM: f64 = 1e-7;

/// Directions tried, as turns of the way to the wish in degrees, and how far along them.
const TURNS_DEG: [f64; 7] = [0.0, 20.0, -20.0, 45.0, -45.0, 70.0, -70.0];
const SHARES: [f64; 5] = [1.0, 0.6, 0.35, 0.2, 0.08];

/// Moves bodies (lower-left corners `at`) towards the fitted `start` of their centres. No more pairs change their order than
/// `allowed`, as a share, or than have changed already.
pub(crate) fn draw_in(
    cells: &[Cell],
    at: &mut [Point],
    start: &[Vec<f64>; 2],
    field: Bounds,
    gap_mm: f64,
    nesting: bool,
    allowed: f64,
) {
    let n = cells.len();
    let bodies: Vec<Vec<EdgeTree>> = cells.iter().map(|c| solid(c, nesting)).collect();
    let half = |c: usize| Vector::new(0.5 * cells[c].body[0], 0.5 * cells[c].body[1]);
    let mut centres = [0, 1].map(|axis: usize| -> Vec<f64> {
        (0..n)
            .map(|c| {
                let p = at[c] + half(c);
                if axis == 0 { p.x } else { p.y }
            })
            .collect()
    });
    let placed = |c: usize, p: Point| -> Vec<EdgeTree> {
        let pose = Pose::new(p.x, p.y, 0.0);
        bodies[c].iter().map(|t| t.placed(pose)).collect()
    };
    let mut lying: Vec<Vec<EdgeTree>> = (0..n).map(|c| placed(c, at[c])).collect();
    let allowed = allowed.max(flipped_share(start, &centres));
    for _ in 0..ROUNDS {
        let wish = fitted(start, &centres);
        let off = |c: usize, centres: &[Vec<f64>; 2]| {
            Vector::new(wish[0][c] - centres[0][c], wish[1][c] - centres[1][c])
        };
        let mut order: Vec<usize> = (0..n).collect();
        let length_of = |v: Vector| v.x.hypot(v.y);
        let far = |c: usize| length_of(off(c, &centres));
        order.sort_by(|&a, &b| far(b).total_cmp(&far(a)).then(a.cmp(&b)));
        let mut moved = false;
        for c in order {
            let way = off(c, &centres);
            let length = length_of(way);
            if length < NEAR_MM {
                continue;
            }
            let others: Vec<&EdgeTree> =
                (0..n).filter(|&o| o != c).flat_map(|o| &lying[o]).collect();
            let tries = TURNS_DEG.iter().flat_map(|turn| {
                // A step that is turned away is at its best where it comes nearest to the wish.
                let (sin, cos) = turn.to_radians().sin_cos();
                let turned = Vector::new(cos * way.x - sin * way.y, sin * way.x + cos * way.y);
                let along = turned * cos;
                SHARES.iter().map(move |share| along * *share)
            });
            let was = [centres[0][c], centres[1][c]];
            let found = tries.into_iter().find(|by| {
                if length_of(way + -*by) > length - 0.25 * NEAR_MM {
                    return false;
                }
                let p = at[c] + *by;
                let body = Bounds::between(p, p + half(c) * 2.0);
                if !field.grown(ROUNDING_MM).holds(body) {
                    return false;
                }
                centres[0][c] = was[0] + by.x;
                centres[1][c] = was[1] + by.y;
                let in_order = flipped_share(start, &centres) <= allowed + 1e-12;
                centres[0][c] = was[0];
                centres[1][c] = was[1];
                in_order && clear_of(&bodies[c], p, &others, gap_mm - ROUNDING_MM)
            });
            if let Some(by) = found {
                at[c] = at[c] + by;
                centres[0][c] += by.x;
                centres[1][c] += by.y;
                lying[c] = placed(c, at[c]);
                moved = true;
            }
        }
        if !moved {
            break;
        }
    }
}
