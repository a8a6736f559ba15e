//! Check, backup, restore; the drawer and the ledger's records.

#![allow(clippy::unwrap_used, reason = "helpers of tests may panic too")]

mod common;

use common::{folder, fresh, id, part, piece, save};
use piece::PartKind;
use serde_json::json;
use std::fs;
use workshop::{
    Condition, Outcome, Reserved, StockItem, Verdict, Workshop, WorkshopError, restore,
};

fn picture(n: u8) -> Vec<u8> {
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    bytes.extend([n; 300]);
    bytes
}

const QUIET: &dyn Fn(f64) = &|_| {};

#[test]
fn a_check_names_what_is_missing_changed_and_left_over() {
    let store = fresh("check");
    let names: Vec<_> = (0..3)
        .map(|n| store.add_image(&picture(n)).unwrap())
        .collect();
    let mut doc = piece(2, 20);
    doc.parts[0].cutout = Some(piece::Cutout {
        image: names[0].to_string(),
        px_per_mm: 12.0,
        origin_mm: [0.0, 0.0],
    });
    store.new_piece(&doc).unwrap();
    let checked = store.check(QUIET).unwrap();
    assert_eq!(
        (checked.pieces, checked.revisions, checked.images),
        (1, 1, 3)
    );
    assert!(checked.findings.is_empty(), "{:?}", checked.findings);
    fs::remove_file(store.image_path(&names[0])).unwrap();
    fs::write(store.image_path(&names[1]), picture(9)).unwrap();
    fs::write(store.image_path(&names[2]), &picture(2)[..50]).unwrap();
    fs::write(store.folder().join("images/notes.txt"), "x").unwrap();
    fs::write(store.folder().join("images/.x.png.1-1.part"), "x").unwrap();
    let checked = store.check(QUIET).unwrap();
    let codes: Vec<_> = checked.findings.iter().map(|f| f.code.as_str()).collect();
    assert_eq!(
        codes,
        [
            "store.image-changed",
            "store.image-changed",
            "store.image-missing",
            "store.image-spare",
            "store.leftover"
        ]
    );
    assert!(!checked.is_sound());
    assert!(
        checked.findings[2].text.contains("Test piece"),
        "{}",
        checked.findings[2].text
    );
}

#[test]
fn a_backup_is_a_workshop_of_its_own_and_is_brought_up_to_date() {
    let store = fresh("backup");
    let name = store.add_image(&picture(1)).unwrap();
    let mut doc = piece(3, 20);
    let opened = store.new_piece(&doc).unwrap();
    let to = folder("backup-to").join("stick/backup");
    let copied = store.back_up(&to, QUIET).unwrap();
    assert_eq!((copied.new_images, copied.images), (1, 1));
    doc.name = "Later".into();
    save(&store, opened.id, &opened.state, &doc, "Rename");
    store.add_image(&picture(2)).unwrap();
    let copied = store.back_up(&to, QUIET).unwrap();
    assert_eq!((copied.new_images, copied.images), (1, 2));
    let backup = Workshop::open(&to).unwrap();
    assert_eq!(backup.piece(opened.id).unwrap().piece, doc);
    assert_eq!(backup.image(&name).unwrap(), picture(1));
    assert!(backup.check(QUIET).unwrap().findings.is_empty());
}

#[test]
fn a_backup_made_while_others_edit_is_one_moment_of_it() {
    let store = fresh("backup-busy");
    let opened = store.new_piece(&piece(8, 60)).unwrap();
    let to = folder("backup-busy-to");
    std::thread::scope(|scope| {
        let editing = scope.spawn(|| {
            let (mut state, mut doc) = (opened.state.clone(), opened.piece.clone());
            for n in 0..300 {
                // Always the same sum: half an edit would show.
                doc.placements[n % 4].x += 1.0;
                doc.placements[4 + n % 4].x -= 1.0;
                state = save(&store, opened.id, &state, &doc, "x");
            }
        });
        for _ in 0..5 {
            store.back_up(&to, QUIET).unwrap();
        }
        editing.join().unwrap();
    });
    let backup = Workshop::open(&to).unwrap();
    assert!(backup.check(QUIET).unwrap().findings.is_empty());
    let sum = |p: &piece::Piece| p.placements.iter().map(|p| p.x).sum::<f64>();
    assert_eq!(
        sum(&backup.piece(opened.id).unwrap().piece),
        sum(&opened.piece)
    );
}

#[test]
fn a_backup_goes_into_no_folder_that_holds_something_else() {
    let store = fresh("backup-refused");
    store.new_piece(&piece(1, 20)).unwrap();
    let full = folder("backup-refused-full");
    fs::write(full.join("letter.txt"), "Dear").unwrap();
    let refused = store.back_up(&full, QUIET).unwrap_err().to_string();
    assert!(refused.contains("not empty"), "{refused}");
    let other = fresh("backup-refused-other");
    let theirs = folder("backup-refused-theirs");
    other.back_up(&theirs, QUIET).unwrap();
    let refused = store.back_up(&theirs, QUIET).unwrap_err().to_string();
    assert!(refused.contains("another workshop"), "{refused}");
    let refused = store
        .back_up(store.folder(), QUIET)
        .unwrap_err()
        .to_string();
    assert!(refused.contains("itself"), "{refused}");
}

#[test]
fn a_restored_workshop_is_what_the_backup_was_and_the_former_one_is_set_aside() {
    let store = fresh("restore");
    let mut doc = piece(3, 20);
    let opened = store.new_piece(&doc).unwrap();
    store.add_image(&picture(1)).unwrap();
    let at = store.folder().to_owned();
    let backup = folder("restore-backup");
    store.back_up(&backup, QUIET).unwrap();
    doc.name = "Spoilt".into();
    save(&store, opened.id, &opened.state, &doc, "Spoil");
    let refused = restore(&backup, &at, false, QUIET).unwrap_err().to_string();
    assert!(refused.contains("holds a workshop already"), "{refused}");
    let busy = restore(&backup, &at, true, QUIET).unwrap_err();
    assert!(matches!(busy, WorkshopError::Busy { .. }), "{busy}");
    drop(store);
    let aside = restore(&backup, &at, true, QUIET)
        .unwrap()
        .set_aside
        .unwrap();
    let store = Workshop::open(&at).unwrap();
    assert_eq!(store.piece(opened.id).unwrap(), opened);
    assert!(store.check(QUIET).unwrap().findings.is_empty());
    assert_eq!(
        Workshop::open(&aside)
            .unwrap()
            .piece(opened.id)
            .unwrap()
            .piece
            .name,
        "Spoilt"
    );
    fs::remove_dir_all(aside).unwrap();
    // Into a place where there is none, too; and the backup is as it was.
    let fresh_place = folder("restore-fresh").join("new");
    restore(&backup, &fresh_place, false, QUIET).unwrap();
    assert_eq!(
        Workshop::open(&fresh_place)
            .unwrap()
            .piece(opened.id)
            .unwrap(),
        opened
    );
}

#[test]
fn a_backup_that_is_not_sound_replaces_nothing() {
    let store = fresh("restore-unsound");
    let opened = store.new_piece(&piece(1, 20)).unwrap();
    let name = store.add_image(&picture(1)).unwrap();
    let at = store.folder().to_owned();
    let backup = folder("restore-unsound-backup");
    store.back_up(&backup, QUIET).unwrap();
    drop(store);
    fs::write(backup.join(name.to_string()), picture(2)).unwrap();
    let refused = restore(&backup, &at, true, QUIET).unwrap_err().to_string();
    assert!(refused.contains("not the image it was"), "{refused}");
    assert_eq!(
        Workshop::open(&at).unwrap().piece(opened.id).unwrap(),
        opened
    );
    let beside: Vec<_> = fs::read_dir(at.parent().unwrap())
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|n| n.starts_with("restore-unsound-") && n != "restore-unsound-backup")
        .collect();
    assert!(beside.is_empty(), "{beside:?}");
}

fn item(name: &str) -> StockItem {
    StockItem {
        name: name.into(),
        kind: PartKind::Board,
        model: "Dipper 3".into(),
        condition: Condition::Whole,
        origin: "Intake 17".into(),
        part: Some(part(4, 20)),
        image: None,
        reserved: None,
        note: String::new(),
    }
}

#[test]
fn the_drawer_keeps_parts_across_devices() {
    let store = fresh("drawer");
    let piece_id = store.new_piece(&piece(2, 20)).unwrap().id;
    let first = store.add_stock(&item("Main board")).unwrap();
    let mut second = item("Keys");
    second.reserved = Some(Reserved {
        piece: piece_id,
        part: Some(id(2)),
    });
    second.image = Some(store.add_image(&picture(1)).unwrap());
    let second_id = store.add_stock(&second).unwrap();
    let listed = store.stock(false).unwrap();
    assert_eq!(
        listed.iter().map(|s| s.id).collect::<Vec<_>>(),
        [second_id, first]
    );
    assert_eq!(listed[0].item, second);
    second.condition = Condition::Marked;
    store
        .change_stock(|stock| stock.set(second_id, &second))
        .unwrap();
    assert_eq!(store.stocked(second_id).unwrap().item, second);
    store
        .change_stock(|stock| stock.set_gone(first, Some("built in")))
        .unwrap();
    assert_eq!(store.stock(false).unwrap().len(), 1);
    assert_eq!(
        store.stock(true).unwrap()[0].gone.as_ref().unwrap().1,
        "built in"
    );
    let mut odd = item("x");
    odd.reserved = Some(Reserved {
        piece: "99".parse().unwrap(),
        part: None,
    });
    assert!(matches!(
        store.add_stock(&odd),
        Err(WorkshopError::NoSuchPiece(_))
    ));
    odd = item("x");
    odd.note = "y".repeat(5_000);
    assert!(matches!(
        store.add_stock(&odd),
        Err(WorkshopError::TooLarge { .. })
    ));
}

#[test]
fn who_writes_while_the_stock_is_compared_and_changed_comes_after_and_is_not_lost() {
    let store = fresh("drawer-two");
    let id = store.add_stock(&item("Strap")).unwrap();
    // As another process has it: a store of its own on the same folder.
    let other = Workshop::open(store.folder()).unwrap();
    let (begun, has_begun) = std::sync::mpsc::channel();
    let (note, origin) = ("in box 4", "Intake 18");
    let writer = store
        .change_stock(|stock| {
            let before = stock.one(id)?;
            let writer = std::thread::spawn(move || {
                begun.send(()).unwrap();
                other.change_stock(|stock| {
                    let mut item = stock.one(id)?.item;
                    item.note = note.into();
                    stock.set(id, &item)
                })
            });
            has_begun.recv().unwrap();
            std::thread::sleep(std::time::Duration::from_millis(100));
            assert_eq!(stock.one(id)?.item, before.item);
            let mut item = before.item;
            item.origin = origin.into();
            stock.set(id, &item)?;
            Ok::<_, WorkshopError>(writer)
        })
        .unwrap();
    writer.join().unwrap().unwrap();
    let item = store.stocked(id).unwrap().item;
    assert_eq!((&*item.note, &*item.origin), (note, origin));
}

#[test]
fn a_change_of_the_stock_that_fails_half_way_stores_nothing() {
    let store = fresh("drawer-half");
    let id = store.add_stock(&item("Strap")).unwrap();
    let before = store.stock(false).unwrap();
    let refused = store.change_stock(|stock| {
        stock.add(&item("Main board"))?;
        stock.set_gone(id, Some("sold"))?;
        assert_eq!(stock.all(false)?.len(), 1);
        let mut odd = item("x");
        odd.note = "y".repeat(5_000);
        stock.set(id, &odd)
    });
    assert!(matches!(refused, Err(WorkshopError::TooLarge { .. })));
    assert_eq!(store.stock(false).unwrap(), before);
    assert!(store.stock(true).unwrap().is_empty());
}

#[test]
fn outcomes_carry_the_ledgers_forms() {
    let store = fresh("ledger");
    let mut outcome = Outcome {
        kind: "recorder".into(),
        verdict: Verdict::Donor,
        reached: None,
        evidence: json!({ "liquid": true }),
        yields: json!({}),
        piece: None,
        note: String::new(),
    };
    let noted = store.set_outcome(None, &outcome).unwrap();
    outcome.reached = Some(true);
    outcome.yields = json!({ "board": [3, 4] });
    store.set_outcome(Some(noted), &outcome).unwrap();
    let all = store.outcomes().unwrap();
    assert_eq!((all.len(), all[0].0, &all[0].2), (1, noted, &outcome));
}
