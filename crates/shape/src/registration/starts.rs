//! Where the search begins: turns all round, roughly settled, the best of them.

use super::refine::{Edge, Motion, Stage, rough_cost, settle};
use crate::{Bounds, Cancelled, Point, mapped};
use std::f64::consts::TAU;

/// Turns are tried so near to each other that the edge moves by no more than this between them, mm.
const STEP_MM: f64 = 4.0;
const TURNS: (usize, usize) = (72, 240);

/// Starts that go on after each look.
const KEPT_ROUGH: usize = 24;
const KEPT: usize = 8;

/// Motions nearer than this (at the edge) are one, mm.
const SAME_MM: f64 = 0.05;

/// The most promising motions, best first, each roughly settled.
pub(super) fn starts(
    part: &Edge,
    place: &Edge,
    tell: &(dyn Fn(f64) -> Result<(), Cancelled> + Sync),
) -> Result<Vec<Motion>, Cancelled> {
    let around = (TAU * part.radius_mm / STEP_MM) as usize;
    let turns = around.clamp(TURNS.0, TURNS.1);
    let middle_of_place = place.tree.bounds().centre();
    let rough = each(turns, |k| {
        tell(0.6 * k as f64 / turns as f64)?;
        let turn_rad = TAU * k as f64 / turns as f64;
        let (s, c) = turn_rad.sin_cos();
        let arms = part.coarse.iter().map(|p| {
            let v = *p - part.centre;
            Point::new(c * v.x - s * v.y, s * v.x + c * v.y)
        });
        let middle = Bounds::around(arms).map_or(Point::default(), Bounds::centre);
        // Centre on centre, and box on box: a tab moves either, seldom both alike.
        let by_box = middle_of_place - (middle - Point::default());
        Ok([place.centre, by_box].map(|centre| {
            let mut motion = Motion { turn_rad, centre };
            settle(part, place, &mut motion, Stage::ROUGH);
            (rough_cost(part, place, motion, false, 3.0), motion)
        }))
    })?;
    let rough = rough.into_iter().flatten().collect();
    let rough = best_of(rough, part.radius_mm, 20.0 * SAME_MM, KEPT_ROUGH);
    let better = each(rough.len(), |k| {
        tell(0.6 + 0.3 * k as f64 / KEPT_ROUGH as f64)?;
        let mut motion = rough[k];
        settle(part, place, &mut motion, Stage::BETTER);
        let cost = rough_cost(part, place, motion, true, Stage::CHOOSING_MM);
        Ok((cost, motion))
    })?;
    Ok(best_of(better, part.radius_mm, SAME_MM, KEPT))
}

/// What is made of each number below `count`, several at a time.
fn each<T: Send>(
    count: usize,
    make: impl Fn(usize) -> Result<T, Cancelled> + Sync,
) -> Result<Vec<T>, Cancelled> {
    let numbers: Vec<usize> = (0..count).collect();
    mapped(&numbers, |&k| make(k)).into_iter().collect()
}

/// The cheapest motions that differ from each other.
fn best_of(mut all: Vec<(f64, Motion)>, radius_mm: f64, same_mm: f64, count: usize) -> Vec<Motion> {
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut kept: Vec<Motion> = Vec::new();
    for (_, motion) in all {
        let same = |other: &Motion| {
            let turn = (motion.turn_rad - other.turn_rad + 0.5 * TAU).rem_euclid(TAU) - 0.5 * TAU;
            turn.abs() * radius_mm < same_mm && motion.centre.distance_mm(other.centre) < same_mm
        };
        if kept.len() < count && !kept.iter().any(same) {
            kept.push(motion);
        }
    }
    kept
}
