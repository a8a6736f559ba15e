//! Where a part may lie in an inside photo: coarse by spectra, over place and turn.

use crate::field::Field;
use crate::sought::{EdgePoint, View};
use crate::spectrum::Spectrum;
use rustfft::num_complex::Complex32;
use shape::{Cancelled, Watch};

/// Scales of the search, px/mm, coarse first. A part takes the one at which it is some 26 pixels from its middle to its
/// farthest point, so that large and small ones want the same number of turns.
pub(crate) const SCALES: [f64; 4] = [0.7, 1.0, 1.4, 2.0];
const RADIUS_PX: f64 = 26.0;

/// Candidates that one part keeps of the coarse search.
const KEPT: usize = 28;

/// Edge points of each kind that the coarse search takes.
const MOST_POINTS: usize = 1_200;

/// A pose of a part in the photo's plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stand {
    /// Where the part's centre appears, mm from the plate's origin.
    pub(crate) x: f64,
    pub(crate) y: f64,
    /// Turn, radians counter-clockwise.
    pub(crate) turn: f64,
    /// How much larger than life it appears: H/(H-z).
    pub(crate) scale: f64,
}

/// A pose and how well the edges agree there, at most 1.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Candidate {
    pub(crate) stand: Stand,
    pub(crate) score: f64,
}

/// A photo's edges at one scale with their spectra.
pub(crate) struct Level {
    pub(crate) field: Field,
    plan: Spectrum,
    signed: Vec<Complex32>,
    unsigned: Vec<Complex32>,
}

impl Level {
    pub(crate) fn of(field: Field) -> Self {
        // Beyond the photo's rim, the sums come round from the other side; a margin keeps that off what counts.
        let margin = 12;
        let plan = Spectrum::at_least(field.width + margin, field.height + margin);
        let mut scratch = Vec::new();
        let mut spread = |values: &[Complex32]| {
            let mut all = vec![Complex32::new(0.0, 0.0); plan.len()];
            for (row, to) in values.chunks(field.width).zip(all.chunks_mut(plan.width)) {
                to[..field.width].copy_from_slice(row);
            }
            plan.forth(&mut all, field.height, &mut scratch);
            all
        };
        let (signed, unsigned) = (spread(&field.signed), spread(&field.unsigned));
        Self {
            field,
            plan,
            signed,
            unsigned,
        }
    }
}

/// Which scale suits a part.
pub(crate) fn scale_for(view: &View) -> usize {
    let wanted = RADIUS_PX / view.radius_mm.max(0.1);
    let near = |s: &f64| (s / wanted).ln().abs();
    (0..SCALES.len())
        .min_by(|&a, &b| near(&SCALES[a]).total_cmp(&near(&SCALES[b])))
        .unwrap_or(0)
}

/// By which of a part's edges it is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum By {
    /// Its outline and its face.
    All,
    /// Its face alone: its own edge lies under another part.
    Face,
}

impl By {
    /// Those of them that are asked for.
    pub(crate) fn of(self, mut points: Vec<EdgePoint>) -> Vec<EdgePoint> {
        points.retain(|p| self == Self::All || !p.rim);
        points
    }
}

/// Candidates for a part, best first, no two alike.
///
/// `scale` is how much larger than life parts appear at the height where the device is thought to be.
pub(crate) fn search(
    view: &View,
    by: By,
    level: &Level,
    scale: f64,
    watch: &dyn Watch,
) -> Result<Vec<Candidate>, Cancelled> {
    let k = level.field.px_per_mm;
    let points = by.of(view.edge_points(k, MOST_POINTS));
    let total: f32 = points.iter().map(|p| p.weight).sum();
    if total <= 0.0 {
        return Ok(Vec::new());
    }
    // Half a step moves the farthest point by about a pixel.
    let step = (2.0 / (view.radius_mm * k)).clamp(0.025, 0.26);
    let turns = (std::f64::consts::TAU / step).ceil() as usize;
    let plan = &level.plan;
    let mut signed = Vec::new();
    let mut unsigned = Vec::new();
    let mut scratch = Vec::new();
    let mut found: Vec<Candidate> = Vec::new();
    let per_value = 1.0 / (plan.len() as f32 * total);
    for n in 0..turns {
        watch.step("looking for parts", n as f64 / turns as f64)?;
        let turn = n as f64 * std::f64::consts::TAU / turns as f64;
        splat(&points, turn, scale * k, plan, &mut signed, &mut unsigned);
        plan.forth(&mut signed, plan.height, &mut scratch);
        plan.forth(&mut unsigned, plan.height, &mut scratch);
        for (to, (from, (a, b))) in signed.iter_mut().zip(
            unsigned
                .iter()
                .zip(level.signed.iter().zip(&level.unsigned)),
        ) {
            *to = to.conj() * a + from.conj() * b;
        }
        plan.back(&mut signed, &mut scratch);
        peaks(&signed, level, per_value, turn, scale, &mut found);
    }
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    Ok(unlike(
        found,
        0.2 * view.radius_mm + 0.8 / k,
        2.2 * step,
        KEPT,
    ))
}

/// Puts a part's edges on grids, turned and scaled, its centre at the corner.
fn splat(
    points: &[EdgePoint],
    turn: f64,
    px_per_mm: f64,
    plan: &Spectrum,
    signed: &mut Vec<Complex32>,
    unsigned: &mut Vec<Complex32>,
) {
    let none = Complex32::new(0.0, 0.0);
    for grid in [&mut *signed, &mut *unsigned] {
        grid.clear();
        grid.resize(plan.len(), none);
    }
    let (s, c) = turn.sin_cos();
    let rotation = Complex32::new(c as f32, s as f32);
    let (w, h) = (plan.width as i64, plan.height as i64);
    for p in points {
        let x = (c * p.at[0] - s * p.at[1]) * px_per_mm;
        let y = (s * p.at[0] + c * p.at[1]) * px_per_mm;
        let (x0, y0) = (x.floor(), y.floor());
        let (u, v) = ((x - x0) as f32, (y - y0) as f32);
        let way = p.way * rotation;
        let (grid, value) = if p.rim {
            (&mut *unsigned, way * way * p.weight)
        } else {
            (&mut *signed, way * p.weight)
        };
        let (i0, j0) = ((x0 as i64).rem_euclid(w), (y0 as i64).rem_euclid(h));
        let (i1, j1) = ((i0 + 1) % w, (j0 + 1) % h);
        for (i, j, share) in [
            (i0, j0, (1.0 - u) * (1.0 - v)),
            (i1, j0, u * (1.0 - v)),
            (i0, j1, (1.0 - u) * v),
            (i1, j1, u * v),
        ] {
            grid[(j * w + i) as usize] += value * share;
        }
    }
}

/// Local maxima of one turn's sums, the best few.
fn peaks(
    sums: &[Complex32],
    level: &Level,
    per_value: f32,
    turn: f64,
    scale: f64,
    found: &mut Vec<Candidate>,
) {
    const MOST: usize = 5;
    let (w, h) = (level.field.width, level.field.height);
    let stride = level.plan.width;
    let mut best: Vec<(f32, usize, usize)> = Vec::with_capacity(MOST + 1);
    for j in 1..h - 1 {
        for i in 1..w - 1 {
            let v = sums[j * stride + i].re;
            if v <= 0.0 || (best.len() == MOST && v <= best[MOST - 1].0) {
                continue;
            }
            let top =
                (j - 1..=j + 1).all(|y| (i - 1..=i + 1).all(|x| sums[y * stride + x].re <= v));
            if top {
                let at = best.partition_point(|b| b.0 >= v);
                best.insert(at, (v, i, j));
                best.truncate(MOST);
            }
        }
    }
    let k = level.field.px_per_mm;
    found.extend(best.into_iter().map(|(v, i, j)| Candidate {
        stand: Stand {
            x: i as f64 / k,
            y: j as f64 / k,
            turn,
            scale,
        },
        score: f64::from(v * per_value),
    }));
}

/// The best of those that are not as good as the same, in the order given.
pub(crate) fn unlike(
    sorted: Vec<Candidate>,
    near_mm: f64,
    near_turn: f64,
    most: usize,
) -> Vec<Candidate> {
    let mut kept: Vec<Candidate> = Vec::new();
    for c in sorted {
        if kept.len() == most {
            break;
        }
        let same = kept.iter().any(|k| {
            (k.stand.x - c.stand.x).hypot(k.stand.y - c.stand.y) < near_mm
                && turned_by(k.stand.turn, c.stand.turn) < near_turn
        });
        if !same {
            kept.push(c);
        }
    }
    kept
}

/// Angle between two turns, radians, 0 to pi.
pub(crate) fn turned_by(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(std::f64::consts::TAU);
    d.min(std::f64::consts::TAU - d)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_face_alone_is_looked_for_without_the_outline() {
        let edge = |rim: bool| EdgePoint {
            at: [1.0, 2.0],
            way: Complex32::new(1.0, 0.0),
            weight: 1.0,
            rim,
        };
        let all = vec![edge(true), edge(false), edge(true), edge(false)];
        assert_eq!(By::All.of(all.clone()).len(), 4);
        let face = By::Face.of(all);
        assert!(face.len() == 2 && face.iter().all(|p| !p.rim));
    }
}
