//! How long photos take from bytes to outlines, by stage. Prints the best of some runs as JSON, one line a photo.
//!
//! `cargo bench -p capture --bench capture -- SHEET.json PHOTO...`; without photos, those of `tests/data/studio`.
#![allow(clippy::print_stdout)]

mod peak_memory;

use capture::photo::{Limits, Photo};
use capture::sheet::Sheet;
use capture::{Knowledge, Stroke, StrokeKind, Study};
use peak_memory::peak_memory;
use std::sync::Mutex;
use std::time::Instant;

const RUNS: usize = 5;

/// Notes when each stage began.
struct Stages(Mutex<Vec<(String, Instant)>>);

impl shape::Watch for Stages {
    fn step(&self, what: &str, _share: f64) -> Result<(), shape::Cancelled> {
        if let Ok(mut stages) = self.0.lock() {
            stages.push((what.to_owned(), Instant::now()));
        }
        Ok(())
    }
}

fn main() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/data/studio/");
    let mut words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|w| w != "--bench")
        .collect();
    if words.is_empty() {
        words = [
            "test_sheet.json",
            "window.jpg",
            "lamps.jpg",
            "ceiling.jpg",
            "harsh.jpg",
        ]
        .map(|name| format!("{folder}{name}"))
        .to_vec();
    }
    let sheet = Sheet::from_json(&std::fs::read(&words[0]).expect("a sheet")).expect("a sheet");
    let knowledge = Knowledge {
        sheet: Some(sheet),
        thickness_mm: Some(1.0),
        ..Knowledge::default()
    };
    for path in &words[1..] {
        let bytes = std::fs::read(path).expect("a photo");
        let best = (0..RUNS)
            .map(|_| run(&bytes, &knowledge))
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .expect("runs");
        println!(
            "{{\"photo\": {path:?}, \"total_ms\": {:.1}, {}}}",
            best.0, best.1
        );
    }
    if let Some(peak) = peak_memory() {
        println!("{{\"peak_memory\": {peak:?}}}");
    }
}

fn run(bytes: &[u8], knowledge: &Knowledge) -> (f64, String) {
    let start = Instant::now();
    let photo = Photo::decode(bytes, &Limits::default()).expect("a sound photo");
    let decoded = Instant::now();
    let stages = Stages(Mutex::default());
    let mut study = Study::of(&photo, knowledge, &stages).expect("a study");
    let capture = study.capture(knowledge).expect("parts");
    let end = Instant::now();
    let ms = |a: Instant, b: Instant| (b - a).as_secs_f64() * 1e3;
    let mut text = format!(
        "\"parts\": {}, \"decode\": {:.1}",
        capture.parts.len(),
        ms(start, decoded)
    );
    let marks = stages.0.lock().expect("stages");
    for (k, (what, begun)) in marks.iter().enumerate() {
        let until = marks.get(k + 1).map_or(end, |m| m.1);
        text += &format!(", {what:?}: {:.1}", ms(*begun, until));
    }
    let total = ms(start, end);
    let centre = capture.parts[0].outline.bounds().centre();
    let stroke = Stroke {
        kind: StrokeKind::Exclude,
        width_mm: 2.0,
        points: vec![centre, centre + shape::Vector::new(3.0, 1.0)],
    };
    let drawn = Instant::now();
    study.guide(&[stroke]);
    study.capture(knowledge).ok();
    text += &format!(", \"a stroke\": {:.1}", ms(drawn, Instant::now()));
    (total, text)
}
