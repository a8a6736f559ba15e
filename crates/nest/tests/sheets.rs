//! Sets on sheets and in windows: what fits is shown, what cannot is said.

mod common;

use common::{angle, is_sound, item, outline, placed, rectangle, star};
use nest::{
    Budget, Item, NestError, Sheet, Spacing, StoppedBy, Turns, fill_sheets, fit, least_window,
    smallest_sheet,
};
use shape::{Point, Silent, clearance_mm};

fn sheet(w: f64, h: f64) -> Sheet {
    Sheet::try_new(w, h, vec![], Spacing::default()).expect("a possible sheet")
}

fn budget(steps: u64) -> Budget {
    Budget {
        steps,
        ..Budget::default()
    }
}

/// Two L of three cells make 2 x 3 cells, four make 4 x 3, and nothing is over. Construction.
#[test]
fn four_angles_fit_in_their_square() {
    let items = [item(angle(20.0, 20.0, 10.0), 4, Turns::quarters())];
    let answer = fit(&items, &sheet(40.0, 30.0), &budget(60_000), &Silent).expect("an answer");
    let placements = answer.placements.expect("two pairs of 20 x 30 each");
    is_sound(&items, &placements, [40.0, 30.0], 0.0, 0.0);
}

#[test]
fn what_cannot_fit_by_area_or_size_is_said_at_once() {
    let items = [item(rectangle(10.0, 10.0), 5, Turns::none())];
    let answer = fit(&items, &sheet(20.0, 20.0), &budget(u64::MAX), &Silent).expect("an answer");
    assert!(answer.impossible && answer.placements.is_none());
    let long = [item(rectangle(50.0, 1.0), 1, Turns::none())];
    let answer = fit(&long, &sheet(20.0, 60.0), &budget(u64::MAX), &Silent).expect("an answer");
    assert!(answer.impossible);
    let turned = [item(rectangle(50.0, 1.0), 1, Turns::quarters())];
    let answer = fit(&turned, &sheet(20.0, 60.0), &budget(100), &Silent).expect("an answer");
    assert!(answer.placements.is_some());
}

#[test]
fn keep_outs_stay_free_by_the_gap() {
    let keep_out = rectangle(20.0, 20.0).shifted(Point::new(30.0, 20.0) - Point::default());
    let spacing = Spacing {
        gap_mm: 2.0,
        edge_mm: 3.0,
    };
    let sheet = Sheet::try_new(80.0, 60.0, vec![keep_out.clone()], spacing).expect("a sheet");
    let items = [
        item(rectangle(18.0, 14.0), 4, Turns::quarters()),
        item(star(&[7.0, 4.0, 7.0, 4.0, 7.0, 4.0]), 4, Turns::quarters()),
    ];
    let answer = fit(&items, &sheet, &budget(20_000), &Silent).expect("an answer");
    let placements = answer.placements.expect("there is room all round");
    is_sound(&items, &placements, [80.0, 60.0], 2.0, 3.0);
    for o in placed(&items, &placements) {
        assert!(clearance_mm(&o, &keep_out) >= 2.0);
    }
}

#[test]
fn the_smallest_sheet_that_holds_the_set_is_named() {
    let items = [item(rectangle(10.0, 10.0), 6, Turns::none())];
    let sheets = [
        sheet(50.0, 50.0),
        sheet(20.0, 20.0),
        sheet(30.0, 20.0),
        sheet(31.0, 25.0),
    ];
    let answer = smallest_sheet(&items, &sheets, &budget(2_000), &Silent).expect("an answer");
    let (k, placements) = answer.found.expect("three sheets are large enough");
    assert_eq!(k, 2);
    is_sound(&items, &placements, [30.0, 20.0], 0.0, 0.0);
}

/// 8 rectangles of 30 x 20 on sheets of 60 x 40: 4 a sheet, and two sheets by area. Construction.
#[test]
fn a_cut_list_takes_the_fewest_sheets() {
    let items = [
        item(rectangle(30.0, 20.0), 6, Turns::quarters()),
        item(rectangle(20.0, 30.0), 2, Turns::quarters()),
    ];
    let stock = vec![sheet(60.0, 40.0); 5];
    let answer = fill_sheets(&items, &stock, &budget(20_000), &Silent).expect("an answer");
    assert_eq!(answer.sheets.len(), 2);
    assert!(answer.left_over.is_empty());
    let mut count = 0;
    for (_, placements) in &answer.sheets {
        count += placements.len();
        let there = |k: usize| placements.iter().filter(|p| p.item == k).count();
        let mine: Vec<Item> = (0..2)
            .map(|k| Item {
                demand: there(k),
                ..items[k].clone()
            })
            .collect();
        is_sound(&mine, placements, [60.0, 40.0], 0.0, 0.0);
    }
    assert_eq!(count, 8);
}

#[test]
fn what_finds_no_room_on_the_stock_is_left_over_by_name() {
    let items = [
        item(rectangle(10.0, 10.0), 1, Turns::none()),
        item(rectangle(18.0, 18.0), 3, Turns::none()),
    ];
    let answer = fill_sheets(
        &items,
        &[sheet(20.0, 20.0), sheet(20.0, 20.0)],
        &budget(2_000),
        &Silent,
    )
    .expect("an answer");
    assert_eq!(answer.sheets.len(), 2);
    assert_eq!(answer.left_over, vec![(0, 1), (1, 1)]);
}

#[test]
fn the_same_seed_gives_the_same_sheets_on_one_thread_and_two() {
    let items = [
        item(angle(22.0, 16.0, 6.0), 7, Turns::quarters()),
        item(
            outline(&[(0.0, 0.0), (14.0, 2.0), (5.0, 12.0)]),
            9,
            Turns::Free,
        ),
    ];
    let stock = vec![sheet(50.0, 40.0); 6];
    let [one, two] = [1, 2].map(|threads| {
        let budget = Budget {
            threads,
            ..budget(4_000)
        };
        fill_sheets(&items, &stock, &budget, &Silent).expect("an answer")
    });
    assert_eq!(one, two);
}

#[test]
fn a_free_window_is_tight() {
    let items = [item(rectangle(10.0, 20.0), 8, Turns::quarters())];
    let spacing = Spacing {
        gap_mm: 0.0,
        edge_mm: 2.0,
    };
    let window = least_window(&items, spacing, &budget(20_000), &Silent).expect("a window");
    is_sound(
        &items,
        &window.placements,
        [window.width_mm, window.height_mm],
        0.0,
        2.0,
    );
    let inner = (window.width_mm - 4.0) * (window.height_mm - 4.0);
    assert!(inner < 1.3 * 1600.0, "{inner}");
}

#[test]
fn an_item_too_large_for_every_sheet_is_named() {
    let items = [
        item(rectangle(5.0, 5.0), 1, Turns::none()),
        item(rectangle(30.0, 5.0), 1, Turns::none()),
    ];
    let answer = fill_sheets(&items, &[sheet(20.0, 20.0)], &budget(100), &Silent);
    assert!(
        matches!(answer, Err(NestError::ItemTooLarge { item: 1, .. })),
        "{answer:?}"
    );
}

#[test]
fn what_is_reached_says_goal() {
    let items = [item(rectangle(10.0, 10.0), 1, Turns::none())];
    let answer = fit(&items, &sheet(20.0, 20.0), &budget(1_000), &Silent).expect("an answer");
    assert_eq!(answer.stopped_by, StoppedBy::Goal);
}
