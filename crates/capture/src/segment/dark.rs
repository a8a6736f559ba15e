//! Parts on a dark ground: a scanner's black lid, or no lid in a dark room.
//!
//! What lies on black casts no shade that could be seen, so that light alone tells parts from ground; the eye, which was
//! taught on paper, is not asked. The ground may fall off across the picture and be grainy: its light is a surface like
//! paper's, fitted from below. A cell is part where it is nearer to the light of the part beside it than to the ground's.

use super::Labels;
use super::grid::FieldGrid;
use super::paper::{
    Ground, QUADRATIC, Relative, Sample, TERMS, fit, level, light_at_middle, relative_log, residual,
};
use crate::linear::LinearImage;

/// A background whose middle linear light is below this is a dark ground. White paper in a dim photo is well above;
/// parts on anything darker are mostly lighter than it.
const DARK: f32 = 0.08;

/// Light that the scanner or lens spreads over the picture, linear, as a share of white: below it, ratios of light mean
/// nothing (common practice for good optics, no source).
const FLARE: f32 = 0.01;

/// How far a part's light lies over the ground's, natural logarithm: at least and at most, where Otsu's threshold lies
/// outside, and in spreads of the ground.
const LEAST_STEP: f32 = 0.35;
const MOST_STEP: f32 = 0.6;
const STEP_SPREADS: f32 = 4.0;

/// How far round a cell the light of a part counts, mm.
const BESIDE_MM: f64 = 1.0;

/// The logarithm of the odds of ground and part at their own light.
const SURE: f32 = 4.0;

/// Whether a picture's background, seen at these places, is dark.
pub(crate) fn is_dark(image: &LinearImage<'_>, background_px: &[[f64; 2]]) -> bool {
    let mut light: Vec<f32> = background_px
        .iter()
        .map(|p| image.sample(p[0], p[1]).iter().sum::<f32>() / 3.0)
        .collect();
    light.sort_by(f32::total_cmp);
    light
        .get(light.len() / 2)
        .is_some_and(|middle| *middle < DARK)
}

/// The field's light over a dark ground's; `None` where hardly any ground is seen.
pub(crate) fn relative_to_ground(image: &LinearImage<'_>, grid: &FieldGrid) -> Option<Relative> {
    let (w, h) = (grid.width, grid.height);
    let stride = (w.min(h) / 80).clamp(1, 14);
    let field: Vec<Sample> = (0..h)
        .step_by(stride)
        .flat_map(|y| (0..w).step_by(stride).map(move |x| (x, y)))
        .filter(|&(x, y)| grid.inside(y * w + x))
        .map(|(x, y)| Sample::of_cell(image, grid, [x, y], log_with_flare))
        .collect();
    let (surface, noise) = settle(&field)?;
    Some(Relative {
        log: relative_log(image, grid, &surface, log_with_flare),
        noise,
        ground: Ground::Dark,
        ground_light: light_at_middle(&surface),
    })
}

/// The natural logarithm of light, the flare added.
fn log_with_flare(light: f32) -> f32 {
    (light + FLARE).ln()
}

/// A surface under all samples that are not parts, and their spread about it: parts are lighter than the ground, so that of
/// the samples off the surface those below it tell how much it spreads.
fn settle(field: &[Sample]) -> Option<([[f64; TERMS]; 3], f32)> {
    let off = |surface: &[[f64; TERMS]; 3]| -> Vec<f32> {
        field.iter().map(|s| level(residual(surface, s))).collect()
    };
    let mut surface = fit(|| field.iter().map(|s| (s, 1.0)), 3)?;
    let mut noise = 1.0;
    for round in 0..ROUNDS {
        let away = off(&surface);
        // What lies on or below the surface of a moment; it sinks as long as more than half of the picture lies above it.
        let limit = if round < SINKING {
            let mut sorted = away.clone();
            sorted.sort_by(f32::total_cmp);
            sorted[sorted.len() / 2]
        } else {
            let mut below: Vec<f32> = away.iter().filter(|a| **a < 0.0).map(|a| -a).collect();
            if below.len() < 4 * TERMS {
                return None;
            }
            below.sort_by(f32::total_cmp);
            // Median of absolute values of a normal variable times 1.4826 is its sigma.
            noise = (1.4826 * below[below.len() / 2]).max(LEAST_NOISE);
            2.5 * noise
        };
        let near = || field.iter().zip(&away).filter(|(_, a)| **a <= limit);
        let enough = near().count() > 4 * TERMS;
        let terms = if enough { TERMS } else { QUADRATIC };
        surface = fit(|| near().map(|(s, _)| (s, 1.0)), terms)?;
    }
    let ground = off(&surface)
        .iter()
        .filter(|a| a.abs() < 3.0 * noise)
        .count();
    (ground as f64 >= LEAST_GROUND * field.len() as f64).then_some((surface, noise))
}

/// Rounds of fitting, and how many of them sink.
const ROUNDS: usize = 12;
const SINKING: usize = 5;

/// Least spread of a ground, natural logarithm: a scan of 8 bits has no less.
const LEAST_NOISE: f32 = 0.01;

/// Least share of a picture that has to be ground.
const LEAST_GROUND: f64 = 0.15;

/// Tells parts from a dark ground.
pub(crate) fn label_parts(grid: &FieldGrid, relative: &Relative, cells_per_mm: f64) -> Labels {
    let (w, h) = (grid.width, grid.height);
    let cells = |mm: f64, most: usize| ((mm * cells_per_mm) as usize).clamp(4, most);
    let mut light = smoothed(&over_ground(relative), w, h);
    let mut step = threshold(grid, &light, relative.noise);
    for _ in 0..LEVELLINGS {
        level_ground(&mut light, grid, step, cells(ROUND_MM, w.min(h) / 4));
        step = threshold(grid, &light, relative.noise);
    }
    let reach = cells(BESIDE_MM, 24);
    let lit: Vec<f32> = light
        .iter()
        .map(|v| f32::from(u8::from(*v > step)))
        .collect();
    let held: Vec<f32> = light.iter().zip(&lit).map(|(v, l)| v * l).collect();
    let (lit, held) = (box_sums(&lit, w, h, reach), box_sums(&held, w, h, reach));
    let above_noise = (STEP_SPREADS * relative.noise).exp();
    let odds = (0..w * h)
        .map(|c| {
            if !grid.inside(c) || lit[c] < 1.0 {
                return -SURE;
            }
            let part = held[c] / lit[c];
            let half = 0.5 * (1.0 + part);
            let odd = (2.0 * SURE * (light[c] - half) / (part - 1.0)).clamp(-SURE, SURE);
            // A dark spot on a part is still lighter than the ground: it is no opening.
            if light[c] > above_noise {
                odd.max(super::SEEN_PAPER)
            } else {
                odd
            }
        })
        .collect();
    Labels { odds }
}

/// How often the ground is levelled, and how far round a place it is looked at, mm.
const LEVELLINGS: usize = 2;
const ROUND_MM: f64 = 6.0;

/// Divides by the mean light of the ground round each cell, where some is seen: what bends more than the surface does.
fn level_ground(light: &mut [f32], grid: &FieldGrid, step: f32, reach: usize) {
    let (w, h) = (grid.width, grid.height);
    let lit: Vec<f32> = light
        .iter()
        .map(|v| f32::from(u8::from(*v > step)))
        .collect();
    // Beside a part, its blur lightens the ground.
    let beside = box_sums(&lit, w, h, 2);
    let ground: Vec<f32> = (0..w * h)
        .map(|c| f32::from(u8::from(grid.inside(c) && beside[c] < 0.5)))
        .collect();
    let logs: Vec<f32> = light
        .iter()
        .zip(&ground)
        .map(|(v, g)| g * v.max(1e-3).ln())
        .collect();
    let (count, sum) = (box_sums(&ground, w, h, reach), box_sums(&logs, w, h, reach));
    for (c, v) in light.iter_mut().enumerate() {
        if count[c] >= LEAST_ROUND {
            *v *= (-sum[c] / count[c]).exp();
        }
    }
}

/// Cells of ground that tell its light.
const LEAST_ROUND: f32 = 20.0;

/// Each cell's light over the ground's, the brightest channel, with the flare on both.
fn over_ground(relative: &Relative) -> Vec<f32> {
    relative
        .log
        .iter()
        .map(|log| {
            log.iter()
                .copied()
                .fold(f32::MIN, f32::max)
                .min(super::eye::FARTHEST)
                .exp()
        })
        .collect()
}

/// Means of three by three cells.
fn smoothed(light: &[f32], w: usize, h: usize) -> Vec<f32> {
    let ones = vec![1.0; w * h];
    let (sum, count) = (box_sums(light, w, h, 1), box_sums(&ones, w, h, 1));
    sum.iter().zip(&count).map(|(s, n)| s / n).collect()
}

/// Sums over squares of cells, `reach` to every side, cut at the border.
fn box_sums(values: &[f32], w: usize, h: usize, reach: usize) -> Vec<f32> {
    let mut rows = vec![0.0f32; w * h];
    let mut running = vec![0.0f64; w.max(h) + 1];
    for y in 0..h {
        for x in 0..w {
            running[x + 1] = running[x] + f64::from(values[y * w + x]);
        }
        for x in 0..w {
            let (a, b) = (x.saturating_sub(reach), (x + reach + 1).min(w));
            rows[y * w + x] = (running[b] - running[a]) as f32;
        }
    }
    let mut sums = vec![0.0f32; w * h];
    for x in 0..w {
        for y in 0..h {
            running[y + 1] = running[y] + f64::from(rows[y * w + x]);
        }
        for y in 0..h {
            let (a, b) = (y.saturating_sub(reach), (y + reach + 1).min(h));
            sums[y * w + x] = (running[b] - running[a]) as f32;
        }
    }
    sums
}

/// The light over the ground's above which a cell surely is part: Otsu's threshold (1979) of its logarithm, in bounds.
fn threshold(grid: &FieldGrid, light: &[f32], noise: f32) -> f32 {
    const BINS: usize = 128;
    const SPAN: f32 = 6.0;
    let mut counts = [0u64; BINS];
    for (c, v) in light.iter().enumerate() {
        if grid.inside(c) {
            let bin = ((v.max(1e-3).ln() + 1.0) / SPAN * BINS as f32).clamp(0.0, BINS as f32 - 1.0);
            counts[bin as usize] += 1;
        }
    }
    let total: u64 = counts.iter().sum();
    let all: f64 = counts
        .iter()
        .enumerate()
        .map(|(k, n)| k as f64 * *n as f64)
        .sum();
    let (mut below, mut sum, mut best) = (0u64, 0.0, (0.0, 0usize));
    for (k, n) in counts.iter().enumerate() {
        below += n;
        sum += k as f64 * *n as f64;
        if below == 0 || below == total {
            continue;
        }
        let (low, high) = (sum / below as f64, (all - sum) / (total - below) as f64);
        let between = below as f64 * (total - below) as f64 * (high - low) * (high - low);
        if between > best.0 {
            best = (between, k);
        }
    }
    let otsu = (best.1 as f32 + 1.0) / BINS as f32 * SPAN - 1.0;
    let least = LEAST_STEP.max(STEP_SPREADS * noise);
    otsu.clamp(least, MOST_STEP.max(least)).exp()
}
