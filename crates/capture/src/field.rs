//! The field of a picture, and the parts that were found in it, by themselves or with strokes.

use crate::edge::{EdgeRing, refine_ring};
use crate::height::Standpoint;
use crate::light::Light;
use crate::linear::LinearImage;
use crate::look::Look;
use crate::plane::SheetPlane;
use crate::rounds::{RoundHole, Said, borne_out, round_holes};
use crate::segment::lean::Lean;
use crate::segment::trace::{Blob, Window, trace_blobs};
use crate::segment::{Labels, grid::FieldGrid, guide, label_parts, paper};
use crate::silhouette::{SMALLEST_PART_MM, Silhouette, SilhouetteError, assemble, join_fragments};
use crate::specks::{is_a_part, is_faint, is_large_enough, without_whiskers};
use crate::strokes::{Stroke, StrokeKind};
use crate::walls::with_walls;
use shape::{Point, RingOverlay, Vector, Watch, mapped, overlay_rings};

/// The field of a photo with everything that was worked out, so that a stroke or a thickness can be heard later.
pub(crate) struct Field {
    grid: FieldGrid,
    relative: paper::Relative,
    /// Which way heights lean, where that is known.
    lean: Option<Lean>,
    /// What the eye alone says.
    seen: Labels,
    /// What it says with the strokes.
    labels: Labels,
    /// What strokes that lie near each other changed, group by group.
    guided: Vec<Guided>,
    px_per_mm: f64,
    /// How far each cell is from the field's edge, up to just beyond its rim.
    depth: Vec<u16>,
    /// Parts with the strokes heard, and the window that each fills.
    silhouettes: InWindows,
    /// What hardly differs from the paper and no stroke bears out, and the window that each fills.
    faint: InWindows,
    /// Where parts were found without strokes: what strokes change must not hang on those that were there before.
    unguided: Vec<Window>,
    /// The parts with those apart that `split` lines cut.
    apart: Vec<Silhouette>,
}

/// Strokes that lie near each other, and what they change.
#[derive(Clone, PartialEq)]
struct Guided {
    marks: Vec<guide::Mark>,
    /// Where they may change something.
    window: Window,
    told: guide::Told,
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
            guided: Vec::new(),
            px_per_mm: at.px_per_mm,
            depth: Vec::new(),
            silhouettes: Vec::new(),
            faint: Vec::new(),
            unguided: Vec::new(),
            apart: Vec::new(),
            grid,
            relative,
            lean,
        };
        Ok(all.measured_in(plane, at.px_per_mm))
    }

    /// The same field measured in a plane, which may have become known after looking.
    pub(crate) fn measured_in(mut self, plane: &impl SheetPlane, px_per_mm: f64) -> Self {
        self.px_per_mm = px_per_mm;
        self.depth = self.grid.depths(usize::from(self.rim_cells()) + 1);
        (self.faint, self.silhouettes) = self.silhouettes_in(plane, Window::all(&self.grid));
        self.unguided = self.silhouettes.iter().map(|(w, _)| *w).collect();
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

    /// What looks like a small part, but hardly differs from the paper.
    pub(crate) fn faint(&self) -> impl Iterator<Item = &Silhouette> {
        self.faint.iter().map(|(_, s)| s)
    }

    fn cells_per_mm(&self) -> f64 {
        self.px_per_mm / self.grid.cell_px as f64
    }

    /// Hears strokes, all of them that hold: those of an earlier call are forgotten. Only what they change is worked out
    /// again, and nothing for groups of strokes that are as they were.
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
        let guided = self.guided_by(marks);
        let (gone, stayed): (Vec<Guided>, Vec<Guided>) = std::mem::take(&mut self.guided)
            .into_iter()
            .partition(|old| !guided.contains(old));
        let new = guided.iter().filter(|g| !stayed.contains(g));
        for old in &gone {
            self.labels.take_back(&old.told.cells, &self.seen);
        }
        for group in new.clone() {
            self.labels.tell(&group.told.cells);
        }
        let changed = gone.iter().chain(new).filter_map(|g| {
            let cells = g.told.cells.iter().map(|c| c.0);
            Window::of_cells(cells, &self.grid)
        });
        let changed: Vec<Window> = changed.map(|w| w.grown(2, &self.grid)).collect();
        self.guided = guided;
        self.trace_again(plane, changed);
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

    /// Marks in groups that cannot change the same cells, each with what it changes.
    fn guided_by(&self, marks: Vec<guide::Mark>) -> Vec<Guided> {
        let reach = (STROKE_REACH_MM * self.cells_per_mm()) as usize;
        let mut done: Vec<Guided> = Vec::new();
        for mark in marks {
            let Some(under) = Window::of_cells(mark.cells.iter().copied(), &self.grid) else {
                continue;
            };
            // A part that it contradicts is likely to change as a whole.
            let mut window = self
                .unguided
                .iter()
                .copied()
                .filter(|w| !mark.part && w.meets(under))
                .fold(under, Window::with)
                .grown(reach, &self.grid);
            let mut group = vec![mark];
            loop {
                // Those that meet are one group: what they say of a cell is weighed together.
                while let Some(k) = done.iter().position(|g| g.window.meets(window)) {
                    let met = done.remove(k);
                    window = window.with(met.window);
                    group.splice(0..0, met.marks);
                }
                let as_it_was = self.guided.iter().find(|g| g.marks == group);
                let next = match as_it_was {
                    Some(known) => known.clone(),
                    None => self.guided_in(window, group, reach),
                };
                if done.iter().any(|g| g.window.meets(next.window)) {
                    (window, group) = (next.window, next.marks);
                } else {
                    done.push(next);
                    break;
                }
            }
        }
        done
    }

    /// What a group of marks changes, in a window that grows for as long as the change runs out of it.
    fn guided_in(&self, mut window: Window, marks: Vec<guide::Mark>, reach: usize) -> Guided {
        loop {
            let told = guide::guide(&self.seen, &self.grid, &self.relative, window, &marks);
            let larger = window.grown(reach, &self.grid);
            if !told.runs_out || larger == window {
                return Guided {
                    marks,
                    window,
                    told,
                };
            }
            window = larger;
        }
    }

    /// Traces again what lies in windows, with the parts that reach into them as wholes.
    fn trace_again(&mut self, plane: &impl SheetPlane, windows: Vec<Window>) {
        let mut wholes: Vec<Window> = Vec::new();
        for mut window in windows {
            loop {
                let parts = self.silhouettes.iter().chain(&self.faint);
                let parts = parts.map(|(w, _)| w.grown(2, &self.grid));
                let others = parts.chain(wholes.iter().copied());
                let more = others
                    .filter(|w| w.meets(window))
                    .fold(window, Window::with);
                wholes.retain(|w| !w.meets(more));
                if more == window {
                    break;
                }
                window = more;
            }
            wholes.push(window);
        }
        for seen in [&mut self.silhouettes, &mut self.faint] {
            seen.retain(|(w, _)| !wholes.iter().any(|whole| w.meets(*whole)));
        }
        for window in wholes {
            let (faint, anew) = self.silhouettes_in(plane, window);
            self.faint.extend(faint);
            self.silhouettes.extend(anew);
        }
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
        let light = self.light(plane);
        silhouette.with_outline(with_walls(&silhouette.in_sheet, &light, from, h_mm))
    }

    /// What may be round holes of a part with its walls, where its height is known.
    pub(crate) fn round_holes(
        &self,
        silhouette: &Silhouette,
        plane: &impl SheetPlane,
        from: Standpoint,
        h_mm: f64,
    ) -> Vec<RoundHole> {
        round_holes(silhouette, &self.light(plane), from, h_mm)
    }

    /// Those that what is seen of them, and the strokes, bear out.
    pub(crate) fn borne_out(
        &self,
        holes: &[RoundHole],
        plane: &impl SheetPlane,
        from: Standpoint,
        h_mm: f64,
    ) -> Vec<RoundHole> {
        let said = Said {
            by_eye: &self.seen,
            with_strokes: &self.labels,
        };
        borne_out(holes, &self.light(plane), said, from, h_mm)
    }

    fn light<'a, P: SheetPlane>(&'a self, plane: &'a P) -> Light<'a, P> {
        Light {
            grid: &self.grid,
            relative: &self.relative,
            plane,
            cells_per_mm: self.cells_per_mm(),
        }
    }

    /// What is seen in a window: what hardly differs from the paper, and the parts.
    fn silhouettes_in(&self, plane: &impl SheetPlane, window: Window) -> (InWindows, InWindows) {
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
        let refined = mapped(&rings, |r| {
            refine_ring(&self.grid, &self.relative, self.lean, r)
        });
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
        let (faint, sound): (InWindows, InWindows) = assembled
            .into_iter()
            .flatten()
            .partition(|(window, s)| is_faint(s) && !self.is_drawn_over(*window));
        let sound = join_fragments(sound);
        let trimmed = mapped(&sound, |(window, s)| {
            let pieces = without_whiskers(&s.in_sheet).into_iter();
            let apart = |in_sheet| (*window, s.with_outline(in_sheet));
            pieces.map(apart).collect::<InWindows>()
        });
        (faint, trimmed.into_iter().flatten().collect())
    }

    /// Whether somebody says of something in a window that it is part.
    fn is_drawn_over(&self, window: Window) -> bool {
        let marks = self.guided.iter().flat_map(|g| &g.marks);
        let mut cells = marks.filter(|m| m.part).flat_map(|m| &m.cells);
        cells.any(|&cell| {
            let (x, y) = (cell % self.grid.width, cell / self.grid.width);
            (window.x0..window.x1).contains(&x) && (window.y0..window.y1).contains(&y)
        })
    }
}

/// Silhouettes, and the window that each fills.
type InWindows = Vec<(Window, Silhouette)>;

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
        .map(|in_sheet| silhouette.with_outline(in_sheet))
        .collect()
}

/// What lies as a whole nearer than this to the field's edge is a print mark, or where a card under the parts ends, mm.
const RIM_MM: f64 = 3.0;
