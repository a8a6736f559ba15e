//! Times arranging on invented devices and prints a table; one thread.
//!
//! `cargo bench -p arrange`

#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a table for people"
)]

#[path = "../tests/devices/mod.rs"]
mod devices;

use arrange::{Options, arrange};
use piece::Piece;
use std::time::Instant;

fn main() {
    time_arranging();
    time_forty();
    time_moving();
}

/// Asks for a stop as soon as it is asked: what is returned then is the first layout.
struct AtOnce;

impl shape::Watch for AtOnce {
    fn step(&self, _: &str, _: f64) -> Result<(), shape::Cancelled> {
        Err(shape::Cancelled)
    }
}

/// 40 parts exploded: the first layout that keeps all rules, and the final one.
fn time_forty() {
    let piece = devices::generated(40, 40, devices::frame(500.0, 600.0));
    let time = |watch: &dyn shape::Watch| {
        let start = Instant::now();
        let arranged = arrange(&piece, &Options::default(), watch).unwrap();
        let seconds = start.elapsed().as_secs_f64();
        (
            seconds,
            devices::faults(&devices::laid_out(&piece, arranged)).len(),
        )
    };
    let (first, bad_first) = time(&AtOnce);
    let (last, bad_last) = time(&shape::Silent);
    println!(
        "40 parts: first layout {first:.3} s ({bad_first} findings), final {last:.3} s ({bad_last})"
    );
}

/// A part of 200 points moved among 79 others of 200 points each.
fn time_moving() {
    const POINTS: usize = 200;
    let mut piece = Piece::new("Page", devices::frame(700.0, 900.0));
    for k in 0..80 {
        let wave = |a: f64| 1.0 + 0.15 * (5.0 * a + k as f64).sin();
        let ring = (0..POINTS)
            .map(|i| {
                let a = std::f64::consts::TAU * i as f64 / POINTS as f64;
                shape::Point::new(17.0 * wave(a) * a.cos(), 17.0 * wave(a) * a.sin())
            })
            .collect();
        let outline = shape::Outline::try_new(ring, vec![]).unwrap();
        let id = format!("p{k}");
        let part = devices::part(&id, &id, piece::PartKind::Other, 0, &outline);
        piece.placements.push(piece::Placement {
            part: part.id.clone(),
            x: 75.0 * (k % 9) as f64,
            y: 75.0 * (k / 9) as f64,
            turn_deg: 0.0,
            pinned: false,
        });
        piece.parts.push(part);
    }
    let moving = arrange::MovingPart::new(&piece, &piece.parts[40].id).unwrap();
    let poses: Vec<shape::Pose> = (0..2_000)
        .map(|k| {
            let t = f64::from(k) / 2_000.0;
            shape::Pose::new(
                620.0 * t,
                540.0 * (1.0 - t) + 60.0 * (40.0 * t).sin(),
                360.0 * t,
            )
        })
        .collect();
    let mut worst = 0.0_f64;
    let (mut sum, start) = (0.0, Instant::now());
    for pose in &poses {
        let one = Instant::now();
        sum += moving.nearest(*pose).unwrap().1;
        worst = worst.max(one.elapsed().as_secs_f64());
    }
    let mean = start.elapsed().as_secs_f64() / poses.len() as f64;
    println!(
        "moving part, 80 parts of {POINTS} points: mean {:.4} ms, worst {:.4} ms (asked: 0.5); mean clearance {:.2} mm",
        1e3 * mean,
        1e3 * worst,
        sum / poses.len() as f64
    );
}

fn time_arranging() {
    println!("parts  frame mm   room      total s  stops+fixes  score");
    for (n, w, h) in [
        (8, 300.0, 400.0),
        (12, 300.0, 400.0),
        (20, 400.0, 500.0),
        (30, 400.0, 500.0),
        (40, 500.0, 600.0),
        (60, 600.0, 800.0),
        (80, 700.0, 900.0),
    ] {
        let piece = devices::generated(n as u64, n, devices::frame(w, h));
        let start = Instant::now();
        match arrange(&piece, &Options::default(), &shape::Silent) {
            Ok(arranged) => {
                let seconds = start.elapsed().as_secs_f64();
                let room = format!("{:?}", arranged.room);
                let score = arranged.score.total(&arrange::WEIGHTS);
                let bad = devices::faults(&devices::laid_out(&piece, arranged)).len();
                println!("{n:5}  {w:.0} x {h:.0}  {room:8}  {seconds:7.3}  {bad:11}  {score:.3}");
            }
            Err(error) => println!(
                "{n:5}  {w:.0} x {h:.0}  {:.3} s: {error}",
                start.elapsed().as_secs_f64()
            ),
        }
    }
}
