//! Prints the tags and the camera of photos as JSON, for checks by other programs.
//!
//! `dump_tags --sheet SHEET.json IMAGE...`; without `--sheet`, ours is recognised.
#![allow(clippy::print_stdout)]

use capture::camera::{Solved, View, solve};
use capture::photo::{Limits, Photo};
use capture::sheet::Sheet;
use capture::tags::{DetectedTag, detect};
use serde_json::{Value, json};
use std::error::Error;
use std::time::Instant;

fn main() -> Result<(), Box<dyn Error>> {
    let mut words: Vec<String> = std::env::args().skip(1).collect();
    let mut sheet = None;
    if let [flag, file, ..] = &words[..]
        && flag == "--sheet"
    {
        sheet = Some(Sheet::from_json(&std::fs::read(file)?)?);
        words.drain(..2);
    }
    let photos: Vec<Value> = words
        .iter()
        .map(|image| dump(image, sheet.as_ref()))
        .collect::<Result<_, _>>()?;
    println!("{:#}", json!({ "photos": photos }));
    Ok(())
}

fn dump(image: &str, sheet: Option<&Sheet>) -> Result<Value, Box<dyn Error>> {
    let bytes = std::fs::read(image)?;
    let started = Instant::now();
    let photo = Photo::decode(&bytes, &Limits::default())?;
    let decoded = Instant::now();
    let seen = detect(&photo.linear_luma());
    let detected = Instant::now();
    let solved = solve(&seen, sheet, &View::of(&photo))?;
    Ok(json!({
        "image": image,
        "size_px": photo.size_px(),
        "decode_ms": (decoded - started).as_secs_f64() * 1e3,
        "detect_ms": (detected - decoded).as_secs_f64() * 1e3,
        "solve_ms": detected.elapsed().as_secs_f64() * 1e3,
        "tags": tags(&seen.tags),
        "tags_after_camera": tags(&solved.tags),
        "camera": camera(&solved),
    }))
}

fn tags(tags: &[DetectedTag]) -> Vec<Value> {
    let one = |t: &DetectedTag| {
        json!({
            "id": t.id,
            "corners_px": t.corners_in_photo.map(|p| [p.x, p.y]),
            "hamming": t.hamming,
            "sigma_px": t.corner_sigma_px,
            "rise_px": t.rise_px,
        })
    };
    tags.iter().map(one).collect()
}

fn camera(s: &Solved) -> Value {
    let (c, nadir) = (&s.camera, s.camera.nadir());
    json!({
        "height_mm": c.height_mm(),
        "nadir_mm": [nadir.x, nadir.y],
        "focal_px": c.focal_px,
        "k1": c.k1,
        "k2": c.k2,
        "corner_rms_px": s.corner_rms_px,
        "corner_rms_mm": s.corner_rms_mm,
        "focal_sigma_px": s.focal_sigma_px,
        "height_sigma_mm": s.height_sigma_mm,
        "edge_shift_px": s.edge_shift_px,
        "rise_px": s.rise_px,
        "warnings": s.warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
    })
}
