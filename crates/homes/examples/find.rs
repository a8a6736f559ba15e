//! Homes of a piece's parts as JSON: `find front|back PIECE.json PHOTO@STAGE...`
#![allow(clippy::print_stdout)]

mod reading;

use capture::Knowledge;
use capture::photo::{Limits, Photo};
use homes::{InsidePhoto, Outcome, Side, find_homes};
use reading::parts_of;
use shape::Silent;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let side = if words[0] == "back" {
        Side::Back
    } else {
        Side::Front
    };
    let (ids, parts) = parts_of(words[1].as_ref());
    let photos: Vec<(Photo, u32)> = words[2..]
        .iter()
        .map(|w| {
            let (path, stage) = w.rsplit_once('@').expect("PHOTO@STAGE");
            let bytes = std::fs::read(path).expect("a photo");
            (
                Photo::decode(&bytes, &Limits::default()).expect("a photo"),
                stage.parse().expect("a stage"),
            )
        })
        .collect();
    let insides: Vec<InsidePhoto<'_>> = photos
        .iter()
        .map(|(photo, stage)| InsidePhoto {
            photo,
            stage: *stage,
        })
        .collect();
    let start = std::time::Instant::now();
    let found = find_homes(&parts, &insides, &Knowledge::default(), side, &Silent).expect("homes");
    println!(
        "seconds {:.2}, size {:.2?}",
        start.elapsed().as_secs_f64(),
        found.size_mm
    );
    for p in &found.photos {
        println!(
            "stage {}: turn {:.2} seen {} silhouettes {:.3} stranger {}",
            p.stage, p.sheet_from_device.turn_deg, p.parts_seen, p.silhouettes_agree, p.stranger
        );
    }
    for (id, outcome) in ids.iter().zip(&found.parts) {
        match outcome {
            Outcome::Found(p) => println!(
                "{}",
                serde_json::json!({
                    "part": id, "x": p.home.x, "y": p.home.y, "turn_deg": p.home.turn_deg, "layer": p.home.layer, "confidence": p.confidence,
                    "top_mm": p.top_mm, "top_sigma_mm": p.top_sigma_mm, "stages": p.stages, "whole_at": p.whole_at,
                    "hidden_by": p.hidden_by.iter().map(|&j| &ids[j]).collect::<Vec<_>>(), "alike": p.alike.iter().map(|&j| &ids[j]).collect::<Vec<_>>(),
                    "turns_alike": p.turns_alike, "front_is_back": p.front_is == Side::Back,
                })
            ),
            other => println!("{id}: {other:?}"),
        }
    }
}
