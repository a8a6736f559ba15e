//! Each fault that a check can find, made on purpose, and nothing where there is none.

#![allow(missing_docs, clippy::unwrap_used)]

mod devices;

use arrange::check;
use devices::{disc, frame, part, rounded};
use piece::{Caption, Finding, KeepOut, Level, PartId, PartKind, Piece, Placement};
use shape::{Outline, Point};

fn id(text: &str) -> PartId {
    PartId::try_new(text).unwrap()
}

/// Two plates of 40 x 30 mm, 4 mm apart (the gap), well inside a frame of 300 x 400 mm, captioned.
fn sound() -> Piece {
    let mut piece = Piece::new("Plates", frame(300.0, 400.0));
    for (k, x) in [(1, 50.0), (2, 94.0)] {
        let name = format!("p{k}");
        let plate = Outline::rectangle(Point::new(0.0, 0.0), Point::new(40.0, 30.0)).unwrap();
        piece.parts.push(part(
            &name,
            &format!("Plate {k}"),
            PartKind::Other,
            0,
            &plate,
        ));
        piece.placements.push(Placement {
            part: id(&name),
            x,
            y: 100.0,
            turn_deg: 0.0,
            pinned: false,
        });
        piece.captions.push(Caption {
            part: id(&name),
            text: format!("Plate {k}"),
            x,
            y: 90.0,
            w: 25.0,
            h: 5.0,
            letter_mm: Some(3.5),
            leader: vec![],
        });
    }
    piece
}

fn codes(piece: &Piece) -> Vec<(Level, String)> {
    check(piece)
        .into_iter()
        .map(|f| (f.level, f.code))
        .collect()
}

fn only(piece: &Piece, level: Level, code: &str) -> Finding {
    let findings = check(piece);
    assert_eq!(codes(piece), vec![(level, code.to_owned())]);
    findings[0].clone()
}

#[test]
fn a_sound_layout_has_no_findings() {
    assert_eq!(codes(&sound()), vec![]);
}

#[test]
fn an_overlap_is_a_stop_with_its_area() {
    let mut piece = sound();
    piece.placements[1].x = 89.0;
    piece.captions[1].x = 89.0;
    // By construction: 1 mm of 40 + 40 over 30 mm.
    let finding = only(&piece, Level::Stop, "layout.overlap");
    assert_eq!(finding.parts, vec![id("p1"), id("p2")]);
    assert!(
        finding.text.contains("overlap by 30.00 mm²"),
        "{}",
        finding.text
    );
}

#[test]
fn a_gap_too_small_is_told_rounded_to_the_safe_side() {
    let mut piece = sound();
    piece.placements[1].x = 92.4567;
    let finding = only(&piece, Level::Fix, "layout.gap");
    assert!(
        finding.text.contains("are 2.45 mm apart"),
        "{}",
        finding.text
    );
    assert!(finding.remedy.contains("1.55 mm"), "{}", finding.remedy);
}

#[test]
fn a_shortfall_of_rounding_is_none_and_a_hundredth_of_a_millimetre_is_one() {
    let mut piece = sound();
    piece.placements[1].x = 94.0 - 0.9e-6;
    assert_eq!(codes(&piece), vec![]);
    piece.placements[1].x = 94.0 - 1.1e-6;
    only(&piece, Level::Fix, "layout.gap");
}

#[test]
fn parts_that_touch_without_sharing_area_are_too_near_and_do_not_overlap() {
    let mut piece = sound();
    piece.placements[1].x = 90.0;
    let finding = only(&piece, Level::Fix, "layout.gap");
    assert!(
        finding.text.contains("are 0.00 mm apart"),
        "{}",
        finding.text
    );
}

#[test]
fn with_a_gap_of_nothing_parts_may_touch() {
    let mut piece = sound();
    piece.layout.gap_mm = 0.0;
    piece.placements[1].x = 90.0;
    assert_eq!(codes(&piece), vec![]);
}

#[test]
fn a_part_in_anothers_hole_does_not_overlap_it() {
    let mut piece = sound();
    let ring = Outline::try_new(
        disc(0.0, 0.0, 30.0).outer().points().to_vec(),
        vec![disc(0.0, 0.0, 25.0).outer().points().to_vec()],
    )
    .unwrap();
    piece.parts[0] = part("p1", "Plate 1", PartKind::Other, 0, &ring);
    piece.parts[1] = part("p2", "Plate 2", PartKind::Other, 0, &disc(0.0, 0.0, 10.0));
    piece.placements[0].x = 50.0;
    piece.placements[1].x = 70.0;
    piece.placements[1].y = 120.0;
    piece.captions.truncate(1);
    piece.captions[0].y = 92.0;
    only(&piece, Level::Note, "caption.missing");
}

#[test]
fn a_part_out_of_the_window_is_a_stop_and_one_in_the_margin_a_fix() {
    // Window 288 x 388 mm; field from 17 to 271 mm in x (12 of margin, 5 of spacer).
    let mut piece = sound();
    piece.placements[0].x = 16.0;
    let finding = only(&piece, Level::Fix, "layout.outside-margin");
    assert!(
        finding.text.contains("1.00 mm into the margin"),
        "{}",
        finding.text
    );
    piece.placements[0].x = -2.5;
    let finding = only(&piece, Level::Stop, "layout.outside-window");
    assert!(
        finding.text.contains("2.50 mm out of the window"),
        "{}",
        finding.text
    );
}

#[test]
fn a_part_without_a_place_is_named() {
    let mut piece = sound();
    piece.placements.pop();
    let finding = only(&piece, Level::Fix, "layout.not-placed");
    assert_eq!(finding.parts, vec![id("p2")]);
}

#[test]
fn a_part_larger_than_the_window_is_a_stop_with_both_sizes() {
    let mut piece = sound();
    let long = Outline::rectangle(Point::new(0.0, 0.0), Point::new(260.0, 10.0)).unwrap();
    piece
        .parts
        .push(part("p3", "Rail", PartKind::Other, 0, &long));
    let findings = check(&piece);
    assert_eq!(findings[0].code, "layout.part-too-large");
    assert!(
        findings[0].text.contains("Rail (p3) is 260.00 x 10.00 mm")
            && findings[0].text.contains("254.00 x 348.00 mm"),
        "{}",
        findings[0].text
    );
    // Stood upright it fits, where it may be turned.
    piece.parts[2].turns = piece::Turns::Quarter;
    assert!(!check(&piece).iter().any(|f| f.level == Level::Stop));
}

#[test]
fn a_part_on_a_keep_out_is_named_with_what_it_is_kept_for() {
    let mut piece = sound();
    piece.layout.keep_outs.push(KeepOut {
        x: 120.0,
        y: 80.0,
        w: 60.0,
        h: 30.0,
        why: "plaque".into(),
    });
    let finding = only(&piece, Level::Fix, "layout.keep-out");
    assert!(
        finding.text.contains("kept for: plaque"),
        "{}",
        finding.text
    );
}

#[test]
fn a_caption_on_a_part_or_on_a_caption_is_found() {
    let mut piece = sound();
    piece.captions[0].y = 96.0;
    let finding = only(&piece, Level::Fix, "caption.on-part");
    assert_eq!(finding.parts, vec![id("p1"), id("p1")]);
    let mut piece = sound();
    piece.captions[0].x = 90.0;
    only(&piece, Level::Fix, "caption.on-caption");
}

#[test]
fn a_caption_in_a_parts_window_lies_on_no_part() {
    let mut piece = sound();
    let window = Outline::try_new(
        rounded(0.0, 0.0, 40.0, 30.0, 1.0).outer().points().to_vec(),
        vec![rounded(4.0, 4.0, 32.0, 22.0, 1.0).outer().points().to_vec()],
    )
    .unwrap();
    piece.parts[0] = part("p1", "Plate 1", PartKind::Other, 0, &window);
    piece.captions[0].x = 57.0;
    piece.captions[0].y = 112.0;
    assert_eq!(codes(&piece), vec![]);
}

#[test]
fn a_caption_out_of_the_window_is_found() {
    let mut piece = sound();
    piece.captions[0].x = -1.0;
    only(&piece, Level::Fix, "caption.outside-window");
}

#[test]
fn a_leader_over_a_foreign_part_or_leader_is_found() {
    let mut piece = sound();
    piece.captions[0].y = 60.0;
    // Through the second plate and on to the first.
    piece.captions[0].leader = vec![Point::new(75.0, 65.0), Point::new(100.0, 110.0)];
    only(&piece, Level::Fix, "leader.crosses-part");
    piece.captions[0].leader = vec![Point::new(75.0, 65.0), Point::new(60.0, 105.0)];
    assert_eq!(codes(&piece), vec![]);
    piece.captions[1].y = 60.0;
    piece.captions[1].x = 20.0;
    piece.captions[1].leader = vec![Point::new(45.0, 70.0), Point::new(95.0, 98.0)];
    only(&piece, Level::Fix, "leader.crosses-leader");
}

#[test]
fn stops_come_first_and_the_order_never_changes() {
    let mut piece = sound();
    piece.placements[0].x = 16.0;
    piece.placements[1].x = -3.0;
    piece.captions.clear();
    let findings = check(&piece);
    let levels: Vec<Level> = findings.iter().map(|f| f.level).collect();
    let mut sorted = levels.clone();
    sorted.sort();
    assert_eq!(levels, sorted);
    piece.placements.reverse();
    assert_eq!(check(&piece), findings);
}
