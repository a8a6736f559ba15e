//! Whether what shows through a round hole may be paper.

use super::RoundHole;
use crate::light::Light;
use crate::plane::SheetPlane;
use crate::segment::Labels;
use shape::{Outline, Vector};

/// What is said of the field's cells.
#[derive(Clone, Copy)]
pub(crate) struct Said<'a> {
    /// By the eye alone.
    pub(crate) by_eye: &'a Labels,
    /// By the eye, and by whoever drew strokes.
    pub(crate) with_strokes: &'a Labels,
}

/// A hole that shows less paper than this across proves nothing, mm.
const LEAST_SHOWN_MM: f64 = 0.3;

/// Paper in the deepest hole is lighter than this (natural logarithm over bare paper's): of 304 holes on 45 rendered photos all but a few, of
/// four black discs drawn on a face none.
const DARKEST: f32 = -5.0;

/// Where a hole's foot appears moved by less than this share of its radius, what shows in it is seen nearly whole, and the eye must take it
/// for paper at least by the second (the logarithm of its odds, mean): so it did with all of 141 holes, and not with solder, print and bosses.
const SEEN_NEARLY_WHOLE: f64 = 0.25;
const MOST_PART: f32 = -0.5;

/// Where it appears moved by less than this share, a circle that the eye does not take for paper so must be as sure as the second: of 57 holes
/// four were taken for part, with odds from 8.1 on; a label on a coil with 7.0.
const SEEN_HALF: f64 = 0.4;
const SURER: f32 = 7.5;

/// Distance between the places that are looked at, mm.
const STEP_MM: f64 = 0.1;

/// Whether the light of what `seen` shows of a hole, and what is said of it, allow that it is paper.
pub(super) fn is_borne_out(
    hole: RoundHole,
    light: &Light<'_, impl SheetPlane>,
    said: Said<'_>,
    seen: Vec<Outline>,
) -> bool {
    if 2.0 * hole.radius_mm - hole.shift_mm < LEAST_SHOWN_MM {
        return false;
    }
    let cells: Vec<usize> = seen.iter().flat_map(|o| cells_in(o, light)).collect();
    if cells.is_empty() {
        return false;
    }
    let count = cells.len() as f32;
    let mean = |of: &dyn Fn(usize) -> f32| cells.iter().map(|&c| of(c)).sum::<f32>() / count;
    let lit = mean(&|c| light.relative.log[c].iter().sum::<f32>() / 3.0);
    let part = mean(&|c| said.by_eye.odds(c));
    // Strokes say that it is part.
    let drawn_over = cells.iter().filter(|&&c| {
        said.with_strokes.part(c) && said.with_strokes.odds(c) != said.by_eye.odds(c)
    });
    let moved = hole.shift_mm / hole.radius_mm;
    let heard = part <= MOST_PART
        || moved >= SEEN_HALF
        || (moved >= SEEN_NEARLY_WHOLE && hole.odds > SURER);
    lit > DARKEST && heard && 2 * drawn_over.count() < cells.len()
}

/// The grid's cells at even places of an outline in the sheet's plane.
fn cells_in(outline: &Outline, light: &Light<'_, impl SheetPlane>) -> Vec<usize> {
    let bounds = outline.bounds();
    let steps = |mm: f64| (mm / STEP_MM) as usize + 1;
    let (across, up) = (steps(bounds.width_mm()), steps(bounds.height_mm()));
    let place =
        |k: usize| bounds.min + Vector::new((k % across) as f64, (k / across) as f64) * STEP_MM;
    let grid = light.grid;
    (0..across * up)
        .map(place)
        .filter(|p| outline.contains(*p))
        .filter_map(|p| {
            let [x, y] = light.cell_of(p)?.map(f64::round);
            let inside = x >= 0.0 && y >= 0.0 && x < grid.width as f64 && y < grid.height as f64;
            inside.then_some(y as usize * grid.width + x as usize)
        })
        .collect()
}
