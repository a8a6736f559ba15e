//! What of each part the camera saw: rings in the photo carried to the sheet's plane.

use crate::edge::EdgeRing;
use crate::plane::SheetPlane;
use crate::segment::trace::Window;
use crate::specks::{is_large_enough, is_mostly_sliver};
use shape::{Cancelled, Outline, Point, thinned};

/// The smallest part that is looked for, mm across (a small screw's head).
pub(crate) const SMALLEST_PART_MM: f64 = 1.5;

/// Paper showing through an opening narrower than this is not told from a speck, mm.
pub(crate) const SMALLEST_OPENING_MM: f64 = 0.6;

/// Outlines are thinned so far that no point moves more than this, mm: a tenth of what is measured.
const THINNING_MM: f64 = 0.008;

/// One part as the camera saw it.
#[derive(Debug, Clone, PartialEq)]
pub struct Silhouette {
    /// Its border carried to the sheet's plane (z = 0), mm. The base and the enlarged top are both in it.
    pub in_sheet: Outline,
    /// Share of its border where the step of light is below three times the noise of bare paper.
    pub faint_share: f64,
    /// Share of its border where the part looks like shade on paper does.
    pub like_shade_share: f64,
    /// How well its edge's places are known in the photo, one sigma, mm on the sheet.
    pub edge_sigma_mm: f64,
    /// It reaches the edge of the blank field: part of it may be missing.
    pub at_field_edge: bool,
    /// Openings that were seen but are too small to be trusted, left out.
    pub openings_left_out: usize,
    /// Pieces that an edge which crossed itself fell into, large enough for parts, beside the largest: left out.
    pub pieces_left_out: usize,
}

impl Silhouette {
    /// The same with another outline, a piece of it or one with more to it.
    pub(crate) fn with_outline(&self, in_sheet: Outline) -> Self {
        Self {
            in_sheet,
            ..self.clone()
        }
    }
}

/// Why no silhouettes could be found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SilhouetteError {
    /// The field lies outside the photo, or is a few pixels wide.
    #[error("the blank field is not in the photo; take it again with the whole sheet in view")]
    FieldNotSeen,
    /// Next to nothing in the field looks like evenly lit paper.
    #[error(
        "hardly any bare paper is seen in the blank field; leave more paper between the parts, or \
         light the sheet more evenly"
    )]
    NoPaper,
    /// Stopped by the caller.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

pub(crate) fn assemble(
    rings: &[EdgeRing],
    plane: &impl SheetPlane,
    at_field_edge: bool,
    px_per_mm: f64,
) -> Option<Silhouette> {
    let in_sheet = |ring: &EdgeRing| -> Option<Vec<Point>> {
        ring.points
            .iter()
            .map(|p| plane.sheet_from_photo(*p))
            .collect::<Option<Vec<_>>>()
    };
    let (outer, holes) = rings.split_first()?;
    let outer_points = thinned(&in_sheet(outer)?, THINNING_MM);
    let mut kept = Vec::new();
    let mut openings_left_out = 0;
    for hole in holes {
        let points = thinned(&in_sheet(hole)?, THINNING_MM);
        // An edge that wandered across itself is cleaned: the pieces that are wide enough count.
        let pieces = shape::overlay_rings(&[points], &[], shape::RingOverlay::Union);
        let before = kept.len();
        kept.extend(
            pieces
                .iter()
                .filter(|p| is_wide_enough(p))
                .map(|p| p.outer().points().to_vec()),
        );
        openings_left_out += usize::from(kept.len() == before);
    }
    let (outline, pieces_left_out) = sound_outline(outer_points, kept)?;
    let weight: usize = rings.iter().map(|r| r.points.len()).sum();
    let mean = |f: fn(&EdgeRing) -> f64| {
        rings
            .iter()
            .map(|r| f(r) * r.points.len() as f64)
            .sum::<f64>()
            / weight.max(1) as f64
    };
    Some(Silhouette {
        in_sheet: outline,
        faint_share: mean(|r| r.faint_share),
        like_shade_share: mean(|r| r.like_shade_share),
        edge_sigma_mm: mean(|r| r.sigma_px.powi(2)).sqrt() / px_per_mm,
        at_field_edge,
        openings_left_out,
        pieces_left_out,
    })
}

/// Joins what a glint or a bright bevel cut off a part: a small piece that lies nearer to a larger one than parts are to be
/// laid. Two parts that lie so close cannot be told from one; the sheet asks for more room between them. A line of shade that lies so
/// close is dropped.
pub(crate) fn join_fragments(mut all: Vec<(Window, Silhouette)>) -> Vec<(Window, Silhouette)> {
    let mut k = 0;
    while k < all.len() {
        let small = &all[k].1.in_sheet;
        let (area, bounds) = (small.area_mm2(), small.bounds());
        let shade = is_mostly_sliver(small);
        let host = (area < FRAGMENT_MM2 || shade)
            .then(|| {
                (0..all.len()).find(|&h| {
                    let other = &all[h].1.in_sheet;
                    h != k
                        && other.area_mm2() > 3.0 * area
                        && other.bounds().distance_mm(bounds) < FRAGMENT_GAP_MM
                        && shape::clearance_mm(other, small) < FRAGMENT_GAP_MM
                })
            })
            .flatten();
        if shade && host.is_some() {
            all.remove(k);
            continue;
        }
        let joined = host.and_then(|h| bridged(&all[h].1.in_sheet, small).map(|o| (h, o)));
        match joined {
            Some((h, outline)) => {
                all[h].1.in_sheet = outline;
                all[h].0 = all[h].0.with(all[k].0);
                all.remove(k);
                k = 0;
            }
            None => k += 1,
        }
    }
    all
}

/// Both and what lies between them; `None` where they do not become one.
fn bridged(host: &Outline, small: &Outline) -> Option<Outline> {
    let near = |o: &Outline| shape::offset(std::slice::from_ref(o), 0.6 * FRAGMENT_GAP_MM);
    let mut pieces = vec![host.clone(), small.clone()];
    for a in near(host) {
        for b in near(small) {
            pieces.extend(shape::intersection(&a, &b));
        }
    }
    let mut all = shape::union(&pieces);
    (all.len() == 1).then(|| all.remove(0))
}

/// Larger pieces than this are parts of their own, mm2.
const FRAGMENT_MM2: f64 = 12.0;

/// Pieces nearer to each other than this are one part, mm.
const FRAGMENT_GAP_MM: f64 = 0.8;

/// A disc of nearly the smallest opening's width fits into it. Solder pads, print and glints on a part's
/// face can be as white as paper, but they are narrower.
pub(crate) fn is_wide_enough(hole: &Outline) -> bool {
    hole.area_mm2() > 2.0 * SMALLEST_OPENING_MM * SMALLEST_OPENING_MM
        && !shape::offset(std::slice::from_ref(hole), -0.48 * SMALLEST_OPENING_MM).is_empty()
}

/// An outline of the rings; where an edge wandered across itself, the largest clean piece of it, and how many of the others
/// are large enough to be parts.
fn sound_outline(outer: Vec<Point>, holes: Vec<Vec<Point>>) -> Option<(Outline, usize)> {
    if let Ok(outline) = Outline::try_new(outer.clone(), holes.clone()) {
        return Some((outline, 0));
    }
    let pieces = shape::overlay_rings(&[outer], &holes, shape::RingOverlay::Difference);
    let large = pieces.iter().filter(|p| is_large_enough(p)).count();
    Some((shape::largest(pieces)?, large.saturating_sub(1)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By construction: an edge that crosses itself at (6, 3) and closes 6 x 3 mm on one side and 3 x 3 mm on the other, one
    /// that crosses itself for a loop of 0.2 mm, and one that does not.
    #[test]
    fn pieces_of_an_edge_that_crosses_itself_are_counted() {
        let ring = |list: &[(f64, f64)]| list.iter().map(|&(x, y)| Point::new(x, y)).collect();
        let told = |list: &[(f64, f64)]| {
            let (outline, left_out) = sound_outline(ring(list), Vec::new()).expect("a piece");
            ((outline.area_mm2() * 100.0).round() / 100.0, left_out)
        };
        let two = [
            (0.0, 0.0),
            (6.0, 0.0),
            (6.0, 6.0),
            (9.0, 6.0),
            (9.0, 3.0),
            (0.0, 3.0),
        ];
        assert_eq!(told(&two), (18.0, 1));
        let loop_ = [
            (0.0, 0.0),
            (6.0, 0.0),
            (6.0, 3.2),
            (6.2, 3.2),
            (6.2, 3.0),
            (0.0, 3.0),
        ];
        assert_eq!(told(&loop_), (18.0, 0));
        assert_eq!(
            told(&[(0.0, 0.0), (6.0, 0.0), (6.0, 3.0), (0.0, 3.0)]),
            (18.0, 0)
        );
    }
}
