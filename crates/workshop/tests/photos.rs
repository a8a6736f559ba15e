//! Images, photos and the work on them; settings, drafts and events.

#![allow(clippy::unwrap_used, reason = "helpers of tests may panic too")]

mod common;

use common::{fresh, piece};
use serde_json::json;
use std::sync::{Arc, Mutex};
use workshop::{
    Edit, Found, ImageName, Mark, Role, Settings, Stroke, StrokeKind, Subject, Taken, Theme, Units,
    Work, WorkSaved, Workshop, WorkshopError,
};

/// Eight bytes that say PNG, and some more.
fn picture(n: u8) -> Vec<u8> {
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    bytes.extend([n; 300]);
    bytes
}

#[test]
fn an_image_is_stored_once_under_the_hash_of_its_bytes() {
    let store = fresh("images");
    let name = store.add_image(&picture(7)).unwrap();
    assert_eq!(store.add_image(&picture(7)).unwrap(), name);
    assert_ne!(store.add_image(&picture(8)).unwrap(), name);
    assert_eq!(store.image(&name).unwrap(), picture(7));
    assert_eq!(name.to_string().parse::<ImageName>().unwrap(), name);
    // SHA-256 computed with coreutils' sha256sum.
    let svg = ImageName::of(b"<svg/>").unwrap();
    assert_eq!(svg.to_string(), format!("images/{}.svg", SVG_DIGEST));
    assert_eq!(
        std::fs::read_dir(store.folder().join("images"))
            .unwrap()
            .count(),
        2
    );
}

const SVG_DIGEST: &str = "d4dc56669143034f31aa309635d4113d9ad76a02b1739da22c965ed2049be9e6";

#[test]
fn names_that_lead_elsewhere_are_none() {
    let hex = "a".repeat(64);
    for bad in [
        "images/../workshop.db".to_string(),
        format!("images/{}.png", "A".repeat(64)),
        format!("images/{hex}.exe"),
        format!("images/{hex}.png/../x"),
        format!("/images/{hex}.png"),
        format!("{hex}.png"),
        format!("images/{}.png", "a".repeat(63)),
        format!("images/{hex}"),
    ] {
        assert!(bad.parse::<ImageName>().is_err(), "{bad}");
    }
}

#[test]
fn what_is_no_picture_is_refused() {
    let store = fresh("no-picture");
    let refused = store.add_image(b"hello").unwrap_err();
    assert!(refused.to_string().contains("JPEG"), "{refused}");
}

#[test]
fn a_changed_image_is_told_and_adding_it_again_mends_a_short_one() {
    let store = fresh("changed-image");
    let name = store.add_image(&picture(1)).unwrap();
    std::fs::write(store.image_path(&name), picture(2)).unwrap();
    assert!(matches!(
        store.image(&name),
        Err(WorkshopError::ImageDamaged { .. })
    ));
    std::fs::remove_file(store.image_path(&name)).unwrap();
    assert!(matches!(
        store.image(&name),
        Err(WorkshopError::ImageDamaged { .. })
    ));
    store.add_image(&picture(1)).unwrap();
    assert_eq!(store.image(&name).unwrap(), picture(1));
}

#[test]
fn a_cutout_that_is_not_in_the_store_is_refused() {
    let store = fresh("cutouts");
    let name = store.add_image(&picture(1)).unwrap();
    let mut doc = piece(2, 20);
    let show = |image: String| piece::Cutout {
        image,
        px_per_mm: 12.0,
        origin_mm: [0.0, 0.0],
    };
    doc.parts[0].cutout = Some(show(name.to_string()));
    let opened = store.new_piece(&doc).unwrap();
    doc.parts[1].cutout = Some(show("cutouts/p2.png".into()));
    let edit = Edit::new("x");
    let foreign = store
        .save(opened.id, opened.state.revision, &doc, &edit)
        .unwrap_err();
    assert!(
        matches!(foreign, WorkshopError::ForeignImage { .. }),
        "{foreign}"
    );
    doc.parts[1].cutout = Some(show(format!("images/{}.png", "0".repeat(64))));
    let missing = store
        .save(opened.id, opened.state.revision, &doc, &edit)
        .unwrap_err();
    assert!(
        matches!(missing, WorkshopError::NoSuchImage(_)),
        "{missing}"
    );
}

fn some_work() -> Work {
    Work {
        taken: Taken::Sheet {
            printed_mm: Some([99.8, 100.1]),
        },
        thickness_mm: Some(1.6),
        marks: vec![Mark {
            at_mm: [63.0, 196.0],
            thickness_mm: Some(4.0),
            part: Some(common::id(3)),
            left_out: false,
        }],
        strokes: vec![Stroke {
            kind: StrokeKind::Split,
            width_mm: 1.0,
            points_mm: vec![[1.0, 2.0], [3.0, 4.0]],
        }],
    }
}

#[test]
fn work_on_outlines_survives_a_restart_and_can_be_undone() {
    let store = fresh("work");
    let id = store.new_piece(&piece(1, 20)).unwrap().id;
    let name = store.add_image(&picture(3)).unwrap();
    let photo = store
        .add_photo(id, &name, "1-shells.jpg", Role::Parts, &Work::default())
        .unwrap();
    let edit = Edit::new("Draw a split");
    let WorkSaved::Saved(state) = store
        .save_work(photo.id, photo.state.revision, &some_work(), &edit)
        .unwrap()
    else {
        panic!("stale");
    };
    let found = Found {
        for_work: state.revision,
        outlines: json!({ "captures": [] }),
    };
    store.keep_found(photo.id, &found).unwrap();
    drop(store);
    let store = Workshop::open(common::folder_of("work")).unwrap();
    let again = &store.photos(id).unwrap()[0];
    assert_eq!(again.work, some_work());
    assert_eq!(store.found(photo.id).unwrap(), Some(found));
    let stale = store
        .save_work(photo.id, photo.state.revision, &Work::default(), &edit)
        .unwrap();
    assert!(matches!(stale, WorkSaved::Stale(now) if now.work == some_work()));
    let back = store.undo_work(photo.id, state.revision).unwrap();
    assert_eq!(back.work, Work::default());
    assert_eq!(
        store.redo_work(photo.id, back.state.revision).unwrap().work,
        some_work()
    );
    let inside = Role::Inside { stage: 2 };
    store.set_role(photo.id, inside).unwrap();
    assert_eq!(store.photo(photo.id).unwrap().role, inside);
    store.set_photo_binned(photo.id, true).unwrap();
    assert!(store.photos(id).unwrap().is_empty());
}

#[test]
fn strokes_are_in_the_form_of_a_file_of_strokes() {
    let text = serde_json::to_value(&some_work().strokes).unwrap();
    assert_eq!(
        text,
        json!([{ "kind": "split", "width_mm": 1.0, "points_mm": [[1.0, 2.0], [3.0, 4.0]] }])
    );
    let mut bad = some_work();
    bad.strokes[0].points_mm[0][1] = f64::NAN;
    let store = fresh("nan-stroke");
    let id = store.new_piece(&piece(1, 20)).unwrap().id;
    let name = store.add_image(&picture(3)).unwrap();
    let refused = store
        .add_photo(id, &name, "x", Role::Parts, &bad)
        .unwrap_err();
    assert!(
        matches!(refused, WorkshopError::Refused { .. }),
        "{refused}"
    );
}

#[test]
fn settings_come_back_and_an_odd_one_does_not_take_the_others_with_it() {
    let store = fresh("settings");
    assert_eq!(store.settings().unwrap(), Settings::default());
    let mut set = Settings {
        units: Units::Inches,
        currency: "SEK".into(),
        theme: Theme::Dark,
        ..Settings::default()
    };
    set.others.insert("mount".into(), json!({ "shock_g": 30 }));
    let put = |set: &Settings| {
        store.change_settings(|settings| {
            settings.clone_from(set);
            Ok::<_, WorkshopError>(())
        })
    };
    put(&set).unwrap();
    assert_eq!(store.settings().unwrap(), set);
    set.currency = "kr".into();
    assert!(put(&set).is_err());
}

#[test]
fn settings_that_many_change_at_once_keep_what_each_changed() {
    let store = fresh("settings-at-once");
    std::thread::scope(|scope| {
        for k in 0..4 {
            let store = &store;
            scope.spawn(move || {
                for n in 0..10 {
                    let change = |settings: &mut Settings| {
                        settings.others.insert(format!("{k}-{n}"), json!(n));
                        Ok::<_, WorkshopError>(())
                    };
                    store.change_settings(change).unwrap();
                }
            });
        }
    });
    let settings = store.settings().unwrap();
    assert_eq!(settings.others.len(), 40);
    let refused: Result<(), WorkshopError> = store.change_settings(|settings| {
        settings.currency = "kr".into();
        Ok(())
    });
    assert!(refused.is_err());
    assert_eq!(store.settings().unwrap(), settings);
}

#[test]
fn what_was_typed_is_kept_until_it_is_entered() {
    let store = fresh("drafts");
    let id = store.new_piece(&piece(1, 20)).unwrap().id;
    store
        .keep_draft("parts/p1", Some(id), None, "1,6 mm?")
        .unwrap();
    store
        .keep_draft("parts/p1", Some(id), None, "1.6 mm")
        .unwrap();
    let draft = store.draft("parts/p1").unwrap().unwrap();
    assert_eq!((draft.body.as_str(), draft.piece), ("1.6 mm", Some(id)));
    store.drop_draft("parts/p1").unwrap();
    assert_eq!(store.draft("parts/p1").unwrap(), None);
}

#[test]
fn what_happens_is_told_at_once() {
    let store = fresh("events");
    let heard = Arc::new(Mutex::new(Vec::new()));
    let to = Arc::clone(&heard);
    store.on_event(move |event| to.lock().unwrap().push(event.clone()));
    let opened = store.new_piece(&piece(1, 20)).unwrap();
    let dark = |settings: &mut Settings| {
        settings.theme = Theme::Dark;
        Ok::<_, WorkshopError>(())
    };
    store.change_settings(dark).unwrap();
    store.set_binned(opened.id, true).unwrap();
    let heard = heard.lock().unwrap().clone();
    let subjects: Vec<_> = heard.iter().map(|e| e.subject).collect();
    assert_eq!(
        subjects,
        [Subject::Piece, Subject::Settings, Subject::Piece]
    );
}
