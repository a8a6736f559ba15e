//! Strips are filled without overlaps, the same way for the same seed, and short.

mod common;

use common::{angle, frame, is_sound, item, outline, rectangle, star};
use nest::{Budget, Item, Spacing, StoppedBy, Strip, Turns, fill_strip};
use proptest::prelude::*;
use shape::{Cancelled, Silent, Watch};
use std::sync::atomic::{AtomicUsize, Ordering};

fn budget(steps: u64, threads: usize) -> Budget {
    Budget {
        steps,
        seed: 5,
        threads,
    }
}

fn strip(height_mm: f64, gap_mm: f64, edge_mm: f64) -> Strip {
    Strip::try_new(height_mm, Spacing { gap_mm, edge_mm }).expect("a possible strip")
}

/// Stars, rectangles and angles of any size, with demands and turns.
fn sets() -> impl Strategy<Value = Vec<Item>> {
    let shape = prop_oneof![
        prop::collection::vec(4.0..16.0_f64, 5..12).prop_map(|r| star(&r)),
        (3.0..25.0_f64, 3.0..25.0_f64).prop_map(|(w, h)| rectangle(w, h)),
        (8.0..25.0_f64, 8.0..25.0_f64, 2.0..6.0_f64).prop_map(|(w, h, a)| angle(w, h, a)),
        (10.0..25.0_f64).prop_map(|s| frame(s, 0.7 * s)),
    ];
    let turns = prop_oneof![
        Just(Turns::none()),
        Just(Turns::quarters()),
        Just(Turns::Free),
        prop::collection::vec(-400.0..400.0_f64, 1..5).prop_map(Turns::Listed),
    ];
    prop::collection::vec(
        (shape, 1..4_usize, turns).prop_map(|(o, demand, turns)| item(o, demand, turns)),
        1..6,
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn any_set_lies_clear_inside_the_strip(items in sets(), gap in prop_oneof![Just(0.0), 0.1..3.0_f64], edge in 0.0..3.0_f64) {
        let strip = strip(50.0, gap, edge);
        let filled = fill_strip(&items, &strip, &budget(300, 1), &Silent).expect("all fit");
        is_sound(&items, &filled.placements, [filled.length_mm, 50.0], gap, edge);
        let area: f64 = items.iter().map(|i| i.demand as f64 * i.outline.area_mm2()).sum();
        prop_assert!((filled.density - area / (50.0 * filled.length_mm)).abs() < 1e-12);
    }

    #[test]
    fn one_thread_and_two_give_the_same_bytes(items in sets()) {
        let strip = strip(45.0, 0.5, 0.0);
        let [one, two] = [1, 2].map(|threads| {
            fill_strip(&items, &strip, &budget(400, threads), &Silent).expect("all fit")
        });
        prop_assert_eq!(one, two);
    }
}

/// The meetings of the lanes come every 2,000 steps: this goes through several.
#[test]
fn threads_change_nothing_beyond_the_first_meetings() {
    let items = [
        item(angle(20.0, 14.0, 5.0), 6, Turns::quarters()),
        item(
            star(&[9.0, 5.0, 8.0, 4.0, 9.0, 6.0, 7.0]),
            6,
            Turns::quarters(),
        ),
        item(
            outline(&[(0.0, 0.0), (12.0, 0.0), (3.0, 11.0)]),
            6,
            Turns::quarters(),
        ),
    ];
    let [one, two] = [1, 2].map(|threads| {
        fill_strip(
            &items,
            &strip(40.0, 0.0, 0.0),
            &budget(12_000, threads),
            &Silent,
        )
        .expect("all fit")
    });
    assert_eq!(one.stopped_by, StoppedBy::Steps);
    assert_eq!(one, two);
}

/// Eight triangles make four squares of 10 in a strip 20 high: 20 long. Construction.
#[test]
fn triangles_that_make_squares_are_joined() {
    let triangle = outline(&[(0.0, 0.0), (10.0, 0.0), (0.0, 10.0)]);
    let items = [item(triangle, 8, Turns::Listed(vec![0.0, 180.0]))];
    let filled =
        fill_strip(&items, &strip(20.0, 0.0, 0.0), &budget(20_000, 2), &Silent).expect("all fit");
    is_sound(
        &items,
        &filled.placements,
        [filled.length_mm, 20.0],
        0.0,
        0.0,
    );
    assert!(filled.length_mm < 20.02, "{}", filled.length_mm);
}

/// A frame as high as the strip and a square that fits its hole alone: no longer than the frame. Construction.
#[test]
fn a_hole_is_used() {
    let items = [
        item(frame(30.0, 20.0), 1, Turns::none()),
        item(rectangle(17.0, 17.0), 1, Turns::none()),
    ];
    let filled =
        fill_strip(&items, &strip(30.0, 1.0, 0.0), &budget(4_000, 2), &Silent).expect("all fit");
    is_sound(
        &items,
        &filled.placements,
        [filled.length_mm, 30.0],
        1.0,
        0.0,
    );
    assert!(
        (filled.length_mm - 30.0).abs() < 1e-9,
        "{}",
        filled.length_mm
    );
    assert_eq!(filled.stopped_by, StoppedBy::Goal);
}

#[test]
fn outlines_of_thousands_of_points_are_packed_as_drawn() {
    let wavy: Vec<f64> = (0..3_000)
        .map(|k| 15.0 + 2.0 * (f64::from(k) * std::f64::consts::TAU / 500.0).sin())
        .collect();
    let items = [item(star(&wavy), 5, Turns::Free)];
    let filled =
        fill_strip(&items, &strip(70.0, 0.3, 1.0), &budget(500, 2), &Silent).expect("all fit");
    is_sound(
        &items,
        &filled.placements,
        [filled.length_mm, 70.0],
        0.3,
        1.0,
    );
}

/// Ends after so many calls.
struct Impatient(AtomicUsize);

impl Watch for Impatient {
    fn step(&self, _what: &str, share: f64) -> Result<(), Cancelled> {
        assert!((0.0..=1.1).contains(&share), "{share}");
        let left = self.0.load(Ordering::Relaxed);
        self.0.store(left.saturating_sub(1), Ordering::Relaxed);
        if left == 0 { Err(Cancelled) } else { Ok(()) }
    }
}

#[test]
fn a_cancelled_search_returns_its_best_and_says_so() {
    let items = [item(angle(20.0, 14.0, 5.0), 12, Turns::quarters())];
    let watch = Impatient(AtomicUsize::new(6));
    let filled =
        fill_strip(&items, &strip(40.0, 0.0, 0.0), &budget(1 << 40, 2), &watch).expect("all fit");
    assert_eq!(filled.stopped_by, StoppedBy::Watch);
    is_sound(
        &items,
        &filled.placements,
        [filled.length_mm, 40.0],
        0.0,
        0.0,
    );
}

#[test]
fn more_steps_are_never_worse() {
    let items = [
        item(
            star(&[9.0, 5.0, 8.0, 4.0, 9.0, 6.0, 7.0]),
            9,
            Turns::quarters(),
        ),
        item(rectangle(7.0, 12.0), 7, Turns::quarters()),
    ];
    let lengths = [0, 200, 1_000, 4_000, 8_000].map(|steps| {
        fill_strip(&items, &strip(40.0, 0.2, 0.0), &budget(steps, 2), &Silent)
            .expect("all fit")
            .length_mm
    });
    assert!(lengths.windows(2).all(|w| w[1] <= w[0]), "{lengths:?}");
    assert!(lengths[4] < lengths[0], "{lengths:?}");
}
