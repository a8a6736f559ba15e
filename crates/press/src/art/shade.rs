//! A soft shadow as a picture that can be printed.

use crate::preview::shadow::{Cast, soft_patch};
use crate::{Affine, Ink, Item, Picture};
use shape::{Bounds, Outline, Point, mapped};

/// Pixels per mm: shadows are blurred over millimetres, so that no pixel shows.
const PX_PER_MM: f64 = 4.0;

/// The shadows of several outlines as one picture of one ink over a stretch of the board; where shadows meet, the
/// deeper one counts.
pub(super) fn shadows(casts: &[(&Outline, Cast)], ink: Ink, over: Bounds) -> Option<Item> {
    let size = [over.width_mm(), over.height_mm()].map(|mm| (mm * PX_PER_MM).ceil() as u32);
    let [w, h] = size;
    if w == 0 || h == 0 || u64::from(w) * u64::from(h) > 40_000_000 {
        return None;
    }
    let height_mm = f64::from(h) / PX_PER_MM;
    let pixels_from_board = Affine {
        xx: PX_PER_MM,
        xy: 0.0,
        x0: -over.min.x * PX_PER_MM,
        yx: 0.0,
        yy: -PX_PER_MM,
        y0: (over.min.y + height_mm) * PX_PER_MM,
    };
    let mut cover = vec![0.0_f32; w as usize * h as usize];
    let patches = mapped(casts, |(outline, cast)| {
        soft_patch(outline, cast, pixels_from_board, size)
    });
    for ((_, cast), patch) in casts.iter().zip(patches) {
        let Some(patch) = patch else { continue };
        let strength = cast.strength as f32;
        for (row, line) in patch.cover.chunks_exact(patch.width).enumerate() {
            let start = (patch.top + row) * w as usize + patch.left;
            let Some(target) = cover.get_mut(start..start + patch.width) else {
                continue;
            };
            for (to, c) in target.iter_mut().zip(line) {
                *to = to.max(strength * c);
            }
        }
    }
    let [r, g, b] = ink.to_rgb();
    let rgba: Vec<u8> = cover
        .iter()
        .flat_map(|c| [r, g, b, (c.clamp(0.0, 1.0) * 255.0).round() as u8])
        .collect();
    Some(Item::Picture(Picture {
        width_px: w,
        height_px: h,
        rgba: rgba.into(),
        page_from_unit: Affine::scaled(
            f64::from(w) / PX_PER_MM,
            height_mm,
            Point::new(over.min.x, over.min.y),
        ),
    }))
}
