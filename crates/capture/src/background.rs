//! Where a picture without a sheet surely, or most likely, shows what the parts lie on.

use crate::linear::LinearImage;
use crate::segment::paper::{log_of, mean_around};
use std::collections::BTreeMap;

/// How far from a scan's edges its background is looked at, mm: outside what a lid's rim shades, inside what is kept
/// free of parts.
const RIM_MM: [f64; 2] = [2.0, 5.0];

/// Places along each side of the rim.
const RIM_PLACES: usize = 80;

/// Places of a photo that are looked at, along its longer side.
const PLACES: usize = 160;

/// A place counts where the light a little way off, mm, differs by no more than this (natural logarithm): grain,
/// print and edges fall out.
const AWAY_MM: f64 = 0.7;
const EVEN: f32 = 0.06;

/// Width of a bin of light and tint, natural logarithm.
const BIN: f32 = 0.08;

/// How far from the commonest light and tint the background may be elsewhere in the photo.
const REACH_LIGHT: f32 = 0.35;
const REACH_TINT: f32 = 0.12;

/// Along the rim of a scan, where the lid shows.
pub(crate) fn rim_px(size_px: [u32; 2], px_per_mm: f64) -> Vec<[f64; 2]> {
    let [w, h] = size_px.map(f64::from);
    let mut places = Vec::with_capacity(RIM_MM.len() * 4 * RIM_PLACES);
    for mm in RIM_MM {
        // In a small scan the rim is narrower.
        let inset = (mm * px_per_mm).min(0.04 * w.min(h)).max(3.0);
        for i in 0..RIM_PLACES {
            let t = i as f64 / RIM_PLACES as f64;
            let x = inset + t * (w - 1.0 - 2.0 * inset);
            let y = inset + t * (h - 1.0 - 2.0 * inset);
            places.extend([
                [x, inset],
                [w - 1.0 - x, h - 1.0 - inset],
                [inset, h - 1.0 - y],
                [w - 1.0 - inset, y],
            ]);
        }
    }
    places
}

/// Where a photo shows the commonest even surface.
pub(crate) fn commonest_px(image: &LinearImage<'_>, px_per_mm: f64) -> Vec<[f64; 2]> {
    let away = (AWAY_MM * px_per_mm).max(2.0);
    let step = (image.width.max(image.height) as f64 / PLACES as f64).max(1.0);
    let inside = |extent: usize| {
        let count = ((extent as f64 - 2.0 * away) / step).max(0.0) as usize;
        (0..count).map(move |i| away + (i as f64 + 0.5) * step)
    };
    let mut even: Vec<([f64; 2], [f32; 3])> = Vec::new();
    for y in inside(image.height) {
        for x in inside(image.width) {
            let here = light_and_tint(image, [x, y]);
            let around = [[x - away, y], [x + away, y], [x, y - away], [x, y + away]];
            let is_even = |p: &[f64; 2]| {
                let there = light_and_tint(image, *p);
                (0..3).all(|k| (there[k] - here[k]).abs() < EVEN)
            };
            if around.iter().all(is_even) {
                even.push(([x, y], here));
            }
        }
    }
    let bin_of = |v: &[f32; 3]| v.map(|v| (v / BIN).floor() as i32);
    let mut bins: BTreeMap<[i32; 3], usize> = BTreeMap::new();
    for (_, v) in &even {
        *bins.entry(bin_of(v)).or_default() += 1;
    }
    let with_neighbours = |b: &[i32; 3]| -> usize {
        let mut sum = 0;
        for i in -1..=1 {
            for j in -1..=1 {
                for k in -1..=1 {
                    sum += bins.get(&[b[0] + i, b[1] + j, b[2] + k]).unwrap_or(&0);
                }
            }
        }
        sum
    };
    // Of bins alike, the brightest: its key is the greatest.
    let Some(mode) = bins.keys().max_by_key(|b| (with_neighbours(b), **b)) else {
        return Vec::new();
    };
    let middle = mode.map(|b| (b as f32 + 0.5) * BIN);
    even.iter()
        .filter(|(_, v)| {
            (v[0] - middle[0]).abs() < REACH_LIGHT
                && (1..3).all(|k| (v[k] - middle[k]).abs() < REACH_TINT)
        })
        .map(|(p, _)| *p)
        .collect()
}

/// The logarithm of light, and of red and blue over green.
fn light_and_tint(image: &LinearImage<'_>, p: [f64; 2]) -> [f32; 3] {
    let [r, g, b] = mean_around(image, p).map(log_of);
    [(r + g + b) / 3.0, r - g, b - g]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Truth: by construction. A table darker than the paper takes more of the photo, but its grain is uneven.
    #[test]
    fn the_commonest_even_surface_is_found_through_grain_and_falling_light() {
        let (w, h) = (480usize, 360usize);
        let on_paper = |x: usize, y: usize| (120..420).contains(&x) && (60..300).contains(&y);
        let mut rgb = Vec::new();
        for y in 0..h {
            for x in 0..w {
                let v = if on_paper(x, y) {
                    235 - (x / 20) as u8
                } else {
                    60 + ((x * 7 + y * y * 3) % 40) as u8
                };
                rgb.extend([v, v, v]);
            }
        }
        let image = LinearImage::new(w, h, &rgb).unwrap();
        let found = commonest_px(&image, 3.0);
        let right = found
            .iter()
            .filter(|p| on_paper(p[0] as usize, p[1] as usize))
            .count();
        assert!(
            right > 1000 && right == found.len(),
            "{right} of {}",
            found.len()
        );
    }
}
