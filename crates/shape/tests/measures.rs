//! Area, centroid, length and boxes, against closed forms and another library.
//!
//! Reference library: Shapely 2.2.0 (GEOS 3.14.1), asked about the same formulas in double precision.

#![allow(missing_docs, clippy::unwrap_used)]

mod figures;

use figures::{a_with_hole, c, corner_piece, disc, random_star, rectangle};
use proptest::prelude::*;
use shape::{Bounds, Outline, Point, Pose, Random, Vector};

#[track_caller]
fn assert_near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{found}, expected {expected} within {within}"
    );
}

/// Closed forms, by hand.
#[test]
fn known_figures_have_their_area_centroid_and_length() {
    let r = rectangle(3.0, -2.0, 8.0, 5.0);
    assert_eq!((r.area_mm2(), r.perimeter_mm()), (40.0, 26.0));
    assert_eq!(r.centroid(), Point::new(7.0, 0.5));

    let triangle = [(0.0, 0.0), (6.0, 0.0), (0.0, 9.0)].map(|(x, y)| Point::new(x, y));
    let triangle = Outline::try_new(triangle.to_vec(), vec![]).unwrap();
    assert_eq!(triangle.area_mm2(), 27.0);
    assert_eq!(triangle.centroid(), Point::new(2.0, 3.0));

    // 40 x 30 less 20 x 15: area 900; moments 1200 (20, 15) - 300 (30, 22.5).
    let corner = corner_piece();
    assert_eq!(corner.area_mm2(), 900.0);
    assert_near(
        corner.centroid().x,
        (1200.0 * 20.0 - 300.0 * 30.0) / 900.0,
        1e-12,
    );
    assert_near(
        corner.centroid().y,
        (1200.0 * 15.0 - 300.0 * 22.5) / 900.0,
        1e-12,
    );

    // Regular n-gon of circumradius r: n/2 r^2 sin(2 pi / n).
    let n = 17_usize;
    let expected = 0.5 * n as f64 * 100.0 * (std::f64::consts::TAU / n as f64).sin();
    assert_near(disc(5.0, 5.0, 10.0, n).area_mm2(), expected, 1e-11);
}

#[test]
fn a_hole_is_taken_off_the_area_and_pushes_the_centroid_away() {
    let plate = Outline::try_new(
        rectangle(0.0, 0.0, 10.0, 10.0).outer().points().to_vec(),
        vec![rectangle(6.0, 4.0, 2.0, 2.0).outer().points().to_vec()],
    )
    .unwrap();
    assert_eq!(plate.area_mm2(), 96.0);
    assert_near(plate.centroid().x, (100.0 * 5.0 - 4.0 * 7.0) / 96.0, 1e-12);
    assert_eq!(plate.perimeter_mm(), 48.0);
    assert!(plate.contains(Point::new(1.0, 1.0)));
    assert!(!plate.contains(Point::new(7.0, 5.0)));
    assert!(!plate.contains(Point::new(11.0, 5.0)));
}

#[test]
fn flowers_measure_as_shapely_measures_them() {
    let a = a_with_hole();
    let area_from_shapely = 1_035.454_105_799_205_3;
    let centroid_from_shapely = (-0.251_067_539_210_236_06, -0.502_135_078_420_465_1);
    let length_from_shapely = 228.263_922_979_639_72;
    assert_near(a.area_mm2(), area_from_shapely, 1e-9);
    assert_near(a.centroid().x, centroid_from_shapely.0, 1e-11);
    assert_near(a.centroid().y, centroid_from_shapely.1, 1e-11);
    assert_near(a.perimeter_mm(), length_from_shapely, 1e-9);
}

#[test]
fn a_placed_flower_lies_where_shapely_puts_it() {
    let placed = a_with_hole().placed(Pose::new(7.5, -3.25, 33.0));
    let bounds_from_shapely = [
        -17.465_738_368_864_343,
        -26.864_380_582_653_062,
        29.178_301_908_191_358,
        21.037_042_162_033_465,
    ];
    let bounds = placed.bounds();
    let found = [bounds.min.x, bounds.min.y, bounds.max.x, bounds.max.y];
    for (found, expected) in found.into_iter().zip(bounds_from_shapely) {
        assert_near(found, expected, 1e-9);
    }
    assert_near(placed.centroid().x, 7.562_919_408_856_008_6, 1e-9);
    assert_near(placed.centroid().y, -3.807_867_093_683_271, 1e-9);
}

/// Far from the origin the plain shoelace formula loses about six digits at 90 m.
#[test]
fn area_keeps_its_digits_far_from_the_origin() {
    let far = c().shifted(Vector::new(90_000.0, -90_000.0));
    assert_near(far.area_mm2(), c().area_mm2(), 1e-6);
}

#[test]
fn quarter_turns_are_exact_to_the_last_bit() {
    let corner = corner_piece();
    for (turn_deg, expected) in [
        (90.0, Point::new(-1.0, 2.0)),
        (-270.0, Point::new(-1.0, 2.0)),
        (180.0, Point::new(-2.0, -1.0)),
        (-90.0, Point::new(1.0, -2.0)),
        (720.0, Point::new(2.0, 1.0)),
    ] {
        let pose = Pose::new(0.0, 0.0, turn_deg);
        assert_eq!(pose.apply(Point::new(2.0, 1.0)), expected);
        assert_eq!(corner.placed(pose).area_mm2(), 900.0);
    }
}

#[test]
fn mirroring_keeps_the_box_and_swaps_left_and_right() {
    let corner = corner_piece();
    let mirrored = corner.mirrored();
    assert_eq!(mirrored.bounds(), corner.bounds());
    assert!(mirrored.contains(Point::new(35.0, 25.0)));
    assert!(!mirrored.contains(Point::new(5.0, 25.0)));
    assert!(mirrored.outer().signed_area_mm2() > 0.0);
    assert_eq!(mirrored.mirrored(), corner);
}

#[test]
fn holes_run_clockwise_and_outer_rings_counter_clockwise_however_they_come() {
    let outer: Vec<Point> = rectangle(0.0, 0.0, 10.0, 10.0).outer().points().to_vec();
    let hole: Vec<Point> = rectangle(2.0, 2.0, 3.0, 3.0).outer().points().to_vec();
    let backwards = |ring: &[Point]| ring.iter().rev().copied().collect::<Vec<_>>();
    for (outer, hole) in [
        (outer.clone(), hole.clone()),
        (backwards(&outer), hole.clone()),
        (outer.clone(), backwards(&hole)),
        (backwards(&outer), backwards(&hole)),
    ] {
        let outline = Outline::try_new(outer, vec![hole]).unwrap();
        assert!(outline.outer().signed_area_mm2() > 0.0);
        assert!(outline.holes()[0].signed_area_mm2() < 0.0);
        assert_eq!(outline.area_mm2(), 91.0);
    }
}

#[test]
fn boxes_keep_their_distances() {
    let unit = Bounds::between(Point::new(1.0, 1.0), Point::new(0.0, 0.0));
    let beside = Bounds::between(Point::new(4.0, 0.5), Point::new(5.0, 0.6));
    let aslant = Bounds::between(Point::new(4.0, 5.0), Point::new(5.0, 6.0));
    assert_eq!(unit.distance_mm(beside), 3.0);
    assert_eq!(unit.distance_mm(aslant), 5.0);
    assert_eq!(unit.distance_mm(unit.grown(-0.2)), 0.0);
    assert_eq!(unit.joined(beside).width_mm(), 5.0);
    assert!(unit.holds(unit) && !unit.holds(unit.grown(1e-9)));
    assert_eq!(Bounds::around([]), None);
}

fn any_pose() -> impl Strategy<Value = Pose> {
    (-500.0..500.0f64, -500.0..500.0f64, -720.0..720.0f64).prop_map(|(x, y, t)| Pose::new(x, y, t))
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_pose_and_its_inverse_bring_every_point_back(
        pose in any_pose(), x in -300.0..300.0f64, y in -300.0..300.0f64,
    ) {
        let p = Point::new(x, y);
        prop_assert!(pose.inverse().apply(pose.apply(p)).distance_mm(p) < 1e-9);
        prop_assert!(pose.apply(pose.inverse().apply(p)).distance_mm(p) < 1e-9);
    }

    #[test]
    fn poses_chain_as_their_names_say(
        a_from_b in any_pose(), b_from_c in any_pose(), x in -300.0..300.0f64, y in -300.0..300.0f64,
    ) {
        let p = Point::new(x, y);
        let at_once = a_from_b.after(b_from_c).apply(p);
        prop_assert!(at_once.distance_mm(a_from_b.apply(b_from_c.apply(p))) < 1e-9);
    }

    #[test]
    fn a_turn_about_a_point_leaves_it_and_keeps_distances_from_it(
        turn_deg in -720.0..720.0f64, at in (-300.0..300.0f64, -300.0..300.0f64),
        to in (-300.0..300.0f64, -300.0..300.0f64), far in 1.0..100.0f64,
    ) {
        let (at, to) = (Point::new(at.0, at.1), Point::new(to.0, to.1));
        let beside = at + Vector::new(far, 0.0);
        let about = Pose::about(at, turn_deg);
        prop_assert!(about.apply(at).distance_mm(at) < 1e-9);
        prop_assert!((about.apply(beside).distance_mm(at) - far).abs() < 1e-9);
        let arm = about.apply(beside) - at;
        let (s, c) = turn_deg.to_radians().sin_cos();
        prop_assert!((arm.x - far * c).abs() < 1e-9 && (arm.y - far * s).abs() < 1e-9);
        let bringing = Pose::bringing(at, to, turn_deg);
        prop_assert!(bringing.apply(at).distance_mm(to) < 1e-9);
        prop_assert_eq!(bringing.turn_deg, turn_deg);
    }

    #[test]
    fn rigid_motions_and_mirrors_keep_area_length_and_holes(seed in any::<u64>(), pose in any_pose()) {
        let star = random_star(&mut Random::new(seed), 3.0, -4.0, 20.0);
        for moved in [star.placed(pose), star.mirrored(), star.at_origin().0] {
            prop_assert!((moved.area_mm2() - star.area_mm2()).abs() < 1e-8);
            prop_assert!((moved.perimeter_mm() - star.perimeter_mm()).abs() < 1e-8);
            prop_assert_eq!(moved.holes().len(), star.holes().len());
        }
        let there_and_back = star.placed(pose).placed(pose.inverse());
        for (p, q) in there_and_back.outer().points().iter().zip(star.outer().points()) {
            prop_assert!(p.distance_mm(*q) < 1e-9);
        }
    }

    #[test]
    fn at_origin_undoes_with_its_shift(seed in any::<u64>()) {
        let star = random_star(&mut Random::new(seed), 113.0, -44.0, 20.0);
        let (moved, shift) = star.at_origin();
        prop_assert!(moved.bounds().min.distance_mm(Point::default()) < 1e-12);
        let back = moved.shifted(shift);
        prop_assert!(back.bounds().min.distance_mm(star.bounds().min) < 1e-12);
    }

    #[test]
    fn json_gives_back_the_same_outline_to_the_last_bit(seed in any::<u64>()) {
        let star = random_star(&mut Random::new(seed), 0.1, 0.7, 33.3);
        let text = serde_json::to_string(&star).unwrap();
        prop_assert_eq!(serde_json::from_str::<Outline>(&text).unwrap(), star);
    }
}
