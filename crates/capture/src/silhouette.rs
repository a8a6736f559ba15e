//! What of each part the camera saw: rings in the photo and in the sheet's plane.

use crate::edge::{EdgeRing, refine_ring};
use crate::height::Standpoint;
use crate::linear::LinearImage;
use crate::segment::lean::Lean;
use crate::segment::trace::{Blob, Window, trace_blobs};
use crate::segment::{Labels, dark, grid::FieldGrid, guide, label_parts, paper};
use crate::strokes::{Stroke, StrokeKind};
use crate::walls::{Light, with_walls};
use shape::{Cancelled, Outline, Point, Watch, mapped, thinned};

/// The smallest part that is looked for, mm across (a small screw's head).
pub const SMALLEST_PART_MM: f64 = 1.5;

/// Paper showing through an opening narrower than this is not told from a speck, mm.
pub const SMALLEST_OPENING_MM: f64 = 0.6;

/// Outlines are thinned so far that no point moves more than this, mm: a tenth of what is measured.
const THINNING_MM: f64 = 0.008;

/// One part as the camera saw it.
#[derive(Debug, Clone, PartialEq)]
pub struct Silhouette {
    /// Its border carried to the sheet's plane (z = 0), mm. The base and the enlarged top are both in it.
    pub in_sheet: Outline,
    /// Share of its border where the step of light is below three times the noise of bare paper.
    pub faint_share: f64,
    /// How well its edge's places are known in the photo, one sigma, mm on the sheet.
    pub edge_sigma_mm: f64,
    /// It reaches the edge of the blank field: part of it may be missing.
    pub at_field_edge: bool,
    /// Openings that were seen but are too small to be trusted, left out.
    pub openings_left_out: usize,
    /// Pieces that an edge which crossed itself fell into, large enough for parts, beside the largest: left out.
    pub pieces_left_out: usize,
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

/// How photo pixels and the sheet's plane belong together.
pub(crate) trait SheetPlane: Sync {
    /// Carries a photo point to the sheet's plane, mm.
    fn sheet_from_photo(&self, photo_px: [f64; 2]) -> Option<Point>;
    /// Carries a point of the sheet's plane into the photo, pixels.
    fn photo_from_sheet(&self, sheet_mm: Point) -> [f64; 2];
    /// How far a place a millimetre over the plane appears moved against the one below it, pixels; `None` where nobody knows.
    fn rise_px(&self, photo_px: [f64; 2]) -> Option<[f64; 2]>;
}

/// The field's border in the photo, in short steps: the lens bends it.
fn border_px(plane: &impl SheetPlane, field: shape::Bounds) -> Vec<[f64; 2]> {
    let border = dense_rectangle(field, 5.0);
    border
        .into_iter()
        .map(|p| plane.photo_from_sheet(p))
        .collect()
}

/// Points of the sheet in the photo.
fn white_px(plane: &impl SheetPlane, white: &[Point]) -> Vec<[f64; 2]> {
    white.iter().map(|p| plane.photo_from_sheet(*p)).collect()
}

/// Pixels per millimetre at the field's middle.
fn px_per_mm(plane: &impl SheetPlane, field: shape::Bounds) -> f64 {
    let centre = plane.photo_from_sheet(field.centre());
    let beside = plane.photo_from_sheet(field.centre() + shape::Vector::new(1.0, 0.0));
    (beside[0] - centre[0]).hypot(beside[1] - centre[1])
}

/// Where a picture's field lies in it, and where its background shows.
pub(crate) struct Look {
    /// The field's border, pixels.
    pub(crate) border_px: Vec<[f64; 2]>,
    /// Places that show the background unless something lies on them, pixels.
    pub(crate) white_px: Vec<[f64; 2]>,
    /// A card may cover the whole field.
    pub(crate) may_be_covered: bool,
    /// The background may be dark: no sheet lies under the parts.
    pub(crate) may_be_dark: bool,
    /// The plane tells which way heights lean in the picture.
    pub(crate) lean_known: bool,
    /// Pixels per millimetre at the field's middle.
    pub(crate) px_per_mm: f64,
}

impl Look {
    /// A field of a sheet; `white` are points of the sheet that show its own white unless something lies on them.
    pub(crate) fn on_sheet(plane: &impl SheetPlane, field: shape::Bounds, white: &[Point]) -> Self {
        Self {
            border_px: border_px(plane, field),
            white_px: white_px(plane, white),
            may_be_covered: true,
            may_be_dark: false,
            lean_known: true,
            px_per_mm: px_per_mm(plane, field),
        }
    }

    /// The field's cells, and their light over the background's.
    pub(crate) fn paper(
        &self,
        image: &LinearImage<'_>,
    ) -> Result<(FieldGrid, paper::Relative), SilhouetteError> {
        let mut grid = FieldGrid::over(image, &self.border_px, self.px_per_mm)
            .ok_or(SilhouetteError::FieldNotSeen)?;
        if self.may_be_dark && dark::is_dark(image, &self.white_px) {
            let relative =
                dark::relative_to_ground(image, &grid).ok_or(SilhouetteError::NoPaper)?;
            return Ok((grid, relative));
        }
        let cells_per_mm = self.px_per_mm / grid.cell_px as f64;
        let relative = paper::relative_to_background(
            image,
            &mut grid,
            &self.white_px,
            cells_per_mm,
            self.may_be_covered,
        )
        .ok_or(SilhouetteError::NoPaper)?;
        Ok((grid, relative))
    }
}

/// The field of a photo with everything that was worked out, so that a stroke or a thickness can be heard later.
pub(crate) struct Field {
    grid: FieldGrid,
    relative: paper::Relative,
    /// What the eye alone says.
    seen: Labels,
    /// What it says with the strokes.
    labels: Labels,
    /// Where the labels differ from what the eye says.
    guided: Option<Window>,
    px_per_mm: f64,
    /// How far each cell is from the field's edge, up to just beyond its rim.
    depth: Vec<u16>,
    silhouettes: Vec<(Window, Silhouette)>,
    /// The same with the parts apart that `split` lines cut.
    apart: Vec<Silhouette>,
}

impl Field {
    /// Finds the parts that lie in a field.
    pub(crate) fn look(
        image: &LinearImage<'_>,
        plane: &impl SheetPlane,
        at: &Look,
        watch: &dyn Watch,
    ) -> Result<Self, SilhouetteError> {
        watch.step("reading the paper's light", 0.0)?;
        let (grid, relative) = at.paper(image)?;
        watch.step("telling parts from paper", 0.2)?;
        let cells_per_mm = at.px_per_mm / grid.cell_px as f64;
        let lean = Lean::over(&grid, plane, at.px_per_mm).filter(|_| at.lean_known);
        let labels = label_parts(&grid, &relative, cells_per_mm, lean);
        watch.step("finding edges", 0.7)?;
        let all = Self {
            seen: labels.clone(),
            labels,
            guided: None,
            px_per_mm: at.px_per_mm,
            depth: Vec::new(),
            silhouettes: Vec::new(),
            apart: Vec::new(),
            grid,
            relative,
        };
        Ok(all.measured_in(plane, at.px_per_mm))
    }

    /// The same field measured in a plane, which may have become known after looking.
    pub(crate) fn measured_in(mut self, plane: &impl SheetPlane, px_per_mm: f64) -> Self {
        self.px_per_mm = px_per_mm;
        self.depth = self.grid.depths(usize::from(self.rim_cells()) + 1);
        self.silhouettes = self.silhouettes_in(plane, Window::all(&self.grid));
        self.apart = self.silhouettes.iter().map(|(_, s)| s.clone()).collect();
        self
    }

    /// Breadth of the field's rim, in which nothing that lies there as a whole is a part.
    fn rim_cells(&self) -> u16 {
        (RIM_MM * self.cells_per_mm()) as u16
    }

    /// Pixels along a cell's side.
    pub(crate) fn cell_px(&self) -> usize {
        self.grid.cell_px
    }

    /// What the camera saw of each part.
    pub(crate) fn silhouettes(&self) -> &[Silhouette] {
        &self.apart
    }

    fn cells_per_mm(&self) -> f64 {
        self.px_per_mm / self.grid.cell_px as f64
    }

    /// Hears strokes, all of them that hold: those of an earlier call are forgotten. Only what lies round them is
    /// worked out again.
    pub(crate) fn guide(&mut self, plane: &impl SheetPlane, strokes: &[Stroke]) {
        let marks: Vec<guide::Mark> = strokes
            .iter()
            .filter(|s| s.kind != StrokeKind::Split)
            .map(|s| guide::Mark {
                part: s.kind == StrokeKind::Include,
                cells: self.cells_under(s, plane),
            })
            .filter(|m| !m.cells.is_empty())
            .collect();
        let reach = (STROKE_REACH_MM * self.cells_per_mm()) as usize;
        let drawn = marks
            .iter()
            .map(|m| self.window_of(&m.cells))
            .reduce(Window::with);
        let drawn = drawn.map(|w| w.grown(reach, &self.grid));
        if let Some(mut window) = self.guided.into_iter().chain(drawn).reduce(Window::with) {
            // Whole parts are traced again, or left alone.
            while let Some(more) = self
                .silhouettes
                .iter()
                .map(|(w, _)| w.grown(2, &self.grid))
                .find(|w| w.meets(window) && window.with(*w) != window)
            {
                window = window.with(more);
            }
            self.labels.restore(&self.seen, window, &self.grid);
            guide::guide(&mut self.labels, &self.grid, &self.relative, window, &marks);
            self.silhouettes.retain(|(w, _)| !w.meets(window));
            let anew = self.silhouettes_in(plane, window);
            self.silhouettes.extend(anew);
            self.guided = drawn.map(|_| window);
        }
        let lines: Vec<&Stroke> = strokes
            .iter()
            .filter(|s| s.kind == StrokeKind::Split)
            .collect();
        self.apart = self
            .silhouettes
            .iter()
            .flat_map(|(_, s)| split(s, &lines))
            .collect();
    }

    fn window_of(&self, cells: &[usize]) -> Window {
        let w = self.grid.width;
        let at = |c: usize| Window {
            x0: c % w,
            y0: c / w,
            x1: c % w + 1,
            y1: c / w + 1,
        };
        cells
            .iter()
            .map(|&c| at(c))
            .reduce(Window::with)
            .unwrap_or(at(0))
    }

    /// Cells that a stroke covers.
    fn cells_under(&self, stroke: &Stroke, plane: &impl SheetPlane) -> Vec<usize> {
        let (w, h) = (self.grid.width as i64, self.grid.height as i64);
        let radius = (0.5 * stroke.width_mm * self.cells_per_mm()).max(1.0);
        let steps = stroke
            .points
            .iter()
            .zip(stroke.points.iter().skip(1).chain(stroke.points.last()));
        let mut cells = Vec::new();
        for (a, b) in steps {
            let count = (a.distance_mm(*b) * self.cells_per_mm() / radius)
                .ceil()
                .clamp(1.0, 20_000.0) as usize;
            for k in 0..=count {
                let px = plane.photo_from_sheet(a.lerp(*b, k as f64 / count as f64));
                let [cx, cy] = self.grid.grid_from_photo(px);
                if !(cx > -radius
                    && cy > -radius
                    && cx < w as f64 + radius
                    && cy < h as f64 + radius)
                {
                    continue;
                }
                let r = radius.ceil() as i64;
                for y in (cy as i64 - r).max(0)..(cy as i64 + r + 1).min(h) {
                    for x in (cx as i64 - r).max(0)..(cx as i64 + r + 1).min(w) {
                        let cell = (y * w + x) as usize;
                        if (x as f64 - cx).hypot(y as f64 - cy) <= radius && self.grid.inside(cell)
                        {
                            cells.push(cell);
                        }
                    }
                }
            }
        }
        cells.sort_unstable();
        cells.dedup();
        cells
    }

    /// A part's silhouette with its walls, where its height is known.
    pub(crate) fn with_walls(
        &self,
        silhouette: &Silhouette,
        plane: &impl SheetPlane,
        from: Standpoint,
        h_mm: f64,
    ) -> Silhouette {
        let light = Light {
            grid: &self.grid,
            relative: &self.relative,
            plane,
            cells_per_mm: self.cells_per_mm(),
        };
        Silhouette {
            in_sheet: with_walls(&silhouette.in_sheet, &light, from, h_mm),
            ..silhouette.clone()
        }
    }

    fn silhouettes_in(&self, plane: &impl SheetPlane, window: Window) -> Vec<(Window, Silhouette)> {
        let disc_cells = |d_mm: f64| {
            (0.25 * std::f64::consts::PI * (d_mm * self.cells_per_mm()).powi(2)) as usize
        };
        // Half of the nominal area: perspective and blur take some of it.
        let least_cells = (disc_cells(SMALLEST_PART_MM) / 2).max(6);
        let mut blobs: Vec<Blob> = trace_blobs(&self.labels, &self.grid, window, least_cells);
        let rim = self.rim_cells();
        blobs.retain(|b| {
            b.rings[0].iter().any(|p| {
                let (x, y) = (p[0].max(0.0) as usize, p[1].max(0.0) as usize);
                let cell =
                    y.min(self.grid.height - 1) * self.grid.width + x.min(self.grid.width - 1);
                self.depth[cell] > rim
            })
        });
        let rings: Vec<&[[f64; 2]]> = blobs
            .iter()
            .flat_map(|b| b.rings.iter().map(Vec::as_slice))
            .collect();
        // Each ring's result depends on that ring alone, and each blob's on its own rings.
        let refined = mapped(&rings, |r| refine_ring(&self.grid, &self.relative, r));
        let mut rest = refined.as_slice();
        let own: Vec<(&Blob, &[EdgeRing])> = blobs
            .iter()
            .map(|blob| {
                let (own, others) = rest.split_at(blob.rings.len().min(rest.len()));
                rest = others;
                (blob, own)
            })
            .collect();
        let assembled = mapped(&own, |(blob, own)| {
            if own.first().is_some_and(|outer| outer.soft_share > 0.5) {
                return None;
            }
            let silhouette = assemble(own, plane, blob.at_edge, self.px_per_mm)?;
            is_a_part(&silhouette).then_some((blob.window, silhouette))
        });
        join_fragments(assembled.into_iter().flatten().collect())
    }
}

/// How far round a stroke things may change, mm.
const STROKE_REACH_MM: f64 = 30.0;

/// Breadth of the cut that a `split` line makes, mm: far below what is measured.
const SPLIT_MM: f64 = 0.004;

/// A silhouette cut along lines; pieces too small to be parts fall away.
fn split(silhouette: &Silhouette, lines: &[&Stroke]) -> Vec<Silhouette> {
    let mut cuts: Vec<Vec<Point>> = Vec::new();
    for line in lines {
        for (a, b) in line.points.iter().zip(line.points.iter().skip(1)) {
            let along = *b - *a;
            let length = along.length_mm();
            if length > 0.0 {
                let aside = shape::Vector::new(-along.y, along.x) * (0.5 * SPLIT_MM / length);
                cuts.push(vec![*a - aside, *b - aside, *b + aside, *a + aside]);
            }
        }
    }
    if cuts.is_empty() {
        return vec![silhouette.clone()];
    }
    let rings: Vec<Vec<Point>> = silhouette
        .in_sheet
        .rings()
        .map(|r| r.points().to_vec())
        .collect();
    shape::overlay_rings(&rings, &cuts, shape::RingOverlay::Difference)
        .into_iter()
        .filter(is_large_enough)
        .map(|in_sheet| Silhouette {
            in_sheet,
            ..silhouette.clone()
        })
        .collect()
}

fn assemble(
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
        edge_sigma_mm: mean(|r| r.sigma_px.powi(2)).sqrt() / px_per_mm,
        at_field_edge,
        openings_left_out,
        pieces_left_out,
    })
}

/// Joins what a glint or a bright bevel cut off a part: a small piece that lies nearer to a larger one than parts are to be
/// laid. Two parts that lie so close cannot be told from one; the sheet asks for more room between them.
fn join_fragments(mut all: Vec<(Window, Silhouette)>) -> Vec<(Window, Silhouette)> {
    let mut k = 0;
    while k < all.len() {
        let small = &all[k].1.in_sheet;
        let (area, bounds) = (small.area_mm2(), small.bounds());
        let host = (area < FRAGMENT_MM2)
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

/// Half of the smallest part's disc: what is left below that is a glint's or a shade's edge.
fn is_large_enough(outline: &Outline) -> bool {
    outline.area_mm2() > 0.4 * SMALLEST_PART_MM * SMALLEST_PART_MM
}

/// Large enough, and no sliver such as runs along the foot of a wall.
fn is_a_part(silhouette: &Silhouette) -> bool {
    let outline = &silhouette.in_sheet;
    is_large_enough(outline)
        && !shape::offset(std::slice::from_ref(outline), -0.5 * SLIVER_MM).is_empty()
}

/// What is narrower than this all over is no part, mm.
const SLIVER_MM: f64 = 0.7;

/// What lies as a whole nearer than this to the field's edge is a print mark, or where a card under the parts ends, mm.
const RIM_MM: f64 = 3.0;

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
    let largest = pieces
        .into_iter()
        .max_by(|a, b| a.area_mm2().total_cmp(&b.area_mm2()))?;
    Some((largest, large.saturating_sub(1)))
}

fn dense_rectangle(b: shape::Bounds, step_mm: f64) -> Vec<Point> {
    let corners = [
        b.min,
        Point::new(b.max.x, b.min.y),
        b.max,
        Point::new(b.min.x, b.max.y),
    ];
    (0..4)
        .flat_map(|i| {
            let (p, q) = (corners[i], corners[(i + 1) % 4]);
            let n = (p.distance_mm(q) / step_mm).ceil().max(1.0) as usize;
            (0..n).map(move |k| p.lerp(q, k as f64 / n as f64))
        })
        .collect()
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
