//! Files that are photos, and files that are not.

mod tags_truth;

mod png;

use capture::photo::{Limits, Photo, PhotoError};
use image::{ColorType, ExtendedColorType, ImageEncoder};
use png::{crc32, png};
use tags_truth::studio;

fn decode(bytes: &[u8]) -> Result<Photo, PhotoError> {
    Photo::decode(bytes, &Limits::default())
}

/// A small picture whose left half is dark, with one bright pixel in the upper left corner.
fn pattern(width: u32, height: u32) -> Vec<u8> {
    (0..width * height)
        .flat_map(|i| match (i % width, i / width) {
            (0, 0) => [250, 240, 10],
            (x, _) if x < width / 2 => [20, 20, 20],
            _ => [200, 200, 200],
        })
        .collect()
}

fn jpeg_with_orientation(orientation: u16) -> Vec<u8> {
    let mut jpeg = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 100)
        .encode(&pattern(32, 16), 32, 16, ExtendedColorType::Rgb8)
        .expect("pixels of that size");
    // An EXIF segment by hand: TIFF header, one directory of two entries (TIFF 6.0; Exif 2.3, 4.6).
    let mut tiff = b"MM\0*\0\0\0\x08\0\x02".to_vec();
    let (o, f) = (orientation.to_be_bytes(), 28_u16.to_be_bytes());
    tiff.extend([0x01, 0x12, 0, 3, 0, 0, 0, 1, o[0], o[1], 0, 0]);
    tiff.extend([0x87, 0x69, 0, 4, 0, 0, 0, 1, 0, 0, 0, 38]);
    tiff.extend([0, 0, 0, 0]);
    tiff.extend([0, 1, 0xA4, 0x05, 0, 3, 0, 0, 0, 1, f[0], f[1], 0, 0]);
    tiff.extend([0, 0, 0, 0]);
    let mut segment = b"Exif\0\0".to_vec();
    segment.extend(tiff);
    let mut bytes = vec![0xFF, 0xD8, 0xFF, 0xE1];
    bytes.extend(((segment.len() + 2) as u16).to_be_bytes());
    bytes.extend(segment);
    bytes.extend(&jpeg[2..]);
    bytes
}

#[test]
fn a_studio_photo_has_its_size_and_focal_length() {
    // Truth: studio scene files (focal_35mm, size_px).
    for (scene, focal) in [("window", 26.0), ("ceiling", 40.0)] {
        let photo = tags_truth::photo(scene);
        assert_eq!(photo.size_px(), [4032, 3024]);
        assert_eq!(photo.focal_35mm, Some(focal));
        assert_eq!(photo.rgb8().len(), 4032 * 3024 * 3);
    }
}

#[test]
fn a_jpeg_cut_short_anywhere_is_an_error() {
    let whole = studio("window.jpg");
    let n = whole.len();
    for keep in [
        2,
        3,
        20,
        100,
        400,
        700,
        1000,
        n / 4,
        n / 2,
        n - 1000,
        n - 10,
        n - 2,
        n - 1,
    ] {
        let error = decode(&whole[..keep]).unwrap_err();
        assert!(
            matches!(error, PhotoError::Truncated { format: "JPEG" }) || keep < 4,
            "{keep} bytes of {n}: {error}"
        );
    }
}

#[test]
fn a_jpeg_with_a_marker_where_none_belongs_is_an_error() {
    let mut bytes = studio("window.jpg");
    let middle = bytes.len() / 2;
    // Start of another frame within the coded data, as where two files were written over each other.
    bytes[middle..middle + 2].copy_from_slice(&[0xFF, 0xC2]);
    let error = decode(&bytes).unwrap_err();
    assert!(
        matches!(
            error,
            PhotoError::Damaged { format: "JPEG", .. } | PhotoError::Truncated { .. }
        ),
        "{error}"
    );
}

#[test]
fn what_follows_a_jpegs_end_does_not_matter() {
    let mut bytes = studio("harsh.jpg");
    let alone = decode(&bytes).unwrap();
    bytes.extend(b"a video, say");
    assert!(decode(&bytes).unwrap() == alone);
}

#[test]
fn pngs_tiffs_and_webps_cut_short_are_errors() {
    let pixels = pattern(64, 48);
    let mut tiff = std::io::Cursor::new(Vec::new());
    let mut webp = Vec::new();
    image::codecs::tiff::TiffEncoder::new(&mut tiff)
        .write_image(&pixels, 64, 48, ExtendedColorType::Rgb8)
        .unwrap();
    image::codecs::webp::WebPEncoder::new_lossless(&mut webp)
        .write_image(&pixels, 64, 48, ExtendedColorType::Rgb8)
        .unwrap();
    let png = png(64, 48, &pixels, ExtendedColorType::Rgb8);
    for (name, bytes) in [("png", png), ("tiff", tiff.into_inner()), ("webp", webp)] {
        let photo = decode(&bytes).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(photo.rgb8() == pixels, "{name}");
        for keep in (8..bytes.len() - 16).step_by(7) {
            assert!(
                decode(&bytes[..keep]).is_err(),
                "{name}: {keep} of {}",
                bytes.len()
            );
        }
    }
}

#[test]
fn what_is_no_image_is_said_to_be_none() {
    for bytes in [
        &b""[..],
        b"\xFF",
        b"hello",
        b"%PDF-1.7\n",
        b"GIF89a\x01\0\x01\0\0\0\0",
    ] {
        assert_eq!(decode(bytes), Err(PhotoError::NotAnImage));
    }
    // Noise from a fixed linear congruential generator (Numerical Recipes' constants, from memory).
    let mut state = 7_u32;
    let noise: Vec<u8> = std::iter::repeat_with(|| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    })
    .take(100_000)
    .collect();
    assert_eq!(decode(&noise), Err(PhotoError::NotAnImage));
    for start in [
        &b"\xFF\xD8\xFF\xE0"[..],
        b"\x89PNG\r\n\x1a\n",
        b"II*\0",
        b"RIFF\x10\0\0\0WEBPVP8 ",
    ] {
        let lying = [start, &noise].concat();
        assert!(decode(&lying).is_err());
    }
}

#[test]
fn a_huge_header_is_refused_before_memory_is_taken() {
    // A sound PNG header of 65,535 x 65,535 (checksums included), and no pixels.
    let mut bytes = png(16, 16, &[0; 256], ExtendedColorType::L8);
    bytes[16..24].copy_from_slice(&[0, 0, 0xFF, 0xFF, 0, 0, 0xFF, 0xFF]);
    let crc = crc32(&bytes[12..29]);
    bytes[29..33].copy_from_slice(&crc.to_be_bytes());
    let started = std::time::Instant::now();
    let error = decode(&bytes).unwrap_err();
    assert!(
        matches!(
            error,
            PhotoError::TooLarge {
                width: 65_535,
                height: 65_535,
                ..
            }
        ),
        "{error}"
    );
    assert!(started.elapsed().as_millis() < 200);
    // 16 bits a channel with alpha: within the pixels, beyond the bytes.
    let limits = Limits {
        decoded_bytes: 1000,
        ..Limits::default()
    };
    let small = png(16, 16, &[0; 768], ExtendedColorType::Rgb8);
    assert!(Photo::decode(&small, &Limits::default()).is_ok());
    assert!(Photo::decode(&small, &limits).is_ok());
    let limits = Limits {
        decoded_bytes: 700,
        ..Limits::default()
    };
    assert!(matches!(
        Photo::decode(&small, &limits),
        Err(PhotoError::TooLarge { .. })
    ));
    let limits = Limits {
        file_bytes: 10,
        ..Limits::default()
    };
    assert!(matches!(
        Photo::decode(&small, &limits),
        Err(PhotoError::FileTooLarge { .. })
    ));
}

#[test]
fn exif_turns_the_picture_upright_and_gives_the_focal_length() {
    // Orientation tag (Exif 2.3, 4.6.4): 1 upright, 3 half a turn, 6 to be turned clockwise, 8 the other way.
    // The bright pixel of the stored upper left corner goes to:
    for (orientation, size, at) in [
        (1, [32, 16], (0, 0)),
        (3, [32, 16], (31, 15)),
        (6, [16, 32], (15, 0)),
        (8, [16, 32], (0, 31)),
    ] {
        let photo = decode(&jpeg_with_orientation(orientation)).unwrap();
        assert_eq!(photo.size_px(), size, "{orientation}");
        assert_eq!(photo.focal_35mm, Some(28.0));
        let brightest = photo
            .rgb8()
            .as_chunks::<3>()
            .0
            .iter()
            .enumerate()
            .max_by_key(|(_, p)| p[0] as i32 - 2 * i32::from(p[2]))
            .map(|(i, _)| (i as u32 % size[0], i as u32 / size[0]))
            .unwrap();
        // JPEG spreads one pixel over its neighbours.
        assert!(
            brightest.0.abs_diff(at.0) <= 1 && brightest.1.abs_diff(at.1) <= 1,
            "{orientation}: {brightest:?}"
        );
    }
}

#[test]
fn what_is_transparent_becomes_white() {
    let pixels = [
        [10, 20, 30, 0],
        [10, 20, 30, 255],
        [0, 0, 0, 128],
        [255, 0, 0, 255],
    ]
    .concat();
    let photo = decode(&png(2, 2, &pixels, ColorType::Rgba8.into())).unwrap();
    assert_eq!(
        photo.rgb8(),
        [255, 255, 255, 10, 20, 30, 127, 127, 127, 255, 0, 0]
    );
}

#[test]
fn linear_light_follows_the_srgb_curve() {
    // IEC 61966-2-1: stored 0.5 is 0.21404 in linear light (value also in W3C's sRGB note); 0 and 1 stay.
    let pixels = [[0_u8; 3], [128; 3], [255; 3]].concat();
    let luma = decode(&png(3, 1, &pixels, ExtendedColorType::Rgb8))
        .unwrap()
        .linear_luma();
    assert_eq!(luma.data[0], 0.0);
    assert!((luma.data[1] - 0.21586).abs() < 1e-4, "{}", luma.data[1]);
    assert!((luma.data[2] - 1.0).abs() < 1e-6);
}
