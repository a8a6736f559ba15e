//! Pictures as pages need them: cut-outs and photos made smaller, and kept in memory up to a bound.

use super::jobs::locked;
use super::refusal::Refusal;
use image::imageops::FilterType;
use image::{DynamicImage, ImageFormat, RgbaImage};
use std::collections::VecDeque;
use std::io::Cursor;
use std::sync::{Arc, Mutex};
use workshop::{ImageName, Workshop};

/// Bytes of made pictures that are kept.
const MOST_KEPT: usize = 96 << 20;

/// Longest side of a photo on a page, px.
pub(crate) const PHOTO_SIDE_PX: u32 = 2400;

/// Longest side of a photo in a list, px.
pub(crate) const SMALL_SIDE_PX: u32 = 240;

/// How a picture is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Size {
    /// A cut-out at one of this many times its own scale.
    OneIn(u32),
    /// A photo whose longer side has so many pixels.
    Side(u32),
}

/// A picture as it is sent.
#[derive(Debug, Clone)]
pub(crate) struct Made {
    pub(crate) media_type: &'static str,
    pub(crate) bytes: Arc<[u8]>,
}

/// Made pictures, the last used first.
#[derive(Default)]
pub(crate) struct Pictures {
    kept: Mutex<VecDeque<(ImageName, Size, Made)>>,
}

impl Pictures {
    /// A picture of the store in a size.
    pub(crate) fn get(
        &self,
        workshop: &Workshop,
        name: &ImageName,
        size: Size,
    ) -> Result<Made, Refusal> {
        if let Some(made) = self.take_out(name, size) {
            self.put_in(name, size, made.clone());
            return Ok(made);
        }
        let bytes = workshop.image(name)?;
        let made = make(&bytes, size)?;
        self.put_in(name, size, made.clone());
        Ok(made)
    }

    fn take_out(&self, name: &ImageName, size: Size) -> Option<Made> {
        let mut kept = locked(&self.kept);
        let at = kept.iter().position(|(n, s, _)| n == name && *s == size)?;
        kept.remove(at).map(|(.., made)| made)
    }

    fn put_in(&self, name: &ImageName, size: Size, made: Made) {
        let mut kept = locked(&self.kept);
        kept.push_front((*name, size, made));
        let mut bytes = 0;
        let within = kept.iter().take_while(|(.., m)| {
            bytes += m.bytes.len();
            bytes <= MOST_KEPT
        });
        let n = within.count();
        kept.truncate(n.max(1));
    }
}

fn make(bytes: &[u8], size: Size) -> Result<Made, Refusal> {
    match size {
        Size::OneIn(n) => {
            let small = reduced(&decode_png(bytes)?.into_rgba8(), n.max(1));
            encode(&small.into(), ImageFormat::Png, "image/png")
        }
        Size::Side(side) => {
            let limits = capture::photo::Limits::default();
            let photo = capture::photo::Photo::decode(bytes, &limits).map_err(|e| {
                Refusal::bad(crate::say::sentence(&e.to_string()), "Use another photo.")
            })?;
            let [w, h] = photo.size_px();
            let rgb = image::RgbImage::from_raw(w, h, photo.into_rgb8())
                .ok_or_else(|| Refusal::inside("the photo's pixels do not fit its size"))?;
            let whole = DynamicImage::ImageRgb8(rgb);
            let small = if w.max(h) > side {
                whole.resize(side, side, FilterType::Triangle)
            } else {
                whole
            };
            encode(&small, ImageFormat::Jpeg, "image/jpeg")
        }
    }
}

/// A cut-out of which each pixel is the mean of n by n, counted from its lower-left corner, which the piece document
/// names; what is added above and on the right is transparent. Colours count as far as they are opaque.
fn reduced(picture: &RgbaImage, n: u32) -> RgbaImage {
    let (w, h) = picture.dimensions();
    let (small_w, small_h) = (w.div_ceil(n), h.div_ceil(n));
    let lift = small_h * n - h;
    RgbaImage::from_fn(small_w, small_h, |x, y| {
        let mut sum = [0u64; 4];
        for dy in 0..n {
            let Some(at_y) = (y * n + dy).checked_sub(lift) else {
                continue;
            };
            for at_x in x * n..((x + 1) * n).min(w) {
                let [r, g, b, a] = picture.get_pixel(at_x, at_y).0.map(u64::from);
                for (s, c) in sum.iter_mut().zip([r * a, g * a, b * a, a]) {
                    *s += c;
                }
            }
        }
        let [r, g, b, a] = sum;
        let colour = |c: u64| u8::try_from(c.checked_div(a).unwrap_or(0)).unwrap_or(u8::MAX);
        let opaque = u8::try_from(a / u64::from(n * n)).unwrap_or(u8::MAX);
        image::Rgba([colour(r), colour(g), colour(b), opaque])
    })
}

/// Decodes a cut-out under limits.
pub(crate) fn decode_png(bytes: &[u8]) -> Result<DynamicImage, Refusal> {
    let mut reader = image::ImageReader::with_format(Cursor::new(bytes), ImageFormat::Png);
    let mut limits = image::Limits::default();
    limits.max_image_width = Some(8_000);
    limits.max_image_height = Some(8_000);
    limits.max_alloc = Some(512 << 20);
    reader.limits(limits);
    reader.decode().map_err(|e| {
        Refusal::bad(
            format!("A cut-out cannot be read: {e}."),
            "Capture the part again.",
        )
    })
}

fn encode(
    picture: &DynamicImage,
    format: ImageFormat,
    media_type: &'static str,
) -> Result<Made, Refusal> {
    let mut bytes = Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, format)
        .map_err(Refusal::inside)?;
    Ok(Made {
        media_type,
        bytes: bytes.into_inner().into(),
    })
}
