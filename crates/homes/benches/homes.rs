//! How long one inside photo takes, from its pixels to all parts looked for. Prints the best of some runs as JSON.
//!
//! `cargo bench -p homes -- front|back PIECE.json PHOTO`: a piece with its cut-outs, as `reference/homes/pieces.py` makes it. For
//! other counts of parts, those of the piece are repeated or left out.
#![allow(clippy::print_stdout)]

#[path = "../examples/reading/mod.rs"]
mod reading;

use capture::Knowledge;
use capture::photo::{Limits, Photo};
use homes::{InsidePhoto, Side, look};
use reading::parts_of;
use shape::Silent;
use std::time::Instant;

const RUNS: usize = 3;
const COUNTS: [usize; 3] = [10, 20, 40];

fn main() {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|w| w != "--bench")
        .collect();
    let [side, piece, photo] = words.as_slice() else {
        println!("{{\"note\": \"give front|back PIECE.json PHOTO\"}}");
        return;
    };
    let side = if side == "back" {
        Side::Back
    } else {
        Side::Front
    };
    let (_, parts) = parts_of(piece.as_ref());
    let bytes = std::fs::read(photo).expect("a photo");
    for count in COUNTS {
        let asked: Vec<_> = parts.iter().cycle().take(count).cloned().collect();
        let best = (0..RUNS)
            .map(|_| {
                let start = Instant::now();
                let photo = Photo::decode(&bytes, &Limits::default()).expect("a photo");
                let inside = InsidePhoto {
                    photo: &photo,
                    stage: 0,
                };
                look(&asked, side, &inside, &Knowledge::default(), &Silent).expect("a look");
                start.elapsed().as_secs_f64()
            })
            .fold(f64::INFINITY, f64::min);
        println!("{{\"parts\": {count}, \"seconds\": {best:.3}}}");
    }
}
