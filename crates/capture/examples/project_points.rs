//! Carries points through cameras, both ways, as JSON, for checks by other programs.
//!
//! Standard input: `{"cameras": [{"focal_px", "centre_px": [x, y], "k1", "k2", "rotation": [[...]; 3],
//! "translation_mm": [x, y, z], "over_mm": [[x, y, z], ...], "in_photo_px": [[x, y], ...]}]}`. For each camera come
//! `projected_px` and `on_sheet_mm`, `null` where there is none.
#![allow(clippy::print_stdout)]

use capture::camera::{Camera, SheetPoint3};
use capture::photo::PhotoPoint;
use serde::Deserialize;
use serde_json::{Value, json};
use std::error::Error;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Asked {
    cameras: Vec<One>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct One {
    focal_px: f64,
    centre_px: [f64; 2],
    k1: f64,
    k2: f64,
    rotation: [[f64; 3]; 3],
    translation_mm: [f64; 3],
    over_mm: Vec<[f64; 3]>,
    in_photo_px: Vec<[f64; 2]>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let asked: Asked = serde_json::from_reader(std::io::stdin().lock())?;
    let told: Vec<Value> = asked.cameras.iter().map(One::carried).collect();
    println!("{}", json!({ "cameras": told }));
    Ok(())
}

impl One {
    fn carried(&self) -> Value {
        let camera = Camera {
            focal_px: self.focal_px,
            centre_px: PhotoPoint::new(self.centre_px[0], self.centre_px[1]),
            k1: self.k1,
            k2: self.k2,
            rotation: self.rotation,
            translation_mm: self.translation_mm,
        };
        let projected = self.over_mm.iter().map(|&[x, y, z]| {
            let seen = camera.project(SheetPoint3::new(x, y, z));
            seen.map(|p| [p.x, p.y])
        });
        let on_sheet = self.in_photo_px.iter().map(|&[x, y]| {
            let hit = camera.sheet_from_photo(PhotoPoint::new(x, y), 0.0);
            hit.map(|p| [p.x, p.y])
        });
        json!({
            "projected_px": projected.collect::<Vec<_>>(),
            "on_sheet_mm": on_sheet.collect::<Vec<_>>(),
        })
    }
}
