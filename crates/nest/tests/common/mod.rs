//! Outlines and checks that the tests share.

#![allow(dead_code, reason = "each test file uses its own share")]

use nest::{Item, Placement, Turns};
use shape::{Bounds, Outline, Point, clearance_mm, intersection_area_mm2};

/// An outline without holes.
pub fn outline(points: &[(f64, f64)]) -> Outline {
    Outline::try_new(
        points.iter().map(|&(x, y)| Point::new(x, y)).collect(),
        vec![],
    )
    .expect("a valid outline")
}

/// A rectangle with its lower-left corner at the origin.
pub fn rectangle(w: f64, h: f64) -> Outline {
    outline(&[(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)])
}

/// An L of two arms, `arm` wide.
pub fn angle(w: f64, h: f64, arm: f64) -> Outline {
    outline(&[
        (0.0, 0.0),
        (w, 0.0),
        (w, arm),
        (arm, arm),
        (arm, h),
        (0.0, h),
    ])
}

/// A square frame with a square hole in its middle.
pub fn frame(side: f64, hole: f64) -> Outline {
    let a = (side - hole) / 2.0;
    let b = a + hole;
    Outline::try_new(
        [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
            .map(|(x, y)| Point::new(x, y))
            .to_vec(),
        vec![
            [(a, a), (b, a), (b, b), (a, b)]
                .map(|(x, y)| Point::new(x, y))
                .to_vec(),
        ],
    )
    .expect("a valid outline")
}

/// A star-shaped outline from distances at even angles about its middle.
pub fn star(radii: &[f64]) -> Outline {
    let n = radii.len() as f64;
    let points: Vec<Point> = radii
        .iter()
        .enumerate()
        .map(|(k, r)| {
            let t = k as f64 * std::f64::consts::TAU / n;
            Point::new(r * t.cos(), r * t.sin())
        })
        .collect();
    Outline::try_new(points, vec![]).expect("a star is a valid outline")
}

/// An item.
pub fn item(outline: Outline, demand: usize, turns: Turns) -> Item {
    Item {
        outline,
        demand,
        turns,
    }
}

/// The placed outlines.
pub fn placed(items: &[Item], placements: &[Placement]) -> Vec<Outline> {
    placements
        .iter()
        .map(|p| items[p.item].outline.placed(p.strip_from_item))
        .collect()
}

/// Every copy is there once, in a turn that is allowed, inside the field by `edge_mm`, at least `gap_mm` from the others.
/// Truth: `shape`'s edge trees and overlays on the outlines as given, which the search does not use.
pub fn is_sound(
    items: &[Item],
    placements: &[Placement],
    [width_mm, height_mm]: [f64; 2],
    gap_mm: f64,
    edge_mm: f64,
) {
    for (k, item) in items.iter().enumerate() {
        let count = placements.iter().filter(|p| p.item == k).count();
        assert_eq!(count, item.demand, "item {k}");
    }
    for p in placements {
        if let Turns::Listed(list) = &items[p.item].turns {
            let turn = p.strip_from_item.turn_deg;
            assert!(
                list.iter().any(|t| (t - turn)
                    .rem_euclid(360.0)
                    .min((turn - t).rem_euclid(360.0))
                    < 1e-6),
                "turn {turn}"
            );
        }
    }
    let field = Bounds::between(
        Point::new(edge_mm, edge_mm),
        Point::new(width_mm - edge_mm, height_mm - edge_mm),
    )
    .grown(1e-9 * width_mm.max(height_mm));
    let outlines = placed(items, placements);
    for (i, a) in outlines.iter().enumerate() {
        assert!(field.holds(a.bounds()), "piece {i}: {:?}", a.bounds());
        for (j, b) in outlines.iter().enumerate().skip(i + 1) {
            if gap_mm > 0.0 {
                assert!(clearance_mm(a, b) >= gap_mm, "pieces {i} and {j}");
            } else {
                let shared = intersection_area_mm2(a, b);
                assert!(shared < 1e-5, "pieces {i} and {j} share {shared} mm2");
            }
        }
    }
}
