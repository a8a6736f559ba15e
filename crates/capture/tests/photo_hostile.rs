//! Damaged photos of every format: decoding never panics, never gives more pixels than are allowed, and ends.
//!
//! The same property as the target `photo` in `fuzz`, on mutated files from a fixed seed.

use capture::photo::{Limits, Photo, PhotoError};
use image::{ExtendedColorType, ImageEncoder};
use shape::Random;

const LIMITS: Limits = Limits {
    file_bytes: 1 << 20,
    pixels: 1 << 18,
    side_px: 65_535,
    decoded_bytes: 4 << 20,
};

/// One file of each format, and of each coding that its decoder takes apart in its own way. The lossy WebP is by Pillow 13.0.0
/// (libwebp 1.6.0), the grid as crates/setapart/tests/hostile_pictures.rs says.
fn seeds() -> Vec<(&'static str, Vec<u8>)> {
    let rgb: Vec<u8> = (0..40 * 24 * 3)
        .map(|i: u32| (i * i / 7 % 251) as u8)
        .collect();
    let grey16: Vec<u8> = (0..40 * 24 * 2)
        .map(|i: u32| (i * 31 % 256) as u8)
        .collect();
    let mut seeds = Vec::new();
    let mut jpeg = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 70)
        .encode(&rgb, 40, 24, ExtendedColorType::Rgb8)
        .expect("pixels of that size");
    seeds.push(("JPEG", jpeg));
    for (pixels, colour) in [
        (&rgb, ExtendedColorType::Rgb8),
        (&grey16, ExtendedColorType::L16),
    ] {
        let (mut png, mut tiff) = (Vec::new(), std::io::Cursor::new(Vec::new()));
        image::codecs::png::PngEncoder::new(&mut png)
            .write_image(pixels, 40, 24, colour)
            .expect("pixels of that size");
        image::codecs::tiff::TiffEncoder::new(&mut tiff)
            .write_image(pixels, 40, 24, colour)
            .expect("pixels of that size");
        seeds.extend([("PNG", png), ("TIFF", tiff.into_inner())]);
    }
    let mut webp = Vec::new();
    image::codecs::webp::WebPEncoder::new_lossless(&mut webp)
        .write_image(&rgb, 40, 24, ExtendedColorType::Rgb8)
        .expect("pixels of that size");
    seeds.push(("WebP", webp));
    seeds.push(("WebP, lossy", include_bytes!("webp/lossy.webp").to_vec()));
    seeds.push(("HEIC", include_bytes!("heic/turned.heic").to_vec()));
    seeds.push(("HEIC, grid", include_bytes!("heic/grid.heic").to_vec()));
    seeds
}

fn mutated(seed: &[u8], random: &mut Random) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..=random.below(4) {
        if bytes.is_empty() {
            break;
        }
        let at = random.below(bytes.len());
        match random.below(7) {
            0 => bytes[at] = random.below(256) as u8,
            1 => bytes[at] ^= 1 << random.below(8),
            2 => bytes.truncate(at),
            3 => drop(bytes.drain(at..(at + 1 + random.below(8)).min(bytes.len()))),
            // Lengths, sizes and offsets that lie.
            4 | 5 => {
                let lie = [
                    0_u32,
                    1,
                    0xFF,
                    0x7FFF,
                    0xFFFF,
                    0x10000,
                    0x7FFF_FFFF,
                    u32::MAX,
                ][random.below(8)];
                let lie = if random.below(2) == 0 {
                    lie.to_be_bytes()
                } else {
                    lie.to_le_bytes()
                };
                let n = lie.len().min(bytes.len() - at);
                bytes[at..at + n].copy_from_slice(&lie[..n]);
            }
            _ => {
                let other = random.below(bytes.len());
                let end = (other + random.below(64)).min(bytes.len());
                let stretch = bytes[other..end].to_vec();
                bytes.splice(at..at, stretch);
            }
        }
    }
    bytes
}

#[test]
fn no_damaged_photo_panics_or_gives_more_than_is_allowed() {
    let rounds = if std::env::var_os("SETAPART_LONG").is_some() {
        100_000
    } else {
        2_000
    };
    for (format, seed) in seeds() {
        let sound = Photo::decode(&seed, &LIMITS);
        assert!(sound.is_ok(), "{format}: {sound:?}");
        let mut random = Random::new(0x5E7A_9A47);
        let mut refused = 0;
        for _ in 0..rounds {
            match Photo::decode(&mutated(&seed, &mut random), &LIMITS) {
                Ok(photo) => {
                    let pixels: u64 = photo.size_px().map(u64::from).iter().product();
                    assert!(pixels <= LIMITS.pixels, "{format}: {photo:?}");
                    assert_eq!(photo.rgb8().len() as u64, 3 * pixels, "{format}");
                }
                Err(e) => {
                    assert!(!e.to_string().is_empty());
                    refused += 1;
                }
            }
        }
        assert!(refused > rounds / 10, "{format}: only {refused} refused");
    }
}

/// Found by the fuzz target `photo`: four bytes for each of 2^32 - 1 squared pixels are more than 64 bits hold.
#[test]
fn a_heic_file_that_states_the_largest_sides_is_refused() {
    let mut bytes = include_bytes!("heic/turned.heic").to_vec();
    let places: Vec<usize> = (0..bytes.len() - 16)
        .filter(|&i| &bytes[i..i + 4] == b"ispe")
        .collect();
    assert!(!places.is_empty());
    for i in places {
        // After the box's name, its version and flags: width and height (ISO/IEC 23008-12, 6.5.3).
        bytes[i + 8..i + 16].fill(0xFF);
    }
    let refused = Photo::decode(&bytes, &LIMITS);
    assert!(
        matches!(refused, Err(PhotoError::TooLarge { .. })),
        "{refused:?}"
    );
}
