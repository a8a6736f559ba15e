//! Sets on sheets: what fits is shown, what cannot is said.

mod common;

use common::{angle, is_sound, item, outline, placed, rectangle, star};
use nest::{Budget, Item, NestError, Sheet, Spacing, StoppedBy, Turns, fill_sheets};
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
    let answer = fill_sheets(&items, &[sheet], &budget(20_000), &Silent).expect("an answer");
    assert!(answer.left_over.is_empty(), "there is room all round");
    let (_, placements) = &answer.sheets[0];
    is_sound(&items, placements, [80.0, 60.0], 2.0, 3.0);
    for o in placed(&items, placements) {
        assert!(clearance_mm(&o, &keep_out) >= 2.0);
    }
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
    let sheets = [sheet(20.0, 20.0)];
    let answer = fill_sheets(&items, &sheets, &budget(1_000), &Silent).expect("an answer");
    assert_eq!(answer.stopped_by, StoppedBy::Goal);
}
