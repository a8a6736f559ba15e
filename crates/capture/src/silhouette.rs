//! What of each part the camera saw: rings in the photo and in the sheet's plane.

use crate::edge::{EdgeRing, refine_ring};
use crate::linear::LinearImage;
use crate::segment::{
    grid::FieldGrid, label_parts, paper::relative_to_paper, trace::bridge_fragments,
    trace::trace_blobs,
};
use shape::{Cancelled, Outline, Point, Watch};

/// The smallest part that is looked for, mm across (a small screw's head).
pub const SMALLEST_PART_MM: f64 = 1.5;

/// Paper showing through an opening narrower than this is not told from a speck, mm.
pub const SMALLEST_OPENING_MM: f64 = 0.6;

/// Silhouettes nearer to each other than this are one part, mm.
const FRAGMENT_GAP_MM: f64 = 0.8;

/// Outlines are thinned so far that no point moves more than this, mm: a tenth of what is measured.
const THINNING_MM: f64 = 0.008;

/// One part as the camera saw it.
#[derive(Debug, Clone, PartialEq)]
pub struct Silhouette {
    /// Its border carried to the sheet's plane (z = 0), mm. The base and the enlarged top are both in it.
    pub in_sheet: Outline,
    /// Share of its border where the step of light is below three times the noise of bare paper.
    pub faint_share: f64,
    /// Width of its edge from a tenth to nine tenths, mm on the sheet.
    pub edge_width_mm: f64,
    /// It reaches the edge of the blank field: part of it may be missing.
    pub at_field_edge: bool,
    /// Openings that were seen but are too small to be trusted, left out.
    pub openings_left_out: usize,
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
}

/// Finds the parts that lie in a field of the sheet.
pub(crate) fn find_silhouettes(
    image: &LinearImage<'_>,
    plane: &impl SheetPlane,
    field: shape::Bounds,
    watch: &dyn Watch,
) -> Result<Vec<Silhouette>, SilhouetteError> {
    watch.step("reading the paper's light", 0.0)?;
    let border: Vec<[f64; 2]> = dense_rectangle(field, 5.0)
        .into_iter()
        .map(|p| plane.photo_from_sheet(p))
        .collect();
    let grid = FieldGrid::bin(image, &border).ok_or(SilhouetteError::FieldNotSeen)?;
    let relative = relative_to_paper(&grid).ok_or(SilhouetteError::NoPaper)?;
    watch.step("telling parts from paper", 0.3)?;
    // Cells per mm at the field's middle, to tell specks from parts.
    let centre = plane.photo_from_sheet(field.centre());
    let beside = plane.photo_from_sheet(field.centre() + shape::Vector::new(1.0, 0.0));
    let px_per_mm = (beside[0] - centre[0]).hypot(beside[1] - centre[1]);
    let cells_per_mm = px_per_mm / grid.cell_px as f64;
    let mut labels = label_parts(&grid, &relative, cells_per_mm);
    let reach = (0.5 * FRAGMENT_GAP_MM * cells_per_mm).round() as usize;
    bridge_fragments(&mut labels, grid.width, grid.height, reach);
    let disc_cells =
        |d_mm: f64| (0.25 * std::f64::consts::PI * (d_mm * cells_per_mm).powi(2)) as usize;
    // Half of the nominal area: perspective and blur take some of it.
    let least_cells = (disc_cells(SMALLEST_PART_MM) / 2).max(6);
    let blobs = trace_blobs(&labels, grid.width, grid.height, least_cells, |c| {
        grid.inside(c)
    });
    watch.step("finding edges", 0.5)?;

    let rings: Vec<(usize, Vec<[f64; 2]>)> = blobs
        .iter()
        .enumerate()
        .flat_map(|(k, b)| b.rings.iter().map(move |r| (k, r)))
        .map(|(k, r)| (k, r.iter().map(|p| grid.photo_from_grid(*p)).collect()))
        .collect();
    let refined = refine_all(image, &rings, relative.noise);
    watch.step("finding edges", 0.9)?;

    let mut silhouettes = Vec::new();
    for (k, blob) in blobs.iter().enumerate() {
        let own: Vec<&EdgeRing> = rings
            .iter()
            .zip(&refined)
            .filter(|((b, _), _)| *b == k)
            .map(|(_, e)| e)
            .collect();
        silhouettes.extend(assemble(&own, plane, blob.at_edge, px_per_mm));
    }
    // Half of the smallest part's disc: what is left below that is a glint's or a shade's edge.
    silhouettes
        .retain(|s: &Silhouette| s.in_sheet.area_mm2() > 0.4 * SMALLEST_PART_MM * SMALLEST_PART_MM);
    Ok(silhouettes)
}

/// Refines rings on two threads; each ring's result depends on that ring alone.
fn refine_all(
    image: &LinearImage<'_>,
    rings: &[(usize, Vec<[f64; 2]>)],
    noise: f32,
) -> Vec<EdgeRing> {
    let total: usize = rings.iter().map(|r| r.1.len()).sum();
    let mut half = 0;
    let mut passed = 0;
    while half < rings.len() && passed < total / 2 {
        passed += rings[half].1.len();
        half += 1;
    }
    let run = |part: &[(usize, Vec<[f64; 2]>)]| -> Vec<EdgeRing> {
        part.iter()
            .map(|(_, r)| refine_ring(image, r, noise))
            .collect()
    };
    std::thread::scope(|scope| {
        let first = scope.spawn(|| run(&rings[..half]));
        let second = run(&rings[half..]);
        // Results are matched to rings by place: what a lost thread owed is made here.
        let mut all = first.join().unwrap_or_else(|_| run(&rings[..half]));
        all.extend(second);
        all
    })
}

fn assemble(
    rings: &[&EdgeRing],
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
    let outer_points = thin(&in_sheet(outer)?, THINNING_MM);
    let mut kept = Vec::new();
    let mut openings_left_out = 0;
    for hole in holes {
        let points = thin(&in_sheet(hole)?, THINNING_MM);
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
    let outline = sound_outline(outer_points, kept)?;
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
        edge_width_mm: mean(|r| r.width_px) / px_per_mm,
        at_field_edge,
        openings_left_out,
    })
}

/// A disc of nearly the smallest opening's width fits into it. Solder pads, print and glints on a part's
/// face can be as white as paper, but they are narrower.
fn is_wide_enough(hole: &Outline) -> bool {
    hole.area_mm2() > 2.0 * SMALLEST_OPENING_MM * SMALLEST_OPENING_MM
        && !shape::offset(std::slice::from_ref(hole), -0.48 * SMALLEST_OPENING_MM).is_empty()
}

/// An outline of the rings; where an edge wandered across itself, the largest clean piece of it.
fn sound_outline(outer: Vec<Point>, holes: Vec<Vec<Point>>) -> Option<Outline> {
    match Outline::try_new(outer.clone(), holes.clone()) {
        Ok(outline) => Some(outline),
        Err(_) => shape::overlay_rings(&[outer], &holes, shape::RingOverlay::Difference)
            .into_iter()
            .max_by(|a, b| a.area_mm2().total_cmp(&b.area_mm2())),
    }
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

/// A closed line with the points left out that lie within `tolerance_mm` of the line without them
/// (Douglas and Peucker 1973, on the two halves between the first point and the one farthest from it).
fn thin(points: &[Point], tolerance_mm: f64) -> Vec<Point> {
    let n = points.len();
    if n < 8 {
        return points.to_vec();
    }
    let far = (0..n)
        .max_by(|&a, &b| {
            points[0]
                .distance_mm(points[a])
                .total_cmp(&points[0].distance_mm(points[b]))
        })
        .unwrap_or(n / 2);
    let mut keep = vec![false; n + 1];
    keep[0] = true;
    keep[far] = true;
    let at = |i: usize| points[i % n];
    let mut stack = vec![(0, far), (far, n)];
    while let Some((a, b)) = stack.pop() {
        let (p, q) = (at(a), at(b));
        let u = q - p;
        let length = u.length_mm();
        let off = |i: usize| {
            if length < 1e-12 {
                (at(i) - p).length_mm()
            } else {
                (u.cross(at(i) - p) / length).abs()
            }
        };
        if let Some(worst) = (a + 1..b).max_by(|&i, &j| off(i).total_cmp(&off(j)))
            && off(worst) > tolerance_mm
        {
            keep[worst] = true;
            stack.push((a, worst));
            stack.push((worst, b));
        }
    }
    (0..n).filter(|&i| keep[i]).map(|i| points[i]).collect()
}
