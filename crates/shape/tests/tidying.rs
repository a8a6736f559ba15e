//! Few lines and arcs within a tolerance: known drawings, sampled with noise, come back as drawn.
//!
//! Truth: the drawings' own corners, radii and counts, by construction. Distances are measured here by
//! brute force on points laid along both curves, not by the crate's search.

#![allow(missing_docs, clippy::unwrap_used)]

mod figures;

use figures::{flower_ring, random_star, slowly};
use proptest::prelude::*;
use shape::exact::{ExactOutline, ExactPoint, ExactRing, Segment};
use shape::tidy::{Tidied, TidyError, tidy};
use shape::{Outline, Point, Random, RingOverlay, Vector, overlay_rings};

/// Tangent of an eighth of a turn over two: the bulge of a quarter circle, by the definition.
fn quarter() -> f64 {
    (std::f64::consts::PI / 8.0).tan()
}

fn exact_points(list: &[[f64; 3]]) -> Vec<ExactPoint> {
    list.iter().map(|&p| ExactPoint::from(p)).collect()
}

/// A plate of w x h with corners of radius r, lower-left corner at (x, y).
fn rounded(x: f64, y: f64, w: f64, h: f64, r: f64) -> Vec<ExactPoint> {
    let b = quarter();
    exact_points(&[
        [x + r, y, 0.0],
        [x + w - r, y, b],
        [x + w, y + r, 0.0],
        [x + w, y + h - r, b],
        [x + w - r, y + h, 0.0],
        [x + r, y + h, b],
        [x, y + h - r, 0.0],
        [x, y + r, b],
    ])
}

fn circle(x: f64, y: f64, r: f64) -> Vec<ExactPoint> {
    exact_points(&[[x - r, y, 1.0], [x + r, y, 1.0]])
}

/// Points along an exact ring, `step` apart, each off by noise of that amplitude (uniform) in x and y.
fn measured(ring: &ExactRing, step: f64, noise: f64, dice: &mut Random) -> Vec<Point> {
    ring.segments()
        .flat_map(|s| along(s, step))
        .map(|p| p + Vector::new(dice.between(-noise, noise), dice.between(-noise, noise)))
        .collect()
}

fn along(s: Segment, step: f64) -> Vec<Point> {
    let n = (s.length_mm() / step).ceil().max(1.0) as usize;
    (0..n).map(|k| s.at(k as f64 / n as f64)).collect()
}

fn measured_outline(exact: &ExactOutline, step: f64, noise: f64, seed: u64) -> Outline {
    let dice = &mut Random::new(seed);
    let outer = measured(exact.outer(), step, noise, dice);
    let holes = exact
        .holes()
        .iter()
        .map(|h| measured(h, step, noise, dice))
        .collect();
    // Noise may make neighbours cross; the union's largest outline is what a measurement would keep.
    Outline::try_new(outer.clone(), holes).unwrap_or_else(|_| {
        let rings: Vec<Vec<Point>> = std::iter::once(exact.outer())
            .chain(exact.holes())
            .map(|r| measured(r, step, noise, dice))
            .collect();
        let mut clean = overlay_rings(&rings[..1], &rings[1..], RingOverlay::Difference);
        clean.sort_by(|a, b| a.area_mm2().total_cmp(&b.area_mm2()));
        clean.pop().unwrap()
    })
}

/// Greatest distance from points on the given outline to the lines and arcs, and back, mm.
fn distances_by_brute_force(given: &Outline, tidied: &Tidied) -> [f64; 2] {
    let exact = tidied.outline.exact().unwrap();
    let mut there: f64 = 0.0;
    let mut back: f64 = 0.0;
    for (ring, tidy_ring) in given.rings().zip(exact.rings()) {
        let sides: Vec<Segment> = ring
            .sides()
            .map(|(from, to)| Segment {
                from,
                to,
                bulge: 0.0,
            })
            .collect();
        let segments: Vec<Segment> = tidy_ring.segments().collect();
        let least = |list: &[Segment], p: Point| {
            list.iter()
                .map(|s| s.distance_mm(p))
                .fold(f64::INFINITY, f64::min)
        };
        for p in sides.iter().flat_map(|&s| along(s, 0.05)) {
            there = there.max(least(&segments, p));
        }
        for p in segments.iter().flat_map(|&s| along(s, 0.05)) {
            back = back.max(least(&sides, p));
        }
    }
    [there, back]
}

#[track_caller]
fn assert_within(given: &Outline, tidied: &Tidied, tolerance: f64) {
    let [there, back] = distances_by_brute_force(given, tidied);
    assert!(tidied.reached_mm <= tolerance, "{}", tidied.reached_mm);
    assert!(
        there <= tidied.reached_mm + 1e-9,
        "{there} {}",
        tidied.reached_mm
    );
    assert!(
        back <= tidied.reached_mm + 1e-9,
        "{back} {}",
        tidied.reached_mm
    );
    // Brute force looks every 0.05 mm only.
    let search = 0.015;
    assert!(
        there.max(back) >= tidied.reached_mm - search,
        "told too large"
    );
}

#[track_caller]
fn tidied(given: &Outline, tolerance: f64) -> Tidied {
    let tidied = tidy(given, tolerance).unwrap();
    assert_within(given, &tidied, tolerance);
    tidied
}

fn counts(t: &Tidied) -> (usize, usize) {
    t.outline.exact().unwrap().counts()
}

/// Drawn corners that a ring must have, and no others, each within `within` mm.
#[track_caller]
fn assert_corners(ring: &ExactRing, drawn: &[ExactPoint], within: f64) {
    assert_eq!(ring.points().len(), drawn.len());
    for d in drawn {
        let near = ring
            .points()
            .iter()
            .filter(|p| p.at.distance_mm(d.at) <= within);
        assert_eq!(near.count(), 1, "{d:?} in {:?}", ring.points());
    }
}

fn plate_with_holes(corner_mm: f64) -> ExactOutline {
    let outer = if corner_mm > 0.0 {
        rounded(0.0, 0.0, 60.0, 40.0, corner_mm)
    } else {
        exact_points(&[
            [0.0, 0.0, 0.0],
            [60.0, 0.0, 0.0],
            [60.0, 40.0, 0.0],
            [0.0, 40.0, 0.0],
        ])
    };
    ExactOutline::try_new(outer, vec![circle(8.0, 6.0, 1.5), circle(14.0, 6.0, 0.8)]).unwrap()
}

#[test]
fn a_rounded_plate_comes_back_as_four_lines_and_four_arcs() {
    for (noise, seed) in [(0.0, 1), (0.01, 2), (0.02, 3), (0.025, 4)] {
        let drawn = plate_with_holes(3.0);
        let t = tidied(&measured_outline(&drawn, 0.1, noise, seed), 0.05);
        assert_eq!(counts(&t), (4, 4 + 2 * 2), "noise {noise}");
        let exact = t.outline.exact().unwrap();
        // Where a tangent join lies along its line is what noise moves most.
        assert_corners(exact.outer(), drawn.outer().points(), 0.005 + 10.0 * noise);
        for s in exact.outer().segments().filter(|s| s.bulge != 0.0) {
            let radius = s.circle().unwrap().radius_mm;
            assert!(
                (radius - 3.0).abs() <= 0.005 + 2.0 * noise,
                "radius {radius}"
            );
        }
    }
}

#[test]
fn arcs_join_lines_smoothly_where_the_drawing_does() {
    let t = tidied(
        &measured_outline(&plate_with_holes(3.0), 0.1, 0.02, 5),
        0.05,
    );
    let sides: Vec<Segment> = t.outline.exact().unwrap().outer().segments().collect();
    for k in 0..sides.len() {
        let [_, end] = sides[k].directions();
        let [start, _] = sides[(k + 1) % sides.len()].directions();
        let kink_deg = end.cross(start).asin().to_degrees();
        assert!(kink_deg.abs() < 0.1, "side {k}: {kink_deg}");
    }
}

#[test]
fn sharp_corners_stay_sharp() {
    for (noise, seed) in [(0.0, 1), (0.02, 2), (0.03, 3)] {
        let drawn = plate_with_holes(0.0);
        let t = tidied(&measured_outline(&drawn, 0.1, noise, seed), 0.05);
        assert_eq!(counts(&t), (4, 2 * 2), "noise {noise}");
        let exact = t.outline.exact().unwrap();
        assert_corners(exact.outer(), drawn.outer().points(), 0.002 + 0.6 * noise);
    }
}

#[test]
fn whole_circles_come_as_two_arcs_of_their_radius() {
    for r in [0.5, 1.5, 7.0, 60.0] {
        let drawn = ExactOutline::try_new(circle(3.0, -4.0, r), vec![]).unwrap();
        let t = tidied(&measured_outline(&drawn, 0.1, 0.02, 9), 0.05);
        assert_eq!(counts(&t), (0, 2));
        for s in t.outline.exact().unwrap().outer().segments() {
            let c = s.circle().unwrap();
            assert!((c.radius_mm - r).abs() < 0.02, "{r}: {}", c.radius_mm);
            assert!(c.centre.distance_mm(Point::new(3.0, -4.0)) < 0.02);
        }
    }
}

/// A board with a round-ended slot cut into its right side, a step, a tab and a slanted corner.
#[test]
fn notches_tabs_and_steps_are_all_kept() {
    let drawn = exact_points(&[
        [0.0, 0.0, 0.0],
        [50.0, 0.0, 0.0],
        [50.0, 8.0, 0.0],
        [44.0, 8.0, -1.0], // a half circle of radius 1 that bites into the board
        [44.0, 10.0, 0.0],
        [50.0, 10.0, 0.0],
        [50.0, 25.0, 0.0],
        [45.0, 30.0, 0.0],
        [30.0, 30.0, 0.0],
        [30.0, 31.5, 0.0],
        [26.0, 31.5, 0.0],
        [26.0, 30.0, 0.0],
        [10.0, 30.0, 0.0],
        [10.0, 28.0, 0.0],
        [0.0, 28.0, 0.0],
    ]);
    let drawn = ExactOutline::try_new(drawn, vec![]).unwrap();
    for (noise, seed) in [(0.0, 1), (0.02, 2)] {
        let t = tidied(&measured_outline(&drawn, 0.1, noise, seed), 0.05);
        assert_eq!(counts(&t), (14, 1), "noise {noise}");
        let found = t.outline.exact().unwrap();
        assert_corners(found.outer(), drawn.outer().points(), 0.01 + 4.0 * noise);
    }
}

#[test]
fn a_polygon_of_few_points_is_left_as_it_is() {
    let given = figures::corner_piece();
    let t = tidied(&given, 0.05);
    assert_eq!(counts(&t), (6, 0));
    let found: Vec<ExactPoint> = given
        .outer()
        .points()
        .iter()
        .map(|&at| ExactPoint { at, bulge: 0.0 })
        .collect();
    assert_corners(t.outline.exact().unwrap().outer(), &found, 1e-3);
}

/// Two walls of a slit lie nearer than the tolerance: simpler sides would cross.
#[test]
fn walls_nearer_than_the_tolerance_never_cross() {
    let mut dice = Random::new(11);
    for gap in [0.002, 0.01, 0.03] {
        let mut ring = vec![
            Point::new(0.0, 0.0),
            Point::new(20.0, 0.0),
            Point::new(20.0, 4.0),
        ];
        let mut wave = |y: f64, x: f64| {
            Point::new(
                x,
                y + 0.04 * (3.0 * x).sin() + dice.between(-0.0004, 0.0004),
            )
        };
        ring.extend((0..150).map(|k| wave(5.0, 20.0 - 0.1 * f64::from(k) - 0.1)));
        ring.extend((0..150).map(|k| wave(5.0 + gap, 5.0 + 0.1 * f64::from(k) + 0.1)));
        ring.extend([Point::new(20.0, 10.0), Point::new(0.0, 10.0)]);
        let given = Outline::try_new(ring, vec![]).unwrap();
        // The outline that comes back is valid by its own constructor.
        tidied(&given, 0.05);
    }
}

#[test]
fn tolerances_out_of_range_are_refused() {
    let given = figures::corner_piece();
    for bad in [0.0, -0.05, f64::NAN, f64::INFINITY, 0.001, 6.0] {
        assert!(matches!(
            tidy(&given, bad),
            Err(TidyError::Tolerance { .. })
        ));
    }
}

#[test]
fn twenty_thousand_points_take_a_second_or_so() {
    let ring = flower_ring((0.0, 0.0), (90.0, 20.0, 9.0), 19_900, 0.3);
    let given = Outline::try_new(ring, vec![]).unwrap();
    let start = std::time::Instant::now();
    let t = tidy(&given, 0.05).unwrap();
    println!("{:?} {:?}", counts(&t), start.elapsed());
    assert!(t.reached_mm <= 0.05);
    // Generous: a busy machine and a build for debugging.
    assert!(start.elapsed().as_secs() < 20);
}

#[test]
fn any_star_stays_within_the_tolerance_both_ways() {
    let given = (any::<u64>(), 2.0..40.0f64, 0.01..0.5f64);
    slowly(24, 1000, &given, |(seed, r, tolerance)| {
        let star = random_star(&mut Random::new(seed), 3.0, -2.0, r);
        tidied(&star, tolerance);
        Ok(())
    });
}

#[test]
fn any_noisy_flower_stays_within_the_tolerance_both_ways() {
    let given = (any::<u64>(), 5.0..40.0f64, 2..7u32, 0.0..0.06f64);
    slowly(24, 1000, &given, |(seed, r, petals, noise)| {
        let ring = flower_ring(
            (0.0, 0.0),
            (r, 0.2 * r, f64::from(petals)),
            (20.0 * r) as usize + 60,
            0.1,
        );
        let dice = &mut Random::new(seed);
        let noisy = ring
            .into_iter()
            .map(|p| p + Vector::new(dice.between(-noise, noise), dice.between(-noise, noise)));
        let noisy: Vec<Point> = noisy.collect();
        let given = Outline::try_new(noisy, vec![]);
        prop_assume!(given.is_ok());
        tidied(&given.unwrap(), 0.05);
        Ok(())
    });
}

#[test]
fn the_same_outline_gives_the_same_bytes_and_tidy_ones_stay_tidy() {
    let given = (any::<u64>(), 10.0..80.0f64, 10.0..60.0f64, 0.5..4.0f64);
    slowly(24, 1000, &given, |(seed, w, h, corner)| {
        let ring = rounded(0.0, 0.0, w, h, corner);
        let drawn = ExactOutline::try_new(ring, vec![circle(0.5 * w, 0.5 * h, 2.0)]).unwrap();
        let given = measured_outline(&drawn, 0.1, 0.02, seed);
        let once = tidied(&given, 0.05);
        let again = tidy(&given, 0.05).unwrap();
        prop_assert_eq!(
            serde_json::to_string(&once.outline).unwrap(),
            serde_json::to_string(&again.outline).unwrap()
        );
        let twice = tidied(&once.outline, 0.05);
        let total = |t: &Tidied| counts(t).0 + counts(t).1;
        prop_assert!(total(&twice) <= total(&once));
        Ok(())
    });
}
