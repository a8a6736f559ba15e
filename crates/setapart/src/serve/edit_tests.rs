//! What each step does to a piece.

use super::edits::{Edit, EditError, Knowledge, apply_all};
use piece::{Caption, Part, PartId, Piece, Placement};
use serde_json::json;
use shape::{Outline, Point};

fn id(text: &str) -> PartId {
    PartId::try_new(text).unwrap()
}

/// Two bars of 30 x 10 mm: `a` at (40, 100), `b` without a place.
fn bars() -> Piece {
    let mut piece = Piece::new("Bars", crate::commands::demo::usual_frame());
    for name in ["a", "b"] {
        let outline = Outline::rectangle(Point::default(), Point::new(30.0, 10.0)).unwrap();
        let text = json!({ "id": name, "name": format!("Bar {name}"), "kind": "other", "outline": outline });
        piece
            .parts
            .push(serde_json::from_value::<Part>(text).unwrap());
    }
    piece.placements.push(Placement {
        part: id("a"),
        x: 40.0,
        y: 100.0,
        turn_deg: 0.0,
        pinned: false,
    });
    piece
}

fn caption(x: f64, y: f64, leader: Vec<Point>) -> Caption {
    Caption {
        part: id("a"),
        text: "Bar a".into(),
        x,
        y,
        w: 15.0,
        h: 5.0,
        letter_mm: Some(3.5),
        leader,
    }
}

fn place(part: &str, x: f64, y: f64, turn_deg: f64) -> Edit {
    let part = id(part);
    Edit::Place {
        part,
        x,
        y,
        turn_deg,
    }
}

#[test]
fn a_caption_beside_its_part_goes_with_it() {
    let mut piece = bars();
    piece.captions.push(caption(47.0, 93.0, Vec::new()));
    apply_all(&mut piece, &[place("a", 50.0, 105.0, 0.0)]).unwrap();
    assert_eq!((piece.captions[0].x, piece.captions[0].y), (57.0, 98.0));
}

#[test]
fn a_leaders_end_stays_at_its_place_on_the_part_also_when_it_turns() {
    let mut piece = bars();
    let leader = vec![Point::new(100.0, 60.0), Point::new(45.0, 103.0)];
    piece.captions.push(caption(100.0, 57.0, leader));
    apply_all(&mut piece, &[place("a", 40.0, 100.0, 90.0)]).unwrap();
    // (5, 3) from the part's origin, a quarter turn to the left: (-3, 5).
    let c = &piece.captions[0];
    assert_eq!((c.x, c.y), (100.0, 57.0));
    let end = c.leader.last().unwrap();
    assert!(end.distance_mm(Point::new(37.0, 105.0)) < 1e-9, "{end:?}");
}

#[test]
fn a_caption_moved_away_gets_a_leader_into_the_parts_material_and_loses_it_near_by() {
    let mut piece = bars();
    piece.captions.push(caption(47.0, 93.0, Vec::new()));
    let far = Edit::MoveCaption {
        part: id("a"),
        x: 150.0,
        y: 200.0,
    };
    apply_all(&mut piece, &[far]).unwrap();
    let on = piece.outlines_on_board()[0].1.clone();
    let leader = piece.captions[0].leader.clone();
    assert_eq!(leader.len(), 2);
    assert!(on.contains(leader[1]));
    // It leaves the box on the side that looks to the part.
    assert!(
        leader[0].distance_mm(Point::new(150.0, 202.5)) < 1e-9
            || leader[0].distance_mm(Point::new(157.5, 200.0)) < 1e-9
    );
    let near = Edit::MoveCaption {
        part: id("a"),
        x: 47.0,
        y: 93.0,
    };
    apply_all(&mut piece, &[near]).unwrap();
    assert!(piece.captions[0].leader.is_empty());
}

#[test]
fn a_part_that_has_no_place_takes_that_of_the_one_it_is_swapped_with() {
    let mut piece = bars();
    let swap = Edit::Swap {
        part: id("a"),
        with: id("b"),
    };
    apply_all(&mut piece, std::slice::from_ref(&swap)).unwrap();
    assert!(piece.placement(&id("a")).is_none());
    let b = piece.placement(&id("b")).unwrap();
    assert_eq!((b.x, b.y), (40.0, 100.0));
    assert_eq!(
        swap.apply(&mut piece),
        Err(EditError::NotPlaced("Bar a".into()))
    );
}

#[test]
fn a_written_caption_has_the_size_of_its_words_and_an_empty_one_goes() {
    let mut piece = bars();
    let write = |text: &str| Edit::WriteCaption {
        part: id("a"),
        text: text.into(),
    };
    apply_all(&mut piece, &[write("Bar")]).unwrap();
    let narrow = piece.captions[0].w;
    apply_all(&mut piece, &[write("Bar of aluminium,\nanodised")]).unwrap();
    let c = &piece.captions[0];
    assert!(c.w > narrow && c.h > 8.0, "{c:?}");
    assert!(
        arrange::check(&piece)
            .iter()
            .all(|f| f.code != "caption.on-part")
    );
    apply_all(&mut piece, &[write("  ")]).unwrap();
    assert!(piece.captions.is_empty());
}

#[test]
fn a_new_name_reaches_the_caption_that_said_the_old_one() {
    let mut piece = bars();
    piece.captions.push(caption(47.0, 93.0, Vec::new()));
    let what = Knowledge {
        name: Some("Bracket".into()),
        thickness_mm: Some(None),
        ..Knowledge::default()
    };
    let know = Edit::Know {
        part: id("a"),
        what: Box::new(what),
    };
    apply_all(&mut piece, &[know]).unwrap();
    assert_eq!(piece.parts[0].name, "Bracket");
    assert_eq!(piece.captions[0].text, "Bracket");
}

#[test]
fn what_is_left_out_stays_and_null_makes_it_unknown() {
    let said: Knowledge = serde_json::from_str(r#"{"mass_g": null}"#).unwrap();
    assert_eq!(said.mass_g, Some(None));
    assert_eq!(said.thickness_mm, None);
    let said: Knowledge = serde_json::from_str(r#"{"mass_g": 4.5}"#).unwrap();
    assert_eq!(said.mass_g, Some(Some(4.5)));
    assert!(serde_json::from_str::<Knowledge>(r#"{"weight": 4.5}"#).is_err());
}

#[test]
fn what_mounting_needs_to_know_of_a_part_can_be_said_and_unsaid() {
    let mut piece = bars();
    let said = r#"{ "do": "know", "part": "a", "what": { "wall_mm": 1.5, "inner_depth_mm": 6, "lift_mm": null, "freed_by": "warm_air",
        "back_films": ["graphite"], "trim": "the tab", "storage": { "sanitization": null, "by": "W. K." },
        "home": { "x": 1, "y": 2, "turn_deg": 90, "layer": 3 } } }"#;
    let edit: Edit = serde_json::from_str(said).unwrap();
    edit.apply(&mut piece).unwrap();
    let part = piece.part(&id("a")).unwrap();
    assert_eq!((part.wall_mm, part.inner_depth_mm), (Some(1.5), Some(6.0)));
    assert_eq!(part.freed_by, Some(piece::FreedBy::WarmAir));
    assert_eq!(part.back_films, [piece::BackFilm::Graphite]);
    assert_eq!(part.home.unwrap().layer, 3);
    let storage = part.storage.as_ref().unwrap();
    assert_eq!(
        (storage.sanitization, storage.by.as_deref()),
        (None, Some("W. K."))
    );
    let unsaid = r#"{ "do": "know", "part": "a", "what": { "wall_mm": null, "freed_by": null, "storage": null, "trim": "" } }"#;
    let edit: Edit = serde_json::from_str(unsaid).unwrap();
    edit.apply(&mut piece).unwrap();
    let part = piece.part(&id("a")).unwrap();
    assert_eq!((part.wall_mm, part.inner_depth_mm), (None, Some(6.0)));
    assert!(part.freed_by.is_none() && part.storage.is_none() && part.trim.is_none());
}

#[test]
fn a_part_that_is_removed_takes_its_place_and_caption_with_it() {
    let mut piece = bars();
    piece.captions.push(caption(47.0, 93.0, Vec::new()));
    apply_all(&mut piece, &[Edit::Remove { part: id("a") }]).unwrap();
    assert_eq!(piece.parts.len(), 1);
    assert!(piece.placements.is_empty() && piece.captions.is_empty());
    piece.check_sound().unwrap();
}

#[test]
fn an_order_that_leaves_parts_out_keeps_them_at_the_end() {
    let mut piece = bars();
    let parts = vec![id("b")];
    apply_all(&mut piece, &[Edit::Order { parts }]).unwrap();
    let ids: Vec<&str> = piece.parts.iter().map(|p| p.id.as_str()).collect();
    assert_eq!(ids, ["b", "a"]);
}
