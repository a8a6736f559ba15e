//! JPEG files, by a decoder that is told to be strict: left to its own it paints what is missing or broken
//! grey, and a photo that lacks its lower half would pass.

use super::{Limits, PhotoError, jpeg_end};
use image::metadata::Orientation;
use image::{DynamicImage, RgbImage};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

const NAME: &str = "JPEG";

/// The picture as stored, the way it has to be turned, and its raw EXIF data.
pub(super) type Decoded = (DynamicImage, Orientation, Option<Vec<u8>>);

pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Decoded, PhotoError> {
    if !jpeg_end::reaches_end_of_image(bytes) {
        return Err(PhotoError::Truncated { format: NAME });
    }
    let damaged = |problem: String| PhotoError::Damaged {
        format: NAME,
        problem,
    };
    let options = DecoderOptions::default()
        .set_strict_mode(true)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .jpeg_set_out_colorspace(ColorSpace::RGB);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder
        .decode_headers()
        .map_err(|e| damaged(e.to_string()))?;
    let info = decoder
        .info()
        .ok_or_else(|| damaged("it has no header".into()))?;
    let (width, height) = (u32::from(info.width), u32::from(info.height));
    limits.allow(width, height, 3 * u64::from(width) * u64::from(height))?;
    let exif = decoder.exif().cloned();
    let orientation = exif
        .as_deref()
        .and_then(Orientation::from_exif_chunk)
        .unwrap_or(Orientation::NoTransforms);
    let pixels = decoder.decode().map_err(|e| damaged(e.to_string()))?;
    let picture = RgbImage::from_raw(width, height, pixels)
        .ok_or_else(|| damaged("it has fewer pixels than its header says".into()))?;
    Ok((picture.into(), orientation, exif))
}
