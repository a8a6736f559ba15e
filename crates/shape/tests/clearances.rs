//! Distances between outlines, against every pair of sides and another library.
//!
//! Reference library: Shapely 2.2.0 (GEOS 3.14.1), asked about the same formulas in double precision.

#![allow(missing_docs, clippy::unwrap_used)]

mod figures;

use figures::{a_with_hole, b, c, corner_piece, disc, flower, random_star, rectangle};
use proptest::prelude::*;
use shape::{EdgeTree, Outline, Point, Pose, Random, Ring, clearance_mm, intersection_area_mm2};

fn tree(outline: &Outline) -> EdgeTree {
    EdgeTree::new(outline.clone())
}

#[track_caller]
fn assert_near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{found}, expected {expected} within {within}"
    );
}

#[test]
fn flowers_are_as_far_apart_as_shapely_finds() {
    let (a, b, c) = (a_with_hole(), b(), c());
    assert_near(clearance_mm(&a, &c), 22.105_604_712_461_354, 1e-9);
    assert_near(clearance_mm(&b, &c), 2.041_817_117_166_271_3, 1e-9);
    let turned = a.placed(Pose::new(7.5, -3.25, 33.0));
    assert_near(clearance_mm(&turned, &c), 17.502_611_499_480_317, 1e-9);
    assert_eq!(clearance_mm(&a, &b), 0.0);
}

/// A flower in the hole of A: 2 mm to the hole's edge by Shapely.
#[test]
fn a_part_in_a_hole_has_its_distance_to_the_holes_edge() {
    let inner = flower((1.0, 2.0), (4.0, 1.0, 6.0), 240, 0.0);
    assert_near(clearance_mm(&a_with_hole(), &inner), 2.0, 1e-9);
    assert_near(clearance_mm(&inner, &a_with_hole()), 2.0, 1e-9);
}

#[test]
fn a_part_inside_anothers_material_has_no_clearance() {
    let big = rectangle(0.0, 0.0, 50.0, 50.0);
    let small = rectangle(20.0, 20.0, 5.0, 5.0);
    assert_eq!(clearance_mm(&big, &small), 0.0);
    assert_eq!(clearance_mm(&small, &big), 0.0);
    assert_eq!(clearance_mm(&big, &big), 0.0);
}

/// By hand: sides, corners, and a corner in a notch.
#[test]
fn known_distances_are_exact() {
    let plate = rectangle(0.0, 0.0, 10.0, 10.0);
    assert_eq!(clearance_mm(&plate, &rectangle(14.0, 3.0, 2.0, 2.0)), 4.0);
    assert_eq!(clearance_mm(&plate, &rectangle(13.0, 14.0, 2.0, 2.0)), 5.0);
    assert_eq!(clearance_mm(&plate, &rectangle(10.0, 0.0, 2.0, 2.0)), 0.0);
    assert_eq!(
        clearance_mm(&corner_piece(), &rectangle(23.0, 19.0, 5.0, 5.0)),
        3.0
    );
}

#[test]
fn the_cap_is_answered_where_the_distance_is_that_or_more() {
    let (a, c) = (tree(&a_with_hole()), tree(&c()));
    assert_eq!(a.clearance_mm(&c, 3.0), 3.0);
    assert_eq!(a.clearance_mm(&c, 22.0), 22.0);
    assert_near(a.clearance_mm(&c, 23.0), 22.105_604_712_461_354, 1e-9);
}

/// Distance between two sides by dense sampling would be slow and rough; this is the other textbook
/// way: the least of the four end-to-side distances, or 0 where the sides cross.
fn distance_by_all_sides(a: &Outline, b: &Outline) -> f64 {
    let inside = |o: &Outline, p: Point| o.contains(p);
    if a.rings().flat_map(Ring::points).any(|p| inside(b, *p))
        || b.rings().flat_map(Ring::points).any(|p| inside(a, *p))
    {
        return 0.0;
    }
    let mut least = f64::INFINITY;
    for (p, q) in a.rings().flat_map(Ring::sides) {
        for (r, s) in b.rings().flat_map(Ring::sides) {
            if crosses(p, q, r, s) {
                return 0.0;
            }
            for (point, from, to) in [(p, r, s), (q, r, s), (r, p, q), (s, p, q)] {
                let along = to - from;
                let t = ((point - from).dot(along) / along.dot(along)).clamp(0.0, 1.0);
                least = least.min(point.distance_mm(from + along * t));
            }
        }
    }
    least
}

fn crosses(p: Point, q: Point, r: Point, s: Point) -> bool {
    let d = (q - p).cross(s - r);
    let (t, u) = ((r - p).cross(s - r) / d, (r - p).cross(q - p) / d);
    d != 0.0 && (0.0..=1.0).contains(&t) && (0.0..=1.0).contains(&u)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_tree_finds_what_all_pairs_of_sides_give(
        seed in any::<u64>(), x in -60.0..60.0f64, y in -60.0..60.0f64, turn in -180.0..180.0f64, scale in 0.1..1.5f64,
    ) {
        let mut dice = Random::new(seed);
        let a = random_star(&mut dice, 0.0, 0.0, 25.0);
        let b = random_star(&mut dice, 0.0, 0.0, 20.0 * scale);
        let pose = Pose::new(x, y, turn);
        let expected = distance_by_all_sides(&a, &b.placed(pose));
        let (ta, tb) = (tree(&a), tree(&b).placed(pose));
        let found = ta.clearance_mm(&tb, f64::INFINITY);
        prop_assert!((found - expected).abs() < 1e-9, "{found} {expected}");
        prop_assert_eq!(found, tb.clearance_mm(&ta, f64::INFINITY));
        prop_assert_eq!(ta.clearance_mm(&tb, 3.0), found.min(3.0));
        // No clearance and shared area are one thing, but for touching.
        if found > 0.0 {
            prop_assert!(intersection_area_mm2(&a, tb.outline()) == 0.0);
        } else {
            prop_assert!(intersection_area_mm2(&a, tb.outline()) > 0.0);
        }
    }

    #[test]
    fn a_line_is_as_far_as_a_needle_of_no_width(
        seed in any::<u64>(), x in -60.0..60.0f64, y in -60.0..60.0f64, dx in -40.0..40.0f64, dy in 1.0..40.0f64,
    ) {
        let star = random_star(&mut Random::new(seed), 0.0, 0.0, 25.0);
        let (p, q) = (Point::new(x, y), Point::new(x + dx, y + dy));
        let needle = Outline::try_new(vec![p, q, Point::new(q.x + 1e-7, q.y)], vec![]).unwrap();
        let expected = distance_by_all_sides(&star, &needle);
        let found = tree(&star).line_clearance_mm(p, q, f64::INFINITY);
        prop_assert!((found - expected).abs() < 1e-6, "{found} {expected}");
    }
}

#[test]
fn a_line_inside_the_material_or_in_a_hole_is_told_apart() {
    let ring = Outline::try_new(
        disc(0.0, 0.0, 30.0, 240).outer().points().to_vec(),
        vec![
            rectangle(-10.0, -10.0, 20.0, 20.0)
                .outer()
                .points()
                .to_vec(),
        ],
    )
    .unwrap();
    let ring = tree(&ring);
    let line = |x0, x1| ring.line_clearance_mm(Point::new(x0, 0.0), Point::new(x1, 0.0), 100.0);
    assert_eq!(line(15.0, 20.0), 0.0);
    assert_eq!(line(-5.0, 5.0), 5.0);
    assert_eq!(line(-5.0, 40.0), 0.0);
    assert_eq!(line(40.0, 50.0), 10.0);
    assert_eq!(line(500.0, 600.0), 100.0);
}

#[test]
fn a_placed_tree_equals_a_tree_of_the_placed_outline() {
    let pose = Pose::new(13.0, -7.0, 71.0);
    let (once, again) = (
        tree(&a_with_hole()).placed(pose),
        tree(&a_with_hole().placed(pose)),
    );
    assert_eq!(once.outline(), again.outline());
    assert_eq!(once.bounds(), again.bounds());
    assert_near(
        once.clearance_mm(&tree(&c()), f64::INFINITY),
        again.clearance_mm(&tree(&c()), f64::INFINITY),
        1e-12,
    );
}
