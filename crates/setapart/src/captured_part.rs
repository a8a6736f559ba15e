//! How a captured part becomes a part of a piece: its outline from its own origin, how sure that is, its own pictures.

use crate::failure::Failure;
use crate::tidy::Tidy;
use capture::{Cutout as Cut, Sigma};
use image::RgbaImage;
use piece::{BackCutout, Cutout, Part, PartId, PartKind};
use shape::{Outline, Point};

/// Scale of cut-outs, px/mm: a little more than photos have, and fine enough for a life-size print.
pub(crate) const CUTOUT_PX_PER_MM: f64 = 12.0;

/// A captured outline as a piece keeps it: from its own origin, in few lines and arcs.
///
/// `captured` is in mm wherever on its sheet or drawing it lies.
///
/// # Errors
/// [`Failure::Argument`] where it cannot be tidied.
pub(crate) fn own_outline(captured: &Outline, tidy: Tidy) -> Result<Outline, Failure> {
    tidy.outline(&captured.at_origin().0)
}

/// A part of which nothing is known but what a capture tells: its [`own_outline`], one sigma of that and the height of its
/// edge in mm.
pub(crate) fn part(
    id: PartId,
    name: impl Into<String>,
    own_outline: Outline,
    sigma_mm: f64,
    thickness_mm: Option<f64>,
) -> Part {
    Part {
        sigma_mm: Some((sigma_mm * 1000.0).round() / 1000.0),
        thickness_mm,
        ..Part::new(id, name, PartKind::Other, own_outline)
    }
}

/// What an outline's one sigma is made of, mm, as the commands and the app tell it.
pub(crate) fn sigma_parts(sigma: &Sigma) -> serde_json::Value {
    serde_json::json!({
        "scale": sigma.scale_mm,
        "camera": sigma.camera_mm,
        "height": sigma.height_mm,
        "edge": sigma.edge_mm,
        "shade": sigma.shade_mm,
    })
}

/// A part's own picture as its piece names it. It was cut out in the coordinates in which `captured` lies: `lower_left`
/// is its corner there, mm.
pub(crate) fn cutout(
    image: String,
    px_per_mm: f64,
    lower_left: Point,
    captured: &Outline,
) -> Cutout {
    let origin = captured.bounds().min;
    Cutout {
        image,
        px_per_mm,
        origin_mm: [lower_left.x - origin.x, lower_left.y - origin.y],
    }
}

/// The picture of a part's other face as its piece names it. It was cut out in the part's own coordinates as they are seen
/// from behind, and lies straight in them: `lower_left` is its corner there, mm.
pub(crate) fn back_cutout(image: String, px_per_mm: f64, lower_left: Point) -> BackCutout {
    BackCutout {
        image,
        px_per_mm,
        origin_mm: [lower_left.x, lower_left.y],
        turn_deg: 0.0,
    }
}

/// The pixels of a cut-out.
///
/// # Errors
/// [`Failure::CutoutPixels`] where they do not fit its size.
pub(crate) fn pixels(cut: Cut) -> Result<RgbaImage, Failure> {
    let unfit = || Failure::CutoutPixels("they do not fit its size".into());
    RgbaImage::from_raw(cut.width as u32, cut.height as u32, cut.rgba8).ok_or_else(unfit)
}

/// Pixels as a PNG file.
///
/// # Errors
/// [`Failure::CutoutPixels`] where they cannot be written as one.
pub(crate) fn png(pixels: &RgbaImage) -> Result<Vec<u8>, Failure> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    pixels
        .write_to(&mut bytes, image::ImageFormat::Png)
        .map_err(|e| Failure::CutoutPixels(e.to_string()))?;
    Ok(bytes.into_inner())
}
