//! Booleans and offsets, against closed forms and another library.
//!
//! Reference library: Shapely 2.2.0 (GEOS 3.14.1), asked about the same formulas in double precision.

#![allow(missing_docs, clippy::unwrap_used)]

mod figures;

use figures::{a_with_hole, b, disc, random_star, rectangle};
use proptest::prelude::*;
use shape::{
    Outline, Point, Random, RingOverlay, difference, intersection, intersection_area_mm2, offset,
    overlay_rings, stroked, union,
};

fn area(outlines: &[Outline]) -> f64 {
    outlines.iter().map(Outline::area_mm2).sum()
}

#[track_caller]
fn assert_near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{found}, expected {expected} within {within}"
    );
}

#[test]
fn overlays_of_flowers_have_the_areas_that_shapely_finds() {
    let (a, b) = (a_with_hole(), b());
    let intersection_from_shapely = 112.091_224_343_107_11;
    let union_from_shapely = 1_965.831_700_039_419_7;
    let a_less_b_from_shapely = 923.362_881_456_098_2;
    let b_less_a_from_shapely = 930.377_594_240_214_3;
    let pair = [a.clone(), b.clone()];
    assert_near(area(&intersection(&a, &b)), intersection_from_shapely, 1e-6);
    assert_near(
        intersection_area_mm2(&a, &b),
        intersection_from_shapely,
        1e-6,
    );
    assert_near(area(&union(&pair)), union_from_shapely, 1e-6);
    assert_near(
        area(&difference(&a, &pair[1..])),
        a_less_b_from_shapely,
        1e-6,
    );
    assert_near(
        area(&difference(&b, &pair[..1])),
        b_less_a_from_shapely,
        1e-6,
    );
}

/// Buffers in Shapely with 720 segments to a quarter; ours may be off by the chord error of 0.005 mm
/// along the whole length, and is never outside of it by more.
#[test]
fn offsets_of_a_flower_have_the_areas_that_shapely_finds() {
    let a = a_with_hole();
    let within = 0.005 * a.perimeter_mm();
    assert_near(
        area(&offset(std::slice::from_ref(&a), 3.0)),
        1_719.970_489_068_627_6,
        within,
    );
    assert_near(
        area(&offset(std::slice::from_ref(&a), -2.0)),
        584.529_524_935_899_4,
        within,
    );
}

/// By 4.2 mm inwards the flower falls into four pieces, areas by Shapely.
#[test]
fn what_an_offset_shrinks_apart_comes_in_pieces() {
    let mut areas: Vec<f64> = offset(&[a_with_hole()], -4.2)
        .iter()
        .map(Outline::area_mm2)
        .collect();
    areas.sort_by(f64::total_cmp);
    let from_shapely = [
        18.364_782_322_109_484,
        27.580_212_931_714_275,
        55.105_346_258_446_225,
        80.793_890_310_889_72,
    ];
    assert_eq!(areas.len(), from_shapely.len());
    for (found, expected) in areas.into_iter().zip(from_shapely) {
        assert_near(found, expected, 0.05);
    }
}

#[test]
fn what_an_offset_shrinks_away_is_gone() {
    assert_eq!(offset(&[rectangle(0.0, 0.0, 10.0, 4.0)], -2.5), vec![]);
}

/// Every corner of the result lies on the larger circle, every middle of a side within the chord
/// error inside of it. The given circle's own chord error is r (1 - cos(pi / n)).
#[test]
fn a_circle_grows_to_a_circle_within_the_chord_error() {
    for (r, by) in [(5.0, 0.5), (5.0, 3.0), (20.0, 50.0), (20.0, 400.0)] {
        let n = 720;
        let own = r * (1.0 - (std::f64::consts::PI / n as f64).cos());
        let grown = offset(&[disc(0.0, 0.0, r, n)], by);
        assert_eq!(grown.len(), 1);
        for (p, q) in grown[0].outer().sides() {
            let middle = p.lerp(q, 0.5).distance_mm(Point::default());
            assert!(middle >= r + by - own - 0.005, "{r} + {by}: {middle}");
            assert!(p.distance_mm(Point::default()) <= r + by + 1e-4);
        }
    }
}

/// A square grown by r: its area, four sides times r, and a whole circle of radius r.
#[test]
fn a_square_grows_by_its_sides_and_one_circle() {
    for (by, chord_error) in [
        (0.1, 0.005),
        (1.0, 0.005),
        (10.0, 0.005),
        (40.0, 0.005),
        (300.0, 0.0375),
    ] {
        let grown = offset(&[rectangle(0.0, 0.0, 20.0, 20.0)], by);
        let expected = 400.0 + 80.0 * by + std::f64::consts::PI * by * by;
        let arc_length = std::f64::consts::TAU * by;
        assert_near(area(&grown), expected, chord_error * arc_length);
    }
}

#[test]
fn an_offset_of_nothing_and_of_no_number_does_no_harm() {
    let square = rectangle(0.0, 0.0, 20.0, 20.0);
    assert_near(
        area(&offset(std::slice::from_ref(&square), 0.0)),
        400.0,
        1e-9,
    );
    assert_eq!(offset(std::slice::from_ref(&square), f64::NAN), vec![]);
    assert_eq!(offset(&[square], f64::INFINITY), vec![]);
    assert_eq!(offset(&[], 1.0), vec![]);
}

#[test]
fn a_hole_is_kept_by_overlays() {
    let plate = Outline::try_new(
        rectangle(0.0, 0.0, 20.0, 20.0).outer().points().to_vec(),
        vec![rectangle(8.0, 8.0, 4.0, 4.0).outer().points().to_vec()],
    )
    .unwrap();
    let joined = union(&[plate.clone(), rectangle(15.0, 5.0, 10.0, 2.0)]);
    assert_eq!((joined.len(), joined[0].holes().len()), (1, 1));
    let bitten = difference(&plate, &[rectangle(-1.0, -1.0, 3.0, 3.0)]);
    assert_eq!(bitten[0].holes().len(), 1);
    assert_near(area(&bitten), 384.0 - 4.0, 1e-9);
    // A part in the hole shares nothing.
    assert_eq!(
        intersection_area_mm2(&plate, &rectangle(9.0, 9.0, 2.0, 2.0)),
        0.0
    );
}

/// A hole that touches the outer ring in one point is a legal result of a cut, but not an outline; it
/// must not be lost for that.
#[test]
fn a_cut_that_touches_the_edge_in_one_point_keeps_its_area() {
    let square = rectangle(0.0, 0.0, 10.0, 10.0);
    let diamond = Outline::try_new(
        [(0.0, 5.0), (3.0, 2.0), (6.0, 5.0), (3.0, 8.0)]
            .map(|(x, y)| Point::new(x, y))
            .to_vec(),
        vec![],
    )
    .unwrap();
    assert_near(area(&difference(&square, &[diamond])), 100.0 - 18.0, 1e-3);
    // Two holes that touch each other in a corner.
    let holes = [rectangle(2.0, 2.0, 3.0, 3.0), rectangle(5.0, 5.0, 3.0, 3.0)];
    assert_near(area(&difference(&square, &holes)), 100.0 - 18.0, 1e-3);
    // A ring of plates that meet only in their corners encloses a hole.
    let ring: Vec<Outline> = [(0.0, 1.0), (1.0, 0.0), (2.0, 1.0), (1.0, 2.0)]
        .map(|(x, y)| rectangle(x, y, 1.0, 1.0))
        .to_vec();
    assert_near(area(&union(&ring)), 4.0, 1e-3);
}

#[test]
fn loose_rings_that_cross_themselves_become_clean_outlines() {
    let bow = vec![[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]]
        .into_iter()
        .map(Point::from)
        .collect::<Vec<_>>();
    let clean = overlay_rings(&[bow], &[], RingOverlay::Union);
    assert_near(area(&clean), 50.0, 1e-6);
    let poison = vec![Point::new(f64::NAN, 0.0); 3];
    assert_eq!(overlay_rings(&[poison], &[], RingOverlay::Union), vec![]);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn areas_of_overlays_add_up(seed in any::<u64>()) {
        let mut dice = Random::new(seed);
        let a = random_star(&mut dice, 0.0, 0.0, 20.0);
        let b = random_star(&mut dice, 12.0, 5.0, 20.0);
        let both = area(&intersection(&a, &b));
        let either = area(&union(&[a.clone(), b.clone()]));
        prop_assert!((either + both - a.area_mm2() - b.area_mm2()).abs() < 1e-5);
        let a_less_b = area(&difference(&a, std::slice::from_ref(&b)));
        prop_assert!((a_less_b + both - a.area_mm2()).abs() < 1e-5);
    }

    #[test]
    fn growing_and_shrinking_back_loses_only_what_is_narrow(seed in any::<u64>(), by in 0.1..5.0f64) {
        let star = random_star(&mut Random::new(seed), 0.0, 0.0, 30.0);
        let closed = offset(&offset(std::slice::from_ref(&star), by), -by);
        // Closing never takes material away, but for the chord error of the arcs.
        let lost = area(&difference(&star, &closed));
        prop_assert!(lost <= 0.011 * star.perimeter_mm(), "{lost}");
    }
}

/// By hand: a line of length l and width w covers l w + pi w^2 / 4; a square of side a that is closed covers a frame of
/// outer corners rounded with w/2: (a + w)^2 - (4 - pi) w^2 / 4 less (a - w)^2.
#[test]
fn lines_cover_what_the_formulas_say() {
    let p = Point::new;
    let line = stroked(&[vec![p(3.0, 4.0), p(33.0, 44.0)]], 4.0);
    assert_eq!(line.len(), 1);
    let expected = 50.0 * 4.0 + 4.0 * std::f64::consts::PI;
    assert!(
        (line[0].area_mm2() - expected).abs() < 0.04,
        "{}",
        line[0].area_mm2()
    );
    let (a, w) = (30.0, 3.0);
    let square = vec![p(0.0, 0.0), p(a, 0.0), p(a, a), p(0.0, a), p(0.0, 0.0)];
    let frame = stroked(&[square], w);
    assert_eq!((frame.len(), frame[0].holes().len()), (1, 1));
    let expected = (a + w).powi(2) - (4.0 - std::f64::consts::PI) * w * w / 4.0 - (a - w).powi(2);
    assert!(
        (frame[0].area_mm2() - expected).abs() < 0.04,
        "{}",
        frame[0].area_mm2()
    );
}

/// Truth: each place's distance from the line.
#[test]
fn a_line_that_bends_and_crosses_itself_covers_all_that_is_near_it() {
    let line: Vec<Point> = (0..60)
        .map(|k| {
            let t = f64::from(k) * 0.25;
            Point::new(20.0 * t.cos() + 2.0 * t, 12.0 * (2.0 * t).sin())
        })
        .collect();
    let covered = stroked(std::slice::from_ref(&line), 2.0);
    for i in 0..60 {
        for j in 0..40 {
            let at = Point::new(-25.0 + 1.3 * f64::from(i), -15.0 + 0.77 * f64::from(j));
            let away = line
                .windows(2)
                .map(|ab| {
                    let side = ab[1] - ab[0];
                    let t = ((at - ab[0]).dot(side) / side.dot(side)).clamp(0.0, 1.0);
                    (ab[0] + side * t).distance_mm(at)
                })
                .fold(f64::INFINITY, f64::min);
            if (away - 1.0).abs() > 0.01 {
                assert_eq!(covered.iter().any(|o| o.contains(at)), away < 1.0, "{at:?}");
            }
        }
    }
}

#[test]
fn lines_of_no_width_or_no_length_cover_nothing_or_a_dot() {
    let p = Point::new(1.0, 1.0);
    for width in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(stroked(&[vec![p, Point::new(5.0, 1.0)]], width), vec![]);
    }
    assert_eq!(stroked(&[], 1.0), vec![]);
    assert!(area(&stroked(&[vec![p, p]], 2.0)) < 3.2);
}

/// By construction: a disc of 12,000 corners grown by 1 mm has two corners for each of them, more than a document's ring may
/// have, and the area of a disc of radius 101 to within its chords.
#[test]
fn a_legal_ring_grown_to_more_points_than_a_document_may_hold_is_not_lost() {
    let ring = disc(0.0, 0.0, 100.0, 12_000);
    let grown = offset(std::slice::from_ref(&ring), 1.0);
    assert_eq!(grown.len(), 1);
    assert!(grown[0].outer().points().len() > shape::MAX_POINTS_PER_RING);
    let truth = std::f64::consts::PI * 101.0 * 101.0;
    assert!((area(&grown) - truth).abs() < 0.01, "{}", area(&grown));
    // A union of two legal rings has the points of both.
    let other = disc(50.0, 0.0, 100.0, 16_000);
    let both = union(&[ring, other]);
    assert_eq!(both.len(), 1);
    assert!(area(&both) > truth);
}
