//! All places where the parts of a piece could be in one photo, one line of JSON each: what confidences are fitted on.
//!
//! `look front|back PIECE.json PHOTO`
#![allow(clippy::print_stdout)]

mod reading;

use capture::Knowledge;
use capture::photo::{Limits, Photo};
use homes::{InsidePhoto, Side, look};
use reading::parts_of;
use shape::Silent;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [side, piece, photo] = words.as_slice() else {
        panic!("look front|back PIECE.json PHOTO");
    };
    let side = if side == "back" {
        Side::Back
    } else {
        Side::Front
    };
    let (ids, parts) = parts_of(piece.as_ref());
    let bytes = std::fs::read(photo).expect("a photo");
    let photo = Photo::decode(&bytes, &Limits::default()).expect("a photo");
    let start = std::time::Instant::now();
    let inside = InsidePhoto {
        photo: &photo,
        stage: 0,
    };
    let seen = look(&parts, side, &inside, &Knowledge::default(), &Silent).expect("a look");
    let seconds = start.elapsed().as_secs_f64();
    for (id, places) in ids.iter().zip(seen) {
        for (rank, p) in places.into_iter().enumerate() {
            let line = serde_json::json!({
                "part": id, "rank": rank, "centre": [p.centre.x, p.centre.y], "turn_deg": p.turn_deg, "top_mm": p.top_mm,
                "features": p.features, "confidence": p.confidence, "seconds": seconds,
            });
            println!("{line}");
        }
    }
}
