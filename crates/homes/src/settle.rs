//! From a coarse candidate to a place known to a tenth of a millimetre.

use crate::field::{Field, brightness};
use crate::raster::Raster;
use crate::search::{Candidate, Stand};
use crate::sought::EdgePoint;
use nalgebra::{Matrix4, Vector4};
use rustfft::num_complex::Complex32;

/// How well a part's edges agree with a photo's at a pose: 1 where all of them are there, sharp and the right way.
pub(crate) fn agreement(points: &[EdgePoint], field: &Field, stand: &Stand) -> f64 {
    let (s, c) = stand.turn.sin_cos();
    let rotation = Complex32::new(c as f32, s as f32);
    let to_plate = stand.to_plate();
    let k = field.px_per_mm;
    let mut sum = 0.0f64;
    let mut total = 0.0f64;
    for p in points {
        total += f64::from(p.weight);
        let [x, y] = to_plate(p.at);
        let way = p.way * rotation;
        let meets = if p.rim {
            let there = field.unsigned_at([x * k, y * k]);
            there.map(|unsigned| ((way * way).conj() * unsigned).re)
        } else {
            let there = field.signed_at([x * k, y * k]);
            there.map(|signed| (way.conj() * signed).re)
        };
        sum += f64::from(p.weight * meets.unwrap_or(0.0));
    }
    if total > 0.0 { sum / total } else { 0.0 }
}

/// How far a climb steps at first.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Steps {
    pub(crate) place_mm: f64,
    pub(crate) turn: f64,
    /// 0 leaves the scale alone.
    pub(crate) scale: f64,
    /// How often the steps are halved.
    pub(crate) halvings: usize,
}

/// Climbs to the next best agreement in ever smaller steps. `scales` bounds how large the part may appear.
pub(crate) fn climb(
    points: &[EdgePoint],
    field: &Field,
    from: Candidate,
    steps: Steps,
    scales: [f64; 2],
) -> Candidate {
    let first = [steps.place_mm, steps.place_mm, steps.turn, steps.scale];
    let moved = |mut stand: Stand, axis: usize, by: f64| {
        match axis {
            0 => stand.x += by,
            1 => stand.y += by,
            2 => stand.turn += by,
            _ => stand.scale = (stand.scale + by).clamp(scales[0], scales[1]),
        }
        stand
    };
    let worth = |stand: &Stand| agreement(points, field, stand);
    let (stand, score) = ascend(from.stand, first, [steps.halvings, 8], moved, worth);
    Candidate { stand, score }
}

/// Climbs to the next best place along one of four axes at a time, in ever smaller steps: halved so often, and with at most so many
/// rounds of all axes before each. An axis whose step is 0 is left alone.
pub(crate) fn ascend<T: Copy>(
    from: T,
    mut steps: [f64; 4],
    [halvings, rounds]: [usize; 2],
    moved: impl Fn(T, usize, f64) -> T,
    worth: impl Fn(&T) -> f64,
) -> (T, f64) {
    let mut best = (from, worth(&from));
    for _ in 0..=halvings {
        for _ in 0..rounds {
            let before = best.1;
            for (axis, &by) in steps.iter().enumerate().filter(|s| *s.1 != 0.0) {
                for by in [by, -by] {
                    let there = moved(best.0, axis, by);
                    let score = worth(&there);
                    if score > best.1 {
                        best = (there, score);
                        break;
                    }
                }
            }
            if best.1 <= before + 1e-9 {
                break;
            }
        }
        steps = steps.map(|s| 0.5 * s);
    }
    best
}

/// How sure a pose is, from the edges that hold it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Held {
    pub(crate) stand: Stand,
    /// Information about x, y (mm), turn times radius (mm) and scale times radius (mm), per square millimetre of edges'
    /// noise.
    pub(crate) information: Matrix4<f64>,
}

/// Fits the pose to where the photo's edges really are: across each edge point the strongest step of light nearby, then
/// least squares with weights that let go of what has no counterpart.
///
/// `scale_prior` is what the scale is thought to be, and one sigma of that.
pub(crate) fn fit_edges(
    points: &[EdgePoint],
    picture: &Raster,
    from: Stand,
    radius_mm: f64,
    scale_prior: [f64; 2],
) -> Held {
    let mut stand = from;
    let radius = radius_mm.max(1.0);
    let mut information = Matrix4::zeros();
    for reach_mm in [0.7, 0.6, 0.5, 0.4, 0.4] {
        let across = Across::of(reach_mm, picture.px_per_mm);
        let (s, c) = stand.turn.sin_cos();
        let mut normal = Matrix4::<f64>::zeros();
        let mut right = Vector4::<f64>::zeros();
        let mut weights = 0.0;
        for p in points {
            let r = [
                stand.scale * (c * p.at[0] - s * p.at[1]),
                stand.scale * (s * p.at[0] + c * p.at[1]),
            ];
            let n = [
                c * f64::from(p.way.re) - s * f64::from(p.way.im),
                s * f64::from(p.way.re) + c * f64::from(p.way.im),
            ];
            let at = [stand.x + r[0], stand.y + r[1]];
            let Some((d, strength)) = across.step(picture, at, n, p.rim) else {
                continue;
            };
            let w = edge_weight(f64::from(p.weight), d, strength, reach_mm);
            let row = Vector4::new(
                n[0],
                n[1],
                (n[1] * r[0] - n[0] * r[1]) / radius,
                (n[0] * r[0] + n[1] * r[1]) / radius,
            );
            normal += row * row.transpose() * w;
            right += row * (w * d);
            weights += w;
        }
        if weights < 1.0 {
            break;
        }
        information = normal;
        // The prior on scale, as one more observation of the edge at the radius, with edges' noise of 0.1 mm.
        let (mean, sigma) = (scale_prior[0], scale_prior[1]);
        let prior = (0.1 / (sigma * radius)).powi(2);
        normal[(3, 3)] += prior;
        right[3] += prior * (mean - stand.scale) * radius;
        for k in 0..3 {
            normal[(k, k)] += 1e-3;
        }
        let Some(by) = normal.cholesky().map(|f| f.solve(&right)) else {
            break;
        };
        stand.x += by[0].clamp(-1.0, 1.0);
        stand.y += by[1].clamp(-1.0, 1.0);
        stand.turn += (by[2] / radius).clamp(-0.05, 0.05);
        stand.scale += (by[3] / radius).clamp(-0.02, 0.02);
    }
    Held { stand, information }
}

/// How much an edge of this weight counts that is `d_mm` off where it is looked for, up to `reach_mm` away: the fainter and the farther, the less.
pub(crate) fn edge_weight(weight: f64, d_mm: f64, strength: f64, reach_mm: f64) -> f64 {
    let trust = strength / (strength + 0.06);
    let let_go = 0.35 * reach_mm;
    weight * trust / (1.0 + (d_mm / let_go).powi(2)).powi(2)
}

/// Lines across an edge, along which the strongest step of light is looked for so far to either side.
pub(crate) struct Across {
    px_per_mm: f64,
    /// In half pixels, to either side.
    reach: usize,
    /// How much a step counts that lies so far off the middle.
    near: [f64; 2 * MOST_REACH + 1],
}

/// Farthest reach, half pixels.
const MOST_REACH: usize = 12;

/// A step of light is taken over so many half pixels to either side.
const HALF_STEP: usize = 2;

impl Across {
    pub(crate) fn of(reach_mm: f64, px_per_mm: f64) -> Self {
        let reach = ((2.0 * reach_mm * px_per_mm).round() as usize).clamp(1, MOST_REACH);
        let sigma = 0.5 * reach as f64;
        let near = |i: usize| (-0.5 * ((i as f64 - reach as f64) / sigma).powi(2)).exp();
        Self {
            px_per_mm,
            reach,
            near: std::array::from_fn(near),
        }
    }

    /// How far along `n` from a place the strongest step of light lies, mm, and how strong it is (stored values).
    pub(crate) fn step(
        &self,
        picture: &Raster,
        at: [f64; 2],
        n: [f64; 2],
        rim: bool,
    ) -> Option<(f64, f64)> {
        let (k, middle) = (self.px_per_mm, (self.reach + HALF_STEP) as f64);
        let place = |t: usize| {
            let off = 0.5 * (t as f64 - middle) / k;
            [(at[0] + off * n[0]) * k, (at[1] + off * n[1]) * k]
        };
        let (steps, places) = (2 * self.reach + 1, 2 * (self.reach + HALF_STEP) + 1);
        if !picture.holds(place(0)) || !picture.holds(place(places - 1)) {
            return None;
        }
        let mut values = [[0.0f32; 3]; 2 * (MOST_REACH + HALF_STEP) + 1];
        for (t, value) in values[..places].iter_mut().enumerate() {
            *value = picture.at(place(t));
        }
        // Those near the middle preferred.
        let mut strengths = [0.0f64; 2 * MOST_REACH + 1];
        let strengths = &mut strengths[..steps];
        for (i, strength) in strengths.iter_mut().enumerate() {
            let (a, b) = (values[i], values[i + 2 * HALF_STEP]);
            let step = if rim {
                let squares = (0..3).map(|c| f64::from(b[c] - a[c]).powi(2));
                squares.sum::<f64>().sqrt()
            } else {
                f64::from(brightness(b) - brightness(a)).max(0.0)
            };
            *strength = step * self.near[i];
        }
        let top = (0..steps).max_by(|&a, &b| strengths[a].total_cmp(&strengths[b]))?;
        if top == 0 || top + 1 == steps || strengths[top] < 0.01 {
            return None;
        }
        let (a, b, c) = (strengths[top - 1], strengths[top], strengths[top + 1]);
        let bend = a - 2.0 * b + c;
        let part = if bend < -1e-12 {
            0.5 * (a - c) / bend
        } else {
            0.0
        };
        let off = top as f64 - self.reach as f64 + part.clamp(-0.5, 0.5);
        Some((0.5 * off / k, b))
    }
}
