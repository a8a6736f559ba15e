//! What tests that write PNG files share.

#![allow(dead_code, reason = "each user takes what it needs")]

use image::{ExtendedColorType, ImageEncoder};

/// Pixels as a PNG file.
pub fn png(width: u32, height: u32, pixels: &[u8], colour: ExtendedColorType) -> Vec<u8> {
    let mut bytes = Vec::new();
    image::codecs::png::PngEncoder::new(&mut bytes)
        .write_image(pixels, width, height, colour)
        .expect("pixels of that size");
    bytes
}

/// CRC of ISO 3309, as PNG (ISO/IEC 15948, Annex D) asks for.
pub fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, &b| {
        (0..8).fold(crc ^ u32::from(b), |c, _| {
            if c & 1 == 1 {
                c >> 1 ^ 0xEDB8_8320
            } else {
                c >> 1
            }
        })
    })
}
