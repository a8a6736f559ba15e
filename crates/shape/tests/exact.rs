//! Lines and arcs by their bulges, against the definition and closed forms; what is refused.

#![allow(missing_docs, clippy::unwrap_used)]

use shape::exact::{ExactError, ExactOutline, ExactPoint, Segment, offset_exact};
use shape::{Outline, OutlineError, Point, Pose};
use std::f64::consts::PI;

fn points(list: &[[f64; 3]]) -> Vec<ExactPoint> {
    list.iter().map(|&p| ExactPoint::from(p)).collect()
}

fn outline(outer: &[[f64; 3]], holes: &[&[[f64; 3]]]) -> Result<ExactOutline, ExactError> {
    ExactOutline::try_new(points(outer), holes.iter().map(|h| points(h)).collect())
}

/// By the definition of the bulge (AutoDesk's DXF reference, group code 42; recalled, not verified): 1 is
/// a half circle, positive counter-clockwise.
#[test]
fn a_bulge_of_one_is_a_half_circle_to_the_right_of_its_chord() {
    let s = Segment {
        from: Point::new(0.0, 0.0),
        to: Point::new(2.0, 0.0),
        bulge: 1.0,
    };
    let c = s.circle().unwrap();
    assert!(
        c.centre.distance_mm(Point::new(1.0, 0.0)) < 1e-12 && (c.radius_mm - 1.0).abs() < 1e-12
    );
    assert!(
        s.at(0.5).distance_mm(Point::new(1.0, -1.0)) < 1e-12,
        "counter-clockwise runs below"
    );
    let clockwise = Segment { bulge: -1.0, ..s };
    assert!(clockwise.at(0.5).distance_mm(Point::new(1.0, 1.0)) < 1e-12);
}

#[test]
fn arcs_of_any_angle_have_the_length_and_sagitta_of_their_circle() {
    for degrees in [1.0, 30.0, 90.0, 179.0, 181.0, 270.0, 330.0] {
        let (angle, r) = (f64::to_radians(degrees), 7.0);
        let at = |t: f64| Point::new(r * t.cos(), r * t.sin());
        let s = Segment {
            from: at(0.3),
            to: at(0.3 + angle),
            bulge: (angle / 4.0).tan(),
        };
        assert!((s.length_mm() - r * angle).abs() < 1e-9);
        assert!(s.circle().unwrap().centre.distance_mm(Point::new(0.0, 0.0)) < 1e-9);
        assert!(s.at(0.5).distance_mm(at(0.3 + angle / 2.0)) < 1e-9);
        let outside = 2.5;
        let p = Point::new(
            (r + outside) * (0.3 + angle / 3.0).cos(),
            (r + outside) * (0.3 + angle / 3.0).sin(),
        );
        assert!((s.distance_mm(p) - outside).abs() < 1e-9);
        let [start, end] = s.directions();
        assert!(
            (start.x - -(0.3f64.sin())).abs() < 1e-9 && (end.y - (0.3 + angle).cos()).abs() < 1e-9
        );
    }
}

#[test]
fn a_circle_of_two_arcs_has_its_area_but_for_the_chords() {
    let circle = outline(&[[-5.0, 0.0, 1.0], [5.0, 0.0, 1.0]], &[]).unwrap();
    let polygon = circle.polygon().unwrap();
    let missing = PI * 25.0 - polygon.area_mm2();
    // A chord of sagitta s misses 2/3 of it on the mean.
    assert!(
        missing > 0.0 && missing < 0.005 * 2.0 * PI * 5.0,
        "{missing}"
    );
    assert!(circle.distance_mm(&polygon) <= 0.0075);
}

#[test]
fn rings_come_out_counter_clockwise_with_clockwise_holes_whichever_way_they_went_in() {
    let b = (PI / 8.0).tan();
    // Clockwise, with one corner rounded; the hole counter-clockwise.
    let given = outline(
        &[
            [0.0, 0.0, 0.0],
            [0.0, 20.0, 0.0],
            [25.0, 20.0, -b],
            [30.0, 15.0, 0.0],
            [30.0, 0.0, 0.0],
        ],
        &[&[[8.0, 8.0, 1.0], [12.0, 8.0, 1.0]]],
    )
    .unwrap();
    let polygon = given.polygon().unwrap();
    let area = 600.0 - (25.0 - PI * 25.0 / 4.0) - PI * 4.0;
    assert!(
        (polygon.area_mm2() - area).abs() < 0.1,
        "{}",
        polygon.area_mm2()
    );
    let arc = given.outer().segments().find(|s| s.bulge != 0.0).unwrap();
    assert!(
        arc.bulge > 0.0
            && arc
                .circle()
                .unwrap()
                .centre
                .distance_mm(Point::new(25.0, 15.0))
                < 1e-9
    );
    assert!(given.holes()[0].points().iter().all(|p| p.bulge == -1.0));
}

#[test]
fn turning_and_mirroring_carry_the_arcs_along() {
    let b = (PI / 8.0).tan();
    let exact = outline(
        &[
            [0.0, 0.0, 0.0],
            [30.0, 0.0, 0.0],
            [30.0, 15.0, b],
            [25.0, 20.0, 0.0],
            [0.0, 20.0, -0.3],
        ],
        &[&[[8.0, 8.0, 1.0], [12.0, 8.0, 1.0]]],
    )
    .unwrap();
    let part = Outline::from_exact(exact).unwrap();
    for moved in [
        part.mirrored(),
        part.placed(Pose::new(3.0, -8.0, 37.0)),
        part.at_origin().0,
    ] {
        let exact = moved.exact().unwrap();
        assert!(
            exact.distance_mm(&moved) <= 0.0075,
            "{}",
            exact.distance_mm(&moved)
        );
    }
}

#[test]
fn arcs_that_cross_other_sides_are_refused() {
    // The left side bows 8 mm inwards, over a hole that straight sides would clear.
    let bowed = outline(
        &[
            [0.0, 0.0, 0.0],
            [20.0, 0.0, 0.0],
            [20.0, 20.0, 0.0],
            [0.0, 20.0, -0.8],
        ],
        &[&[[5.0, 10.0, 1.0], [9.0, 10.0, 1.0]]],
    );
    assert!(matches!(bowed, Err(ExactError::Outline(_))), "{bowed:?}");
}

#[test]
fn bad_numbers_are_refused_by_ring_and_index() {
    for bad in [f64::NAN, f64::INFINITY, 21.0] {
        let refused = outline(&[[0.0, 0.0, 0.0], [9.0, 0.0, bad], [9.0, 9.0, 0.0]], &[]);
        assert!(matches!(
            refused,
            Err(ExactError::NotUsable { index: 1, .. })
        ));
    }
    let refused = outline(&[[0.0, 0.0, 0.0]], &[]);
    assert!(matches!(
        refused,
        Err(ExactError::TooFewPoints { found: 1, .. })
    ));
    // A circle of 90 m radius needs 9,425 points: a chord over 2 acos(1 - 0.005 / 90000) is off by 0.005 mm.
    assert!(outline(&[[-9e4, 0.0, 1.0], [9e4, 0.0, 1.0]], &[]).is_ok());
    // The arc of 348 degrees over the same chord has a radius of 902 m and needs 28,880.
    let huge = outline(&[[-9e4, 0.0, 20.0], [9e4, 0.0, 0.0]], &[]);
    assert!(
        matches!(huge, Err(ExactError::TooManyPoints { .. })),
        "{huge:?}"
    );
}

#[test]
fn an_outline_carries_its_arcs_through_json_and_refuses_others() {
    let exact = outline(&[[-5.0, 0.0, 1.0], [5.0, 0.0, 1.0]], &[]).unwrap();
    let part = Outline::from_exact(exact).unwrap();
    let text = serde_json::to_string(&part).unwrap();
    assert_eq!(serde_json::from_str::<Outline>(&text).unwrap(), part);
    // 0.02 mm larger: twice what is allowed.
    let other = outline(&[[-5.02, 0.0, 1.0], [5.02, 0.0, 1.0]], &[]).unwrap();
    let refused = part.clone().with_exact(other);
    assert!(
        matches!(refused, Err(OutlineError::ExactDiffers { apart_mm }) if (apart_mm - 0.025).abs() < 0.002),
        "{refused:?}"
    );
    let with_hole = outline(
        &[[-5.0, 0.0, 1.0], [5.0, 0.0, 1.0]],
        &[&[[-1.0, 0.0, 1.0], [1.0, 0.0, 1.0]]],
    )
    .unwrap();
    assert!(part.with_exact(with_hole).is_err());
}

/// Area inside a ring of lines and arcs: the chords' polygon and the segments of circle beside it.
fn area_mm2(exact: &ExactOutline) -> f64 {
    let ring = |ring: &shape::ExactRing| -> f64 {
        ring.segments()
            .map(|s| {
                let chord = 0.5 * (s.from.x * s.to.y - s.from.y * s.to.x);
                let angle = s.angle_rad();
                let r = s.circle().map_or(0.0, |c| c.radius_mm);
                chord + 0.5 * r * r * (angle - angle.sin())
            })
            .sum()
    };
    exact.rings().map(ring).sum()
}

fn moved(outer: &[[f64; 3]], holes: &[&[[f64; 3]]], by_mm: f64) -> ExactOutline {
    let outline = Outline::from_exact(outline(outer, holes).unwrap()).unwrap();
    let moved = offset_exact(&outline, by_mm);
    assert_eq!(moved.len(), 1);
    moved[0].exact().expect("lines and arcs stay").clone()
}

const L_SHAPE: [[f64; 3]; 6] = [
    [0.0, 0.0, 0.0],
    [40.0, 0.0, 0.0],
    [40.0, 10.0, 0.0],
    [10.0, 10.0, 0.0],
    [10.0, 30.0, 0.0],
    [0.0, 30.0, 0.0],
];

/// By Steiner's formula a polygon grown by d has A + P d and a sector for each corner that opens; a corner that closes
/// loses the square that both its sides claim. L: A 600, P 140, five corners open, one closes; the hole of radius 3
/// becomes one of 3 - d.
#[test]
fn lines_and_arcs_that_grow_or_shrink_have_the_area_of_the_closed_form() {
    let hole: &[[f64; 3]] = &[[2.0, 5.0, 1.0], [8.0, 5.0, 1.0]];
    for d in [0.1, 0.75, 1.9] {
        let grown = moved(&L_SHAPE, &[hole], d);
        let wanted = 600.0 + 140.0 * d + 5.0 * 0.25 * PI * d * d - d * d - PI * (3.0 - d).powi(2);
        assert!(
            (area_mm2(&grown) - wanted).abs() < 1e-9,
            "{d}: {}",
            area_mm2(&grown) - wanted
        );
        let (lines, arcs) = grown.counts();
        assert_eq!((lines, arcs), (6, 5 + 2));
        if d > 1.0 {
            continue;
        }
        // The other way: what opens and what closes are the other corners.
        let shrunk = moved(&L_SHAPE, &[hole], -d);
        let wanted = 600.0 - 140.0 * d + 5.0 * d * d - 0.25 * PI * d * d - PI * (3.0 + d).powi(2);
        assert!((area_mm2(&shrunk) - wanted).abs() < 1e-9, "{d}");
        assert_eq!(shrunk.counts(), (6, 1 + 2));
    }
}

/// A box of 30 x 20 with corners of radius 4 that a tool of radius d runs round has corners of 4 + d, and of 4 - d inside.
#[test]
fn smooth_joints_stay_joints() {
    let q = (PI / 8.0).tan();
    let rounded = [
        [4.0, 0.0, 0.0],
        [26.0, 0.0, q],
        [30.0, 4.0, 0.0],
        [30.0, 16.0, q],
        [26.0, 20.0, 0.0],
        [4.0, 20.0, q],
        [0.0, 16.0, 0.0],
        [0.0, 4.0, q],
    ];
    for d in [1.0, -1.0, -3.9] {
        let found = moved(&rounded, &[], d);
        let (w, h, r) = (30.0 + 2.0 * d, 20.0 + 2.0 * d, 4.0 + d);
        assert!(
            (area_mm2(&found) - (w * h - (4.0 - PI) * r * r)).abs() < 1e-9,
            "{d}"
        );
        assert_eq!(found.counts(), (4, 4));
    }
    // Corners that shrink away are sharp.
    let found = moved(&rounded, &[], -5.0);
    assert!((area_mm2(&found) - 20.0 * 10.0).abs() < 1e-9);
    assert_eq!(found.counts(), (4, 0));
}

#[test]
fn what_falls_apart_or_closes_is_a_polygon_and_never_wrong() {
    // A neck of 2 mm falls apart when 1.2 mm are taken off on both sides.
    let neck = [
        [0.0, 0.0, 0.0],
        [10.0, 0.0, 0.0],
        [10.0, 4.0, 0.0],
        [20.0, 4.0, 0.0],
        [20.0, 0.0, 0.0],
        [30.0, 0.0, 0.5],
        [30.0, 10.0, 0.0],
        [20.0, 10.0, 0.0],
        [20.0, 6.0, 0.0],
        [10.0, 6.0, 0.0],
        [10.0, 10.0, 0.0],
        [0.0, 10.0, 0.0],
    ];
    let whole = Outline::from_exact(outline(&neck, &[]).unwrap()).unwrap();
    assert_eq!(offset_exact(&whole, -1.2).len(), 2);
    assert!(offset_exact(&whole, 0.3)[0].exact().is_some());
    // A hole that the growth closes is gone, and an outline that shrinks away is nothing.
    let hole: &[[f64; 3]] = &[[2.0, 5.0, 1.0], [8.0, 5.0, 1.0]];
    let drilled = Outline::from_exact(outline(&L_SHAPE, &[hole]).unwrap()).unwrap();
    let filled = offset_exact(&drilled, 3.5);
    assert!(filled.len() == 1 && filled[0].holes().is_empty());
    assert!(offset_exact(&drilled, -8.0).is_empty());
}
