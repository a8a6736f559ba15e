//! Which frames hold a set, and the least one.

#![allow(missing_docs, clippy::unwrap_used)]

mod devices;

use arrange::{FixedWidth, Options, Room, STOCK_SIZES, choose_frame, frames_for, least_frame};
use devices::{faults, frame, laid_out, recorder};
use piece::Piece;

fn quick() -> Options {
    Options {
        steps: 1_500,
        ..Options::default()
    }
}

fn layout_faults(piece: &Piece, found: &arrange::FrameFit) -> Vec<String> {
    let mut piece = laid_out(piece, found.arranged.clone().unwrap());
    piece.frame = found.frame.clone();
    faults(&piece)
}

#[test]
fn frames_come_smallest_first_and_each_layout_keeps_the_rules_in_its_frame() {
    let piece = recorder(frame(300.0, 400.0));
    let found = frames_for(&piece, &STOCK_SIZES, &quick(), &FixedWidth, &shape::Silent).unwrap();
    assert_eq!(found.len(), STOCK_SIZES.len());
    let area = |f: &arrange::FrameFit| f.frame.size_mm[0] * f.frame.size_mm[1];
    assert!(found.windows(2).all(|w| area(&w[0]) <= area(&w[1])));
    let holding: Vec<_> = found.iter().filter(|f| f.arranged.is_some()).collect();
    assert!(!holding.is_empty() && holding.len() < found.len());
    for f in &holding {
        assert_eq!(layout_faults(&piece, f), Vec::<String>::new(), "{}", f.name);
    }
    // A frame of 10 x 15 cm cannot hold a shell of 64 x 120 mm with all else; one of 60 x 90 cm surely does.
    assert!(found[0].arranged.is_none());
    assert!(found[found.len() - 1].arranged.is_some());
}

/// One command said that a frame holds the parts, another took a larger one.
#[test]
fn the_frame_that_is_chosen_is_the_first_of_those_that_hold_the_parts_with_captions() {
    let piece = recorder(frame(300.0, 400.0));
    let found = frames_for(&piece, &STOCK_SIZES, &quick(), &FixedWidth, &shape::Silent).unwrap();
    let first = found.into_iter().find_map(|f| {
        let arranged = f.arranged?;
        let spread = matches!(arranged.room, Room::Composed | Room::Spread);
        (spread && arranged.uncaptioned.is_empty()).then_some((f.frame, arranged))
    });
    let chosen = choose_frame(&piece, &STOCK_SIZES, &quick(), &FixedWidth, &shape::Silent).unwrap();
    assert!(chosen.is_some());
    assert_eq!(chosen, first);
}

#[test]
fn the_least_frame_holds_the_set_and_is_smaller_than_the_least_stock_frame_that_is_composed() {
    let piece = recorder(frame(300.0, 400.0));
    let least = least_frame(&piece, &quick(), &FixedWidth, &shape::Silent)
        .unwrap()
        .unwrap();
    assert_eq!(layout_faults(&piece, &least), Vec::<String>::new());
    let stock = frames_for(&piece, &STOCK_SIZES, &quick(), &FixedWidth, &shape::Silent).unwrap();
    let composed = stock
        .iter()
        .find(|f| {
            f.arranged
                .as_ref()
                .is_some_and(|a| a.room == arrange::Room::Composed)
        })
        .unwrap();
    let area = |f: &arrange::FrameFit| f.frame.size_mm[0] * f.frame.size_mm[1];
    assert!(
        area(&least) <= area(composed),
        "{:?} {:?}",
        least.frame.size_mm,
        composed.frame.size_mm
    );
}
