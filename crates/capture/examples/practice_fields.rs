//! Writes the fields of photos as the eye sees them, to teach it with.
//!
//! `practice_fields --sheet SHEET.json --out DIR IMAGE...`: for each photo DIR/NAME.field, three little-endian
//! 16-bit numbers a cell (4096 to 1), and DIR/NAME.field.json. Photos of our own sheets are told by their ids.
#![allow(clippy::print_stdout)]

use capture::photo::{Limits, Photo};
use capture::sheet::Sheet;
use capture::{PracticeField, practice_field};
use std::error::Error;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [a, sheet, b, out, images @ ..] = &words[..] else {
        return Err("give --sheet FILE --out DIR IMAGE...".into());
    };
    if a != "--sheet" || b != "--out" {
        return Err("give --sheet FILE --out DIR IMAGE...".into());
    }
    let sheet = Sheet::from_json(&std::fs::read(sheet)?)?;
    for image in images {
        let photo = Photo::decode(&std::fs::read(image)?, &Limits::default())?;
        let field = practice_field(&photo, None).or_else(|| practice_field(&photo, Some(&sheet)));
        match field {
            Some(field) => write(&field, Path::new(out), Path::new(image))?,
            None => println!("{image}: no sheet or no paper seen"),
        }
    }
    Ok(())
}

fn write(field: &PracticeField, out: &Path, image: &Path) -> Result<(), Box<dyn Error>> {
    let name = image
        .file_stem()
        .ok_or("no name")?
        .to_string_lossy()
        .into_owned();
    let number = |v: f32| ((v * 4096.0).round().clamp(-32768.0, 32767.0) as i16).to_le_bytes();
    let bytes: Vec<u8> = field
        .log
        .iter()
        .flatten()
        .flat_map(|v| number(*v))
        .collect();
    std::fs::write(out.join(format!("{name}.field")), bytes)?;
    std::fs::write(
        out.join(format!("{name}.inside")),
        field
            .inside
            .iter()
            .map(|v| u8::from(*v))
            .collect::<Vec<u8>>(),
    )?;
    let about = serde_json::json!({"width": field.width, "height": field.height, "cell_px": field.cell_px,
        "origin": field.origin, "cells_per_mm": field.cells_per_mm,
        "lean": field.lean, "ground_light": field.ground_light});
    std::fs::write(out.join(format!("{name}.field.json")), about.to_string())?;
    println!("{name}: {about}");
    Ok(())
}
