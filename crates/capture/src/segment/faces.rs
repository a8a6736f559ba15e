//! Cells that surely belong to a part's face, found before the cut.
//!
//! Very dark cells and tinted cells are faces. In between, a grey face and deep shade may be equally
//! dark; what tells them apart is their border: a face ends within a cell or two, shade fades.

use super::grid::FieldGrid;
use super::paper::Relative;
use super::trace::components;

/// Shade that keeps less light than this is not looked for (logarithm of light over paper: a
/// fortieth). Rendered photos with two lamps have shade down to -3.5 where both are hidden.
pub(super) const DARKEST_SHADE: f32 = -3.6;

/// Neutral cells lighter than this are left to the cut.
pub(super) const LIGHTEST_GREY: f32 = -0.9;

/// Tint beyond what shade can have, in sigmas, that makes a face.
const SURE_TINT: f32 = 3.0;

/// Share of a dark patch's border that has to be sharp to make it a face.
const SHARP_SHARE: f64 = 0.5;

/// The same for flat grey patches, of which only the lit side may have a border that rises.
const SHARP_SHARE_FLAT: f64 = 0.3;

/// Shade of one lamp or window leaves more light than this (logarithm of light over paper: a ninth).
pub(super) const DARKEST_ONE_LAMP: f32 = -2.2;

/// A flat grey patch is broad where a cell of it lies this far from its border, mm.
const BROAD_MM: f64 = 1.4;

/// Mean of the logarithms of the channels.
pub(super) fn level(log: [f32; 3]) -> f32 {
    (log[0] + log[1] + log[2]) / 3.0
}

/// Greatest difference of a channel from the mean.
pub(super) fn tint(log: [f32; 3]) -> f32 {
    let level = level(log);
    log.iter().map(|v| (v - level).abs()).fold(0.0, f32::max)
}

/// How far a cell's tint goes beyond what shade can have: each lamp that is hidden leaves the colour of
/// the others. In units of noise; 0 where it does not.
pub(super) fn tint_excess(log: [f32; 3], noise: f32) -> f32 {
    let (level, tint) = (level(log), tint(log));
    // The colour of what stands beside it falls into shade. Measured on rendered photos: 99 % of shade stays
    // below 0.1, and below 0.2 where hardly any light is left.
    let shade = (-level).clamp(0.0, 3.6);
    let allowed = 3.0 * noise + 0.02 + 0.06 * shade;
    ((tint - allowed) / (0.02 + noise)).max(0.0)
}

/// Marks the cells that surely belong to faces. `flat` is what [`flat_cells`] marked.
pub(super) fn find_faces(
    grid: &FieldGrid,
    relative: &Relative,
    flat: &[bool],
    cells_per_mm: f64,
) -> Vec<bool> {
    let (w, h) = (grid.width, grid.height);
    let levels: Vec<f32> = relative.log.iter().map(|l| level(*l)).collect();
    let mut face: Vec<bool> = (0..w * h)
        .map(|c| {
            levels[c] < DARKEST_SHADE || tint_excess(relative.log[c], relative.noise) > SURE_TINT
        })
        .collect();

    // Broad flat grey patches. Shade can be as flat and as dark, but then it is a strip along a part's
    // foot, narrower than the part is high.
    let grey = |c: usize| flat[c] && !face[c] && levels[c] < LIGHTEST_GREY;
    let patches = components(w, h, grey, false);
    let depth = depths(&patches.label, w, h);
    let mut broad = vec![false; patches.sizes.len()];
    for c in 0..w * h {
        if let Some(k) = patches.of(c) {
            broad[k] |= f64::from(depth[c]) >= BROAD_MM * cells_per_mm;
        }
    }
    // Narrow ones that end sharply, unless they are so dark that they may be where two lamps are hidden.
    let rule = Sharp {
        near: 5,
        of_rise: 0.85,
    };
    let sharp = sharp_shares(&levels, w, h, &patches.label, patches.sizes.len(), rule);
    for c in 0..w * h {
        face[c] |= patches.of(c).is_some_and(|k| {
            broad[k]
                || (levels[c] > DARKEST_ONE_LAMP && sharp[k].is_some_and(|s| s >= SHARP_SHARE_FLAT))
        });
    }

    // Dark patches with hardly any sure face in them: small screws, uneven metal. Their foot is shaded, so
    // only what is nearly as dark as the darkest cell is the patch itself.
    let dark = components(w, h, |c| levels[c] < LIGHTEST_GREY, false);
    let mut face_cells = vec![0usize; dark.sizes.len()];
    let mut darkest = vec![0.0f32; dark.sizes.len()];
    for c in 0..w * h {
        if let Some(k) = dark.of(c) {
            face_cells[k] += usize::from(face[c]);
            darkest[k] = darkest[k].min(levels[c]);
        }
    }
    let is_core = |c: usize| {
        dark.of(c)
            .is_some_and(|k| 4 * face_cells[k] < dark.sizes[k] && levels[c] < 0.6 * darkest[k])
    };
    let cores = components(w, h, is_core, false);
    let rule = Sharp {
        near: 3,
        of_rise: 0.6,
    };
    let sharp = sharp_shares(&levels, w, h, &cores.label, cores.sizes.len(), rule);
    for c in 0..w * h {
        if let Some(k) = cores.of(c) {
            face[c] |= sharp[k].is_some_and(|s| s >= SHARP_SHARE);
        }
    }
    face
}

/// Marks the cells round which the light hardly changes: over five by five cells the spread of
/// the level stays near the camera's noise at that level.
pub(super) fn flat_cells(grid: &FieldGrid, relative: &Relative) -> Vec<bool> {
    let (w, h) = (grid.width, grid.height);
    let levels: Vec<f32> = relative.log.iter().map(|l| level(*l)).collect();
    let mut flat = vec![false; w * h];
    for y in 2..h.saturating_sub(2) {
        for x in 2..w.saturating_sub(2) {
            let cell = y * w + x;
            if levels[cell] < DARKEST_SHADE {
                continue;
            }
            let (mut sum, mut squares) = (0.0f32, 0.0f32);
            for v in y - 2..=y + 2 {
                for value in &levels[v * w + x - 2..=v * w + x + 2] {
                    sum += value;
                    squares += value * value;
                }
            }
            let mean = sum / 25.0;
            let spread = (squares / 25.0 - mean * mean).max(0.0).sqrt();
            // Photon noise grows as light falls: one over the square root of the share that is left.
            flat[cell] = spread < 2.0 * relative.grain * (-0.5 * mean).exp() + 0.02;
        }
    }
    flat
}

/// What makes a border sharp: a share of the rise over twelve cells comes within the next `near`.
#[derive(Clone, Copy)]
struct Sharp {
    near: usize,
    of_rise: f32,
}

/// For each patch, the share of its border towards lighter cells that is sharp. `None` where hardly any border rises.
fn sharp_shares(
    levels: &[f32],
    w: usize,
    h: usize,
    label: &[u32],
    patches: usize,
    sharp: Sharp,
) -> Vec<Option<f64>> {
    let mut counts = vec![(0u32, 0u32); patches];
    for y in 0..h {
        for x in 0..w {
            let cell = y * w + x;
            if label[cell] == u32::MAX {
                continue;
            }
            for (dx, dy) in [(1i64, 0i64), (-1, 0), (0, 1), (0, -1)] {
                let at = |d: usize| -> Option<usize> {
                    let (u, v) = (x as i64 + dx * d as i64, y as i64 + dy * d as i64);
                    (u >= 0 && v >= 0 && u < w as i64 && v < h as i64)
                        .then_some(v as usize * w + u as usize)
                };
                if at(1).is_none_or(|next| label[next] == label[cell]) {
                    continue;
                }
                let (mut near_rise, mut rise) = (0.0f32, 0.0f32);
                for d in 1..=12 {
                    let Some(next) = at(d) else { break };
                    // The next dark thing ends the look.
                    if levels[next] < levels[cell] - 0.3 {
                        break;
                    }
                    rise = rise.max(levels[next] - levels[cell]);
                    if d <= sharp.near {
                        near_rise = rise;
                    }
                }
                if rise > 0.3 {
                    let count = &mut counts[label[cell] as usize];
                    count.1 += 1;
                    count.0 += u32::from(near_rise > sharp.of_rise * rise);
                }
            }
        }
    }
    counts
        .into_iter()
        .map(|(sharp, all)| (all >= 8).then(|| f64::from(sharp) / f64::from(all)))
        .collect()
}

/// Steps from each labelled cell to the nearest cell outside its patch, diagonal steps allowed.
pub(super) fn depths(label: &[u32], w: usize, h: usize) -> Vec<u16> {
    let mut depth = vec![0u16; w * h];
    let own = |c: usize| label[c] != u32::MAX;
    for y in 1..h.saturating_sub(1) {
        for x in 1..w.saturating_sub(1) {
            let c = y * w + x;
            if own(c) {
                let before = [c - 1, c - w, c - w - 1, c - w + 1];
                depth[c] = 1 + before.map(|n| depth[n]).into_iter().min().unwrap_or(0);
            }
        }
    }
    for y in (1..h.saturating_sub(1)).rev() {
        for x in (1..w.saturating_sub(1)).rev() {
            let c = y * w + x;
            if own(c) {
                let after = [c + 1, c + w, c + w + 1, c + w - 1];
                let least = 1 + after.map(|n| depth[n]).into_iter().min().unwrap_or(0);
                depth[c] = depth[c].min(least);
            }
        }
    }
    depth
}
