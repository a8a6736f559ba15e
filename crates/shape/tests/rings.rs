//! What is a ring and what is not; every refusal says which point, which hole or where.

#![allow(missing_docs, clippy::unwrap_used)]

mod figures;

use figures::{disc, rectangle};
use shape::{MAX_POINTS_PER_RING, Outline, OutlineError, Point, Ring, RingError};
use std::time::Instant;

fn points(list: &[(f64, f64)]) -> Vec<Point> {
    list.iter().map(|&(x, y)| Point::new(x, y)).collect()
}

fn refusal(list: &[(f64, f64)]) -> RingError {
    Ring::try_new(points(list)).unwrap_err()
}

#[test]
fn fewer_than_three_distinct_points_are_no_ring() {
    assert_eq!(refusal(&[]), RingError::TooFewPoints { found: 0 });
    assert_eq!(refusal(&[(1.0, 1.0)]), RingError::TooFewPoints { found: 1 });
    assert_eq!(
        refusal(&[(0.0, 0.0), (1.0, 1.0), (0.0, 0.0)]),
        RingError::TooFewPoints { found: 2 }
    );
}

#[test]
fn nan_infinity_and_points_beyond_a_hundred_metres_are_refused_by_index() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1.1e5, -1.1e5] {
        for index in 0..3 {
            let mut ring = points(&[(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]);
            ring[index].x = bad;
            assert_eq!(
                Ring::try_new(ring.clone()).unwrap_err(),
                RingError::NotFinite { index }
            );
            ring[index] = Point::new(0.0, bad);
            assert_eq!(
                Ring::try_new(ring).unwrap_err(),
                RingError::NotFinite { index }
            );
        }
    }
}

#[test]
fn points_on_one_line_enclose_no_area() {
    assert_eq!(
        refusal(&[(0.0, 0.0), (1.0, 1.0), (3.0, 3.0)]),
        RingError::NoArea
    );
}

#[test]
fn repeated_points_and_a_closing_point_are_dropped() {
    let ring = Ring::try_new(points(&[
        (0.0, 0.0),
        (0.0, 0.0),
        (4.0, 0.0),
        (4.0, 1e-10),
        (4.0, 3.0),
        (0.0, 0.0),
        (0.0, 0.0),
    ]))
    .unwrap();
    assert_eq!(ring.points(), points(&[(0.0, 0.0), (4.0, 0.0), (4.0, 3.0)]));
    assert_eq!(ring.signed_area_mm2(), 6.0);
}

fn crossing(list: &[(f64, f64)]) -> Point {
    let crossed = refusal(list);
    let RingError::CrossesItself { at } = crossed else {
        panic!("{crossed}");
    };
    at
}

/// Crossings by construction. The first ring's lines y = x and y = 0.9 (10 - x) meet at x = 9 / 1.9; the second's long side is
/// crossed far from its middle; the third's corner touches a side.
#[test]
fn a_ring_that_crosses_itself_is_refused_at_the_place() {
    let near = |list: &[(f64, f64)], x: f64, y: f64| {
        let at = crossing(list);
        assert!(at.distance_mm(Point::new(x, y)) < 1e-6, "{at:?}");
    };
    let x = 9.0 / 1.9;
    near(&[(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 9.0)], x, x);
    near(
        &[
            (0.0, 0.0),
            (200.0, 0.0),
            (200.0, 5.0),
            (3.0, 5.0),
            (3.0, -4.0),
            (0.0, -4.0),
        ],
        3.0,
        0.0,
    );
    near(
        &[
            (0.0, 0.0),
            (100.0, 0.0),
            (100.0, 9.0),
            (30.0, 0.0),
            (0.0, 9.0),
        ],
        30.0,
        0.0,
    );
}

#[test]
fn spikes_are_refused() {
    // Out and straight back.
    assert!(matches!(
        refusal(&[
            (0.0, 0.0),
            (10.0, 0.0),
            (15.0, 0.0),
            (10.0, 0.0),
            (10.0, 8.0)
        ]),
        RingError::CrossesItself { .. }
    ));
    // Out, and back along part of the way.
    assert!(matches!(
        refusal(&[(0.0, 0.0), (15.0, 0.0), (10.0, 0.0), (10.0, 8.0)]),
        RingError::CrossesItself { .. }
    ));
    // Inwards.
    assert!(matches!(
        refusal(&[
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, 5.0),
            (4.0, 5.0),
            (10.0, 5.0),
            (10.0, 9.0)
        ]),
        RingError::CrossesItself { .. }
    ));
}

#[test]
fn a_corner_that_touches_another_side_is_refused() {
    assert!(matches!(
        refusal(&[
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, 10.0),
            (5.0, 0.0),
            (0.0, 10.0)
        ]),
        RingError::CrossesItself { .. }
    ));
    // Two corners on one place: a figure of eight that is pinched, not crossed.
    assert!(matches!(
        refusal(&[
            (0.0, 0.0),
            (5.0, 5.0),
            (10.0, 0.0),
            (10.0, 10.0),
            (5.0, 5.0),
            (0.0, 10.0)
        ]),
        RingError::CrossesItself { .. }
    ));
}

#[test]
fn points_in_the_middle_of_a_straight_side_are_allowed() {
    let ring = Ring::try_new(points(&[
        (0.0, 0.0),
        (1.0, 0.0),
        (2.0, 0.0),
        (4.0, 0.0),
        (4.0, 4.0),
    ]))
    .unwrap();
    assert_eq!(ring.points().len(), 5);
}

#[test]
fn a_needle_that_is_thin_but_real_is_allowed() {
    let ring = Ring::try_new(points(&[(0.0, 0.0), (100.0, 0.0), (100.0, 0.001)])).unwrap();
    assert!((ring.signed_area_mm2() - 0.05).abs() < 1e-12);
}

#[test]
fn twenty_thousand_points_are_taken_and_one_more_is_refused() {
    let ring: Vec<Point> = disc(0.0, 0.0, 100.0, MAX_POINTS_PER_RING)
        .outer()
        .points()
        .to_vec();
    assert_eq!(ring.len(), 20_000);
    let mut more = ring;
    more.push(Point::new(99.0, -0.001));
    assert_eq!(
        Ring::try_new(more).unwrap_err(),
        RingError::TooManyPoints { found: 20_001 }
    );
}

/// The sweep's worst case: all sides reach over the whole width. Ten seconds is far above what it
/// takes and far below endless.
#[test]
fn a_comb_of_the_most_points_ends_soon() {
    let teeth = MAX_POINTS_PER_RING / 4;
    let mut ring = Vec::new();
    for k in 0..teeth {
        let y = k as f64;
        ring.extend(points(&[
            (0.0, y),
            (1000.0, y + 0.2),
            (1000.0, y + 0.4),
            (1.0, y + 0.6),
        ]));
    }
    ring.push(Point::new(-1.0, teeth as f64));
    ring.push(Point::new(-1.0, -1.0));
    ring.truncate(MAX_POINTS_PER_RING + 2);
    let start = Instant::now();
    let outcome = Ring::try_new(ring[4..].to_vec());
    assert!(outcome.is_ok(), "{:?}", outcome.err());
    assert!(start.elapsed().as_secs() < 10);
}

#[test]
fn a_bad_outer_ring_and_a_bad_hole_are_told_apart() {
    let good = rectangle(0.0, 0.0, 10.0, 10.0).outer().points().to_vec();
    let bad = points(&[(1.0, 1.0), (2.0, f64::NAN), (3.0, 1.0)]);
    assert_eq!(
        Outline::try_new(bad.clone(), vec![])
            .unwrap_err()
            .to_string(),
        "the outer ring point 1 is not a usable number"
    );
    let fine = rectangle(1.0, 1.0, 2.0, 2.0).outer().points().to_vec();
    let error = Outline::try_new(good, vec![fine, bad]).unwrap_err();
    assert!(matches!(error, OutlineError::Hole { index: 1, .. }));
    assert_eq!(error.to_string(), "hole 1 point 1 is not a usable number");
}

#[test]
fn holes_must_lie_inside_apart_and_not_in_each_other() {
    let outer = || rectangle(0.0, 0.0, 20.0, 20.0).outer().points().to_vec();
    let hole = |x, y, w, h| rectangle(x, y, w, h).outer().points().to_vec();
    let error = |holes| Outline::try_new(outer(), holes).unwrap_err();
    assert_eq!(
        error(vec![hole(30.0, 30.0, 2.0, 2.0)]),
        OutlineError::HoleOutside { index: 0 }
    );
    assert!(matches!(
        error(vec![hole(15.0, 5.0, 10.0, 2.0)]),
        OutlineError::RingsCross { .. }
    ));
    // Touching the outer ring along a side, and at a corner.
    assert!(matches!(
        error(vec![hole(0.0, 5.0, 4.0, 4.0)]),
        OutlineError::RingsCross { .. }
    ));
    assert!(matches!(
        error(vec![points(&[(0.0, 10.0), (4.0, 8.0), (4.0, 12.0)])]),
        OutlineError::RingsCross { .. }
    ));
    assert!(matches!(
        error(vec![hole(2.0, 2.0, 6.0, 6.0), hole(7.0, 7.0, 4.0, 4.0)]),
        OutlineError::RingsCross { .. }
    ));
    assert_eq!(
        error(vec![hole(2.0, 2.0, 10.0, 10.0), hole(4.0, 4.0, 2.0, 2.0)]),
        OutlineError::HoleInHole { index: 1 }
    );
    assert!(
        Outline::try_new(
            outer(),
            vec![hole(2.0, 2.0, 3.0, 3.0), hole(6.0, 2.0, 3.0, 3.0)]
        )
        .is_ok()
    );
}

#[test]
fn json_with_a_bad_ring_is_refused_with_the_reason() {
    let error =
        serde_json::from_str::<Outline>(r#"{"outer": [[0,0],[1,1],[1,0],[0,1.1]]}"#).unwrap_err();
    assert!(
        error.to_string().contains("crosses or touches itself"),
        "{error}"
    );
    assert!(serde_json::from_str::<Outline>(r#"{"outer": [[0,0],[1,1e999],[1,0]]}"#).is_err());
    assert!(serde_json::from_str::<Outline>(r#"{"outer": [[0,0],[1],[1,0]]}"#).is_err());
}
