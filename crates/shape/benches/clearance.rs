//! Times distances between two outlines of 240 points and prints a table; one thread.
//!
//! `cargo bench -p shape`

#![allow(clippy::print_stdout, reason = "a table for people")]

#[path = "../tests/figures/mod.rs"]
mod figures;

use figures::{b, c, flower};
use shape::{EdgeTree, Pose};
use std::hint::black_box;
use std::time::Instant;

fn main() {
    let (b, c) = (EdgeTree::new(b()), EdgeTree::new(c()));
    let a = EdgeTree::new(flower((0.0, 0.0), (20.0, 5.0, 5.0), 240, 0.0));
    println!("query                                us each  answer mm");
    for (name, one, other, cap_mm) in [
        ("2 mm apart, exact", &b, &c, f64::INFINITY),
        ("2 mm apart, capped at 3 mm", &b, &c, 3.0),
        ("22 mm apart, exact", &a, &c, f64::INFINITY),
        ("22 mm apart, capped at 3 mm", &a, &c, 3.0),
        ("overlapping, exact", &a, &b, f64::INFINITY),
    ] {
        let rounds = 20_000;
        let start = Instant::now();
        let mut answer = 0.0;
        for _ in 0..rounds {
            answer = black_box(one).clearance_mm(black_box(other), black_box(cap_mm));
        }
        let each = start.elapsed().as_secs_f64() * 1e6 / f64::from(rounds);
        println!("{name:35} {each:8.2}  {answer:.4}");
    }
    let rounds = 20_000;
    let start = Instant::now();
    for k in 0..rounds {
        black_box(a.placed(Pose::new(f64::from(k) * 1e-3, 0.0, 0.0)));
    }
    let each = start.elapsed().as_secs_f64() * 1e6 / f64::from(rounds);
    println!("{:35} {each:8.2}", "a tree of 240 sides placed anew");
}
