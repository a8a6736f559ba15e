//! Every format that photos come in: what is kept, what is refused, and when.

mod png;

use capture::photo::{Limits, Photo, PhotoError};
use image::{ExtendedColorType, ImageEncoder};
use png::{crc32, png};
use std::time::Instant;

/// 64 x 48, left half 20, right half 200, the upper left 12 x 12 yellow (250, 240, 10). Written by pillow-heif
/// 1.8.1 (libheif 1.23.6), quality 90: `plain` as it is; `turned` with EXIF orientation 6 and the focal length
/// 28 mm, for which libheif writes `irot` too, so that both say the same.
const PLAIN: &[u8] = include_bytes!("heic/plain.heic");
const TURNED: &[u8] = include_bytes!("heic/turned.heic");

fn decode(bytes: &[u8]) -> Result<Photo, PhotoError> {
    Photo::decode(bytes, &Limits::default())
}

fn pixel(photo: &Photo, x: u32, y: u32) -> [u8; 3] {
    let at = 3 * (y * photo.size_px()[0] + x) as usize;
    [at, at + 1, at + 2].map(|k| photo.rgb8()[k])
}

fn assert_near(found: [u8; 3], truth: [u8; 3]) {
    let near = found.iter().zip(truth).all(|(a, b)| a.abs_diff(b) <= 3);
    assert!(near, "{found:?}, not {truth:?}");
}

fn tiff(width: u32, height: u32, pixels: &[u8], colour: ExtendedColorType) -> Vec<u8> {
    let mut file = std::io::Cursor::new(Vec::new());
    image::codecs::tiff::TiffEncoder::new(&mut file)
        .write_image(pixels, width, height, colour)
        .expect("pixels of that size");
    file.into_inner()
}

/// Values are those that libheif decodes from the same files.
#[test]
fn heic_is_read_and_turned_once() {
    let plain = decode(PLAIN).unwrap();
    assert_eq!((plain.size_px(), plain.focal_35mm), ([64, 48], None));
    assert_near(pixel(&plain, 2, 2), [251, 240, 10]);
    assert_near(pixel(&plain, 2, 45), [20, 20, 20]);
    assert_near(pixel(&plain, 61, 2), [200, 200, 200]);
    let turned = decode(TURNED).unwrap();
    assert_eq!(
        (turned.size_px(), turned.focal_35mm),
        ([48, 64], Some(28.0))
    );
    // A quarter clockwise: the yellow goes to the upper right, the dark half up.
    assert_near(pixel(&turned, 45, 2), [251, 240, 10]);
    assert_near(pixel(&turned, 2, 2), [20, 20, 20]);
    assert_near(pixel(&turned, 2, 61), [200, 200, 200]);
}

#[test]
fn heic_cut_short_or_damaged_never_panics() {
    for keep in 0..TURNED.len() {
        let error = decode(&TURNED[..keep]);
        // The EXIF data come last: without them the picture is whole, and the file still is not.
        assert!(error.is_err() || keep > 800, "{keep} of {}", TURNED.len());
    }
    for at in 0..PLAIN.len() {
        for change in [0x01, 0x80, 0xFF] {
            let mut bytes = PLAIN.to_vec();
            bytes[at] ^= change;
            if let Ok(photo) = decode(&bytes) {
                let [width, height] = photo.size_px();
                assert_eq!(photo.rgb8().len(), 3 * (width * height) as usize);
            }
        }
    }
}

/// 16 bits: v * 255 / 65535, rounded, is what a channel has in 8 bits (PNG, ISO/IEC 15948, 13.12).
#[test]
fn sixteen_bits_are_rounded_to_eight() {
    let values = [
        0_u16, 128, 129, 385, 386, 32_767, 32_896, 65_406, 65_407, 65_535, 1000, 2000,
    ];
    let truth = values.map(|v| (f64::from(v) * 255.0 / 65_535.0).round() as u8);
    let native: Vec<u8> = values.iter().flat_map(|v| v.to_ne_bytes()).collect();
    for file in [
        png(2, 2, &native, ExtendedColorType::Rgb16),
        tiff(2, 2, &native, ExtendedColorType::Rgb16),
    ] {
        assert_eq!(decode(&file).unwrap().rgb8(), truth);
    }
    let grey = png(3, 4, &native, ExtendedColorType::L16);
    let grey = decode(&grey).unwrap();
    assert_eq!(
        grey.rgb8().iter().step_by(3).copied().collect::<Vec<_>>(),
        truth
    );
}

fn with_phys(per_metre: [u32; 2], unit: u8) -> Vec<u8> {
    let whole = png(2, 1, &[9; 6], ExtendedColorType::Rgb8);
    let mut chunk = b"pHYs".to_vec();
    per_metre.iter().for_each(|v| chunk.extend(v.to_be_bytes()));
    chunk.push(unit);
    let crc = crc32(&chunk);
    [
        &whole[..33],
        &9_u32.to_be_bytes(),
        &chunk,
        &crc.to_be_bytes(),
        &whole[33..],
    ]
    .concat()
}

/// 11811 pixels per metre are 300 an inch: 300 / 0.0254 = 11811.02.
#[test]
fn resolution_is_read_from_png() {
    let [x, y] = decode(&with_phys([11_811, 23_622], 1))
        .unwrap()
        .dpi
        .unwrap();
    assert!(
        (x - 300.0).abs() < 0.002 && (y - 600.0).abs() < 0.002,
        "{x} {y}"
    );
    assert_eq!(decode(&with_phys([3, 4], 0)).unwrap().dpi, None);
    assert_eq!(decode(&with_phys([0, 0], 1)).unwrap().dpi, None);
    assert_eq!(
        decode(&png(2, 1, &[9; 6], ExtendedColorType::Rgb8))
            .unwrap()
            .dpi,
        None
    );
}

fn jpeg() -> Vec<u8> {
    let mut file = Vec::new();
    image::codecs::jpeg::JpegEncoder::new(&mut file)
        .encode(&[90; 16 * 8 * 3], 16, 8, ExtendedColorType::Rgb8)
        .expect("pixels of that size");
    file
}

/// Raw EXIF data with an orientation and a resolution (TIFF 6.0: tags 274, 282, 283, 296).
fn exif(orientation: u8, x: u32, y: u32, unit: u8) -> Vec<u8> {
    let mut tiff = b"MM\0*\0\0\0\x08\0\x04".to_vec();
    tiff.extend([0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, orientation, 0, 0]);
    tiff.extend([0x01, 0x1A, 0, 5, 0, 0, 0, 1, 0, 0, 0, 62]);
    tiff.extend([0x01, 0x1B, 0, 5, 0, 0, 0, 1, 0, 0, 0, 70]);
    tiff.extend([0x01, 0x28, 0, 3, 0, 0, 0, 1, 0, unit, 0, 0]);
    tiff.extend([0, 0, 0, 0]);
    for v in [x, 1, y, 1] {
        tiff.extend(v.to_be_bytes());
    }
    tiff
}

#[test]
fn resolution_is_read_from_jpeg() {
    let plain = jpeg();
    assert_eq!(&plain[6..11], b"JFIF\0");
    let jfif = |unit: u8, x: u8, y: u8| {
        let mut bytes = plain.clone();
        bytes[13..18].copy_from_slice(&[unit, 0, x, 0, y]);
        bytes
    };
    assert_eq!(
        decode(&jfif(1, 200, 100)).unwrap().dpi,
        Some([200.0, 100.0])
    );
    assert_eq!(decode(&jfif(2, 100, 50)).unwrap().dpi, Some([254.0, 127.0]));
    assert_eq!(decode(&jfif(0, 1, 1)).unwrap().dpi, None);
    // EXIF where JFIF says nothing; turned with the picture.
    let with_exif = |orientation, unit| {
        let segment = [b"Exif\0\0".as_slice(), &exif(orientation, 300, 600, unit)].concat();
        let length = (segment.len() as u16 + 2).to_be_bytes();
        [&plain[..2], &[0xFF, 0xE1], &length, &segment, &plain[20..]].concat()
    };
    assert_eq!(decode(&with_exif(1, 2)).unwrap().dpi, Some([300.0, 600.0]));
    assert_eq!(decode(&with_exif(6, 2)).unwrap().dpi, Some([600.0, 300.0]));
    assert_eq!(decode(&with_exif(3, 3)).unwrap().dpi, Some([762.0, 1524.0]));
    assert_eq!(decode(&with_exif(1, 1)).unwrap().dpi, None);
}

/// The encoder writes no resolution of its own choice into the tags that its file carries: they are set here.
#[test]
fn resolution_is_read_from_tiff() {
    let file = tiff(2, 1, &[7; 6], ExtendedColorType::Rgb8);
    let little = file.starts_with(b"II");
    assert!(little);
    let at = |tag: u16| {
        file.windows(4)
            .position(|w| w[..2] == tag.to_le_bytes() && (w[2..] == [5, 0] || w[2..] == [3, 0]))
    };
    let (Some(x), Some(y), Some(unit)) = (at(282), at(283), at(296)) else {
        panic!("the encoder writes resolution tags");
    };
    let mut bytes = file.clone();
    for (entry, dpi) in [(x, 400_u32), (y, 800)] {
        let offset = u32::from_le_bytes(file[entry + 8..entry + 12].try_into().unwrap()) as usize;
        bytes[offset..offset + 4].copy_from_slice(&dpi.to_le_bytes());
        bytes[offset + 4..offset + 8].copy_from_slice(&1_u32.to_le_bytes());
    }
    bytes[unit + 8] = 2;
    // One rational may serve both tags.
    let dpi = decode(&bytes).unwrap().dpi.unwrap();
    assert!(dpi == [400.0, 800.0] || dpi == [800.0, 800.0], "{dpi:?}");
    bytes[unit + 8] = 1;
    assert_eq!(decode(&bytes).unwrap().dpi, None);
}

#[test]
fn huge_headers_of_every_format_are_refused_at_once() {
    for (width, height) in [(65_535_u32, 65_535_u32), (20_000, 10_000), (16_000, 12_500)] {
        let (w16, h16) = (width as u16, height as u16);
        let mut files: Vec<(&str, Vec<u8>)> = Vec::new();
        // PNG: the header chunk, with its checksum.
        let mut file = png(16, 16, &[0; 256], ExtendedColorType::L8);
        file[16..20].copy_from_slice(&width.to_be_bytes());
        file[20..24].copy_from_slice(&height.to_be_bytes());
        let crc = crc32(&file[12..29]);
        file[29..33].copy_from_slice(&crc.to_be_bytes());
        files.push(("PNG", file));
        // JPEG: the frame header (T.81, B.2.2): height, width.
        let mut file = jpeg();
        let frame = file.windows(2).position(|w| w == [0xFF, 0xC0]).unwrap();
        file[frame + 5..frame + 7].copy_from_slice(&h16.to_be_bytes());
        file[frame + 7..frame + 9].copy_from_slice(&w16.to_be_bytes());
        files.push(("JPEG", file));
        // TIFF: tags 256 and 257, and rows per strip.
        let mut file = tiff(16, 16, &[0; 768], ExtendedColorType::Rgb8);
        for (tag, value) in [(256_u16, width), (257, height), (278, height)] {
            let entry = (0..file.len() - 12).rfind(|&k| {
                file[k..k + 2] == tag.to_le_bytes()
                    && matches!(file[k + 2..k + 8], [3 | 4, 0, 1, 0, 0, 0])
            });
            if let Some(k) = entry {
                file[k + 2] = 4;
                file[k + 8..k + 12].copy_from_slice(&value.to_le_bytes());
            }
        }
        files.push(("TIFF", file));
        // WebP: an extended header's canvas, 24 bits less one each, and a lossless picture's own header, 14
        // bits less one each, where it can say so much (RFC 9649).
        let riff = |chunk: &[u8]| {
            let length = (chunk.len() as u32 + 4).to_le_bytes();
            [b"RIFF".as_slice(), &length, b"WEBP", chunk].concat()
        };
        let (w24, h24) = ((width - 1).to_le_bytes(), (height - 1).to_le_bytes());
        let lossless_of = |w: u32, h: u32| {
            let bits = (w - 1) | (h - 1) << 14;
            [
                b"VP8L".as_slice(),
                &10_u32.to_le_bytes(),
                &[0x2F],
                &bits.to_le_bytes(),
                &[0; 5],
            ]
            .concat()
        };
        let extended = [
            b"VP8X".as_slice(),
            &10_u32.to_le_bytes(),
            &[0; 4],
            &w24[..3],
            &h24[..3],
            &lossless_of(16, 16),
        ]
        .concat();
        files.push(("WebP", riff(&extended)));
        if width <= 16_384 {
            files.push(("WebP", riff(&lossless_of(width, height))));
        }
        // HEIC: the size property (ISO/IEC 23008-12, 6.5.3): version and flags, width, height.
        let mut file = PLAIN.to_vec();
        let size = file.windows(4).position(|w| w == b"ispe").unwrap() + 8;
        file[size..size + 4].copy_from_slice(&width.to_be_bytes());
        file[size + 4..size + 8].copy_from_slice(&height.to_be_bytes());
        files.push(("HEIC", file));
        for (format, bytes) in files {
            let started = Instant::now();
            let error = decode(&bytes).unwrap_err();
            assert!(started.elapsed().as_millis() < 500, "{format} {width}");
            assert!(
                matches!(error, PhotoError::TooLarge { width: w, height: h, .. } if (w, h) == (width, height)),
                "{format} {width} x {height}: {error}"
            );
        }
    }
}

/// A header that promises 2000 x 2000 and data of 64 x 48: what comes is what is held, or nothing.
#[test]
fn a_heic_that_promises_more_than_it_holds_gives_no_more() {
    let mut file = PLAIN.to_vec();
    let size = file.windows(4).position(|w| w == b"ispe").unwrap() + 8;
    file[size..size + 4].copy_from_slice(&2000_u32.to_be_bytes());
    file[size + 4..size + 8].copy_from_slice(&2000_u32.to_be_bytes());
    match decode(&file) {
        Ok(photo) => assert_eq!(photo, decode(PLAIN).unwrap()),
        Err(e) => assert!(matches!(e, PhotoError::Damaged { format: "HEIC", .. })),
    }
}

/// A grid of two by two tiles of 64 x 64 that show yellow, black, grey and blue, cut to 120 x 110 (ISO/IEC 23008-12, 6.6.2.3; written
/// by hand from tiles of pillow-heif 1.8.1). Values are those that libheif 1.23.6 decodes from it.
const GRID: &[u8] = include_bytes!("heic/grid.heic");

#[test]
fn a_heic_grid_is_put_together_from_its_tiles() {
    let photo = decode(GRID).unwrap();
    assert_eq!(photo.size_px(), [120, 110]);
    assert_near(pixel(&photo, 5, 5), [251, 240, 10]);
    assert_near(pixel(&photo, 100, 5), [20, 20, 20]);
    assert_near(pixel(&photo, 5, 100), [200, 200, 200]);
    assert_near(pixel(&photo, 110, 100), [30, 91, 220]);
}

/// The smallest change that made the decoder panic: a picture wider than its tiles together.
#[test]
fn a_heic_grid_whose_tiles_do_not_cover_it_is_damaged() {
    let size = GRID
        .windows(8)
        .position(|w| w == [0, 0, 1, 1, 0, 120, 0, 110])
        .unwrap();
    for (at, value) in [(size + 5, 129), (size + 7, 129)] {
        let mut file = GRID.to_vec();
        file[at] = value;
        let error = decode(&file).unwrap_err();
        assert!(
            matches!(error, PhotoError::Damaged { format: "HEIC", .. }),
            "{error}"
        );
    }
}

/// Noise, so that no block is plain, in every sampling that the encoder knows.
#[test]
fn a_jpeg_cut_and_closed_again_is_told() {
    let mut state = 3_u32;
    let noise: Vec<u8> = std::iter::repeat_with(|| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    })
    .take(200 * 150 * 3)
    .collect();
    for (colour, bytes) in [(ExtendedColorType::Rgb8, 3), (ExtendedColorType::L8, 1)] {
        let mut whole = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut whole, 80)
            .encode(&noise[..200 * 150 * bytes], 200, 150, colour)
            .unwrap();
        assert!(decode(&whole).is_ok());
        for keep in [0.2, 0.5, 0.8, 0.95] {
            let mut cut = whole[..(whole.len() as f64 * keep) as usize].to_vec();
            if cut.last() == Some(&0xFF) {
                cut.pop();
            }
            cut.extend([0xFF, 0xD9]);
            let error = decode(&cut).unwrap_err();
            assert_eq!(error, PhotoError::Truncated { format: "JPEG" }, "{keep}");
        }
    }
    // A plain picture is plain, not cut.
    assert!(decode(&jpeg()).is_ok());
}

/// A studio photo with subsampled colour, and restart markers where a camera wrote them.
#[test]
fn a_photo_cut_and_closed_again_is_told() {
    let whole = std::fs::read(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/data/studio/window.jpg"
    ))
    .unwrap();
    for keep in [0.3, 0.7, 0.95] {
        let mut cut = whole[..(whole.len() as f64 * keep) as usize].to_vec();
        if cut.last() == Some(&0xFF) {
            cut.pop();
        }
        cut.extend([0xFF, 0xD9]);
        assert_eq!(
            decode(&cut).unwrap_err(),
            PhotoError::Truncated { format: "JPEG" },
            "{keep}"
        );
    }
}
