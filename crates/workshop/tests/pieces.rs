//! Pieces in the store: history, undo and redo, two windows.

#![allow(clippy::unwrap_used, reason = "helpers of tests may panic too")]

mod common;

use common::{fresh, id, part, piece, save};
use workshop::{Edit, Merge, Merged, Prefer, Saved, Workshop, WorkshopError, merge_preferring};

#[test]
fn a_piece_comes_back_as_it_was_saved_after_a_restart() {
    let store = fresh("comes-back");
    let mut doc = piece(5, 40);
    let opened = store.new_piece(&doc).unwrap();
    doc.placements[2].x = 0.1 + 0.2;
    doc.name = "Ünder glass \u{1f41f}".into();
    save(&store, opened.id, &opened.state, &doc, "Move part 3");
    drop(store);
    let store = Workshop::open(common::folder_of("comes-back")).unwrap();
    let again = store.piece(opened.id).unwrap();
    assert_eq!(again.piece, doc);
    assert_eq!(again.state.undo.as_deref(), Some("Move part 3"));
    let listed = store.pieces().unwrap();
    assert_eq!((listed.len(), listed[0].parts, listed[0].placed), (1, 5, 5));
    assert_eq!(listed[0].name, doc.name);
}

#[test]
fn undo_and_redo_reach_every_state_also_after_a_restart() {
    let mut store = fresh("undo-redo");
    let mut doc = piece(3, 20);
    let opened = store.new_piece(&doc).unwrap();
    let mut state = opened.state;
    let mut states = vec![doc.clone()];
    for n in 1..=300 {
        doc.placements[n % 3].x += 0.1;
        if n % 50 == 0 {
            doc.parts.push(part(100 + n, 20));
        }
        state = save(&store, opened.id, &state, &doc, &format!("Edit {n}"));
        states.push(doc.clone());
    }
    for n in (0..300).rev() {
        if n % 100 == 37 {
            drop(store);
            store = Workshop::open(common::folder_of("undo-redo")).unwrap();
        }
        assert_eq!(state.undo, Some(format!("Edit {}", n + 1)));
        let back = store.undo(opened.id, state.revision).unwrap();
        assert_eq!(back.piece, states[n]);
        assert_eq!(back.state.redo, Some(format!("Edit {}", n + 1)));
        state = back.state;
    }
    assert_eq!(state.undo, None);
    let same = store.undo(opened.id, state.revision).unwrap();
    assert_eq!(same.state, state);
    for wanted in &states[1..] {
        let on = store.redo(opened.id, state.revision).unwrap();
        assert_eq!(&on.piece, wanted);
        state = on.state;
    }
    assert_eq!(state.redo, None);
}

#[test]
fn an_edit_after_undo_begins_a_branch_and_the_former_one_stays_in_the_history() {
    let store = fresh("branch");
    let mut doc = piece(2, 20);
    let opened = store.new_piece(&doc).unwrap();
    doc.name = "A".into();
    let a = save(&store, opened.id, &opened.state, &doc, "A");
    let back = store.undo(opened.id, a.revision).unwrap();
    doc.name = "B".into();
    let b = save(&store, opened.id, &back.state, &doc, "B");
    assert_eq!(b.redo, None);
    let back = store.undo(opened.id, b.revision).unwrap();
    assert_eq!(back.state.redo.as_deref(), Some("B"));
    let labels: Vec<_> = store
        .history(opened.id, None, 10)
        .unwrap()
        .into_iter()
        .map(|e| e.label)
        .collect();
    assert_eq!(labels, ["B", "A", "Begin the piece"]);
    // The way back from the other branch leads to it again.
    let at_a = store.go_to(opened.id, a.revision).unwrap();
    assert_eq!(at_a.piece.name, "A");
    let back = store.undo(opened.id, a.revision).unwrap();
    assert_eq!(back.state.redo.as_deref(), Some("A"));
    assert_eq!(store.piece_at(opened.id, b.revision).unwrap().name, "B");
}

#[test]
fn a_gesture_is_undone_and_redone_as_one() {
    let store = fresh("gesture");
    let mut doc = piece(2, 20);
    let opened = store.new_piece(&doc).unwrap();
    doc.name = "First".into();
    let mut state = save(&store, opened.id, &opened.state, &doc, "Rename");
    let before = doc.clone();
    for _ in 0..20 {
        doc.placements[0].x += 0.1;
        let edit = Edit::new("Nudge part 1").of_gesture("nudge-7");
        let Saved::Saved(now) = store.save(opened.id, state.revision, &doc, &edit).unwrap() else {
            panic!("stale");
        };
        state = now;
    }
    let back = store.undo(opened.id, state.revision).unwrap();
    assert_eq!(back.piece, before);
    assert_eq!(back.state.undo.as_deref(), Some("Rename"));
    let on = store.redo(opened.id, back.state.revision).unwrap();
    assert_eq!(on.piece, doc);
    assert_eq!(on.state.redo, None);
}

#[test]
fn an_edit_that_changes_nothing_is_no_revision() {
    let store = fresh("nothing");
    let doc = piece(2, 20);
    let opened = store.new_piece(&doc).unwrap();
    let state = save(&store, opened.id, &opened.state, &doc, "Nothing");
    assert_eq!(state, opened.state);
}

#[test]
fn a_stale_save_is_told_and_stores_nothing() {
    let store = fresh("stale");
    let doc = piece(3, 20);
    let opened = store.new_piece(&doc).unwrap();
    let (mut one, mut two) = (doc.clone(), doc.clone());
    one.placements[0].x = 55.0;
    save(&store, opened.id, &opened.state, &one, "One");
    two.placements[0].x = 70.0;
    let Saved::Stale(stale) = store
        .save(opened.id, opened.state.revision, &two, &Edit::new("Two"))
        .unwrap()
    else {
        panic!("the second window overwrote the first");
    };
    assert_eq!(stale.now.piece, one);
    assert_eq!(stale.base, doc);
    let Merge::Conflicts(conflicts) = &stale.merge else {
        panic!("the same part was moved twice");
    };
    assert_eq!(conflicts.len(), 1);
    assert_eq!(conflicts[0].path, "placements[p1]");
    assert_eq!(store.piece(opened.id).unwrap().piece, one);
    let mine = merge_preferring(&stale.base, &two, &stale.now.piece, Prefer::Yours).unwrap();
    assert_eq!(mine, two);
    // A stale undo changes nothing either.
    let seen = store.undo(opened.id, opened.state.revision).unwrap();
    assert_eq!(seen.piece, one);
}

#[test]
fn two_windows_that_touch_different_things_both_keep_what_they_did() {
    let store = fresh("together");
    let doc = piece(4, 20);
    let opened = store.new_piece(&doc).unwrap();
    let (mut one, mut two) = (doc.clone(), doc.clone());
    one.placements[0].x = 55.0;
    one.parts[1].name = "Renamed".into();
    one.parts.push(part(9, 20));
    two.placements[1].y = 60.0;
    two.parts[1].thickness_mm = Some(3.0);
    two.frame.rebate_depth_mm = Some(50.0);
    two.parts.remove(3);
    two.placements.remove(3);
    save(&store, opened.id, &opened.state, &one, "One");
    let merged = store
        .save_or_merge(opened.id, opened.state.revision, &two, &Edit::new("Two"))
        .unwrap();
    let Merged::Together(both) = merged else {
        panic!("{merged:?}");
    };
    let p = &both.piece;
    assert_eq!((p.placements[0].x, p.placements[1].y), (55.0, 60.0));
    assert_eq!(
        (p.parts[1].name.as_str(), p.parts[1].thickness_mm),
        ("Renamed", Some(3.0))
    );
    assert_eq!(p.frame.rebate_depth_mm, Some(50.0));
    let ids: Vec<_> = p.parts.iter().map(|p| p.id.clone()).collect();
    assert_eq!(ids, [id(1), id(2), id(3), id(9)]);
    assert_eq!(store.piece(opened.id).unwrap().piece, *p);
    // Undo takes back what the second window did, and nothing of the first.
    assert_eq!(
        store.undo(opened.id, both.state.revision).unwrap().piece,
        one
    );
}

#[test]
fn a_part_that_one_side_took_away_and_the_other_moved_is_a_conflict() {
    let store = fresh("taken-away");
    let doc = piece(3, 20);
    let opened = store.new_piece(&doc).unwrap();
    let (mut one, mut two) = (doc.clone(), doc.clone());
    one.parts.remove(0);
    one.placements.remove(0);
    two.placements[0].x = 99.0;
    save(&store, opened.id, &opened.state, &one, "Take away");
    let merged = store
        .save_or_merge(opened.id, opened.state.revision, &two, &Edit::new("Move"))
        .unwrap();
    let Merged::Conflict(stale) = merged else {
        panic!("{merged:?}");
    };
    assert_eq!(stale.now.piece, one);
}

#[test]
fn what_is_not_sound_is_not_stored() {
    let store = fresh("unsound");
    let mut doc = piece(2, 20);
    let opened = store.new_piece(&doc).unwrap();
    doc.parts[1].id = id(1);
    let refused = store
        .save(opened.id, opened.state.revision, &doc, &Edit::new("x"))
        .unwrap_err();
    assert!(matches!(refused, WorkshopError::Unsound(_)), "{refused}");
    // JSON has no infinity: it would read back as nothing.
    let mut doc = piece(2, 20);
    doc.parts[0].cutout = Some(piece::Cutout {
        image: "x".into(),
        px_per_mm: f64::INFINITY,
        origin_mm: [0.0, 0.0],
    });
    let refused = store
        .save(opened.id, opened.state.revision, &doc, &Edit::new("x"))
        .unwrap_err();
    assert!(matches!(refused, WorkshopError::Unsound(_)), "{refused}");
    let unknown = store.piece("77".parse().unwrap()).unwrap_err();
    assert!(unknown.to_string().contains("77"), "{unknown}");
    assert_eq!(store.piece(opened.id).unwrap().state, opened.state);
}

#[test]
fn a_piece_goes_to_the_bin_and_comes_back_whole() {
    let store = fresh("bin");
    let opened = store.new_piece(&piece(2, 20)).unwrap();
    store.set_binned(opened.id, true).unwrap();
    assert!(store.pieces().unwrap().is_empty());
    assert_eq!(store.binned_pieces().unwrap()[0].id, opened.id);
    store.set_binned(opened.id, false).unwrap();
    assert_eq!(store.pieces().unwrap().len(), 1);
    assert_eq!(store.piece(opened.id).unwrap().piece, opened.piece);
}

#[test]
fn edits_of_many_threads_are_all_kept() {
    let store = fresh("threads");
    let opened = store.new_piece(&piece(16, 20)).unwrap();
    std::thread::scope(|scope| {
        for n in 0..8 {
            let store = store.clone();
            scope.spawn(move || {
                for k in 1..=10 {
                    let mut seen = store.piece(opened.id).unwrap();
                    seen.piece.placements[n].x = 100.0 + k as f64;
                    let edit = Edit::new(format!("{n}: {k}"));
                    let merged = store
                        .save_or_merge(opened.id, seen.state.revision, &seen.piece, &edit)
                        .unwrap();
                    assert!(!matches!(merged, Merged::Conflict(_)), "{merged:?}");
                }
            });
        }
    });
    let end = store.piece(opened.id).unwrap().piece;
    assert!((0..8).all(|n| end.placements[n].x == 110.0));
    assert_eq!(store.history(opened.id, None, 1000).unwrap().len(), 81);
}
