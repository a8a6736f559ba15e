//! Times the engine and prints a table.
//!
//! `cargo bench -p nest`
//!
//! One thread. `first` is the first layout with the no-fit regions that it needs; `us each` a step of the search after
//! it. The outlines are made here, so that no data are needed.

#![allow(clippy::print_stdout, reason = "a table for people")]

use nest::{Budget, Item, Spacing, Strip, Turns, fill_strip};
use shape::{Outline, Point, Silent};
use std::time::Instant;

/// A star-shaped outline with this many points; `seed` shapes it.
fn star(points: usize, seed: usize) -> Outline {
    let corners = (0..points)
        .map(|k| {
            let t = k as f64 * std::f64::consts::TAU / points as f64;
            let s = seed as f64;
            let r = 14.0 + 4.0 * (3.0 * t + s).sin() + 2.0 * (5.0 * t + 2.0 * s).cos();
            Point::new(r * t.cos(), (0.6 + 0.05 * (s % 8.0)) * r * t.sin())
        })
        .collect();
    Outline::try_new(corners, vec![]).expect("a star is a valid outline")
}

fn main() {
    let cases = [
        (
            "10 outlines of 24 points, 50 pieces, halves",
            10,
            24,
            5,
            Turns::Listed(vec![0.0, 180.0]),
        ),
        (
            "40 outlines of 24 points, 40 pieces, quarters",
            40,
            24,
            1,
            Turns::quarters(),
        ),
        (
            "40 outlines of 200 points, 40 pieces, quarters",
            40,
            200,
            1,
            Turns::quarters(),
        ),
        (
            "20 outlines of 200 points, 40 pieces, free",
            20,
            200,
            2,
            Turns::Free,
        ),
        (
            "10 outlines of 24 points, 500 pieces, halves",
            10,
            24,
            50,
            Turns::Listed(vec![0.0, 180.0]),
        ),
    ];
    println!(
        "{:50} {:>9} {:>9} {:>9} {:>9}",
        "case, one thread", "first, s", "steps", "us each", "density"
    );
    for (name, outlines, points, demand, turns) in cases {
        let items: Vec<Item> = (0..outlines)
            .map(|k| Item {
                outline: star(points, k),
                demand,
                turns: turns.clone(),
            })
            .collect();
        let strip = Strip::try_new(150.0, Spacing::default()).expect("a possible strip");
        let run = |steps: u64| {
            let start = Instant::now();
            let budget = Budget {
                steps,
                seed: 1,
                threads: 1,
            };
            let filled = fill_strip(&items, &strip, &budget, &Silent).expect("all fit");
            (start.elapsed().as_secs_f64(), filled)
        };
        let (first_s, _) = run(0);
        let steps = 10_000;
        let (all_s, filled) = run(steps);
        let each_us = (all_s - first_s) * 1e6 / steps as f64;
        println!(
            "{name:50} {first_s:9.3} {steps:9} {each_us:9.1} {:9.3}",
            filled.density
        );
    }
}
