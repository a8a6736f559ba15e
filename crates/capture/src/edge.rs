//! Where exactly a part's edge runs in the photo.
//!
//! Along each ring that the grid gave, the light is read across the edge; the edge lies half-way
//! between the light just inside and the light just outside it, in linear light, where blur moves
//! nothing. The step is looked for in the logarithm of light, where the edge of a dark part against
//! shade is larger than the edge of shade against bright paper.

use crate::linear::LinearImage;

/// How one pass over a ring searches and smooths, in pixels along and across the edge.
#[derive(Debug, Clone, Copy)]
struct Pass {
    /// The edge is looked for this far to either side.
    reach: f64,
    /// Positions are compared with the median of this many neighbours to either side.
    neighbours: usize,
    /// A position further from that median is replaced by it.
    outlier: f64,
    /// Smoothing along the edge, one sigma.
    smooth: f64,
}

/// The ring is right to about a cell from the start; the last pass settles a tenth of a pixel.
const PASSES: [Pass; 2] = [
    Pass {
        reach: 2.5,
        neighbours: 7,
        outlier: 1.0,
        smooth: 1.2,
    },
    Pass {
        reach: 1.5,
        neighbours: 5,
        outlier: 0.5,
        smooth: 0.8,
    },
];

/// Smoothing of the ring that is given, one sigma in pixels along it.
const START_SMOOTH: f64 = 1.2;

/// A step below this (natural logarithm of light) is too weak to move the ring.
const LEAST_STEP: f32 = 0.05;

/// Distance between samples along a ring, pixels.
const SPACING: f64 = 1.0;

/// Distance between samples across the edge, pixels.
const STEP: f64 = 0.5;

/// Light that is added before a logarithm is taken: noise of an 8-bit photo's shadows.
const FLOOR: f32 = 0.004;

/// A ring in photo pixels with how well its edge was seen.
#[derive(Debug, Clone)]
pub(crate) struct EdgeRing {
    /// Points in photo pixels, in the direction of the ring that was given.
    pub(crate) points: Vec<[f64; 2]>,
    /// Share of the points whose step across the edge is below three times the noise.
    pub(crate) faint_share: f64,
    /// Median width of the edge from a tenth to nine tenths of its step, pixels.
    pub(crate) width_px: f64,
}

/// Moves a ring onto the edge that it runs near. The ring is in photo pixels with the part on its
/// right hand (y down). `noise` is one sigma of the logarithm of light on bare paper.
pub(crate) fn refine_ring(image: &LinearImage<'_>, ring: &[[f64; 2]], noise: f32) -> EdgeRing {
    let mut points = smooth_closed(&resample(ring, SPACING), START_SMOOTH);
    let (mut faint_share, mut width_px) = (0.0, 0.0);
    for pass in PASSES {
        let n = points.len();
        if n < 8 {
            break;
        }
        let normals = outward_normals(&points);
        let hits: Vec<Hit> = points
            .iter()
            .zip(&normals)
            .map(|(p, m)| find_step(image, *p, *m, pass.reach))
            .map(|hit| Hit {
                at: if hit.step < LEAST_STEP { 0.0 } else { hit.at },
                ..hit
            })
            .collect();
        let offsets = steady(&hits, pass);
        points = points
            .iter()
            .zip(&normals)
            .zip(&offsets)
            .map(|((p, m), s)| [p[0] + m[0] * s, p[1] + m[1] * s])
            .collect();
        points = resample(&points, SPACING);
        let faint = hits.iter().filter(|h| h.step < 3.0 * noise).count();
        faint_share = faint as f64 / n as f64;
        let mut widths: Vec<f64> = hits.iter().map(|h| h.width).filter(|w| *w > 0.0).collect();
        widths.sort_by(f64::total_cmp);
        width_px = widths.get(widths.len() / 2).copied().unwrap_or(0.0);
    }
    EdgeRing {
        points,
        faint_share,
        width_px,
    }
}

/// The step found across one point of a ring.
#[derive(Debug, Clone, Copy)]
struct Hit {
    /// Distance outwards, pixels.
    at: f64,
    /// Size of the step, natural logarithm of light.
    step: f32,
    /// Width of the step from a tenth to nine tenths, pixels; 0 where it cannot be told.
    width: f64,
}

fn find_step(image: &LinearImage<'_>, p: [f64; 2], outward: [f64; 2], reach: f64) -> Hit {
    // Beyond the reach the profile goes on far enough to see the light on both sides of a step there.
    let half = ((reach + 3.0) / STEP).round() as i64;
    let profile: Vec<[f32; 3]> = (-half..=half)
        .map(|k| {
            let s = k as f64 * STEP;
            image.sample(p[0] + outward[0] * s, p[1] + outward[1] * s)
        })
        .collect();
    let log: Vec<[f32; 3]> = profile
        .iter()
        .map(|c| c.map(|v| (v + FLOOR).ln()))
        .collect();
    let s_of = |i: usize| (i as i64 - half) as f64 * STEP;

    // The largest change over a pixel and a half, preferring the place that was expected.
    let mut best = (half as usize, 0.0f64, 0.0f32);
    let span = 3;
    let first = (3.0 / STEP) as usize;
    for i in first..profile.len() - first {
        let (a, b) = (log[i - span / 2 - 1], log[i + span / 2 + 1]);
        let change = (0..3).map(|k| (b[k] - a[k]).powi(2)).sum::<f32>().sqrt();
        let s = s_of(i);
        let weight = (-0.5 * (s / reach).powi(2)).exp();
        if f64::from(change) * weight > best.1 {
            best = (i, f64::from(change) * weight, change);
        }
    }
    let (peak, _, step) = best;

    // Light on both sides, from 1.5 to 3 pixels off the step.
    let mean = |range: std::ops::RangeInclusive<usize>| -> [f32; 3] {
        let n = range.clone().count() as f32;
        let mut sum = [0.0; 3];
        for i in range {
            for k in 0..3 {
                sum[k] += profile[i][k];
            }
        }
        sum.map(|v| v / n)
    };
    let (near, far) = ((1.5 / STEP) as usize, (3.0 / STEP) as usize);
    let inner = mean(peak - far..=peak - near);
    let outer = mean(peak + near..=peak + far);
    let way: [f32; 3] = std::array::from_fn(|k| outer[k] - inner[k]);
    let length2: f32 = way.iter().map(|v| v * v).sum();
    if length2 < 1e-6 {
        return Hit {
            at: s_of(peak),
            step: 0.0,
            width: 0.0,
        };
    }
    let share = |i: usize| -> f64 {
        let dot: f32 = (0..3).map(|k| (profile[i][k] - inner[k]) * way[k]).sum();
        f64::from(dot / length2)
    };
    // Where the profile passes a level, walking outwards from the peak in both directions.
    let crossing = |level: f64| -> Option<f64> {
        let mut nearest: Option<f64> = None;
        for i in peak - far..peak + far {
            let (a, b) = (share(i), share(i + 1));
            if (a < level) != (b < level) {
                let s = s_of(i) + STEP * (level - a) / (b - a);
                if nearest.is_none_or(|n| (s - s_of(peak)).abs() < (n - s_of(peak)).abs()) {
                    nearest = Some(s);
                }
            }
        }
        nearest
    };
    let at = crossing(0.5).unwrap_or(s_of(peak));
    let width = match (crossing(0.1), crossing(0.9)) {
        (Some(low), Some(high)) => (high - low).abs(),
        _ => 0.0,
    };
    Hit {
        at: at.clamp(-reach, reach),
        step,
        width,
    }
}

/// Offsets along the ring with strays replaced by their neighbours' median, then smoothed.
fn steady(hits: &[Hit], pass: Pass) -> Vec<f64> {
    let n = hits.len();
    let k = pass.neighbours.min(n / 4);
    let mut window = Vec::with_capacity(2 * k + 1);
    let cleaned: Vec<f64> = (0..n)
        .map(|i| {
            window.clear();
            window.extend((0..=2 * k).map(|d| hits[(i + n + d - k) % n].at));
            window.sort_by(f64::total_cmp);
            let median = window[k];
            if (hits[i].at - median).abs() > pass.outlier {
                median
            } else {
                hits[i].at
            }
        })
        .collect();
    let reach = (3.0 * pass.smooth).ceil() as usize;
    let weights: Vec<f64> = (0..=reach)
        .map(|d| (-0.5 * (d as f64 / pass.smooth).powi(2)).exp())
        .collect();
    (0..n)
        .map(|i| {
            let (mut sum, mut total) = (0.0, 0.0);
            for d in -(reach as i64)..=reach as i64 {
                let j = (i as i64 + d).rem_euclid(n as i64) as usize;
                let w = weights[d.unsigned_abs() as usize];
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
