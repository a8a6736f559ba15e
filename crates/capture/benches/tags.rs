//! How long a 12-megapixel photo takes from bytes to camera. Prints the best and the middle of some runs.
//!
//! `cargo bench -p capture --bench tags`
#![allow(clippy::print_stdout)]

mod peak_memory;

use capture::camera::{View, solve};
use capture::photo::{Limits, Photo};
use capture::sheet::Sheet;
use capture::tags::detect;
use peak_memory::peak_memory;
use std::time::Instant;

const RUNS: usize = 15;

fn main() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/data/studio/");
    let read = |name: &str| std::fs::read(format!("{folder}{name}")).expect("a studio file");
    let sheet = Sheet::from_json(&read("test_sheet.json")).expect("the test sheet");
    println!("best and middle of {RUNS} runs, ms");
    println!("photo     decode        linear light  tags          camera        without decoding");
    for scene in ["window", "lamps", "ceiling", "harsh"] {
        let bytes = read(&format!("{scene}.jpg"));
        let runs: Vec<[f64; 5]> = (0..RUNS).map(|_| stages(&bytes, &sheet)).collect();
        let columns: Vec<String> = (0..5)
            .map(|stage| {
                let mut ms: Vec<f64> = runs.iter().map(|r| r[stage]).collect();
                ms.sort_by(f64::total_cmp);
                format!("{:5.1} {:5.1}  ", ms[0], ms[RUNS / 2])
            })
            .collect();
        println!("{scene:9} {}", columns.join(" "));
    }
    if let Some(peak) = peak_memory() {
        println!("peak memory {peak}");
    }
}

fn stages(bytes: &[u8], sheet: &Sheet) -> [f64; 5] {
    let mut marks = vec![Instant::now()];
    let photo = Photo::decode(bytes, &Limits::default()).expect("a sound photo");
    marks.push(Instant::now());
    let luma = photo.linear_luma();
    marks.push(Instant::now());
    let seen = detect(&luma);
    marks.push(Instant::now());
    let solved = solve(&seen, Some(sheet), &View::of(&photo)).expect("a camera");
    marks.push(Instant::now());
    assert_eq!(solved.tags.len(), sheet.tags.len());
    let ms = |a: usize, b: usize| (marks[b] - marks[a]).as_secs_f64() * 1e3;
    [ms(0, 1), ms(1, 2), ms(2, 3), ms(3, 4), ms(1, 4)]
}
