//! What every layout keeps, tried on generated pieces.

#![allow(missing_docs, clippy::unwrap_used)]

mod devices;

use arrange::{ArrangeError, FixedWidth, Options, StoppedBy, arrange_with, check};
use devices::{Dice, disc, faults, frame, generated, laid_out, part, rounded};
use piece::{KeepOut, Part, PartId, PartKind, Piece, Placement, Spread};
use proptest::prelude::*;
use shape::{Cancelled, EdgeTree, Outline, Point, Watch};
use std::sync::atomic::{AtomicU32, Ordering};

/// Few steps: the laws hold for every layout, not only for good ones.
fn quick(seed: u64) -> Options {
    Options {
        seed,
        steps: 300,
        ..Options::default()
    }
}

/// A star-shaped outline of random radii, with a hole where it is large enough.
fn random_outline(dice: &mut Dice, size: f64) -> Outline {
    let n = 5 + dice.below(20);
    let points = (0..n)
        .map(|k| {
            let a = std::f64::consts::TAU * k as f64 / n as f64;
            let r = size * dice.between(0.3, 0.5);
            Point::new(r * a.cos() * 1.4, r * a.sin())
        })
        .collect();
    let holes = if dice.below(2) == 0 {
        vec![disc(0.0, 0.0, 0.15 * size).outer().points().to_vec()]
    } else {
        vec![]
    };
    Outline::try_new(points, holes).unwrap()
}

/// `n` parts of random outlines in random homes; some of them without one.
fn random_piece(seed: u64, n: usize, homeless: usize, w: f64, h: f64) -> Piece {
    let mut dice = Dice(seed);
    let mut piece = Piece::new("Random", frame(w, h));
    piece.layout.gap_mm = dice.between(0.5, 6.0);
    piece.layout.spread = [Spread::Right, Spread::Left, Spread::Up, Spread::Down][dice.below(4)];
    for k in 0..n {
        let size = dice.between(4.0, 60.0);
        let outline = random_outline(&mut dice, size).shifted(shape::Vector::new(
            dice.between(0.0, 80.0),
            dice.between(0.0, 120.0),
        ));
        let kind = [PartKind::Board, PartKind::Bracket, PartKind::Other][dice.below(3)];
        let mut p = part(
            &format!("p{k}"),
            &format!("Part {k}"),
            kind,
            dice.below(6) as u32,
            &outline,
        );
        if let Some(home) = &mut p.home {
            home.turn_deg = dice.between(-20.0, 20.0);
        }
        if dice.below(100) < homeless {
            p.home = None;
        }
        piece.parts.push(p);
    }
    piece
}

/// The same laws without `check`: every pair of outlines, point by point.
fn assert_laws(piece: &Piece) {
    let gap = piece.layout.gap_mm;
    let field = piece.frame.field().grown(1e-9);
    let trees: Vec<EdgeTree> = piece
        .outlines_on_board()
        .into_iter()
        .map(|(_, o)| EdgeTree::new(o))
        .collect();
    assert_eq!(trees.len(), piece.parts.len());
    for (i, a) in trees.iter().enumerate() {
        assert!(field.holds(a.outline().bounds()));
        for b in &trees[..i] {
            assert!(a.clearance_mm(b, f64::INFINITY) >= gap - 1e-6);
            assert_eq!(shape::intersection_area_mm2(a.outline(), b.outline()), 0.0);
        }
    }
}

fn arranged(piece: &Piece, options: &Options) -> Result<Piece, ArrangeError> {
    let found = arrange_with(piece, options, &FixedWidth, &shape::Silent)?;
    Ok(laid_out(piece, found))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_parts_never_overlap_and_keep_gap_and_field(
        seed in any::<u64>(), n in 5usize..40, homeless in prop_oneof![Just(0usize), Just(30), Just(100)],
        w in 200.0..600.0f64, h in 200.0..600.0f64,
    ) {
        let piece = random_piece(seed, n, homeless, w, h);
        match arranged(&piece, &quick(seed)) {
            Ok(laid_out) => {
                assert_laws(&laid_out);
                prop_assert_eq!(faults(&laid_out), Vec::<String>::new());
            }
            Err(ArrangeError::NoRoom { field_mm, .. }) => {
                // Only a board that is really crowded may be refused.
                let area: f64 = piece.parts.iter().map(|p| p.outline.area_mm2()).sum();
                prop_assert!(area > 0.2 * field_mm[0] * field_mm[1], "refused at {}", area);
            }
            Err(ArrangeError::PartTooLarge(_)) => {}
            Err(other) => prop_assert!(false, "{other}"),
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_bytes(seed in any::<u64>(), n in 5usize..16) {
        let piece = random_piece(seed, n, 20, 400.0, 500.0);
        let first = arranged(&piece, &quick(7)).map(|p| p.to_json());
        let again = arranged(&piece, &quick(7)).map(|p| p.to_json());
        prop_assert_eq!(first, again);
    }

    #[test]
    fn pinned_parts_stay_and_the_others_keep_clear_of_them(seed in any::<u64>(), n in 5usize..14) {
        let mut piece = random_piece(seed, n, 20, 500.0, 600.0);
        let field = piece.frame.field();
        let mut dice = Dice(seed ^ 1);
        let pinned = Placement {
            part: piece.parts[0].id.clone(),
            x: dice.between(field.min.x + 45.0, field.max.x - 90.0),
            y: dice.between(field.min.y + 45.0, field.max.y - 90.0),
            turn_deg: dice.between(-10.0, 10.0),
            pinned: true,
        };
        piece.placements = vec![pinned.clone()];
        let laid_out = arranged(&piece, &quick(seed)).unwrap();
        prop_assert_eq!(laid_out.placement(&pinned.part), Some(&pinned));
        assert_laws(&laid_out);
        prop_assert_eq!(faults(&laid_out), Vec::<String>::new());
    }

    #[test]
    fn no_part_lies_in_a_keep_out(seed in any::<u64>(), n in 5usize..14) {
        let mut piece = random_piece(seed, n, 20, 500.0, 600.0);
        let mut dice = Dice(seed ^ 2);
        piece.layout.keep_outs = vec![KeepOut {
            x: dice.between(0.0, 400.0),
            y: dice.between(0.0, 500.0),
            w: dice.between(20.0, 90.0),
            h: dice.between(20.0, 60.0),
            why: "plaque".into(),
        }];
        let laid_out = arranged(&piece, &quick(seed)).unwrap();
        assert_laws(&laid_out);
        prop_assert_eq!(faults(&laid_out), Vec::<String>::new());
    }
}

#[test]
fn every_part_of_a_device_is_placed_once_and_every_name_is_said() {
    for seed in 0..20 {
        let piece = generated(seed, 6 + 2 * seed as usize, frame(700.0, 900.0));
        let laid_out = arranged(&piece, &quick(seed)).unwrap();
        assert_eq!(laid_out.placements.len(), piece.parts.len());
        assert_eq!(faults(&laid_out), Vec::<String>::new());
        assert!(!check(&laid_out).iter().any(|f| f.code == "caption.missing"));
        laid_out.check_sound().unwrap();
    }
}

#[test]
fn four_thousand_steps_find_a_better_layout_than_none() {
    let piece = devices::recorder(frame(300.0, 400.0));
    let total = |steps| {
        let options = Options { steps, ..quick(3) };
        arrange_with(&piece, &options, &FixedWidth, &shape::Silent)
            .unwrap()
            .score
            .total(&arrange::WEIGHTS)
    };
    let (none, some) = (total(0), total(4_000));
    assert!(some < none, "{some} after 4000 steps, {none} after none");
}

#[test]
fn layers_run_across_the_board_front_first() {
    // Four plates of one size and home, one in each layer: nothing but the run can order them.
    for (spread, key) in [
        (Spread::Right, (1.0, 0.0)),
        (Spread::Left, (-1.0, 0.0)),
        (Spread::Up, (0.0, 1.0)),
        (Spread::Down, (0.0, -1.0)),
    ] {
        let mut piece = Piece::new("Plates", frame(500.0, 500.0));
        piece.layout.spread = spread;
        for k in [2, 0, 3, 1] {
            let plate = rounded(0.0, 0.0, 60.0, 60.0, 2.0);
            let id = format!("p{k}");
            piece
                .parts
                .push(part(&id, &format!("Plate {k}"), PartKind::Other, k, &plate));
        }
        let laid_out = arranged(&piece, &quick(1)).unwrap();
        let mut along: Vec<(u32, f64)> = laid_out
            .outlines_on_board()
            .iter()
            .map(|(p, o)| {
                let c = o.bounds().centre();
                (p.home.unwrap().layer, key.0 * c.x + key.1 * c.y)
            })
            .collect();
        along.sort_by_key(|(layer, _)| *layer);
        let one_run = along.windows(2).all(|w| w[0].1 < w[1].1 + 1e-9);
        assert!(one_run, "{spread:?}: {along:?}");
    }
}

#[test]
fn what_was_above_and_left_in_a_layer_stays_above_and_left() {
    let mut piece = Piece::new("Four", frame(400.0, 400.0));
    for (id, x, y) in [
        ("ll", 0.0, 0.0),
        ("lr", 40.0, 0.0),
        ("ul", 0.0, 60.0),
        ("ur", 40.0, 60.0),
    ] {
        let plate = rounded(x, y, 30.0, 40.0, 2.0);
        piece.parts.push(part(id, id, PartKind::Other, 1, &plate));
    }
    let laid_out = arranged(&piece, &Options::default()).unwrap();
    let centre = |id: &str| {
        laid_out
            .outlines_on_board()
            .into_iter()
            .find(|(p, _)| p.id.as_str() == id)
            .unwrap()
            .1
            .bounds()
            .centre()
    };
    assert!(centre("ll").x < centre("lr").x + 0.5 && centre("ul").x < centre("ur").x + 0.5);
    assert!(centre("ll").y < centre("ul").y + 0.5 && centre("lr").y < centre("ur").y + 0.5);
    assert!(centre("ll").x < centre("ur").x && centre("ll").y < centre("ur").y);
}

#[test]
fn a_part_is_turned_upright_by_its_home() {
    let mut piece = Piece::new("One", frame(300.0, 300.0));
    let plate = rounded(0.0, 0.0, 40.0, 20.0, 1.0);
    let lying = plate.placed(shape::Pose::new(0.0, 0.0, 30.0));
    let mut p = part("p", "Plate", PartKind::Other, 0, &lying);
    p.home = Some(piece::Home {
        x: 0.0,
        y: 0.0,
        turn_deg: -30.0,
        layer: 0,
    });
    piece.parts = vec![p];
    let laid_out = arranged(&piece, &quick(1)).unwrap();
    let bounds = laid_out.outlines_on_board()[0].1.bounds();
    assert!((bounds.width_mm() - 40.0).abs() < 1e-9 && (bounds.height_mm() - 20.0).abs() < 1e-9);
}

#[test]
fn equal_screws_stand_in_one_row_under_one_caption() {
    let piece = devices::recorder(frame(300.0, 400.0));
    let laid_out = arranged(&piece, &quick(1)).unwrap();
    let rows: Vec<f64> = laid_out
        .outlines_on_board()
        .iter()
        .filter(|(p, _)| p.kind == PartKind::Screw)
        .map(|(_, o)| o.bounds().centre().y)
        .collect();
    assert_eq!(rows.len(), 4);
    assert!(rows.iter().all(|y| (y - rows[0]).abs() < 1e-9), "{rows:?}");
    let said: Vec<_> = laid_out
        .captions
        .iter()
        .filter(|c| c.text.replace('\n', " ").starts_with("Case screw"))
        .collect();
    assert_eq!(said.len(), 1);
    assert_eq!(said[0].text.replace('\n', " "), "Case screw (4)");
}

#[test]
fn a_part_larger_than_the_window_is_named_with_a_frame_that_does() {
    let piece = devices::recorder(frame(150.0, 130.0));
    let error = arranged(&piece, &quick(1)).unwrap_err();
    let ArrangeError::PartTooLarge(too_large) = &error else {
        panic!("{error}");
    };
    assert_eq!(too_large.part.as_str(), "front");
    let text = error.to_string();
    assert!(
        text.contains("Front shell (front) is 64.0 x 120.0 mm"),
        "{text}"
    );
    assert!(text.contains("104.0 x 78.0 mm"), "{text}");
    let [w, h] = too_large.least_frame_mm.unwrap();
    let mut larger = piece.clone();
    larger.frame.size_mm = [w, h];
    assert_eq!(
        faults(&arranged(&larger, &Options::default()).unwrap()),
        Vec::<String>::new()
    );
}

#[test]
fn parts_that_find_no_room_are_refused_with_a_frame_that_does() {
    let mut piece = Piece::new("Crowd", frame(200.0, 200.0));
    for k in 0..9 {
        let plate = rounded(0.0, 0.0, 50.0, 50.0, 1.0);
        piece.parts.push(part(
            &format!("p{k}"),
            &format!("Plate {k}"),
            PartKind::Other,
            k,
            &plate,
        ));
    }
    let error = arranged(&piece, &quick(1)).unwrap_err();
    let ArrangeError::NoRoom {
        parts: 9,
        least_frame_mm: Some([w, h]),
        ..
    } = error
    else {
        panic!("{error}");
    };
    piece.frame.size_mm = [w, h];
    assert_eq!(
        faults(&arranged(&piece, &Options::default()).unwrap()),
        Vec::<String>::new()
    );
}

#[test]
fn pinned_parts_on_each_other_are_refused_by_name() {
    let mut piece = devices::recorder(frame(400.0, 500.0));
    for id in ["display", "board"] {
        let part = piece
            .parts
            .iter()
            .find(|p| p.id.as_str() == id)
            .unwrap()
            .id
            .clone();
        piece.placements.push(Placement {
            part,
            x: 100.0,
            y: 100.0,
            turn_deg: 0.0,
            pinned: true,
        });
    }
    let error = arranged(&piece, &quick(1)).unwrap_err();
    assert!(matches!(error, ArrangeError::PinnedOverlap { .. }));
    assert!(
        error.to_string().contains("Display and Main board"),
        "{error}"
    );
}

/// They share an edge, and no area: too near each other, but not on each other.
#[test]
fn pinned_plates_that_only_touch_are_arranged_and_told() {
    let mut piece = Piece::new("Touching", frame(300.0, 400.0));
    for (k, x) in [60.0, 100.0].into_iter().enumerate() {
        let outline = Outline::rectangle(Point::new(0.0, 0.0), Point::new(40.0, 30.0)).unwrap();
        let id = PartId::try_new(format!("p{k}")).unwrap();
        let plate = Part::new(id.clone(), format!("Plate {k}"), PartKind::Other, outline);
        piece.parts.push(plate);
        piece.placements.push(Placement {
            part: id,
            x,
            y: 100.0,
            turn_deg: 0.0,
            pinned: true,
        });
    }
    let laid_out = arranged(&piece, &quick(1)).unwrap();
    assert_eq!(laid_out.placements, piece.placements);
    let codes: Vec<String> = check(&laid_out).into_iter().map(|f| f.code).collect();
    assert!(codes.iter().any(|c| c == "layout.gap"), "{codes:?}");
    assert!(!codes.iter().any(|c| c == "layout.overlap"), "{codes:?}");
}

/// Stops after so many calls.
struct StopAfter(AtomicU32);

impl Watch for StopAfter {
    fn step(&self, _: &str, _: f64) -> Result<(), Cancelled> {
        match self
            .0
            .fetch_update(Ordering::SeqCst, Ordering::SeqCst, |n| n.checked_sub(1))
        {
            Ok(_) => Ok(()),
            Err(_) => Err(Cancelled),
        }
    }
}

#[test]
fn a_stopped_search_returns_a_layout_that_keeps_the_rules() {
    let mut piece = devices::recorder(frame(300.0, 400.0));
    for calls in [0, 1, 5] {
        let watch = StopAfter(AtomicU32::new(calls));
        let found = arrange_with(&piece, &Options::default(), &FixedWidth, &watch).unwrap();
        assert_eq!(found.stopped_by, StoppedBy::Watch);
        piece.placements = found.placements;
        piece.captions = found.captions;
        assert_eq!(faults(&piece), Vec::<String>::new());
    }
}

#[test]
fn a_piece_without_parts_is_arranged_at_once() {
    let piece = Piece::new("Empty", frame(300.0, 400.0));
    let found = arrange_with(&piece, &quick(1), &FixedWidth, &shape::Silent).unwrap();
    assert!(found.placements.is_empty() && found.captions.is_empty());
}

/// A thousand parts in one frame: an answer within half a minute, be it a layout or a refusal. What is
/// asked here is an end, not beauty.
#[test]
fn a_thousand_parts_come_to_an_end() {
    for (w, h) in [(3_000.0, 3_000.0), (700.0, 700.0)] {
        let mut piece = Piece::new("Many", frame(w, h));
        let mut dice = Dice(5);
        for k in 0..1_000 {
            let (x, y) = (dice.between(0.0, 300.0), dice.between(0.0, 300.0));
            let plate = rounded(x, y, dice.between(11.0, 20.0), 12.0, 1.0);
            let id = format!("p{k}");
            let name = format!("Part {k}");
            piece
                .parts
                .push(part(&id, &name, PartKind::Other, k % 90, &plate));
        }
        let start = std::time::Instant::now();
        match arranged(&piece, &Options::default()) {
            Ok(laid_out) => assert_eq!(laid_out.placements.len(), 1_000),
            Err(error) => assert!(matches!(error, ArrangeError::NoRoom { .. }), "{error}"),
        }
        let seconds = start.elapsed().as_secs_f64();
        println!("{w} mm: {seconds:.1} s");
        assert!(seconds < 30.0, "{w} mm: {seconds:.1} s");
    }
}
