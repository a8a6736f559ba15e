//! Figures given by formulas, so that other programs can be asked about the very same ones.

#![allow(
    dead_code,
    unused_imports,
    clippy::unwrap_used,
    reason = "each user takes what it needs; the figures are known to be good"
)]

mod slowly;

use shape::{Outline, Point, Random};
pub use slowly::slowly;

/// Points of r(t) = r + a cos(k t + phase) about (cx, cy), at `n` equal steps of t.
pub fn flower_ring(
    (cx, cy): (f64, f64),
    (r, a, k): (f64, f64, f64),
    n: usize,
    phase: f64,
) -> Vec<Point> {
    (0..n)
        .map(|i| {
            let t = 2.0 * std::f64::consts::PI * i as f64 / n as f64;
            let radius = r + a * (k * t + phase).cos();
            Point::new(cx + radius * t.cos(), cy + radius * t.sin())
        })
        .collect()
}

pub fn flower(c: (f64, f64), form: (f64, f64, f64), n: usize, phase: f64) -> Outline {
    Outline::try_new(flower_ring(c, form, n, phase), vec![]).unwrap()
}

/// A: five petals, with a hole of three.
pub fn a_with_hole() -> Outline {
    Outline::try_new(
        flower_ring((0.0, 0.0), (20.0, 5.0, 5.0), 240, 0.0),
        vec![flower_ring((1.0, 2.0), (9.0, 2.0, 3.0), 60, 0.0)],
    )
    .unwrap()
}

pub fn b() -> Outline {
    flower((30.0, 8.0), (18.0, 4.0, 7.0), 240, 0.5)
}

pub fn c() -> Outline {
    flower((60.0, -11.0), (12.0, 3.0, 4.0), 240, 0.0)
}

pub fn disc(cx: f64, cy: f64, r: f64, n: usize) -> Outline {
    flower((cx, cy), (r, 0.0, 0.0), n, 0.0)
}

pub fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Outline {
    Outline::rectangle(Point::new(x, y), Point::new(x + w, y + h)).unwrap()
}

/// A corner piece: 40 x 30 with a bite of 20 x 15 out of its upper right.
pub fn corner_piece() -> Outline {
    let ring = [
        (0.0, 0.0),
        (40.0, 0.0),
        (40.0, 15.0),
        (20.0, 15.0),
        (20.0, 30.0),
        (0.0, 30.0),
    ];
    Outline::try_new(ring.map(|(x, y)| Point::new(x, y)).to_vec(), vec![]).unwrap()
}

/// A star-shaped outline of random radii about (cx, cy), sometimes with a hole.
pub fn random_star(dice: &mut Random, cx: f64, cy: f64, r: f64) -> Outline {
    let n = 3 + (dice.share() * 30.0) as usize;
    let ring = (0..n)
        .map(|i| {
            let t = 2.0 * std::f64::consts::PI * i as f64 / n as f64;
            let radius = r * dice.between(0.5, 1.0);
            Point::new(cx + radius * t.cos(), cy + radius * t.sin())
        })
        .collect();
    let hole = (n > 5 && dice.share() < 0.5)
        .then(|| flower_ring((cx, cy), (0.2 * r, 0.05 * r, 3.0), 24, 0.0));
    Outline::try_new(ring, hole.into_iter().collect()).unwrap()
}
