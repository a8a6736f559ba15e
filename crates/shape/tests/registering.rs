//! One outline placed on another: known placings come back, and what differs is measured.
//!
//! Truth: the poses and the differences are put in by construction.

#![allow(missing_docs, clippy::unwrap_used)]

mod figures;

use figures::{flower, flower_ring, rectangle, slowly};
use proptest::prelude::*;
use shape::registration::{Options, Registration, Verdict, register};
use shape::{Cancelled, Outline, Point, Pose, Random, Silent, Vector, Watch, difference, union};

/// Asked for: 0.02 mm and 0.02 degrees.
const PLACE_MM: f64 = 0.02;
const TURN_DEG: f64 = 0.02;

/// A board without any symmetry: two corners cut, a notch, two holes.
fn board() -> Outline {
    let outer = [
        [0.0, 0.0],
        [52.0, 0.0],
        [52.0, 20.0],
        [47.0, 20.0],
        [47.0, 26.0],
        [52.0, 26.0],
        [52.0, 34.0],
        [45.0, 38.0],
        [12.0, 38.0],
        [12.0, 33.0],
        [0.0, 33.0],
    ];
    let hole = |x, y, r| flower_ring((x, y), (r, 0.0, 0.0), 48, 0.0);
    Outline::try_new(
        outer.map(Point::from).to_vec(),
        vec![hole(6.0, 6.0, 1.6), hole(40.0, 30.0, 2.0)],
    )
    .unwrap()
}

/// The same outline seen by another measurement: points every `step` mm, starting elsewhere, with noise
/// (uniform, of that amplitude, in x and y).
fn measured(outline: &Outline, step: f64, noise: f64, seed: u64) -> Outline {
    try_measured(outline, step, noise, seed).unwrap()
}

/// Nothing where noise made the ring cross itself.
fn try_measured(outline: &Outline, step: f64, noise: f64, seed: u64) -> Option<Outline> {
    let dice = &mut Random::new(seed);
    let mut ring = |r: &shape::Ring| -> Vec<Point> {
        let mut points: Vec<Point> = Vec::new();
        for (a, b) in r.sides() {
            let n = (a.distance_mm(b) / step).ceil().max(1.0) as usize;
            points.extend((0..n).map(|k| a.lerp(b, k as f64 / n as f64)));
        }
        let start = (dice.share() * points.len() as f64) as usize;
        points.rotate_left(start);
        points
            .into_iter()
            .map(|p| p + Vector::new(dice.between(-noise, noise), dice.between(-noise, noise)))
            .collect()
    };
    let outer = ring(outline.outer());
    let holes = outline.holes().iter().map(ring).collect();
    Outline::try_new(outer, holes).ok()
}

fn registered(a: &Outline, b: &Outline, allow_flip: bool) -> Registration {
    register(
        a,
        b,
        &Options {
            allow_flip,
            ..Options::default()
        },
        &Silent,
    )
    .unwrap()
}

/// How far the found pose carries the first outline from where the true one does: at its middle, mm, and
/// in turn, degrees.
fn errors(found: Pose, truth: Pose, a: &Outline) -> (f64, f64) {
    let middle = a.centroid();
    let turn = (found.turn_deg - truth.turn_deg + 180.0).rem_euclid(360.0) - 180.0;
    (
        found.apply(middle).distance_mm(truth.apply(middle)),
        turn.abs(),
    )
}

#[track_caller]
fn assert_found(r: &Registration, truth: Pose, a: &Outline) {
    let (mm, deg) = errors(r.b_from_a, truth, a);
    assert!(
        mm <= PLACE_MM && deg <= TURN_DEG,
        "off by {mm:.4} mm, {deg:.4} degrees"
    );
}

#[test]
fn a_known_placing_comes_back() {
    for (k, turn_deg) in [0.0, 17.0, 90.0, 123.4, 180.0, -77.7]
        .into_iter()
        .enumerate()
    {
        let truth = Pose::new(3.0 + 20.0 * k as f64, -8.0, turn_deg);
        let r = registered(&board(), &board().placed(truth), false);
        assert_found(&r, truth, &board());
        assert!(
            r.overhang_mm < 0.005 && r.gap_mm < 0.005,
            "{} {}",
            r.overhang_mm,
            r.gap_mm
        );
        assert_eq!(r.verdict, Verdict::Fit);
    }
}

#[test]
fn other_points_and_noise_of_a_twentieth_of_a_millimetre_change_little() {
    for seed in 0..6 {
        let truth = Pose::new(-30.0, 12.0, 61.0 * seed as f64);
        let a = measured(&board(), 0.2, 0.05, seed);
        let b = measured(&board(), 0.13, 0.05, 100 + seed).placed(truth);
        let r = registered(&a, &b, false);
        assert_found(&r, truth, &board());
        assert!(r.overhang_mm < 0.15 && r.verdict == Verdict::Fit);
    }
}

#[test]
fn a_part_that_is_turned_over_is_found_only_when_that_is_allowed() {
    let truth = Pose::new(5.0, 5.0, 40.0);
    let place = measured(&board().mirrored().placed(truth), 0.17, 0.05, 3);
    let r = registered(&board(), &place, true);
    assert!(r.flipped && r.verdict == Verdict::Fit);
    assert_found(&r, truth, &board().mirrored());
    let r = registered(&board(), &place, false);
    assert!(!r.flipped && r.verdict != Verdict::Fit, "{}", r.overhang_mm);
}

#[test]
fn symmetric_shapes_take_the_least_turn() {
    let square = rectangle(0.0, 0.0, 30.0, 30.0);
    let truth = Pose::new(40.0, 0.0, 100.0);
    let r = registered(&square, &square.placed(truth), true);
    assert!(
        !r.flipped && (r.b_from_a.turn_deg - 10.0).abs() < TURN_DEG,
        "{:?}",
        r.b_from_a
    );
    assert!(r.overhang_mm < 0.005);
    let plate = rectangle(0.0, 0.0, 60.0, 20.0);
    let r = registered(&plate, &plate.placed(Pose::new(0.0, 0.0, 170.0)), true);
    assert!(
        !r.flipped && (r.b_from_a.turn_deg + 10.0).abs() < TURN_DEG,
        "{:?}",
        r.b_from_a
    );
    let disc = figures::disc(0.0, 0.0, 12.0, 400);
    let r = registered(
        &disc,
        &measured(&disc, 0.1, 0.04, 3).shifted(Vector::new(7.0, 3.0)),
        true,
    );
    assert!(r.placed.centroid().distance_mm(Point::new(7.0, 3.0)) < PLACE_MM);
    assert!(r.overhang_mm < 0.1);
}

#[test]
fn one_small_notch_tells_the_turn_of_a_disc() {
    let notch = rectangle(19.0, -1.0, 3.0, 2.0);
    let disc = figures::disc(0.0, 0.0, 20.0, 720);
    let notched = difference(&disc, &[notch]).remove(0);
    for turn_deg in [33.0, 151.0, -100.0] {
        let truth = Pose::new(1.0, 2.0, turn_deg);
        let r = registered(&notched, &notched.placed(truth), false);
        assert_found(&r, truth, &notched);
    }
}

/// The board with a tab of 5 x 4 mm added on its right side, 3 mm of it beyond the edge.
fn with_tab() -> Outline {
    union(&[board(), rectangle(50.0, 8.0, 5.0, 4.0)]).remove(0)
}

#[test]
fn an_added_tab_is_told_as_trim_with_its_depth_area_and_place() {
    let truth = Pose::new(10.0, 4.0, 25.0);
    let r = registered(
        &measured(&with_tab(), 0.2, 0.03, 1),
        &measured(&board(), 0.15, 0.03, 2).placed(truth),
        false,
    );
    assert_found(&r, truth, &board());
    assert_eq!(r.verdict, Verdict::Trim);
    assert_eq!(r.overhangs.len(), 1, "{:?}", r.overhangs);
    let tab = &r.overhangs[0];
    assert!(
        (tab.depth_mm - 3.0).abs() < 0.15 && (r.overhang_mm - 3.0).abs() < 0.15,
        "{tab:?}"
    );
    assert!((tab.area_mm2 - 12.0).abs() < 1.5, "{tab:?}");
    assert!(
        tab.bounds.contains(truth.apply(Point::new(54.9, 10.0))),
        "{tab:?}"
    );
    assert!(r.gap_mm < 0.15);
}

#[test]
fn a_missing_notch_is_told_as_trim_that_reaches_into_the_place() {
    // The donor has no notch of 5 x 6 mm: its middle is 2.5 mm from the notch's end and 3 from its sides,
    // and the open side is outside of everything: deepest at the middle of the open side, 3 mm.
    let donor = union(&[board(), rectangle(46.9, 19.9, 5.1, 6.2)]).remove(0);
    let truth = Pose::new(-3.0, 9.0, 200.0);
    let r = registered(&donor, &board().placed(truth), false);
    assert_found(&r, truth, &board());
    assert_eq!(r.verdict, Verdict::Trim);
    assert!((r.overhang_mm - 3.0).abs() < 0.01, "{}", r.overhang_mm);
    assert!((r.overhang_area_mm2 - 30.0).abs() < 0.1);
}

#[test]
fn a_missing_hole_overhangs_by_the_holes_radius() {
    let donor = Outline::try_new(
        board().outer().points().to_vec(),
        vec![board().holes()[0].points().to_vec()],
    )
    .unwrap();
    let r = registered(&donor, &board(), false);
    assert_found(&r, Pose::default(), &board());
    // The hole of radius 2 is a polygon of 48 corners: its sides lie r (1 - cos(pi/48)) nearer.
    assert!(
        (r.overhang_mm - 2.0 * (std::f64::consts::PI / 48.0).cos()).abs() < 0.003,
        "{}",
        r.overhang_mm
    );
    assert!(r.overhangs[0].at.distance_mm(Point::new(40.0, 30.0)) < 0.01);
}

#[test]
fn a_part_of_another_size_is_centred_and_refused_or_loose() {
    let place = rectangle(0.0, 0.0, 40.0, 30.0);
    let larger = registered(&rectangle(0.0, 0.0, 42.0, 32.0), &place, false);
    assert_eq!(larger.verdict, Verdict::No);
    // 1 mm all round, root of two at the corners.
    assert!(
        (larger.overhang_mm - std::f64::consts::SQRT_2).abs() < 0.02,
        "{}",
        larger.overhang_mm
    );
    let smaller = registered(&rectangle(0.0, 0.0, 39.0, 29.0), &place, false);
    assert_eq!(smaller.verdict, Verdict::Fit);
    assert!(
        (smaller.gap_mm - 0.5 * std::f64::consts::SQRT_2).abs() < 0.02,
        "{}",
        smaller.gap_mm
    );
    let tiny = registered(&rectangle(0.0, 0.0, 9.0, 9.0), &place, false);
    assert_eq!(tiny.verdict, Verdict::No, "covers a fifteenth of the place");
}

#[test]
fn another_shape_does_not_fit() {
    let r = registered(
        &flower((0.0, 0.0), (15.0, 5.0, 5.0), 300, 0.0),
        &rectangle(0.0, 0.0, 30.0, 25.0),
        true,
    );
    assert_eq!(r.verdict, Verdict::No);
}

#[test]
fn areas_add_up() {
    let (a, b) = (with_tab(), board().placed(Pose::new(1.0, 2.0, 3.0)));
    let r = registered(&a, &b, false);
    assert!((r.common_area_mm2 + r.overhang_area_mm2 - a.area_mm2()).abs() < 1e-3);
    assert!((r.common_area_mm2 + r.gap_area_mm2 - b.area_mm2()).abs() < 1e-3);
}

#[test]
fn work_can_be_stopped() {
    struct Never;
    impl Watch for Never {
        fn step(&self, _: &str, _: f64) -> Result<(), Cancelled> {
            Err(Cancelled)
        }
    }
    let stopped = register(&board(), &board(), &Options::default(), &Never);
    assert_eq!(stopped.unwrap_err(), Cancelled);
}

/// Any turn, either face, noise of 0.05 mm in both, points of its own in each.
#[test]
fn any_placing_of_the_board_comes_back() {
    let given = (
        any::<u64>(),
        -180.0..180.0f64,
        -200.0..200.0f64,
        any::<bool>(),
    );
    slowly(6, 60, &given, |(seed, turn_deg, x, over)| {
        let truth = Pose::new(x, 0.3 * x, turn_deg);
        let shown = if over { board().mirrored() } else { board() };
        let place = try_measured(&shown.placed(truth), 0.15, 0.05, seed);
        let part = try_measured(&board(), 0.2, 0.05, seed ^ 1);
        prop_assume!(place.is_some() && part.is_some());
        let (place, part) = (place.unwrap(), part.unwrap());
        let r = registered(&part, &place, true);
        prop_assert_eq!(r.flipped, over);
        let (mm, deg) = errors(r.b_from_a, truth, &shown);
        prop_assert!(
            mm <= PLACE_MM + if over { 0.05 } else { 0.0 } && deg <= TURN_DEG,
            "{} {}",
            mm,
            deg
        );
        Ok(())
    });
}
