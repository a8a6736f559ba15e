//! A part's own picture, with its background gone.

use crate::camera::SheetPoint3;
use crate::linear::LinearImage;
use crate::photo::Photo;
use crate::taken::Taken;
use shape::{Outline, Point, Pose, Vector};

/// Largest picture, pixels on a side: at 12 px/mm a part of 333 mm.
const MOST_PX: usize = 4_000;

/// Why a part has no picture.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CutoutError {
    /// A picture would have too many pixels.
    #[error(
        "a part of {:.0} x {:.0} mm is too large for a cut-out: at {px_per_mm} px/mm it holds {:.0} mm on a side; leave the \
         cut-out out",
        .size_mm[0], .size_mm[1], MOST_PX as f64 / .px_per_mm
    )]
    TooLarge {
        /// Width and height of the part in the picture, mm.
        size_mm: [f64; 2],
        /// The scale that was asked for.
        px_per_mm: f64,
    },
    /// A scale that is not a number above 0.
    #[error("a cut-out of {px_per_mm} px/mm cannot be; the scale is above 0")]
    NoScale {
        /// The scale that was asked for.
        px_per_mm: f64,
    },
    /// The photo has no pixels, or fewer than its size says.
    #[error("the photo has fewer pixels than its size says; read it again")]
    NoPixels,
}

/// A part's picture in the plane of its top face, rows from the top.
#[derive(Debug, Clone, PartialEq)]
pub struct Cutout {
    /// Width, px.
    pub width: usize,
    /// Height, px.
    pub height: usize,
    /// Rows of sRGB and alpha (not premultiplied), four bytes a pixel; alpha is the share of the
    /// pixel that the outline covers.
    pub rgba8: Vec<u8>,
    /// Pixels per millimetre.
    pub px_per_mm: f64,
    /// Where the picture's lower-left corner lies, mm: of the sheet, or of the coordinates that were asked for.
    pub lower_left: Point,
}

/// Cuts a part out of a photo in the coordinates of the sheet: [`cut_out_in`] with nothing moved.
///
/// # Errors
/// As [`cut_out_in`].
pub fn cut_out(
    photo: &Photo,
    taken: &Taken,
    outline: &Outline,
    top_mm: f64,
    px_per_mm: f64,
) -> Result<Cutout, CutoutError> {
    cut_out_in(Pose::default(), photo, taken, outline, top_mm, px_per_mm)
}

/// Cuts a part out of a photo: each pixel shows what the camera saw at that place at the height of the
/// part's top face, and is opaque inside the outline.
///
/// `outline` is in mm of the sheet, `top_mm` the height of its face; the picture lies straight in coordinates into which
/// `own_from_sheet` carries those of the sheet.
///
/// # Errors
/// [`CutoutError`]: the outline is larger than a picture may be, the scale is none, or the photo has no pixels.
pub fn cut_out_in(
    own_from_sheet: Pose,
    photo: &Photo,
    taken: &Taken,
    outline: &Outline,
    top_mm: f64,
    px_per_mm: f64,
) -> Result<Cutout, CutoutError> {
    if !(px_per_mm > 0.0 && px_per_mm.is_finite()) {
        return Err(CutoutError::NoScale { px_per_mm });
    }
    let image = LinearImage::of(photo).ok_or(CutoutError::NoPixels)?;
    let outline = &outline.placed(own_from_sheet);
    let sheet_from_own = own_from_sheet.inverse();
    let bounds = outline.bounds().grown(1.0 / px_per_mm);
    let width = (bounds.width_mm() * px_per_mm).ceil() as usize;
    let height = (bounds.height_mm() * px_per_mm).ceil() as usize;
    if width > MOST_PX || height > MOST_PX {
        let b = outline.bounds();
        return Err(CutoutError::TooLarge {
            size_mm: [b.width_mm(), b.height_mm()],
            px_per_mm,
        });
    }
    let lower_left = bounds.min;
    let alpha = coverage(outline, lower_left, width, height, px_per_mm);
    let mut rgba8 = vec![0u8; width * height * 4];
    for j in 0..height {
        for i in 0..width {
            let a = alpha[j * width + i];
            if a == 0 {
                continue;
            }
            let at = lower_left
                + Vector::new(
                    (i as f64 + 0.5) / px_per_mm,
                    ((height - 1 - j) as f64 + 0.5) / px_per_mm,
                );
            let on_sheet = SheetPoint3::over(sheet_from_own.apply(at), top_mm);
            let Some(p) = taken.project(on_sheet) else {
                continue;
            };
            let colour = image.sample_stored(p.x, p.y);
            rgba8[(j * width + i) * 4..][..4]
                .copy_from_slice(&[colour[0], colour[1], colour[2], a]);
        }
    }
    Ok(Cutout {
        width,
        height,
        rgba8,
        px_per_mm,
        lower_left,
    })
}

/// Share of each pixel that the outline covers, 0 to 255, from four scan lines a pixel with exact ends.
fn coverage(
    outline: &Outline,
    lower_left: Point,
    width: usize,
    height: usize,
    px_per_mm: f64,
) -> Vec<u8> {
    const LINES: usize = 4;
    let sides: Vec<(Point, Point)> = outline.rings().flat_map(shape::Ring::sides).collect();
    let mut cuts: Vec<Vec<f64>> = vec![Vec::new(); height * LINES];
    let line_y =
        |k: usize| lower_left.y + (height as f64 - (k as f64 + 0.5) / LINES as f64) / px_per_mm;
    for (a, b) in sides {
        let line_of =
            |y: f64| (height as f64 - (y - lower_left.y) * px_per_mm) * LINES as f64 - 0.5;
        let (first, last) = (
            line_of(a.y.max(b.y)).ceil().max(0.0),
            line_of(a.y.min(b.y)).floor(),
        );
        let mut k = first as usize;
        while (k as f64) <= last && k < cuts.len() {
            let y = line_y(k);
            if (a.y > y) != (b.y > y) {
                let x = a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x);
                cuts[k].push((x - lower_left.x) * px_per_mm);
            }
            k += 1;
        }
    }
    let mut share = vec![0.0f32; width * height];
    for (k, line) in cuts.iter_mut().enumerate() {
        line.sort_by(f64::total_cmp);
        let row = &mut share[k / LINES * width..][..width];
        for pair in line.chunks_exact(2) {
            let (from, to) = (pair[0].max(0.0), pair[1].min(width as f64));
            let mut i = from as usize;
            while i < width && (i as f64) < to {
                let covered = to.min(i as f64 + 1.0) - from.max(i as f64);
                row[i] += covered as f32 / LINES as f32;
                i += 1;
            }
        }
    }
    share
        .iter()
        .map(|s| (s * 255.0).round().clamp(0.0, 255.0) as u8)
        .collect()
}
