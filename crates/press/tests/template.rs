//! Templates are true to scale, whole and in tiles.

#![allow(clippy::unwrap_used, reason = "a test may stop at once")]

#[path = "support/ink.rs"]
mod ink;
mod support;

use ink::{bar_lengths, bounds, leaves, words};
use press::template::{OVERLAP_MM, tile_board, tiled, whole};
use press::{Item, Paper, PressError, PrinterCorrection, Speech, Step};
use proptest::prelude::*;
use shape::{Bounds, Point};
use std::borrow::Cow;
use support::{piece_with_spare_screws, sample_piece};

#[test]
fn every_page_has_a_bar_of_100_mm_along_both_axes() {
    let piece = sample_piece();
    let mut pages = vec![whole(&piece, PrinterCorrection::NONE, Speech::default()).unwrap()];
    for paper in Paper::KNOWN {
        pages.extend(tiled(&piece, &paper, PrinterCorrection::NONE, Speech::default()).unwrap());
    }
    for page in &pages {
        let (across, up) = bar_lengths(page);
        assert_eq!((across.len(), up.len()), (1, 1), "{}", page.title);
        assert!((across[0] - 100.0).abs() < 1e-9 && (up[0] - 100.0).abs() < 1e-9);
    }
}

/// 100 / 0.996 and 100 / 1.002, by calculation.
#[test]
fn a_correction_stretches_each_axis_by_what_its_bar_lacked() {
    let piece = sample_piece();
    let correction = PrinterCorrection::try_new(99.6, 100.2).unwrap();
    let mut pages = vec![whole(&piece, correction, Speech::default()).unwrap()];
    pages.extend(tiled(&piece, &Paper::A4, correction, Speech::default()).unwrap());
    let plain = tiled(
        &piece,
        &Paper::A4,
        PrinterCorrection::NONE,
        Speech::default(),
    )
    .unwrap();
    for page in &pages {
        let (across, up) = bar_lengths(page);
        assert_eq!((across.len(), up.len()), (1, 1), "{}", page.title);
        assert!((across[0] - 100.401_606).abs() < 1e-5, "{}", across[0]);
        assert!((up[0] - 99.800_399).abs() < 1e-5, "{}", up[0]);
    }
    assert_eq!(
        pages[1].width_mm, plain[0].width_mm,
        "the page itself stays"
    );
}

#[test]
fn a_print_that_is_off_by_more_than_one_percent_is_refused_with_the_reason() {
    assert!(PrinterCorrection::try_new(99.0, 101.0).is_ok());
    for (x, y) in [
        (98.9, 100.0),
        (100.0, 101.1),
        (f64::NAN, 100.0),
        (0.0, 100.0),
    ] {
        let refused = PrinterCorrection::try_new(x, y).unwrap_err();
        let words = refused.to_string();
        assert!(
            words.contains("100 %") && words.contains("measure"),
            "{words}"
        );
    }
}

/// Points of a part's outline on each page, less the place of the page, are those of the piece.
#[test]
fn outlines_stand_at_their_true_place_and_size() {
    let piece = sample_piece();
    let page = whole(&piece, PrinterCorrection::NONE, Speech::default()).unwrap();
    let on_board = piece.outlines_on_board();
    let shown: Vec<Vec<Point>> = leaves(&page)
        .into_iter()
        .filter_map(|(item, at)| match item {
            Item::Shape(s) if s.title.is_some() => {
                let points = s.path.steps.iter().filter_map(|step| match step {
                    Step::Move(p) | Step::Line(p) => Some(at.apply(*p)),
                    _ => None,
                });
                Some(points.collect())
            }
            _ => None,
        })
        .collect();
    assert_eq!(shown.len(), on_board.len());
    let shift = shown[0][0] - on_board[0].1.outer().points()[0];
    for (points, (part, outline)) in shown.iter().zip(&on_board) {
        let expected = outline.rings().flat_map(|r| r.points());
        for (p, q) in points.iter().zip(expected) {
            assert!((*p - (*q + shift)).length_mm() < 1e-9, "{}", part.name);
        }
    }
}

#[test]
fn what_a_page_prints_stays_5_mm_from_its_edge() {
    let piece = sample_piece();
    for paper in Paper::KNOWN {
        for page in tiled(&piece, &paper, PrinterCorrection::NONE, Speech::default()).unwrap() {
            let inside = page.page().grown(-5.0 + 1e-9);
            for item in &page.items {
                // The board's own group is clipped to its tile.
                let b = match item {
                    Item::Group(g) => g
                        .clip
                        .as_ref()
                        .and_then(|c| c.mapped(|p| g.outer_from_inner.apply(p)).bounds()),
                    other => bounds(other, press::Affine::IDENTITY),
                };
                assert!(inside.holds(b.unwrap()), "{}: {b:?}", page.title);
            }
        }
    }
}

#[test]
fn neighbours_print_their_marks_at_the_same_places_of_the_board() {
    let piece = sample_piece();
    for paper in [Paper::A4, Paper::LETTER, Paper::A3] {
        let pages = tiled(&piece, &paper, PrinterCorrection::NONE, Speech::default()).unwrap();
        let mut marks: Vec<(i64, i64)> = Vec::new();
        for page in &pages {
            let Some(Item::Group(board)) = page.items.iter().find(|i| matches!(i, Item::Group(_)))
            else {
                panic!("{} shows no board", page.title);
            };
            let shift = board.outer_from_inner;
            for item in &page.items {
                let Item::Shape(s) = item else { continue };
                let round = s.path.steps.iter().any(|s| matches!(s, Step::Cubic(..)));
                if round && s.stroke.is_some() {
                    let c = s.path.bounds().unwrap().centre();
                    let key = |v: f64| (v * 1e6).round() as i64;
                    marks.push((key(c.x - shift.x0), key(c.y - shift.y0)));
                }
            }
        }
        marks.sort_unstable();
        assert!(!marks.is_empty());
        for pair in marks.chunks(2) {
            assert_eq!(pair[0], pair[pair.len() - 1], "{}", paper.name);
            assert_eq!(pair.len(), 2, "{}", paper.name);
        }
    }
}

#[test]
fn pages_carry_code_number_scale_and_what_to_do() {
    let pages = tiled(
        &sample_piece(),
        &Paper::A4,
        PrinterCorrection::NONE,
        Speech::default(),
    )
    .unwrap();
    let codes = ["A1", "A2", "B1", "B2"];
    assert_eq!(pages.len(), codes.len());
    for (i, (page, code)) in pages.iter().zip(codes).enumerate() {
        let said = words(page).join(" | ");
        let count = format!("page {} of 4", i + 1);
        for word in [code, count.as_str(), "1:1", "Wind in the hand"] {
            assert!(said.contains(word), "{code}: {said}");
        }
    }
}

#[test]
fn every_part_has_its_number_and_no_number_lies_on_a_part() {
    let piece = piece_with_spare_screws();
    let page = whole(&piece, PrinterCorrection::NONE, Speech::default()).unwrap();
    let said = words(&page);
    for number in 1..=piece.parts.len() {
        let times = said.iter().filter(|w| **w == number.to_string()).count();
        assert_eq!(times, 1, "{number}");
    }
    let found = leaves(&page);
    for number in [11, 12] {
        let is_number =
            |item: &Item| matches!(item, Item::Text(t) if t.line.text == number.to_string());
        let &(text, at) = found.iter().find(|(item, _)| is_number(item)).unwrap();
        let own = bounds(text, at).unwrap();
        for &(item, at) in &found {
            if matches!(item, Item::Shape(s) if s.title.is_some()) {
                assert!(bounds(item, at).unwrap().distance_mm(own) > 0.0, "{number}");
            }
        }
    }
}

#[test]
fn paper_without_room_for_a_tile_is_refused() {
    let tiny = Paper {
        name: Cow::Borrowed("postcard"),
        size_mm: [105.0, 148.0],
    };
    let refused = tiled(
        &sample_piece(),
        &tiny,
        PrinterCorrection::NONE,
        Speech::default(),
    )
    .unwrap_err();
    assert!(
        matches!(refused, PressError::PaperTooSmall { .. }),
        "{refused}"
    );
}

#[test]
fn a_character_that_the_fonts_lack_is_named_with_its_caption() {
    let mut piece = sample_piece();
    piece.captions[2].text = "Display 漢".into();
    let refused = whole(&piece, PrinterCorrection::NONE, Speech::default())
        .unwrap_err()
        .to_string();
    assert!(
        refused.contains("captions[2].text") && refused.contains('漢'),
        "{refused}"
    );
}

proptest! {
    #[test]
    fn tiles_cover_the_board_without_gap_and_overlap_by_the_strip(
        w in 60.0..1200.0_f64, h in 60.0..1200.0_f64, which in 0_usize..4,
        shares in prop::collection::vec((0.0..1.0_f64, 0.0..1.0_f64), 20),
    ) {
        let region = Bounds::between(Point::new(-9.0, -9.0), Point::new(w, h));
        let tiling = tile_board(region, &Paper::KNOWN[which]).unwrap();
        for (u, v) in shares {
            let p = Point::new(
                region.min.x + u * region.width_mm(),
                region.min.y + v * region.height_mm(),
            );
            prop_assert!(tiling.tiles.iter().any(|t| t.own.contains(p)));
        }
        let area: f64 = tiling.tiles.iter().map(|t| t.own.width_mm() * t.own.height_mm()).sum();
        let whole = region.width_mm() * region.height_mm();
        prop_assert!((area - whole).abs() < 1e-6 * whole);
        for t in &tiling.tiles {
            let [pw, ph] = tiling.page_size_mm;
            prop_assert!(t.printed.width_mm() <= pw - 10.0 && t.printed.height_mm() <= ph - 10.0);
            for other in &tiling.tiles {
                if other.row == t.row && other.column == t.column + 1 {
                    prop_assert_eq!(t.own.max.x, other.own.min.x);
                    let strip = t.printed.max.x - other.own.min.x;
                    prop_assert!((strip - OVERLAP_MM).abs() < 1e-9);
                }
                if other.column == t.column && other.row == t.row + 1 {
                    prop_assert_eq!(t.own.min.y, other.own.max.y);
                    let strip = other.own.max.y - t.printed.min.y;
                    prop_assert!((strip - OVERLAP_MM).abs() < 1e-9);
                }
            }
        }
    }
}
