//! A run in one piece: what a tight window may and may not cost.

#![allow(missing_docs, clippy::unwrap_used)]

mod devices;

use arrange::{FixedWidth, Options, Room, arrange_with};
use devices::{disc, frame, part, rounded};
use piece::{Margin, PartKind, Piece};
use shape::{EdgeTree, Outline};

const GAP_MM: f64 = 4.0;

/// Four layers of discs and plates that lie over each other at home, in a bare window.
fn stack(w: f64, h: f64) -> Piece {
    let mut bare = frame(w, h);
    bare.lip_mm = 0.0;
    bare.board_clearance_mm = 0.0;
    bare.spacer_width_mm = 0.0;
    bare.margin_mm = Margin {
        left: 0.0,
        right: 0.0,
        top: 0.0,
        bottom: 0.0,
    };
    let mut piece = Piece::new("Stack", bare);
    piece.layout.gap_mm = GAP_MM;
    let mut put = |name: &str, layer: u32, outline: &Outline| {
        piece
            .parts
            .push(part(name, name, PartKind::Other, layer, outline));
    };
    put("front", 0, &rounded(0.0, 0.0, 50.0, 80.0, 6.0));
    put("wheel", 1, &disc(12.0, 20.0, 9.0));
    put("plate", 1, &rounded(4.0, 40.0, 24.0, 30.0, 2.0));
    put("coil", 2, &disc(14.0, 26.0, 8.0));
    put("foil", 2, &rounded(8.0, 44.0, 20.0, 24.0, 1.0));
    put("ring", 3, &disc(13.0, 30.0, 10.0));
    put("back", 4, &rounded(0.0, 0.0, 50.0, 80.0, 6.0));
    piece
}

fn bare(steps: u32) -> Options {
    Options {
        steps,
        captions: false,
        ..Options::default()
    }
}

#[test]
fn outlines_keep_the_gap_and_the_window_however_tight_it_is() {
    let mut spread = 0;
    for width in [172.0, 180.0, 190.0, 210.0, 260.0] {
        let mut piece = stack(width, 84.0);
        let found = arrange_with(&piece, &bare(4_000), &FixedWidth, &shape::Silent).unwrap();
        spread += u32::from(found.room == Room::Spread);
        piece.placements = found.placements;
        let trees: Vec<EdgeTree> = piece
            .outlines_on_board()
            .into_iter()
            .map(|(_, o)| EdgeTree::new(o))
            .collect();
        let field = piece.frame.field().grown(1e-6);
        for (i, a) in trees.iter().enumerate() {
            assert!(field.holds(a.bounds()), "{width}: {:?}", a.bounds());
            for b in &trees[..i] {
                assert!(a.clearance_mm(b, f64::INFINITY) >= GAP_MM - 1e-6, "{width}");
            }
        }
    }
    assert!(spread >= 3, "only {spread} of 5 spread in one run");
}

#[test]
fn threads_and_runs_change_no_byte() {
    let piece = stack(180.0, 84.0);
    let once = arrange_with(&piece, &bare(2_000), &FixedWidth, &shape::Silent).unwrap();
    let again = arrange_with(&piece, &bare(2_000), &FixedWidth, &shape::Silent).unwrap();
    assert_eq!(once, again);
}

#[test]
fn where_the_window_is_long_enough_no_order_changes() {
    let mut piece = stack(400.0, 84.0);
    let found = arrange_with(&piece, &bare(4_000), &FixedWidth, &shape::Silent).unwrap();
    assert_eq!(found.room, Room::Spread);
    piece.placements = found.placements;
    let centre = |id: &str| {
        piece
            .outlines_on_board()
            .into_iter()
            .find(|(p, _)| p.id.as_str() == id)
            .unwrap()
            .1
            .bounds()
            .centre()
    };
    let order = ["front", "wheel", "coil", "ring", "back"].map(|id| centre(id).x);
    assert!(order.windows(2).all(|w| w[0] < w[1]), "{order:?}");
    assert!(centre("wheel").y < centre("plate").y && centre("coil").y < centre("foil").y);
}
