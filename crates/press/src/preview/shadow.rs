//! Soft shadows of outlines.

use crate::raster::{to_path, to_transform};
use crate::{Affine, Path};
use shape::{Bounds, Outline, Point, Vector};
use tiny_skia::{FillRule, Mask};

/// How a shadow falls.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cast {
    /// Where it falls from its part, mm.
    pub(crate) offset: Vector,
    /// Width of its soft edge (one sigma), mm.
    pub(crate) blur_mm: f64,
    /// 0 none to 1 black.
    pub(crate) strength: f64,
}

/// A stretch of pixels with how much of each is in shadow, 0 to 1.
pub(crate) struct Patch {
    pub(crate) left: usize,
    pub(crate) top: usize,
    pub(crate) width: usize,
    pub(crate) cover: Vec<f32>,
}

/// The shadow's pixels on a page of the given size; `None` where it falls off the page.
pub(crate) fn soft_patch(
    outline: &Outline,
    cast: &Cast,
    pixels_from_board: Affine,
    [page_w, page_h]: [u32; 2],
) -> Option<Patch> {
    let path = Path::outline(outline).mapped(|p| pixels_from_board.apply(p + cast.offset));
    let scale = pixels_from_board.xx;
    let sigma_px = (cast.blur_mm * scale).max(0.3);
    let reach = (3.0 * sigma_px).ceil() + 1.0;
    let around = path.bounds()?.grown(reach);
    let page = Bounds {
        min: Point::default(),
        max: Point::new(f64::from(page_w), f64::from(page_h)),
    };
    if around.distance_mm(page) > 0.0 {
        return None;
    }
    let (left, top) = (around.min.x.max(0.0).floor(), around.min.y.max(0.0).floor());
    let (right, bottom) = (
        around.max.x.min(page.max.x).ceil(),
        around.max.y.min(page.max.y).ceil(),
    );
    if right <= left || bottom <= top {
        return None;
    }
    let (width, height) = ((right - left) as usize, (bottom - top) as usize);
    let mut mask = Mask::new(width as u32, height as u32)?;
    let shift = Affine::shifted(Point::new(-left, -top));
    let path = to_path(&path)?;
    mask.fill_path(&path, FillRule::EvenOdd, true, to_transform(shift));
    let mut cover: Vec<f32> = mask.data().iter().map(|&v| f32::from(v) / 255.0).collect();
    blur(&mut cover, width, sigma_px);
    Some(Patch {
        left: left as usize,
        top: top as usize,
        width,
        cover,
    })
}

/// Three box means one after the other, whose sum of variances is sigma squared: close to a Gaussian.
fn blur(cover: &mut [f32], width: usize, sigma_px: f64) {
    // The variance of a box of 2 r + 1 pixels is (r^2 + r) / 3.
    let radius = ((sigma_px * sigma_px + 0.25).sqrt() - 0.5).round() as usize;
    if radius == 0 {
        return;
    }
    let mut line = vec![0.0; width];
    let mut above = vec![0.0; cover.len()];
    for _ in 0..3 {
        for row in cover.chunks_exact_mut(width) {
            box_mean(row.iter().copied(), &mut line, radius);
            row.copy_from_slice(&line);
        }
        column_means(cover, &mut above, width, radius);
        cover.copy_from_slice(&above);
    }
}

/// The mean over `radius` rows above and below, all columns of a row together; beyond the ends is nothing.
fn column_means(cover: &[f32], means: &mut [f32], width: usize, radius: usize) {
    let share = 1.0 / (2 * radius + 1) as f32;
    let row = |y: usize| cover.get(y * width..(y + 1) * width);
    let mut sums = vec![0.0; width];
    let add = |line: Option<&[f32]>, sign: f32, sums: &mut [f32]| {
        for (sum, v) in sums.iter_mut().zip(line.unwrap_or_default()) {
            *sum += sign * v;
        }
    };
    for y in 0..radius {
        add(row(y), 1.0, &mut sums);
    }
    for (y, out) in means.chunks_exact_mut(width).enumerate() {
        add(row(y + radius), 1.0, &mut sums);
        if y > radius {
            add(row(y - radius - 1), -1.0, &mut sums);
        }
        for (mean, sum) in out.iter_mut().zip(&sums) {
            *mean = sum * share;
        }
    }
}

/// The mean over `radius` neighbours on both sides; beyond the ends is nothing.
fn box_mean(values: impl Iterator<Item = f32> + Clone, out: &mut [f32], radius: usize) {
    let share = 1.0 / (2 * radius + 1) as f32;
    let mut ahead = values.clone().skip(radius);
    let mut behind = values.clone();
    let mut sum: f32 = values.take(radius).sum();
    for (i, mean) in out.iter_mut().enumerate() {
        sum += ahead.next().unwrap_or(0.0);
        if i > radius {
            sum -= behind.next().unwrap_or(0.0);
        }
        *mean = sum * share;
    }
}
