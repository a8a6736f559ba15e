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

use arrange::{Options, arrange, check};
use piece::Level;
use std::time::Instant;

fn main() {
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
        let mut piece = devices::generated(n as u64, n, devices::frame(w, h));
        let start = Instant::now();
        match arrange(&piece, &Options::default(), &shape::Silent) {
            Ok(arranged) => {
                let seconds = start.elapsed().as_secs_f64();
                piece.placements = arranged.placements;
                piece.captions = arranged.captions;
                let bad = check(&piece)
                    .iter()
                    .filter(|f| f.level != Level::Note)
                    .count();
                println!(
                    "{n:5}  {w:.0} x {h:.0}  {:8}  {seconds:7.3}  {bad:11}  {:.3}",
                    format!("{:?}", arranged.room),
                    arranged.score.total()
                );
            }
            Err(error) => println!(
                "{n:5}  {w:.0} x {h:.0}  {:.3} s: {error}",
                start.elapsed().as_secs_f64()
            ),
        }
    }
}
