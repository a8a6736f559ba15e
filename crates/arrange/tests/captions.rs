//! Captions: their size, their words and where they lie.

#![allow(missing_docs, clippy::unwrap_used)]

mod devices;

use arrange::{
    FixedWidth, Options, RealFont, Room, arrange, arrange_with, check, letter_height_mm,
};
use arrange::{MeasureText, STOCK_SIZES, StockSize, choose_frame};
use devices::{disc, frame, part, rounded};
use piece::{PartKind, Piece, Placement};
use shape::{EdgeTree, Silent};

/// 16 minutes of arc at 1 m are 4.65 mm (NUREG-0700 rev. 3; computed: 2 x 1000 x tan 8'), rounded up
/// to the series of ISO 3098-1: 2.5, 3.5, 5, 7, 10, 14, 20.
#[test]
fn letters_grow_with_the_viewing_distance_in_the_steps_of_iso_3098() {
    for (distance_m, letter_mm) in [
        (0.3, 2.5),
        (0.53, 2.5),
        (0.54, 3.5),
        (0.7, 3.5),
        (0.76, 5.0),
        (1.0, 5.0),
        (1.5, 7.0),
        (2.1, 10.0),
        (3.0, 14.0),
        (4.0, 20.0),
        (50.0, 20.0),
    ] {
        assert_eq!(letter_height_mm(distance_m), letter_mm, "{distance_m} m");
    }
}

/// 16 minutes of arc at 0.7 m: what the default must not fall below.
#[test]
fn the_default_letters_fill_sixteen_minutes_of_arc() {
    let options = Options::default();
    let letter_mm = letter_height_mm(options.viewing_distance_m);
    let arc_minutes = (letter_mm / 1000.0 / options.viewing_distance_m)
        .atan()
        .to_degrees()
        * 60.0;
    assert!(arc_minutes >= 16.0, "{arc_minutes}");
}

fn captioned(mut piece: Piece) -> Piece {
    let found = arrange(&piece, &Options::default(), &Silent).unwrap();
    piece.placements = found.placements;
    piece.captions = found.captions;
    piece
}

#[test]
fn a_caption_box_holds_its_text_with_its_number_as_the_font_sets_it() {
    let piece = captioned(devices::recorder(frame(300.0, 400.0)));
    for caption in &piece.captions {
        let number = piece.item_numbers()[&caption.part];
        let letter_mm = caption.letter_mm.unwrap();
        for (k, line) in caption.text.split('\n').enumerate() {
            let line = if k == 0 {
                format!("{number}  {line}")
            } else {
                line.to_owned()
            };
            let set = lettering::set_line(&line, lettering::Face::Medium, letter_mm);
            assert!(set.width_mm <= caption.w + 1e-9, "{line}");
        }
        let lines = caption.text.split('\n').count();
        assert!(RealFont.block_height_mm(lines, letter_mm) <= caption.h + 1e-9);
    }
}

#[test]
fn in_a_composition_every_caption_lies_below_its_own_part_and_keeps_a_millimetre() {
    let piece = captioned(devices::recorder(frame(300.0, 400.0)));
    let outlines = piece.outlines_on_board();
    for caption in &piece.captions {
        assert!(caption.leader.is_empty());
        let own = outlines.iter().find(|(p, _)| p.id == caption.part).unwrap();
        let below = own.1.bounds().min.y - caption.bounds().max.y;
        assert!((1.0..=3.0).contains(&below), "{} {below}", caption.text);
        let b = caption.bounds();
        let tree = EdgeTree::new(shape::Outline::rectangle(b.min, b.max).unwrap());
        for (part, outline) in &outlines {
            let clear = tree.clearance_mm(&EdgeTree::new(outline.clone()), f64::INFINITY);
            assert!(
                clear >= 1.0 - 1e-9,
                "{} {} {clear}",
                caption.text,
                part.name
            );
        }
    }
}

/// Pinned discs so close that no caption fits between them: each text must go out to the free space.
#[test]
fn where_there_is_no_room_beside_a_part_a_leader_runs_to_a_dot_inside_it() {
    let mut piece = Piece::new("Crowd", frame(300.0, 300.0));
    for k in 0..9 {
        let id = format!("p{k}");
        piece.parts.push(part(
            &id,
            &format!("Disc number {k}"),
            PartKind::Other,
            0,
            &disc(0.0, 0.0, 10.0),
        ));
        piece.placements.push(Placement {
            part: piece.parts[k].id.clone(),
            x: 110.0 + 24.0 * (k % 3) as f64,
            y: 110.0 + 24.0 * (k / 3) as f64,
            turn_deg: 0.0,
            pinned: true,
        });
    }
    let found = arrange_with(&piece, &Options::default(), &FixedWidth, &Silent).unwrap();
    piece.captions = found.captions;
    assert_eq!(found.uncaptioned, vec![]);
    assert_eq!(check(&piece), vec![]);
    let led: Vec<_> = piece
        .captions
        .iter()
        .filter(|c| !c.leader.is_empty())
        .collect();
    assert!(!led.is_empty());
    for caption in led {
        let outline = piece
            .outlines_on_board()
            .into_iter()
            .find(|(p, _)| p.id == caption.part)
            .unwrap()
            .1;
        let dot = caption.leader[caption.leader.len() - 1];
        let start = caption.leader[0];
        assert!(outline.contains(dot), "{}", caption.text);
        assert!(caption.bounds().grown(1e-6).contains(start));
    }
}

#[test]
fn a_long_name_is_broken_to_the_width_of_its_part() {
    let mut piece = Piece::new("Long", frame(300.0, 300.0));
    let name = "Ribbon between the display and the main board";
    piece.parts.push(part(
        "p",
        name,
        PartKind::Ribbon,
        0,
        &rounded(0.0, 0.0, 40.0, 60.0, 1.0),
    ));
    let piece = captioned(piece);
    let caption = &piece.captions[0];
    assert!(caption.text.contains('\n'));
    assert_eq!(caption.text.replace('\n', " "), name);
    assert!(caption.w <= 1.25 * 40.0, "{}", caption.w);
}

#[test]
fn the_smallest_stock_frame_that_holds_the_recorder_is_found_with_its_layout() {
    let mut piece = devices::recorder(frame(300.0, 400.0));
    let options = Options {
        steps: 4_000,
        ..Options::default()
    };
    let (chosen, layout) = choose_frame(&piece, &STOCK_SIZES, &options, &RealFont, &Silent)
        .unwrap()
        .unwrap();
    piece.frame = chosen.clone();
    piece.placements = layout.placements;
    piece.captions = layout.captions;
    assert_eq!(layout.room, Room::Composed);
    assert_eq!(check(&piece), vec![]);
    // Boxes of the parts, each grown by half the gap, and of the captions would fill four fifths and
    // more of the field of any smaller stock frame: far denser than rows of mixed boxes can be.
    let area = |b: shape::Bounds| b.width_mm() * b.height_mm();
    let parts: f64 = piece
        .parts
        .iter()
        .map(|p| area(p.outline.bounds().grown(2.0)))
        .sum();
    let captions: f64 = piece.captions.iter().map(|c| area(c.bounds())).sum();
    let size = |[w, h]: [f64; 2]| w * h;
    for stock in &STOCK_SIZES {
        if size(stock.size_mm) >= size(chosen.size_mm) {
            continue;
        }
        let [w, h] = stock.size_mm;
        for smaller in [frame(w, h), frame(h, w)] {
            let share = (parts + captions) / area(smaller.field());
            assert!(share > 0.8, "{:?}: {share}", smaller.size_mm);
        }
    }
}

#[test]
fn no_frame_is_chosen_where_none_is_large_enough() {
    let piece = devices::recorder(frame(300.0, 400.0));
    let small = |size_mm: [f64; 2]| StockSize {
        size_mm,
        ..STOCK_SIZES[0].clone()
    };
    let sizes = [small([130.0, 180.0]), small([200.0, 250.0])];
    let options = Options {
        steps: 500,
        ..Options::default()
    };
    let chosen = choose_frame(&piece, &sizes, &options, &RealFont, &Silent).unwrap();
    assert_eq!(chosen, None);
}
