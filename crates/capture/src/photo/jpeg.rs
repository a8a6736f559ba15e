//! JPEG files, by a decoder that is told to be strict: left to its own it paints what is missing or broken
//! grey, and a photo that lacks its lower half would pass.

use super::{Decoded, Limits, PhotoError, density, jpeg_end, jpeg_scan};
use image::RgbImage;
use image::metadata::Orientation;
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

const NAME: &str = "JPEG";

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
    // Both read the same bytes; the decoder takes longer.
    let (pixels, whole) = std::thread::scope(|scope| {
        let whole = scope.spawn(|| jpeg_scan::holds_all_blocks(bytes));
        (decoder.decode(), whole.join().unwrap_or(None))
    });
    if whole == Some(false) {
        return Err(PhotoError::Truncated { format: NAME });
    }
    let pixels = pixels.map_err(|e| damaged(e.to_string()))?;
    let picture = RgbImage::from_raw(width, height, pixels)
        .ok_or_else(|| damaged("it has fewer pixels than its header says".into()))?;
    Ok(Decoded {
        picture: picture.into(),
        orientation,
        exif,
        dpi: density::of_jfif(bytes),
        turned: false,
    })
}
