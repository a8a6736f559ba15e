//! A layout is put right with the least movement.

#![allow(missing_docs, clippy::unwrap_used)]

mod devices;

use arrange::{FixedWidth, Options, arrange_with, check, keep_with};
use devices::{Dice, disc, faults, frame, generated, laid_out, part, rounded};
use piece::{Level, PartKind, Piece};

fn quick(seed: u64) -> Options {
    Options {
        seed,
        steps: 600,
        ..Options::default()
    }
}

fn arranged(seed: u64, n: usize) -> Piece {
    let piece = generated(seed, n, frame(500.0, 600.0));
    let found = arrange_with(&piece, &quick(seed), &FixedWidth, &shape::Silent).unwrap();
    laid_out(&piece, found)
}

fn kept(piece: &Piece) -> Piece {
    let found = keep_with(piece, &quick(1), &FixedWidth, &shape::Silent).unwrap();
    laid_out(piece, found)
}

/// Parts that moved, and how far in all, mm.
fn moved(before: &Piece, after: &Piece) -> (usize, f64) {
    let far = after.placements.iter().filter_map(|now| {
        let was = before.placement(&now.part)?;
        Some((now.x - was.x).hypot(now.y - was.y))
    });
    let far: Vec<f64> = far.filter(|d| *d > 1e-6).collect();
    (far.len(), far.iter().sum())
}

#[test]
fn what_is_sound_stays_to_the_last_bit() {
    for seed in 0..6 {
        let piece = arranged(seed, 12 + 2 * seed as usize);
        let again = kept(&piece);
        assert_eq!(piece.placements, again.placements);
        assert_eq!(piece.captions, again.captions);
    }
}

#[test]
fn a_part_that_grew_is_put_right_near_where_it_was() {
    for seed in 0..8 {
        let before = arranged(seed, 16);
        let mut piece = before.clone();
        let b = piece.parts[4].outline.bounds();
        piece.parts[4].outline = rounded(0.0, 0.0, b.width_mm() + 9.0, b.height_mm() + 9.0, 1.0);
        let after = kept(&piece);
        assert_eq!(faults(&after), Vec::<String>::new());
        let (n, far) = moved(&piece, &after);
        // It grew by 9 mm each way: in a row of neighbours all on one side of it may have to go on by as much.
        assert!(
            far <= 9.0 * 2.0 * piece.parts.len() as f64,
            "seed {seed}: {n} parts by {far:.1} mm"
        );
    }
}

#[test]
fn an_added_part_finds_a_place_and_a_caption() {
    for seed in 0..8 {
        let before = arranged(seed, 14);
        let mut piece = before.clone();
        let mut dice = Dice(seed);
        let plate = rounded(
            dice.between(0.0, 20.0),
            dice.between(0.0, 40.0),
            22.0,
            16.0,
            1.0,
        );
        piece
            .parts
            .push(part("new", "New plate", PartKind::Other, 3, &plate));
        let after = kept(&piece);
        assert_eq!(after.placements.len(), piece.parts.len());
        assert_eq!(faults(&after), Vec::<String>::new());
        assert!(after.captions.iter().any(|c| c.part.as_str() == "new"));
    }
}

#[test]
fn a_part_taken_out_moves_nothing() {
    let before = arranged(3, 16);
    let mut piece = before.clone();
    let gone = piece.parts.remove(5).id;
    piece.placements.retain(|p| p.part != gone);
    piece.captions.retain(|c| c.part != gone);
    let after = kept(&piece);
    assert_eq!(moved(&before, &after), (0, 0.0));
    assert_eq!(faults(&after), Vec::<String>::new());
}

#[test]
fn pinned_parts_stay_while_their_neighbours_make_room() {
    for seed in 0..6 {
        let mut piece = arranged(seed, 14);
        piece.placements[2].pinned = true;
        let b = piece.parts[2].outline.bounds();
        piece.parts[2].outline = disc(0.0, 0.0, 0.5 * b.width_mm().max(b.height_mm()) + 3.0)
            .at_origin()
            .0;
        let pinned = piece.placements[2].clone();
        match keep_with(&piece, &quick(1), &FixedWidth, &shape::Silent) {
            Ok(found) => {
                assert_eq!(found.placements[2], pinned);
                let mut after = piece.clone();
                after.placements = found.placements;
                after.captions = found.captions;
                let stops: Vec<_> = check(&after)
                    .into_iter()
                    .filter(|f| f.level == Level::Stop)
                    .collect();
                // Pinned where it was and larger, it may reach into the margin or out of the window.
                assert!(
                    stops.iter().all(|f| f.parts == vec![pinned.part.clone()]),
                    "{stops:?}"
                );
            }
            Err(error) => assert!(
                matches!(error, arrange::ArrangeError::NoRoom { .. }),
                "{error}"
            ),
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    let mut piece = arranged(4, 16);
    piece.parts[3].outline = rounded(0.0, 0.0, 60.0, 40.0, 1.0);
    assert_eq!(kept(&piece).to_json(), kept(&piece).to_json());
}
