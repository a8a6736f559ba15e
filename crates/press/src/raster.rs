//! From the display list's numbers to those of the rasteriser.

use crate::{Affine, Path, PressError, Step};
use shape::Point;
use tiny_skia::{PathBuilder, Transform};

/// 400 MB of pixels: an A0 sheet at 250 dpi.
pub(crate) const MAX_PIXELS: u64 = 100_000_000;

/// Pixels across and down of a page.
pub(crate) fn pixel_size(size_mm: [f64; 2], px_per_mm: f64) -> Result<[u32; 2], PressError> {
    if !(1e-3..=1e3).contains(&px_per_mm) {
        return Err(PressError::Length {
            what: "the side of a pixel",
            found_mm: 1.0 / px_per_mm,
            least_mm: 1e-3,
            most_mm: 1e3,
        });
    }
    let [width, height] = size_mm.map(|mm| ((mm * px_per_mm).round() as u64).max(1));
    if width.saturating_mul(height) > MAX_PIXELS {
        return Err(PressError::TooManyPixels {
            width,
            height,
            limit: MAX_PIXELS,
        });
    }
    Ok([width as u32, height as u32])
}

pub(crate) fn to_transform(m: Affine) -> Transform {
    Transform::from_row(
        m.xx as f32,
        m.yx as f32,
        m.xy as f32,
        m.yy as f32,
        m.x0 as f32,
        m.y0 as f32,
    )
}

pub(crate) fn to_path(path: &Path) -> Option<tiny_skia::Path> {
    let mut builder = PathBuilder::new();
    let at = |p: Point| (p.x as f32, p.y as f32);
    for step in path.without_arcs() {
        match step {
            Step::Move(p) => builder.move_to(at(p).0, at(p).1),
            // No arcs are left.
            Step::Line(p) | Step::Arc(p, _) => builder.line_to(at(p).0, at(p).1),
            Step::Quad(c, p) => builder.quad_to(at(c).0, at(c).1, at(p).0, at(p).1),
            Step::Cubic(c, d, p) => {
                builder.cubic_to(at(c).0, at(c).1, at(d).0, at(d).1, at(p).0, at(p).1);
            }
            Step::Close => builder.close(),
        }
    }
    builder.finish()
}
