//! How long a plan takes: `cargo bench -p mount`.

#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs)]

#[path = "../tests/common/mod.rs"]
mod common;

use common::{catalogue, disc, part, piece, shell};
use mount::{BeadRule, Element, Group, foam_stack, lay_beads};
use piece::{Part, PartKind};
use shape::{Outline, Point, Silent, Vector};
use std::hint::black_box;
use std::time::Instant;

/// Median of several runs, seconds.
fn median(runs: usize, mut work: impl FnMut()) -> f64 {
    let mut times: Vec<f64> = (0..runs)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[runs / 2]
}

/// A disc with waves, of 240 points, as captured outlines have them.
fn wavy(r: f64) -> Outline {
    let ring = (0..240)
        .map(|k| {
            let turn = f64::from(k) * std::f64::consts::TAU / 240.0;
            let at = r * (1.0 + 0.12 * (3.0 * turn).cos() + 0.06 * (7.0 * turn).sin());
            Point::new(r * 1.2 + at * turn.cos(), r * 1.2 + at * turn.sin())
        })
        .collect();
    Outline::try_new(ring, vec![]).unwrap().at_origin().0
}

/// Parts of three kinds in turn.
fn parts(n: usize) -> Vec<Part> {
    let faces = ["abs", "fr4", "stainless", "polyimide", "glass"];
    (0..n)
        .map(|k| {
            let mut p = match k % 3 {
                0 => shell(),
                1 => part(
                    "p",
                    PartKind::Board,
                    wavy(14.0 + (k % 7) as f64),
                    4.0,
                    9.0,
                    faces[k % 5],
                ),
                _ => part(
                    "p",
                    PartKind::Screw,
                    disc(2.5, 2.5, 2.5),
                    2.2,
                    0.6,
                    "stainless",
                ),
            };
            p.id = common::id(&format!("p{k}"));
            p
        })
        .collect()
}

fn main() {
    let c = catalogue();
    for n in [10, 20, 40, 80] {
        let p = piece(parts(n));
        let seconds = median(3, || {
            black_box(mount::plan(&p, &c, &Silent).unwrap());
        });
        println!("plan of {n} parts: {:.0} ms", 1000.0 * seconds);
    }
    let face = wavy(30.0);
    let rule = BeadRule {
        spread_mm: 7.07,
        margin_mm: 1.0,
        pitch_mm: 20.0,
        vent_mm: 8.0,
        up_deg: 12.0,
    };
    let seconds = median(21, || {
        black_box(lay_beads(&face, &rule));
    });
    println!(
        "beads under a face of 240 points: {:.2} ms",
        1000.0 * seconds
    );
    let strips: Vec<Element> = face
        .outer()
        .sides()
        .map(|(from, to)| Element::Strip {
            from,
            to,
            width_mm: 7.0,
        })
        .collect();
    let seconds = median(101, || {
        let g = Group::try_new(strips.clone()).unwrap();
        black_box(g.greatest_shear_mpa(Vector::new(0.0, -1.0), Point::new(0.0, 0.0)));
    });
    println!("stress in 240 strips: {:.3} ms", 1000.0 * seconds);
    let stock: Vec<f64> = vec![0.8, 1.6, 3.2, 4.8, 6.4, 12.7, 25.4, 38.1, 50.8];
    let seconds = median(101, || {
        black_box(foam_stack(&stock, 83.3, 0.1));
    });
    println!("foam stack of 83.3 mm: {:.3} ms", 1000.0 * seconds);
}
