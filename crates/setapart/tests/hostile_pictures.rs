//! The whole command on pictures that lie: cut short in every format, headers of more pixels than any memory holds, a
//! sheet in a mirror, half a sheet, strokes drawn beside it.

#![allow(clippy::unwrap_used)]

mod common;

use common::{Run, data, folder, run};
use image::{ExtendedColorType, ImageEncoder, RgbImage};
use std::fs;
use std::path::{Path, PathBuf};

fn heic(name: &str) -> Vec<u8> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../capture/tests/heic/");
    fs::read(format!("{path}{name}")).unwrap()
}

/// Pixels that no coding makes shorter than a few kilobytes.
fn noise(width: u32, height: u32) -> RgbImage {
    RgbImage::from_fn(width, height, |x, y| {
        let v = x
            .wrapping_mul(2_654_435_761)
            .wrapping_add(y.wrapping_mul(40_503))
            >> 7;
        image::Rgb([v as u8, (v >> 8) as u8, (v >> 3) as u8])
    })
}

/// One file of each format. HEIC: one picture, and a grid of four that two rows of two tiles of 64 x 64 make 120 x 110
/// (ISO/IEC 23008-12, 6.6.2.3; written by hand from tiles of pillow-heif 1.8.1, and read so by libheif 1.23.6).
fn one_of_each() -> Vec<(&'static str, Vec<u8>)> {
    let picture = noise(160, 120);
    let coded = |format: image::ImageFormat| {
        let mut file = std::io::Cursor::new(Vec::new());
        picture.write_to(&mut file, format).unwrap();
        file.into_inner()
    };
    vec![
        ("photo.jpg", coded(image::ImageFormat::Jpeg)),
        ("photo.png", coded(image::ImageFormat::Png)),
        ("photo.tif", coded(image::ImageFormat::Tiff)),
        ("photo.webp", coded(image::ImageFormat::WebP)),
        ("photo.heic", heic("plain.heic")),
        ("grid.heic", heic("grid.heic")),
    ]
}

fn captured(path: &Path, more: &[&str]) -> Run {
    let mut args = vec!["capture".as_ref(), path.as_os_str(), "--json".as_ref()];
    args.extend(more.iter().map(|m| -> &std::ffi::OsStr { m.as_ref() }));
    run(args)
}

#[test]
fn every_format_is_read_and_says_that_it_shows_no_sheet() {
    let folder = folder("every_format_is_read");
    for (name, bytes) in one_of_each() {
        let path = folder.join(name);
        fs::write(&path, bytes).unwrap();
        captured(&path, &[]).is_refused_with(&[name, "tag"]);
    }
}

#[test]
fn a_picture_of_any_format_that_is_cut_short_is_refused_by_its_name() {
    let folder = folder("a_picture_of_any_format_cut_short");
    for (name, bytes) in one_of_each() {
        for share in [0.1, 0.5, 0.9] {
            let path = folder.join(name);
            fs::write(&path, &bytes[..(bytes.len() as f64 * share) as usize]).unwrap();
            let run = captured(&path, &[]);
            run.is_refused_with(&[name]);
            let told = ["cut short", "cannot be decoded", "not an image"];
            assert!(
                told.iter().any(|w| run.err.contains(w)),
                "{name} {share}: {}",
                run.err
            );
        }
    }
}

#[test]
fn a_picture_under_the_name_of_another_format_is_read_by_what_it_is() {
    let folder = folder("a_picture_under_another_name");
    let path = folder.join("photo.heic");
    let mut png = Vec::new();
    image::codecs::png::PngEncoder::new(&mut png)
        .write_image(&noise(40, 30), 40, 30, ExtendedColorType::Rgb8)
        .unwrap();
    fs::write(&path, png).unwrap();
    captured(&path, &[]).is_refused_with(&["photo.heic", "tag"]);
}

/// The same file with another size in its header (places as in crates/capture/tests/photo_formats.rs).
fn with_size(name: &str, file: &[u8], width: u32, height: u32) -> Vec<u8> {
    let mut file = file.to_vec();
    let find = |file: &[u8], what: &[u8]| {
        file.windows(what.len())
            .position(|w| w == what)
            .unwrap_or_else(|| panic!("{name} has no {what:?}"))
    };
    match name {
        "photo.jpg" => {
            let frame = find(&file, &[0xFF, 0xC0]);
            file[frame + 5..frame + 7].copy_from_slice(&(height as u16).to_be_bytes());
            file[frame + 7..frame + 9].copy_from_slice(&(width as u16).to_be_bytes());
        }
        "photo.png" => {
            file[16..20].copy_from_slice(&width.to_be_bytes());
            file[20..24].copy_from_slice(&height.to_be_bytes());
            let crc = crc32(&file[12..29]);
            file[29..33].copy_from_slice(&crc.to_be_bytes());
        }
        "photo.tif" => {
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
        }
        // An extended header before the lossless picture: its canvas is 24 bits less one each (RFC 9649).
        "photo.webp" => {
            let (w, h) = ((width - 1).to_le_bytes(), (height - 1).to_le_bytes());
            let extended = [
                b"VP8X".as_slice(),
                &10_u32.to_le_bytes(),
                &[0; 4],
                &w[..3],
                &h[..3],
            ]
            .concat();
            file.splice(12..12, extended);
            let length = (file.len() as u32 - 8).to_le_bytes();
            file[4..8].copy_from_slice(&length);
        }
        // The size property (ISO/IEC 23008-12, 6.5.3); a grid says its size in its own data too.
        "photo.heic" => {
            let size = find(&file, b"ispe") + 8;
            file[size..size + 4].copy_from_slice(&width.to_be_bytes());
            file[size + 4..size + 8].copy_from_slice(&height.to_be_bytes());
        }
        _ => {
            let grid = find(&file, &[0, 0, 1, 1, 0, 120, 0, 110]);
            file[grid + 4..grid + 6].copy_from_slice(&(width as u16).to_be_bytes());
            file[grid + 6..grid + 8].copy_from_slice(&(height as u16).to_be_bytes());
        }
    }
    file
}

/// CRC-32 of PNG's chunks (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, &b| {
        (0..8).fold(crc ^ u32::from(b), |c, _| {
            if c & 1 == 1 {
                0xEDB8_8320 ^ (c >> 1)
            } else {
                c >> 1
            }
        })
    })
}

/// Runs `capture` in at most 400 MB of address space: 200 million pixels want 600 MB in their smallest form.
#[cfg(unix)]
fn captured_in_little_memory(path: &Path) -> Run {
    let script = "ulimit -v 400000 && exec \"$0\" capture \"$1\" --json";
    let done = std::process::Command::new("sh")
        .args(["-c", script, env!("CARGO_BIN_EXE_setapart")])
        .arg(path)
        .output()
        .unwrap();
    Run {
        status: done.status.code(),
        out: String::from_utf8(done.stdout).unwrap(),
        err: String::from_utf8(done.stderr).unwrap(),
    }
}

#[cfg(unix)]
#[test]
fn headers_of_more_pixels_than_allowed_are_refused_before_memory_is_taken() {
    let folder = folder("headers_of_more_pixels_than_allowed");
    for (width, height) in [(65_535, 65_535), (20_000, 10_000)] {
        for (name, bytes) in one_of_each() {
            let path = folder.join(name);
            fs::write(&path, with_size(name, &bytes, width, height)).unwrap();
            let size = format!("{width} x {height}");
            captured_in_little_memory(&path).is_refused_with(&[name, &size, "too large"]);
        }
    }
}

fn studio() -> RgbImage {
    image::open(data("studio/window.jpg")).unwrap().to_rgb8()
}

fn saved(folder: &Path, name: &str, picture: &RgbImage) -> PathBuf {
    let path = folder.join(name);
    picture.save(&path).unwrap();
    path
}

fn on_studio_sheet(path: &Path, more: &[&str]) -> Run {
    let sheet = data("studio/test_sheet.json");
    let sheet = sheet.to_str().unwrap();
    captured(path, &[&["--sheet", sheet], more].concat())
}

#[test]
fn a_sheet_seen_in_a_mirror_is_refused_as_such() {
    let folder = folder("a_sheet_seen_in_a_mirror");
    let mirrored = image::imageops::flip_horizontal(&studio());
    on_studio_sheet(&saved(&folder, "mirrored.jpg", &mirrored), &[])
        .is_refused_with(&["mirrored.jpg", "mirror"]);
}

/// The photo shows the sheet's left half only. Tags enough are seen for the camera; parts that the photo's edge cuts
/// must not pass for whole ones.
#[test]
fn half_a_sheet_is_refused_or_what_is_cut_is_a_stop() {
    let folder = folder("half_a_sheet");
    let whole = studio();
    let (w, h) = whole.dimensions();
    let half = image::imageops::crop_imm(&whole, 0, 0, w / 2, h).to_image();
    let run = on_studio_sheet(&saved(&folder, "half.jpg", &half), &[]);
    assert!(!run.err.contains("panicked"), "{}", run.err);
    if run.status == Some(2) {
        run.is_refused_with(&["half.jpg"]);
        return;
    }
    assert_eq!(run.status, Some(1), "{}\n{}", run.out, run.err);
    let told = run.json();
    let stops = told["findings"].as_array().unwrap();
    assert!(
        stops.iter().any(|f| f["code"] == "capture.over-edge"),
        "{told}"
    );
}

#[test]
fn strokes_outside_the_field_are_told_and_change_nothing() {
    let folder = folder("strokes_outside_the_field");
    let file = folder.join("strokes.json");
    fs::write(
        &file,
        r#"{"strokes": [{"kind": "include", "width_mm": 3, "points_mm": [[-60, 400], [-20, 380]]},
            {"kind": "split", "points_mm": [[1000, 1000], [1200, 1000]]},
            {"kind": "exclude", "points_mm": [[4999, -4999]]}]}"#,
    )
    .unwrap();
    let photo = data("studio/window.jpg");
    let plain = on_studio_sheet(&photo, &[]).json();
    let drawn = on_studio_sheet(&photo, &["--strokes", file.to_str().unwrap()]);
    assert_eq!(drawn.status, Some(0), "{}", drawn.err);
    let drawn = drawn.json();
    assert!(
        plain["captures"] == drawn["captures"],
        "the outlines are others"
    );
    let told: Vec<&str> = drawn["findings"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|f| f["code"] == "capture.stroke-outside")
        .map(|f| f["text"].as_str().unwrap())
        .collect();
    assert_eq!(told.len(), 3, "{told:?}");
    assert!(told[1].contains("1000, 1000"), "{told:?}");
}
