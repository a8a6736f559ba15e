//! What cannot be placed is refused with what to do, and ends.

mod common;

use common::{item, rectangle};
use nest::{Budget, NestError, Sheet, Spacing, Strip, Turns, fill_sheets, fill_strip};
use shape::{Cancelled, Silent, Watch};

fn strip() -> Strip {
    Strip::try_new(50.0, Spacing::default()).expect("a possible strip")
}

fn refused(items: &[nest::Item]) -> NestError {
    fill_strip(items, &strip(), &Budget::default(), &Silent).expect_err("it cannot be placed")
}

#[test]
fn nothing_to_place_is_refused() {
    assert_eq!(refused(&[]), NestError::NothingToPlace);
    let none = [item(rectangle(1.0, 1.0), 0, Turns::none())];
    assert_eq!(refused(&none), NestError::NothingToPlace);
}

#[test]
fn an_item_higher_than_the_strip_is_named_with_its_size() {
    let items = [
        item(rectangle(5.0, 5.0), 1, Turns::none()),
        item(rectangle(60.0, 55.0), 1, Turns::quarters()),
    ];
    let refused = refused(&items);
    assert!(matches!(refused, NestError::ItemTooLarge { item: 1, .. }));
    assert!(refused.to_string().contains("55.000"), "{refused}");
}

#[test]
fn an_item_that_fits_in_one_of_its_turns_is_placed() {
    let items = [item(rectangle(5.0, 60.0), 2, Turns::quarters())];
    assert!(fill_strip(&items, &strip(), &Budget::default(), &Silent).is_ok());
}

#[test]
fn bad_turns_are_refused() {
    for list in [vec![], vec![f64::NAN], vec![f64::INFINITY], vec![0.5; 361]] {
        let items = [
            item(rectangle(1.0, 1.0), 1, Turns::none()),
            item(rectangle(5.0, 5.0), 1, Turns::Listed(list)),
        ];
        assert!(matches!(
            refused(&items),
            NestError::BadTurns { item: 1, .. }
        ));
    }
}

#[test]
fn too_many_pieces_are_refused() {
    for demand in [2_001, usize::MAX] {
        let items = [item(rectangle(1.0, 1.0), demand, Turns::none())];
        assert!(matches!(refused(&items), NestError::TooManyPieces { .. }));
    }
    let items: Vec<_> = (0..700)
        .map(|k| item(rectangle(1.0 + f64::from(k) * 0.01, 1.0), 1, Turns::none()))
        .collect();
    assert!(matches!(refused(&items), NestError::TooManyOutlines { .. }));
}

#[test]
fn lengths_that_are_no_numbers_are_refused() {
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e9] {
        assert!(Strip::try_new(bad, Spacing::default()).is_err());
        assert!(Sheet::try_new(10.0, bad, vec![], Spacing::default()).is_err());
    }
    for bad in [-1.0, f64::NAN, f64::INFINITY] {
        for spacing in [
            Spacing {
                gap_mm: bad,
                edge_mm: 0.0,
            },
            Spacing {
                gap_mm: 0.0,
                edge_mm: bad,
            },
        ] {
            assert!(Strip::try_new(10.0, spacing).is_err());
        }
    }
    let many = vec![rectangle(1.0, 1.0); 201];
    assert!(Sheet::try_new(10.0, 10.0, many, Spacing::default()).is_err());
}

#[test]
fn edges_that_leave_nothing_are_no_panic() {
    let spacing = Spacing {
        gap_mm: 0.0,
        edge_mm: 30.0,
    };
    let items = [item(rectangle(5.0, 5.0), 1, Turns::none())];
    let narrow = Strip::try_new(50.0, spacing).expect("a possible strip");
    let refused = fill_strip(&items, &narrow, &Budget::default(), &Silent);
    assert!(matches!(refused, Err(NestError::ItemTooLarge { .. })));
    let sheet = Sheet::try_new(50.0, 50.0, vec![], spacing).expect("a possible sheet");
    let refused = fill_sheets(&items, &[sheet], &Budget::default(), &Silent);
    assert!(matches!(refused, Err(NestError::ItemTooLarge { .. })));
}

struct Never;

impl Watch for Never {
    fn step(&self, _what: &str, _share: f64) -> Result<(), Cancelled> {
        Err(Cancelled)
    }
}

#[test]
fn cancelled_before_it_began_is_said() {
    let items = [item(rectangle(5.0, 5.0), 1, Turns::none())];
    let refused = fill_strip(&items, &strip(), &Budget::default(), &Never);
    assert_eq!(refused, Err(NestError::Cancelled));
}
