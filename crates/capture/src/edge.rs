//! Where exactly a part's edge runs in the photo.
//!
//! Along each ring that the eye gave, the light is read across the edge, and the fine eye says how far off the edge lies and how
//! sure that is: shade at a part's foot, its wall and its rounded rim move the place of the steepest light by up to a
//! pixel, and how much shows in the light on both sides. Neighbours along the ring steady each other, the surer ones more.

use crate::segment::eye::fine::{ACROSS, Across, Reading, read};
use crate::segment::grid::FieldGrid;
use crate::segment::lean::Lean;
use crate::segment::level_and_tint;
use crate::segment::paper::{Ground, Relative};
use shape::counted;

/// How one pass over a ring smooths, in cells along the edge.
#[derive(Debug, Clone, Copy)]
struct Pass {
    /// Positions are compared with the median of this many neighbours to either side.
    neighbours: usize,
    /// A position further from that median is replaced by it, cells.
    outlier: f64,
    /// Smoothing along the edge, one sigma.
    smooth: f64,
}

/// The ring is right to about a cell from the start; the last pass settles a tenth.
const PASSES: [Pass; 2] = [
    Pass {
        neighbours: 7,
        outlier: 1.0,
        smooth: 1.5,
    },
    Pass {
        neighbours: 5,
        outlier: 0.5,
        smooth: 1.0,
    },
];

/// What the fine eye leaves out of its own sigma, cells: on photos that it did not learn from, the three surer fifths of its readings, said
/// to be 0.18, 0.28 and 0.40 cells off, were 0.30, 0.41 and 0.52 off.
const OVERCONFIDENT: f64 = 0.24;

/// Smoothing of the ring that is given, one sigma in cells along it.
const START_SMOOTH: f64 = 1.2;

/// Distance between samples along a ring, cells.
const SPACING: f64 = 1.0;

/// A ring with how well its edge was seen.
#[derive(Debug, Clone)]
pub(crate) struct EdgeRing {
    /// Points in photo pixels, in the direction of the ring that was given.
    pub(crate) points: Vec<[f64; 2]>,
    /// Share of the points whose step across the edge is below three times the noise of bare paper.
    pub(crate) faint_share: f64,
    /// How well its places are known, one sigma, pixels (root mean square).
    pub(crate) sigma_px: f64,
    /// Share of the points where the light changes slowly: a glow of the ground has no edge. 0 on paper, where the eye
    /// tells parts from shades.
    pub(crate) soft_share: f64,
    /// Share of the points where the part looks like shade on paper does: neither lighter nor darker, nor of another colour.
    pub(crate) like_shade_share: f64,
}

/// Moves a ring onto the edge that it runs near. The ring is in grid coordinates with the part on its right hand (y
/// down); `lean` tells which way heights lean, where that is known.
pub(crate) fn refine_ring(
    grid: &FieldGrid,
    relative: &Relative,
    lean: Option<Lean>,
    ring: &[[f64; 2]],
) -> EdgeRing {
    let mut points = smooth_closed(&resample(ring, SPACING), START_SMOOTH);
    let (mut faint_share, mut sigma, mut soft_share) = (0.0, 0.0, 0.0);
    let mut like_shade_share = 0.0;
    if relative.ground == Ground::Dark {
        (faint_share, sigma, soft_share) = on_dark(grid, relative, &points);
    }
    let passes: &[Pass] = match relative.ground {
        Ground::Paper => &PASSES,
        Ground::Dark => &[],
    };
    for &pass in passes {
        let n = points.len();
        if n < 8 {
            break;
        }
        let normals = outward_normals(&points);
        let read_at = counted(n, |i| {
            let (p, outward) = (points[i], normals[i]);
            let across = Across {
                light: light_across(grid, relative, p, outward),
                lean: lean.map(|l| l.at(p[0], p[1])).map(|[x, y]| {
                    let [a, b] = outward;
                    [x * a + y * b, y * a - x * b]
                }),
                ground_light: relative.ground_light,
            };
            (
                step_of(&across.light) < 3.0 * relative.noise,
                looks_like_shade(within(&across.light)),
                read(&across),
            )
        });
        let share = |is: fn(&(bool, bool, Reading)) -> bool| {
            read_at.iter().filter(|r| is(r)).count() as f64 / n as f64
        };
        faint_share = share(|r| r.0);
        like_shade_share = share(|r| r.1);
        let readings: Vec<Reading> = read_at.iter().map(|r| r.2).collect();
        let squares: f64 = readings.iter().map(|r| f64::from(r.sigma).powi(2)).sum();
        sigma = (squares / n as f64).sqrt().hypot(OVERCONFIDENT);
        let offsets = steady(&readings, pass);
        points = points
            .iter()
            .zip(&normals)
            .zip(&offsets)
            .map(|((p, m), s)| [p[0] + m[0] * s, p[1] + m[1] * s])
            .collect();
        points = resample(&points, SPACING);
    }
    EdgeRing {
        points: points
            .into_iter()
            .map(|p| grid.photo_from_grid(p))
            .collect(),
        faint_share,
        sigma_px: sigma * grid.cell_px as f64,
        soft_share,
        like_shade_share,
    }
}

/// Shade on paper is so dark (natural logarithm of light over paper's, mean of the channels), and its channels differ from that mean by no
/// more: seen beside parts on rendered photos under four kinds of light, with what parts reflect into it.
const SHADE_LEVELS: std::ops::Range<f32> = -3.0..-1.0;
const SHADE_TINT: f32 = 0.45;

/// Whether light over paper's might be that of shade.
fn looks_like_shade(light: [f32; 3]) -> bool {
    let (level, tint) = level_and_tint(light);
    SHADE_LEVELS.contains(&level) && tint < SHADE_TINT
}

/// How faint, how sure and how soft a ring on a dark ground is: there the fine eye, taught on paper, is not asked, and the ring, which
/// runs where the light is half-way between part and ground, stays where it is.
fn on_dark(grid: &FieldGrid, relative: &Relative, points: &[[f64; 2]]) -> (f64, f64, f64) {
    let normals = outward_normals(points);
    let (mut faint, mut soft, mut squares) = (0usize, 0usize, 0.0);
    for (p, m) in points.iter().zip(&normals) {
        let step = step_of(&light_across(grid, relative, *p, *m));
        let at = |off: f64| {
            let v = relative.sample(grid, p[0] + m[0] * off, p[1] + m[1] * off);
            v.iter().sum::<f32>() / 3.0
        };
        let wide = (at(-SOFT_REACH) - at(SOFT_REACH)).abs();
        soft += usize::from(step < SOFT_STEP * wide.max(SOFT_LEAST));
        faint += usize::from(step < 3.0 * relative.noise);
        let by_grain = f64::from(relative.noise / step.max(1e-3)).min(2.0);
        squares += DARK_EDGE_SIGMA.powi(2) + by_grain.powi(2);
    }
    let n = points.len().max(1) as f64;
    (faint as f64 / n, (squares / n).sqrt(), soft as f64 / n)
}

/// An edge's light changes within a few cells; that of a glow goes on changing over this many to either side, so that less
/// than this share of the change falls on the edge. Changes below the least are grain. Natural logarithm.
const SOFT_REACH: f64 = 10.0;
const SOFT_STEP: f32 = 0.5;
const SOFT_LEAST: f32 = 0.5;

/// How well an edge on a dark ground is placed without any grain, one sigma, cells: seen on drawn discs and plates.
const DARK_EDGE_SIGMA: f64 = 0.12;

/// Light over paper across the edge, three lines a cell apart averaged, each channel at each place of [`ACROSS`].
fn light_across(
    grid: &FieldGrid,
    relative: &Relative,
    p: [f64; 2],
    outward: [f64; 2],
) -> [[f32; 3]; ACROSS.len()] {
    let mut light = [[0.0f32; 3]; ACROSS.len()];
    for (place, sum) in ACROSS.iter().zip(&mut light) {
        for along in [-1.0, 0.0, 1.0] {
            let s = f64::from(*place);
            let x = p[0] + outward[0] * s - outward[1] * along;
            let y = p[1] + outward[1] * s + outward[0] * along;
            let v = relative.sample(grid, x, y);
            for k in 0..3 {
                sum[k] += v[k] / 3.0;
            }
        }
    }
    light
}

/// The mean of each channel from one place across the edge to another.
fn mean_across(light: &[[f32; 3]; ACROSS.len()], from: f32, to: f32) -> [f32; 3] {
    let (mut sum, mut count) = ([0.0f32; 3], 0.0f32);
    for (place, v) in ACROSS.iter().zip(light) {
        if (from..=to).contains(place) {
            for k in 0..3 {
                sum[k] += v[k];
            }
            count += 1.0;
        }
    }
    sum.map(|v| v / count.max(1.0))
}

/// The part's light, from two to four cells within the edge.
fn within(light: &[[f32; 3]; ACROSS.len()]) -> [f32; 3] {
    mean_across(light, -4.0, -2.0)
}

/// The largest difference of a channel between both sides, from two to four cells off.
fn step_of(light: &[[f32; 3]; ACROSS.len()]) -> f32 {
    let (own, beyond) = (within(light), mean_across(light, 2.0, 4.0));
    (0..3)
        .map(|k| (own[k] - beyond[k]).abs())
        .fold(0.0, f32::max)
}

/// Offsets along the ring with strays replaced by their neighbours' median, then smoothed, the surer ones counting more.
fn steady(readings: &[Reading], pass: Pass) -> Vec<f64> {
    let n = readings.len();
    let k = pass.neighbours.min(n / 4);
    let mut window = Vec::with_capacity(2 * k + 1);
    let cleaned: Vec<f64> = (0..n)
        .map(|i| {
            window.clear();
            window.extend((0..=2 * k).map(|d| f64::from(readings[(i + n + d - k) % n].at)));
            window.sort_by(f64::total_cmp);
            let (own, median) = (f64::from(readings[i].at), window[k]);
            if (own - median).abs() > pass.outlier {
                median
            } else {
                own
            }
        })
        .collect();
    let reach = (3.0 * pass.smooth).ceil() as i64;
    (0..n)
        .map(|i| {
            let (mut sum, mut total) = (0.0, 0.0);
            for d in -reach..=reach {
                let j = (i as i64 + d).rem_euclid(n as i64) as usize;
                let near = (-0.5 * (d as f64 / pass.smooth).powi(2)).exp();
                let w = near / f64::from(readings[j].sigma).powi(2);
                sum += w * cleaned[j];
                total += w;
            }
            sum / total
        })
        .collect()
}

/// Unit normals that point away from the part (the left hand, y down), each from the chord between
/// the neighbours two samples away.
fn outward_normals(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let n = points.len();
    (0..n)
        .map(|i| {
            let (a, b) = (points[(i + n - 2) % n], points[(i + 2) % n]);
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let length = dx.hypot(dy).max(1e-9);
            [dy / length, -dx / length]
        })
        .collect()
}

/// A closed line smoothed by a Gaussian along its points; `sigma` counts points.
fn smooth_closed(points: &[[f64; 2]], sigma: f64) -> Vec<[f64; 2]> {
    let n = points.len();
    // A ring of few points would shrink to a dot: never smooth over more than an eighth of it.
    let sigma = sigma.min(n as f64 / 16.0);
    let reach = (3.0 * sigma).ceil() as i64;
    (0..n as i64)
        .map(|i| {
            let (mut x, mut y, mut total) = (0.0, 0.0, 0.0);
            for d in -reach..=reach {
                let p = points[(i + d).rem_euclid(n as i64) as usize];
                let w = if sigma > 0.0 {
                    (-0.5 * (d as f64 / sigma).powi(2)).exp()
                } else {
                    1.0
                };
                x += w * p[0];
                y += w * p[1];
                total += w;
            }
            [x / total, y / total]
        })
        .collect()
}

/// A closed line with points at even distances near `spacing`.
fn resample(points: &[[f64; 2]], spacing: f64) -> Vec<[f64; 2]> {
    let n = points.len();
    if n < 3 {
        return points.to_vec();
    }
    let length_of = |i: usize| {
        let (a, b) = (points[i], points[(i + 1) % n]);
        (b[0] - a[0]).hypot(b[1] - a[1])
    };
    let total: f64 = (0..n).map(length_of).sum();
    let count = ((total / spacing).round() as usize).max(8);
    let step = total / count as f64;
    let mut out = Vec::with_capacity(count);
    let (mut i, mut passed) = (0usize, 0.0);
    for k in 0..count {
        let want = k as f64 * step;
        while i + 1 < n && passed + length_of(i) < want {
            passed += length_of(i);
            i += 1;
        }
        let t = ((want - passed) / length_of(i).max(1e-12)).clamp(0.0, 1.0);
        let (a, b) = (points[i], points[(i + 1) % n]);
        out.push([a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grey_metal_looks_like_shade_and_other_faces_do_not() {
        // Medians seen on rendered photos: bare metal by a window, copper and paper's umbra under one hard lamp.
        for face in [
            [-1.40, -1.54, -1.75],
            [-2.38, -2.77, -2.89],
            [-2.2, -2.2, -2.2],
        ] {
            assert!(looks_like_shade(face), "{face:?}");
        }
        // A green board, a ribbon, a glass panel, white plastic.
        for face in [
            [-4.04, -2.13, -3.05],
            [-0.48, -1.54, -3.63],
            [-4.06, -4.10, -3.99],
            [-0.14, -0.14, -0.16],
        ] {
            assert!(!looks_like_shade(face), "{face:?}");
        }
    }
}
