//! The knolled style: straight rows and columns, equal gaps, with no homes needed.
//!
//! Truth: the meaning of the words, measured on the placements.

#![allow(missing_docs, clippy::unwrap_used)]

mod devices;

use arrange::{FixedWidth, Options, Room, arrange_with};
use devices::{Dice, faults, frame, laid_out, part, recorder, rounded};
use piece::{PartKind, Piece, Style};
use shape::Bounds;

fn options(captions: bool) -> Options {
    Options {
        steps: 3_000,
        captions,
        ..Options::default()
    }
}

/// Parts of many sizes, none alike, none with a home.
fn loose_parts(seed: u64, n: usize) -> Piece {
    let mut dice = Dice(seed);
    let mut piece = Piece::new("Loose", frame(400.0, 500.0));
    piece.layout.style = Style::Knolled;
    let kinds = [PartKind::Board, PartKind::Ribbon, PartKind::Bracket];
    for k in 0..n {
        let (w, h) = (dice.between(12.0, 60.0), dice.between(8.0, 60.0));
        let outline = rounded(0.0, 0.0, w, h, 2.0);
        let kind = kinds[dice.below(3)];
        let mut p = part(&format!("p{k}"), &format!("Part {k}"), kind, 0, &outline);
        p.home = None;
        piece.parts.push(p);
    }
    piece
}

/// Boxes of the placed parts, row by row from the top, each from left to right. Feet are compared to 1e-6 mm.
fn rows_of(piece: &Piece) -> Vec<Vec<Bounds>> {
    let mut boxes: Vec<Bounds> = piece
        .outlines_on_board()
        .into_iter()
        .map(|(_, o)| o.bounds())
        .collect();
    boxes.sort_by(|a, b| b.min.y.total_cmp(&a.min.y));
    let mut rows: Vec<Vec<Bounds>> = Vec::new();
    for b in boxes {
        match rows.last_mut() {
            Some(row) if (row[0].min.y - b.min.y).abs() < 1e-6 => row.push(b),
            _ => rows.push(vec![b]),
        }
    }
    for row in &mut rows {
        row.sort_by(|a, b| a.min.x.total_cmp(&b.min.x));
    }
    rows
}

#[test]
fn feet_stand_on_lines_and_gaps_of_a_row_or_middles_of_a_column_are_equal() {
    for seed in 0..6 {
        let mut piece = loose_parts(seed, 14);
        let found = arrange_with(&piece, &options(false), &FixedWidth, &shape::Silent).unwrap();
        assert_eq!(found.room, Room::Composed, "seed {seed}");
        piece.placements = found.placements;
        let rows = rows_of(&piece);
        assert_eq!(rows.len(), found.bands, "seed {seed}: {rows:?}");
        assert!(rows.iter().any(|r| r.len() > 2), "seed {seed}");
        for row in rows.windows(2) {
            let lowest = row[0][0].min.y;
            let highest = row[1].iter().map(|b| b.max.y).fold(0.0, f64::max);
            assert!(highest <= lowest - piece.layout.gap_mm + 1e-6);
        }
        for (r, row) in rows.iter().enumerate() {
            let gaps: Vec<f64> = row.windows(2).map(|w| w[1].min.x - w[0].max.x).collect();
            let spread = |v: &[f64]| {
                v.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                    - v.iter().copied().fold(f64::INFINITY, f64::min)
            };
            let in_columns = row.iter().all(|b| {
                rows.iter().enumerate().any(|(o, other)| {
                    o != r
                        && other
                            .iter()
                            .any(|c| (c.centre().x - b.centre().x).abs() < 1e-6)
                })
            });
            assert!(
                gaps.len() < 2 || spread(&gaps) < 1e-6 || in_columns,
                "seed {seed}, row {r}: {gaps:?}"
            );
        }
    }
}

#[test]
fn a_device_in_rows_keeps_all_rules_and_needs_no_homes() {
    let mut with_homes = recorder(frame(350.0, 450.0));
    with_homes.layout.style = Style::Knolled;
    let mut without = with_homes.clone();
    for part in &mut without.parts {
        part.home = None;
    }
    let run = |piece: &Piece| {
        let found = arrange_with(piece, &options(true), &FixedWidth, &shape::Silent).unwrap();
        let bad = faults(&laid_out(piece, found.clone()));
        assert!(bad.is_empty(), "{bad:?}");
        assert!(found.uncaptioned.is_empty());
        assert_eq!(found.shared_stations, 0);
        found
    };
    // The homes of the recorder turn no part, so they cannot matter.
    assert_eq!(run(&with_homes).placements, run(&without).placements);
}

#[test]
fn like_lies_beside_like_where_nothing_else_speaks_against_it() {
    // Twelve squares of one size, of three kinds.
    let mut piece = Piece::new("Squares", frame(300.0, 400.0));
    piece.layout.style = Style::Knolled;
    for k in 0..12 {
        let kind = [PartKind::Board, PartKind::Ribbon, PartKind::Bracket][k % 3];
        let outline = rounded(0.0, 0.0, 30.0, 30.0 + 0.001 * k as f64, 2.0);
        let mut p = part(&format!("p{k}"), &format!("Part {k}"), kind, 0, &outline);
        p.home = None;
        piece.parts.push(p);
    }
    let found = arrange_with(&piece, &options(false), &FixedWidth, &shape::Silent).unwrap();
    piece.placements = found.placements;
    // Of nine pairs that could be neighbours at most one is lost where a row ends.
    assert!(
        found.score.order <= 3.0 / (12.0 * 11.0),
        "{:?}",
        found.score
    );
}
