//! Lays out an invented device, or a piece document, and writes the board as SVG, to look at.
//!
//! `cargo run --release -p arrange --example lay_out -- OUT.svg W H [right|left|up|down] [N SEED]`, or
//! with `PIECE.json` in place of W and H.

#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a tool for the bench"
)]

#[path = "../tests/devices/mod.rs"]
mod devices;
#[path = "../tests/devices/picture.rs"]
mod picture;

use arrange::{Options, arrange, check};
use piece::{Piece, Spread};

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let number = |k: usize| args.get(k).and_then(|a| a.parse::<f64>().ok());
    let mut piece = match (number(1), number(2)) {
        (Some(w), Some(h)) => match (number(4), number(5)) {
            (Some(n), Some(seed)) => {
                devices::generated(seed as u64, n as usize, devices::frame(w, h))
            }
            _ => devices::recorder(devices::frame(w, h)),
        },
        _ => Piece::from_json(&std::fs::read(&args[1]).unwrap()).unwrap(),
    };
    piece.layout.spread = match args.get(3).map(String::as_str) {
        Some("left") => Spread::Left,
        Some("up") => Spread::Up,
        Some("down") => Spread::Down,
        _ => Spread::Right,
    };
    if args.iter().any(|a| a == "choose") {
        let start = std::time::Instant::now();
        let chosen = arrange::choose_frame(
            &piece,
            &arrange::STOCK_SIZES,
            &Options::default(),
            &arrange::RealFont,
            &shape::Silent,
        )
        .unwrap();
        if let Some((frame, _)) = chosen {
            println!(
                "frame {:?} in {:.2} s",
                frame.size_mm,
                start.elapsed().as_secs_f64()
            );
            piece.frame = frame;
        }
    }
    let start = std::time::Instant::now();
    let seed = args
        .iter()
        .find_map(|a| a.strip_prefix("seed=")?.parse().ok());
    let steps = args
        .iter()
        .find_map(|a| a.strip_prefix("steps=")?.parse().ok());
    let usual = Options::default();
    let options = Options {
        seed: seed.unwrap_or(usual.seed),
        steps: steps.unwrap_or(usual.steps),
        ..usual
    };
    match arrange(&piece, &options, &shape::Silent) {
        Err(error) => println!("{error}"),
        Ok(arranged) => {
            println!(
                "{:?} in {} bands, {} shared stations, {:.0} ms, total {:.3}",
                arranged.room,
                arranged.bands,
                arranged.shared_stations,
                start.elapsed().as_secs_f64() * 1e3,
                arranged.score.total(&options.weights)
            );
            for (name, value, weight) in arranged.score.terms(&options.weights) {
                print!("{name} {value:.3} x {weight}  ");
            }
            println!();
            piece.placements = arranged.placements;
            piece.captions = arranged.captions;
        }
    }
    for f in check(&piece) {
        println!("{:?} {} {}", f.level, f.code, f.text);
    }
    std::fs::write(&args[0], picture::svg(&piece)).unwrap();
}
