//! Boolean operations and offsets, by the kept library `i_overlay` in its 64-bit integer grid.
//!
//! The grid spans the input's bounding box in 2^61 steps or so; on a metre that is far below a nanometre.
//!
//! Results may have more points than a document's ring. What lies more than 100 m from the origin is no outline and is left out.

use crate::{Outline, Point};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::core::solver::Solver;
use i_overlay::float::overlay::{FloatOverlay, OverlayOptions};
use i_overlay::mesh::float::outline::offset::OutlineOffset;
use i_overlay::mesh::float::stroke::offset::StrokeOffset;
use i_overlay::mesh::float::style::{LineCap, LineJoin, OutlineStyle, StrokeStyle};

type Rings = Vec<Vec<[f64; 2]>>;

/// What to keep of two sets of rings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RingOverlay {
    /// In either.
    Union,
    /// In both.
    Intersection,
    /// In the first and not in the second.
    Difference,
}

/// Slivers below this area are rounding, mm2.
const SLIVER_MM2: f64 = 1e-6;

fn rings_of(outlines: &[Outline]) -> Rings {
    outlines
        .iter()
        .flat_map(Outline::rings)
        .map(|r| r.points().iter().map(|p| [p.x, p.y]).collect())
        .collect()
}

fn plain(rings: &[Vec<Point>]) -> Rings {
    rings
        .iter()
        .map(|r| r.iter().map(|p| [p.x, p.y]).collect())
        .collect()
}

/// Rings that meet in single points are drawn apart by this much, mm: the first that does it.
const APART_MM: [f64; 3] = [1e-6, 1e-5, 1e-4];

fn outlines_of(shapes: Vec<Rings>) -> Vec<Outline> {
    let outlines = shapes.into_iter().flat_map(|rings| apart(rings, &APART_MM));
    outlines.filter(|o| o.area_mm2() > SLIVER_MM2).collect()
}

/// A shape as outlines: one where it is one.
fn apart(rings: Rings, by_mm: &[f64]) -> Vec<Outline> {
    if let Some(outline) = outline_of(&rings) {
        return vec![outline];
    }
    // Legal on the library's grid, but no outline: a hole that touches its outer ring, two rings
    // that share a corner. Shrunk by a nanometre they come apart, and nothing is lost but that.
    let Some((by, more)) = by_mm.split_first() else {
        return Vec::new();
    };
    let style = OutlineStyle::new(-by).line_join(LineJoin::Bevel);
    let shrunk = rings.outline_as::<i64>(&style);
    shrunk.into_iter().flat_map(|r| apart(r, more)).collect()
}

/// One outer ring and its holes as an outline, where they are one.
fn outline_of(rings: &Rings) -> Option<Outline> {
    let mut rings = rings
        .iter()
        .map(|r| r.iter().copied().map(Point::from).collect::<Vec<_>>());
    let outer = rings.next()?;
    let holes: Vec<_> = rings.collect();
    // The library's rings are valid on its whole-number grid. Carried back to floating point, two
    // edges that ran along each other may touch: then points that carry no shape go.
    Outline::of_any_length(outer.clone(), holes.clone())
        .or_else(|_| {
            let holes = holes
                .iter()
                .map(|h| without_slivers(h))
                .filter(|h| h.len() > 2);
            Outline::of_any_length(without_slivers(&outer), holes.collect())
        })
        .ok()
}

/// A ring without points that lie within a hundred-thousandth of a millimetre of the line between their
/// neighbours: the tips of slivers, and points on straight sides.
fn without_slivers(ring: &[Point]) -> Vec<Point> {
    const FLAT_MM: f64 = 1e-5;
    let mut kept: Vec<Point> = ring.to_vec();
    loop {
        let n = kept.len();
        let flat = (0..n).find(|&i| {
            let (p, q, r) = (kept[(i + n - 1) % n], kept[i], kept[(i + 1) % n]);
            let base = r - p;
            let length = base.length_mm();
            if length < FLAT_MM {
                return true;
            }
            (base.cross(q - p) / length).abs() < FLAT_MM
        });
        match flat {
            Some(i) if n > 2 => {
                kept.remove(i);
            }
            _ => return kept,
        }
    }
}

/// Overlays loose rings (each closed, either direction, crossings allowed) under the non-zero rule and
/// returns the clean outlines of what is kept. Coordinates that are not finite give nothing.
pub fn overlay_rings(
    first: &[Vec<Point>],
    second: &[Vec<Point>],
    keep: RingOverlay,
) -> Vec<Outline> {
    if !first.iter().chain(second).flatten().all(|p| p.is_finite()) {
        return Vec::new();
    }
    overlay(&plain(first), &plain(second), keep)
}

/// The edge of what lies in any of the rings (each closed, either direction, crossings allowed; the non-zero rule), as it comes:
/// material to the left of each ring. Rings may meet each other, or themselves, in single points, where outlines would be
/// drawn apart. Coordinates that are not finite give nothing.
pub fn edge_of_union(rings: &[Vec<Point>]) -> Vec<Vec<Point>> {
    if !rings.iter().flatten().all(|p| p.is_finite()) {
        return Vec::new();
    }
    shapes(&plain(rings), &Vec::new(), RingOverlay::Union)
        .into_iter()
        .flatten()
        .map(|ring| ring.into_iter().map(Point::from).collect())
        .collect()
}

fn overlay(first: &Rings, second: &Rings, keep: RingOverlay) -> Vec<Outline> {
    outlines_of(shapes(first, second, keep))
}

fn shapes(first: &Rings, second: &Rings, keep: RingOverlay) -> Vec<Rings> {
    let rule = match keep {
        RingOverlay::Union => OverlayRule::Union,
        RingOverlay::Intersection => OverlayRule::Intersect,
        RingOverlay::Difference => OverlayRule::Difference,
    };
    let mut options = OverlayOptions::<f64, i64>::ogc();
    options.min_output_area = SLIVER_MM2;
    FloatOverlay::<[f64; 2], i64>::from_subj_and_clip_custom(
        first,
        second,
        options,
        Solver::default(),
    )
    .overlay(rule, FillRule::NonZero)
}

/// What lies in any of the outlines.
pub fn union(outlines: &[Outline]) -> Vec<Outline> {
    overlay(&rings_of(outlines), &Vec::new(), RingOverlay::Union)
}

/// What lies in both.
pub fn intersection(a: &Outline, b: &Outline) -> Vec<Outline> {
    overlay(
        &rings_of(std::slice::from_ref(a)),
        &rings_of(std::slice::from_ref(b)),
        RingOverlay::Intersection,
    )
}

/// What lies in `a` and not in any of `cut`.
pub fn difference(a: &Outline, cut: &[Outline]) -> Vec<Outline> {
    overlay(
        &rings_of(std::slice::from_ref(a)),
        &rings_of(cut),
        RingOverlay::Difference,
    )
}

/// The outline with the most area; `None` of none.
pub fn largest(outlines: impl IntoIterator<Item = Outline>) -> Option<Outline> {
    outlines
        .into_iter()
        .max_by(|a, b| a.area_mm2().total_cmp(&b.area_mm2()))
}

/// Area that both cover, mm2.
pub fn intersection_area_mm2(a: &Outline, b: &Outline) -> f64 {
    if a.bounds().distance_mm(b.bounds()) > 0.0 {
        return 0.0;
    }
    intersection(a, b).iter().map(Outline::area_mm2).sum()
}

/// Grown by `by_mm` with round joins (shrunk where negative); what shrinks away is gone, what shrinks
/// apart comes as several outlines. Chord error of the arcs at most 0.005 mm up to 40 mm, and beyond
/// at most `by_mm` / 8000. Nothing where `by_mm` is not finite.
pub fn offset(outlines: &[Outline], by_mm: f64) -> Vec<Outline> {
    if !by_mm.is_finite() {
        return Vec::new();
    }
    if by_mm == 0.0 {
        return union(outlines);
    }
    let style = OutlineStyle::new(by_mm).line_join(LineJoin::Round(arc_step(by_mm.abs())));
    outlines_of(rings_of(outlines).outline_as::<i64>(&style))
}

/// What lines of that width cover, ends and corners round; the chord error is that of [`offset`]. Each line is given by its
/// corners, those that are closed with the first one again at the end. Nothing where the width is not above 0 and finite.
pub fn stroked(lines: &[Vec<Point>], width_mm: f64) -> Vec<Outline> {
    if !(width_mm > 0.0 && width_mm.is_finite()) {
        return Vec::new();
    }
    let step = arc_step(0.5 * width_mm);
    let style = StrokeStyle::new(width_mm)
        .line_join(LineJoin::Round(step))
        .start_cap(LineCap::Round(step))
        .end_cap(LineCap::Round(step));
    outlines_of(plain(lines).stroke_as::<i64>(style, false))
}

/// Angle between the corners of a round join, radians, so that its chords are off by 0.005 mm at most. The library takes no
/// finer step than a hundredth of pi.
fn arc_step(radius_mm: f64) -> f64 {
    // Sagitta s = r (1 - cos(step/2)) => step = 2 acos(1 - s/r).
    let step = 2.0 * (1.0 - (0.005 / radius_mm).min(1.0)).acos();
    step.min(1.0)
}
