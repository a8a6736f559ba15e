//! Regions against outlines laid beside each other and on each other.

use super::*;
use shape::Random;
use shape::clearance_mm;

fn outline(list: &[(f64, f64)]) -> Outline {
    Outline::try_new(
        list.iter().map(|&(x, y)| Point::new(x, y)).collect(),
        vec![],
    )
    .expect("a valid outline")
}

fn horseshoe() -> Outline {
    outline(&[
        (0.0, 0.0),
        (20.0, 0.0),
        (20.0, 16.0),
        (14.0, 16.0),
        (14.0, 6.0),
        (6.0, 6.0),
        (6.0, 18.0),
        (0.0, 15.0),
    ])
}

fn frame() -> Outline {
    let ring = |l: f64, h: f64| {
        [(l, l), (h, l), (h, h), (l, h)]
            .map(|(x, y)| Point::new(x, y))
            .to_vec()
    };
    Outline::try_new(ring(0.0, 24.0), vec![ring(3.0, 21.0)]).expect("a valid outline")
}

/// Truth: `shape::clearance_mm`, an edge tree that knows nothing of sums.
#[test]
fn outside_the_region_the_depth_is_what_lacks_to_the_gap() {
    let triangle = outline(&[(0.0, 0.0), (7.0, 1.0), (3.0, 6.0)]);
    let mut dice = Random::new(7);
    for (a, b) in [
        (horseshoe(), triangle.clone()),
        (frame(), triangle.clone()),
        (horseshoe(), horseshoe()),
    ] {
        for gap in [0.0, 2.5] {
            let region = no_fit(&a, &b, gap);
            for _ in 0..2_000 {
                let d = Vector::new(dice.between(-30.0, 35.0), dice.between(-30.0, 35.0));
                let clearance = clearance_mm(&a, &b.shifted(d));
                let depth = region.depth(Point::new(d.x, d.y)).mm;
                if clearance > 0.0 {
                    assert!((depth - (gap - clearance).max(0.0)).abs() < 1e-6);
                } else {
                    assert!(depth > gap - 1e-6);
                }
            }
        }
    }
}

/// Truth: `shape::clearance_mm`. Without a gap the nearest place on the region's border touches nothing else.
#[test]
fn the_way_out_parts_two_outlines_and_no_shorter_one_does() {
    let (a, b) = (horseshoe(), outline(&[(0.0, 0.0), (7.0, 1.0), (3.0, 6.0)]));
    let region = no_fit(&a, &b, 0.0);
    let mut dice = Random::new(3);
    let mut overlapping = 0;
    for _ in 0..2_000 {
        let d = Vector::new(dice.between(-10.0, 22.0), dice.between(-10.0, 22.0));
        let depth = region.depth(Point::new(d.x, d.y));
        if depth.mm > 0.01 {
            overlapping += 1;
            let away = d + depth.out * (depth.mm + 1e-6);
            assert!(clearance_mm(&a, &b.shifted(away)) > 0.0);
            let less = d + depth.out * (depth.mm * 0.99);
            assert_eq!(clearance_mm(&a, &b.shifted(less)), 0.0);
        }
    }
    assert!(overlapping > 500, "{overlapping}");
}

/// With a gap, one way out may lead to where another edge is too near; it lessens what lacks all the same.
#[test]
fn with_a_gap_most_ways_out_end_clear_of_everything() {
    let (a, b) = (horseshoe(), outline(&[(0.0, 0.0), (7.0, 1.0), (3.0, 6.0)]));
    let region = no_fit(&a, &b, 1.0);
    let mut dice = Random::new(3);
    let mut cleared = 0;
    for _ in 0..2_000 {
        let mut d = Vector::new(dice.between(-10.0, 22.0), dice.between(-10.0, 22.0));
        for _ in 0..200 {
            let depth = region.depth(Point::new(d.x, d.y));
            d = d + depth.out * depth.mm;
        }
        cleared += usize::from(clearance_mm(&a, &b.shifted(d)) > 1.0 - 1e-6);
    }
    // 1649 of 2000 were seen; inside the horseshoe, too narrow for the gap, ways out lead to and fro.
    assert!(cleared > 1_500, "{cleared}");
}

/// A cross that fits a slot exactly, in lengths that rounding does not keep: beside the slit in their region they overlap.
#[test]
fn beside_the_way_into_a_slot_that_fits_exactly_there_is_no_room() {
    let mut dice = Random::new(5);
    let mut overlapping = 0;
    for n in 0..40 {
        let scale = 2.499_75 + 0.037 * f64::from(n);
        let scaled = |list: &[(f64, f64)]| {
            let list: Vec<_> = list.iter().map(|&(x, y)| (x * scale, y * scale)).collect();
            outline(&list)
        };
        let slotted = scaled(&[
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, 5.0),
            (8.0, 5.0),
            (8.0, 2.0),
            (2.0, 2.0),
            (2.0, 5.0),
            (0.0, 5.0),
        ]);
        let cross = scaled(&[
            (0.0, 2.0),
            (2.0, 2.0),
            (2.0, 0.0),
            (4.0, 0.0),
            (4.0, 2.0),
            (6.0, 2.0),
            (6.0, 4.0),
            (4.0, 4.0),
            (4.0, 6.0),
            (2.0, 6.0),
            (2.0, 4.0),
            (0.0, 4.0),
        ]);
        for (a, b) in [(&slotted, &cross), (&cross, &slotted)] {
            let region = no_fit(a, b, 0.0);
            for _ in 0..400 {
                let mut off = || dice.between(-10.0 * scale, 10.0 * scale);
                let d = Vector::new(off(), off());
                let shared = shape::intersection_area_mm2(a, &b.shifted(d));
                if shared > 1e-6 {
                    overlapping += 1;
                    let depth = region.depth(Point::new(d.x, d.y)).mm;
                    assert!(depth > 0.0, "{scale}: {shared} mm2 shared at {d:?}");
                }
            }
        }
    }
    assert!(overlapping > 5_000, "{overlapping}");
}

/// Truth: `shape::intersection_area_mm2`. Outlines of many corners on a coarse raster have many sides in common, and so
/// regions whose rings come with points on straight sides.
#[test]
fn of_jagged_outlines_the_region_holds_every_overlap_and_nothing_else() {
    let mut dice = Random::new(11);
    let (mut overlapping, mut apart) = (0, 0);
    for _ in 0..60 {
        let mut jagged = || {
            let corner = |k: usize, r: f64| {
                let t = k as f64 * std::f64::consts::TAU / 20.0;
                ((r * t.cos()).round() * 0.7, (r * t.sin()).round() * 0.7)
            };
            let mut corners: Vec<_> = (0..20)
                .map(|k| corner(k, dice.between(9.0, 16.0)))
                .collect();
            corners.dedup();
            let points = corners.into_iter().map(|(x, y)| Point::new(x, y));
            Outline::try_new(points.collect(), vec![])
        };
        let (Ok(a), Ok(b)) = (jagged(), jagged()) else {
            continue;
        };
        let region = no_fit(&a, &b, 0.0);
        for _ in 0..200 {
            let d = Vector::new(dice.between(-24.0, 24.0), dice.between(-24.0, 24.0));
            let depth = region.depth(Point::new(d.x, d.y)).mm;
            let shared = shape::intersection_area_mm2(&a, &b.shifted(d));
            if depth == 0.0 {
                apart += 1;
                assert!(shared < 1e-5, "{shared} mm2 shared at {d:?}");
            } else if depth > 0.01 {
                overlapping += 1;
                assert!(shared > 0.0, "nothing shared {depth} mm deep at {d:?}");
            }
        }
    }
    assert!(
        overlapping > 2_000 && apart > 2_000,
        "{overlapping} {apart}"
    );
}

#[test]
fn points_without_shape_go_and_corners_stay() {
    let corners = [(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0)].map(|(x, y)| Point::new(x, y));
    let noise = |p: Point, by: f64| p + Vector::new(by, -by);
    // Every corner twice and thrice, as rounding leaves it, points along the sides, and each place as the first.
    let mut ring = Vec::new();
    for k in 0..4 {
        let (at, next) = (corners[k], corners[(k + 1) % 4]);
        ring.extend([
            at,
            noise(at, 4e-15),
            noise(at, -2e-15),
            at + (next - at) * 0.3,
            at + (next - at) * 0.7,
        ]);
    }
    for first in 0..ring.len() {
        let mut turned = ring.clone();
        turned.rotate_left(first);
        straighten(&mut turned);
        assert_eq!(turned.len(), 4, "{first}: {turned:?}");
        for corner in corners {
            assert!(
                turned.iter().any(|p| p.distance_mm(corner) < 1e-9),
                "{first}: {turned:?}"
            );
        }
    }
}

/// Two squares of side 24, one with a hole of 18, and one of 10: (24 + 10)^2 less (18 - 10)^2.
#[test]
fn a_hole_stays_open_for_what_fits_in_it() {
    let square = outline(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]);
    let region = no_fit(&frame(), &square, 0.0);
    assert!((region.area_mm2() - (34.0 * 34.0 - 64.0)).abs() < 1e-6);
    assert_eq!(region.depth(Point::new(7.0, 7.0)).mm, 0.0);
}
