//! The field of a picture, and the parts that were found in it, by themselves or with strokes.

use crate::edge::{EdgeRing, refine_ring};
use crate::height::Standpoint;
use crate::linear::LinearImage;
use crate::look::Look;
use crate::plane::SheetPlane;
use crate::segment::lean::Lean;
use crate::segment::trace::{Blob, Window, trace_blobs};
use crate::segment::{Labels, grid::FieldGrid, guide, label_parts, paper};
use crate::silhouette::{
    SMALLEST_PART_MM, Silhouette, SilhouetteError, assemble, is_a_part, is_large_enough,
    join_fragments,
};
use crate::strokes::{Stroke, StrokeKind};
use crate::walls::{Light, with_walls};
use shape::{Point, RingOverlay, Vector, Watch, mapped, overlay_rings};

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
                let Some(px) = plane.photo_from_sheet(a.lerp(*b, k as f64 / count as f64)) else {
                    continue;
                };
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
                let aside = Vector::new(-along.y, along.x) * (0.5 * SPLIT_MM / length);
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
    overlay_rings(&rings, &cuts, RingOverlay::Difference)
        .into_iter()
        .filter(is_large_enough)
        .map(|in_sheet| Silhouette {
            in_sheet,
            ..silhouette.clone()
        })
        .collect()
}

/// What lies as a whole nearer than this to the field's edge is a print mark, or where a card under the parts ends, mm.
const RIM_MM: f64 = 3.0;
